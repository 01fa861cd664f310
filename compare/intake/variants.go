package intake

import (
	"strings"

	"tunegate/compare"
	"tunegate/compare/intake/internal/workbook"
	"tunegate/compare/internal/pattern"
)

// variants watches the columns that are not read, since one of them may be what tells
// rows apart: a resolution, or a variant of the benchmark. Rows of one key that differ
// there would be taken for runs of the same thing.
type variants struct {
	columns []variantColumn
	rows    bool // a row is a run: a text has to stand in every row, and one again
}

type variantColumn struct {
	index    int
	first    map[string]string // the first text, by key
	texts    map[string]bool
	differs  [2]string
	at       compare.Place
	repeated bool
	ended    bool // it says nothing
}

// maxVariants bounds what is kept of a column.
const maxVariants = 1000

// watch adds a column, but for one of remarks, of figures drawn from the runs, or that
// counts rows.
func (a *variants) watch(i int, h headCell) {
	if word := plainWord(h.text); !remarkWords[word] && !strongRunWords[word] && !isStatistic(h.text) && !isChange(h.text) {
		a.columns = append(a.columns, variantColumn{index: i, first: map[string]string{}, texts: map[string]bool{}})
	}
}

var datePattern = pattern.Lazy(`^[0-9]{1,4}[./-][0-9]{1,2}[./-](?:[0-9]{1,4})?`)

// look takes the row in hand, whose runs belong to a key.
func (a *variants) look(t *table, key string) {
	for k := range a.columns {
		c := &a.columns[k]
		if c.ended {
			continue
		}
		text := strings.TrimSpace(t.cells[c.index])
		if text == "" && !a.rows {
			continue
		}
		if c.ended = a.saysNothing(t, c, text); c.ended {
			continue
		}
		if c.repeated = c.repeated || c.texts[text]; !c.repeated {
			c.texts[strings.Clone(text)] = true
		}
		first, met := c.first[key]
		switch {
		case !met:
			c.first[strings.Clone(key)] = strings.Clone(text)
		case first != text && c.differs[0] == "":
			c.differs, c.at = [2]string{first, strings.Clone(text)}, t.place(c.index)
		}
	}
}

// saysNothing reports whether a cell shows that its column does not name variants: it
// is empty, a date, or says yes or no, or a number where a row is a run.
func (a *variants) saysNothing(t *table, c *variantColumn, text string) bool {
	if text == "" || len(c.first) == maxVariants || len(c.texts) == maxVariants || isYesNo(text) || datePattern().MatchString(text) {
		return true
	}
	if t.typed != nil && t.typed[c.index].Kind != workbook.Text {
		return a.rows || t.typed[c.index].Kind != workbook.Number
	}
	if !a.rows {
		return false
	}
	_, err := t.number(c.index, text)
	return err == nil
}

// isYesNo reports whether a text says yes or no in a word.
func isYesNo(text string) bool {
	word := foldWord(text)
	return len(word) > 1 && (yesWords[word] || noWords[word])
}

// fault is about the first column that tells rows of one key apart.
func (a *variants) fault(t *table) error {
	for _, c := range a.columns {
		if !c.ended && c.differs[0] != "" && (c.repeated || !a.rows) {
			return &UnknownColumnError{Header: t.head[c.index], err: placed(c.at, "found %s in column %s, and %s in an earlier row of the same "+
				"benchmark: this column is not read, and may tell the two apart; put it into the names of the benchmarks, or say what it is, "+
				"such as metric, session, machine or remark", excerpt(c.differs[1]), excerpt(t.head[c.index]), excerpt(c.differs[0]))}
		}
	}
	return nil
}

// UnknownColumnError is about a column that may tell rows apart, and is not known. Who
// can say what it is says how. It wraps a *compare.PlacedError.
type UnknownColumnError struct {
	Header string
	err    error
}

func (e *UnknownColumnError) Error() string { return e.err.Error() }

func (e *UnknownColumnError) Unwrap() error { return e.err }

// keyOf is what the runs of a row belong to.
func keyOf(labels ...string) string { return strings.Join(labels, "\x00") }
