package doc

import (
	"regexp"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
)

// Grid is a table that is cut into several where it is too wide: a name, then
// columns of cells.
type Grid struct {
	Title   string
	Head    string // of the names
	Columns []string
	Rows    []GridRow
}

// GridRow is a row of a grid; it has as many cells as the grid has columns.
type GridRow struct {
	Name  string
	Cells []Cell
}

func (Grid) isBlock() {}

// grid writes a table in as many pieces as the width asks for.
func (t *terminal) grid(g Grid) {
	if len(g.Columns) == 0 {
		return
	}
	t.line("")
	t.painted(Strong, g.Title)
	names := width(g.Head)
	for _, r := range g.Rows {
		names = max(names, width(t.plain(r.Name)))
	}
	names = min(names, 24)
	// A head is wrapped to what its cells need, or 11 columns.
	widths, heads := make([]int, len(g.Columns)), make([][]string, len(g.Columns))
	for c := range g.Columns {
		for _, r := range g.Rows {
			widths[c] = max(widths[c], width(t.cell(r.Cells[c])), width(t.plain(r.Cells[c].below(t.g))))
		}
		heads[c] = wrapHead(snip(t.plain(g.Columns[c]), 40, t.g.dots), max(widths[c], 11))
		for _, h := range heads[c] {
			widths[c] = max(widths[c], width(h))
		}
	}
	for from := 0; from < len(g.Columns); {
		to, used := from, names
		for to < len(g.Columns) && (to == from || used+2+widths[to] <= t.opt.Width) {
			used += 2 + widths[to]
			to++
		}
		t.gridPiece(g, names, heads, from, to)
		from = to
	}
}

// cell is a cell's first line, behind its sign.
func (t *terminal) cell(c Cell) string { return c.lead(t.g) + t.plain(c.Text) }

// lead is what stands before a cell's first line: its sign, or as many columns.
func (c Cell) lead(g glyphs) string {
	if !c.Sign {
		return ""
	}
	if mark := g.mark(c.Tone); mark != "" && !c.Unsigned {
		return mark + " "
	}
	if g.words != nil {
		return ""
	}
	return "  "
}

// below is a cell's second line, which stands under the text and not the sign.
func (c Cell) below(g glyphs) string {
	if c.Sign && g.words == nil && c.Below != "" {
		return "  " + c.Below
	}
	return c.Below
}

// wrapHead breaks a head behind spaces and hyphens.
func wrapHead(head string, columns int) []string {
	var lines []string
	line := ""
	for _, word := range headWord.FindAllString(head, -1) {
		if line != "" && width(strings.TrimRight(line+word, " ")) > columns {
			lines = append(lines, strings.TrimRight(line, " "))
			line = ""
		}
		line += word
	}
	return append(lines, strings.TrimRight(line, " "))
}

var headWord = regexp.MustCompile(`[^ -]*[ -]*`)

func (t *terminal) gridPiece(g Grid, names int, heads [][]string, from, to int) {
	tw := table.NewWriter()
	tw.SetStyle(houseStyle())
	row := table.Row{t.paint(Faint, g.Head)}
	for c := from; c < to; c++ {
		lines := make([]string, len(heads[c]))
		for i, h := range heads[c] {
			lines[i] = t.paint(Faint, h)
		}
		row = append(row, strings.Join(lines, "\n"))
	}
	tw.AppendRow(row)
	for _, r := range g.Rows {
		row, below, any := table.Row{snip(t.plain(r.Name), names, t.g.dots)}, table.Row{""}, false
		for _, c := range r.Cells[from:to] {
			row = append(row, t.paint(c.Tone, t.cell(c)))
			below = append(below, t.paint(Faint, t.plain(c.below(t.g))))
			any = any || c.Below != ""
		}
		tw.AppendRow(row)
		if any {
			tw.AppendRow(below)
		}
	}
	for _, l := range strings.Split(tw.Render(), "\n") {
		t.line("%s", strings.TrimRight(l, " "))
	}
}

// table writes a plain table.
func (t *terminal) table(b Table) {
	if b.Title != "" {
		t.line("")
		t.painted(Strong, b.Title)
	}
	tw := table.NewWriter()
	tw.SetStyle(houseStyle())
	if !b.Headless {
		head := table.Row{}
		for _, h := range b.Head {
			head = append(head, t.plain(h))
		}
		tw.AppendHeader(head)
	}
	tw.SetColumnConfigs(columnsAt(b.Right))
	for _, cells := range b.Rows {
		row := table.Row{}
		for _, c := range cells {
			row = append(row, t.paint(c.Tone, t.cell(c)))
		}
		tw.AppendRow(row)
	}
	lead := strings.Repeat("  ", 1+b.Indent)
	for i, l := range strings.Split(tw.Render(), "\n") {
		l = lead + strings.TrimRight(l, " ")
		if i == 0 && !b.Headless {
			l = t.paint(Faint, l)
		}
		t.line("%s", l)
	}
}
