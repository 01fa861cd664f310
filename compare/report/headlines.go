package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/gate"
	"tunegate/compare/history"
	"tunegate/compare/ladder"
)

// comparisonHeadline is the finding and its price in one sentence; before and
// after name the sides.
func comparisonHeadline(c *compare.Comparison, before, after string) string {
	var scores []*compare.Result
	gained, lost := false, false
	for _, r := range c.Results {
		if r.Role == compare.Score {
			scores = append(scores, r)
			gained = gained || r.Named && isChange(r) && r.Change > 0
			lost = lost || r.Named && isChange(r) && r.Change < 0
		}
	}
	if s := c.Suite; s != nil && isChange(s.Result) && (!gained || !lost) {
		return suiteHeadline(s.Result, before, after) + price(c.Results, s.Change)
	}
	change := 0.0
	switch {
	case gained && !lost:
		change = 1
	case lost && !gained:
		change = -1
	case len(scores) == 0 && price(c.Results, 0) != "":
		return "With " + Clean(after) + strings.Replace(price(c.Results, 0), ";", ":", 1)
	}
	return headline(after, scores) + price(c.Results, change)
}

// isChange reports whether the verdict of a result is a change.
func isChange(r *compare.Result) bool {
	return r.Verdict != nil && r.Verdict.Settled() && *r.Verdict != compare.Level
}

// suiteHeadline is "boost-lift is 3.7 % faster than factory".
func suiteHeadline(suite *compare.Result, before, after string) string {
	return fmt.Sprintf("%s is %s than %s", Clean(after), changeText(suite), Clean(before))
}

// ladderHeadline is the last profile against the first, with its price.
func ladderHeadline(l *ladder.Ladder) string {
	costs := ladderCosts(l)
	if s := l.Total.Suite; s != nil && isChange(s.Result) {
		return suiteHeadline(s.Result, l.Profiles[0], l.Profiles[len(l.Profiles)-1]) + price(costs, s.Change)
	}
	return strings.TrimSuffix(chainClosing(l), ".") + price(costs, 0)
}

// ladderCosts are the costs of the last profile beside the first: pooled over the
// benchmarks where a ladder pools them, else one by one.
func ladderCosts(l *ladder.Ladder) []*compare.Result {
	var out []*compare.Result
	last := l.Rungs[len(l.Rungs)-1]
	pooled := map[string]bool{ladder.MetricEnergy: true} // follows from power and time
	if last.Power != nil {
		out, pooled[ladder.MetricPower] = append(out, last.Power.Result), true
	}
	if last.Heat != nil {
		out, pooled[ladder.MetricTemperature], pooled[ladder.MetricRise] = append(out, last.Heat.Result), true, true
	}
	for _, r := range l.Total.Comparison.Results {
		if !pooled[r.Metric.Metric] {
			out = append(out, r)
		}
	}
	return out
}

// GateClosing is the first line of a gate: the outcome, and the worst thing with its
// size, or what a single profile does. It names no commit.
func GateClosing(g *gate.Gate) string { return outcomeWords(g) + ": " + gateFinding(g) }

// outcomeWords is the outcome, and what was agreed to.
func outcomeWords(g *gate.Gate) string {
	text := map[gate.Outcome]string{gate.Failed: "Failed", gate.Undecided: "Undecided", gate.Passed: "Passed"}[g.Outcome]
	if len(g.Agreed) > 0 {
		text += " (agreed: " + compare.List(each(g.Agreed, func(a gate.Agreement) string { return string(a) }), 3) + ")"
	}
	return text
}

// gateFinding is the worst thing of a gate, or what a single profile does.
func gateFinding(g *gate.Gate) string {
	reasons := against(g.Reasons)
	if len(reasons) > 0 {
		text := reasonHeadline(reasons[0])
		if more := len(reasons) - 1; more > 0 {
			text += fmt.Sprintf(", and %s", english.Count(more, "more reason"))
		}
		return text
	}
	var compared []*gate.Judgement
	for _, j := range g.Judged {
		switch {
		case j.First:
			return Clean(j.Profile) + " is the first of its kind"
		case j.Comparison != nil && slices.ContainsFunc(j.Comparison.Judged(), func(r *compare.Result) bool { return r.Decides }):
			compared = append(compared, j)
		}
	}
	switch len(compared) {
	case 0:
		at := slices.IndexFunc(g.Reasons, func(r gate.Reason) bool { return r.Agreement == gate.AgreeNew })
		if at >= 0 {
			return "nothing older stands against " + Clean(g.Reasons[at].Profile)
		}
		for _, j := range g.Judged {
			if slices.ContainsFunc(j.Warnings, func(n gate.Note) bool { return n.Kind == gate.NoteSetAside }) {
				return "runs of " + Clean(j.Profile) + " were set aside, no more than the policy allows"
			}
		}
		return "nothing that is judged changed"
	case 1:
		j := compared[0]
		finding := comparisonHeadline(j.Comparison, cmp.Or(j.Against, "before"), j.Profile)
		if strings.HasPrefix(finding, "W") && !strings.HasPrefix(finding, Clean(j.Profile)) { // With, Whether
			finding = lowerFirst(finding)
		}
		return finding
	}
	return english.Count(len(compared), "profile") + " judged, none of them worse for sure"
}

// reasonHeadline is a reason in short, without commits and places.
func reasonHeadline(r gate.Reason) string {
	profile := Clean(r.Profile)
	moved := func() string { return findingWith(r.Result, profile) }
	switch r.Kind {
	case gate.ReasonCopies:
		return fmt.Sprintf("%s of %s %s %s", rows(r.Rows), profile, english.Verb(r.Rows.Lines().Len(), "repeats", "repeat"), repeatedRows(r))
	case gate.ReasonStale:
		return profile + " still has runs from before its settings changed"
	case gate.ReasonAltered:
		return "runs of " + profile + " were removed or altered"
	case gate.ReasonRegression, gate.ReasonRise, gate.ReasonFall:
		if r.Anchor {
			return moved() + " since its first runs"
		}
		return moved()
	case gate.ReasonDrift:
		if r.Anchor {
			return moved() + " since its first runs"
		}
		return moved() + " although the settings are the same"
	case gate.ReasonCap:
		return fmt.Sprintf("%s reached %s with %s, beyond the cap of %s", Clean(r.Metric.Name()), withUnit(r.Worst, r.Metric.Unit), profile,
			withUnit(*r.Metric.Cap, r.Metric.Unit))
	case gate.ReasonSetAside:
		return fmt.Sprintf("%s of %s set aside, more than the policy allows", english.Count(r.Count, "run"), profile)
	case gate.ReasonRequired:
		return fmt.Sprintf("%s has no new runs of %s", profile, Clean(compare.List(r.Names, 3)))
	case gate.ReasonBaseline:
		return "the baseline of " + profile + " is missing"
	case gate.ReasonRemoved:
		if r.Decides == gate.Failed {
			return profile + " is removed"
		}
		return profile + " is removed, and a person has to agree"
	case gate.ReasonPolicy:
		return "the policy is loosened, and a person has to agree"
	case gate.ReasonUnmeasured:
		return fmt.Sprintf("%s was not measured with %s", Clean(compare.List(r.Names, 3)), profile)
	case gate.ReasonNew, gate.ReasonNewBase:
		return "nothing older stands against " + profile + ", and a person has to agree"
	case gate.ReasonWithheld:
		return moved() + " by itself, and open among the other rows"
	case gate.ReasonLaterRuns:
		if r.When == "now" {
			return fmt.Sprintf("with %s, sessions hold as few as %s, and the old ones %d", profile, english.Count(r.Count, "run"), r.Limit)
		}
		if !r.Result.Harmful() {
			return fmt.Sprintf("with %s, a large loss of %s could hide in runs that do not count", profile, Clean(r.Result.Name()))
		}
		return moved() + " by all runs of each session"
	case gate.ReasonSlowRuns:
		return moved() + " by the means of its sessions"
	case gate.ReasonBlind, gate.ReasonBlindSpot, gate.ReasonSafety, gate.ReasonFewRuns:
		return "with " + profile + ", " + Commands{}.reasonText(r)
	case gate.ReasonNoRuns:
		return profile + " has no runs that can be judged"
	}
	return profile + ": " + Commands{}.reasonText(r)
}

// findingWith is a finding that names the profile: "archive-pack is 1.79 % slower with
// boost-lift (1.41 to 2.05 %)".
func findingWith(r *compare.Result, profile string) string {
	text, with := finding(r), " with "+profile
	if at := strings.Index(text, " ("); at > 0 {
		return text[:at] + with + text[at:]
	}
	return text + with
}

// historyHeadline is the closing line without hashes of commits.
func historyHeadline(h HistoryPage) string {
	return strings.TrimSuffix(historyClosing(h, func(p *history.Point) string {
		return cmp.Or(day(p), "a later commit")
	}), ".")
}

// headline says in one sentence what a profile does to scores.
func headline(after string, results []*compare.Result) string {
	var gains, losses, level, open []*compare.Result
	for _, r := range results {
		switch {
		case r.Verdict == nil || !r.Named:
		case *r.Verdict == compare.Uplift || *r.Verdict == compare.SlightGain:
			gains = append(gains, r)
		case *r.Verdict == compare.Regression || *r.Verdict == compare.SlightLoss:
			losses = append(losses, r)
		case *r.Verdict == compare.Level:
			level = append(level, r)
		default:
			open = append(open, r)
		}
	}
	clauses := func(rs []*compare.Result, rest string) string {
		slices.SortStableFunc(rs, func(a, b *compare.Result) int {
			return cmp.Compare(math.Abs(b.Change), math.Abs(a.Change))
		})
		var parts []string
		for i, r := range rs {
			if i == 2 && len(rs) > 3 {
				parts = append(parts, fmt.Sprintf("%d more %s", len(rs)-i, rest))
				break
			}
			parts = append(parts, Clean(r.Name())+" is "+changeText(r))
		}
		return andList(parts)
	}
	with := "With " + Clean(after) + ", "
	switch {
	case len(gains) > 0 && len(losses) > 0:
		return with + clauses(gains, "gain") + ", but " + clauses(losses, "lose")
	case len(gains) > 0:
		return with + clauses(gains, "gain")
	case len(losses) > 0:
		return with + clauses(losses, "lose")
	case len(level) > 0 && len(open) == 0:
		return fmt.Sprintf("%s changes no score beyond the tolerance", Clean(after))
	case len(open) > 0 && len(level) == 0:
		return fmt.Sprintf("Whether %s changes a score is not settled", Clean(after))
	case len(open) > 0:
		return fmt.Sprintf("With %s no score changed for sure: %d of %d are level, the rest is not settled",
			Clean(after), len(level), len(level)+len(open))
	}
	return "Nothing is judged here"
}
