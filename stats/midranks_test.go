package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestMidranks(t *testing.T) {
	for _, c := range []struct{ x, want []float64 }{ // counting
		{nil, []float64{}},
		{[]float64{7}, []float64{1}},
		{[]float64{30, 10, 20}, []float64{3, 1, 2}},
		{[]float64{5, 5, 5}, []float64{2, 2, 2}},
		{[]float64{2, 1, 2, 0}, []float64{3.5, 2, 3.5, 1}},
		{[]float64{-1, 0, -1, 4, 0, 0}, []float64{1.5, 4, 1.5, 6, 4, 4}},
	} {
		if got := midranks(c.x); !slices.Equal(got, c.want) {
			t.Errorf("midranks(%v) = %v, want %v", c.x, got, c.want)
		}
	}
}

// A midrank is one more than the number of smaller values, plus half the number
// of other equal ones: the definition (Lehmann 1975, section 1.4).
func TestMidranksByCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := statstest.AnySample(t, "values", 0, 40, true)
		given := slices.Clone(x)
		got := midranks(x)
		if !slices.Equal(x, given) {
			t.Fatalf("midranks changed its argument")
		}
		sum := 0.0
		for i, v := range x {
			want := 0.5
			for _, w := range x {
				switch {
				case w < v:
					want++
				case w == v:
					want += 0.5
				}
			}
			if got[i] != want {
				t.Fatalf("rank of %v among %v is %v, want %v", v, x, got[i], want)
			}
			sum += got[i]
		}
		if n := float64(len(x)); sum != n*(n+1)/2 {
			t.Fatalf("ranks sum to %v, want %v", sum, n*(n+1)/2)
		}
	})
}

// NaN has no rank: whatever orders values says so instead of looking for its
// equals without end.
func TestNaNPanics(t *testing.T) {
	x, y := []float64{1, math.NaN(), 3, 4, 2, 5, 7}, []float64{2, 3, 6, 8, 9, 1, 4}
	for name, f := range map[string]func(){
		"midranks":          func() { midranks(x) },
		"MannWhitney":       func() { MannWhitney(x, y) },
		"MannWhitney after": func() { MannWhitney(y, x) },
		"HodgesLehmann":     func() { HodgesLehmann(x, y) },
		"SignedRank":        func() { SignedRank(x) },
	} {
		func() {
			defer func() {
				if got := recover(); got != numeric.NotANumber {
					t.Errorf("%s: panics with %v, want %q", name, got, numeric.NotANumber)
				}
			}()
			f()
		}()
	}
}
