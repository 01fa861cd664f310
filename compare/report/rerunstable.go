package report

import (
	"slices"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/report/table"
)

// rerunsColumns are those of a plan of further runs: a row for each score and for what
// else is open, and one more for each further budget.
var rerunsColumns = []table.Column{
	{Name: "benchmark", Kind: table.Words, Meaning: "the benchmark, or the name of what is pooled"},
	{Name: "metric", Kind: table.Words, Meaning: "the metric: score, power and so on"},
	{Name: "unit", Kind: table.Words, Meaning: "unit of the values as measured"},
	{Name: "verdict", Kind: table.Verdict, Meaning: "the verdict of the pilot; empty of a single profile"},
	{Name: "open", Kind: table.YesNo, Meaning: "yes where it decides and is not settled"},
	{Name: "change", Kind: table.Number, Meaning: "the change that the pilot shows"},
	{Name: "interval_low", Kind: table.Number, Meaning: "lower end of the interval of the change"},
	{Name: "interval_high", Kind: table.Number, Meaning: "upper end"},
	{Name: "interval_confidence", Kind: table.Number, Meaning: "its confidence in per cent"},
	{Name: "change_unit", Kind: table.Words, Meaning: "unit of changes, spread and needed_for: % or the metric's own"},
	{Name: "counts_once", Kind: table.Words, Meaning: "what counts once: run, session, block or machine"},
	{Name: "before_count", Kind: table.Whole, Meaning: "how many of them the pilot has"},
	{Name: "after_count", Kind: table.Whole, Meaning: "the same after the change"},
	{Name: "budget_hours", Kind: table.Number, Meaning: "of what is open: the hours to spend"},
	{Name: "budget_count", Kind: table.Whole, Meaning: "or, instead of hours, how many more of what is added"},
	{Name: "chance", Kind: table.Number, Meaning: "the chance that it is settled then, in per cent"},
	{Name: "more", Kind: table.Whole, Meaning: "how many more a side, or blocks, run this benchmark; 0 for none"},
	{Name: "runs_each", Kind: table.Whole, Meaning: "runs of it in each session"},
	{Name: "plan_settles", Kind: table.Number, Meaning: "how many results the plan of this budget settles on average"},
	{Name: "plan_hours", Kind: table.Number, Meaning: "the hours that it takes, where the minutes are known"},
	{Name: "alone_more", Kind: table.Whole, Meaning: "how many more a side, or blocks, settle it four times in five; empty where none do"},
	{Name: "alone_hours", Kind: table.Number, Meaning: "the hours that these take with nothing else"},
	{Name: "spread", Kind: table.Number, Meaning: "of a score: standard deviation of what counts once"},
	{Name: "needed", Kind: table.Whole, Meaning: "of counts_once, how many a side show a change of needed_for, from nothing"},
	{Name: "needed_low", Kind: table.Whole, Meaning: "lower end of what the pilot's spread allows, four times in five"},
	{Name: "needed_high", Kind: table.Whole, Meaning: "upper end"},
	{Name: "needed_for", Kind: table.Number, Meaning: "the change to be seen"},
	{Name: "needed_hours", Kind: table.Number, Meaning: "hours of both sides, from nothing"},
}

// RerunsTable lists what a plan of further runs says of each score, and of what else
// decides and is open.
func RerunsTable(p RerunsPage) table.Table {
	var rows [][]table.Cell
	var open []*advice.Open
	if p.Next != nil {
		open = slices.Clone(p.Next.Open)
	}
	for _, m := range p.Metrics {
		i := slices.IndexFunc(open, func(o *advice.Open) bool { return o.Measurement == m.Measurement })
		if i < 0 {
			rows = append(rows, p.planRow(m.Result, m, nil, nil, 0))
			continue
		}
		rows = append(rows, p.openRows(open[i], m)...)
	}
	for _, o := range open {
		if !slices.ContainsFunc(p.Metrics, func(m *advice.Plan) bool { return o.Measurement == m.Measurement }) {
			rows = append(rows, p.openRows(o, nil)...)
		}
	}
	return figures(rows, rerunsColumns)
}

// openRows are the rows of an open result: one for each budget.
func (p RerunsPage) openRows(o *advice.Open, m *advice.Plan) (rows [][]table.Cell) {
	i := slices.Index(p.Next.Open, o)
	for _, c := range p.Next.Choices {
		rows = append(rows, p.planRow(o.Result, m, o, c, c.Chances[i]))
	}
	if rows == nil {
		rows = append(rows, p.planRow(o.Result, m, o, nil, 0))
	}
	return rows
}

// planRow is one row; m is nil for what is no score, o for what is not open, and c where
// nothing is planned for it.
func (p RerunsPage) planRow(r *compare.Result, m *advice.Plan, o *advice.Open, c *advice.Choice, chance float64) []table.Cell {
	unit, _ := percentOr(r)
	size := changeFormat(r)
	size.Signed, size.Places = false, table.General.Places
	hours := func(h float64) table.Cell {
		if h == 0 {
			return table.Cell{}
		}
		return table.Num(h, table.Format{Places: 1, Unit: "h"})
	}
	whole := func(n int) table.Cell {
		if n == 0 {
			return table.Cell{}
		}
		return table.Int(n)
	}
	cells := []table.Cell{table.Text(r.Benchmark), table.Text(r.Metric.Metric), table.Text(r.Unit)}
	if p.Next != nil && r.Verdict != nil {
		cells = append(cells, table.Toned(string(*r.Verdict), toneOf(r)), table.Flag(o != nil))
		cells = append(cells, changeCells(r, p.Confidence)...)
	} else {
		cells = append(cells, make([]table.Cell, 6)...)
	}
	cells = append(cells, table.Text(unit))
	if p.Profiles != nil {
		cells = append(cells, table.Text(string(r.Replication)), table.Int(r.Replicates[0]), table.Int(r.Replicates[1]))
	} else { // a stated spread has no pilot
		cells = append(cells, table.Text(string(r.Replication)), table.Cell{}, table.Cell{})
	}
	if c == nil {
		cells = append(cells, make([]table.Cell, 7)...)
	} else {
		more := c.More[r.Benchmark]
		if r.Parts != nil {
			more = c.Sessions
			for _, part := range r.Parts {
				more = min(more, c.More[part.Benchmark])
			}
		}
		runs := table.Cell{}
		if more > 0 {
			runs = table.Int(c.Runs)
		}
		cells = append(cells, hours(c.Budget.Hours), whole(c.Budget.Sessions), table.Num(chance, table.Format{Percent: true}), table.Int(more),
			runs, table.Num(c.Expected, table.Format{Places: 1}), hours(c.Hours))
	}
	if o == nil {
		cells = append(cells, make([]table.Cell, 2)...)
	} else {
		cells = append(cells, whole(o.Alone), hours(o.AloneHours))
	}
	if m == nil {
		return append(cells, make([]table.Cell, 6)...)
	}
	if cells = append(cells, table.Num(m.Spread, size)); m.See == nil {
		return append(cells, make([]table.Cell, 5)...)
	}
	return append(cells, table.Int(m.See.N), table.Int(m.See.Min), table.Int(m.See.Max), table.Num(m.See.For, size), hours(m.SeeHours))
}
