package claims

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tunegate/compare"
)

// Passage is a paragraph, heading, row or list item of a page as readers see it, in
// one line.
type Passage struct {
	Text  string
	Marks []Mark // where its parts stand in the file, in order; the first at 0
}

// Mark is where the text from a byte on stands, up to the next mark.
type Mark struct {
	Offset int
	At     compare.Place
	Whole  bool // all of it stands there, such as an attribute of an element
}

// At is where a byte of the text stands in the file.
func (p Passage) At(offset int) compare.Place {
	i, found := slices.BinarySearchFunc(p.Marks, offset, func(m Mark, o int) int { return m.Offset - o })
	if !found {
		i--
	}
	if i < 0 {
		return compare.Place{}
	}
	at := p.Marks[i].At
	if p.Marks[i].Whole {
		return at
	}
	at.Column += utf8.RuneCountInString(p.Text[p.Marks[i].Offset:offset])
	return at
}

// Coverage is which numbers of a page are in no claim.
type Coverage struct {
	File  string
	Total int // numbers with a unit or per cent
	Open  []OpenNumber
}

// OpenNumber is a number of a page that stands in no sentence of a claim.
type OpenNumber struct {
	Text    string // with its unit
	Percent bool   // of per cent, or so many times
	At      compare.Place
	Around  string // the words around it
	Same    string // the sentence of a claim with the same number; empty for none
}

// Percentages counts the open numbers that are percentages.
func (c *Coverage) Percentages() (n int) {
	for _, o := range c.Open {
		if o.Percent {
			n++
		}
	}
	return n
}

// Cover lists the numbers of a page, those with a unit or per cent, that stand in no
// sentence of a claim; with no claims all of them. Sentences are found in any spacing
// and case. Words for numbers ("twice") count as percentages.
func Cover(file string, page []Passage, all []Claim) *Coverage {
	out := &Coverage{File: file}
	sentences := make([]string, len(all))
	for i := range all {
		sentences[i], _ = squeeze(strings.TrimRight(all[i].Text, " .!"))
	}
	for _, p := range page {
		numbers := slices.DeleteFunc(NumbersIn(p.Text), func(n Number) bool { return n.Unit == "" })
		if len(numbers) == 0 {
			continue
		}
		var told [][2]int
		squeezed, at := squeeze(p.Text)
		for _, sentence := range sentences {
			told = append(told, occurrences(p.Text, squeezed, at, sentence)...)
		}
		for _, n := range numbers {
			out.Total++
			if slices.ContainsFunc(told, func(at [2]int) bool { return at[0] <= n.Start && n.End <= at[1] }) {
				continue
			}
			open := OpenNumber{Text: inPlainSpaces(n.Text), Percent: n.Unit == "%" || n.Unit == "×",
				At: p.At(n.Start), Around: surroundings(p.Text, n.Start, n.End)}
			for i := range all {
				h := Held{Claim: all[i]}
				if slices.ContainsFunc(h.keys(), func(k statedKey) bool { return n.states(k.figure, k.falls) }) {
					open.Same = all[i].Text
					break
				}
			}
			out.Open = append(out.Open, open)
		}
	}
	return out
}

// occurrences finds a squeezed sentence in a text that is squeezed, too: the same
// words and signs in the same order, in any spacing and case.
func occurrences(text, squeezed string, at []int, wanted string) (out [][2]int) {
	if wanted == "" {
		return nil
	}
	for from := 0; ; {
		i := strings.Index(squeezed[from:], wanted)
		if i < 0 {
			return out
		}
		start := from + i
		end := start + len(wanted)
		// A whole sentence: 2.5 % is not found in 12.5 %.
		previous, _ := utf8.DecodeLastRuneInString(text[:at[start]])
		next, _ := utf8.DecodeRuneInString(text[at[end-1]+1:])
		if at[start] == 0 || !unicode.IsLetter(previous) && !unicode.IsDigit(previous) && !strings.ContainsRune(".,-−", previous) {
			if at[end-1]+1 >= len(text) || !unicode.IsLetter(next) && !unicode.IsDigit(next) {
				out = append(out, [2]int{at[start], at[end-1] + 1})
			}
		}
		from = start + 1
	}
}

// squeeze takes spaces out and writes small letters; at is where each byte stood.
func squeeze(text string) (squeezed string, at []int) {
	var out strings.Builder
	for i, r := range text {
		if unicode.IsSpace(r) {
			continue
		}
		before := out.Len()
		out.WriteRune(unicode.ToLower(r))
		for k := range out.Len() - before {
			at = append(at, min(i+k, i+utf8.RuneLen(r)-1))
		}
	}
	return out.String(), at
}

// maxAround is how many characters of a passage stand on each side of a number.
const maxAround = 30

func surroundings(text string, start, end int) string {
	before, after := []rune(text[:start]), []rune(text[end:])
	lead, tail := "", ""
	if len(before) > maxAround {
		before, lead = before[len(before)-maxAround:], "…"
	}
	if len(after) > maxAround {
		after, tail = after[:maxAround], "…"
	}
	return lead + inPlainSpaces(string(before)+text[start:end]+string(after)) + tail
}

func inPlainSpaces(s string) string { return strings.Join(strings.Fields(s), " ") }
