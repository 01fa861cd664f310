package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/ladder"
)

// workTitle is the title of workLines.
const workTitle = "Which profile for which work"

// ladderFamily says which tests share a correction.
func ladderFamily(l *ladder.Ladder) string {
	tests := 0
	for _, s := range l.Measured() {
		for _, r := range s.Comparison.Results {
			if r.Role == compare.Score && r.Named {
				tests++
			}
		}
	}
	how := correctedWords(l.Correction)
	switch {
	case l.Correction == compare.NoCorrection:
		return fmt.Sprintf("%s of single scores, %s", english.Count(tests, "test"), how)
	case len(l.Steps) == 1:
		return english.Count(tests, "score") + " " + how
	}
	return fmt.Sprintf("%d steps and the total %s, and so are their %s of single scores", len(l.Steps), how, english.Count(tests, "test"))
}

// ladderTitle says what the table of the steps shows.
func ladderTitle(l *ladder.Ladder) string {
	if len(l.Scores) == 1 {
		return "Step by step: " + Clean(l.Scores[0]) + "; plus means better"
	}
	return "Suite, step by step: " + meanText(l.Weights)
}

// stepWords is a step in a sentence.
func stepWords(l *ladder.Ladder, i int) string {
	if i == len(l.Steps) {
		return "the total"
	}
	return fmt.Sprintf("step %d (%s)", i+1, Clean(l.Steps[i].To))
}

// stepName is "2 boost-lift" for the step to it, or "total".
func stepName(l *ladder.Ladder, i int) string {
	if i == len(l.Steps) {
		return "total"
	}
	return fmt.Sprintf("%d %s", i+1, Clean(l.Steps[i].To))
}

// productText is the product of the steps beside the measured total.
func productText(l *ladder.Ladder) string {
	places := 2
	if s := l.Total.Suite; s != nil {
		places = changePlaces(s.Result)
	}
	text := plus(100*l.Product, places) + " %"
	if s := l.Total.Suite; s != nil {
		text += fmt.Sprintf(" (measured last against first: %s)", signed(s.Result, s.Change))
	}
	return text
}

// frontLines say which profiles nothing beats in speed and cost together.
func frontLines(l *ladder.Ladder) []string {
	if l.FrontCost == "" {
		return nil
	}
	var front, out []string
	for _, r := range l.Rungs {
		switch r.Front {
		case ladder.OnFront:
			front = append(front, Clean(r.Profile))
		case ladder.Beaten:
			out = append(out, fmt.Sprintf("%s is beaten in speed and %s by %s", Clean(r.Profile), l.FrontCost, Clean(compare.List(r.BeatenBy, 4))))
		case ladder.FrontUnsure:
			out = append(out, fmt.Sprintf("%s may be beaten by %s: not clear", Clean(r.Profile), Clean(compare.List(r.BeatenBy, 4))))
		}
	}
	if len(front) > 0 {
		out = append([]string{fmt.Sprintf("not beaten in speed and %s together: %s (%s of %s)", l.FrontCost, compare.List(front, 12),
			l.FrontCost, Clean(compare.List(l.FrontOf, 4)))}, out...)
	}
	return out
}

// workLines say which profile is best for which work.
func workLines(l *ladder.Ladder) []string {
	out := each(l.Works, func(w *ladder.Work) string { return workLine(l, w) })
	if len(l.Profiles) > 2 && slices.ContainsFunc(l.Works, func(w *ladder.Work) bool { return w.Gain != nil }) {
		out = append(out, "the largest of several gains flatters itself; these intervals hold for all profiles and all work at once")
	}
	return out
}

// workLine says which profile leads in one kind of work.
func workLine(l *ladder.Ladder, w *ladder.Work) string {
	name := Clean(w.Name)
	if w.Mix {
		name = "the mix (" + name + ")"
	}
	gain := ""
	if w.Gain != nil {
		up, _ := direction(w.Gain)
		gain = fmt.Sprintf(", %s %s than %s", size(w.Gain, w.Gain.Change), up, Clean(l.Profiles[0]))
		if w.Gain.Interval != nil {
			gain += " (" + intervalText(w.Gain) + ")"
		}
	}
	if w.Settled {
		return fmt.Sprintf("%s: %s%s", name, Clean(w.Leader), gain)
	}
	text := fmt.Sprintf("%s: not clear; %s leads%s, but does not really beat %s",
		name, Clean(w.Leader), gain, Clean(compare.List(w.Rivals, 12)))
	if w.TooFew > 0 {
		text += fmt.Sprintf("; to tell %s apart takes %d sessions or runs of each", english.Count(len(l.Profiles), "profile"), w.TooFew)
	}
	return text
}

// ladderUnsettled says what could still hide: in the suites, and step by step in
// the scores.
func ladderUnsettled(p LadderPage) []string {
	l := p.Ladder
	var lines []string
	var cannot sentences
	var uncorrected []string
	advised := 0
	for i, r := range ladderSuites(l) {
		if s := p.Commands.cannotSettle(l.Total.Comparison.Confidence, r, "score"); s != "" {
			cannot.add(s, "suite")
		}
		if s := unsettledText(r); s != "" {
			lines = append(lines, stepWords(l, i)+": "+s)
			advised = max(advised, maxNeeded(r))
		}
	}
	for i, step := range l.Measured() {
		var noise []*compare.Result
		var names []string
		for _, r := range step.Comparison.Results {
			if r.Role == compare.Score && unsettledText(r) != "" {
				noise, names = append(noise, r), append(names, Clean(r.Name()))
				advised = max(advised, maxNeeded(r))
			}
			if r.UncorrectedOnly {
				uncorrected = append(uncorrected, fmt.Sprintf("%s in %s", Clean(r.Name()), stepWords(l, i)))
			}
			if s := p.Commands.cannotSettle(step.Comparison.Confidence, r, "score"); s != "" && r.Role == compare.Score {
				cannot.add(s, "score")
			}
		}
		switch {
		case len(noise) == 1:
			lines = append(lines, fmt.Sprintf("%s, %s: %s", stepWords(l, i), names[0], unsettledText(noise[0])))
		case len(noise) > 1:
			lines = append(lines, fmt.Sprintf("%s, %s: %s", stepWords(l, i), compare.List(names, 6), unsettledSummary(noise)))
		}
	}
	if len(uncorrected) > 0 {
		lines = append(lines, "real on its own, not after correction: "+compare.List(uncorrected, 6))
	}
	if advised > 0 {
		lines = append(lines, judgeAgain(l.Total.Comparison.Confidence))
	}
	return append(cannot.order, lines...)
}

// ladderNotes lists what is left out and set aside, and the notes.
func ladderNotes(p LadderPage) []string {
	l := p.Ladder
	var lines []string
	if len(l.LeftOut) > 0 {
		lines = append(lines, "not in the suite: "+Clean(compare.List(each(l.LeftOut, withoutRun), 12)))
	}
	lines = append(lines, each(l.SetAside, excludedRunText)...)
	for _, n := range p.notes() {
		lines = append(lines, Clean(n.Text))
	}
	return lines
}

// LadderClosing is the line to read first.
func LadderClosing(l *ladder.Ladder) string {
	return joinSentences(chainClosing(l), costSentence(ladderCosts(l)))
}

// chainClosing is that line without the costs.
func chainClosing(l *ladder.Ladder) string {
	first, last := Clean(l.Profiles[0]), Clean(l.Profiles[len(l.Profiles)-1])
	s := l.Total.Suite
	if s == nil {
		return fmt.Sprintf("No suite from %s to %s; see Notes.", first, last)
	}
	text := ""
	switch v := *s.Verdict; {
	case v == compare.Level:
		text = fmt.Sprintf("%s is level with %s, within %s.", last, first, tolerance(s.Result))
	case v.Settled():
		text = fmt.Sprintf("%s is %s than %s (%s).", last, changeText(s.Result), first, intervalText(s.Result))
	default:
		text = fmt.Sprintf("Whether %s differs from %s is not settled: %s.", last, first, intervalText(s.Result))
	}
	if w := l.Works[0]; w.Settled && w.Leader != l.Profiles[len(l.Profiles)-1] {
		text += fmt.Sprintf(" %s is the fastest.", Clean(w.Leader))
	}
	return text
}

// ladderNote words a note on a chain; empty where there is nothing to say.
func ladderNote(l *ladder.Ladder, n ladder.Note) string {
	switch n.Kind {
	case ladder.NoteMix:
		return "shares were scaled to 100 %; not in the mix: " + compare.List(n.Classes, 6)
	case ladder.NoteProduct:
		return productNote(l)
	case ladder.NoteCostLeftOut:
		return fmt.Sprintf("%s is compared on benchmarks that have it for every profile; left out: %s", n.Metric,
			compare.List(each(n.LeftOut, notMeasured), 6))
	}
	return string(n.Kind)
}

// productNote compares the product of the steps with the measured total; empty where
// both are printed alike.
func productNote(l *ladder.Ladder) string {
	total := l.Total.Suite
	places := total.Places()
	if compare.Decimal(100*l.Product, places) == compare.Decimal(100*total.Change, places) {
		return ""
	}
	why := ""
	if g := l.Gap; g != nil {
		holds := "holds 0: chance explains it"
		if !g.Explained() {
			holds = "does not hold 0: chance does not explain it"
		}
		why = fmt.Sprintf("the gap's interval, from sessions drawn for all of them at once, is %s to %s %% and %s; ",
			plus(100*g.Interval[0], places+1), plus(100*g.Interval[1], places+1), holds)
	}
	return fmt.Sprintf("the %s %s to %+.*f %%, measured last against first it is %+.*f %%; %sthe measured total counts",
		english.Count(len(l.Steps), "step"), english.Verb(len(l.Steps), "comes", "multiply"), places, 100*l.Product, places, 100*total.Change,
		why)
}

// withoutRun is a score that is not in the suite, and why.
func withoutRun(u ladder.Unmeasured) string {
	return fmt.Sprintf("%s (no valid run for %s)", u.Name, cmp.Or(strings.Join(u.Profiles, ", "), "some profile that has it"))
}

// notMeasured is a benchmark that is in no column of a cost, and why.
func notMeasured(u ladder.Unmeasured) string {
	return fmt.Sprintf("%s (not measured for %s)", u.Name, strings.Join(u.Profiles, ", "))
}
