package stats

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// Plan foresees comparisons of two independent sides like those of a pilot. It
// keeps what it has simulated, so that several questions about one pilot cost
// little more than one. Not for use by several goroutines at once. Nil is the
// plan without a pilot, which foresees nothing.
type Plan struct {
	before, after []float64
	design        Design
	df            float64 // on which the pilot's spread is taken to rest
	simulations   map[[2]int]*simulation

	reached    bool // se and excess are known, see pilotReach
	se, excess float64
}

// NewPlan takes in a pilot; it must not change afterwards.
func NewPlan(before, after []float64, design Design) *Plan {
	return &Plan{before: before, after: after, design: design, df: spreadDF(len(before), len(after)), simulations: map[[2]int]*simulation{}}
}

// spread says whether there is a pilot that shows how far values spread.
func (p *Plan) spread() bool {
	return p != nil && len(p.before) >= 2 && len(p.after) >= 2 && variance(p.before)+variance(p.after) != 0
}

// BlindSpot is BlindSpot for the plan's pilot and design.
func (p *Plan) BlindSpot(margin float64) (loss float64, ok bool) {
	m, n := len(p.before), len(p.after)
	if !p.spread() || SmallestP(m, n) > p.design.bar()+slack {
		return 0, false
	}
	return p.outlook(m, n).smallestCaught(p.design.Power, margin), true
}

// SizeToCatch is SizeToCatch for the plan's pilot and design.
func (p *Plan) SizeToCatch(loss, margin float64) (size int, ok bool) {
	if !p.spread() || !(loss > margin) {
		return 0, false
	}
	enough := func(size int) bool {
		if simulated(size, size) {
			return p.simulation(size, size).enough(loss, margin, p.design.Power)
		}
		return p.outlook(size, size).caught(loss, margin) >= p.design.Power
	}
	// Simulation and closed form do not meet without a step. The largest size
	// that is simulated says which of them answers.
	switch floor := max(2, FloorSize(p.design.bar())); {
	case floor > planSize:
		return smallestSize(floor, enough)
	case enough(planSize):
		return firstEnough(floor-1, planSize, enough), true
	}
	return smallestSize(planSize+1, enough)
}

// simulated says whether a comparison of m and n values is simulated.
func simulated(m, n int) bool { return m*n <= planSize*planSize }

func (p *Plan) simulation(m, n int) *simulation {
	s := p.simulations[[2]int{m, n}]
	if s == nil {
		s = newSimulation(p, m, n)
		p.simulations[[2]int{m, n}] = s
	}
	return s
}

// outlook foresees a comparison of m and n values.
func (p *Plan) outlook(m, n int) outlook {
	if simulated(m, n) {
		return p.simulation(m, n).doubtful()
	}
	if !p.reached {
		p.se, p.excess = p.pilotReach()
		p.reached = true
	}
	pm, pn := len(p.before), len(p.after)
	c := closed{df: p.df, se: p.se * math.Sqrt((1/float64(m)+1/float64(n))/(1/float64(pm)+1/float64(pn)))}
	c.reach = c.se * rankWidth(m, n, p.design) * (1 + p.excess*float64(pm+pn)/float64(max(pm+pn, m+n)))
	return c
}

// pilotReach is the standard error of a pilot's estimate, and by which share
// the region reaches further than in a normal sample: differences thin out
// towards the ends. That excess fades as samples grow.
func (p *Plan) pilotReach() (se, excess float64) {
	m, n := len(p.before), len(p.after)
	reach := 0.0
	if simulated(m, n) {
		s := p.simulation(m, n)
		own := s.certain() // the caller counts the doubt
		se, reach = s.standardError(), own.reach[0]
		if !math.IsInf(reach, 1) { // else so small a pilot can settle nothing
			reach = mean(own.reach)
		}
	} else {
		se, reach = observedReach(p.before, p.after, p.design)
	}
	if width := rankWidth(m, n, p.design); !math.IsInf(reach, 1) && se > 0 {
		excess = reach/(se*width) - 1
	}
	return se, excess
}

// simulation compares m and n values drawn from the smoothed pilot, time and
// again, as far as somebody needs to know.
type simulation struct {
	rule    *rankRule
	pb, pa  pilot
	nothing float64
	drawn   *planDraws
	x, y    []float64
	made    int
	cloud   cloud     // as certain
	means   []float64 // differences of means
}

func newSimulation(p *Plan, m, n int) *simulation {
	s := &simulation{rule: newRankRule(m, n, p.design), pb: newPilot(p.before), pa: newPilot(p.after), x: make([]float64, m), y: make([]float64, n)}
	// Two skewed sides of equal means have another estimate than 0.
	s.nothing = HodgesLehmann(s.pb.residual, s.pa.residual)
	key := planKey{m, n, len(p.before), len(p.after)}
	s.drawn = plansDrawn.get(key, func() *planDraws { return newPlanDraws(key) })
	s.cloud, s.means = cloud{make([]float64, planRepeats), make([]float64, planRepeats)}, make([]float64, planRepeats)
	return s
}

// upTo makes the first repetitions.
func (s *simulation) upTo(count int) {
	all := len(s.x) + len(s.y)
	for ; s.made < count; s.made++ {
		d := s.drawn.value[s.made*all:][:all]
		s.pb.place(d[:len(s.x)], s.x)
		s.pa.place(d[len(s.x):], s.y)
		s.means[s.made] = mean(s.y) - mean(s.x)
		e, end := s.rule.ends(s.x, s.y)
		s.cloud.estimate[s.made], s.cloud.reach[s.made] = e-s.nothing, end-e
	}
}

// certain takes the pilot's spread for the true one.
func (s *simulation) certain() cloud {
	s.upTo(planRepeats)
	return s.cloud
}

// standardError is that of the estimate. All metrics share the drawn numbers,
// so their luck would move all plans alike. The difference of means shows it:
// its variance is known, that of its repetitions is not quite the same, and the
// estimate's is off by as much of that as the two go together (the variance as
// a control variate; on the logarithm its coefficient is the squared
// correlation). That leaves 3 % of error where the repetitions alone are 5.5 %
// off (TestSimulationStandardError).
func (s *simulation) standardError() float64 {
	s.upTo(planRepeats)
	e, known := s.cloud.estimate, s.pb.variance()/float64(len(s.x))+s.pa.variance()/float64(len(s.y))
	ve, vm := variance(e), variance(s.means)
	if ve == 0 || vm == 0 {
		return math.Sqrt(ve)
	}
	together, ce, cm := 0.0, mean(e), mean(s.means)
	for r := range e {
		together += (e[r] - ce) * (s.means[r] - cm) / float64(planRepeats-1)
	}
	return math.Sqrt(ve * math.Pow(known/vm, together*together/(ve*vm)))
}

// doubtful gives each repetition a spread of its own, as uncertain as the
// pilot leaves it.
func (s *simulation) doubtful() cloud {
	s.upTo(planRepeats)
	c := cloud{make([]float64, planRepeats), make([]float64, planRepeats)}
	for r, by := range s.drawn.scale {
		c.estimate[r], c.reach[r] = by*s.cloud.estimate[r], by*s.cloud.reach[r]
	}
	return c
}

// enough says whether doubtful catches the loss with at least this chance. It
// stops when the rest could not change the answer, or would so less often than
// once in a billion.
func (s *simulation) enough(loss, margin, power float64) bool {
	caught := 0
	for r, by := range s.drawn.scale {
		if float64(caught+planRepeats-r)/planRepeats < power || farBelow(caught, r, power) {
			return false
		}
		s.upTo(r + 1)
		if by*s.cloud.estimate[r]+math.Max(by*s.cloud.reach[r], margin) < loss {
			caught++
			if float64(caught)/planRepeats >= power {
				return true
			}
		}
	}
	return float64(caught)/planRepeats >= power
}

// farBelow says whether so few of so many tries have a chance below 1e-9 where
// each succeeds with the given one (Hoeffding, J. Amer. Statist. Assoc.
// 58:13-30, 1963, theorem 1).
func farBelow(successes, tries int, chance float64) bool {
	n, share := float64(tries), float64(successes)/float64(tries)
	if tries == 0 || share >= chance {
		return false
	}
	exponent := (1 - share) * math.Log((1-share)/(1-chance))
	if share > 0 {
		exponent += share * math.Log(share/chance)
	}
	return n*exponent > 9*math.Ln10
}

// planDraw says how one value of a simulated comparison arises: which residual
// of the pilot, and which multiple of the kernel is added.
type planDraw struct {
	residual uint32
	kernel   float64
}

// planDraws are the random numbers of all repetitions. They depend on sizes
// only, so all metrics of the same sizes share them.
type planDraws struct {
	value []planDraw // m+n a repetition
	scale []float64  // of the spread, a repetition each
}

type planKey struct{ m, n, pilotM, pilotN int }

var plansDrawn = memo[planKey, *planDraws]{most: 32}

// planStrata equal parts of the distribution of the difference of means, were
// the pilot normal, have equal shares in the repetitions (stratified sampling,
// Cochran, Sampling Techniques, 1977, section 5.6). With a part a repetition the
// losses came out no better known.
const planStrata = 32

// newPlanDraws draws until every stratum is full; the order is that of the
// draws.
func newPlanDraws(k planKey) *planDraws {
	d := &planDraws{make([]planDraw, 0, planRepeats*(k.m+k.n)), make([]float64, planRepeats)}
	g := rand.New(rand.NewPCG(planSeed, uint64(k.m)<<32|uint64(k.n)))
	before, after := newNormalPilot(k.pilotM), newNormalPilot(k.pilotN)
	sd := math.Sqrt(before.variance()/float64(k.m) + after.variance()/float64(k.n))
	drawn, x, y := make([]planDraw, k.m+k.n), make([]float64, k.m), make([]float64, k.n)
	for taken := make([]int, planStrata); len(d.value) < cap(d.value); {
		for i := range drawn {
			from := k.pilotM
			if i >= k.m {
				from = k.pilotN
			}
			drawn[i] = planDraw{uint32(g.IntN(from)), g.NormFloat64()}
		}
		before.place(drawn[:k.m], x)
		after.place(drawn[k.m:], y)
		part := int(normalCDF((mean(y)-mean(x))/sd) * planStrata)
		if part = min(part, planStrata-1); taken[part] < planRepeats/planStrata {
			taken[part]++
			d.value = append(d.value, drawn...)
		}
	}
	df := spreadDF(k.pilotM, k.pilotN)
	chi := distuv.ChiSquared{K: df, Src: g}
	for r := range d.scale {
		d.scale[r] = math.Sqrt(df / chi.Rand())
	}
	return d
}

// newNormalPilot is a pilot of so many values that lie as normal noise does.
func newNormalPilot(n int) pilot {
	x := make([]float64, n)
	for i := range x {
		x[i] = normalQuantile((float64(i) + 0.5) / float64(n))
	}
	return newPilot(x)
}

func (p pilot) place(drawn []planDraw, into []float64) {
	for i, d := range drawn {
		into[i] = p.residual[d.residual] + p.kernel*d.kernel
	}
}

// variance is that of drawn values.
func (p pilot) variance() float64 {
	n := float64(len(p.residual))
	return variance(p.residual)*(n-1)/n + p.kernel*p.kernel
}
