package report

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"tunegate/compare/doubts"
	"tunegate/compare/report/doc"
)

// Page writes a document as one page that needs nothing but itself.
func Page(w io.Writer, d doc.Document) error { return doc.Page(w, d, pictureCSS()) }

// Origin says where a page comes from.
type Origin struct {
	Command string // the exact command line
	Version string // of the program
}

// itemsSection is a section of one list; empty where it has no items.
func itemsSection(kind doc.Kind, title string, l doc.List) doc.Section {
	if len(l.Items) == 0 {
		return doc.Section{}
	}
	return doc.Section{Kind: kind, Title: title, Blocks: []doc.Block{l}}
}

func listSection(kind doc.Kind, title string, lines []string) doc.Section {
	return itemsSection(kind, title, doc.List{Items: doc.Lines(lines)})
}

func notesSection(lines []string) doc.Section { return listSection(doc.Notes, "Notes", lines) }

// addLists appends the lists that have lines.
func addLists(to []doc.Block, lists ...doc.List) []doc.Block {
	for _, l := range lists {
		if len(l.Items) > 0 {
			to = append(to, l)
		}
	}
	return to
}

// dataSection says what looks unsafe about the data, and what else to know:
// set-aside runs among it.
func (c Commands) dataSection(findings []doubts.Finding, notes []string) doc.Section {
	s := doc.Section{Kind: doc.Data}
	groups := c.findingGroups(findings, 0)
	if len(groups) == 0 {
		s.Blocks = append(s.Blocks, doc.Paragraph{Line: doc.Line{Text: "Looked at before judging: " +
			"drift, dependence, outliers, two modes, copied values, sessions far apart. Nothing was found."}})
	}
	for _, g := range groups {
		if n := len(g.lines); n > 8 { // evidence, and then why and what to do
			g.lines = append(append(slices.Clone(g.lines[:6]), fmt.Sprintf("and %d more; %s lists them all", n-8, c.Doubts)), g.lines[n-2:]...)
		}
		s.Blocks = append(s.Blocks, doc.List{Title: strings.ToUpper(g.title()[:1]) + g.title()[1:], Items: doc.Lines(g.lines)})
	}
	s.Blocks = addLists(s.Blocks, doc.List{Title: "Notes, and runs set aside", Items: doc.Lines(notes)})
	return s
}

// originSection says how to make the same page again.
func originSection(from Origin, seed uint64, resamples int) doc.Section {
	facts := [][2]string{{"Command", Clean(from.Command)}, {"Version", "tunegate " + Clean(from.Version)}}
	if resamples > 0 {
		facts = append(facts, [2]string{"Seed", fmt.Sprint(seed)}, [2]string{"Resamples", fmt.Sprint(resamples)})
	}
	return doc.Section{Kind: doc.Origin, Blocks: []doc.Block{
		doc.Paragraph{Line: doc.Line{Text: "The same files, command and version give the same page, on any machine."}},
		factsOf(facts),
	}}
}

// factsOf makes facts of pairs of a term and its text.
func factsOf(pairs [][2]string) doc.Facts {
	var out doc.Facts
	for _, p := range pairs {
		out = append(out, doc.Fact{Term: p[0], Text: p[1], Code: p[0] == "Command"})
	}
	return out
}

// picturesSection makes its pictures only when a form needs them.
func picturesSection(pictures func() []*Picture) doc.Section {
	return doc.Section{Kind: doc.Pictures, Blocks: []doc.Block{doc.Figures(func() []doc.Figure {
		var out []doc.Figure
		for _, p := range pictures() {
			out = append(out, p.figure())
		}
		return out
	})}}
}

// figure is the picture for a page, drawn at the widths that a page needs.
func (p *Picture) figure() doc.Figure {
	f := doc.Figure{Title: p.Title, Caption: p.Caption, Numbers: doc.Table{Head: p.Head},
		Grid: p.columns > 1 && len(p.parts) > 1, Single: len(p.parts) == 1}
	for _, row := range p.Rows {
		f.Numbers.Rows = append(f.Numbers.Rows, textCells(row...))
	}
	f.Draw = func(n int) []string {
		var out []string
		for k, part := range p.parts {
			title, desc := p.Title, p.alt()
			if len(p.parts) > 1 {
				title, desc = part.name, part.desc
			}
			draw := func(width float64, class string) {
				var b bytes.Buffer
				part.draw(width).svg(&b, fmt.Sprintf("picture-%d-%d-%s", n, k+1, class), title, desc, class, "")
				out = append(out, b.String())
			}
			if f.Grid {
				draw(halfWidth, "half")
			} else {
				draw(wideWidth, "wide")
				draw(narrowWidth, "narrow")
			}
		}
		return out
	}
	return f
}

// textCells are cells of plain texts.
func textCells(texts ...string) []doc.Cell {
	out := make([]doc.Cell, len(texts))
	for i, t := range texts {
		out[i].Text = t
	}
	return out
}
