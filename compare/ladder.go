package compare

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/stats"
)

// MostRungs is the largest number of profiles on a ladder.
const MostRungs = 12

// Ladder is a chain of profiles, each tried on top of the one before.
type Ladder struct {
	Profiles   []string
	Confidence float64
	Correction Correction
	Resamples  int
	Seed       uint64
	Policy     string
	Scores     []string // that every profile has: what the suite is made of
	Weights    []float64
	LeftOut    []string // scores that some profile lacks, and which
	Steps      []*Step  // from each profile to the next
	Total      *Step    // from the first to the last, measured; the step where there is one
	Product    float64  // of the steps' ratios, less 1
	// Explained says whether noise explains the gap between the product and the
	// measured total.
	Explained bool
	Rungs     []*Rung
	FrontCost string   // the cost of the front; empty where none is recorded
	FrontOf   []string // the benchmarks that it is measured on
	Works     []*Work
	SetAside  []Aside
	Notes     []Note
	Findings  []Finding // what looks unsafe about the data; empty unless asked for
}

// Step is one comparison on a ladder. Its scores share the correction with
// those of all steps, its suite with the suites of all steps.
type Step struct {
	From, To   string
	Comparison *Comparison
	Suite      *Suite
}

// Measured lists the steps and, where it is not the only step, the total.
func (l *Ladder) Measured() []*Step {
	if len(l.Steps) == 1 {
		return l.Steps
	}
	return append(slices.Clone(l.Steps), l.Total)
}

// Rung is what a profile costs and brings beside the first one. Fields are nil
// where nothing is recorded, and for the first profile, but Front.
type Rung struct {
	Profile    string
	Speed      *Suite
	Power      *Suite
	Heat       *Suite // temperature rise where ambient is recorded, else temperature
	Energy     *Suite // of a job
	Efficiency *Suite // work per joule
	Front      Front
	BeatenBy   []string // profiles that beat it, or may
}

// Front says whether a profile is on the front that nothing beats on both speed
// and cost.
type Front string

// Places on the front.
const (
	OnFront     Front = "front"
	Beaten      Front = "beaten"
	FrontUnsure Front = "not settled" // beaten by the estimates, but not by more than noise
	NoFront     Front = ""            // no cost is recorded
)

// Work is one kind of work and the profile that is fastest at it.
type Work struct {
	Name    string
	Mix     bool
	Scores  []string
	Leader  string
	Gain    *Result  // of the leader over the first profile; nil where it is the first
	Rivals  []string // that the leader does not really beat
	TooFew  int      // sessions or runs a side that it takes to tell so many profiles apart; 0 where there are enough
	Settled bool
}

// Share is the part of the work that a class has in a mix.
type Share struct {
	Class string
	Part  float64
}

// ladder is what is worked out on the way.
type ladder struct {
	*Ladder
	policy Policy
	opt    Options
	sides  [][]*Series
	common map[MetricID]bool // scores that every profile has
	pairs  map[[2]int]*Comparison
}

// Climb judges a chain of profiles: each step, the total, what each profile
// costs beside the first, which ones nothing beats, and which is best for each
// class of work and for the mix, if one is given. It is an error when a link of
// the chain is not measured.
func Climb(profiles []string, sides [][]*Series, mix []Share, policy Policy, opt Options) (*Ladder, error) {
	if len(profiles) < 2 || len(profiles) > MostRungs {
		return nil, fmt.Errorf("a ladder has 2 to %d profiles, found %d", MostRungs, len(profiles))
	}
	l := &ladder{Ladder: &Ladder{Profiles: profiles, LeftOut: []string{}, SetAside: []Aside{}, Notes: []Note{}},
		policy: policy, opt: opt, pairs: map[[2]int]*Comparison{}}
	if err := policy.CheckOverrides(slices.Concat(sides...)...); err != nil {
		return nil, err
	}
	for _, side := range sides {
		derived, err := derive(side, policy)
		if err != nil {
			return nil, err
		}
		l.sides = append(l.sides, derived)
	}
	p := newProgress(len(profiles)*(len(profiles)-1)/2, opt.Progress)
	for i := range profiles {
		for j := i + 1; j < len(profiles); j++ {
			if err := l.compare(i, j); err != nil {
				return nil, err
			}
			p.step()
		}
	}
	if err := l.findCommon(); err != nil {
		return nil, err
	}
	l.steps()
	l.rungs()
	if err := l.works(mix); err != nil {
		return nil, err
	}
	l.front()
	l.addNotes()
	if opt.Vet {
		v, err := Vet(slices.Concat(sides...), policy, Options{Better: opt.Better})
		if err != nil {
			return nil, err
		}
		l.Findings = v.Findings
		if s := v.Summary(); s != "" {
			l.note("vet", vetNote, s)
		}
	}
	return l.Ladder, nil
}

func (l *ladder) rule() rule { return rule{l.Correction, l.Confidence, l.policy, nil} }

// compare measures two profiles against each other; nothing is judged yet.
func (l *ladder) compare(i, j int) error {
	c := &Comparison{Before: l.Profiles[i], After: l.Profiles[j], Confidence: l.policy.Confidence, Correction: l.policy.Correction,
		Resamples: l.opt.Resamples, Seed: l.opt.Seed, Policy: l.policy.Source,
		Absent: []string{}, OnlyBefore: []string{}, OnlyAfter: []string{}, SetAside: []Aside{}, Results: []*Result{}, Classes: []*Suite{}, Notes: []Note{}}
	c.fillDefaults()
	l.Confidence, l.Correction, l.Resamples, l.Seed, l.Policy = c.Confidence, c.Correction, c.Resamples, c.Seed, c.Policy
	if err := c.pairUp(l.sides[i], l.sides[j], l.policy, l.opt); err != nil {
		var placed *PlacedError
		switch {
		case errors.As(err, &placed):
			return err
		case j == i+1:
			return fmt.Errorf("a chain needs every link measured: %w", err)
		}
		return nil // then no score is common to all, and findCommon says so
	}
	c.measure()
	l.pairs[[2]int{i, j}] = c
	return nil
}

// findCommon finds the scores that every profile has: only they can be chained.
func (l *ladder) findCommon() error {
	links := map[MetricID]int{} // steps that have both sides of a score
	var order []*Result
	for i := range l.Profiles {
		for j := i + 1; j < len(l.Profiles); j++ {
			c := l.pairs[[2]int{i, j}]
			if c == nil {
				continue
			}
			for _, r := range c.Results {
				if r.Role != Score || !r.Named || r.Scale != Ratio || isCost(r.Metric.Metric) {
					continue
				}
				k := r.ID()
				if _, met := links[k]; !met {
					links[k] = 0
					order = append(order, r)
				}
				if j == i+1 {
					links[k]++
				}
			}
		}
	}
	l.common = map[MetricID]bool{}
	for _, r := range order {
		k := r.ID()
		if links[k] == len(l.Profiles)-1 {
			l.common[k] = true
			l.Scores, l.Weights = append(l.Scores, r.Name()), append(l.Weights, r.Weight)
			continue
		}
		var without []string
		for p, name := range l.Profiles {
			if !slices.ContainsFunc(l.sides[p], func(s *Series) bool { return s.Benchmark == r.Benchmark && s.Metric == r.Metric.Metric }) {
				without = append(without, name)
			}
		}
		l.LeftOut = append(l.LeftOut, fmt.Sprintf("%s (no valid run for %s)", r.Name(), orWord(strings.Join(without, ", "), "some profile that has it")))
	}
	if len(l.common) == 0 {
		return fmt.Errorf("no score was measured on every profile (%s), and steps measured on different work cannot be chained; run one benchmark on all of them",
			strings.Join(l.Profiles, ", "))
	}
	return nil
}

// isCost reports a metric that a ladder weighs as a cost, whatever its role.
func isCost(metric string) bool {
	return slices.Contains([]string{MetricPower, MetricEnergy, MetricTemperature, MetricAmbient, MetricRise, MetricEfficiency}, metric)
}

// of lists a comparison's scores that every profile has.
func (l *ladder) of(c *Comparison) []*Result {
	var out []*Result
	for _, r := range c.Results {
		if r.Role == Score && l.common[r.ID()] {
			out = append(out, r)
		}
	}
	return out
}

// steps judges each step and the total: suites corrected together, and scores
// corrected together over all of them.
func (l *ladder) steps() {
	last := len(l.Profiles) - 1
	var suites, scores, others []*Result
	absent := 0
	add := func(i, j int) *Step {
		c := l.pairs[[2]int{i, j}]
		present := map[MetricID]bool{}
		for _, r := range c.Results {
			present[r.ID()] = true
		}
		for _, m := range l.policy.absentScores(present) {
			if l.opt.wants(m.Benchmark, m.Metric) {
				absent++
			}
		}
		s := &Step{From: c.Before, To: c.After, Comparison: c, Suite: c.suite(pooling{name: "suite, " + c.Before + " to " + c.After}, l.of(c), l.policy)}
		if s.Suite != nil {
			suites = append(suites, s.Suite.Result)
		}
		for _, r := range c.Results {
			if r.Role == Score && r.Named {
				scores = append(scores, r)
			} else {
				others = append(others, r)
			}
		}
		return s
	}
	log := 0.0
	for i := range last {
		s := add(i, i+1)
		l.Steps = append(l.Steps, s)
		if s.Suite != nil {
			log += math.Log1p(s.Suite.Change)
		}
	}
	l.Total = l.Steps[0]
	if last > 1 {
		l.Total = add(0, last)
	}
	l.Product = math.Expm1(log)
	rule := l.rule()
	rule.settle(scores, absent)
	rule.alone().settle(others, 0)
	rule.settle(suites, 0)
	l.explain()
	for _, s := range l.Measured() {
		for _, a := range s.Comparison.SetAside {
			if !slices.Contains(l.SetAside, a) {
				l.SetAside = append(l.SetAside, a)
			}
		}
	}
}

// explain says whether noise explains the gap between the product and the
// measured total: it lies within their half-widths, added as independent ones
// are.
func (l *ladder) explain() {
	squares := 0.0
	for _, s := range l.Measured() {
		if s.Suite == nil || s.Suite.Interval == nil {
			return
		}
		half := (math.Log1p(s.Suite.Interval[1]) - math.Log1p(s.Suite.Interval[0])) / 2
		squares += half * half
	}
	gap := math.Log1p(l.Product) - math.Log1p(l.Total.Suite.Change)
	l.Explained = gap*gap <= squares
}

// costs pools a metric over the benchmarks whose scores every profile has. All
// of them have to have it on both sides: else the profiles would be weighed on
// different work.
func (l *ladder) costs(c *Comparison, name, metric string) *Suite {
	var parts []*Result
	priced := l.priced(metric)
	for _, r := range c.Results {
		if r.Metric.Metric == metric && r.Role != Score && priced[r.Benchmark] {
			parts = append(parts, r)
		}
	}
	if len(parts) == 0 {
		return nil
	}
	return c.suite(pooling{name: name}, parts, l.policy)
}

// priced are the benchmarks with a score and this metric for every profile.
func (l *ladder) priced(metric string) map[string]bool {
	count := map[string]int{}
	for i := range len(l.Profiles) - 1 {
		for _, r := range l.pairs[[2]int{i, i + 1}].Results {
			if r.Metric.Metric == metric && l.common[MetricID{r.Benchmark, DefaultMetric}] {
				count[r.Benchmark]++
			}
		}
	}
	out := map[string]bool{}
	for b, n := range count {
		if n == len(l.Profiles)-1 {
			out[b] = true
		}
	}
	return out
}

// firstPriced is the first metric that some benchmark has for every profile;
// empty where none has any.
func (l *ladder) firstPriced(metrics ...string) string {
	for _, m := range metrics {
		if len(l.priced(m)) > 0 {
			return m
		}
	}
	return ""
}

// unpriced names the benchmarks that some profiles have this metric for, but
// not all: their costs are in no column.
func (l *ladder) unpriced(metric string) []string {
	var order []string
	lacking := map[string][]string{}
	has := map[string]bool{}
	for p, side := range l.sides {
		for _, s := range side {
			if s.Metric == metric && !s.derived && !slices.Contains(order, s.Benchmark) {
				order = append(order, s.Benchmark)
			}
			if s.Metric == metric {
				has[l.Profiles[p]+"\x00"+s.Benchmark] = true
			}
		}
	}
	priced := l.priced(metric)
	var out []string
	for _, b := range order {
		for _, p := range l.Profiles {
			if !has[p+"\x00"+b] {
				lacking[b] = append(lacking[b], p)
			}
		}
		if !priced[b] && len(lacking[b]) > 0 {
			out = append(out, fmt.Sprintf("%s (not measured for %s)", b, strings.Join(lacking[b], ", ")))
		}
	}
	return out
}

// heat is the metric by which heat is weighed.
func (l *ladder) heat() string { return l.firstPriced(MetricRise, MetricTemperature) }

// rungs works out what each profile costs and brings beside the first.
func (l *ladder) rungs() {
	heat := l.heat()
	l.Rungs = append(l.Rungs, &Rung{Profile: l.Profiles[0]})
	for j := 1; j < len(l.Profiles); j++ {
		c := l.pairs[[2]int{0, j}]
		r := &Rung{Profile: l.Profiles[j], Speed: c.suite(pooling{name: "speed"}, l.of(c), l.policy)}
		r.Power, r.Heat = l.costs(c, MetricPower, MetricPower), l.costs(c, heat, heat)
		r.Energy, r.Efficiency = l.costs(c, MetricEnergy, MetricEnergy), l.costs(c, MetricEfficiency, MetricEfficiency)
		for _, s := range []*Suite{r.Speed, r.Power, r.Heat, r.Energy, r.Efficiency} {
			if s != nil {
				l.rule().alone().settle([]*Result{s.Result}, 0)
			}
		}
		l.Rungs = append(l.Rungs, r)
	}
}

// eachPair judges one quantity between every two profiles, corrected over all
// pairs. pick may return nil.
func (l *ladder) eachPair(pick func(*Comparison) *Suite) map[[2]int]*Result {
	out := map[[2]int]*Result{}
	var all []*Result
	for i := range l.Profiles {
		for j := i + 1; j < len(l.Profiles); j++ {
			if s := pick(l.pairs[[2]int{i, j}]); s != nil {
				out[[2]int{i, j}] = s.Result
				all = append(all, s.Result)
			}
		}
	}
	l.rule().correct(all, 0)
	return out
}

// works finds the fastest profile for the suite, for each class and for the
// mix.
func (l *ladder) works(mix []Share) error {
	scores := l.of(l.pairs[[2]int{0, 1}])
	classes := map[string][]*Result{}
	var names []string
	for _, r := range scores {
		if r.Class == "" {
			continue
		}
		if classes[r.Class] == nil {
			names = append(names, r.Class)
		}
		classes[r.Class] = append(classes[r.Class], r)
	}
	l.Works = append(l.Works, l.work("all scores", func(r *Result) float64 { return 1 }))
	for _, name := range names {
		l.Works = append(l.Works, l.work(name, func(r *Result) float64 {
			if r.Class == name {
				return 1
			}
			return 0
		}))
	}
	if len(mix) == 0 {
		return nil
	}
	factor := map[string]float64{}
	var words []string
	for _, share := range mix {
		if classes[share.Class] == nil {
			return fmt.Errorf("the mix names the class %q, which no score of every profile has; %s", share.Class, l.classWords(names))
		}
		total := 0.0
		for _, r := range classes[share.Class] {
			total += r.Weight
		}
		factor[share.Class] = share.Part / total
		words = append(words, fmt.Sprintf("%s %s %%", share.Class, Decimal(math.Round(1000*share.Part)/10, 12)))
	}
	var left []string
	for _, name := range names {
		if factor[name] == 0 {
			left = append(left, name)
		}
	}
	if len(left) > 0 {
		l.note("mix", "the mix leaves out %s; its shares are taken to be the whole", list(left, 6))
	}
	w := l.work(strings.Join(words, ", "), func(r *Result) float64 { return factor[r.Class] })
	w.Mix = true
	l.Works = append(l.Works, w)
	return nil
}

func (l *ladder) classWords(names []string) string {
	if len(names) == 0 {
		return "classes are stated in a policy: class = \"rendering\" in a [[metric]]"
	}
	return "there are " + strings.Join(names, ", ")
}

// work finds the leader of one kind of work: the profile with the largest gain
// over the first, and those that it does not really beat.
func (l *ladder) work(name string, factor func(*Result) float64) *Work {
	w := &Work{Name: name, Leader: l.Profiles[0]}
	pairs := l.eachPair(func(c *Comparison) *Suite {
		var parts []*Result
		var factors []float64
		for _, r := range l.of(c) {
			if f := factor(r); f > 0 {
				parts, factors = append(parts, r), append(factors, f)
			}
		}
		return c.suite(pooling{name: name, factors: factors}, parts, l.policy)
	})
	leader := 0
	for j := 1; j < len(l.Profiles); j++ {
		if r := pairs[[2]int{0, j}]; r != nil {
			if w.Scores == nil {
				for _, p := range r.Parts {
					w.Scores = append(w.Scores, p.Name())
				}
			}
			if r.Change > 0 && (w.Gain == nil || r.Change > w.Gain.Change) {
				w.Leader, w.Gain, leader = l.Profiles[j], r, j
			}
		}
	}
	for k, rival := range l.Profiles {
		if k == leader {
			continue
		}
		r := pairs[[2]int{min(k, leader), max(k, leader)}]
		if r == nil || !r.Real || (r.Change > 0) != (leader > k) {
			w.Rivals = append(w.Rivals, rival)
		}
	}
	w.Settled = len(w.Rivals) == 0
	for _, r := range pairs {
		// The strictest step of the correction, which the first of all needs.
		if bar := barFor(l.Correction, 1-l.Confidence, len(pairs), 0); r.PFloor > bar+slack && l.Correction != NoCorrection {
			w.TooFew = max(w.TooFew, stats.FloorSize(bar))
		}
	}
	return w
}

// front marks the profiles that nothing beats on both speed and cost: power, or
// energy or heat where no power is recorded. Another profile beats one where it
// is really better in one of the two and worse by more than the tolerance in
// neither; it may beat one where it is better by the estimate in one and really
// worse in neither.
func (l *ladder) front() {
	metric := l.firstPriced(MetricPower, MetricEnergy, MetricRise, MetricTemperature)
	if l.FrontCost = metric; metric == "" {
		return
	}
	for b := range l.priced(metric) {
		l.FrontOf = append(l.FrontOf, b)
	}
	slices.Sort(l.FrontOf)
	tolerance, _ := suiteTolerance(l.policy)
	speed := l.eachPair(func(c *Comparison) *Suite { return c.suite(pooling{name: "speed"}, l.of(c), l.policy) })
	cost := l.eachPair(func(c *Comparison) *Suite { return l.costs(c, metric, metric) })
	for i, rung := range l.Rungs {
		rung.Front = OnFront
		var perhaps []string
		for k, other := range l.Profiles {
			if k == i {
				continue
			}
			s, c := standing(speed[[2]int{min(i, k), max(i, k)}], k > i, 1, *tolerance), standing(cost[[2]int{min(i, k), max(i, k)}], k > i, -1, *tolerance)
			switch {
			case s.notWorse && c.notWorse && (s.better || c.better):
				rung.Front, rung.BeatenBy = Beaten, append(rung.BeatenBy, other)
			case !s.worse && !c.worse && (s.ahead || c.ahead):
				perhaps = append(perhaps, other)
			}
		}
		if rung.Front == OnFront && len(perhaps) > 0 {
			rung.Front, rung.BeatenBy = FrontUnsure, perhaps
		}
	}
}

// stand is how one profile stands to another in one quantity.
type stand struct {
	ahead         bool // by the estimate
	better, worse bool // really
	notWorse      bool // a loss beyond the tolerance is ruled out
}

// standing reads a comparison of two profiles: for the later one where later
// is set. sign is 1 where more is better. The tolerance of a difference is one
// unit.
func standing(r *Result, later bool, sign, tolerance float64) stand {
	if r == nil {
		return stand{}
	}
	lo, hi, change := math.Inf(-1), math.Inf(1), r.Change
	if r.Interval != nil {
		lo, hi = r.Interval[0], r.Interval[1]
	}
	if r.Scale != Ratio {
		tolerance = 1
	}
	if !later {
		sign = -sign
	}
	if sign < 0 {
		lo, hi, change = -hi, -lo, -change
	}
	return stand{ahead: change > 0, better: r.Real && change > 0, worse: r.Real && change < 0, notWorse: lo >= -tolerance}
}

// addNotes says what a careful reader would ask about: of the comparisons what
// is not about a single metric, once.
func (l *ladder) addNotes() {
	if n := len(l.Steps); n > 1 && l.Total.Suite != nil && l.Total.Suite.Interval != nil {
		s := l.Total.Suite
		p := s.places()
		text := "each step has noise of its own, which explains the gap; the measured total counts"
		if !l.Explained {
			text = "that is more than their noise explains: the steps were measured in other sittings or blocks, or something changed between them; the measured total counts"
		}
		if Decimal(100*l.Product, p) != Decimal(100*s.Change, p) {
			l.note("product", "the %d steps multiply to %+.*f %%, measured last against first it is %+.*f %%; %s", n, p, 100*l.Product, p, 100*s.Change, text)
		}
	}
	for _, metric := range []string{MetricPower, MetricEnergy, MetricTemperature} {
		if names := l.unpriced(metric); len(names) > 0 {
			l.note("cost-left-out", "%s is compared on benchmarks that have it for every profile; left out: %s", metric, list(names, 6))
		}
	}
	if len(l.Profiles) > 2 {
		l.note("choice", "the fastest profile is picked by the same runs that measure it, so its gain is a little flattered; which profile beats which is corrected over all pairs")
	}
	for _, s := range l.Measured() {
		if s.Suite != nil {
			s.Suite.addNotes(s.Comparison)
		}
		s.Comparison.addNotes()
		for _, n := range s.Comparison.Notes {
			if !slices.Contains(l.Notes, n) {
				l.Notes = append(l.Notes, n)
			}
		}
	}
}

func (l *ladder) note(kind, format string, args ...any) {
	l.Notes = append(l.Notes, Note{kind, fmt.Sprintf(format, args...)})
}
