package compare

import (
	"fmt"
	"math"
	"slices"

	"tunegate/stats"
)

// MostResamples is the largest number of resamples that anybody may ask for, and
// MostLooks that of planned looks.
const (
	MostResamples = 10_000_000
	MostLooks     = 20
)

// Options are the settings of one comparison that are not policy.
type Options struct {
	Resamples int // 0: stats.DefaultResamples
	Seed      uint64
	Better    Better // direction of metrics that state none; empty: an error for them
	// Look and Looks judge one of several planned looks at the data, at the
	// confidence that keeps the policy's over all of them; 0 for a single one.
	Look, Looks int
	Vet         bool // also say in one line what looks unsafe about the data
	// Wanted says which metrics to look at; nil for all.
	Wanted func(benchmark, metric string) bool
	// Progress hears how much of the work is done, from one goroutine at a
	// time; nil for nobody.
	Progress func(done, total int)
}

func (o Options) wants(benchmark, metric string) bool {
	return o.Wanted == nil || o.Wanted(benchmark, metric)
}

// Comparison is everything known about two profiles. Changes and intervals of
// scores are turned so that plus is better; those of costs and infos keep
// their natural sign.
type Comparison struct {
	Before     string     `json:"before"`
	After      string     `json:"after"`
	Confidence float64    `json:"confidence"`
	Correction Correction `json:"correction"`
	Resamples  int        `json:"resamples"`
	Seed       uint64     `json:"seed"`
	Policy     string     `json:"policy,omitempty"`
	// Look is which of Looks planned looks this is; Overall is the confidence
	// that all of them keep together.
	Look    int     `json:"look,omitempty"`
	Looks   int     `json:"looks,omitempty"`
	Overall float64 `json:"overall_confidence,omitempty"`
	// Family is the number of scores that share the correction.
	Family     int       `json:"family"`
	Absent     []string  `json:"absent"`      // scores that the policy names and not both sides have
	OnlyBefore []string  `json:"only_before"` // metrics without a partner
	OnlyAfter  []string  `json:"only_after"`
	SetAside   []Aside   `json:"set_aside"`
	Results    []*Result `json:"metrics"`
	// Suite pools the scores, Classes those of each workload class; nil where
	// there are fewer than two.
	Suite   *Suite   `json:"suite"`
	Classes []*Suite `json:"classes"`
	Notes   []Note   `json:"notes"`
	// Findings are what looks unsafe about the data; empty unless asked for.
	Findings []Finding `json:"-"`

	lacking  []string // scores that one side lacks, and which
	progress *progress
}

// Aside is a run that does not count, and why.
type Aside struct {
	Profile   string `json:"profile"`
	Benchmark string `json:"benchmark"`
	Session   string `json:"session,omitempty"`
	Run       string `json:"run,omitempty"`
	Reason    string `json:"reason"`
	At        string `json:"at,omitempty"`
}

// Result is one metric of a comparison. Change, Interval and the like are
// fractions on a ratio scale (0.0243), in the metric's unit on an interval
// scale; nil where the runs do not give them.
type Result struct {
	Metric
	Before Side `json:"before"`
	After  Side `json:"after"`

	Change   float64     `json:"change"`
	Interval *[2]float64 `json:"interval"`
	// IntervalMethod is "bootstrap and rank inversion", "placements and rank
	// inversion" (large samples), "signed-rank inversion", "stratified
	// inversion" or "Student, assumes normal differences".
	IntervalMethod string `json:"interval_method,omitempty"`
	// Range stands in for an interval where none exists at the confidence:
	// from the smallest to the largest difference, with the level it has.
	Range      *[2]float64 `json:"range"`
	RangeLevel float64     `json:"range_level,omitempty"`
	// TimeSaved is the fraction of a lower-is-better time that is saved; its
	// interval likewise.
	TimeSaved *float64 `json:"time_saved"`

	Test          string      `json:"test"` // "mann-whitney", "signed-rank" or "van-elteren"
	U             *float64    `json:"u"`    // pairs with after > before
	W             *float64    `json:"w"`    // signed-rank sum of the blocks in which after is larger
	T             *float64    `json:"t"`    // van Elteren's sum over blocks
	P             float64     `json:"p"`
	PVerdict      float64     `json:"p_verdict"`
	PAdjusted     float64     `json:"p_adjusted"`
	PFloor        float64     `json:"p_floor"` // smallest that so many untied values can reach
	Method        string      `json:"method"`  // "exact" or "normal"
	Superiority   float64     `json:"superiority"`
	Replication   Replication `json:"unit_of_replication"`
	Replicates    [2]int      `json:"replicates"` // values compared on each side; blocks twice
	Real          bool        `json:"real"`
	Verdict       *Verdict    `json:"verdict"`
	CountsForGate bool        `json:"decides"` // a regression here changes the exit status
	CanSettle     bool        `json:"can_settle"`
	FloorSize     int         `json:"floor_size"`                // values a side (or blocks) from which a verdict is possible
	SettlesAt     float64     `json:"settles_at_confidence"`     // highest confidence at which these runs could settle
	BlindSpot     *float64    `json:"blind_spot"`                // smallest loss caught four times in five
	Needed        *int        `json:"needed"`                    // values a side (or blocks) to see a change of NeededFor
	NeededFor     *float64    `json:"needed_for"`                // the change that Needed would settle
	Tick          float64     `json:"tick,omitempty"`            // of coarse readings, which the interval allows for
	AloneNotAmong bool        `json:"real_alone_only,omitempty"` // real before the correction, not after
	Notes         []Note      `json:"notes"`
	// Among is the number of tests that share the correction with this one.
	Among int `json:"-"`
	// Parts are the scores that a suite pools; nil for a metric.
	Parts []*Result `json:"-"`

	before, after sample
	blocks        []string        // complete blocks, in order; nil where none are used
	differences   []float64       // one a block, where blocks hold one spell a side
	strata        []stats.Stratum // spells by block, where they hold several
	shift         float64         // the estimate, as compared
	leftOut       string          // what was not used because of blocks
	widened       float64         // by how much coarse readings moved the ends, as compared
	counts        bool            // of a suite: its regression changes the exit status
	pooled        *pooled         // of a suite whose scores share no value per session
	planner       planner
	wanted        int // values a side (or blocks) that the policy wants
}

// Note is something that a reader should know about a comparison or a metric.
type Note struct {
	Kind string `json:"kind"`
	Text string `json:"text"`
}

// Compare judges after against before. The sides' series may come in any
// order; runs of other profiles are not looked at. An error means that nothing
// was judged: a *PlacedError where a value is at fault.
func Compare(before, after []*Series, names [2]string, policy Policy, opt Options) (*Comparison, error) {
	c := newComparison(names, policy, opt)
	if err := policy.CheckOverrides(slices.Concat(before, after)...); err != nil {
		return nil, err
	}
	if err := c.pairUp(before, after, policy, opt); err != nil {
		return nil, err
	}
	pieces := 2 * len(c.Results)
	if opt.Vet {
		pieces++
	}
	c.progress = newProgress(pieces, opt.Progress)
	c.measure()
	c.conclude(policy, opt)
	if !opt.Vet {
		return c, nil
	}
	checked, err := c.check(before, after, policy, opt)
	if err != nil {
		return nil, err
	}
	c.progress.step()
	c.vet(checked, policy)
	return c, nil
}

func newComparison(names [2]string, policy Policy, opt Options) *Comparison {
	c := &Comparison{Before: names[0], After: names[1], Confidence: policy.Confidence, Correction: policy.Correction,
		Resamples: opt.Resamples, Seed: opt.Seed, Policy: policy.Source,
		Absent: []string{}, OnlyBefore: []string{}, OnlyAfter: []string{}, SetAside: []Aside{}, Results: []*Result{}, Classes: []*Suite{}, Notes: []Note{}}
	c.fillDefaults()
	if opt.Looks > 1 {
		c.Look, c.Looks, c.Overall = opt.Look, opt.Looks, c.Confidence
		c.Confidence = LookConfidence(c.Overall, opt.Look, opt.Looks)
	}
	return c
}

// conclude judges what is measured.
func (c *Comparison) conclude(policy Policy, opt Options) {
	c.decide(policy, opt)
	c.pool(policy)
	c.addNotes()
}

const vetNote = "look at the data first: %s (tunegate vet has the evidence)"

// check looks at every series that is compared.
func (c *Comparison) check(before, after []*Series, policy Policy, opt Options) ([]Checked, error) {
	compared := c.compared()
	var series []*Series
	for _, s := range slices.Concat(before, after) {
		if r := compared[s.ID()]; r != nil {
			known := *s // one side may state what holds for both
			known.Unit, known.Better = r.Unit, r.Better
			series = append(series, &known)
		}
	}
	return checkAll(series, policy, Options{Better: opt.Better})
}

// compared finds a result by its benchmark and metric.
func (c *Comparison) compared() map[MetricID]*Result {
	by := map[MetricID]*Result{}
	for _, r := range c.Results {
		by[r.ID()] = r
	}
	return by
}

// vet says in one line what looks unsafe about the data.
func (c *Comparison) vet(checked []Checked, policy Policy) {
	v := gather(checked, policy)
	c.Findings = v.Findings
	if s := v.Summary(); s != "" {
		c.note("vet", vetNote, s)
	}
}

func (c *Comparison) fillDefaults() {
	if c.Confidence == 0 {
		c.Confidence = DefaultConfidence
	}
	if c.Correction == "" {
		c.Correction = Holm
	}
	if c.Resamples == 0 {
		c.Resamples = stats.DefaultResamples
	}
}

// measure computes estimate, test and interval of every metric.
func (c *Comparison) measure() {
	c.progress.onAllCores(c.Results, func(r *Result) { r.measure(c) })
}

// decide corrects the scores for each other and gives every verdict, and says
// what could not be seen and what would settle it.
func (c *Comparison) decide(policy Policy, opt Options) {
	present := map[MetricID]bool{}
	var scores, others []*Result
	for _, r := range c.Results {
		present[r.ID()] = true
		if r.inFamily() {
			scores = append(scores, r)
		} else {
			others = append(others, r)
		}
	}
	absent := policy.absentScores(present)
	for _, m := range absent {
		if opt.wants(m.Benchmark, m.Metric) {
			c.Absent = append(c.Absent, m.Name())
		}
	}
	c.Family = len(scores) + len(absent)
	rule := rule{c.Correction, c.Confidence, policy, c.progress}
	rule.settle(scores, len(absent))
	rule.alone().settle(others, 0)
}

// inFamily reports whether a metric shares the correction.
func (r *Result) inFamily() bool { return r.Role == Score && r.Named }

// rule is how results that are judged together are judged.
type rule struct {
	correction Correction
	confidence float64
	policy     Policy
	progress   *progress
}

// alone is the rule for results that are not corrected for each other.
func (u rule) alone() rule {
	u.correction = NoCorrection
	return u
}

// settle corrects results for each other, and for others that are absent, and
// gives each its verdict and its plan.
func (u rule) settle(results []*Result, absent int) {
	found := u.correct(results, absent)
	alpha, family := 1-u.confidence, len(results)+absent
	u.progress.onAllCores(results, func(r *Result) {
		others := found
		if r.PAdjusted <= alpha+slack {
			others--
		}
		r.plan(u.confidence, barFor(u.correction, alpha, family, others), u.policy)
	})
}

// correct does so without a plan, and says how many p values are found.
func (u rule) correct(results []*Result, absent int) (found int) {
	p := make([]float64, len(results)+absent)
	for i := range p {
		p[i] = 1
		if i < len(results) {
			p[i] = results[i].PVerdict
		}
	}
	adjusted := adjust(u.correction, p)
	for i, r := range results {
		r.PAdjusted, r.Among = adjusted[i], len(p)
		if u.correction == NoCorrection {
			r.Among = 1
		}
		if r.PAdjusted <= 1-u.confidence+slack {
			found++
		}
		r.judge(u.confidence)
	}
	return found
}

// slack keeps a p that equals the bar on its lower side, whatever the rounding.
const slack = 1e-12

func adjust(correction Correction, p []float64) []float64 {
	switch correction {
	case BenjaminiHochberg:
		return stats.BenjaminiHochberg(p)
	case NoCorrection:
		return p
	}
	return stats.Holm(p)
}

// barFor is what the uncorrected p of one of so many has to reach, given how
// many of the others are found.
func barFor(correction Correction, alpha float64, family, found int) float64 {
	switch correction {
	case BenjaminiHochberg:
		return alpha * float64(found+1) / float64(family)
	case NoCorrection:
		return alpha
	}
	return alpha / float64(max(1, family-found))
}

// Regressions lists the results that make the program fail.
func (c *Comparison) Regressions() []*Result {
	var out []*Result
	for _, r := range c.Results {
		if r.CountsForGate && r.Verdict != nil && *r.Verdict == Regression {
			out = append(out, r)
		}
	}
	if s := c.Suite; s != nil && s.CountsForGate && *s.Verdict == Regression {
		out = append(out, s.Result)
	}
	return out
}

// list joins names, at most n of them.
func list(names []string, n int) string {
	text := ""
	for i, name := range names {
		if i == n {
			return fmt.Sprintf("%s and %d more", text, len(names)-n)
		}
		if i > 0 {
			text += ", "
		}
		text += name
	}
	return text
}

// finite is nil for a number that is not one.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
