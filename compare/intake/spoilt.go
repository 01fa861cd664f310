package intake

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
)

// isFlag reports whether a column says where a run was spoilt.
func (t *table) isFlag(i int) bool { return slices.Contains(t.flags, i) }

// findFlags finds the columns that say where a run was spoilt, such as "throttled".
func (t *table) findFlags(h *headings, below []placedRow) {
	for i, cell := range h.heads {
		if cell.err != nil || cell.known || cell.unit != "" || !faultHeads[plainWord(cell.text)] {
			continue
		}
		k := i
		if h.columns != nil {
			k = h.columns[i]
		}
		if text := firstBelow(below, k); isYesNo(text) || text == "" || foldWord(text) == "x" {
			t.flags = append(t.flags, i)
			t.note("column %q: runs where it says yes are set aside", cell.text)
		}
	}
}

// firstBelow is the first text in a column of the rows below a header.
func firstBelow(below []placedRow, i int) string {
	for _, row := range below {
		if i < len(row.cells) && strings.TrimSpace(row.cells[i]) != "" {
			return strings.TrimSpace(row.cells[i])
		}
	}
	return ""
}

// spoilt sets a run aside where a column says that it was spoilt.
func (t *table) spoilt(v *compare.Value) error {
	for _, i := range t.flags {
		cell := strings.TrimSpace(t.cells[i])
		switch word := foldWord(t.options.mapped(cell)); {
		case cell == "" || noWords[word] || noResultWords[word]:
		case yesWords[word] || word == "x":
			if !v.SetAside {
				v.SetAside, v.Reason = true, t.pool.keep(fmt.Sprintf("%s = %s", t.head[i], cell))
			}
		default:
			return t.fail(i, "found %s in column %s, expected yes or no, or nothing for no", excerpt(cell), excerpt(t.head[i]))
		}
	}
	return nil
}

// noResult reads a cell that says why it holds no number: nothing was measured, or the
// run failed.
func (t *table) noResult(v *compare.Value, cell string) (known bool) {
	if len(cell) > 40 {
		return false
	}
	switch none, failed := t.reasonIn(cell); {
	case none:
		t.note("%s in the cell of a run is read as no result", excerpt(cell))
	case failed:
		t.note("%s in the cell of a run: the run is set aside", excerpt(cell))
		if !v.SetAside {
			v.SetAside, v.Reason = true, t.pool.keep(cell)
		}
	default:
		return false
	}
	v.Missing = true
	return true
}

// reasonIn reports whether a text says that there is no result, or that a run failed.
func (t *table) reasonIn(cell string) (none, failed bool) {
	word := foldWord(t.options.mapped(cell))
	if noResultWords[word] {
		return true, false
	}
	return false, failedWords[strings.TrimSpace(strings.Trim(word, "!*()[]"))]
}

// labelGap is what is known of the empty cells of a column of labels.
type labelGap struct {
	label string        // the last one
	empty compare.Place // the first empty cell
}

// emptyLabel is the label of a row that has none in a known column: that of the row
// above where the two cells are merged. Where other rows have one of those that tell
// runs apart, it is an error, but for tables that programs write.
func (t *table) emptyLabel(c column, i int) (string, error) {
	g := &t.gaps[c]
	if g.label != "" && t.rows.joined(t.place(i)) {
		return g.label, nil
	}
	if !t.people || c != colProfile && c != colSession && c != colBlock {
		return "", nil
	}
	if g.label == "" && g.empty.Line == 0 {
		g.empty = t.place(i)
	}
	if g.label != "" {
		return "", t.fail(i, "found no %s in this row, and a row above names %s; write it in every row", c, excerpt(g.label))
	}
	return "", nil
}

// keepLabel notes a label. It is an error where a row above has none of those that tell
// runs apart.
func (t *table) keepLabel(c column, label string) error {
	g := &t.gaps[c]
	if g.label = label; !t.people || g.empty.Line == 0 {
		return nil
	}
	at := g.empty
	g.empty = compare.Place{}
	return placed(at, "found no %s in this row, and a row below names %s; write it in every row", c, excerpt(label))
}
