package compare

import (
	"fmt"
	"math"
	"slices"
)

// ClaimForm says in which words a page claims a change; the word holds the
// sign. Speed and time are told apart, since 5 % faster is 4.76 % less time.
type ClaimForm string

// The forms.
const (
	Faster   ClaimForm = "faster"    // of a score: plus is better
	Slower   ClaimForm = "slower"    // of a score
	LessTime ClaimForm = "less-time" // of a score that is a time or a rate
	MoreTime ClaimForm = "more-time"
	More     ClaimForm = "more" // of the quantity as it is measured, whatever is better
	Less     ClaimForm = "less"
	AsLevel  ClaimForm = "level" // no change larger than stated
)

// Opposite is the form of the same change that goes the other way.
func (f ClaimForm) Opposite() ClaimForm {
	return map[ClaimForm]ClaimForm{Faster: Slower, Slower: Faster, LessTime: MoreTime, MoreTime: LessTime, More: Less, Less: More}[f]
}

// OfSpeed reports whether the form speaks of speed or time, and not of the
// quantity as it is measured.
func (f ClaimForm) OfSpeed() bool {
	return f == Faster || f == Slower || f == LessTime || f == MoreTime
}

// falls reports whether the form takes its percentage off.
func (f ClaimForm) falls() bool { return f == Slower || f == LessTime || f == Less }

// fraction turns a ratio after/before, of speed for a form that speaks of
// speed or time, else of the quantity, into what the form says: 1.05 is 0.05
// faster, 0.0476 less time, -0.05 slower.
func (f ClaimForm) fraction(ratio float64) float64 {
	switch f {
	case LessTime:
		return 1 - 1/ratio
	case MoreTime:
		return 1/ratio - 1
	case Slower, Less:
		return 1 - ratio
	}
	return ratio - 1
}

// Figure is a number as a page prints it.
type Figure struct {
	Value float64
	Half  float64 // half a unit of its last digit
	Unit  string  // "%" for per cent; empty where none is written
	Text  string  // as written
}

// percent reports whether the figure is one of per cent.
func (f Figure) percent() bool { return f.Unit == "%" }

// near reports whether v rounds to the figure, to the digits it is written in.
func (f Figure) near(v float64) bool { return math.Abs(v-f.Value) <= f.Half*(1+1e-9)+1e-12 }

// meets reports whether the figure, unrounded, may lie within [lo, hi].
func (f Figure) meets(lo, hi float64) bool {
	slip := f.Half*1e-9 + 1e-12
	return f.Value+f.Half >= lo-slip && f.Value-f.Half <= hi+slip
}

// places is to how many decimals the figure is written.
func (f Figure) places() int {
	return min(max(0, int(math.Round(-math.Log10(2*f.Half)))), 11)
}

// Claim is one sentence of a page with its numbers.
type Claim struct {
	Text          string
	Before, After string // profiles
	// One of Benchmark (with Metric, empty for its score), Class and Suite says
	// which runs it is held against; none of them: against arithmetic alone.
	Benchmark, Metric, Class string
	Suite                    bool

	Form    ClaimForm // empty: From and To are all that is claimed
	Change  *Figure   // above zero; nil for "level" within the tolerance in force
	AtLeast bool      // "at least 2 %"

	From, To  *Figure  // the figures that the change is between
	Steps     []Figure // percentages that follow each other and make Change
	AverageOf []Figure // percentages whose mean is Change

	At     Place
	Places map[string]Place // of the keys
}

// NamesRuns reports whether the claim is held against runs.
func (c *Claim) NamesRuns() bool { return c.Benchmark != "" || c.Class != "" || c.Suite }

func (c *Claim) fail(key, format string, args ...any) error {
	at, ok := c.Places[key]
	if !ok {
		at = c.At
	}
	return &PlacedError{at, fmt.Sprintf(format, args...)}
}

// formKey is the key under which the change is stated.
func (c *Claim) formKey() string {
	if c.Form == "" {
		return "from"
	}
	return string(c.Form)
}

// ClaimVerdict is what the runs and arithmetic say about a claim.
type ClaimVerdict string

// The verdicts on claims. See judgeClaim for the rule.
const (
	Supported       ClaimVerdict = "supported"
	Understated     ClaimVerdict = "understated"
	NotSettled      ClaimVerdict = "not settled"
	Overstated      ClaimVerdict = "overstated"
	Contradicted    ClaimVerdict = "contradicted"
	WrongArithmetic ClaimVerdict = "wrong arithmetic"
)

// Fails reports whether a page with such a claim must not be published.
func (v ClaimVerdict) Fails() bool {
	return v == Overstated || v == Contradicted || v == WrongArithmetic
}

// Kinds of faults of arithmetic.
const (
	FaultBase      = "wrong base"
	FaultDirection = "wrong direction"
	FaultChange    = "wrong change"
	FaultAdded     = "added, not multiplied"
	FaultProduct   = "wrong product"
	FaultAverage   = "not the average"
	FaultDegrees   = "percentage without a zero"
	FaultDigits    = "too many digits"
)

// HeldClaim is a claim and what became of it.
type HeldClaim struct {
	Claim
	Verdict ClaimVerdict
	// Data is what the runs alone say; empty where none are named, and for a
	// percentage that means nothing.
	Data   ClaimVerdict
	Faults []Note   // of arithmetic
	Notes  []Note   // why the runs say so, and what else a careful reader asks
	Exact  []string // what the figures that the claim lists make
	Result *Result  // what it is held against; nil where no runs are named
	Level  *float64 // the largest change that is called level, as Result.Change
	// Lo and Hi are the claimed change, allowing for its rounding: in per cent
	// or in the unit, plus in the claimed direction.
	Lo, Hi float64
}

// Interval is the result's estimate and interval in the words of the claim: in
// per cent or in the unit, plus in the claimed direction. ok is false where
// there is no interval.
func (h *HeldClaim) Interval() (estimate, lo, hi float64, ok bool) {
	r := h.Result
	if r == nil || r.Interval == nil {
		return 0, 0, 0, false
	}
	a, b := h.inWords(r.Interval[0]), h.inWords(r.Interval[1])
	return h.inWords(r.Change), math.Min(a, b), math.Max(a, b), true
}

// inWords turns a change of the result as it is shown into the claim's words.
func (h *HeldClaim) inWords(change float64) float64 {
	r, f := h.Result, h.Form
	if f == AsLevel {
		if r.Scale == Ratio {
			return 100 * change
		}
		return change
	}
	turned := r.Role == Score && r.Better == Lower // shown as speed
	if r.Scale != Ratio {
		if turned != (f.OfSpeed() && r.Better == Lower) {
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

// Claims is a page of sentences, held against runs and arithmetic.
type Claims struct {
	Confidence float64
	Correction Correction
	// Family is the number of comparisons that are corrected for each other:
	// see HoldClaims.
	Family int
	Policy string
	Pairs  []*Comparison // one a pair of profiles
	Held   []*HeldClaim
}

// Tally counts the verdicts.
func (c *Claims) Tally() map[ClaimVerdict]int {
	out := map[ClaimVerdict]int{}
	for _, h := range c.Held {
		out[h.Verdict]++
	}
	return out
}

// HoldClaims holds claims against the runs that they name, and against
// arithmetic.
//
// The claims of a page share one correction, Holm's unless the policy says
// otherwise. Its family is every score that the runs hold for the pairs of
// profiles named (with a policy those that it names), claimed or not, since
// whoever writes a page picks from all of them; and each cost, suite and class
// that a claim is about. So a page cannot make real what compare calls noise.
// A change is real as in Result.Real.
//
// The correction guards readers against a lucky page. That a claim is beyond
// the interval is told by the plain interval, at half the error of it: a true
// claim is called overstated or contradicted in at most 2.5 of 100 pages at
// 95 %. Holm's correction there would let pages with many claims overstate.
//
// An error means that nothing was judged; it is a *PlacedError where a claim
// or a value is at fault.
func HoldClaims(claims []Claim, runs *Runs, policy Policy, opt Options) (*Claims, error) {
	out := &Claims{Confidence: policy.Confidence, Correction: policy.Correction, Policy: policy.Source}
	if out.Confidence == 0 {
		out.Confidence = DefaultConfidence
	}
	if out.Correction == "" {
		out.Correction = Holm
	}
	pairs := map[[2]string]*Comparison{}
	named := map[*Result]bool{}
	for i := range claims {
		h := &HeldClaim{Claim: claims[i], Faults: []Note{}, Notes: []Note{}, Exact: []string{}}
		out.Held = append(out.Held, h)
		if !h.NamesRuns() {
			continue
		}
		names := [2]string{h.Before, h.After}
		c := pairs[names]
		if c == nil {
			for k, key := range [2]string{"before", "after"} {
				if len(runs.Profile(names[k])) == 0 {
					return nil, h.fail(key, "the runs hold no profile %q; there are %s", names[k], quotedList(runs.Profiles()))
				}
			}
			var err error
			if c, err = Compare(runs.Profile(h.Before), runs.Profile(h.After), names, policy, opt); err != nil {
				return nil, err
			}
			pairs[names] = c
			out.Pairs = append(out.Pairs, c)
		}
		r, err := c.claimed(h)
		if err != nil {
			return nil, err
		}
		h.Result, named[r] = r, true
	}
	out.settle(named, policy)
	for _, h := range out.Held {
		if h.Result != nil {
			if err := h.inUnit(pairs[[2]string{h.Before, h.After}], runs, policy, opt); err != nil {
				return nil, err
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
		}
		switch {
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

// claimed finds what a claim is about.
func (c *Comparison) claimed(h *HeldClaim) (*Result, error) {
	switch {
	case h.Suite:
		if c.Suite == nil {
			return nil, h.fail("suite", "%s and %s share fewer than two scores that can be pooled, so there is no suite; name a benchmark", c.Before, c.After)
		}
		return c.Suite.Result, nil
	case h.Class != "":
		var classes []string
		for _, r := range c.Results {
			if r.Class != "" && r.Role == Score && !slices.Contains(classes, r.Class) {
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
		metric = DefaultMetric
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
	return list(out, 12)
}

// settle corrects everything that belongs to the page for each other.
func (c *Claims) settle(named map[*Result]bool, policy Policy) {
	var family []*Result
	absent := 0
	for _, pair := range c.Pairs {
		for _, r := range pair.Judged() {
			if named[r] || r.Parts == nil && r.Role == Score && r.Named {
				family = append(family, r)
			}
		}
		absent += len(pair.Absent)
	}
	if c.Family = len(family) + absent; c.Family > 0 {
		rule{c.Correction, c.Confidence, policy, nil}.settle(family, absent)
	}
	for r := range named {
		r.addVerdictNotes(c.Confidence)
	}
}

// inUnit compares a metric on a ratio scale anew, as a difference, where the
// claim is one of a difference: "22 W less".
func (h *HeldClaim) inUnit(c *Comparison, runs *Runs, policy Policy, opt Options) error {
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
			return h.fail(f.key, "%s is a mean of ratios and has no unit; write a percentage, or name a benchmark", suiteWord(r.Benchmark))
		case f.figure.Unit != r.Unit:
			return h.fail(f.key, "%s is in %q, but %s is measured in %q; write it in that unit", f.figure.Text, f.figure.Unit, r.Name(), r.Unit)
		}
	}
	if h.Change == nil || h.Change.percent() || r.Scale != Ratio {
		return nil
	}
	d := &Result{Metric: r.Metric, Notes: []Note{}}
	d.Scale, d.Tolerance = Interval, nil
	var sides [2]*Series
	for k, name := range [2]string{h.Before, h.After} {
		for _, s := range runs.Profile(name) {
			if s.Benchmark == r.Benchmark && s.Metric == r.Metric.Metric {
				sides[k] = s
			}
		}
	}
	if err := d.reduce(sides[0], sides[1]); err != nil {
		return err
	}
	d.measure(c)
	rule{NoCorrection, c.Confidence, policy, nil}.settle([]*Result{d}, 0)
	// The same runs in the same order of size: one comparison of the family.
	d.PAdjusted, d.Among = math.Max(d.PAdjusted, r.PAdjusted), r.Among
	d.judge(c.Confidence)
	d.addNotes(c)
	h.Result = d
	return nil
}

// fits refuses words that the metric cannot have.
func (h *HeldClaim) fits() error {
	r, key := h.Result, h.formKey()
	switch {
	case h.Form == "" && r.Parts != nil:
		return h.fail(key, "%s has no figures of its own; state the change, such as faster = 2.1", suiteWord(r.Benchmark))
	case h.Form == "" && r.Scale == Ratio && (h.From.Value <= 0 || h.To.Value <= 0):
		return h.fail(key, "from and to are %s and %s; %s has no values at or below zero", h.From.Text, h.To.Text, r.Name())
	case (h.Form == More || h.Form == Less) && r.Parts != nil:
		return h.fail(key, "%s = %s of a %s could be speed or time; write faster, slower, less-time or more-time", h.Form, h.Change.Text, suiteWord(r.Benchmark))
	case h.Form.OfSpeed() && r.Role != Score:
		return h.fail(key, "%s is of speed, but %s is a %s; write more or less", h.Form, r.Name(), r.Role)
	case (h.Form == LessTime || h.Form == MoreTime) && !r.isSpeed():
		return h.fail(key, "%s needs a time or a rate, but %s is in %q; write faster, slower, more or less", h.Form, r.Name(), r.Unit)
	case h.Form == AsLevel && h.Change == nil && r.Tolerance == nil:
		return h.fail(key, "no tolerance is stated for %s; write the largest change, such as level = 1 or level = \"2 W\"", r.Name())
	}
	return nil
}

// isSpeed reports whether a metric, or every score of a suite, is a time or a
// rate, so that time and speed are each other's inverse.
func (r *Result) isSpeed() bool {
	if r.Parts != nil {
		return !slices.ContainsFunc(r.Parts, func(p *Result) bool { return !p.isSpeed() })
	}
	return IsSpeed(r.Unit)
}
