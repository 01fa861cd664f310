package plan

import (
	"math"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

const (
	// planRepeats simulated comparisons make a plan. Stratified (planStrata), as
	// many give the loss that is caught in 80 % with an error of 3.7 % on average
	// over seeds, 400 unstratified ones of 3.5 %; this seed of 2.3 %
	// (TestBlindSpotRepetitions).
	planRepeats = 256
	// planSize is the largest number of values a side that is simulated; above
	// it the estimate is close enough to normal for the closed form. With 12,
	// losses stated for 20 + 20 were caught in 72 to 76 % in skewed, two-mode
	// and outlier noise instead of 80 %, with 20 in 79 to 84 %; with 30, those
	// for 30 + 30 in up to 89 %, since it keeps the shape of small samples.
	planSize = 20
	planSeed = 33
)

type samples struct{ before, after []float64 }

// Samples is the pilot of two independent sides. The rule is the rank test at
// Alpha, and 0 outside the interval at Confidence. Up to planSize values a side
// it is simulated on the smoothed pilot, with the exact test and
// stats.SpreadInversion (rankRule); above it a closed form serves alone. Sides of
// fewer than two values, or without any spread, give no forecast.
func Samples(before, after []float64) Pilot { return samples{before, after} }

func (s samples) Spread() float64 { return commonSpread(s.before, s.after) }

func (s samples) DF() float64 { return float64(len(s.before) + len(s.after) - 2) }

func (s samples) Scaled(factor float64) Pilot {
	return samples{scaled(s.before, factor), scaled(s.after, factor)}
}

func (s samples) MinSize(alpha float64) int { return MinSampleSize(alpha) }

// MinSampleSize returns the fewest values a side with which the rank test can
// reach alpha at all.
func MinSampleSize(alpha float64) int {
	n := 1
	for stats.SmallestP(n, n) > alpha+numeric.Slack {
		n++
	}
	return n
}

func (s samples) forecast(d Design) forecast {
	if len(s.before) < 2 || len(s.after) < 2 || numeric.Variance(s.before)+numeric.Variance(s.after) == 0 {
		return nil
	}
	return newSampleForecast(s, d)
}

// sampleForecast keeps what it has simulated, by sizes.
type sampleForecast struct {
	samples
	design      Design
	df          float64 // on which the pilot's spread is taken to rest
	simulations map[[2]int]*simulation

	reached    bool // se and excess are known, see pilotReach
	se, excess float64
}

func newSampleForecast(s samples, d Design) *sampleForecast {
	return &sampleForecast{samples: s, design: d, df: spreadDF(len(s.before), len(s.after)), simulations: map[[2]int]*simulation{}}
}

func (p *sampleForecast) own() (outlook, bool) {
	m, n := len(p.before), len(p.after)
	if stats.SmallestP(m, n) > p.design.criticalP()+numeric.Slack {
		return nil, false
	}
	return p.outlook(m, n), true
}

func (p *sampleForecast) at(n int) outlook { return p.outlook(n, n) }

func (p *sampleForecast) floor() int { return max(2, MinSampleSize(p.design.criticalP())) }

func (p *sampleForecast) size(loss, margin, power float64) (n int, ok bool) {
	enough := func(n int) bool {
		if simulated(n, n) {
			return p.simulation(n, n).enough(loss, margin, power)
		}
		return p.outlook(n, n).caught(loss, margin) >= power
	}
	// Simulation and closed form do not meet without a step. The largest size
	// that is simulated says which of them answers.
	switch floor := p.floor(); {
	case floor > planSize:
		return smallestSize(floor, enough)
	case enough(planSize):
		return firstEnough(floor-1, planSize, enough), true
	}
	return smallestSize(planSize+1, enough)
}

// simulated says whether a comparison of m and n values is simulated.
func simulated(m, n int) bool { return m*n <= planSize*planSize }

func (p *sampleForecast) simulation(m, n int) *simulation {
	s := p.simulations[[2]int{m, n}]
	if s == nil {
		s = newSimulation(p, m, n)
		p.simulations[[2]int{m, n}] = s
	}
	return s
}

// outlook is the outlook of a comparison of m and n values.
func (p *sampleForecast) outlook(m, n int) outlook {
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
func (p *sampleForecast) pilotReach() (se, excess float64) {
	m, n := len(p.before), len(p.after)
	reach := 0.0
	if simulated(m, n) {
		s := p.simulation(m, n)
		own := s.certain() // the caller counts the doubt
		se, reach = s.standardError(), own.reach[0]
		if !math.IsInf(reach, 1) { // else so small a pilot can settle nothing
			reach = numeric.Mean(own.reach)
		}
	} else {
		se, reach = observedReach(p.before, p.after, p.design)
	}
	if width := rankWidth(m, n, p.design); !math.IsInf(reach, 1) && se > 0 {
		excess = reach/(se*width) - 1
	}
	return se, excess
}

// observedReach reads the standard error of the estimate and the reach of the
// joined region off a large sample's own differences: one standard deviation
// of U to each side of the middle spans two standard errors.
func observedReach(before, after []float64, design Design) (se, reach float64) {
	x, y := numeric.Sorted(before), numeric.Sorted(after)
	m, n := float64(len(x)), float64(len(y))
	at := func(rank float64) float64 {
		return numeric.KthDifference(x, y, min(max(1, int(math.Ceil(rank))), len(x)*len(y)))
	}
	sd := math.Sqrt(m * n * (m + n) / 12)
	se = (at(m*n/2+sd) - at(m*n/2-sd)) / 2
	critical := float64(stats.RankCritical(len(x), len(y), design.criticalP()))
	reach = inversionReach(len(x), len(y), design.Confidence) * stats.SpreadFactor(x, y, design.Confidence)
	return se, at(math.Max(m*n+1-critical, (m*n+1)/2+reach)) - numeric.MedianDifference(x, y)
}

// spreadDF is on how many degrees of freedom a pilot's spread is taken to
// rest. Two thirds of the normal count: noise with a long tail or two modes
// leaves its spread less certain than normal noise does.
func spreadDF(m, n int) float64 { return math.Max(1, 2*float64(m+n-2)/3) }
