package report

import (
	"fmt"

	"tunegate/compare"
)

// correctionName is what a correction is called after; empty for none.
func correctionName(c compare.Correction) string {
	return map[compare.Correction]string{compare.Holm: "Holm", compare.BenjaminiHochberg: "Benjamini-Hochberg"}[c]
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

// block is a table with one scale: results of one role whose changes have one
// unit.
type block struct {
	title   string
	results []*compare.Result
}

func blocksOf(c *compare.Comparison) []block {
	titles := map[compare.Role]string{
		compare.Score: "Scores: plus means better",
		compare.Cost:  "Costs: plus means more",
		compare.Info:  "Shown, never judged: plus means more",
	}
	var out []block
	for _, role := range []compare.Role{compare.Score, compare.Cost, compare.Info} {
		var units []string
		by := map[string][]*compare.Result{}
		for _, r := range c.Results {
			if r.Role != role {
				continue
			}
			unit, _ := percentOr(r)
			if by[unit] == nil {
				units = append(units, unit)
			}
			by[unit] = append(by[unit], r)
		}
		for i, unit := range units {
			b := block{results: by[unit]}
			if i == 0 {
				b.title = titles[role]
			}
			out = append(out, b)
		}
	}
	if c.Suite != nil {
		b := block{title: suiteTitle(c.Suite), results: []*compare.Result{c.Suite.Result}}
		for _, s := range c.Classes {
			b.results = append(b.results, s.Result)
		}
		out = append(out, b)
	}
	return out
}

// suiteTitle says what the suite is the mean of.
func suiteTitle(s *compare.Suite) string {
	mean := "geometric mean"
	for _, w := range s.Weights {
		if w != s.Weights[0] {
			mean = "weighted geometric mean"
		}
	}
	return fmt.Sprintf("Suite: %s of %s; plus means better", mean, plural(len(s.Scores), "score"))
}

// renamed is a result under another name and unit.
func renamed(r *compare.Result, id compare.MetricID, unit string) *compare.Result {
	result, m, pair := *r, *r.Measurement, *r.Pair
	pair.Benchmark, pair.Metric.Metric, pair.Unit = id.Benchmark, id.Metric, unit
	m.Pair, result.Measurement = &pair, &m
	return &result
}

// measuredHead is empty where no score is better low.
func measuredHead(rs []*compare.Result) string {
	head := ""
	for _, r := range rs {
		switch {
		case r.TimeSaved != nil:
			return "time"
		case asMeasured(r) != "":
			head = "measured"
		}
	}
	return head
}

// noInterval stands for the method of an interval where there is none.
const noInterval = "none exists at this confidence"

// mostNoise is up to how many unsettled metrics get a sentence each.
const mostNoise = 6

// unsettledSentences collects what could still hide; metrics with the same
// sentence share it, and many on one scale share a summary. advised is set
// where more runs are.
func unsettledSentences(p ComparisonPage) (cannot, noise sentences, advised bool) {
	c := p.Comparison
	byUnit := map[string][]*compare.Result{}
	kind := func(r *compare.Result) string {
		unit, _ := percentOr(r)
		return fmt.Sprint(r.Role, unit, r.Parts != nil)
	}
	for _, r := range c.Judged() {
		if Unsettled(r) != "" {
			byUnit[kind(r)] = append(byUnit[kind(r)], r)
			advised = advised || r.Needed != nil
		}
		if s := p.Commands.cannotSettle(c.Confidence, r, "score"); s != "" {
			cannot.add(s, Clean(r.Name()))
		}
	}
	for _, r := range c.Judged() {
		if Unsettled(r) == "" {
			continue
		}
		if many := byUnit[kind(r)]; len(many) > mostNoise {
			noise.add(unsettledSummary(many), Clean(r.Name()))
		} else {
			noise.add(Unsettled(r), Clean(r.Name()))
		}
	}
	return cannot, noise, advised
}

// openLines are those sentences, each with the names that it is about.
func openLines(p ComparisonPage) (lines []string, advised bool) {
	cannot, noise, advised := unsettledSentences(p)
	for _, list := range []sentences{cannot, noise} {
		for _, s := range list.order {
			lines = append(lines, compare.List(list.names[s], 6)+": "+s)
		}
	}
	return lines, advised
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
	text := "noise; each row's interval says what could still hide"
	if loss != nil {
		text += fmt.Sprintf(", at most a loss of %s (%s)", size(loss, worst), Clean(loss.Name()))
	}
	if gain != nil {
		text += fmt.Sprintf(", at most a gain of %s (%s)", size(gain, best), Clean(gain.Name()))
	}
	switch few, many := neededRange(rs); {
	case few == nil:
	case few == many:
		text += fmt.Sprintf("; about %s would settle the tolerance in %s", perSide(few, *few.Needed), Clean(few.Name()))
	default:
		text += fmt.Sprintf("; from %s to %s would settle the tolerance", neededText(few), neededText(many))
	}
	return text
}

// neededRange are the results that need the fewest and the most runs to settle;
// nil where no number of runs is known to.
func neededRange(rs []*compare.Result) (few, many *compare.Result) {
	for _, r := range rs {
		if r.Needed == nil {
			continue
		}
		if few == nil || *r.Needed < *few.Needed {
			few = r
		}
		if many == nil || *r.Needed > *many.Needed {
			many = r
		}
	}
	return few, many
}

// neededText is "about 9 sessions a side (tile-render)".
func neededText(r *compare.Result) string {
	return fmt.Sprintf("about %s (%s)", perSide(r, *r.Needed), Clean(r.Name()))
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

// Notes lists everything a reader should know besides verdicts: metrics
// without a partner, runs set aside, notes of the comparison and of its
// metrics, the same sentence once.
func Notes(p ComparisonPage) []string {
	c := p.Comparison
	var lines []string
	for _, side := range []string{"before", "after"} {
		if names := onlyOn(side, c.Unpaired); len(names) > 0 {
			lines = append(lines, "only "+side+": "+Clean(compare.List(names, 12)))
		}
	}
	for _, a := range c.SetAside {
		lines = append(lines, asideText(a))
	}
	for _, n := range p.notes() {
		lines = append(lines, Clean(n.Text))
	}
	if c.Suite != nil && len(c.Suite.LeftOut) > 0 {
		lines = append(lines, "not in the suite: "+Clean(compare.List(each(c.Suite.LeftOut, omissionText), 12)))
	}
	var by sentences
	judgedCosts := true
	for _, r := range c.Judged() {
		for _, n := range r.Notes {
			by.add(ComparisonNote(n).Text, Clean(r.Name()))
		}
		judgedCosts = judgedCosts && (r.Role != compare.Cost || r.Decides)
	}
	for _, s := range by.order {
		lines = append(lines, compare.List(by.names[s], 6)+": "+Clean(s))
	}
	if !judgedCosts {
		lines = append(lines, "a cost without a stated tolerance never changes the exit status")
	}
	return lines
}

// asideText is a run that does not count, and why.
func asideText(a compare.ExcludedRun) string {
	where := ""
	if a.Session != "" {
		where += ", session " + a.Session
	}
	if a.Run != "" {
		where += ", run " + a.Run
	}
	return Clean(fmt.Sprintf("set aside: %s, %s%s: %s", a.Profile, a.Benchmark, where, a.Reason))
}
