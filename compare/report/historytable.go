package report

import (
	"fmt"
	"math"
	"time"

	"tunegate/compare"
	"tunegate/compare/history"
	"tunegate/compare/report/doc"
	"tunegate/compare/report/table"
)

var historyColumns = []table.Column{
	{Name: "profile", Kind: table.Words, Meaning: "the profile that is followed"},
	{Name: "commit", Kind: table.Words, Meaning: "the commit's whole hash"},
	{Name: "time", Kind: table.Words, Meaning: "when it was committed"},
	{Name: "subject", Kind: table.Words, Meaning: "first line of its message"},
	{Name: "gate", Kind: table.Verdict, Meaning: "what the gate says of it"},
	{Name: "benchmark", Kind: table.Words, Meaning: "the benchmark"},
	{Name: "metric", Kind: table.Words, Meaning: "the metric"},
	{Name: "kind", Kind: table.Words, Meaning: "metric or suite"},
	{Name: "role", Kind: table.Words, Meaning: "score, cost or info"},
	{Name: "unit", Kind: table.Words, Meaning: "unit of the median"},
	{Name: "better", Kind: table.Words, Meaning: "higher or lower"},
	{Name: "sessions", Kind: table.Whole, Meaning: "sessions measured at this commit; 0 where none are recorded"},
	{Name: "runs", Kind: table.Whole, Meaning: "runs measured at this commit"},
	{Name: "median", Kind: table.Number, Meaning: "median of what counts once, in unit"},
	{Name: "change", Kind: table.Number, Meaning: "change from the first commit that measured it; empty for that one"},
	{Name: "interval_low", Kind: table.Number, Meaning: "lower end of its interval"},
	{Name: "interval_high", Kind: table.Number, Meaning: "upper end"},
	{Name: "interval_confidence", Kind: table.Number, Meaning: "its confidence in per cent; too few runs have a range of less"},
	{Name: "change_unit", Kind: table.Words, Meaning: "unit of change, intervals and shift: % or the metric's own"},
	{Name: "shift_verdict", Kind: table.Verdict, Meaning: "where the level shifted with this commit: the verdict on the shift"},
	{Name: "shift", Kind: table.Number, Meaning: "the size of the shift"},
	{Name: "shift_low", Kind: table.Number, Meaning: "lower end of its interval"},
	{Name: "shift_high", Kind: table.Number, Meaning: "upper end"},
}

// HistoryTables has a row for each metric at each commit that measured it.
func HistoryTables(h HistoryPage) Tables {
	var rows [][]table.Cell
	counted := table.Table{Name: "Values", Columns: []table.Column{
		{Name: "commit", Kind: table.Words}, {Name: "benchmark", Kind: table.Words}, {Name: "metric", Kind: table.Words},
		{Name: "unit", Kind: table.Words}, {Name: "value that counts once", Kind: table.Number},
	}}
	for _, t := range h.Tracks {
		for i, p := range h.Points {
			m := t.Measured[i]
			if m == nil {
				continue
			}
			rows = append(rows, h.row(t, i, m))
			for _, v := range m.Values {
				counted.Rows = append(counted.Rows, []table.Cell{table.Text(p.Commit), table.Text(t.Benchmark), table.Text(t.Metric.Metric),
					table.Text(t.Unit), table.Num(v, table.General)})
			}
		}
	}
	return Tables{Figures: figures(rows, historyColumns), More: []table.Table{counted, h.commitsTable()},
		Pictures: func() []*Picture { return HistoryPictures(h) }}
}

func (h HistoryPage) row(t *history.Track, at int, m *history.Measured) []table.Cell {
	p, kind := h.Points[at], metricRow
	if t.Parts != nil {
		kind = suiteRow
	}
	unit := "%"
	if t.Scale != compare.Ratio {
		unit = t.Unit
	}
	cells := []table.Cell{table.Text(h.Profile), table.Text(p.Commit), timeCell(p.Time), table.Text(p.Subject), gateCell(p.Gate),
		table.Text(t.Benchmark), table.Text(t.Metric.Metric), table.Text(kind), table.Text(string(t.Role)), table.Text(t.Unit),
		table.Text(string(t.Better)), table.Int(m.Sessions), table.Int(m.Runs), table.Num(m.Median, table.General)}
	cells = append(cells, changeCells(m.Since, h.Confidence)...)
	cells = append(cells, table.Text(unit))
	for _, s := range t.Shifts {
		if s.First == at {
			f := changeFormat(s.Result)
			lo, hi := ends(s.Interval, f)
			verdict := table.Cell{}
			if s.Verdict != nil {
				verdict = table.Toned(string(*s.Verdict), toneOf(s.Result))
			}
			return append(cells, verdict, table.Num(s.Change, f), lo, hi)
		}
	}
	return append(cells, make([]table.Cell, 4)...)
}

// changeCells are a change, its interval or range, and the confidence of that; all of
// them empty for nil.
func changeCells(r *compare.Result, confidence float64) []table.Cell {
	if r == nil {
		return make([]table.Cell, 4)
	}
	in := r.Interval
	if in == nil {
		in, confidence = r.Range, r.RangeConfidence
	}
	f := changeFormat(r)
	lo, hi := ends(in, f)
	confident := table.Cell{}
	if in != nil && confidence > 0 {
		confident = table.Num(math.Round(1e8*confidence)/1e6, table.General)
	}
	return []table.Cell{table.Num(r.Change, f), lo, hi, confident}
}

func timeCell(t time.Time) table.Cell {
	if t.IsZero() {
		return table.Cell{}
	}
	return table.Text(t.Format(time.RFC3339))
}

func gateCell(g *history.PointGate) table.Cell {
	switch {
	case g == nil:
		return table.Cell{}
	case g.Wrong != nil:
		return table.Toned("not judged", doc.Unjudged)
	}
	return outcomeCell(g.Outcome)
}

// commitsTable says what each commit did to the profile.
func (h HistoryPage) commitsTable() table.Table {
	t := table.Table{Name: "Commits", Columns: []table.Column{
		{Name: "commit", Kind: table.Words}, {Name: "time", Kind: table.Words}, {Name: "subject", Kind: table.Words},
		{Name: "gate", Kind: table.Verdict}, {Name: "rows added", Kind: table.Whole}, {Name: "set aside", Kind: table.Whole},
		{Name: "restored", Kind: table.Whole}, {Name: "withdrawn", Kind: table.Whole}, {Name: "set differently", Kind: table.Words},
		{Name: "recorded differently", Kind: table.Words}, {Name: "why the gate says so", Kind: table.Words},
	}}
	for _, p := range h.Points {
		var why []string
		if g := p.Gate; g != nil {
			for _, r := range g.Reasons {
				why = append(why, Commands{}.reasonText(r))
			}
			if g.Wrong != nil {
				why = append(why, fmt.Sprint(h.Commands.Explain(g.Wrong)))
			}
		}
		t.Rows = append(t.Rows, []table.Cell{table.Text(p.Commit), timeCell(p.Time), table.Text(p.Subject), gateCell(p.Gate), table.Int(p.Added),
			table.Int(p.SetAside), table.Int(p.Restored), table.Int(p.Withdrawn), table.Lines(each(p.Settings, settingText)),
			table.Lines(each(p.Conditions, settingText)), table.Lines(why)})
	}
	return t
}
