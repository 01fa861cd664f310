package stats

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// listSigns counts, over all 2^n ways to sign the differences, how far twice
// the sum of positive ranks lies from its centre, and where the one at hand
// lies. Zeros keep their ranks and have no sign (Pratt 1959).
func listSigns(d []float64) (w float64, p float64) {
	size := make([]float64, len(d))
	for i, v := range d {
		size[i] = math.Abs(v)
	}
	ranks := midranks(size)
	off := func(positive func(i int) bool) (sum, twiceOff int) {
		all := 0
		for i, r := range ranks {
			if d[i] == 0 {
				continue
			}
			all += int(2 * r)
			if positive(i) {
				sum += int(2 * r)
			}
		}
		return sum, numeric.Abs(2*sum - all)
	}
	doubled, here := off(func(i int) bool { return d[i] > 0 })
	extreme, total := 0, 1<<len(d)
	for signs := range total {
		if _, o := off(func(i int) bool { return signs>>i&1 == 1 }); o >= here {
			extreme++
		}
	}
	return float64(doubled) / 2, float64(extreme) / float64(total)
}

func TestSignedRankAgainstListing(t *testing.T) { // counting
	g := statstest.Generator(20)
	zeros := 0
	for n := 1; n <= 11; n++ {
		for _, step := range []float64{0, 0.25, 1, 2} {
			for _, shift := range []float64{0, 0.75} {
				d := statstest.Draw(g, "bimodal", n)
				if step > 0 {
					d = statstest.Rounded(statstest.Moved(d, 1, shift), step)
				}
				if slices.Contains(d, 0) {
					zeros++
				}
				w, p := listSigns(d)
				if got := SignedRank(d); got != (SignedRankTest{w, p, p, true}) {
					t.Errorf("SignedRank(%v) = %+v, listed W = %v, P = %v", d, got, w, p)
				}
			}
		}
	}
	if zeros < 10 {
		t.Errorf("only %d cases with a zero", zeros)
	}
}

func TestSignedRankEdges(t *testing.T) { // counting
	for _, c := range []struct {
		name string
		d    []float64
		want SignedRankTest
	}{
		{"one", []float64{-3}, SignedRankTest{0, 1, 1, true}},
		{"all zero", []float64{0, 0, 0}, SignedRankTest{0, 1, 1, true}},
		{"six of one sign", statstest.AscendingFrom(1, 6), SignedRankTest{21, 2. / 64, 2. / 64, true}},
		{"all equal", []float64{5, 5, 5, 5, 5, 5}, SignedRankTest{21, 2. / 64, 2. / 64, true}},
		{"a zero takes the lowest rank", []float64{0, 1, 2, 3}, SignedRankTest{9, 2. / 8, 2. / 8, true}},
		{"all equal, balanced", []float64{1, -1, 1, -1}, SignedRankTest{5, 1, 1, true}},
	} {
		if got := SignedRank(c.d); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
	if !statstest.Panics(func() { SignedRank(nil) }) || !statstest.Panics(func() { WalshMedian(nil) }) {
		t.Error("no panic for no differences")
	}
	for n, want := range []float64{1, 1, 0.5, 0.25, 0.125, 0.0625, 0.03125} { // 2 / 2^n
		if got := SmallestSignedRankP(n); got != want {
			t.Errorf("SmallestSignedRankP(%d) = %v, want %v", n, got, want)
		}
	}
}

// The normal approximation takes over beyond 300 differences without a step.
func TestSignedRankSwitch(t *testing.T) {
	d := statstest.Moved(statstest.Draw(statstest.Generator(21), "normal", 301), 1, 0.1)
	exact, normal := SignedRank(d[:300]), SignedRank(d)
	if !exact.Exact || normal.Exact {
		t.Fatalf("Exact = %v of 300, %v of 301", exact.Exact, normal.Exact)
	}
	// An added difference moves P by itself; a small one takes rank 1 and hardly does.
	d[300] = 1e-9
	if normal = SignedRank(d); math.Abs(normal.P-exact.P) > 0.02*exact.P+1e-3 {
		t.Errorf("P = %v of 300 differences, %v of 301", exact.P, normal.P)
	}
	lo300, hi300, _ := SignedRankInterval(d[:300], 0.95)
	lo301, hi301, ok := SignedRankInterval(d, 0.95)
	if width := hi300 - lo300; !ok || math.Abs(lo301-lo300) > 0.03*width || math.Abs(hi301-hi300) > 0.03*width {
		t.Errorf("[%v, %v] of 300 differences, [%v, %v] of 301", lo300, hi300, lo301, hi301)
	}
}

func TestWalshMedian(t *testing.T) { // counting
	for _, c := range []struct {
		d    []float64
		want float64
	}{
		{[]float64{3}, 3},
		{[]float64{1, 2}, 1.5},
		{[]float64{1, 2, 9}, 3.5},   // 1 1.5 2 5 5.5 9
		{[]float64{9, 2, 1, 2}, 2},  // 1 1.5 1.5 2 2 2 5 5.5 5.5 9
		{[]float64{-1, 0, 1, 0}, 0}, // balanced
	} {
		if got := WalshMedian(c.d); got != c.want {
			t.Errorf("WalshMedian(%v) = %v, want %v", c.d, got, c.want)
		}
	}
}

// c by its definition, from all subsets of the ranks 1 to n.
func TestSignedRankCriticalAgainstListing(t *testing.T) { // counting
	for n := 1; n <= 10; n++ {
		count := make([]int, n*(n+1)/2+1)
		for set := range 1 << n {
			w := 0
			for i := range n {
				w += (set >> i & 1) * (i + 1)
			}
			count[w]++
		}
		for _, percent := range []int{1, 5, 10, 25} {
			want, sum := 0, 0
			for w := 0; ; w++ {
				if sum += count[w]; 200*sum > percent<<n {
					break
				}
				want = w + 1
			}
			if got := SignedRankCritical(n, float64(percent)/100); got != want {
				t.Errorf("%d differences at %d %%: c = %d, want %d", n, percent, got, want)
			}
			_, _, ok := SignedRankInterval(statstest.AscendingFrom(0, n), 1-float64(percent)/100)
			if ok != (want > 0) {
				t.Errorf("%d differences at %d %%: ok = %v, c = %d", n, percent, ok, want)
			}
		}
	}
	if c := SignedRankCritical(6, 0.05); c != 1 { // six blocks settle at 95 %, five do not
		t.Errorf("six differences at 5 %%: c = %d, want 1", c)
	}
}

// walshAverages lists the means of all pairs, each value with itself as well.
func walshAverages(d []float64) (w []float64) {
	for i, a := range d {
		for _, b := range d[i:] {
			w = append(w, numeric.Mid(a, b))
		}
	}
	slices.Sort(w)
	return w
}

// The estimate and the ends are the very order statistics of the list.
func TestWalshAgainstListing(t *testing.T) { // counting
	rapid.Check(t, func(t *rapid.T) {
		d := statstest.AnySample(t, "differences", 1, 100, true)
		all := walshAverages(d)
		if got, want := WalshMedian(d), numeric.Middle(all); got != want {
			t.Fatalf("WalshMedian(%v) = %v, want %v", d, got, want)
		}
		lo, hi, ok := SignedRankInterval(d, 0.95)
		c := SignedRankCritical(len(d), 0.05)
		if ok != (c > 0) || ok && (lo != all[c-1] || hi != all[len(all)-c]) {
			t.Fatalf("SignedRankInterval(%v) = [%v, %v], %v, c = %d", d, lo, hi, ok, c)
		}
	})
}

func TestSignedRankIntervalInvertsTheTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := statstest.AnySample(t, "differences", 4, 25, false)
		confidence := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "confidence")
		lo, hi, ok := SignedRankInterval(d, confidence)
		if !ok {
			t.Skip("no interval at this size")
		}
		all := walshAverages(d)
		for i := 1; i < len(all); i++ {
			if all[i]-all[i-1] < 1e-7 {
				t.Skip("averages too close to step between them")
			}
		}
		for _, c := range []struct {
			shift float64
			want  bool
		}{{lo - 1e-8, true}, {lo + 1e-8, false}, {hi - 1e-8, false}, {hi + 1e-8, true}} {
			if lo == hi && !c.want {
				continue
			}
			if got := SignedRank(statstest.Moved(d, 1, -c.shift)).P <= 1-confidence+numeric.Slack; got != c.want {
				t.Fatalf("[%v, %v]: a shift of %v is rejected: %v", lo, hi, c.shift, got)
			}
		}
	})
}

func TestSignedRankProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := statstest.AnySample(t, "differences", 1, 30, true)
		got := SignedRank(d)
		turned := SignedRank(statstest.Negated(d))
		all := 0.0 // the ranks of all that have a sign
		size := make([]float64, len(d))
		for i, v := range d {
			size[i] = math.Abs(v)
		}
		for i, r := range midranks(size) {
			if d[i] != 0 {
				all += r
			}
		}
		if turned.W != all-got.W || turned.P != got.P {
			t.Fatalf("signs turned: %+v becomes %+v", got, turned)
		}
		mixed := statstest.Shuffled(t, d)
		if other := SignedRank(mixed); other != got {
			t.Fatalf("another order: %+v becomes %+v", got, other)
		}
		if other := SignedRank(statstest.Moved(d, 4, 0)); other != got {
			t.Fatalf("another unit: %+v becomes %+v", got, other)
		}
		e := WalshMedian(d)
		if turned := WalshMedian(statstest.Negated(d)); turned != -e {
			t.Fatalf("signs turned: the estimate %v becomes %v", e, turned)
		}
		if other := WalshMedian(mixed); other != e {
			t.Fatalf("another order: the estimate %v becomes %v", e, other)
		}
		shift := rapid.Float64Range(-1000, 1000).Draw(t, "shift")
		if other := WalshMedian(statstest.Moved(d, 1, shift)); math.Abs(other-e-shift) > 1e-9 {
			t.Fatalf("moved by %v: the estimate %v becomes %v", shift, e, other)
		}
		student := func(d []float64, confidence float64) (lo, hi float64, ok bool) {
			return Student(d, 0).Interval(confidence)
		}
		for _, c := range []struct {
			name     string
			interval func([]float64, float64) (float64, float64, bool)
			rounding float64 // of a sum taken in another order
		}{{"signed rank", SignedRankInterval, 0}, {"Student", student, 1e-12}} {
			lo, hi, ok := c.interval(d, 0.95)
			if !ok {
				continue
			}
			same := func(what string, x []float64, wantLo, wantHi, within float64) {
				t.Helper()
				if lo, hi, _ := c.interval(x, 0.95); math.Abs(lo-wantLo) > within || math.Abs(hi-wantHi) > within {
					t.Fatalf("%s, %s: [%v, %v], want [%v, %v]", c.name, what, lo, hi, wantLo, wantHi)
				}
			}
			same("signs turned", statstest.Negated(d), -hi, -lo, 0)
			same("another order", mixed, lo, hi, c.rounding)
			same("moved", statstest.Moved(d, 1, shift), lo+shift, hi+shift, 1e-9)
		}
	})
}

func BenchmarkSignedRank(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, _ []float64) { SignedRank(x) })
}

func BenchmarkSignedRankInterval(b *testing.B) {
	for _, n := range []int{20, 1000, 10_000, 1_000_000} {
		d := statstest.Draw(statstest.Generator(22), "outlier", n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				WalshMedian(d)
				SignedRankInterval(d, 0.95)
			}
		})
	}
}
