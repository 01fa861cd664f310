package table

import (
	"archive/zip"
	"bytes"
	"fmt"
	"image"
	"image/png"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"tunegate/compare/report/doc"
)

// example is a workbook with one of everything.
func example() Book {
	span := doc.Span{At: 0.0246, Ends: &[2]float64{0.0224, 0.029}, Places: 2, Unit: "%"}
	return Book{
		Document: doc.Document{Heading: doc.Line{Text: "a " + doc.Arrow + " b", Tone: doc.Strong}, Basis: "95 % confidence",
			Closing: doc.Line{Text: "Regression: c is slower.", Tone: doc.Bad}, Caution: "Caution: steam burns.",
			Sections: []doc.Section{
				{Kind: doc.Numbers, Blocks: []doc.Block{doc.Changes{Title: "Scores", Head: "benchmark", Interval: "95 % interval", Rows: []doc.Change{
					{Name: "tile-render", Verdict: doc.Line{Text: "uplift", Tone: doc.BigGain}, Judged: true, Span: span, Before: "412 s",
						After: "402 s", Compared: "6 and 6 sessions", Advice: "nothing"},
					{Name: "=1+1", Verdict: doc.Line{Text: "level", Tone: doc.Level}, Judged: true, Span: span},
				}}}},
				{Kind: doc.Findings, Title: "Found", Blocks: []doc.Block{
					doc.List{Title: "points", Numbered: true, Items: []doc.Item{{Name: "one", Line: doc.Line{Text: "first", Tone: doc.BigLoss}},
						{Line: doc.Line{Text: "for experts"}, Detail: true}}},
					doc.Assessment{Verdict: doc.Line{Text: "supported", Tone: doc.Good}, Quote: "x is faster", Points: []string{"because"}},
					doc.Grid{Title: "grid", Head: "profile", Columns: []string{"speed"}, Rows: []doc.GridRow{
						{Name: "b", Cells: []doc.Cell{{Line: doc.Line{Text: "+1 %", Tone: doc.SmallGain}, Sign: true, Below: "0 to 2 %"}}}}},
					doc.Timeline{Title: "time", Head: "commit", Count: "sessions", End: "gate", Interval: "95 % interval", Rows: []doc.Moment{
						{Name: "1a2b", Mark: doc.BigLoss, When: "today", Count: "6", Span: &span, Signs: []doc.Tone{doc.Good},
							End: doc.Line{Text: "passed"}, Below: "set", Ranged: "90 %"}}},
					doc.Table{Head: []string{"runs", "hours"}, Rows: [][]doc.Cell{{{Line: doc.Line{Text: "3"}}, {Line: doc.Line{Text: "1.5"}}}}},
				}},
				{Kind: doc.Tests, Title: "Tests", Blocks: []doc.Block{doc.List{Items: []doc.Item{{Line: doc.Line{Text: "not on the summary"}}}}}},
			}},
		Tables: []Table{
			{Name: "Figures", Columns: []Column{{Name: "benchmark", Kind: Words}, {Name: "metric", Kind: Words, Meaning: "what is measured"},
				{Name: "verdict", Kind: Verdict}, {Name: "change", Kind: Number}, {Name: "median", Kind: Number}, {Name: "cap", Kind: Number}},
				Rows: [][]Cell{{Text("tile-render"), Text("score"), Toned("uplift", doc.BigGain),
					Num(0.0246, Format{Places: 2, Signed: true, Percent: true}), Num(412.34, Format{Places: 1, Unit: `"s"`}), {}}}},
			{Name: "Runs", Columns: []Column{{Name: "value", Kind: Number}, {Name: "reason", Kind: Words}},
				Rows: [][]Cell{{Num(410.6, General), {}}}},
		},
		Method:   []doc.Fact{{Term: "Command", Text: "judge a b"}},
		Pictures: []Picture{{Alt: "a dot", PNG: dot(), Height: 40, Scale: 0.5}},
	}
}

// dot is a picture of one pixel.
func dot() []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 1, 1))); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func bytesOf(t *testing.T, b Book) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Workbook(&out, b); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// The same book gives the same bytes, and every packed file states the same time.
func TestWorkbookIsDeterministic(t *testing.T) {
	first := bytesOf(t, example())
	for range 10 {
		if !bytes.Equal(first, bytesOf(t, example())) {
			t.Fatal("other bytes")
		}
	}
	files, err := zip.NewReader(bytes.NewReader(first), int64(len(first)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files.File {
		if !f.Modified.Equal(epoch) {
			t.Errorf("%s is of %v", f.Name, f.Modified)
		}
	}
}

// Every sheet as another reader shows it. Number formats are applied by excelize.
func TestWorkbookSheets(t *testing.T) {
	f, err := excelize.OpenReader(bytes.NewReader(bytesOf(t, example())))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string][][]string{}
	for _, name := range f.GetSheetList() {
		rows, err := f.GetRows(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			for i, cell := range row {
				// excelize puts the space of "0.00 %" behind the sign; LibreOffice shows it before.
				if number, ok := strings.CutSuffix(cell, "% "); ok {
					row[i] = number + " %"
				}
			}
			if len(row) > 0 {
				got[name] = append(got[name], row)
			}
		}
	}
	want := map[string][][]string{
		"Summary": {
			{"a → b"}, {"95 % confidence"}, {"Regression: c is slower."},
			{"Scores"}, {"benchmark", "verdict", "change", "95 % interval", "to", "before", "after", "compared"},
			{"tile-render", "▲ uplift", "+2.46 %", "+2.24 %", "+2.90 %", "412 s", "402 s", "6 and 6 sessions", "nothing"},
			{"=1+1", "= level", "+2.46 %", "+2.24 %", "+2.90 %"},
			{"Found"}, {"points"}, {"▼ 1. one: first"}, {"✔ supported: “x is faster”"}, {"    because"},
			{"grid"}, {"profile", "speed"}, {"b", "△ +1 %"}, {"", "0 to 2 %"},
			{"time"}, {"commit", "gate", "change", "95 % interval", "to", "sessions", "date"},
			{"▼ 1a2b", "✔ passed", "+2.46 %", "+2.24 %", "+2.90 %", "6", "today", "a range, 90 %; set"},
			{"runs", "hours"}, {"3", "1.5"}, {"Caution: steam burns."},
		},
		"Figures": {{"benchmark", "metric", "verdict", "change", "median", "cap"},
			{"tile-render", "score", "uplift", "+2.46 %", `412.3 's'`}},
		"Runs":               {{"value"}, {"410.6"}},
		"How it was decided": {{"what", "how"}, {"Command", "judge a b"}},
		"Columns": {{"column", "kind", "meaning"}, {"benchmark", "text"}, {"metric", "text", "what is measured"},
			{"verdict", "verdict"}, {"change", "number"}, {"median", "number"}, {"cap", "number"}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	for _, cell := range []string{"A9", "C9"} { // a text stays one, a number one
		kind, err := f.GetCellType("Summary", cell)
		if err != nil || (kind == excelize.CellTypeSharedString) != (cell == "A9") {
			t.Errorf("%s is of type %v, %v", cell, kind, err)
		}
	}
	if formula, err := f.GetCellFormula("Summary", "A10"); err != nil || formula != "" {
		t.Errorf("a name is run as the formula %q, %v", formula, err)
	}
	panes, err := f.GetPanes("Figures")
	if err != nil || !panes.Freeze || panes.XSplit != 2 || panes.YSplit != 1 {
		t.Errorf("panes are %+v, %v", panes, err)
	}
	for cell, want := range map[string]string{"C2": doc.Palette["better"].Light, "A2": ""} {
		id, err := f.GetCellStyle("Figures", cell)
		if err != nil {
			t.Fatal(err)
		}
		style, err := f.GetStyle(id)
		if err != nil || !strings.EqualFold(strings.TrimPrefix(want, "#"), style.Font.Color) {
			t.Errorf("%s is of colour %q, want %q (%v)", cell, style.Font.Color, want, err)
		}
	}
}

func TestNumberFormats(t *testing.T) {
	for _, c := range []struct {
		f    Format
		v    float64
		want string
	}{
		{Format{}, 3, "0"},
		{Format{Places: 2, Signed: true, Percent: true, Unit: "%"}, 0.01, "+0.00 %;-0.00 %;0.00 %"},
		{Format{Places: 1, Unit: "°C"}, 5.5, `0.0 "°C"`},
		{Format{Places: -1, Percent: true}, 0.005, "0.0 %"},
		{Format{Places: -1, Unit: "W"}, 3, `0 "W"`},
		{General, 0.1, ""},
	} {
		if got := c.f.code(c.v); got != c.want {
			t.Errorf("%+v of %v is %q, want %q", c.f, c.v, got, c.want)
		}
	}
}

// A sheet has 1,048,576 rows (ECMA-376); what has more is refused, and not cut.
func TestWorkbookRefusesMoreRowsThanASheetHolds(t *testing.T) {
	b := Book{Tables: []Table{{Name: "Runs", Columns: []Column{{Name: "a"}}, Rows: make([][]Cell, 1<<20)}}}
	err := Workbook(&bytes.Buffer{}, b)
	if want := fmt.Sprintf("Runs has %d rows, more than the 1048575 of a sheet", 1<<20); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%v, want %s", err, want)
	}
}

// A table that is too wide for a page goes over several, with its keys and its head on
// each; others are fitted to one.
func TestTablesOnPaper(t *testing.T) {
	wide := Table{Name: "Figures", Columns: []Column{{Name: "benchmark", Kind: Words}, {Name: "metric", Kind: Words}}}
	for i := range 30 {
		wide.Columns = append(wide.Columns, Column{Name: fmt.Sprint("column_", i), Kind: Whole})
	}
	wide.Rows = [][]Cell{make([]Cell, len(wide.Columns))}
	narrow := Table{Name: "Runs", Columns: []Column{{Name: "value", Kind: Number}}, Rows: [][]Cell{{Int(3)}}}
	f, err := excelize.OpenReader(bytes.NewReader(bytesOf(t, Book{Tables: []Table{wide, narrow}})))
	if err != nil {
		t.Fatal(err)
	}
	titles := map[string]string{}
	for _, n := range f.GetDefinedName() {
		if n.Name == "_xlnm.Print_Titles" {
			titles[n.Scope] = n.RefersTo
		}
	}
	for sheet, want := range map[string]struct {
		titles string
		fit    bool
		scale  uint
	}{"Figures": {"'Figures'!$A:$B,'Figures'!$1:$1", false, paperScale}, "Runs": {"'Runs'!$1:$1", true, 100}} {
		props, err := f.GetSheetProps(sheet)
		if err != nil {
			t.Fatal(err)
		}
		layout, err := f.GetPageLayout(sheet)
		if err != nil {
			t.Fatal(err)
		}
		if titles[sheet] != want.titles || *props.FitToPage != want.fit || *layout.AdjustTo != want.scale || *layout.Orientation != "landscape" {
			t.Errorf("%s: titles %s, fitted %v, at %d %%", sheet, titles[sheet], *props.FitToPage, *layout.AdjustTo)
		}
	}
}
