package report

import (
	"strings"

	"tunegate/compare"
	"tunegate/compare/ladder"
	"tunegate/compare/report/doc"
)

// LadderDocument is a ladder for people.
func LadderDocument(p LadderPage, from Origin) doc.Document {
	l := p.Ladder
	d := doc.Document{
		Heading: doc.Line{Text: strings.Join(l.Profiles, " "+doc.Arrow+" "), Tone: doc.Strong},
		Basis:   basis(l.Total.Comparison, ladderFamily(l)),
		Closing: doc.Line{Text: LadderClosing(l), Tone: doc.Strong},
		Page:    doc.Head{Headline: ladderHeadline(l)},
		Sections: []doc.Section{
			ladderSummary(l),
			picturesSection(func() []*Picture { return LadderPictures(l) }),
			stepsSection(l),
			productSection(l),
			{Kind: doc.Numbers, Blocks: []doc.Block{benchmarkGrid(l), costGrid(l)}},
			listSection(doc.Findings, "", frontLines(l)),
			listSection(doc.Findings, workTitle, workLines(l)),
			listSection(doc.NotSettled, "Not settled", ladderUnsettled(p)),
			notesSection(ladderNotes(p)),
			{Kind: doc.Method, Blocks: []doc.Block{factsOf(ladderFacts(l))}},
			p.Commands.dataSection(findings(l.Doubts), ladderNotes(p)),
			originSection(from, l.Seed, l.Resamples),
		},
	}
	d.Caution = caution(ladderHazard(l))
	return d
}

// ladderSummary is the choice in short.
func ladderSummary(l *ladder.Ladder) doc.Section {
	return doc.Section{Kind: doc.Summary, Blocks: []doc.Block{
		doc.List{Title: "Speed and cost", Items: doc.Lines(frontLines(l))},
		doc.List{Title: workTitle, Items: doc.Lines(workLines(l))},
		doc.List{Title: "Not settled", Items: doc.Lines(unsettledLines(ladderSuites(l)))},
	}}
}

// stepsSection is the table of the steps; empty where nothing could be pooled.
func stepsSection(l *ladder.Ladder) doc.Section {
	suites := ladderSuites(l)
	if len(suites) == 0 {
		return doc.Section{}
	}
	t := changesTable("step", l.Total.Comparison.Confidence, suites)
	t.Title, t.Relative = ladderTitle(l), true
	return doc.Section{Kind: doc.Numbers, Blocks: []doc.Block{t}}
}

// productSection is the product of the steps; empty for a single step.
func productSection(l *ladder.Ladder) doc.Section {
	if len(l.Steps) == 1 {
		return doc.Section{}
	}
	text := doc.Line{Text: "steps multiplied: " + productText(l)}
	return doc.Section{Kind: doc.Findings, Blocks: []doc.Block{doc.Paragraph{Line: text, Indent: 1}}}
}

// ladderFacts say by which rule a ladder was judged.
func ladderFacts(l *ladder.Ladder) [][2]string {
	facts := append(methodFacts(l.Total.Comparison), [2]string{"Steps", ladderFamily(l)})
	if len(l.Steps) > 1 {
		facts = append(facts, [2]string{"Steps multiplied", productText(l)})
	}
	return facts
}

// ladderSuites are the suites of the steps and of the total, named as steps.
func ladderSuites(l *ladder.Ladder) []*compare.Result {
	var out []*compare.Result
	for i, s := range l.Measured() {
		if s.Suite == nil {
			continue
		}
		out = append(out, renamed(s.Suite.Result, compare.MetricID{Benchmark: stepName(l, i), Metric: compare.DefaultMetric}, s.Suite.Unit))
	}
	return out
}

// benchmarkGrid has a row for each score and a column for each step.
func benchmarkGrid(l *ladder.Ladder) doc.Grid {
	out := doc.Grid{Title: "Every benchmark, step by step", Head: "benchmark"}
	at := map[string]int{}
	steps := l.Measured()
	for i := range steps {
		out.Columns = append(out.Columns, stepName(l, i))
	}
	for i, s := range steps {
		for _, r := range s.Comparison.Results {
			if r.Role != compare.Score {
				continue
			}
			k, ok := at[r.Name()]
			if !ok {
				k = len(out.Rows)
				at[r.Name()] = k
				out.Rows = append(out.Rows, doc.GridRow{Name: r.Name(), Cells: make([]doc.Cell, len(steps))})
			}
			out.Rows[k].Cells[i] = doc.Cell{Line: doc.Line{Text: signed(r, r.Change), Tone: toneOf(r)}, Below: intervalText(r),
				Sign: true, Unsigned: !r.Named}
		}
	}
	return out
}

// costGrid has a row for each profile but the first, and a column for each quantity
// that is recorded.
func costGrid(l *ladder.Ladder) doc.Grid {
	out := doc.Grid{Title: "What each profile costs and brings, beside " + l.Profiles[0], Head: "profile"}
	for _, r := range l.Rungs[1:] {
		out.Rows = append(out.Rows, doc.GridRow{Name: r.Profile})
	}
	add := func(head string, cell func(*ladder.Rung) doc.Cell) {
		cells := make([]doc.Cell, len(out.Rows))
		any := false
		for i, r := range l.Rungs[1:] {
			cells[i] = cell(r)
			any = any || cells[i] != notRecorded
		}
		if !any {
			return
		}
		out.Columns = append(out.Columns, head)
		for i := range out.Rows {
			out.Rows[i].Cells = append(out.Rows[i].Cells, cells[i])
		}
	}
	heat := "temperature"
	for _, r := range l.Rungs {
		if r.Heat != nil {
			heat = r.Heat.Benchmark
		}
	}
	add("speed", func(r *ladder.Rung) doc.Cell { return suiteCell(r.Speed) })
	add("minutes saved an hour", func(r *ladder.Rung) doc.Cell { return savedCell(r.Speed) })
	add("power", func(r *ladder.Rung) doc.Cell { return suiteCell(r.Power) })
	add(heat, func(r *ladder.Rung) doc.Cell { return suiteCell(r.Heat) })
	add("energy a job", func(r *ladder.Rung) doc.Cell { return suiteCell(r.Energy) })
	add("work per joule", func(r *ladder.Rung) doc.Cell { return suiteCell(r.Efficiency) })
	return out
}

// notRecorded stands where a profile has no such quantity.
var notRecorded = doc.Cell{Line: doc.Line{Text: "-"}}

// suiteCell is a change with its interval.
func suiteCell(s *compare.Suite) doc.Cell {
	if s == nil {
		return notRecorded
	}
	return doc.Cell{Line: doc.Line{Text: signed(s.Result, s.Change)}, Below: intervalText(s.Result)}
}

// savedCell is the minutes that a speed saves in an hour.
func savedCell(speed *compare.Suite) doc.Cell {
	if speed == nil {
		return notRecorded
	}
	saved, in := minutesSaved(speed)
	if in == nil {
		return doc.Cell{Line: doc.Line{Text: plus(saved, 1)}}
	}
	p := compare.Places((in[1] - in[0]) / 2)
	return doc.Cell{Line: doc.Line{Text: plus(saved, p)}, Below: plus(in[0], p) + " to " + plus(in[1], p)}
}

// minutesSaved is how many minutes of an hour's work a speed saves, and the
// interval; negative where it costs time.
func minutesSaved(s *compare.Suite) (saved float64, interval *[2]float64) {
	minutes := func(change float64) float64 { return 60 * (1 - 1/(1+change)) }
	if s.Interval != nil {
		interval = &[2]float64{minutes(s.Interval[0]), minutes(s.Interval[1])}
	}
	return minutes(s.Change), interval
}

// renamed is a result under another name and unit.
func renamed(r *compare.Result, id compare.MetricID, unit string) *compare.Result {
	result, m, pair := *r, *r.Measurement, *r.Pair
	pair.Benchmark, pair.Metric.Metric, pair.Unit = id.Benchmark, id.Metric, unit
	m.Pair, result.Measurement = &pair, &m
	return &result
}
