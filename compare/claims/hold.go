package claims

import (
	"fmt"
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// Held is a claim and what became of it.
type Held struct {
	Claim
	Verdict Verdict
	// Data is what the runs alone say; empty where none are named, and for a
	// percentage that means nothing.
	Data   Verdict
	Faults []Finding // of arithmetic
	// Differences is what the sentence says otherwise than its keys, and Unchecked
	// what it says that no key covers.
	Differences, Unchecked []Finding
	Notes                  []Finding       // why the runs say so, and what else a careful reader asks
	Exact                  []Made          // what the figures that the claim lists make
	Result                 *compare.Result // what it is held against; nil where no runs are named
	// Joint is the interval that holds for the whole family at once, as
	// Result.Interval; nil where there is none, and where nothing else is in the
	// family or nothing is corrected.
	Joint *[2]float64
	Level *float64 // the largest change that is called level, as Result.Change
	// Lo and Hi are the claimed change, allowing for its rounding: in per cent
	// or in the unit, plus in the claimed direction.
	Lo, Hi float64
}

// Interval is the result's estimate and interval in the words of the claim: in
// per cent or in the unit, plus in the claimed direction. ok is false where
// there is no interval.
func (h *Held) Interval() (estimate, lo, hi float64, ok bool) {
	r := h.Result
	if r == nil || r.Interval == nil {
		return 0, 0, 0, false
	}
	lo, hi = h.rangeInWords(*r.Interval)
	return h.inWords(r.Change), lo, hi, true
}

// JointInterval is the interval that holds for the whole family at once, in the
// words of the claim; that of the result alone where the family is no larger. It is
// the one to publish, since whoever writes a page chooses what to claim.
func (h *Held) JointInterval() (lo, hi float64, ok bool) {
	_, lo, hi, ok = h.Interval()
	if ok && h.Joint != nil {
		lo, hi = h.rangeInWords(*h.Joint)
	}
	return lo, hi, ok
}

func (h *Held) rangeInWords(in [2]float64) (lo, hi float64) {
	a, b := h.inWords(in[0]), h.inWords(in[1])
	return math.Min(a, b), math.Max(a, b)
}

// inWords turns a change of the result as it is shown into the claim's words.
func (h *Held) inWords(change float64) float64 {
	r, f := h.Result, h.Form
	if f == AsLevel {
		if r.Scale == compare.Ratio {
			return 100 * change
		}
		return change
	}
	turned := r.Role == compare.Score && r.Better == compare.Lower // shown as speed
	if r.Scale != compare.Ratio {
		if turned != (f.OfSpeed() && r.Better == compare.Lower) {
			change = -change
		}
		if f == Less || f == Slower || f == MoreTime {
			change = -change
		}
		return change
	}
	ratio := 1 + change
	if turned && !f.OfSpeed() {
		ratio = 1 / ratio
	}
	return 100 * f.fraction(ratio)
}

// Page is a page of sentences, held against runs and arithmetic.
type Page struct {
	compare.Terms
	// Family is what is corrected together: see Hold.
	Family compare.Family
	Policy string  // the file; empty for none
	Pairs  []*Pair // one a pair of profiles that a claim names
	Held   []*Held
}

// Pair is two profiles that a claim names, compared.
type Pair struct {
	*compare.Comparison
	Doubts *doubts.Report // what looks unsafe about the data
}

// Tally counts the verdicts.
func (p *Page) Tally() map[Verdict]int {
	out := map[Verdict]int{}
	for _, h := range p.Held {
		out[h.Verdict]++
	}
	return out
}

// Decisive is the verdict that decides about the page as a whole: the first that
// fails, else NotSettled where any is, else Supported.
func (p *Page) Decisive() Verdict {
	out := Supported
	for _, h := range p.Held {
		switch {
		case h.Verdict.Fails():
			return h.Verdict
		case h.Verdict == NotSettled:
			out = NotSettled
		}
	}
	return out
}

// Runs are the runs of profiles that claims are held against, such as *compare.Runs.
type Runs interface {
	Profiles() []string // in order of appearance
	Profile(name string) []*compare.Series
}

// Hold holds claims against the runs that they name, and against
// arithmetic, and their sentences against their keys.
//
// The claims of a page share one correction. Its family is everything that compare
// judges together for the pairs of profiles named, claimed or not, since whoever
// writes a page picks from all of it; and each cost, suite and class that a claim is
// about. So a page cannot make real what compare calls noise. A change is real as in
// Result.Real.
//
// A claim is accused (overstated, understated, contradicted) by the interval that
// holds for the whole family at once: of pages of true claims at most one in twenty
// accuses any. It is supported by the plain interval; between the two it is not
// settled.
//
// An error means that nothing was judged; it is a *PlacedError where a claim
// or a value is at fault.
func Hold(claims []Claim, runs Runs, policy compare.Policy, opt compare.Options) (*Page, error) {
	out := &Page{Terms: compare.TermsOf(policy, opt), Policy: policy.Source}
	pairs := map[names]*Pair{}
	var compared []doubts.Compared
	about := map[*Held]*compare.Result{}
	for i := range claims {
		h := &Held{Claim: claims[i]}
		out.Held = append(out.Held, h)
		if !h.NamesRuns() {
			continue
		}
		sides := names{h.Before, h.After}
		c := pairs[sides]
		if c == nil {
			of, err := h.compare(runs, policy, opt)
			if err != nil {
				return nil, err
			}
			compared = append(compared, of)
			c = &Pair{Comparison: of.Comparison}
			pairs[sides] = c
			out.Pairs = append(out.Pairs, c)
		}
		r, err := h.claimed(c.Comparison)
		if err != nil {
			return nil, err
		}
		about[h] = r
	}
	reports, err := doubts.OfComparisons(compared, policy, compare.Options{Better: opt.Better})
	if err != nil {
		return nil, err
	}
	for i, r := range reports {
		out.Pairs[i].Doubts = r
	}
	together := out.family(about)
	out.Family = out.FamilyOf(together.measured...)
	judged, joint := together.judge(out.Terms, policy), out.Simultaneous(together.measured...)
	largest := map[*compare.Result]bool{} // said once
	for _, h := range out.Held {
		if r := about[h]; r != nil {
			h.Result, h.Joint = judged[r], joint[r.Measurement]
			if err := h.inUnit(out.Terms, runs, policy); err != nil {
				return nil, err
			}
			if h.Result.Pair != r.Pair { // measured anew as a difference
				h.Joint = out.Simultaneous(together.with(r.Measurement, h.Result.Measurement).measured...)[h.Result.Measurement]
			}
			if err := h.fits(); err != nil {
				return nil, err
			}
		}
		if err := h.checkFigures(); err != nil {
			return nil, err
		}
		h.checkSteps()
		h.checkAverage()
		if h.Result != nil {
			if err := h.hold(out.Confidence); err != nil {
				return nil, err
			}
			estimate, _, _, _ := h.Interval()
			if n := together.largestOf(about[h]); n > 1 && h.Form != AsLevel && estimate > 0 && !largest[about[h]] {
				largest[about[h]] = true
				h.note(NoteLargest, Finding{Cause: LargestOfPage, Count: n})
			}
		}
	}
	out.readSentences(runs)
	for _, h := range out.Held {
		switch {
		case len(h.Differences) > 0:
			h.Verdict = SentenceDiffers
		case len(h.Faults) > 0:
			h.Verdict = WrongArithmetic
		case h.Data != "":
			h.Verdict = h.Data
		default:
			h.Verdict = Supported
		}
	}
	return out, nil
}

// names are two profiles.
type names struct{ before, after string }

// compare compares the profiles that a claim names.
func (h *Held) compare(runs Runs, policy compare.Policy, opt compare.Options) (doubts.Compared, error) {
	sides := [2]string{h.Before, h.After}
	for k, key := range [2]string{"before", "after"} {
		if len(runs.Profile(sides[k])) == 0 {
			return doubts.Compared{}, h.fail(key, "the runs hold no profile %q; there are %s", sides[k], quotedList(runs.Profiles()))
		}
	}
	before, after := runs.Profile(h.Before), runs.Profile(h.After)
	c, err := compare.Compare(before, after, sides, policy, opt)
	return doubts.Compared{Comparison: c, Before: before, After: after}, err
}

// claimed finds what a claim is about.
func (h *Held) claimed(c *compare.Comparison) (*compare.Result, error) {
	switch {
	case h.Suite:
		if c.Suite == nil {
			return nil, h.fail("suite", "%s and %s share fewer than two scores that can be pooled, so there is no suite; name a benchmark", c.Before,
				c.After)
		}
		return c.Suite.Result, nil
	case h.Class != "":
		var classes []string
		for _, r := range c.Results {
			if r.Class != "" && r.Role == compare.Score && !slices.Contains(classes, r.Class) {
				classes = append(classes, r.Class)
			}
		}
		for _, s := range c.Classes {
			if s.Benchmark == h.Class {
				return s.Result, nil
			}
		}
		if c.Suite != nil && slices.Contains(classes, h.Class) { // the only class is the suite
			return c.Suite.Result, nil
		}
		if len(classes) == 0 {
			return nil, h.fail("class", "no score has a workload class; give a policy that states them (class = %q in a [[metric]])", h.Class)
		}
		return nil, h.fail("class", "there is no workload class %q; there are %s", h.Class, quotedList(classes))
	}
	metric := h.Metric
	if metric == "" {
		metric = compare.DefaultMetric
	}
	var benchmarks, metrics []string
	for _, r := range c.Results {
		if !slices.Contains(benchmarks, r.Benchmark) {
			benchmarks = append(benchmarks, r.Benchmark)
		}
		if r.Benchmark == h.Benchmark {
			if r.Metric.Metric == metric {
				return r, nil
			}
			metrics = append(metrics, r.Metric.Metric)
		}
	}
	if len(metrics) > 0 {
		key := "metric"
		if h.Metric == "" {
			key = "benchmark"
		}
		return nil, h.fail(key, "%s and %s share no metric %q of %s; they share %s", c.Before, c.After, metric, h.Benchmark, quotedList(metrics))
	}
	return nil, h.fail("benchmark", "%s and %s share no benchmark %q; they share %s", c.Before, c.After, h.Benchmark, quotedList(benchmarks))
}

func quotedList(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	return compare.List(out, 12)
}

// inUnit compares a metric on a ratio scale anew, as a difference, where the
// claim is one of a difference: "22 W less".
func (h *Held) inUnit(t compare.Terms, runs Runs, policy compare.Policy) error {
	r := h.Result
	for _, f := range []struct {
		key    string
		figure *Figure
	}{{h.formKey(), h.Change}, {"from", h.From}, {"to", h.To}} {
		if f.figure == nil || f.figure.Unit == "" || f.figure.percent() {
			continue
		}
		switch {
		case r.Parts != nil:
			return h.fail(f.key, "%s is a mean of ratios and has no unit; write a percentage, or name a benchmark", compare.SuiteWord(r.Benchmark))
		case f.figure.Unit != r.Unit:
			return h.fail(f.key, "%s is in %q, but %s is measured in %q; write it in that unit", f.figure.Text, f.figure.Unit, r.Name(), r.Unit)
		}
	}
	if h.Change == nil || h.Change.percent() || r.Scale != compare.Ratio {
		return nil
	}
	m := r.Metric
	m.Scale, m.Tolerance = compare.Interval, nil
	var sides [2]*compare.Series
	for k, name := range [2]string{h.Before, h.After} {
		for _, s := range runs.Profile(name) {
			if s.ID() == r.ID() {
				sides[k] = s
			}
		}
	}
	pair, err := compare.PairOf(m, sides[0], sides[1])
	if err != nil {
		return err
	}
	// The same runs in the same order of size: one comparison of the family.
	d := pair.Measure(t)
	h.Result = t.Result(d, t.JudgeAs(d, math.Max(d.PUsed, r.PAdjusted), r.Among), policy)
	return nil
}

// fits refuses words that the metric cannot have.
func (h *Held) fits() error {
	r, key := h.Result, h.formKey()
	switch {
	case h.Form == "" && r.Parts != nil:
		return h.fail(key, "%s has no figures of its own; state the change, such as faster = 2.1", compare.SuiteWord(r.Benchmark))
	case h.Form == "" && r.Scale == compare.Ratio && (h.From.Value <= 0 || h.To.Value <= 0):
		return h.fail(key, "from and to are %s and %s; %s has no values at or below zero", h.From.Text, h.To.Text, r.Name())
	case (h.Form == More || h.Form == Less) && r.Parts != nil:
		return h.fail(key, "%s = %s of a %s could be speed or time; write faster, slower, less-time or more-time", h.Form, h.Change.Text,
			compare.SuiteWord(r.Benchmark))
	case h.Form.OfSpeed() && r.Role != compare.Score:
		return h.fail(key, "%s is of speed, but %s is a %s; write more or less", h.Form, r.Name(), r.Role)
	case (h.Form == LessTime || h.Form == MoreTime) && !r.IsSpeed():
		return h.fail(key, "%s needs a time or a rate, but %s is in %q; write faster, slower, more or less", h.Form, r.Name(), r.Unit)
	case h.Form == AsLevel && h.Change == nil && r.Tolerance == nil:
		return h.fail(key, "no tolerance is stated for %s; write the largest change, such as level = 1 or level = \"2 W\"", r.Name())
	}
	return nil
}
