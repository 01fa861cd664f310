package report

import (
	"bytes"
	"fmt"
	"io"
	"slices"

	"tunegate/compare/report/doc"
	"tunegate/compare/report/table"
)

// Workbook writes a document and its tables as a workbook (.xlsx): a summary, the
// figures, the runs as read, how it was decided, and what the columns mean.
func Workbook(w io.Writer, d doc.Document, t Tables, from Origin) error {
	book := table.Book{Document: d, Tables: append([]table.Table{t.Figures}, t.More...), Method: method(d, from)}
	book.Tables = slices.DeleteFunc(book.Tables, func(t table.Table) bool { return len(t.Rows) == 0 })
	if t.Pictures != nil {
		for _, p := range t.Pictures() {
			var b bytes.Buffer
			if err := p.PNG(&b); err != nil {
				return fmt.Errorf("picture %s: %w", p.Name, err)
			}
			of := p.standing()
			book.Pictures = append(book.Pictures, table.Picture{Alt: p.alt(), PNG: b.Bytes(), Height: of.height, Scale: 1.0 / pngScale})
		}
	}
	return table.Workbook(w, book)
}

// method is how a document came about: the rule, the tests, the command and version.
func method(d doc.Document, from Origin) []doc.Fact {
	out := []doc.Fact{{Term: "Outcome", Text: d.Closing.Text}}
	if d.Basis != "" {
		out = append(out, doc.Fact{Term: "Rests on", Text: d.Basis})
	}
	add := func(lead string, sections []doc.Section) {
		for _, s := range sections {
			if s.Kind != doc.Method && s.Kind != doc.Tests && s.Kind != doc.Origin {
				continue
			}
			for _, b := range s.Blocks {
				switch b := b.(type) {
				case doc.Facts:
					for _, f := range b {
						out = append(out, doc.Fact{Term: lead + f.Term, Text: f.Text})
					}
				case doc.List:
					for _, i := range b.Items {
						term := i.Name
						if term == "" {
							term = s.Title
						}
						out = append(out, doc.Fact{Term: lead + term, Text: i.Text})
					}
				}
			}
		}
	}
	add("", d.Sections)
	for _, p := range d.Parts {
		add(p.Name+": ", p.Sections)
	}
	if !slices.ContainsFunc(out, func(f doc.Fact) bool { return f.Term == "Command" }) {
		for _, b := range originSection(from, 0, 0).Blocks {
			if facts, ok := b.(doc.Facts); ok {
				out = append(out, facts...)
			}
		}
	}
	return out
}
