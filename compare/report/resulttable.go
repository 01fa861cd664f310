package report

import (
	"slices"

	"tunegate/compare"
	"tunegate/compare/report/table"
)

// resultColumns are the columns of one metric's result, in every table of results.
// Sizes of changes stand in change_unit, as on a screen; a workbook shows them in it.
var resultColumns = []table.Column{
	{Name: "benchmark", Kind: table.Words, Meaning: "the benchmark, or the name of what is pooled"},
	{Name: "metric", Kind: table.Words, Meaning: "the metric: score, power and so on"},
	{Name: "kind", Kind: table.Words, Meaning: "metric, or suite, class or profile of what pools several metrics"},
	{Name: "before", Kind: table.Words, Meaning: "the profile before the change"},
	{Name: "after", Kind: table.Words, Meaning: "the profile after the change"},
	{Name: "role", Kind: table.Words, Meaning: "score, cost or info"},
	{Name: "unit", Kind: table.Words, Meaning: "unit of the values as measured"},
	{Name: "better", Kind: table.Words, Meaning: "higher or lower"},
	{Name: "class", Kind: table.Words, Meaning: "workload class, where the policy states one"},
	{Name: "verdict", Kind: table.Verdict, Meaning: "the verdict; empty for what is never judged"},
	{Name: "decides", Kind: table.YesNo, Meaning: "yes where it can change the exit status"},
	{Name: "change", Kind: table.Number, Meaning: "the change; for a score plus is better, for a cost and an info plus is more"},
	{Name: "interval_low", Kind: table.Number, Meaning: "lower end of the interval of the change"},
	{Name: "interval_high", Kind: table.Number, Meaning: "upper end"},
	{Name: "interval_confidence", Kind: table.Number, Meaning: "its confidence in per cent; too few runs have a range of less"},
	{Name: "change_unit", Kind: table.Words, Meaning: "unit of changes, tolerance, blind_spot and needed_for: % or the metric's own"},
	{Name: "tolerance", Kind: table.Number, Meaning: "the tolerance in force"},
	{Name: "tolerance_from", Kind: table.Words, Meaning: "where it comes from"},
	{Name: "time_saved_percent", Kind: table.Number, Meaning: "of a time: how much less of it, in per cent"},
	{Name: "before_median", Kind: table.Number, Meaning: "median of what counts once, in unit"},
	{Name: "after_median", Kind: table.Number, Meaning: "the same after the change"},
	{Name: "counts_once", Kind: table.Words, Meaning: "what counts once: run, session, block or machine"},
	{Name: "before_count", Kind: table.Whole, Meaning: "how many of them"},
	{Name: "after_count", Kind: table.Whole, Meaning: "the same after the change"},
	{Name: "before_runs", Kind: table.Whole, Meaning: "valid runs"},
	{Name: "after_runs", Kind: table.Whole, Meaning: "the same after the change"},
	{Name: "before_sessions", Kind: table.Whole, Meaning: "sessions; 0 where none are recorded"},
	{Name: "after_sessions", Kind: table.Whole, Meaning: "the same after the change"},
	{Name: "before_set_aside", Kind: table.Whole, Meaning: "runs that do not count"},
	{Name: "after_set_aside", Kind: table.Whole, Meaning: "the same after the change"},
	{Name: "before_mean", Kind: table.Number, Meaning: "mean of all runs used, in unit"},
	{Name: "after_mean", Kind: table.Number, Meaning: "the same after the change"},
	{Name: "before_sd", Kind: table.Number, Meaning: "standard deviation of all runs used"},
	{Name: "after_sd", Kind: table.Number, Meaning: "the same after the change"},
	{Name: "before_min", Kind: table.Number, Meaning: "smallest run used"},
	{Name: "before_max", Kind: table.Number, Meaning: "largest run used"},
	{Name: "after_min", Kind: table.Number, Meaning: "smallest run used after the change"},
	{Name: "after_max", Kind: table.Number, Meaning: "largest run used after the change"},
	{Name: "for_all_low", Kind: table.Number, Meaning: "lower end of the interval that holds for all that decides at once"},
	{Name: "for_all_high", Kind: table.Number, Meaning: "upper end"},
	{Name: "test", Kind: table.Words, Meaning: "the test"},
	{Name: "p", Kind: table.Number, Meaning: "its p value alone"},
	{Name: "p_corrected", Kind: table.Number, Meaning: "corrected for all that is judged together"},
	{Name: "blind_spot", Kind: table.Number, Meaning: "smallest true loss that these runs would have caught four times in five"},
	{Name: "needed", Kind: table.Whole, Meaning: "of counts_once, how many a side would settle it"},
	{Name: "needed_for", Kind: table.Number, Meaning: "the change that needed is for"},
	{Name: "needed_hours", Kind: table.Number, Meaning: "hours at the bench of what is missing, where the minutes are known"},
	{Name: "needed_to_confirm", Kind: table.Whole, Meaning: "of counts_once, how many a side would confirm a hint"},
	{Name: "confirm_hours", Kind: table.Number, Meaning: "hours at the bench of what is missing to confirm it"},
	{Name: "weight", Kind: table.Number, Meaning: "weight in the suite"},
	{Name: "cap", Kind: table.Number, Meaning: "the policy's cap, in unit"},
	{Name: "notes", Kind: table.Words, Meaning: "what else to know of this row"},
}

// resultRows makes rows of resultColumns.
type resultRows struct {
	all        forAll
	confidence float64 // of intervals
}

// rowsOf makes rows of comparisons that are judged together.
func rowsOf(terms compare.Terms, together ...*compare.Comparison) resultRows {
	return resultRows{forAllOf(terms, together...), terms.Confidence}
}

// The kinds of rows.
const (
	metricRow  = "metric"
	suiteRow   = "suite"
	classRow   = "class"
	profileRow = "profile" // what a profile brings or costs, over several benchmarks
)

// comparison has a row for each metric, the suite and each class, behind the cells
// that all of them begin with.
func (t resultRows) comparison(c *compare.Comparison, lead ...table.Cell) (rows [][]table.Cell) {
	for _, r := range c.Results {
		rows = append(rows, t.row(metricRow, [2]string{c.Before, c.After}, r, lead...))
	}
	if c.Suite != nil {
		rows = append(rows, t.row(suiteRow, [2]string{c.Before, c.After}, c.Suite.Result, lead...))
	}
	for _, s := range c.Classes {
		rows = append(rows, t.row(classRow, [2]string{c.Before, c.After}, s.Result, lead...))
	}
	return rows
}

// row is a result behind the cells that it begins with.
func (t resultRows) row(kind string, profiles [2]string, r *compare.Result, lead ...table.Cell) []table.Cell {
	unit, _ := percentOr(r)
	change := changeFormat(r)
	places := medianPlaces(r)
	value := table.Format{Places: places, Unit: Clean(r.Unit)}
	finer := table.Format{Places: min(places+1, 6), Unit: Clean(r.Unit)}
	allLo, allHi := ends(t.all[r.Measurement], change)
	verdict := table.Cell{}
	if r.Verdict != nil {
		verdict = table.Toned(string(*r.Verdict), toneOf(r))
	}
	plain := change
	plain.Signed, plain.Places = false, table.General.Places
	limit := table.Opt(r.Cap, table.Format{Places: -1, Unit: Clean(r.Unit)})
	settle, confirm := needCells(r.Need(compare.ToSettle)), needCells(r.Need(compare.ToConfirm))
	var settledFor *float64
	if need := r.Need(compare.ToSettle); need != nil {
		settledFor = &need.Change
	}
	side := func(v float64, f table.Format) table.Cell {
		if r.Parts != nil {
			return table.Cell{} // of what is pooled only the medians mean something
		}
		return table.Num(v, f)
	}
	cells := append(slices.Clone(lead),
		table.Text(r.Benchmark), table.Text(r.Metric.Metric), table.Text(kind), table.Text(profiles[0]), table.Text(profiles[1]),
		table.Text(string(r.Role)), table.Text(r.Unit), table.Text(string(r.Better)), table.Text(r.Class), verdict, table.Flag(r.Decides))
	cells = append(cells, changeCells(r, t.confidence)...)
	return append(cells, table.Text(unit), table.Opt(r.Tolerance, plain), table.Text(r.ToleranceFrom),
		table.Opt(r.TimeSaved, table.Format{Places: changePlaces(r), Signed: true, Percent: true}),
		table.Num(r.Before.Median, value), table.Num(r.After.Median, value), table.Text(string(r.Replication)),
		table.Int(r.Replicates[0]), table.Int(r.Replicates[1]), table.Int(r.Before.Runs), table.Int(r.After.Runs),
		table.Int(r.Before.Sessions), table.Int(r.After.Sessions), table.Int(r.Before.SetAside), table.Int(r.After.SetAside),
		side(r.Before.Mean, finer), side(r.After.Mean, finer), side(r.Before.StdDev, finer), side(r.After.StdDev, finer),
		side(r.Before.Min, table.General), side(r.Before.Max, table.General), side(r.After.Min, table.General),
		side(r.After.Max, table.General), allLo, allHi,
		table.Text(r.Test), table.Num(r.PUsed, table.General), table.Num(r.PAdjusted, table.General),
		table.Opt(r.BlindSpot, plain), settle[0], table.Opt(settledFor, plain), settle[1], confirm[0], confirm[1],
		table.Num(r.Weight, table.General), limit,
		table.Lines(each(r.Notes, func(n compare.Note) string { return ComparisonNote(n).Text })),
	)
}

// needCells are how many values a side answer a question, and in how many hours more.
func needCells(need *compare.Need) (out [2]table.Cell) {
	if need == nil {
		return out
	}
	out[0] = table.Int(need.Size)
	if need.Hours > 0 {
		out[1] = table.Num(need.Hours, table.Format{Places: 1, Unit: "h"})
	}
	return out
}

// changeFormat shows changes of a metric as everywhere: signed, in per cent or in its
// unit, to the places that its interval allows.
func changeFormat(r *compare.Result) table.Format {
	unit, _ := percentOr(r)
	if r.Scale == compare.Ratio {
		return table.Format{Places: changePlaces(r), Signed: true, Percent: true}
	}
	return table.Format{Places: changePlaces(r), Signed: true, Unit: unit}
}

// ends are the cells of an interval; empty for nil.
func ends(in *[2]float64, f table.Format) (lo, hi table.Cell) {
	if in == nil {
		return lo, hi
	}
	return table.Num(in[0], f), table.Num(in[1], f)
}
