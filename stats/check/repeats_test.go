package check

import (
	"fmt"
	"math"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestRepeatsByHand(t *testing.T) {
	if pairs, p := Repeats([]float64{412.31, 412.74, 411.97, 413.02}); pairs != 0 || p != 1 {
		t.Errorf("no repeats: %d pairs, p = %v", pairs, p)
	}
	if pairs, p := Repeats([]float64{412.3, 412.3, 412.3}); pairs != 3 || p != 1 {
		t.Errorf("constant: %d pairs, p = %v, want 3 and 1", pairs, p)
	}
	if pairs, _ := Repeats([]float64{1, 2, 2, 3, 3, 3, 4}); pairs != 4 {
		t.Errorf("%d equal pairs, want 4", pairs)
	}
	if pairs, p := Repeats(nil); pairs != 0 || p != 1 {
		t.Errorf("nothing: %d pairs, p = %v", pairs, p)
	}
}

func TestRepeatedStretchByHand(t *testing.T) { // counting
	for _, c := range []struct {
		x      []float64
		length int
		p      float64
	}{
		{[]float64{1, 2, 3, 4}, 0, 1},
		{[]float64{1, 2, 1, 3}, 1, 1}, // 6 places times 1/6
		{[]float64{1, 2, 3, 9, 1, 2, 3, 8}, 3, 28 * math.Pow(3./28, 3)},
		{[]float64{5, 5, 5, 5, 5, 5}, 3, 1},                  // no overlap
		{[]float64{1, 2, 1, 2, 1}, 2, 10 * math.Pow(0.4, 2)}, // three 1s and two 2s: 4 of 10 pairs
		{[]float64{1, 2, 3, 3, 2, 1}, 1, 1},                  // backwards is no copy
		{nil, 0, 1},
	} {
		if length, p := RepeatedStretch(c.x); length != c.length || math.Abs(p-math.Min(1, c.p)) > 1e-12 {
			t.Errorf("%v: %d, p = %v, want %d, %v", c.x, length, p, c.length, c.p)
		}
	}
}

// Honest readings of any fineness are called copied in no more than the stated
// share, computed ones too.
func TestRepeatsHoldTheirLevel(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repeats := 1500
	if statstest.RaceEnabled {
		repeats = 150
	}
	const bar = 0.01
	try := func(name string, n int, read func(level, noise float64) float64) {
		for _, shape := range statstest.ShapeNames {
			g := statstest.Generator(450 + uint64(n))
			var many, stretch int
			for range repeats {
				level := 400 + 10*g.Float64()
				x := statstest.Draw(g, shape, n)
				for i, v := range x {
					x[i] = read(level, v)
				}
				if _, p := Repeats(x); p <= bar {
					many++
				}
				if _, p := RepeatedStretch(x); p <= bar {
					stretch++
				}
			}
			for what, count := range map[string]int{"Repeats": many, "RepeatedStretch": stretch} {
				if share := float64(count) / float64(repeats); share > bar+3*statstest.StandardError(bar, repeats) {
					t.Errorf("%s, %d values, %s: %s in %.2f %%", name, n, shape, what, 100*share)
				}
			}
		}
	}
	for _, n := range []int{6, 20, 60} {
		for _, step := range []float64{0.001, 0.01, 0.1, 0.3, 1, 3} {
			try(fmt.Sprintf("step %v", step), n, func(level, noise float64) float64 { return math.Round((level+noise)/step) * step })
		}
		try("ms of whole frames a second", n, func(level, noise float64) float64 {
			return math.Round(1e6/math.Round(level/6+noise)) / 1e3
		})
	}
}

// How many copies are found, in values read to a thousandth of their noise.
func TestRepeatsFindCopies(t *testing.T) {
	const repeats = 400
	for i, c := range []struct {
		n                  int
		scattered, inOrder float64 // least shares found: Repeats, RepeatedStretch
	}{{12, 0.2, 0}, {20, 0.6, 0.99}, {40, 0.9, 0.99}} {
		g := statstest.Generator(460 + uint64(i))
		var many, stretch int
		for range repeats {
			x := statstest.Clean(g, "normal", []int{c.n}, 0)[0]
			y := append([]float64(nil), x...)
			copy(y[c.n/2:], y[:c.n/4]) // a quarter of the values, in order
			if _, p := RepeatedStretch(y); p <= 0.005 {
				stretch++
			}
			for j := range c.n / 4 { // the same values, in another order
				x[c.n/2+j] = x[c.n/4-1-j]
			}
			if _, p := Repeats(x); p <= 0.01 {
				many++
			}
		}
		a, b := float64(many)/repeats, float64(stretch)/repeats
		t.Logf("%d values, a quarter copied: %.0f %% found in any order, %.0f %% in the same order", c.n, 100*a, 100*b)
		if a < c.scattered || b < c.inOrder {
			t.Errorf("%d values, a quarter copied: found in %v, want %v; in order %v, want %v", c.n, a, c.scattered, b, c.inOrder)
		}
	}
}

// The longest stretch by looking at every pair of places.
func TestRepeatedStretchBruteForce(t *testing.T) {
	g := statstest.Generator(79)
	for try := range 3000 {
		x := make([]float64, g.IntN(40))
		levels := 1 + g.IntN(2+try%30)
		for i := range x {
			x[i] = float64(g.IntN(levels))
		}
		if n := len(x); n > 6 && try%3 == 0 {
			k := g.IntN(n / 2)
			copy(x[n-k:], x[:k])
		}
		want := 0
		for i := range x {
			for j := i + 1; j < len(x); j++ {
				k := 0
				for j+k < len(x) && i+k < j && x[i+k] == x[j+k] {
					k++
				}
				want = max(want, k)
			}
		}
		if got, _ := RepeatedStretch(x); got != want {
			t.Fatalf("%v: longest stretch %d, want %d", x, got, want)
		}
	}
}

func BenchmarkRepeatedStretch(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, _ []float64) { RepeatedStretch(statstest.Rounded(x, 0.01)) })
}

// NaN has no rank: whatever orders values says so instead of looking for its
// equals without end.
func TestNaNPanics(t *testing.T) {
	x := []float64{1, math.NaN(), 3, 4, 2, 5, 7}
	for name, f := range map[string]func(){
		"MannKendall":     func() { MannKendall([][]float64{x}) },
		"Repeats":         func() { Repeats(x) },
		"RepeatedStretch": func() { RepeatedStretch(x) },
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
