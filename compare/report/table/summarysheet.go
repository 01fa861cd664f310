package table

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"tunegate/compare/report/doc"
)

// summarySheet is the name of the first sheet.
const summarySheet = "Summary"

// The columns of the first sheet, and how wide they are in characters: a name, the
// verdict, the change with its interval, both sides, what was compared, and more.
var summaryWidths = []float64{32, 18, 17, 17, 17, 17, 17, 24, 34}

const lineHeight = 15 // of a row, in points

// summary writes a document as a sheet.
type summary struct {
	*workbook
	row int // to be written next, from 1
}

func (x *workbook) summary(d doc.Document, pictures []Picture) {
	x.newSheet(summarySheet)
	for i, width := range summaryWidths {
		name, err := excelize.ColumnNumberToName(i + 1)
		x.check(err)
		x.check(x.SetColWidth(summarySheet, name, name, width))
	}
	off := false
	x.check(x.SetSheetView(summarySheet, 0, &excelize.ViewOptions{ShowGridLines: &off}))
	s := &summary{x, 1}
	s.line(d.Heading, style{size: 16, bold: true})
	s.text(d.Subject, style{})
	s.text(d.Basis, style{colour: doc.Palette["muted"].Light})
	s.row++
	s.line(d.Closing, style{size: 12, bold: true})
	if d.Next != "" {
		s.text("Next: "+d.Next, style{})
	}
	s.sections(d.Sections)
	for _, p := range d.Parts {
		s.part(p)
	}
	s.pictures(pictures)
	if d.Caution != "" {
		s.row++
		s.text(d.Caution, style{bold: true})
	}
	x.page(summarySheet)
}

// sections prints the kinds that a screen does.
func (s *summary) sections(all []doc.Section) {
	for _, sec := range all {
		switch sec.Kind {
		case doc.Numbers, doc.Reasons, doc.NotSettled, doc.Notes, doc.Findings:
		default:
			continue
		}
		if len(sec.Blocks) == 0 {
			continue
		}
		s.row++
		s.line(doc.Line{Text: sec.Title, Tone: sec.Tone}, style{size: 12, bold: true})
		for _, b := range sec.Blocks {
			s.block(b)
		}
	}
}

func (s *summary) part(p doc.Part) {
	s.row++
	s.line(p.Heading, style{size: 14, bold: true})
	s.text(p.Lead, style{})
	s.text(p.Basis, style{colour: doc.Palette["muted"].Light})
	for _, w := range p.Warnings {
		s.text(w, style{})
	}
	s.sections(p.Sections)
}

func (s *summary) block(b doc.Block) {
	switch b := b.(type) {
	case doc.Paragraph:
		s.line(b.Line, style{})
	case doc.List:
		s.list(b)
	case doc.Assessment:
		s.row++
		s.line(doc.Line{Text: signed(b.Verdict) + ": “" + b.Quote + "”", Tone: b.Verdict.Tone}, style{bold: true})
		for _, p := range b.Points {
			s.text("    "+p, style{})
		}
	case doc.Changes:
		s.changes(b)
	case doc.Timeline:
		s.timeline(b)
	case doc.Grid:
		s.grid(b)
	case doc.Table:
		s.plainTable(b)
	case doc.Facts:
		for _, f := range b {
			s.text(f.Term+": "+f.Text, style{})
		}
	}
}

func (s *summary) list(l doc.List) {
	s.text(l.Title, style{bold: true})
	for i, item := range l.Items {
		if item.Detail {
			continue
		}
		lead := ""
		if l.Numbered {
			lead = strconv.Itoa(i+1) + ". "
		}
		if item.Name != "" {
			lead += item.Name + ": "
		}
		if sign := item.Tone.Sign(); sign != "" {
			lead = sign + " " + lead
		}
		s.line(doc.Line{Text: lead + item.Text, Tone: item.Tone}, style{})
	}
}

// set writes a cell of the row in hand.
func (s *summary) set(column int, value any, as style) {
	at, err := excelize.CoordinatesToCellName(column, s.row)
	s.check(err)
	switch v := value.(type) {
	case string:
		if v == "" {
			return
		}
		s.check(s.SetCellStr(summarySheet, at, Clean(v)))
	case float64:
		s.check(s.SetCellFloat(summarySheet, at, v, -1, 64))
	}
	s.check(s.SetCellStyle(summarySheet, at, at, s.style(as)))
}

// line writes a line across the sheet, in the colour of its tone.
func (s *summary) line(l doc.Line, as style) {
	as.colour, as.bold = l.Tone.Colour(), as.bold || l.Tone.Bold()
	s.text(l.Text, as)
}

// signed is a line behind its tone's sign.
func signed(l doc.Line) string {
	if sign := l.Tone.Sign(); sign != "" && l.Text != "" {
		return sign + " " + l.Text
	}
	return l.Text
}

// text writes a text across the sheet, in as many lines as it takes.
func (s *summary) text(text string, as style) {
	if text = Clean(text); text == "" {
		return
	}
	as.wrap = true
	s.set(1, text, as)
	s.spread(1, len(summaryWidths))
	size := max(as.size, 11)
	s.height(math.Ceil(wide(text)*size/11/columnsOf(1, len(summaryWidths))), size)
	s.row++
}

// spread makes one cell of several of the row in hand.
func (s *summary) spread(from, to int) {
	a, err := excelize.CoordinatesToCellName(from, s.row)
	s.check(err)
	b, err := excelize.CoordinatesToCellName(to, s.row)
	s.check(err)
	s.check(s.MergeCell(summarySheet, a, b))
}

// height makes the row in hand so many lines of a size high: no spreadsheet does so for
// cells that are spread over columns.
func (s *summary) height(lines, size float64) {
	s.check(s.SetRowHeight(summarySheet, s.row, math.Max(1, lines)*lineHeight*size/11))
}

// wide is about how many columns a text takes: some more than characters, for words
// that do not fit at the end of a line.
func wide(text string) float64 { return 1.08 * float64(utf8.RuneCountInString(text)) }

// columnsOf is how many characters some columns are wide.
func columnsOf(from, to int) (n float64) {
	for _, w := range summaryWidths[from-1 : to] {
		n += w
	}
	return n
}

// head writes the heads of columns; from and to are the first and the last of those
// with numbers, from 1, 0 for none.
func (s *summary) head(from, to int, names ...string) {
	lines := 1.0
	for i, name := range names {
		as := headStyle
		as.indent, as.right = 0, i+1 >= from && i+1 <= to
		if i+1 == comparedColumn && to > 0 {
			as.indent = 1
		}
		s.set(i+1, name, as)
		if name == "" {
			s.set(i+1, 0, as) // an empty cell, drawn as the others
		}
		if i < len(summaryWidths) {
			lines = math.Max(lines, math.Ceil(wide(name)/summaryWidths[i]))
		}
	}
	s.height(lines, 11)
	s.row++
}

// comparedColumn is that of what was compared, behind the numbers.
const comparedColumn = 8

// title stands above a table, behind a free row.
func (s *summary) title(text string) {
	if text != "" {
		s.row++
		s.text(text, style{bold: true})
	}
}

func (s *summary) changes(c doc.Changes) {
	if c.Title != "" { // else it goes on with the table before
		s.title(c.Title)
		sides := []string{"before", "after"}
		if c.Relative {
			sides = []string{"", ""}
		}
		s.head(3, 7, c.Head, "verdict", "change", c.Interval, "to", sides[0], sides[1], "compared", "")
	}
	for _, r := range c.Rows {
		s.set(1, r.Name, style{bold: true, wrap: true})
		s.verdict(2, r.Verdict, r.Judged)
		s.span(r.Span)
		if !c.Relative {
			s.set(6, r.Before, style{right: true})
			s.set(7, r.After, style{right: true})
		}
		compared := r.Compared
		if r.Ranged != "" {
			compared += "; a range, " + r.Ranged
		}
		s.set(8, compared, style{wrap: true, indent: 1})
		more := strings.TrimPrefix(strings.Join([]string{r.Measured, r.Advice}, "; "), "; ")
		more = strings.TrimSuffix(more, "; ")
		s.set(9, more, style{wrap: true})
		s.height(math.Max(math.Max(math.Ceil(wide(r.Name)/columnsOf(1, 1)), math.Ceil(wide(compared)/columnsOf(8, 8))),
			math.Ceil(wide(more)/columnsOf(9, 9))), 11)
		s.row++
	}
}

// verdict writes a verdict in its colour, behind its sign.
func (s *summary) verdict(column int, l doc.Line, judged bool) {
	text := l.Text
	if judged {
		text = signed(l)
	}
	s.set(column, text, style{colour: l.Tone.Colour(), bold: l.Tone.Bold()})
}

// span writes a change and its interval as numbers.
func (s *summary) span(of doc.Span) {
	f := Format{Places: of.Places, Signed: true, Percent: of.Unit == "%", Unit: of.Unit}
	s.number(3, of.At, f, true)
	if of.Ends != nil {
		s.number(4, of.Ends[0], f, false)
		s.number(5, of.Ends[1], f, false)
	}
}

func (s *summary) number(column int, v float64, f Format, bold bool) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	s.set(column, v, style{number: f.code(v), bold: bold})
}

func (s *summary) timeline(t doc.Timeline) {
	if t.Title != "" { // else it goes on with the table before
		s.title(t.Title)
		s.head(3, 7, t.Head, t.End, "change", t.Interval, "to", t.Count, "date", "", "")
	}
	for _, m := range t.Rows {
		s.set(1, signed(doc.Line{Text: m.Name, Tone: m.Mark}), style{colour: m.Mark.Colour(), bold: m.Mark.Bold()})
		var signs []string
		tone := m.End.Tone
		for _, sign := range m.Signs {
			signs, tone = append(signs, sign.Sign()), sign
		}
		if m.End.Text != "" {
			signs = append(signs, m.End.Text)
		}
		s.set(2, strings.Join(signs, " "), style{colour: tone.Colour()})
		if m.Span != nil && !m.First {
			s.span(*m.Span)
		} else {
			s.set(3, m.Change, style{right: true})
		}
		s.set(6, m.Count, style{right: true})
		s.set(7, m.When, style{right: true})
		below := m.Below
		if m.Ranged != "" {
			below = strings.Trim("a range, "+m.Ranged+"; "+below, "; ")
		}
		s.set(8, below, style{wrap: true, indent: 1})
		s.spread(8, 9)
		s.height(math.Ceil(wide(below)/columnsOf(8, 9)), 11)
		s.row++
	}
}

func (s *summary) grid(g doc.Grid) {
	if len(g.Columns) == 0 {
		return
	}
	s.title(g.Title)
	s.head(0, 0, append([]string{g.Head}, g.Columns...)...)
	for _, r := range g.Rows {
		s.set(1, r.Name, style{bold: true, wrap: true})
		for i, c := range r.Cells {
			text := c.Text
			if c.Sign && !c.Unsigned {
				text = signed(c.Line)
			}
			s.set(i+2, text, style{colour: c.Tone.Colour(), bold: c.Tone.Bold()})
		}
		s.row++
		if !slices.ContainsFunc(r.Cells, func(c doc.Cell) bool { return c.Below != "" }) {
			continue
		}
		for i, c := range r.Cells {
			s.set(i+2, c.Below, style{colour: doc.Palette["muted"].Light, wrap: true})
		}
		s.height(1.4, 11)
		s.row++
	}
}

func (s *summary) plainTable(t doc.Table) {
	s.title(t.Title)
	if !t.Headless {
		s.head(0, 0, t.Head...)
	}
	for _, r := range t.Rows {
		for i, c := range r {
			text := c.Text
			if c.Sign && !c.Unsigned {
				text = signed(c.Line)
			}
			s.set(i+1, text, style{colour: c.Tone.Colour(), bold: c.Tone.Bold()})
		}
		s.row++
	}
}

// pictures puts pictures below each other, each over as many rows of one height as it
// takes.
func (s *summary) pictures(all []Picture) {
	for i, p := range all {
		s.row++
		at, err := excelize.CoordinatesToCellName(1, s.row)
		s.check(err)
		if i == 0 {
			s.check(s.InsertPageBreak(summarySheet, at))
		}
		const pixels = lineHeight * 96 / 72
		for range int(math.Ceil(p.Height/pixels)) + 1 {
			s.height(1, 11)
			s.row++
		}
		s.check(s.AddPictureFromBytes(summarySheet, at, &excelize.Picture{Extension: ".png", File: p.PNG, Format: &excelize.GraphicOptions{
			AltText: p.Alt, ScaleX: p.Scale, ScaleY: p.Scale, Positioning: "oneCell", LockAspectRatio: true,
		}}))
	}
}
