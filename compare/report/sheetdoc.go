package report

import (
	"fmt"
	"strings"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// SheetDocument is a run sheet to print: a section a session, a line a run, with
// room for the value of each metric. minutes is how long all of it takes; 0 where
// it is not known.
func SheetDocument(rows []advice.SheetRow, minutes float64) doc.Document {
	const title = "Run sheet"
	about := sheetText(rows, minutes)
	// The caution comes first: what it warns of begins with the first line of work.
	warning := doc.Paragraph{Line: doc.Line{Text: caution(sheetHazard(rows)), Tone: doc.Strong}}
	sections := []doc.Section{{Kind: doc.Numbers, Blocks: []doc.Block{warning}}}
	for _, session := range groupsOf(rows, func(r advice.SheetRow) [2]string { return [2]string{r.Block, r.Session} }) {
		r := session[0]
		if r.Step == 0 { // made already
			continue
		}
		sections = append(sections, doc.Section{Kind: doc.Numbers, Title: sessionTitle(r),
			Blocks: []doc.Block{sessionTable(session)}})
	}
	return doc.Document{Heading: doc.Line{Text: title, Tone: doc.Strong}, Subject: about, Sections: sections, Whole: true,
		Page: doc.Head{Headline: title, Lead: []string{about}}}
}

// sessionTitle is "block 1, session S1.2: boost-lift".
func sessionTitle(r advice.SheetRow) string {
	title := r.Session + ": " + r.Profile
	if !strings.HasPrefix(r.Session, "session ") {
		title = "session " + title
	}
	if r.Block != "" {
		title = r.Block + ", " + title
	}
	return title
}

// sessionTable has a line for each run of one session.
func sessionTable(session []advice.SheetRow) doc.Table {
	t := doc.Table{Head: []string{"run", "benchmark", "", "write down"}, Right: []int{1}}
	for _, run := range groupsOf(session, func(r advice.SheetRow) int { return r.Step }) {
		r := run[0]
		t.Rows = append(t.Rows, textCells(fmt.Sprint(r.Step), r.Metric.Benchmark, r.Run, roomText(run)))
	}
	return t
}

// sheetText says how much work a run sheet is, and how to go about it.
func sheetText(rows []advice.SheetRow, minutes float64) string {
	out := SheetRuns(rows)
	if minutes > 0 {
		out += fmt.Sprintf(", about %s hours", compare.Decimal(minutes/60, 1))
	}
	return out + ". Work from top to bottom; apply the profile anew for every session. A warm-up is run and not written down. " +
		"A run that crashed, throttled or computed wrongly is crossed out with its reason, never left out in silence."
}

// SheetRuns counts the work of a run sheet: "54 runs and 18 warm-ups".
func SheetRuns(rows []advice.SheetRow) string {
	runs, warmUps := 0, 0
	for i, r := range rows {
		switch {
		case r.Step == 0: // made already
		case i > 0 && r.Step == rows[i-1].Step: // another metric of the same run
		case r.Run == compare.WarmUp:
			warmUps++
		default:
			runs++
		}
	}
	out := english.Count(runs, "run")
	if warmUps > 0 {
		out += " and " + english.Count(warmUps, "warm-up")
	}
	return out
}

// roomText leaves room for each value of a run.
func roomText(run []advice.SheetRow) string {
	if run[0].Run == compare.WarmUp {
		return "not written down"
	}
	var out []string
	for _, r := range run {
		name := r.Metric.Metric
		if name == compare.DefaultMetric {
			name = ""
		}
		out = append(out, strings.TrimSpace(name+" ............ "+r.Metric.Unit))
	}
	return strings.Join(out, ", ")
}
