package doc

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"io"
	"slices"
	"strings"
)

//go:embed page.html.tmpl
var pageTemplate string

//go:embed page.css
var pageStyle string

// Page prints a document as one page of HTML that needs nothing but itself. style
// is CSS for the pictures; the palette is declared before it.
func Page(w io.Writer, d Document, style string) error {
	p := &page{Title: clean(cmp.Or(d.Page.Title, d.Heading.Text), "→"), Kicker: clean(cmp.Or(d.Page.Kicker, d.Heading.Text), "→"),
		Headline: clean(cmp.Or(d.Page.Headline, d.Closing.Text), "→"), Caution: clean(d.Caution, "→")}
	for _, l := range d.Page.Lead {
		p.Lead = append(p.Lead, clean(l, "→"))
	}
	body, foot := joined(of(d.Sections, Summary, Pictures, Numbers, Method, Data)), of(d.Sections, Origin)
	for _, s := range body {
		p.section(s, "")
	}
	for _, part := range d.Parts {
		p.part(part)
	}
	for _, s := range foot {
		p.section(s, "")
	}
	t, err := template.New("page").Funcs(template.FuncMap{"nb": unbroken}).Parse(pageTemplate)
	if err != nil {
		return err
	}
	style = PaletteCSS() + style + pageStyle
	hash := sha256.Sum256([]byte(style))
	p.Style, p.StyleHash = template.CSS(style), "sha256-"+base64.StdEncoding.EncodeToString(hash[:])
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}

// unbroken keeps a number on one line with its sign of per cent or degree.
func unbroken(s string) string {
	return strings.NewReplacer(" %", "\u00a0%", " °", "\u00a0°").Replace(s)
}

// page is what the template shows: the finding, then sections in their order. The
// template escapes what could be markup.
type page struct {
	Title, Kicker, Headline string
	Lead                    []string
	Sections                []pageSection
	Caution                 string
	Style                   template.CSS
	StyleHash               string // of the one style that the policy lets in
	pictures                int
}

type pageSection struct {
	Title    string
	Text     []string
	Lists    []pageList
	Pictures []pagePicture
	Tables   []pageTable
	Facts    []Fact
}

type pageList struct {
	Title, Class string
	Lines        []string
}

type pagePicture struct {
	Title, Caption string
	Drawings       []template.HTML // SVG elements, which escape what they hold
	Grid, Single   bool
	Table          pageTable
}

type pageTable struct {
	Title, Label string
	Head         []string
	Rows         [][]pageCell
}

type pageCell struct{ Text, Below, Sign, Color, Class string }

// pageTitles head sections that bring no title of their own, alone and of a part.
var pageTitles = map[Kind][2]string{
	Summary:  {"In short", ""},
	Pictures: {"Pictures", "Pictures of %"},
	Numbers:  {"All numbers", "All numbers of %"},
	Method:   {"How this was judged", "How % was judged"},
	Data:     {"About the data", "About the data of %"},
	Origin:   {"To make this page again", ""},
}

func (p *page) section(s Section, name string) {
	titles := pageTitles[s.Kind]
	title := cmp.Or(s.Title, titles[0])
	if name != "" {
		title = strings.Replace(titles[1], "%", name, 1)
	}
	out := pageSection{Title: clean(title, "→")}
	p.blocks(&out, s.Blocks)
	p.Sections = append(p.Sections, out)
}

// joined makes one section of those of one kind that follow each other without a
// title.
func joined(sections []Section) []Section {
	var out []Section
	for _, s := range sections {
		if n := len(out) - 1; n >= 0 && s.Title == "" && s.Kind == out[n].Kind {
			out[n].Blocks = slices.Concat(out[n].Blocks, s.Blocks)
			continue
		}
		out = append(out, s)
	}
	return out
}

// part begins with a section that says what was asked and what came of it.
func (p *page) part(part Part) {
	first := pageSection{Title: clean(part.Heading.Text, "→"), Text: []string{clean(part.Lead, "→")}}
	if len(part.Warnings) > 0 {
		p.blocks(&first, []Block{List{Title: "Warnings", Items: Lines(part.Warnings)}})
	}
	for _, s := range of(part.Sections, Summary) {
		p.blocks(&first, s.Blocks)
	}
	p.Sections = append(p.Sections, first)
	for _, s := range of(part.Sections, Pictures, Numbers, Method, Data) {
		p.section(s, part.Name)
	}
}

func (p *page) blocks(to *pageSection, blocks []Block) {
	for _, b := range blocks {
		switch b := b.(type) {
		case Paragraph:
			to.Text = append(to.Text, clean(b.Text, "→"))
		case List:
			p.list(to, b)
		case Assessment:
			p.assessment(to, b)
		case Facts:
			for _, f := range b {
				to.Facts = append(to.Facts, Fact{clean(f.Term, "→"), clean(f.Text, "→"), f.Code})
			}
		case Figures:
			for _, f := range b() {
				p.figure(to, f)
			}
		case Changes:
			to.Tables = append(to.Tables, changesTable(b))
		case Grid:
			if len(b.Columns) > 0 {
				rows := make([][]Cell, len(b.Rows))
				for i, r := range b.Rows {
					rows[i] = append([]Cell{{Line: Line{Text: r.Name}}}, pageCells(r.Cells)...)
				}
				to.Tables = append(to.Tables, newPageTable(b.Title, "", append([]string{b.Head}, b.Columns...), rows))
			}
		case Timeline:
			to.Tables = append(to.Tables, timelineTable(b))
		case Table:
			to.Tables = append(to.Tables, newPageTable(b.Title, b.Label, b.Head, b.Rows))
		}
	}
}

// pageCells are the cells of a grid, which are not wrapped; signs are part of their
// text.
func pageCells(cells []Cell) []Cell {
	out := make([]Cell, len(cells))
	for i, c := range cells {
		out[i] = Cell{Line: Line{Text: c.lead(unicodeGlyphs) + c.Text}, Below: c.below(unicodeGlyphs), Tight: true}
	}
	return out
}

func (p *page) list(to *pageSection, l List) {
	items := plain(l.Items)
	if len(items) == 0 {
		return
	}
	out := pageList{Title: clean(l.Title, "→"), Class: l.Class}
	for _, item := range items {
		s := item.text()
		if sign := unicodeGlyphs.signs[item.Tone]; sign != "" {
			s = sign + " " + s
		}
		out.Lines = append(out.Lines, clean(s, "→"))
	}
	to.Lists = append(to.Lists, out)
}

func (p *page) figure(to *pageSection, f Figure) {
	p.pictures++
	out := pagePicture{Title: clean(f.Title, "→"), Caption: clean(f.Caption, "→"), Grid: f.Grid, Single: f.Single,
		Table: newPageTable("", cmp.Or(f.Numbers.Label, "numbers behind: "+f.Title), f.Numbers.Head, f.Numbers.Rows)}
	for _, svg := range f.Draw(p.pictures) {
		out.Drawings = append(out.Drawings, template.HTML(svg))
	}
	to.Pictures = append(to.Pictures, out)
}

func newPageTable(title, label string, head []string, rows [][]Cell) pageTable {
	t := pageTable{Title: clean(title, "→"), Label: clean(cmp.Or(label, title), "→")}
	for _, h := range head {
		t.Head = append(t.Head, clean(h, "→"))
	}
	for _, row := range rows {
		var cells []pageCell
		for _, c := range row {
			cell := pageCell{Text: clean(c.Text, "→"), Below: clean(c.Below, "→")}
			if c.Sign {
				cell.Sign, cell.Color = unicodeGlyphs.signs[c.Tone], c.Tone.class()
			}
			if c.Tight {
				cell.Class = "nowrap"
			}
			cells = append(cells, cell)
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}

func changesTable(c Changes) pageTable {
	head := []string{c.Head, "verdict", "change", c.Interval, "before → after"}
	var rows [][]Cell
	for _, r := range c.Rows {
		rows = append(rows, []Cell{{Line: Line{Text: r.Name}}, {Line: r.Verdict, Sign: r.Judged, Tight: r.Judged},
			{Line: Line{Text: r.Change}, Below: r.Measured, Tight: true}, {Line: Line{Text: r.interval()}},
			{Line: Line{Text: r.Before + " → " + r.After}, Below: r.Compared}})
	}
	return newPageTable(c.Title, c.Label, head, rows)
}

func timelineTable(l Timeline) pageTable {
	var rows [][]Cell
	for _, r := range l.Rows {
		name := strings.TrimSpace(unicodeGlyphs.signs[r.Mark] + " " + r.Name)
		rows = append(rows, []Cell{{Line: Line{Text: name}}, {Line: Line{Text: r.Below}, Below: r.When}, {Line: Line{Text: r.Count}},
			{Line: Line{Text: r.Change}, Tight: true}, {Line: Line{Text: r.interval()}}, {Line: Line{Text: r.end(unicodeGlyphs)}}})
	}
	return newPageTable(l.Title, "", []string{l.Head, "what", l.Count, "change", l.Interval, l.End}, rows)
}
