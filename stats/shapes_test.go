package stats

import (
	"math"
	"math/rand/v2"
	"slices"

	"pgregory.net/rapid"
)

// The noise shapes that promises are held to, with a standard deviation near 1.
var shapes = map[string]func(*rand.Rand) float64{
	"normal": func(g *rand.Rand) float64 { return g.NormFloat64() },
	"skew":   func(g *rand.Rand) float64 { return g.ExpFloat64() },
	"bimodal": func(g *rand.Rand) float64 { // one run in five misses a boost state
		if g.Float64() < 0.2 {
			return 0.5*g.NormFloat64() + 2
		}
		return 0.5 * g.NormFloat64()
	},
	"outlier": func(g *rand.Rand) float64 { // one run in ten is hit by a long slowdown
		if g.Float64() < 0.1 {
			return 0.7*g.NormFloat64() + 3*g.ExpFloat64()
		}
		return 0.7 * g.NormFloat64()
	},
}

var shapeNames = []string{"normal", "skew", "bimodal", "outlier"}

func draw(g *rand.Rand, shape string, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = shapes[shape](g)
	}
	return x
}

func generator(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }

// moved returns the values times scale plus shift.
func moved(x []float64, scale, shift float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = scale*v + shift
	}
	return out
}

// negated turns the signs.
func negated(x []float64) []float64 { return moved(x, -1, 0) }

// rounded puts values on a grid; a step that is a power of two keeps sums and
// differences exact, so that ties stay ties.
func rounded(x []float64, step float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.Round(v/step) * step
	}
	return out
}

// anySample draws between least and most values of any noise shape; where ties
// are allowed, two in three samples are on a grid.
func anySample(t *rapid.T, name string, least, most int, ties bool) []float64 {
	g := generator(rapid.Uint64().Draw(t, name+" seed"))
	x := draw(g, rapid.SampledFrom(shapeNames).Draw(t, name+" shape"), rapid.IntRange(least, most).Draw(t, name+" size"))
	if ties {
		if step := rapid.SampledFrom([]float64{0, 0.25, 1}).Draw(t, name+" grid"); step > 0 {
			return rounded(x, step)
		}
	}
	return x
}

func anySides(t *rapid.T, least, most int, ties bool) (before, after []float64) {
	return anySample(t, "before", least, most, ties), anySample(t, "after", least, most, ties)
}

// shuffled returns the values in another order.
func shuffled(t *rapid.T, x []float64) []float64 {
	out := slices.Clone(x)
	generator(rapid.Uint64().Draw(t, "order")).Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// allDifferences lists after - before in ascending order.
func allDifferences(before, after []float64) []float64 {
	var d []float64
	for _, x := range before {
		for _, y := range after {
			d = append(d, y-x)
		}
	}
	slices.Sort(d)
	return d
}
