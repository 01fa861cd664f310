package intake

import (
	"slices"
	"strings"

	"tunegate/compare"
)

// sittings takes what stands above the tables for sessions where it says so.
func (r *gridRuns) sittings() {
	for _, p := range r.parts {
		label := p.given[colProfile]
		if head := runHeadOf(label); !sittingWords[head.stem] && !sittingWords[strings.TrimRight(foldWord(label), " abcdefgh")] {
			return
		}
	}
	for _, p := range r.parts {
		p.given[colSession], p.given[colProfile] = p.given[colProfile], ""
	}
}

// labelsAbove are the profile, the machine and the session that rows above a table
// state: "Profile: boost", or the two in cells of their own.
func labelsAbove(rows []placedRow) map[column]string {
	labels := map[column]string{}
	for _, row := range rows {
		if c, label := labelIn(row.gridRow); label != "" {
			labels[c] = label
		}
	}
	return labels
}

// labelIn is what a row alone states of a profile, a machine or a session.
func labelIn(row gridRow) (column, string) {
	var texts []string
	for _, cell := range row.cells {
		if cell = unbroken(cell); cell != "" {
			texts = append(texts, cell)
		}
	}
	if len(texts) == 1 {
		what, label, _ := strings.Cut(texts[0], ":")
		texts = []string{what, strings.TrimSpace(label)}
	}
	if len(texts) != 2 || texts[1] == "" || checkName(texts[1]) != nil {
		return 0, ""
	}
	switch c, known := labelColumn(strings.TrimRight(texts[0], " :")); {
	case known && c == colSession && datePattern().MatchString(texts[1]): // of the sheet, as like as not
	case known && (c == colProfile || c == colMachine || c == colSession):
		return c, texts[1]
	}
	return 0, ""
}

// isHeader reports whether a row is the header once more.
func (r *gridRuns) isHeader(row gridRow) bool {
	same := 0
	for i := range max(len(row.cells), len(r.header)) {
		var cell, head string
		if i < len(row.cells) {
			cell = strings.TrimSpace(row.cells[i])
		}
		if i < len(r.header) {
			head = strings.TrimSpace(r.header[i])
		}
		if cell != head {
			return false
		}
		if cell != "" {
			same++
		}
	}
	return same > 1
}

// titleOf is the name in a row above a table: a text alone, or what it states of the
// profile or the session.
func titleOf(row gridRow) string {
	if _, label := labelIn(row); label != "" {
		return label
	}
	if n, first := row.filled(); n == 1 {
		return unbroken(row.cells[first])
	}
	return ""
}

// beginTable begins one of the tables that stand below each other under the same
// header. The row above it names the profile.
func (r *gridRuns) beginTable(at compare.Place) error {
	first := !r.titles && r.read == 0
	switch {
	case r.layout.groups || len(r.parts) > 1:
		return placed(at, "the header stands here a second time, below tables that stand side by side; put each into a sheet or "+
			"a file of its own")
	case r.title == "" || !first && !r.titles:
		return placed(at, "the header stands here a second time, and no row above names the profile of each table; write it there, or put each "+
			"table into a sheet or a file of its own")
	}
	r.titles, r.footer = true, false
	t := r.parts[0]
	t.given[colProfile], t.given[colSession] = r.title, ""
	if n := len(r.passed); n > 0 {
		r.passed = r.passed[:n-1]
	}
	r.sittings()
	t.restart()
	t.gaps = [columnCount]labelGap{}
	if !slices.Contains(r.stacked, r.title) {
		r.stacked = append(r.stacked, r.title)
	}
	r.title = ""
	return nil
}
