package check

import (
	"math"
	"slices"
	"testing"

	"tunegate/stats/internal/statstest"
)

func TestStep(t *testing.T) {
	g := statstest.Generator(601)
	for _, c := range []struct {
		name  string
		noise float64
		of    func(float64) float64
		want  float64
	}{
		{"as shown", 20, func(v float64) float64 { return math.Round(v*100) / 100 }, 0.01},
		{"coarse", 20, func(v float64) float64 { return math.Round(v/5) * 5 }, 5},
		{"counts in a minute, three digits", 0.1, func(v float64) float64 { return math.Round(math.Round(v*60)/60*1000) / 1000 }, 0.016},
		{"rates of coarse times", 2, func(v float64) float64 { return 1e5 / math.Round(v*2) }, 0.15},
	} {
		for range 20 {
			var x []float64
			for range 30 {
				x = append(x, c.of(400+c.noise*g.NormFloat64()))
			}
			if got := Step(x); got < c.want*0.999 || got > 2*c.want+1e-9 && c.want < 1 {
				t.Errorf("%s: step %v, want %v", c.name, got, c.want)
			}
		}
	}
}

// The chance that two readings are equal is never below the share of equal pairs, in
// the noises that the checks are held to, also where sittings have luck of their own, a
// warm-up run or a drift in common.
func TestDensity(t *testing.T) {
	repeats := 300
	if testing.Short() || statstest.RaceEnabled {
		repeats = 30
	}
	for _, shape := range []string{"normal", "skew", "t5"} {
		for _, step := range []float64{0.05, 0.25, 1} {
			for _, c := range []struct {
				name               string
				luck, first, drift float64
			}{{"plain", 0, 0, 0}, {"luck", 2, 0, 0}, {"warm-up", 0, 20, 0}, {"drift", 0, 0, 3}} {
				g := statstest.Generator(600)
				equal, pairs, bound := 0.0, 0.0, 0.0
				for range repeats {
					lists := make([][]float64, 10)
					for k := range lists {
						x := statstest.Moved(statstest.Draw(g, shape, 6), 1, 400+c.luck*g.NormFloat64())
						x[0] += c.first
						for i := range x {
							x[i] += c.drift * float64(i)
						}
						lists[k] = statstest.Rounded(x, step)
						for i := range x {
							if k > 0 && lists[k][i] == lists[k-1][i] {
								equal++
							}
							if k > 0 {
								pairs++
							}
						}
					}
					bound += math.Min(1, Density(step, lists)*Step(slices.Concat(lists...))) / float64(repeats)
				}
				share := equal / pairs
				t.Logf("%s, %s, steps of %v: %.4f in place are equal, bound %.4f", shape, c.name, step, share, bound)
				if bound < share || bound > 1 {
					t.Errorf("%s, %s, steps of %v: %.4f in place are equal, above the bound %.4f", shape, c.name, step, share, bound)
				}
			}
		}
	}
	for _, lists := range [][][]float64{nil, {{5}}, {{5, 5}, {5, 5}}, {{7}, {7}}} {
		if got := Density(1, lists); !math.IsInf(got, 1) {
			t.Errorf("Density(%v) = %v, want +Inf: nothing shows the noise", lists, got)
		}
	}
}

// The chance that both readings of a pair are equal is not below their share, whatever
// the pairs' own levels, and where one side is faster than the other.
func TestDensityOfDifferences(t *testing.T) {
	for _, step := range []float64{0.05, 0.2} {
		for _, faster := range []float64{0, 3} {
			g := statstest.Generator(601)
			var differences []float64
			equal, pairs := 0.0, 4000.0
			for range int(pairs) {
				level := 400 + 50*g.NormFloat64()
				x := statstest.Rounded([]float64{level + g.NormFloat64(), level + faster + g.NormFloat64()}, step)
				if d := x[1] - x[0]; math.Abs(d) < step/2 {
					equal++
				} else {
					differences = append(differences, d)
				}
			}
			bound := step * DensityOfDifferences(differences) // some 4,000: 400 of them are looked at
			if share := equal / pairs; bound < share || bound > 4*step/(2*math.Sqrt(math.Pi)) {
				t.Errorf("steps of %v, %v faster: %.4f are equal, bound %.4f", step, faster, share, bound)
			}
		}
	}
	for _, c := range []struct {
		d    []float64
		want float64
	}{{nil, 0}, {[]float64{-2}, 0.6745 * math.Sqrt2 / (2 * math.Sqrt(math.Pi))}, {[]float64{1, 1, 1, 1}, math.Inf(1)}} {
		if got := DensityOfDifferences(c.d); got != c.want && math.Abs(got/c.want-1) > 1e-12 {
			t.Errorf("DensityOfDifferences(%v) = %v, want %v", c.d, got, c.want)
		}
	}
}

// Expected values: R 4.2.2, pbinom, pnbinom and pgamma; of ScaledP counted by hand.
func TestCopiesP(t *testing.T) {
	six := Overlap{N: 6, M: 6, Equal: 15, Chance: 0.1}
	aligned := Aligned{Pairs: 6, Equal: 6, Chance: 0.1}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"in place", EqualInPlaceP([]Aligned{aligned}), 1e-6},
		{"in place, two metrics", EqualInPlaceP([]Aligned{aligned, aligned}), 1e-12},
		{"in place, some",
			EqualInPlaceP([]Aligned{{Pairs: 10, Equal: 4, Chance: 0.1}, {Pairs: 10, Equal: 3, Chance: 0.02}}), 0.0001080714860602649},
		{"anywhere", EqualAnywhereP([]Overlap{six}), 0.003670710963808737},
		{"nothing equal in place", EqualInPlaceP([]Aligned{{Pairs: 6, Chance: 0.1}}), 1},
		{"nothing equal anywhere", EqualAnywhereP([]Overlap{{N: 6, M: 6, Chance: 0.1}}), 1},
		{"nothing at all", EqualAnywhereP(nil), 1},
		{"scaled", ScaledP(6, 6, 6, 0.01), 6 * 720 * 1e-10},
		{"scaled, some", ScaledP(3, 4, 5, 0.1), 1},
		{"scaled, rarely", ScaledP(3, 4, 5, 0.001), 3 * 4 * 60 * 1e-6},
		{"scaled in place", ScaledInPlaceP(6, 6, 0.01), 6e-10},
		{"together", TogetherP([]float64{0.1, 0.1}), 0.01 * (1 + 2*math.Ln10)},
	} {
		if math.Abs(c.got/c.want-1) > 1e-6 {
			t.Errorf("%s: p = %v, want %v", c.name, c.got, c.want)
		}
	}
}

func TestScaledInPlace(t *testing.T) {
	x := []float64{412.67, 410.82, 413.05, 411.3}
	by, at := ScaledInPlace(x, []float64{404.42, 402.6, 404.79, 409}, 0.01, false)
	if !slices.Equal(at, []int{0, 1, 2}) || math.Abs(by-0.98) > 1e-4 {
		t.Errorf("by %v at %v, want 0.98 at the first three", by, at)
	}
	by, at = ScaledInPlace(x, []float64{404.45, 402.6, 409, 403.08}, 0.01, true)
	if !slices.Equal(at, []int{0, 1, 3}) || math.Abs(by+8.22) > 1e-9 {
		t.Errorf("by %v at %v, want -8.22 at all but the third", by, at)
	}
}

func TestScaled(t *testing.T) {
	x := []float64{410.82, 411.3, 412.67, 413.05}
	for _, c := range []struct {
		name  string
		shift bool
		y     []float64
		by    float64
		pairs int
	}{
		{"factor", false, []float64{402.6, 403.07, 404.42, 404.79}, 0.98, 4},
		{"shift", true, []float64{402.6, 403.08, 404.45, 404.83}, -8.22, 4},
		{"neither", false, []float64{401.9, 403.5, 404.42, 406.1}, 0, 1},
	} {
		by, pairs := Scaled(x, c.y, 0.01, c.shift, 1)
		if len(pairs) < c.pairs || c.by != 0 && (len(pairs) != c.pairs || math.Abs(by/c.by-1) > 1e-4) || c.by == 0 && len(pairs) > 2 {
			t.Errorf("%s: by %v, %v", c.name, by, pairs)
		}
	}
}

// The bound that spares most searches must not lose what a search without it finds.
func TestScaledWithALeastNumber(t *testing.T) {
	g := statstest.Generator(602)
	met := 0
	for range 3000 {
		shift, n, m := g.IntN(2) == 0, 4+g.IntN(8), 4+g.IntN(8)
		x, y := make([]float64, n), make([]float64, m)
		for i := range x {
			x[i] = math.Round((3+g.Float64()*float64(1+g.IntN(5)))*100) / 100
		}
		for i := range y {
			y[i] = math.Round((3+g.Float64())*100) / 100
			if i < n && g.IntN(4) > 0 {
				if y[i] = math.Round(x[i]*97) / 100; shift {
					y[i] = x[i] + 0.31
				}
			}
		}
		slices.Sort(x)
		slices.Sort(y)
		by, pairs := Scaled(x, y, 0.01, shift, 1)
		for least := 2; least <= min(n, m); least++ {
			got, found := Scaled(x, y, 0.01, shift, least)
			if len(pairs) < least {
				if found != nil {
					t.Fatalf("%v and %v: %d pairs, where there are %d", x, y, len(found), len(pairs))
				}
				continue
			}
			met++
			if got != by || !slices.Equal(found, pairs) {
				t.Fatalf("%v and %v, at least %d: %v and %v, want %v and %v", x, y, least, got, found, by, pairs)
			}
		}
	}
	if met < 1000 {
		t.Errorf("only %d searches had something to find", met)
	}
}
