package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// Closing is the one line that a person reads first.
func Closing(c *compare.Comparison) string {
	failed := c.Failures()
	costs := slices.DeleteFunc(slices.Clone(c.Results), func(r *compare.Result) bool { return slices.Contains(failed, r) })
	return joinSentences(append(failures(failed), scoresClosing(c, len(failed) > 0), costSentence(costs), suiteClosing(c))...)
}

// failures has a sentence for each kind of failure, scores first: "Regression:
// archive-pack is 1.96 % slower (1.56 to 2.36 %).", "Rise: tile-render power is 9.4 %
// more (8.1 to 10.4 %)."
func failures(failed []*compare.Result) []string {
	failed = slices.DeleteFunc(slices.Clone(failed), func(r *compare.Result) bool {
		return r.Parts != nil && len(failed) > 1 // the suite has a sentence of its own
	})
	slices.SortStableFunc(failed, func(a, b *compare.Result) int {
		return slices.Index(verdicts, *a.Verdict) - slices.Index(verdicts, *b.Verdict)
	})
	kinds := groupsOf(failed, func(r *compare.Result) compare.Verdict { return *r.Verdict })
	return each(kinds, func(rs []*compare.Result) string {
		found := each(rs[:min(3, len(rs))], finding)
		if more := len(rs) - 3; more > 0 {
			found = append(found, fmt.Sprintf("and %d more", more))
		}
		return sentence(string(*rs[0].Verdict) + ": " + strings.Join(found, "; "))
	})
}

// scoresClosing counts the verdicts of the scores that the policy names; failed
// says that a sentence about what fails stands before it.
func scoresClosing(c *compare.Comparison, failed bool) string {
	of := map[compare.Verdict]int{}
	var scores []*compare.Result
	unnamed, free := 0, false // free: a cost has no tolerance
	for _, r := range c.Results {
		switch {
		case r.Role == compare.Cost:
			free = free || r.Tolerance == nil
		case r.Role != compare.Score || r.Verdict == nil:
		case !r.Named:
			unnamed++
		default:
			of[*r.Verdict]++
			scores = append(scores, r)
		}
	}
	switch {
	case len(scores) == 1 && failed && scores[0].Harmful():
		return "" // it is what fails
	case len(scores) > 1 && failed:
		return tally(of)
	case len(scores) == 0 && unnamed > 0:
		return "The policy names none of these scores, so none was judged."
	case len(scores) == 0 && free:
		return "No score was compared. Costs are judged only with a tolerance of their own."
	case len(scores) == 0:
		return "No score was compared."
	case len(scores) == 1:
		return single(scores[0])
	case of[compare.Noise]+of[compare.Hint] == len(scores):
		text := fmt.Sprintf("None of the %d scores is settled; changes may still hide.", len(scores))
		if n := of[compare.Hint]; n > 0 {
			text = fmt.Sprintf("None of the %d scores is settled; %d %s a hint.", len(scores), n, english.Verb(n, "shows", "show"))
		}
		return text
	}
	return "No score regressed. " + tally(of)
}

// suiteClosing is the suite as a sentence, empty where there is none.
func suiteClosing(c *compare.Comparison) string {
	if c.Suite == nil {
		return ""
	}
	r := c.Suite.Result
	switch v := *r.Verdict; {
	case v == compare.Level:
		return fmt.Sprintf("Suite: level, within %s.", tolerance(r))
	case v.Settled():
		return fmt.Sprintf("Suite: %s.", strings.TrimPrefix(finding(r), "suite is "))
	case r.Interval == nil && r.Range == nil:
		return "Suite: not settled."
	}
	return fmt.Sprintf("Suite: not settled, %s.", intervalText(r))
}

func single(r *compare.Result) string {
	if _, _, ok := r.GainInterval(); !ok {
		return "Not settled: only one value on a side."
	}
	if !r.Verdict.Settled() {
		return fmt.Sprintf("Not settled: %s, %s.", Clean(r.Name()), stillPossible(r))
	}
	if *r.Verdict == compare.Level {
		return fmt.Sprintf("Level: %s changed by less than the tolerance of %s.", Clean(r.Name()), tolerance(r))
	}
	return sentence(string(*r.Verdict) + ": " + finding(r))
}

// basis states what the verdicts rest on, and what else is given.
func basis(c *compare.Comparison, more ...string) string {
	facts := []string{confidencePercent(c.Confidence) + " % confidence"}
	if c.Look > 0 {
		facts[0] = fmt.Sprintf("look %d of 2, each judged at %s %% so that both together keep %s %%",
			c.Look, lookPercent(c.Confidence), confidencePercent(c.Overall))
	}
	if c.Family.Members() > 1 {
		facts = append(facts, familyText(c.Family)+" "+decideWords(c.Correction))
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
		if r.ToleranceFrom == compare.FromDefault {
			s = "default " + s
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

// correctedWords say whether what is judged together is corrected for its number.
// The usual method has no name here; one that somebody chose has.
func correctedWords(c compare.Correction) string {
	switch c {
	case compare.NoCorrection:
		return "not corrected for their number"
	case compare.JointCorrection:
		return "corrected together"
	}
	return fmt.Sprintf("corrected together (%s)", correctionName(c))
}

// decideWords say how what can change the exit status decides.
func decideWords(c compare.Correction) string {
	if c == compare.NoCorrection {
		return "decide, " + correctedWords(c)
	}
	return "decide " + strings.TrimPrefix(correctedWords(c), "corrected ")
}

// correctionName is what a correction is called after; empty for none.
func correctionName(c compare.Correction) string {
	return map[compare.Correction]string{compare.JointCorrection: "whole sessions exchanged, step-down", compare.Holm: "Holm",
		compare.BenjaminiHochberg: "Benjamini-Hochberg"}[c]
}

// familyText names what is judged together: "12 scores, 12 costs and the suite".
func familyText(f compare.Family) string {
	var parts []string
	if f.Scores > 0 {
		parts = append(parts, english.Count(f.Scores, "score"))
	}
	if f.Costs > 0 {
		parts = append(parts, english.Count(f.Costs, "cost"))
	}
	switch {
	case f.Suites == 1:
		parts = append(parts, "the suite")
	case f.Suites > 1:
		parts = append(parts, english.Count(f.Suites, "suite"))
	}
	return andList(parts)
}

// methodFacts say by which rule a comparison was judged.
func methodFacts(c *compare.Comparison) [][2]string {
	confidence := confidencePercent(c.Confidence) + " %"
	if c.Look > 0 {
		confidence = fmt.Sprintf("%s %%, so that two looks keep %s %%; this is look %d",
			lookPercent(c.Confidence), confidencePercent(c.Overall), c.Look)
	}
	facts := [][2]string{{"Confidence", confidence}}
	if c.Family.Members() > 1 {
		facts = append(facts, [2]string{"Several at once", familyText(c.Family) + " " + decideWords(c.Correction)})
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
	if note := levelNote(c); note != nil {
		facts = append(facts, [2]string{"Level", note[0]})
	}
	return append(facts, [2]string{"A change is real",
		"where the test, after the correction, and the interval both say so; noise never means that nothing changed"})
}

// methodSection is for experts: which correction was used, and what level rests
// on; more are further lines.
func methodSection(correction compare.Correction, family int, results []*compare.Result, more ...string) doc.Section {
	var lines []string
	if name := correctionName(correction); name != "" && family > 1 {
		lines = append(lines, "corrected together: "+name)
	}
	var by sentences
	for _, r := range results {
		for _, n := range r.Notes {
			if n.Kind == compare.NoteLevel {
				by.add(ComparisonNote(n).Text, Clean(r.Name()))
			}
		}
	}
	return listSection(doc.Tests, "Method", slices.Concat(lines, by.lines(), more))
}

// testWords is the test of a result by name, and whether it was exact.
func testWords(r *compare.Result) string {
	names := map[string]string{
		compare.TestMannWhitney: "Mann-Whitney", compare.TestSignedRank: "Wilcoxon's signed ranks",
		compare.TestStudent: "Student's t of the blocks' differences",
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
	case compare.TestStudent:
		statistic = "t = " + compare.Decimal(r.Statistic, 4)
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
	return mean + " of " + english.Count(len(weights), "score") + "; plus means better"
}
