package report

import (
	"path"
	"slices"
	"time"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/report/doc"
	"tunegate/compare/report/table"
)

// Tables are the results of a command as tables: the figures, which are also its
// CSV, and what else a workbook has a sheet for.
type Tables struct {
	Figures table.Table
	More    []table.Table
	// Pictures are shown on a workbook's first sheet; nil for none.
	Pictures func() []*Picture
}

// figures is the table of figures of a command.
func figures(rows [][]table.Cell, columns ...[]table.Column) table.Table {
	return table.Table{Name: "Figures", Columns: slices.Concat(columns...), Rows: rows}
}

// runColumns are the columns of runs as read. A file or sheet of them is read back as
// the same runs; file, line and column only say where each value stood.
var runColumns = []table.Column{
	{Name: "profile", Kind: table.Words, Meaning: "the profile"},
	{Name: "benchmark", Kind: table.Words, Meaning: "the benchmark"},
	{Name: "metric", Kind: table.Words, Meaning: "the metric"},
	{Name: "unit", Kind: table.Words, Meaning: "unit of the value"},
	{Name: "better", Kind: table.Words, Meaning: "higher or lower, where the data say so"},
	{Name: "machine", Kind: table.Words, Meaning: "the machine, where recorded"},
	{Name: "session", Kind: table.Words, Meaning: "the session, where recorded"},
	{Name: "block", Kind: table.Words, Meaning: "the block, where recorded"},
	{Name: "run", Kind: table.Words, Meaning: "the run's label, where recorded"},
	{Name: "look", Kind: table.Whole, Meaning: "the planned look that it was made for"},
	{Name: "time", Kind: table.Words, Meaning: "when, where recorded"},
	{Name: "value", Kind: table.Number, Meaning: "the value; empty for a run that was not made"},
	{Name: "valid", Kind: table.Words, Meaning: "no for a run that is set aside"},
	{Name: "reason", Kind: table.Words, Meaning: "why it is set aside"},
	{Name: "file", Kind: table.Words, Meaning: "the file that it stood in"},
	{Name: "line", Kind: table.Whole, Meaning: "the line"},
	{Name: "column", Kind: table.Whole, Meaning: "the column"},
}

// runsTable lists every value of some series, in their order. Warm-ups are not in
// series, and so not here.
func runsTable(series []*compare.Series) table.Table {
	t := table.Table{Name: "Runs", Columns: runColumns}
	for _, s := range series {
		for _, o := range s.All() {
			when := time.Time{}
			if o.Time != 0 {
				when = time.Unix(0, o.Time).UTC()
			}
			t.Rows = append(t.Rows, runCells(compare.Value{Profile: s.Profile, Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit,
				Better: s.Better, Machine: o.Machine, Session: o.Session, Block: o.Block, Run: o.Run, Look: int(o.Look), Time: when,
				Value: o.Value, Missing: o.Missing, SetAside: o.SetAside, Reason: o.Reason, At: o.At}))
		}
	}
	return t
}

func runCells(v compare.Value) []table.Cell {
	var look, value, valid, line, column, when table.Cell
	if v.Look > 0 {
		look = table.Int(v.Look)
	}
	if !v.Missing {
		value = table.Num(v.Value, table.General)
	}
	if v.SetAside {
		valid = table.Text("no")
	}
	if v.At.Line > 0 {
		line = table.Int(v.At.Line)
	}
	if v.At.Column > 0 {
		column = table.Int(v.At.Column)
	}
	if !v.Time.IsZero() {
		when = table.Text(v.Time.Format(time.RFC3339Nano))
	}
	return []table.Cell{table.Text(v.Profile), table.Text(v.Benchmark), table.Text(v.ID().Metric), table.Text(v.Unit),
		table.Text(string(v.Better)), table.Text(v.Machine), table.Text(v.Session), table.Text(v.Block), table.Text(v.Run), look, when,
		value, valid, table.Text(v.Reason), table.Text(v.At.File), line, column}
}

// ComparisonTables has a row for each metric, the suite and each class.
func ComparisonTables(p ComparisonPage) Tables {
	c := p.Comparison
	return Tables{Figures: figures(rowsOf(c.Terms, c).comparison(c), resultColumns), More: []table.Table{runsTable(p.Runs)},
		Pictures: func() []*Picture { return changesPictures(ComparisonPictures(c)) }}
}

// changesPictures are those that show intervals.
func changesPictures(all []*Picture) []*Picture {
	return slices.DeleteFunc(all, func(p *Picture) bool {
		return !slices.Contains([]string{"changes", "costs", "shown", "steps", "front"}, path.Base(p.Name))
	})
}

// DoubtsTables has a row for each finding.
func DoubtsTables(p DoubtsPage) Tables {
	var rows [][]table.Cell
	for _, f := range p.Findings {
		why, do := p.Commands.checkAdvice(f.Check)
		grade := table.Toned(string(f.Grade), doc.Undecided)
		if f.Grade == doubts.GradeStop {
			grade = table.Toned(string(f.Grade), doc.Bad)
		}
		rows = append(rows, []table.Cell{grade, table.Text(f.Check), table.Text(f.Profile), table.Text(f.Series), table.Text(evidenceText(f)),
			table.Text(why), table.Text(do)})
	}
	return Tables{Figures: figures(rows, doubtsColumns), More: []table.Table{runsTable(p.Runs)}}
}

var doubtsColumns = []table.Column{
	{Name: "grade", Kind: table.Verdict, Meaning: "how much it matters"},
	{Name: "check", Kind: table.Words, Meaning: "the check that found it"},
	{Name: "profile", Kind: table.Words, Meaning: "the profile, or several"},
	{Name: "series", Kind: table.Words, Meaning: "the metric, or all of them"},
	{Name: "evidence", Kind: table.Words, Meaning: "what was found"},
	{Name: "why", Kind: table.Words, Meaning: "why it matters"},
	{Name: "do", Kind: table.Words, Meaning: "what to do"},
}
