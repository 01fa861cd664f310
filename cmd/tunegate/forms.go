package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
	"tunegate/compare/report/doc"
	"tunegate/compare/report/table"
)

// answer is what a command has to say: a document, and by name the forms that are
// not made from it, such as json.
type answer struct {
	document doc.Document
	others   map[string]func(io.Writer) error
}

// withTables is the answer with the forms of tableForms.
func (a answer) withTables(c *cli.Context, tables func() report.Tables) answer {
	a.others["csv"] = func(w io.Writer) error {
		as, err := separationOf(c)
		if err != nil {
			return err
		}
		return table.CSV(w, tables().Figures, as)
	}
	a.others["xlsx"] = func(w io.Writer) error { return report.Workbook(w, a.document, tables(), originOf(c)) }
	return a
}

// documentForms print any command's document. A new one takes a line here.
var documentForms = []struct {
	name  string
	print func(io.Writer, doc.Document, doc.TextOptions) error
}{
	{"text", func(w io.Writer, d doc.Document, screen doc.TextOptions) error {
		return doc.Text(w, d, doc.TextOptions{Width: 100, Detail: screen.Detail, Plain: screen.Plain})
	}},
	{"markdown", func(w io.Writer, d doc.Document, _ doc.TextOptions) error { return doc.Markdown(w, d) }},
	{"html", func(w io.Writer, d doc.Document, _ doc.TextOptions) error { return report.Page(w, d) }},
}

// form is the answer in a form.
func (a answer) form(name string, screen doc.TextOptions) func(io.Writer) error {
	if print := a.others[name]; print != nil {
		return print
	}
	for _, f := range documentForms {
		if f.name == name {
			return func(w io.Writer) error { return f.print(w, a.document, screen) }
		}
	}
	return nil
}

// tableForms are those of results as tables.
var tableForms = []string{"csv", "xlsx"}

// csvFlags say how a CSV is written.
func csvFlags() []cli.Flag {
	return under(groupFiles,
		&cli.StringFlag{Name: "separator", Usage: "`SIGN` between the cells of a CSV: comma, semicolon (with decimal commas) or tab",
			DefaultText: "comma"},
		&cli.BoolFlag{Name: "no-bom", Usage: "leave out a CSV's byte-order mark, by which spreadsheets know UTF-8", DisableDefaultText: true},
	)
}

// separationOf reads csvFlags.
func separationOf(c *cli.Context) (as table.Separation, err error) {
	as.NoMark = c.Bool("no-bom")
	switch s := c.String("separator"); s {
	case "", ",", "comma":
	case ";", "semicolon":
		as.Comma = ';'
	case "tab", "\t", `\t`:
		as.Comma = '\t'
	default:
		return as, fmt.Errorf("--separator %q; expected comma, semicolon or tab", s)
	}
	return as, nil
}

// plainForms are the forms of what is printed for whoever asked.
var plainForms = []string{"text", "json"}

// plainAndTableForms are the forms of what is no comparison, and has tables.
var plainAndTableForms = slices.Concat(plainForms, tableForms)

// formNames lists forms for a sentence: "text, json, markdown, html or junit".
func formNames(forms []string) string {
	last := len(forms) - 1
	if last == 0 {
		return forms[0]
	}
	return strings.Join(forms[:last], ", ") + " or " + forms[last]
}

// deliver writes the asked forms to files, and prints the screen's form, or JSON
// where that is asked for. The files come first: what cannot be written leaves the
// screen silent.
func deliver(c *cli.Context, screen doc.TextOptions, writes []output, a answer) error {
	if err := writeForms(c, screen, writes, a); err != nil {
		return err
	}
	if json := a.others["json"]; c.Bool("json") && json != nil {
		return show(c, json)
	}
	return show(c, func(w io.Writer) error { return doc.Text(w, a.document, screen) })
}

// deliverData does so where the screen's form is read by programs: its bytes are
// the same everywhere.
func deliverData(c *cli.Context, screen doc.TextOptions, writes []output, a answer, data func(io.Writer) error) error {
	out, err := render(data)
	if err != nil {
		return err
	}
	if inActions() && report.WithoutCommands(string(out)) != string(out) {
		return errors.New("a name holds ##[, which this log would take for a command; rename it")
	}
	if err := writeForms(c, screen, writes, a); err != nil {
		return err
	}
	if json := a.others["json"]; c.Bool("json") && json != nil {
		return show(c, json)
	}
	if _, err := c.App.Writer.Write(out); err != nil {
		return fmt.Errorf("cannot print the result: %w", err)
	}
	return nil
}

// writeForms writes the asked forms to files. They are plain where that is asked for,
// and not because the screen cannot show more.
func writeForms(c *cli.Context, screen doc.TextOptions, writes []output, a answer) error {
	screen.Plain = c.Bool("plain")
	var files []content
	for _, o := range writes {
		data, err := render(a.form(o.form, screen))
		if err != nil {
			return err
		}
		files = append(files, content{o.path, data})
	}
	return writeWhole(files)
}

// jsonForm is the form of a command that has JSON beside its document.
func jsonForm[T any](write func(io.Writer, T) error, result T) map[string]func(io.Writer) error {
	return map[string]func(io.Writer) error{"json": func(w io.Writer) error { return write(w, result) }}
}
