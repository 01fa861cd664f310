package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
)

// Closing is the one line that a person reads first.
func Closing(c *compare.Comparison) string { return scoresClosing(c) + suiteClosing(c) }

func scoresClosing(c *compare.Comparison) string {
	failed := c.Regressions()
	var bad []string
	for _, r := range failed {
		bad = append(bad, finding(r))
	}
	tally := map[compare.Verdict]int{}
	scores, unnamed := 0, 0
	for _, r := range c.Results {
		switch {
		case r.Role != compare.Score || r.Verdict == nil:
		case !r.Named:
			unnamed++
		default:
			tally[*r.Verdict]++
			scores++
		}
	}
	var parts []string
	for _, v := range []compare.Verdict{compare.Uplift, compare.SlightGain, compare.Level, compare.SlightLoss, compare.Regression} {
		if n := tally[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s in %d", v, n))
		}
	}
	if n := tally[compare.Noise]; n > 0 {
		parts = append(parts, fmt.Sprintf("not settled: %d", n))
	}
	of := ""
	if scores > 0 {
		of = fmt.Sprintf("Of %s: %s.", plural(scores, "score"), strings.Join(parts, ", "))
	}
	switch {
	case len(bad) > 0:
		head := strings.Join(bad[:min(3, len(bad))], "; ")
		if len(bad) > 3 {
			head += fmt.Sprintf("; and %d more", len(bad)-3)
		}
		return strings.TrimSpace(fmt.Sprintf("Regression: %s. %s", head, of))
	case scores == 0 && unnamed > 0:
		return "Nothing is judged: the policy names none of these scores."
	case scores == 1:
		for _, r := range c.Results {
			if r.Role == compare.Score && r.Verdict != nil && r.Named {
				return single(r)
			}
		}
	case scores > 0 && tally[compare.Noise] == scores:
		return fmt.Sprintf("No single score is settled: %s, all of them noise. That is not the same as no change.", plural(scores, "score"))
	case scores == 0:
		return "No regression found: no score was compared, and what else was is shown, not judged, unless a tolerance is stated for it."
	}
	return strings.TrimSpace("No regression found. " + of)
}

// suiteClosing is the suite as a sentence, empty where there is none.
func suiteClosing(c *compare.Comparison) string {
	if c.Suite == nil {
		return ""
	}
	r := c.Suite.Result
	switch v := *r.Verdict; {
	case v == compare.Level:
		return fmt.Sprintf(" Suite: level, within %s.", tolerance(r))
	case v.Settled():
		return fmt.Sprintf(" Suite: %s.", strings.TrimPrefix(finding(r), "suite is "))
	case r.Interval == nil && r.Range == nil:
		return " Suite: not settled."
	}
	return fmt.Sprintf(" Suite: not settled, %s.", intervalText(r))
}

func single(r *compare.Result) string {
	if !r.Verdict.Settled() {
		return fmt.Sprintf("Not settled: %s, %s.", Clean(r.Name()), strings.TrimPrefix(unsettledText(r), "noise: "))
	}
	if *r.Verdict == compare.Level {
		return fmt.Sprintf("Level: %s changed by less than the tolerance of %s.", Clean(r.Name()), tolerance(r))
	}
	return fmt.Sprintf("%s%s: %s.", strings.ToUpper(string(*r.Verdict)[:1]), string(*r.Verdict)[1:], finding(r))
}

// comparisonHeadline is the finding in one sentence.
func comparisonHeadline(c *compare.Comparison) string {
	var scores []*compare.Result
	for _, r := range c.Results {
		if r.Role == compare.Score {
			scores = append(scores, r)
		}
	}
	return headline(c.After, scores)
}

// basis states what the verdicts rest on, and what else is given.
func basis(c *compare.Comparison, more ...string) string {
	facts := []string{level(c.Confidence) + " % confidence"}
	if c.Looks > 1 {
		facts[0] = fmt.Sprintf("look %d of %d, judged at %s %% so that all looks together keep %s %%",
			c.Look, c.Looks, level(c.Confidence), level(c.Overall))
	}
	if c.Family > 1 {
		how := correctionName(c.Correction)
		if how == "" {
			facts = append(facts, fmt.Sprintf("%d scores, not corrected for their number", c.Family))
		} else {
			facts = append(facts, fmt.Sprintf("%d scores corrected together (%s)", c.Family, how))
		}
	}
	facts = append(append(facts, more...), toleranceFacts(c)...)
	if c.Policy != "" {
		facts = append(facts, "policy "+c.Policy)
	}
	return strings.Join(facts, "; ")
}

// toleranceFacts states the tolerance of all scores where it is one, else that
// it differs.
func toleranceFacts(c *compare.Comparison) []string {
	seen := map[string]bool{}
	var out []string
	for _, r := range c.Results {
		if r.Role != compare.Score || r.Tolerance == nil {
			continue
		}
		s := "tolerance " + tolerance(r)
		if r.ToleranceFrom == "default" {
			s += " (default)"
		}
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	if len(out) > 2 {
		return []string{"tolerances by benchmark"}
	}
	return out
}

// correctionName is what a correction is called after; empty for none.
func correctionName(c compare.Correction) string {
	return map[compare.Correction]string{compare.Holm: "Holm", compare.BenjaminiHochberg: "Benjamini-Hochberg"}[c]
}

// methodFacts say by which rule a comparison was judged.
func methodFacts(c *compare.Comparison) [][2]string {
	confidence := level(c.Confidence) + " %"
	if c.Looks > 1 {
		confidence = fmt.Sprintf("%s %%, so that all %d looks keep %s %%; this is look %d",
			level(c.Confidence), c.Looks, level(c.Overall), c.Look)
	}
	facts := [][2]string{{"Confidence", confidence}}
	if c.Family > 1 {
		how := "not corrected for their number"
		if name := correctionName(c.Correction); name != "" {
			how = "corrected together (" + name + ")"
		}
		facts = append(facts, [2]string{"Several scores", fmt.Sprintf("%d scores, %s", c.Family, how)})
	}
	if s := toleranceFacts(c); len(s) > 0 {
		facts = append(facts, [2]string{"Tolerance", strings.ReplaceAll(strings.Join(s, "; "), "tolerance ", "")})
	}
	if c.Policy != "" {
		facts = append(facts, [2]string{"Policy", Clean(c.Policy)})
	}
	var how, ends, once sentences
	for _, r := range c.Results {
		name := Clean(r.Name())
		how.add(testWords(r), name)
		if r.IntervalMethod != "" {
			ends.add(r.IntervalMethod, name)
		}
		once.add("a "+string(r.Replication), name)
	}
	say := func(s sentences) string {
		var parts []string
		for _, x := range s.order {
			if len(s.order) > 1 {
				x += " (" + compare.List(s.names[x], 4) + ")"
			}
			parts = append(parts, x)
		}
		return strings.Join(parts, "; ")
	}
	facts = append(facts, [2]string{"Counts once", say(once)},
		[2]string{"Change", "the middle of all pairwise changes (Hodges and Lehmann), of logarithms where the scale has a true zero; " +
			"plus means better for a score, more for everything else"},
		[2]string{"Test", say(how)})
	if s := say(ends); s != "" {
		facts = append(facts, [2]string{"Interval", s})
	}
	return append(facts, [2]string{"A change is real",
		"where the test, after the correction, and the interval both say so; noise never means that nothing changed"})
}

// testWords is the test of a result by name, and whether it was exact.
func testWords(r *compare.Result) string {
	names := map[string]string{
		compare.TestMannWhitney: "Mann-Whitney", compare.TestSignedRank: "Wilcoxon's signed ranks", compare.TestVanElteren: "van Elteren",
	}
	how := map[string]string{"exact": "exact given the ties", "normal": "normal approximation"}[r.Method]
	return cmp.Or(names[r.Test], r.Test) + ", " + how
}

// testDetail is the test with its numbers, for experts.
func testDetail(r *compare.Result) string {
	statistic := ""
	switch r.Test {
	case compare.TestMannWhitney:
		statistic = "U = " + compare.Decimal(r.Statistic, 12)
	case compare.TestSignedRank:
		statistic = "W = " + compare.Decimal(r.Statistic, 12)
	case compare.TestVanElteren:
		statistic = "T = " + compare.Decimal(r.Statistic, 4)
	}
	spot := "no loss of any size could be caught"
	if r.BlindSpot != nil {
		spot = "blind spot " + size(r, *r.BlindSpot)
	}
	return fmt.Sprintf("%s: %s (%s) %s, p = %s, verdict p = %s, adjusted %s, smallest reachable %s; "+
		"after is better in %s %% of pairs; %s; interval: %s", r.Name(), r.Test, r.Method, statistic,
		probability(r.P), probability(r.PUsed), probability(r.PAdjusted), probability(r.MinP),
		compare.Decimal(100*r.Superiority, 1), spot, cmp.Or(r.IntervalMethod, noInterval))
}

// noInterval stands for the method of an interval where there is none.
const noInterval = "none exists at this confidence"

// meanText is the kind of mean of a suite whose scores have these weights.
func meanText(weights []float64) string {
	mean := "geometric mean"
	if slices.ContainsFunc(weights, func(w float64) bool { return w != weights[0] }) {
		mean = "weighted geometric mean"
	}
	return mean + " of " + plural(len(weights), "score") + "; plus means better"
}
