package report

import (
	"strings"

	"tunegate/compare"
	"tunegate/compare/ladder"
	"tunegate/compare/report/table"
)

var stepColumns = []table.Column{
	{Name: "step", Kind: table.Words, Meaning: "step 1, step 2, ..., total, or beside first"},
}

// LadderTables has a row for each metric and the suite of each step and of the total,
// and for what each profile costs and brings beside the first.
func LadderTables(p LadderPage) Tables {
	l := p.Ladder
	t := resultRows{stepsForAll(l), l.Confidence}
	var rows [][]table.Cell
	for i, s := range l.Measured() {
		step := table.Text(stepLabel(l, i))
		rows = append(rows, t.comparison(s.Comparison, step)...)
		if s.Suite != nil {
			row := t.row(suiteRow, [2]string{s.From, s.To}, s.Suite.Result, step)
			row[1] = table.Text(compare.WholeSuite) // the step is named before it
			rows = append(rows, row)
		}
	}
	alone := resultRows{nil, l.Confidence}
	for _, r := range l.Rungs[1:] {
		for _, s := range []*compare.Suite{r.Speed, r.Power, r.Heat, r.Energy, r.Efficiency} {
			if s != nil {
				rows = append(rows, alone.row(profileRow, [2]string{l.Profiles[0], r.Profile}, s.Result, table.Text("beside first")))
			}
		}
	}
	return Tables{Figures: figures(rows, stepColumns, resultColumns),
		More:     []table.Table{profilesTable(l), worksTable(l), runsTable(p.Runs)},
		Pictures: func() []*Picture { return changesPictures(LadderPictures(l)) }}
}

// stepLabel is "step 2", which no spreadsheet takes for a number, or "total".
func stepLabel(l *ladder.Ladder, i int) string {
	number, _, several := strings.Cut(stepName(l, i), " ")
	if !several {
		return number
	}
	return "step " + number
}

// profilesTable says of each profile what it brings and which one beats it.
func profilesTable(l *ladder.Ladder) table.Table {
	t := table.Table{Name: "Profiles", Columns: []table.Column{
		{Name: "profile", Kind: table.Words}, {Name: "minutes saved an hour", Kind: table.Number},
		{Name: "speed and cost", Kind: table.Words}, {Name: "beaten by", Kind: table.Words},
	}}
	for _, r := range l.Rungs {
		var saved table.Cell
		if r.Speed != nil {
			minutes, _ := minutesSaved(r.Speed)
			saved = table.Num(minutes, table.Format{Places: 2, Signed: true})
		}
		place := ""
		if r.Front != ladder.NoFront {
			place = frontWords[r.Front]
		}
		t.Rows = append(t.Rows, []table.Cell{table.Text(r.Profile), saved, table.Text(place), table.Lines(r.BeatenBy)})
	}
	return t
}

var frontWords = map[ladder.Front]string{
	ladder.OnFront: "not beaten", ladder.Beaten: "beaten", ladder.FrontUnsure: "not clear",
}

// worksTable says which profile is best for which work.
func worksTable(l *ladder.Ladder) table.Table {
	t := table.Table{Name: "Work", Columns: []table.Column{
		{Name: "work", Kind: table.Words}, {Name: "leader", Kind: table.Words}, {Name: "settled", Kind: table.YesNo},
		{Name: "change", Kind: table.Number}, {Name: "interval low", Kind: table.Number}, {Name: "interval high", Kind: table.Number},
		{Name: "not really beaten", Kind: table.Words}, {Name: "takes at least", Kind: table.Whole}, {Name: "scores", Kind: table.Words},
	}}
	for _, w := range l.Works {
		var change, lo, hi, least table.Cell
		if w.Gain != nil {
			f := changeFormat(w.Gain)
			change = table.Num(w.Gain.Change, f)
			lo, hi = ends(w.Gain.Interval, f)
		}
		if w.TooFew > 0 {
			least = table.Int(w.TooFew)
		}
		t.Rows = append(t.Rows, []table.Cell{table.Text(w.Name), table.Text(w.Leader), table.Flag(w.Settled), change, lo, hi,
			table.Lines(w.Rivals), least, table.Lines(w.Scores)})
	}
	return t
}
