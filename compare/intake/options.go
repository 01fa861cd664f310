package intake

import (
	"fmt"
	"strings"
)

// Words says what words of a sheet mean that are not known here: a header, or a unit,
// and the one that it stands for, such as "Einheit" and "unit", or "Szene A" and
// "tile-render [s]".
type Words map[string]string

// Add states what a word means, as in "Einheit = unit".
func (w Words) Add(text string) error {
	word, means, ok := strings.Cut(text, "=")
	word, means = strings.TrimSpace(word), strings.TrimSpace(means)
	switch {
	case !ok || word == "" || means == "":
		return fmt.Errorf(`found %s, expected a header or a unit and what it means, such as "Einheit = unit"`, excerpt(text))
	case len(text) > maxName:
		return fmt.Errorf("found %d bytes, at most %d are read", len(text), maxName)
	case w[foldWord(word)] != "" && w[foldWord(word)] != means:
		return fmt.Errorf("found %s twice, as %s and as %s", excerpt(word), excerpt(w[foldWord(word)]), excerpt(means))
	}
	w[foldWord(word)] = means
	return nil
}

// options are how runs are read.
type options struct {
	words Words
	sheet string // of a workbook, the one that was named; empty: all
}

// mapped is a text with what it means in its place.
func (o *options) mapped(text string) string {
	if len(o.words) > 0 {
		if means, ok := o.words[foldWord(text)]; ok {
			return means
		}
	}
	return text
}
