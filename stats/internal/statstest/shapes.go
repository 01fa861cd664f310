package statstest

import (
	"math"
	"math/rand/v2"
	"slices"

	"pgregory.net/rapid"
)

// Shapes are the noise shapes that promises are held to, with a standard
// deviation near 1.
var Shapes = map[string]func(*rand.Rand) float64{
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
	"t5": func(g *rand.Rand) float64 { // Student's t with 5 degrees of freedom: far runs on both sides
		squares := 0.0
		for range 5 {
			z := g.NormFloat64()
			squares += z * z
		}
		return g.NormFloat64() / math.Sqrt(squares/5)
	},
}

// ShapeNames are the shapes that intervals and tests of a change are held to. The
// checks are held to normal, skew and t5.
var ShapeNames = []string{"normal", "skew", "bimodal", "outlier"}

// Draw draws n values of a shape.
func Draw(g *rand.Rand, shape string, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = Shapes[shape](g)
	}
	return x
}

// Generator is a source of random numbers with a fixed seed.
func Generator(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }

// Moved returns the values times scale plus shift.
func Moved(x []float64, scale, shift float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = scale*v + shift
	}
	return out
}

// Negated turns the signs.
func Negated(x []float64) []float64 { return Moved(x, -1, 0) }

// Rounded puts values on a grid; a step that is a power of two keeps sums and
// differences exact, so that ties stay ties.
func Rounded(x []float64, step float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.Round(v/step) * step
	}
	return out
}

// AnySample draws between least and most values of any noise shape; where ties
// are allowed, two in three samples are on a grid.
func AnySample(t *rapid.T, name string, least, most int, ties bool) []float64 {
	g := Generator(rapid.Uint64().Draw(t, name+" seed"))
	x := Draw(g, rapid.SampledFrom(ShapeNames).Draw(t, name+" shape"), rapid.IntRange(least, most).Draw(t, name+" size"))
	if ties {
		if step := rapid.SampledFrom([]float64{0, 0.25, 1}).Draw(t, name+" grid"); step > 0 {
			return Rounded(x, step)
		}
	}
	return x
}

// AnySides draws two samples as AnySample does.
func AnySides(t *rapid.T, least, most int, ties bool) (before, after []float64) {
	return AnySample(t, "before", least, most, ties), AnySample(t, "after", least, most, ties)
}

// Shuffled returns the values in another order.
func Shuffled(t *rapid.T, x []float64) []float64 {
	out := slices.Clone(x)
	Generator(rapid.Uint64().Draw(t, "order")).Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// AllDifferences lists after - before in ascending order.
func AllDifferences(before, after []float64) []float64 {
	var d []float64
	for _, x := range before {
		for _, y := range after {
			d = append(d, y-x)
		}
	}
	slices.Sort(d)
	return d
}
