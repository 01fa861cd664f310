package stats

import (
	"math"
	"math/rand/v2"
	"slices"
)

const (
	// enoughBeyond draws at or beyond the observed value end a simulated test:
	// p is then known to 14 % of itself.
	enoughBeyond = 50
	// mostDraws bounds a simulated test; its smallest p is 1 in 10,000.
	mostDraws = 9999
	// leastDraws are made however large the sample: its smallest p is 1 in 400.
	leastDraws = 399
	// drawnValues is how many values a simulated test may draw in all before
	// it makes do with fewer samples: some tenths of a second.
	drawnValues = 1e7
)

// drawsFor is how many samples of n values a simulated test draws at most.
func drawsFor(n int) int { return min(mostDraws, max(leastDraws, drawnValues/max(n, 1))) }

// simulatedP is the p value of an observed statistic from draws of it under
// the null hypothesis, as many as it needs: a clear case of "nothing there"
// ends early (Besag and Clifford, Biometrika 78:301-304, 1991). It holds its
// level whatever the number of draws. The seed is fixed, so the same input
// gives the same p.
func simulatedP(observed float64, most int, draw func(g *rand.Rand) float64) float64 {
	g := rand.New(rand.NewPCG(1991, 0))
	beyond := 0
	for made := 1; made <= most; made++ {
		if draw(g) >= observed {
			if beyond++; beyond == enoughBeyond {
				return float64(beyond) / float64(made)
			}
		}
	}
	return float64(beyond+1) / float64(most+1)
}

// noise draws one value of a noise shape; level and scale do not matter.
type noise func(*rand.Rand) float64

var (
	normalNoise noise = (*rand.Rand).NormFloat64
	skewedNoise noise = (*rand.Rand).ExpFloat64
	flatNoise   noise = (*rand.Rand).Float64
)

// deviations are runs less the median of their session; sessions of fewer than
// three runs are left out, since theirs say nothing. A single session is left
// as it is.
type deviations struct {
	value []float64
	at    []int // where each stands, counted through all sessions
	sizes []int // of the sessions in it
}

func newDeviations(sessions [][]float64) deviations {
	var d deviations
	start := 0
	for _, s := range sessions {
		if len(s) >= 3 {
			d.value = append(d.value, s...)
			d.sizes = append(d.sizes, len(s))
			for i := range s {
				d.at = append(d.at, start+i)
			}
		}
		start += len(s)
	}
	d.centre(d.value, make([]float64, len(d.value)))
	return d
}

// centre takes the median of each session off its values.
func (d deviations) centre(x, spare []float64) {
	if len(d.sizes) == 1 {
		return
	}
	for _, n := range d.sizes {
		copy(spare, x[:n])
		slices.Sort(spare[:n])
		m := middle(spare[:n])
		for i := range x[:n] {
			x[i] -= m
		}
		x = x[n:]
	}
}

// simulated is the larger p of a score, among values of either noise in
// sessions of the same sizes. score may reorder the values.
func (d deviations) simulated(observed float64, noises [2]noise, score func(x []float64) float64) float64 {
	n := len(d.value)
	x, spare := make([]float64, n), make([]float64, n)
	p := 0.0
	for _, draw := range noises {
		p = math.Max(p, simulatedP(observed, drawsFor(n), func(g *rand.Rand) float64 {
			for i := range x {
				x[i] = draw(g)
			}
			d.centre(x, spare)
			return score(x)
		}))
	}
	return p
}
