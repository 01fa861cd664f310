package check

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestMannKendallByHand(t *testing.T) { // counting
	for _, c := range []struct {
		sessions [][]float64
		s        int
		tau, p   float64
	}{
		{[][]float64{{1, 2, 3}}, 3, 1, 2. / 6},                   // 123 and 321 of 6 orders
		{[][]float64{{1, 3, 2}}, 1, 1. / 3, 1},                   // |S| is odd, so at least 1
		{[][]float64{{5, 4, 3, 2, 1}}, -10, -1, 2. / 120},        // two of 120 orders
		{[][]float64{{1, 1, 2}}, 2, 2 / math.Sqrt(6), 2. / 3},    // 112 and 211 of 3 orders
		{[][]float64{{1, 2, 3}, {11, 12, 13}}, 6, 1, 2. / 36},    // both up or both down
		{[][]float64{{3, 2, 1}, {11, 12, 13}}, 0, 0, 1},          // they cancel
		{[][]float64{{9}, {1, 2, 3}, {}, {4, 5}}, 4, 1, 2. / 12}, // a lone run says nothing
		{[][]float64{{7, 7, 7}}, 0, 0, 1},
		{[][]float64{{7}}, 0, 0, 1},
		{nil, 0, 0, 1},
	} {
		s, tau, p := MannKendall(c.sessions)
		if s != c.s || math.Abs(tau-c.tau) > 1e-15 || math.Abs(p-c.p) > 1e-15 {
			t.Errorf("%v: S = %d, tau = %v, p = %v, want %d, %v, %v", c.sessions, s, tau, p, c.s, c.tau, c.p)
		}
	}
}

// In every order of some values, the distribution of S must be the one that p
// is taken from.
func TestMannKendallAgainstListing(t *testing.T) { // counting
	for _, x := range [][]float64{{1, 2, 3, 4, 5, 6}, {1, 1, 2, 3, 3, 3, 4}, {1, 1, 1, 1, 2, 2}, {1, 2, 2, 2, 2, 2}} {
		count, orders := map[int]int{}, 0
		numeric.Permute(slices.Clone(x), len(x), func() { orders++ })
		y := slices.Clone(x)
		numeric.Permute(y, len(y), func() {
			s := 0
			for i := range y {
				for j := range i {
					switch {
					case y[i] > y[j]:
						s++
					case y[i] < y[j]:
						s--
					}
				}
			}
			count[s]++
		})
		numeric.Permute(y, len(y), func() {
			s, _, p := MannKendall([][]float64{y})
			beyond := 0
			for v, c := range count {
				if numeric.Abs(v) >= numeric.Abs(s) {
					beyond += c
				}
			}
			if want := float64(beyond) / float64(orders); math.Abs(p-want) > 1e-14 {
				t.Fatalf("%v: S = %d, p = %v, want %v", y, s, p, want)
			}
		})
	}
}

// Where the exact distribution gives way to the normal one, both agree.
func TestMannKendallSwitch(t *testing.T) {
	g := statstest.Generator(350)
	for _, n := range []int{480, 500} {
		x := statstest.Draw(g, "normal", n)
		for i := range x {
			x[i] += 0.35 * float64(i) / float64(n)
		}
		s, _, p := MannKendall([][]float64{x})
		z := (math.Abs(float64(s)) - 1) / math.Sqrt(kendallTerm(n))
		normal := math.Erfc(z / math.Sqrt2)
		_, exact := inversionCounts([][]int{statstest.EqualSizes(n, 1)})
		if exact != (n == 480) || exact == (p == normal) || math.Abs(p/normal-1) > 0.03 {
			t.Errorf("%d values: p = %v, exact %v, normal %v", n, p, exact, normal)
		}
	}
}

func TestMannKendallProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var sessions, backwards, raised [][]float64
		for range rapid.IntRange(1, 4).Draw(t, "sessions") {
			x := statstest.AnySample(t, "session", 0, 12, true)
			level := float64(rapid.IntRange(-64, 64).Draw(t, "level"))
			sessions = append(sessions, x)
			back := slices.Clone(x)
			slices.Reverse(back)
			backwards = append(backwards, back)
			raised = append(raised, statstest.Moved(statstest.Rounded(x, 1./1024), 4, level)) // another level in each session
		}
		s, tau, p := MannKendall(sessions)
		if !(p > 0 && p <= 1) || !(math.Abs(tau) <= 1) {
			t.Errorf("tau = %v, p = %v", tau, p)
		}
		if rs, rtau, rp := MannKendall(backwards); rs != -s || rtau != -tau || rp != p {
			t.Errorf("backwards: %d, %v, %v, forwards %d, %v, %v", rs, rtau, rp, s, tau, p)
		}
		grid := make([][]float64, len(sessions))
		for i, x := range sessions {
			grid[i] = statstest.Rounded(x, 1./1024)
		}
		s, _, p = MannKendall(grid)
		if ms, _, mp := MannKendall(raised); ms != s || mp != p {
			t.Errorf("sessions at other levels: S = %d, p = %v, want %d, %v", ms, mp, s, p)
		}
	})
}

func TestMannKendallLarge(t *testing.T) {
	x := make([]float64, 200_000)
	for i := range x {
		x[i] = math.Mod(float64(i)*0.618, 1) + 1e-6*float64(i)
	}
	if s, _, p := MannKendall([][]float64{x}); s <= 0 || p > 1e-9 {
		t.Errorf("200,000 values with a drift: S = %d, p = %v", s, p)
	}
}

func BenchmarkMannKendall(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, _ []float64) { MannKendall([][]float64{x}) })
}
