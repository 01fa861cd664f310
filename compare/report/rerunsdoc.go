package report

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// RerunsDocument says what to run next, or, where no two profiles are compared, how
// often to run. Per score it says more in detail.
func RerunsDocument(p RerunsPage) doc.Document {
	heading, closing, basis := "How often to run, from "+pilotText(p.Profiles), rerunsClosing(p), planBasis(p)
	var sections []doc.Section
	if p.Next != nil {
		heading = "What to run next, for " + p.Profiles[0] + " " + doc.Arrow + " " + p.Profiles[1]
		closing, basis, sections = nextClosing(p), nextBasis(p), nextSections(p)
	} else {
		sections = append(sections, sizesSection(p), looksSection(p))
	}
	d := doc.Document{Heading: doc.Line{Text: heading, Tone: doc.Strong}, Basis: basis, Closing: doc.Line{Text: closing, Tone: doc.Strong},
		Page: doc.Head{Headline: closing}, Sections: sections}
	d.Sections = append(d.Sections, detailSections(p)...)
	return d
}

// detailSections are the plans score by score, for experts.
func detailSections(p RerunsPage) (out []doc.Section) {
	if !p.Detail {
		return nil
	}
	basis := doc.Section{Kind: doc.Numbers, Apart: true, Blocks: []doc.Block{flush("In detail: " + planBasis(p))}}
	common := commonDemands(p.Metrics, p.Confidence)
	if common != nil {
		basis.Blocks = append(basis.Blocks, flush("For each: "+strings.Join(common, "; ")))
	}
	out = append(out, basis)
	for _, m := range p.Metrics {
		out = append(out, planSection(p, m, common))
	}
	return append(out, doc.Section{Kind: doc.Numbers, Apart: true, Blocks: []doc.Block{flush(planRules(p))}})
}

// sizesSection lists for each score how many values catch a change.
func sizesSection(p RerunsPage) doc.Section {
	t := doc.Table{Head: []string{"benchmark", "spread", "to see", "takes", "80 % range"}, Label: "how often to run"}
	var without sentences
	hours := slices.ContainsFunc(p.Metrics, func(m *advice.Plan) bool { return m.SeeHours > 0 })
	if hours {
		t.Head = append(t.Head, "hours")
	}
	for _, m := range p.Metrics {
		if m.See == nil {
			without.add(noAdvice(m), Clean(m.Name()))
			continue
		}
		row := textCells(Clean(m.Name()), twoDigits(m.Result, m.Spread), exactly(m.Result, m.See.For), perSide(m.Result, m.See.N),
			strings.Trim(between(m.See), " ()"))
		if hours {
			row = append(row, textCells(hoursText(m.SeeHours))...)
		}
		t.Rows = append(t.Rows, row)
	}
	s := doc.Section{Kind: doc.Numbers, Apart: true}
	if len(t.Rows) > 0 {
		s.Blocks = append(s.Blocks, t)
	}
	if lines := without.lines(); len(lines) > 0 {
		s.Blocks = append(s.Blocks, doc.List{Items: doc.Lines(lines)})
	}
	return s
}

// flush is a paragraph whose lines begin alike.
func flush(text string) doc.Paragraph {
	return doc.Paragraph{Line: doc.Line{Text: text}, Flush: true}
}

// pilotText says what a plan was made from.
func pilotText(profiles []string) string {
	switch len(profiles) {
	case 1:
		return "pilot runs of " + profiles[0] + ", taken for both sides"
	case 2:
		return "pilot runs of " + profiles[0] + " and " + profiles[1]
	}
	return "a stated spread"
}

// planBasis says what the numbers of a plan rest on.
func planBasis(p RerunsPage) string {
	facts := fmt.Sprintf("%s %% confidence; chance to see a change %s %%", confidencePercent(p.Confidence), confidencePercent(p.Power))
	if p.Overall > 0 {
		facts = fmt.Sprintf("%s %% confidence at each of two looks; chance to see a change %s %% or more", lookPercent(p.Confidence),
			confidencePercent(p.Power))
	}
	if p.Scores > 1 && p.Correction != compare.NoCorrection {
		family := familyText(p.Family)
		if family == "" {
			family = english.Count(p.Scores, "score")
		}
		facts += fmt.Sprintf("; %s decide together, each needs p <= %s", family, probability(p.CriticalP))
	}
	return facts
}

// planRules says how to take the numbers of a plan.
func planRules(p RerunsPage) string {
	rules := ""
	if p.Profiles != nil {
		rules = "All numbers are totals; runs of the pilot count, too, where nothing has changed since. " +
			"In brackets: the range the pilot's spread allows (80 %). " +
			"If one run in ten is slow and the pilot missed it, the chance is two in three. "
	}
	if p.Scores > 1 && p.Correction != compare.NoCorrection {
		rules += "Each score is planned as if no other had shown a change yet; " + p.Commands.Compare +
			" knows which have, and may ask for fewer. "
	}
	advised := 0
	for _, m := range p.Metrics {
		if m.See != nil {
			advised = max(advised, m.See.N)
		}
	}
	rules += "Use the same odd number of runs in every session."
	if advised > 0 && p.Overall == 0 {
		rules += " " + judgeOnce(p.Confidence, advised)
	}
	return rules
}

// rerunsClosing is the line to act on: what to run next.
func rerunsClosing(p RerunsPage) string {
	var planned []*advice.Plan
	var blind []string
	for _, m := range p.Metrics {
		if m.See == nil {
			blind = append(blind, Clean(m.Name()))
			continue
		}
		planned = append(planned, m)
	}
	if len(planned) == 0 {
		return "Next: three runs or more a side, with more digits if readings are equal; then ask again."
	}
	slices.SortStableFunc(planned, func(a, b *advice.Plan) int { return a.See.N - b.See.N })
	// A benchmark that takes many times what most take is no reason to run all
	// of them so often.
	limit := 4 * planned[(len(planned)-1)/2].See.N
	enough := len(planned)
	for enough > 1 && planned[enough-1].See.N > limit {
		enough--
	}
	most := planned[enough-1]
	out := "Next: about " + perSide(most.Result, most.See.N)
	switch {
	case enough < len(p.Metrics):
		out += fmt.Sprintf(", for %d of %s", enough, english.Count(len(p.Metrics), "score"))
	case enough > 1:
		out += fmt.Sprintf(", for all %d scores", enough)
	}
	if enough < len(planned) {
		var costly []string
		for _, m := range planned[enough:] {
			costly = append(costly, fmt.Sprintf("%s (about %s)", Clean(m.Name()), about(m.See.N)))
		}
		out += fmt.Sprintf("; %s would take many more: run %s more steadily, accept a larger %s, or leave %s out",
			compare.List(costly, 4), them(costly), p.Commands.ChangeOption, them(costly))
	}
	if len(blind) > 0 {
		out += fmt.Sprintf("; %s cannot be planned yet", compare.List(blind, 4))
	}
	if most.Replication == compare.ByRun && p.Profiles != nil {
		out += ". Runs of one sitting share its luck: make several, each labelled in a column session"
	}
	if len(p.Profiles) == 1 {
		out += ". " + p.Commands.Reruns + " with both profiles plans what is open"
	}
	return out + "."
}

func them(names []string) string {
	if len(names) == 1 {
		return "it"
	}
	return "them"
}

// demands are the lines about what holds whatever the runs say: what it takes to
// settle anything, and what the policy wants.
func demands(m *advice.Plan, confidence float64) []string {
	out := []string{fmt.Sprintf("at least %s, however large the change", perSide(m.Result, m.MinSize))}
	if paired(m.Result) {
		out[0] = fmt.Sprintf("at least 2 %ss; verdicts on fewer than %s rest on normal noise",
			m.Replication, perSide(m.Result, advice.BlocksToSettle(1, confidence)))
	}
	if wants := policyWants(m); wants != "" {
		out = append(out, wants)
	}
	return out
}

// commonDemands are the demands of several metrics where they are the same for
// all, so that they are said once; else none.
func commonDemands(metrics []*advice.Plan, confidence float64) []string {
	if len(metrics) < 2 {
		return nil
	}
	first := demands(metrics[0], confidence)
	for _, m := range metrics[1:] {
		if !slices.Equal(demands(m, confidence), first) {
			return nil
		}
	}
	return first
}

// planSection says how often to run one metric, without the demands that are common
// to all.
func planSection(p RerunsPage, m *advice.Plan, common []string) doc.Section {
	r := m.Result
	s := doc.Section{Kind: doc.Numbers}
	if p.Profiles != nil {
		s.Title = r.Name()
	}
	var lines []doc.Item
	add := func(format string, args ...any) {
		lines = append(lines, doc.Item{Line: doc.Line{Text: fmt.Sprintf(format, args...)}})
	}
	add("%s", spreadText(p, m))
	if common == nil {
		for _, s := range demands(m, p.Confidence) {
			add("%s", s)
		}
	}
	if m.See == nil {
		add("no advice: %s", noAdvice(m))
		s.Blocks = []doc.Block{doc.List{Items: lines}}
		return s
	}
	from := ""
	if m.SeeFrom != advice.SeeStated {
		from = " (the " + string(m.SeeFrom) + ")"
	}
	add("to see a change of %s%s: about %s%s", exactly(r, m.See.For), from, perSide(r, m.See.N), between(m.See))
	if m.Precise != nil {
		add("for an interval within plus and minus %s: about %s%s", exactly(r, m.Precise.For), perSide(r, m.Precise.N), between(m.Precise))
	}
	switch {
	case p.Profiles != nil && r.BlindSpot == nil:
		add("the pilot could not have caught any loss")
	case p.Profiles != nil:
		add("the pilot would have caught a loss of %s or more four times in five", twoDigits(r, *r.BlindSpot))
	}
	if m.Noether > 0 {
		add("cross-check by Noether's formula, for normal noise and the test alone: %s", perSide(r, m.Noether))
		lines[len(lines)-1].Detail = true
	}
	switch {
	case m.Between > 0 && m.WithinSd > 0:
		add("sessions differ by %s, runs of one session by %s", twoDigits(r, m.Between), twoDigits(r, m.WithinSd))
	case m.Between > 0:
		add("sessions differ by %s, runs of one session not at all", twoDigits(r, m.Between))
	case m.WithinSd > 0:
		add("runs of one session differ by %s, and sessions by no more than that explains", twoDigits(r, m.WithinSd))
	}
	s.Blocks = []doc.Block{doc.List{Items: lines}}
	if len(m.Schedules) > 0 {
		s.Blocks = append(s.Blocks, schedulesTable(m))
	}
	return s
}

// spreadText says how far values spread, and on how many of them that rests.
func spreadText(p RerunsPage, m *advice.Plan) string {
	r := m.Result
	from := map[compare.Replication]string{
		compare.ByRun: "from run to run", compare.BySession: "from session to session", compare.ByBlock: "from block to block",
		compare.ByMachine: "from machine to machine",
	}[r.Replication]
	out := fmt.Sprintf("spread %s %s", twoDigits(r, m.Spread), from)
	switch len(p.Profiles) {
	case 1:
		out += "; the pilot has " + english.Count(r.Replicates[0], string(r.Replication))
	case 2:
		out += "; the pilot has " + counts(r)
	}
	return out
}

// policyWants says what the policy wants a side, whatever a plan says.
func policyWants(m *advice.Plan) string {
	var parts []string
	if m.WantedSessions > 0 {
		parts = append(parts, english.Count(m.WantedSessions, "session"))
	}
	if m.WantedRuns > 0 {
		parts = append(parts, english.Count(m.WantedRuns, "run"))
	}
	if len(parts) == 0 {
		return ""
	}
	text := "the policy wants at least " + strings.Join(parts, " and ") + " a side"
	if m.WantedSessions > 0 && m.Replication == compare.ByRun {
		text += ", and no sessions are recorded here"
	}
	return text
}

// noAdvice says why no number of runs can be advised.
func noAdvice(m *advice.Plan) string {
	switch {
	case m.TooCoarse():
		return tooCoarse(m.Result)
	case m.SeeFrom == advice.SeeObserved && m.Spread > 0:
		return "the pilot shows no change to confirm, and no tolerance is stated"
	}
	return "the pilot shows no spread, or has a single value on a side; make at least three runs first"
}

// timed reports whether it is known how long the schedules take.
func timed(m *advice.Plan) bool { return len(m.Schedules) > 0 && m.Schedules[0].Minutes > 0 }

// schedulesTable lists the ways to split the work.
func schedulesTable(m *advice.Plan) doc.Table {
	t := doc.Table{Head: []string{"runs a session", "sessions a side"}, Right: []int{1, 2}, Indent: 1, Label: "ways to split the work"}
	if timed(m) {
		t.Head, t.Right = append(t.Head, "hours at the bench", ""), append(t.Right, 3)
	}
	for _, s := range m.Schedules {
		row := textCells(fmt.Sprint(s.RunsPerSession), about(s.Sessions))
		if timed(m) {
			least := ""
			if s.Cheapest {
				least = "least time"
			}
			row = append(row, textCells(compare.Decimal(s.Minutes/60, 1), least)...)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// looksSection says how to judge two planned looks; empty for one.
func looksSection(p RerunsPage) doc.Section {
	if p.Overall == 0 {
		return doc.Section{}
	}
	text := fmt.Sprintf("Two looks, planned before the first run, keep %s %% together. Judge each at %s %%, and stop where the first settles:",
		confidencePercent(p.Overall), lookPercent(p.Confidence))
	looks := []doc.Item{{Name: "after half of the runs", Line: doc.Line{Text: p.Commands.JudgeLook(1)}},
		{Name: "after all of them", Line: doc.Line{Text: p.Commands.JudgeLook(2)}}}
	blocks := []doc.Block{doc.Paragraph{Line: doc.Line{Text: text}}, doc.List{Items: looks}}
	return doc.Section{Kind: doc.Numbers, Apart: true, Blocks: blocks}
}

// between is " (7 to 14)", empty where there is no range.
func between(a *advice.Size) string {
	if a.Min == a.Max {
		return ""
	}
	return fmt.Sprintf(" (%s to %s)", about(a.Min), about(a.Max))
}

// twoDigits writes a size to at most two significant digits, with its unit.
func twoDigits(r *compare.Result, v float64) string {
	unit, factor := percentOr(r)
	return compare.Decimal(v*factor, min(compare.Places(v*factor), 6)) + " " + unit
}

// exactly writes a size as somebody stated it, to at most four decimals.
func exactly(r *compare.Result, v float64) string {
	unit, factor := percentOr(r)
	return trimZeros(compare.Decimal(v*factor, 4) + " " + unit)
}
