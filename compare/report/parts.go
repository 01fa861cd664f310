package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/report/doc"
)

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

// addLists appends the lists that have lines.
func addLists(to []doc.Block, lists ...doc.List) []doc.Block {
	for _, l := range lists {
		if len(l.Items) > 0 {
			to = append(to, l)
		}
	}
	return to
}

// summarySection says of every score and cost what is known, what is open, and
// what would settle it.
func summarySection(p ComparisonPage) doc.Section {
	c := p.Comparison
	var sure, costs []string
	for _, r := range c.Results {
		if r.Verdict == nil {
			continue
		}
		switch {
		case *r.Verdict == compare.Level:
			sure = append(sure, fmt.Sprintf("%s is level: it changed by less than %s", Clean(r.Name()), tolerance(r)))
		case r.Verdict.Settled() && r.Role == compare.Score:
			sure = append(sure, fmt.Sprintf("%s: %s", finding(r), *r.Verdict))
		case r.Verdict.Settled():
			costs = append(costs, finding(r))
		}
	}
	open, advised := openLines(p)
	if advised {
		open = append(open, Peeking)
	}
	return doc.Section{Kind: doc.Summary, Blocks: addLists(nil,
		doc.List{Title: "What is settled", Items: doc.Lines(sure)},
		doc.List{Title: "What it costs", Items: doc.Lines(costs)},
		doc.List{Title: "Not settled", Items: doc.Lines(open)})}
}

// unsettledLines say what could still hide in some results.
func unsettledLines(rs []*compare.Result) []string {
	var out []string
	for _, r := range rs {
		if s := Unsettled(r); s != "" {
			out = append(out, Clean(r.Name())+": "+s)
		}
	}
	return out
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
	how := map[string]string{"exact": "exact given the ties", "normal": "normal approximation", "drawn": "permutations drawn"}[r.Method]
	return cmp.Or(names[r.Test], r.Test) + ", " + how
}

// dataSection says what looks unsafe about the data, and what else to know:
// set-aside runs among it.
func (c Commands) dataSection(findings []doubts.Finding, notes []string) doc.Section {
	s := doc.Section{Kind: doc.Data}
	groups := c.findingGroups(findings, 0)
	if len(groups) == 0 {
		s.Blocks = append(s.Blocks, doc.Paragraph{Line: doc.Line{Text: "Looked at before judging: " +
			"drift, dependence, outliers, two modes, copied values, sessions far apart. Nothing was found."}})
	}
	for _, g := range groups {
		if n := len(g.lines); n > 8 { // evidence, and then why and what to do
			g.lines = append(append(slices.Clone(g.lines[:6]), fmt.Sprintf("and %d more; %s lists them all", n-8, c.Doubts)), g.lines[n-2:]...)
		}
		s.Blocks = append(s.Blocks, doc.List{Title: strings.ToUpper(g.title()[:1]) + g.title()[1:], Items: doc.Lines(g.lines)})
	}
	s.Blocks = addLists(s.Blocks, doc.List{Title: "Notes, and runs set aside", Items: doc.Lines(notes)})
	return s
}

// originSection says how to get the same page again.
func originSection(from Origin, seed uint64, resamples int) doc.Section {
	facts := [][2]string{{"Command", Clean(from.Command)}, {"Version", "tunegate " + Clean(from.Version)}}
	if resamples > 0 {
		facts = append(facts, [2]string{"Seed", fmt.Sprint(seed)}, [2]string{"Resamples", fmt.Sprint(resamples)})
	}
	return doc.Section{Kind: doc.Origin, Blocks: []doc.Block{
		doc.Paragraph{Line: doc.Line{Text: "The same files, command and version give the same page, on any machine."}},
		factsOf(facts),
	}}
}

// factsOf are terms with what they say.
func factsOf(pairs [][2]string) doc.Facts {
	var out doc.Facts
	for _, p := range pairs {
		out = append(out, doc.Fact{Term: p[0], Text: p[1], Code: p[0] == "Command"})
	}
	return out
}
