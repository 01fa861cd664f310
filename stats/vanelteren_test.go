package stats

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// commonUnit is a whole number that every m_b n_b divides.
func commonUnit(strata []Stratum) int {
	unit := 1
	for _, s := range strata {
		mn := len(s.Before) * len(s.After)
		unit = unit / gcd(unit, mn) * mn
	}
	return unit
}

// doubledT is 2T times the common unit: a whole number.
func doubledT(strata []Stratum, unit int) int {
	t := 0
	for _, s := range strata {
		t += countDoubledU(s.Before, s.After) * unit / (len(s.Before) * len(s.After))
	}
	return t
}

// listStrata counts 2T (times the unit) over all ways to deal the values of
// each stratum to its sides.
func listStrata(strata []Stratum, unit int) map[int]int {
	count := map[int]int{}
	dealt := make([]Stratum, len(strata))
	var deal func(b int)
	deal = func(b int) {
		if b == len(strata) {
			count[doubledT(dealt, unit)]++
			return
		}
		pooled := append(slices.Clone(strata[b].Before), strata[b].After...)
		for set := range 1 << len(pooled) {
			if bits.OnesCount(uint(set)) != len(strata[b].Before) {
				continue
			}
			s := Stratum{}
			for i, v := range pooled {
				if set>>i&1 == 1 {
					s.Before = append(s.Before, v)
				} else {
					s.After = append(s.After, v)
				}
			}
			dealt[b] = s
			deal(b + 1)
		}
	}
	deal(0)
	return count
}

func drawStrata(g *rand.Rand, sizes [][2]int, step float64) []Stratum {
	var strata []Stratum
	for _, size := range sizes {
		luck := math.Round(4 * g.NormFloat64()) // a block's own level
		x, y := statstest.Draw(g, "normal", size[0]), statstest.Draw(g, "skew", size[1])
		if step > 0 {
			x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
		}
		strata = append(strata, Stratum{statstest.Moved(x, 1, luck), statstest.Moved(y, 1, luck)})
	}
	return strata
}

func TestVanElterenAgainstListing(t *testing.T) { // counting
	g := statstest.Generator(30)
	lopsided := 0
	for _, sizes := range [][][2]int{
		{{3, 2}}, {{1, 1}, {1, 1}}, {{2, 2}, {2, 2}, {2, 2}}, {{2, 3}, {1, 4}, {2, 2}}, {{1, 2}, {3, 3}, {2, 1}, {1, 1}}, {{4, 3}, {1, 5}},
	} {
		for _, step := range []float64{0, 0.25, 1, 4} {
			strata := drawStrata(g, sizes, step)
			unit := commonUnit(strata)
			at, count := doubledT(strata, unit), listStrata(strata, unit)
			listed := wantTails(count, at, len(strata)*unit)
			want := StratifiedTest{T: float64(at) / float64(2*unit), P: listed.P, PUsed: listed.PUsed, Exact: true}
			if got := VanElteren(strata); got != want {
				t.Errorf("strata %v, grid %v:\ngot  %+v\nwant %+v", sizes, step, got, want)
			}
			if want.PUsed > want.P {
				lopsided++
			}
			if got, want := StratifiedMedian(strata), listedMedian(strata, unit); got != want {
				t.Errorf("strata %v, grid %v: StratifiedMedian = %v, want %v", sizes, step, got, want)
			}
		}
	}
	if lopsided < 3 {
		t.Errorf("only %d cases have a lopsided distribution", lopsided)
	}
}

// listedMedian is the weighted median with whole weights.
func listedMedian(strata []Stratum, unit int) float64 {
	type part struct {
		d      float64
		weight int
	}
	var parts []part
	for _, s := range strata {
		for _, d := range statstest.AllDifferences(s.Before, s.After) {
			parts = append(parts, part{d, unit / (len(s.Before) * len(s.After))})
		}
	}
	slices.SortFunc(parts, func(a, b part) int {
		if a.d < b.d {
			return -1
		}
		return 1
	})
	twice := 0
	for k, p := range parts {
		twice += 2 * p.weight
		if twice == unit*len(strata) {
			return numeric.Mid(p.d, parts[k+1].d)
		}
		if twice > unit*len(strata) {
			return p.d
		}
	}
	panic("no weight")
}

// One stratum is the plain test.
func TestVanElterenOfOneStratum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := statstest.AnySides(t, 1, 12, true)
		one := []Stratum{{x, y}}
		plain, got := mannWhitneyExact(x, y), VanElteren(one)
		if !alike(got.P, plain.P) || !alike(got.PUsed, plain.PUsed) || !alike(got.T*float64(len(x)*len(y)), plain.U) {
			t.Fatalf("%+v, the plain test says %+v", got, plain)
		}
		if got, want := StratifiedMedian(one), HodgesLehmann(x, y); got != want {
			t.Fatalf("StratifiedMedian = %v, HodgesLehmann = %v", got, want)
		}
		lo, hi, ok := StratifiedInterval(one, 0.95)
		wantLo, wantHi, wantOK := rankInterval(x, y, 0.95)
		if ok != wantOK || ok && (lo != wantLo || hi != wantHi) {
			t.Fatalf("[%v, %v], %v, RankInterval = [%v, %v], %v", lo, hi, ok, wantLo, wantHi, wantOK)
		}
	})
}

func TestSmallestStratifiedP(t *testing.T) { // counting: 2 over the product of C(m+n, m)
	two := Stratum{[]float64{0, 1}, []float64{5, 6}}
	for _, c := range []struct {
		strata []Stratum
		want   float64
	}{
		{[]Stratum{two}, 2. / 6},
		{[]Stratum{two, two}, 2. / 36},
		{[]Stratum{two, two, two}, 2. / 216},
		{[]Stratum{{[]float64{0}, []float64{1}}}, 1},
		{[]Stratum{{[]float64{0}, []float64{1, 2, 3}}, two}, 2. / 24},
	} {
		got := SmallestStratifiedP(c.strata)
		if !alike(got, c.want) || !alike(VanElteren(c.strata).P, c.want) {
			t.Errorf("%v: smallest p %v, p of these %v, want %v", c.strata, got, VanElteren(c.strata).P, c.want)
		}
		if _, _, ok := StratifiedInterval(c.strata, 0.95); ok != (c.want <= 0.05) {
			t.Errorf("%v: interval ok = %v, smallest p %v", c.strata, ok, c.want)
		}
	}
	if !statstest.Panics(func() { VanElteren(nil) }) || !statstest.Panics(func() { VanElteren([]Stratum{{nil, []float64{1}}}) }) {
		t.Error("no panic for no stratum, or an empty side")
	}
	if _, _, ok := StratifiedInterval(nil, 0.95); ok {
		t.Error("an interval of no strata")
	}
}

func anyStrata(t *rapid.T, ties bool) []Stratum {
	var strata []Stratum
	for range rapid.IntRange(1, 6).Draw(t, "strata") {
		x, y := statstest.AnySides(t, 1, 4, ties)
		luck := float64(rapid.IntRange(-3, 3).Draw(t, "luck"))
		strata = append(strata, Stratum{statstest.Moved(x, 1, luck), statstest.Moved(y, 1, luck)})
	}
	return strata
}

func TestStratifiedIntervalInvertsTheTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		strata := anyStrata(t, false)
		confidence := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "confidence")
		lo, hi, ok := StratifiedInterval(strata, confidence)
		if !ok {
			t.Skip("no interval at these sizes")
		}
		all, _ := withinDifferences(strata)
		for i := 1; i < len(all); i++ {
			if all[i].d-all[i-1].d < 1e-7 {
				t.Skip("differences too close to step between them")
			}
		}
		for _, c := range []struct {
			shift float64
			want  bool
		}{{lo - 1e-8, true}, {lo + 1e-8, false}, {hi - 1e-8, false}, {hi + 1e-8, true}} {
			if lo == hi && !c.want {
				continue
			}
			shifted := make([]Stratum, len(strata))
			for b, s := range strata {
				shifted[b] = Stratum{s.Before, statstest.Moved(s.After, 1, -c.shift)}
			}
			if got := VanElteren(shifted).P <= 1-confidence+numeric.Slack; got != c.want {
				t.Fatalf("[%v, %v]: a shift of %v is rejected: %v", lo, hi, c.shift, got)
			}
		}
	})
}

func TestStratifiedProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		strata := anyStrata(t, true)
		got, e := VanElteren(strata), StratifiedMedian(strata)
		lo, hi, ok := StratifiedInterval(strata, 0.9)
		turned := make([]Stratum, len(strata))
		mixed := make([]Stratum, len(strata))
		for b, s := range strata {
			turned[b] = Stratum{s.After, s.Before}
			// A level of the block's own changes nothing, nor does the blocks' order.
			luck := float64(rapid.IntRange(-5, 5).Draw(t, "luck"))
			before, after := statstest.Shuffled(t, s.Before), statstest.Shuffled(t, s.After)
			mixed[len(strata)-1-b] = Stratum{statstest.Moved(before, 1, luck), statstest.Moved(after, 1, luck)}
		}
		if other := VanElteren(turned); !alike(other.T, float64(len(strata))-got.T) && math.Abs(other.T+got.T-float64(len(strata))) > 1e-12 ||
			!alike(other.P, got.P) || !alike(other.PUsed, got.PUsed) {
			t.Fatalf("sides swapped: %+v becomes %+v", got, other)
		}
		if other := VanElteren(mixed); other.T != got.T || !alike(other.P, got.P) || !alike(other.PUsed, got.PUsed) {
			t.Fatalf("another order and level: %+v becomes %+v", got, other)
		}
		if other := StratifiedMedian(turned); other != -e {
			t.Fatalf("sides swapped: the estimate %v becomes %v", e, other)
		}
		tlo, thi, tok := StratifiedInterval(turned, 0.9)
		if tok != ok || ok && (tlo != -hi || thi != -lo) {
			t.Fatalf("sides swapped: [%v, %v] becomes [%v, %v]", lo, hi, tlo, thi)
		}
		if other := StratifiedMedian(mixed); math.Abs(other-e) > 1e-9 {
			t.Fatalf("another order and level: the estimate %v becomes %v", e, other)
		}
		mlo, mhi, mok := StratifiedInterval(mixed, 0.9)
		if mok != ok || ok && (math.Abs(mlo-lo) > 1e-9 || math.Abs(mhi-hi) > 1e-9) {
			t.Fatalf("another order and level: [%v, %v] becomes [%v, %v]", lo, hi, mlo, mhi)
		}
	})
}

// Counts multiply from stratum to stratum: C(60, 30)^20 and 6^400 are beyond a
// float64, their shares are not.
func TestVanElterenOfManyStrata(t *testing.T) {
	for _, c := range []struct{ strata, size int }{{400, 2}, {20, 30}, {3000, 1}} {
		g := statstest.Generator(31)
		var strata []Stratum
		for range c.strata {
			strata = append(strata, Stratum{statstest.Draw(g, "normal", c.size), statstest.Moved(statstest.Draw(g, "normal", c.size), 1, 0.05)})
		}
		got := VanElteren(strata)
		// The exact P must be near the normal one with variance (m+n+1)/(12mn) a
		// stratum (van Elteren 1960), halves of a step allowed for.
		b, mn := float64(c.strata), float64(c.size*c.size)
		sd := math.Sqrt(b * float64(2*c.size+1) / (12 * mn))
		normal := math.Erfc((math.Abs(got.T-b/2) - 0.5/mn) / sd / math.Sqrt2)
		if math.IsNaN(got.P) || math.Abs(got.P-normal) > 0.01 || got.PUsed < got.P {
			t.Errorf("%d strata of %d and %d: %+v, normal P = %v", c.strata, c.size, c.size, got, normal)
		}
		lo, hi, ok := StratifiedInterval(strata, 0.95)
		all, unit := withinDifferences(strata)
		rank := func(v float64) float64 { // weight below
			sum := 0.0
			for _, d := range all {
				if d.d < v {
					sum += d.weight / unit
				}
			}
			return sum
		}
		if want := b/2 - 1.96*sd; !ok || math.Abs(rank(lo)-want) > 2/mn || math.Abs(b-rank(hi)-want) > 3/mn {
			t.Errorf("%d strata of %d and %d: [%v, %v] leaves the weights %v and %v out, want %v",
				c.strata, c.size, c.size, lo, hi, rank(lo), b-rank(hi), want)
		}
	}
}

// Weights of many strata add up to a half exactly, whatever the rounding.
func TestStratifiedMedianOfManyStrata(t *testing.T) { // counting
	g := statstest.Generator(32)
	for range 20 {
		var strata []Stratum
		for range 900 {
			strata = append(strata, Stratum{statstest.Draw(g, "normal", 3), statstest.Draw(g, "normal", 3)})
		}
		got, want := StratifiedMedian(strata), listedMedian(strata, commonUnit(strata))
		if got != want {
			t.Fatalf("StratifiedMedian = %v, want %v", got, want)
		}
	}
}

// Strata whose sizes have no small common multiple are tested by the normal
// approximation: it is held to permutations drawn at random.
func TestVanElterenNormal(t *testing.T) {
	g := statstest.Generator(33)
	var strata []Stratum
	for _, size := range [][2]int{{7, 11}, {13, 9}, {8, 17}, {5, 19}} {
		strata = append(strata, Stratum{statstest.Draw(g, "normal", size[0]), statstest.Moved(statstest.Draw(g, "normal", size[1]), 1, 0.5)})
	}
	got := VanElteren(strata)
	if got.Exact {
		t.Fatal("tested exactly: choose sizes with a larger common multiple")
	}
	unit := commonUnit(strata)
	centre := unit * len(strata)
	here, extreme := numeric.Abs(doubledT(strata, unit)-centre), 0
	const rounds = 20_000
	for range rounds {
		for _, s := range strata {
			pooled := append(slices.Clone(s.Before), s.After...)
			g.Shuffle(len(pooled), func(i, j int) { pooled[i], pooled[j] = pooled[j], pooled[i] })
			copy(s.Before, pooled)
			copy(s.After, pooled[len(s.Before):])
		}
		if numeric.Abs(doubledT(strata, unit)-centre) >= here {
			extreme++
		}
	}
	if p := float64(extreme) / rounds; math.Abs(got.P-p) > 0.01 {
		t.Errorf("P = %v, %v of the permutations are as extreme", got.P, p)
	}
}

// A distribution that takes more than about a tenth of a second is not listed.
func TestVanElterenWork(t *testing.T) {
	for _, c := range []struct {
		strata, size int
		exact        bool
	}{{6, 2, true}, {30, 5, true}, {12, 20, true}, {50, 50, false}, {10, 100, false}} {
		g := statstest.Generator(34)
		var strata []Stratum
		for range c.strata {
			strata = append(strata, Stratum{statstest.Draw(g, "normal", c.size), statstest.Draw(g, "normal", c.size)})
		}
		if statstest.RaceEnabled && c.strata*c.size > 150 && c.exact {
			continue
		}
		if got := VanElteren(strata); got.Exact != c.exact {
			t.Errorf("%d strata of %d and %d: Exact = %v", c.strata, c.size, c.size, got.Exact)
		}
	}
}

func BenchmarkVanElteren(b *testing.B) {
	strata := drawStrata(statstest.Generator(35), [][2]int{{2, 2}, {2, 2}, {2, 2}, {2, 2}, {2, 2}, {2, 2}}, 0)
	b.ReportAllocs()
	for b.Loop() {
		VanElteren(strata)
	}
}
