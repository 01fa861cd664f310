package report

import (
	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/report/table"
)

var planColumns = []table.Column{
	{Name: "benchmark", Kind: table.Words, Meaning: "the benchmark"},
	{Name: "metric", Kind: table.Words, Meaning: "the metric"},
	{Name: "unit", Kind: table.Words, Meaning: "its unit"},
	{Name: "counts_once", Kind: table.Words, Meaning: "what sizes count: run, session, block or machine"},
	{Name: "pilot_before", Kind: table.Whole, Meaning: "how many the pilot has before"},
	{Name: "pilot_after", Kind: table.Whole, Meaning: "and after"},
	{Name: "spread", Kind: table.Number, Meaning: "standard deviation of what counts once"},
	{Name: "change_unit", Kind: table.Words, Meaning: "unit of spread, changes, half-width and blind spot"},
	{Name: "at_least", Kind: table.Whole, Meaning: "below so many a side nothing can be settled"},
	{Name: "to_see", Kind: table.Number, Meaning: "the change to be seen"},
	{Name: "to_see_from", Kind: table.Words, Meaning: "where it comes from"},
	{Name: "to_see_size", Kind: table.Whole, Meaning: "so many a side see it"},
	{Name: "to_see_min", Kind: table.Whole, Meaning: "or as few as this"},
	{Name: "to_see_max", Kind: table.Whole, Meaning: "or as many, since the pilot's spread is uncertain"},
	{Name: "half_width", Kind: table.Number, Meaning: "the wanted half-width of the interval"},
	{Name: "half_width_size", Kind: table.Whole, Meaning: "so many a side give it"},
	{Name: "half_width_min", Kind: table.Whole, Meaning: "or as few as this"},
	{Name: "half_width_max", Kind: table.Whole, Meaning: "or as many"},
	{Name: "blind_spot", Kind: table.Number, Meaning: "smallest true loss that the pilot would have caught four times in five"},
	{Name: "between_sessions", Kind: table.Number, Meaning: "standard deviation of sessions"},
	{Name: "within_sessions", Kind: table.Number, Meaning: "standard deviation of the runs of one session"},
}

// RerunsTables has a row for each score that is planned for.
func RerunsTables(p RerunsPage) Tables {
	ways := table.Table{Name: "Ways to split the work", Columns: []table.Column{
		{Name: "benchmark", Kind: table.Words}, {Name: "metric", Kind: table.Words}, {Name: "runs a session", Kind: table.Whole},
		{Name: "sessions a side", Kind: table.Whole}, {Name: "hours at the bench", Kind: table.Number}, {Name: "least time", Kind: table.YesNo},
	}}
	var rows [][]table.Cell
	for _, m := range p.Metrics {
		rows = append(rows, p.Commands.planCells(m))
		for _, s := range m.Schedules {
			hours, cheapest := table.Cell{}, table.Cell{}
			if s.Minutes > 0 {
				hours, cheapest = table.Num(s.Minutes/60, table.Format{Places: 1}), table.Flag(s.Cheapest)
			}
			ways.Rows = append(ways.Rows, []table.Cell{table.Text(m.Benchmark), table.Text(m.Metric.Metric), table.Int(s.RunsPerSession),
				table.Int(s.Sessions), hours, cheapest})
		}
	}
	return Tables{Figures: figures(rows, planColumns), More: []table.Table{ways, runsTable(p.Runs)}}
}

func (c Commands) planCells(m *advice.Plan) []table.Cell {
	from := string(m.SeeFrom)
	if m.SeeFrom == advice.SeeStated {
		from = c.ChangeOption
	}
	unit, _ := percentOr(m.Result)
	f := table.Format{Places: -1, Unit: unit, Percent: m.Scale == compare.Ratio}
	if f.Percent {
		f.Unit = ""
	}
	coarse := f
	coarse.Places = 2
	deviation := func(v float64) table.Cell {
		if v == 0 {
			return table.Cell{}
		}
		return table.Num(v, coarse)
	}
	size := func(s *advice.Size) []table.Cell {
		if s == nil {
			return make([]table.Cell, 4)
		}
		return []table.Cell{table.Num(s.For, f), table.Int(s.N), table.Int(s.Min), table.Int(s.Max)}
	}
	see := size(m.See)
	out := []table.Cell{table.Text(m.Benchmark), table.Text(m.Metric.Metric), table.Text(m.Unit), table.Text(string(m.Replication)),
		table.Int(m.Replicates[0]), table.Int(m.Replicates[1]), table.Num(m.Spread, coarse), table.Text(unit), table.Int(m.MinSize),
		see[0], table.Text(from)}
	out = append(out, see[1:]...)
	out = append(out, size(m.Precise)...)
	return append(out, table.Opt(m.BlindSpot, coarse), deviation(m.Between), deviation(m.WithinSd))
}
