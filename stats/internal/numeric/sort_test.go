package numeric

import (
	"math"
	"slices"
	"testing"

	"tunegate/stats/internal/statstest"
)

func TestSort(t *testing.T) {
	g := statstest.Generator(77)
	for _, n := range []int{0, 1, 2, radixFrom - 1, radixFrom, radixFrom + 1, 3000, 20_000} {
		for name, draw := range map[string]func() float64{
			"normal":       g.NormFloat64,
			"all positive": g.ExpFloat64,
			"ties":         func() float64 { return float64(g.IntN(7) - 3) },
			"one value":    func() float64 { return 2.5 },
			"wide": func() float64 {
				return math.Copysign(math.Ldexp(g.Float64(), g.IntN(2000)-1000), g.NormFloat64())
			},
			"infinite": func() float64 { return math.Inf(g.IntN(3) - 1) },
		} {
			x := make([]float64, n)
			for i := range x {
				x[i] = draw()
			}
			want := slices.Clone(x)
			slices.Sort(want)
			Sort(x)
			if !slices.Equal(x, want) {
				t.Errorf("%d values, %s: not in order", n, name)
			}
		}
	}
}
