package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/english"
)

// unsettledText says what could still hide in a metric and what would settle it.
// Empty for a metric that is settled or never judged.
func unsettledText(r *compare.Result) string {
	if r.Verdict == nil || r.Verdict.Settled() {
		return ""
	}
	text := stillPossible(r)
	switch s := settling(r); {
	case s != "":
		text += "; " + s
	case r.TooCoarse():
		text += "; " + tooCoarse(r)
	}
	return text
}

// settling says how many runs answer what is open: a hint is to be confirmed, the
// tolerance is to be settled. It is empty where no number would do. The plan has a
// power of 80 %, so a result with that many runs can still be unsettled.
func settling(r *compare.Result) string {
	if r.Verdict == nil || r.Verdict.Settled() {
		return ""
	}
	n := min(r.Replicates[0], r.Replicates[1])
	confirm, settle := r.Need(compare.ToConfirm), r.Need(compare.ToSettle)
	apart := *r.Verdict == compare.Hint && r.Replication != compare.ByBlock && (r.Superiority == 0 || r.Superiority == 1)
	switch {
	case apart && !r.CanSettle && r.Replicates[0] == r.Replicates[1] && r.MinSampleSize == n+1:
		return fmt.Sprintf("every %s apart: settles with one more a side if it stays so", r.Replication)
	case confirm != nil && confirm.Size > n && (settle == nil || confirm.Size <= settle.Size):
		return "to confirm it: " + needText(r, confirm)
	case settle == nil:
		return ""
	case settle.Size <= n:
		return fmt.Sprintf("this many usually settle %s (4 times in 5), not this time; run as many again", tolerance(r))
	}
	return fmt.Sprintf("to settle %s: %s", tolerance(r), needText(r, settle))
}

// needText is "about 190 sessions a side, 75 h more".
func needText(r *compare.Result, need *compare.Need) string {
	return "about " + perSide(r, need.Size) + moreHours(need)
}

// moreHours is ", 75 h more", or ", over 75 h" where it may take longer; empty where the
// minutes are not known.
func moreHours(need *compare.Need) string {
	if need == nil || need.Hours == 0 {
		return ""
	}
	if need.AtLeast {
		return ", over " + hoursText(need.Hours)
	}
	return ", " + hoursText(need.Hours) + " more"
}

// hoursText writes hours to the two digits that a plan is worth, and minutes below one
// hour.
func hoursText(h float64) string {
	switch {
	case h < 0.95:
		return fmt.Sprintf("%.0f min", math.Max(1, math.Round(60*h)))
	case h < 9.95:
		return trimZeros(compare.Decimal(h, 1) + " h")
	}
	return about(int(math.Round(h))) + " h"
}

// expectedHints says how many hints chance shows; empty where there is none.
func expectedHints(c *compare.Comparison) string {
	judged, hints := 0, 0
	for _, r := range c.Judged() {
		if r.Verdict != nil {
			judged++
			if *r.Verdict == compare.Hint {
				hints++
			}
		}
	}
	switch {
	case hints == 0:
		return ""
	case judged < 10:
		return "A hint is no verdict: chance shows one in up to one of ten unchanged rows."
	}
	return fmt.Sprintf("A hint is no verdict: of these %d rows chance shows up to about %d.", judged, int(math.Round(float64(judged)/10)))
}

// tooCoarse says that the readings' steps hide a change of the size that counts.
func tooCoarse(r *compare.Result) string {
	return fmt.Sprintf("steps of %s are too coarse to settle %s: record more digits or use a longer test",
		trimZeros(compare.Decimal(r.Resolution, 6)+" "+Clean(r.Unit)), tolerance(r))
}

func stillPossible(r *compare.Result) string {
	lo, hi, ok := r.GainInterval()
	lo, hi = shown(r, lo), shown(r, hi)
	if !ok {
		return "one value on a side proves nothing"
	}
	loss, gain := "loss", "gain"
	if r.Role != compare.Score {
		loss, gain = "rise", "fall"
		if r.Better != compare.Lower {
			loss, gain = gain, loss
		}
	}
	// between is "2.50 to 3.19 %".
	between := func(lo, hi float64) string {
		unit, factor := percentOr(r)
		return fmt.Sprintf("%s to %s", compare.Decimal(math.Abs(lo)*factor, changePlaces(r)), compare.Decimal(math.Abs(hi)*factor,
			changePlaces(r))+
			" "+unit)
	}
	seen, at := "was seen", ""
	if r.Interval == nil {
		confidence := confidencePercent(r.RangeConfidence)
		seen, at = fmt.Sprintf("at %s %% confidence only", confidence), fmt.Sprintf("at %s %% confidence ", confidence)
	}
	switch {
	case lo > 0:
		return fmt.Sprintf("a %s of %s %s", gain, between(lo, hi), seen)
	case hi < 0:
		return fmt.Sprintf("a %s of %s %s", loss, between(hi, lo), seen)
	case lo == 0 && hi == 0:
		return at + "the readings do not differ"
	case lo == 0:
		return fmt.Sprintf("%sa %s of up to %s is still possible", at, gain, size(r, hi))
	case hi == 0:
		return fmt.Sprintf("%sa %s of up to %s is still possible", at, loss, size(r, lo))
	}
	return fmt.Sprintf("%sa %s of up to %s or a %s of up to %s is still possible", at, loss, size(r, lo), gain, size(r, hi))
}

// shown is a change, or 0 where it is printed as zeros.
func shown(r *compare.Result, change float64) float64 {
	if strings.Trim(size(r, change), "0. "+Clean(r.Unit)+"%") == "" {
		return 0
	}
	return change
}

// cannotSettle says that no verdict was possible with these sample sizes, and what
// makes one possible. It is empty where one was possible. of is the word for a
// member of the family, such as "score".
func (c Commands) cannotSettle(confidence float64, r *compare.Result, of string) string {
	if r.CanSettle || r.Verdict == nil || r.Verdict.Settled() {
		return ""
	}
	b, a := r.Replicates[0], r.Replicates[1]
	these := counts(r)
	if b == a {
		these = perSide(r, b)
	}
	text := fmt.Sprintf("%s cannot settle anything at %s %%", these, confidencePercent(confidence))
	if r.Among > 1 {
		text += " with " + english.Count(r.Among, of)
	}
	if more := r.MinSampleSize - b; b == a && more > 0 {
		text += fmt.Sprintf(". Make %s more%s: %s can show a large change", about(more), eachSide(r), about(r.MinSampleSize))
	} else {
		text += fmt.Sprintf(". Make it %s, which can show a large change", perSide(r, r.MinSampleSize))
	}
	if min(b, a) < 2 {
		return text
	}
	const least = 0.9 // what is below is hardly worth to be judged at
	switch alone := 1 - r.MinP; {
	case r.MaxConfidence >= least-1e-9:
		text += fmt.Sprintf("; or take %s", c.Confidence(floorPercent(r.MaxConfidence), false))
	case r.Among > 1 && alone >= least-1e-9:
		text += fmt.Sprintf("; or take %s for one %s", c.Confidence(floorPercent(alone), true), of)
	}
	return text
}

// floorPercent writes a confidence in per cent. It is rounded down, so that these
// runs can reach the confidence that is printed.
func floorPercent(confidence float64) string {
	return compare.Decimal(math.Floor(confidence*1000+1e-6)/10, 12)
}

// maxUnsettled is the maximum number of unsettled metrics with a sentence each.
const maxUnsettled = 6

// unsettledSentences say what could still hide. Metrics with the same sentence
// share it, and more than maxUnsettled on one scale share a summary. about says which
// results have a sentence.
func unsettledSentences(p ComparisonPage, about func(*compare.Result) bool) (cannot, noise sentences) {
	c := p.Comparison
	byUnit := map[string][]*compare.Result{}
	kind := func(r *compare.Result) string {
		unit, _ := percentOr(r)
		return fmt.Sprint(r.Role, unit, r.Parts != nil)
	}
	for _, r := range c.Judged() {
		if unsettledText(r) != "" && about(r) {
			byUnit[kind(r)] = append(byUnit[kind(r)], r)
		}
		if s := p.Commands.cannotSettle(c.Confidence, r, "score"); s != "" {
			cannot.add(s, Clean(r.Name()))
		}
	}
	summaries := map[string]string{}
	for _, r := range c.Judged() {
		text := unsettledText(r)
		if text == "" || !about(r) {
			continue
		}
		of := kind(r)
		if many := byUnit[of]; len(many) > maxUnsettled {
			if summaries[of] == "" {
				summaries[of] = unsettledSummary(many)
			}
			text = summaries[of]
		}
		noise.add(text, Clean(r.Name()))
	}
	return cannot, noise
}

// everyResult is about all results.
func everyResult(*compare.Result) bool { return true }

// openLines are those sentences, each with the names that it is about, and how many
// hints chance shows.
func openLines(p ComparisonPage, of func(*compare.Result) bool) []string {
	cannot, noise := unsettledSentences(p, of)
	lines := cannot.order // a single sentence is about all metrics
	if len(lines) > 1 {
		lines = cannot.lines()
	}
	lines = slices.Concat(lines, noise.lines())
	if s := expectedHints(p.Comparison); s != "" {
		lines = append(lines, s)
	}
	return lines
}

// adviceNotes say how to take the advice on what is open: how to judge again, and what
// its hours rest on. None where no number is advised.
func adviceNotes(p ComparisonPage) []string {
	open := slices.DeleteFunc(p.Judged(), func(r *compare.Result) bool { return settling(r) == "" })
	if m := p.Minutes; len(open) == 0 {
		if m.RunFrom == compare.MinutesStated || m.SessionFrom == compare.MinutesStated {
			return []string{"the minutes are not used: nothing is open that more runs are known to settle"}
		}
		return nil
	}
	return []string{p.Commands.nextLook(p.Comparison, maxNeeded(open...)), p.Commands.hoursBasis(p.Minutes)}
}

// hoursBasis says which minutes the hours of advice rest on, or asks for them.
func (c Commands) hoursBasis(m compare.Minutes) string {
	switch {
	case !m.Known() && m.SessionFrom != "":
		return fmt.Sprintf("state %s, too, to have advice in hours", c.RunMinutes)
	case !m.Known():
		return fmt.Sprintf("state %s and %s to have advice in hours", c.RunMinutes, c.SessionMinutes)
	}
	from := func(source compare.MinutesFrom) string {
		return map[compare.MinutesFrom]string{compare.MinutesPolicy: " (the policy)", compare.MinutesTimes: " (by the times of the runs)",
			compare.MinutesScores: " (by the scores)"}[source]
	}
	run := "hours are at " + significant(m.Run) + " min a run"
	session := significant(m.Session) + " min a session" + from(m.SessionFrom)
	switch m.SessionFrom {
	case "":
		return run + from(m.RunFrom) + ", without " + c.SessionMinutes
	case m.RunFrom:
		return run + " and " + session
	}
	return run + from(m.RunFrom) + " and " + session
}

// nextLook is how to judge once the advised number of values a side is there.
func (c Commands) nextLook(of *compare.Comparison, advised int) string {
	switch {
	case of.Look == 1:
		return "make the second half of the planned runs, then judge the second look"
	case of.Look == 2:
		return "both planned looks are taken; a third raises false alarms"
	case !slices.ContainsFunc(of.Judged(), func(r *compare.Result) bool { return r.CanSettle }):
		return "this look could settle nothing: judge once, with all of the planned runs"
	}
	if level, ok := advice.SecondLook(of, advised); ok {
		percent := confidencePercent(1 - level)
		return fmt.Sprintf("judge once more, with the planned runs and at %s: both looks keep %s %%", c.Confidence(percent, false),
			confidencePercent(of.Confidence))
	}
	return judgeAgain(of.Confidence)
}

// unsettledSummary is one sentence for many metrics on one scale.
func unsettledSummary(rs []*compare.Result) string {
	var loss, gain *compare.Result
	var worst, best float64
	for _, r := range rs {
		if lo, hi, ok := r.GainInterval(); ok {
			if lo < worst {
				worst, loss = lo, r
			}
			if hi > best {
				best, gain = hi, r
			}
		}
	}
	var possible []string
	at := ""
	for _, r := range rs {
		if r.Interval == nil && r.Range != nil { // all ranges of a family have one confidence
			at = fmt.Sprintf("at %s %% confidence ", confidencePercent(r.RangeConfidence))
		}
	}
	if loss != nil {
		text := "losses up to " + size(loss, worst)
		if loss != gain {
			text += fmt.Sprintf(" (%s)", Clean(loss.Name()))
		}
		possible = append(possible, text)
	}
	if gain != nil {
		possible = append(possible, fmt.Sprintf("gains up to %s (%s)", size(gain, best), Clean(gain.Name())))
	}
	var out []string
	if len(possible) > 0 {
		out = append(out, at+"possible are "+strings.Join(possible, " and "))
	}
	if few, many := neededRange(rs); few != nil {
		out = append(out, "a change as large as the tolerance would take "+neededText(few, many))
	}
	if len(out) == 0 {
		return "each row's interval says what is possible"
	}
	return strings.Join(out, "; ")
}

// neededRange are the results that need the fewest and the most runs to settle;
// nil where no number of runs is known to.
func neededRange(rs []*compare.Result) (few, many *compare.Result) {
	for _, r := range rs {
		switch need := r.Need(compare.ToSettle); {
		case need == nil:
			continue
		case few == nil:
			few, many = r, r
		case need.Size < few.Need(compare.ToSettle).Size:
			few = r
		case need.Size > many.Need(compare.ToSettle).Size:
			many = r
		}
	}
	return few, many
}

// neededText is "about 21 (suite) to 320 (scene-scrub) sessions a side".
func neededText(few, many *compare.Result) string {
	size := func(r *compare.Result) int { return r.Need(compare.ToSettle).Size }
	of := func(r *compare.Result) string {
		_, counted, _ := strings.Cut(perSide(r, size(r)), " ")
		return counted
	}
	most := fmt.Sprintf("%s (%s) %s", about(size(many)), Clean(many.Name()), of(many))
	switch {
	case few == many:
		return "about " + most
	case few.Replication == many.Replication && eachSide(few) == eachSide(many):
		return fmt.Sprintf("about %s (%s) to %s", about(size(few)), Clean(few.Name()), most)
	}
	return fmt.Sprintf("about %s (%s) %s to %s", about(size(few)), Clean(few.Name()), of(few), most)
}

// sentences groups names under equal sentences, in order of appearance.
type sentences struct {
	order []string
	names map[string][]string
}

func (s *sentences) add(sentence, name string) {
	if s.names == nil {
		s.names = map[string][]string{}
	}
	if s.names[sentence] == nil {
		s.order = append(s.order, sentence)
	}
	s.names[sentence] = append(s.names[sentence], name)
}

// lines are the sentences, each after the names that it is about.
func (s *sentences) lines() []string {
	return each(s.order, func(text string) string { return compare.List(s.names[text], 6) + ": " + Clean(text) })
}

// unsettledLines say what could still hide in some results.
func unsettledLines(rs []*compare.Result) []string {
	var out []string
	for _, r := range rs {
		if s := unsettledText(r); s != "" {
			out = append(out, Clean(r.Name())+": "+s)
		}
	}
	return out
}
