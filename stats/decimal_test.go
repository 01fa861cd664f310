package stats

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestMaxAbs(t *testing.T) {
	if got := MaxAbs([]float64{1, -3}, nil, []float64{2}); got != 3 {
		t.Errorf("%v, want 3", got)
	}
	if got := MaxAbs(); got != 0 {
		t.Errorf("%v without values", got)
	}
}

// Equal differences of decimals tie, and a difference that should be 0 is.
func TestRoundDecimal(t *testing.T) {
	less := func(a, b float64) float64 { return a - b } // constants would be exact
	one, two, sum := less(80.3, 80.1), less(60.4, 60.2), less(0.3, -0.6)
	if one == two || sum == 0.9 {
		t.Error("binary arithmetic has no noise here: the checks below could not fail")
	}
	if a, b := RoundDecimal(one, 80.3), RoundDecimal(two, 60.4); a != b || a != 0.2 {
		t.Errorf("%v and %v", a, b)
	}
	if got := RoundDecimal(less(sum, 0.9), 0.9); got != 0 {
		t.Errorf("0.3 + 0.6 - 0.9 is %v", got)
	}
	// Twelve places, counted from the magnitude's first.
	if got := RoundDecimal(1.23456789012345, 1000); got != 1.234567890 {
		t.Errorf("%v", got)
	}
	// Where there is nothing to count from, or too much, the value stays.
	for _, magnitude := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-11, 1.1e12} {
		if got := RoundDecimal(one, magnitude); got != one {
			t.Errorf("magnitude %v: %v", magnitude, got)
		}
	}
}

func TestMedian(t *testing.T) {
	for _, c := range []struct {
		x    []float64
		want float64
	}{{[]float64{7}, 7}, {[]float64{3, 1, 2}, 2}, {[]float64{4, 1, 3, 2}, 2.5}} {
		given := slices.Clone(c.x)
		if got := Median(c.x); got != c.want || !slices.Equal(given, c.x) {
			t.Errorf("median of %v is %v, want %v; the values are now %v", given, got, c.want, c.x)
		}
	}
}

func TestEvenly(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8}
	if d := cmp.Diff([]float64{1, 4, 7}, Evenly(x, 3)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(x, Evenly(x, 9)); d != "" {
		t.Error(d)
	}
}
