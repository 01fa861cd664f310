package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// grouped cuts values into groups of these sizes.
func grouped(x []float64, sizes ...int) [][]float64 {
	var out [][]float64
	for _, s := range sizes {
		out = append(out, x[:s])
		x = x[s:]
	}
	return out
}

// inGroupsOf cuts values into groups of one size; the last may be smaller.
func inGroupsOf(x []float64, size int) [][]float64 { return slices.Collect(slices.Chunk(x, size)) }

// The statistic, counted pair by pair: Pettitt's U_t = sum over i <= t < j of
// sgn(x_j - x_i), which is 2U - t(n-t) for Mann-Whitney's U, over the standard
// deviation that U has given the ties (Lehmann 1975, Nonparametrics, (1.35)).
func directMaxZ(groups [][]float64) (at int, z float64) {
	x := joined(groups)
	n := float64(len(x))
	ties := 0.0
	sizes, _ := numeric.TieSizes(x)
	for _, d := range sizes {
		ties += float64(d) * (float64(d)*float64(d) - 1)
	}
	t := 0
	for g := 1; g < len(groups); g++ {
		t += len(groups[g-1])
		if t == 0 || t == len(x) || len(groups[g]) == 0 {
			continue
		}
		u := 0.0
		for _, a := range x[:t] {
			for _, b := range x[t:] {
				switch {
				case b > a:
					u++
				case b < a:
					u--
				}
			}
		}
		m := float64(t)
		sd := math.Sqrt(m*(n-m)*(n+1)/12 - m*(n-m)*ties/(12*n*(n-1)))
		if v := u / 2 / sd; at == 0 || math.Abs(v) > math.Abs(z)+1e-9 {
			at, z = g, v
		}
	}
	return at, z
}

func TestMaxRankStatistic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := statstest.AnySample(t, "x", 4, 40, true)
		groups := inGroupsOf(x, rapid.IntRange(1, 6).Draw(t, "group"))
		if sizes, _ := numeric.TieSizes(x); len(sizes) == 1 {
			return
		}
		got := MaxRank(groups, 10, 1)
		at, z := directMaxZ(groups)
		if len(groups) > 1 && (got.At != at || math.Abs(got.Z-z) > 1e-9) {
			t.Fatalf("at %d, z = %v, counted at %d, %v", got.At, got.Z, at, z)
		}
	})
}

// All orders of the values, one by one.
func TestMaxRankCountsAllOrders(t *testing.T) {
	for _, groups := range [][][]float64{
		{{1, 2}, {3, 4}, {5, 6}},
		{{1, 5}, {2}, {6, 9, 7}},
		{{1, 1}, {2, 2, 1}, {2}},
		{{3}, {1}, {2}, {7}, {7}},
		{{4, 4, 1}, {4, 4, 4}},
		{{5}, {}, {1, 2}, {}, {3, 3}},
	} {
		got := MaxRank(groups, 10, 1)
		_, z := directMaxZ(groups)
		count, extreme := 0, 0
		x := joined(groups)
		var sizes []int
		for _, g := range groups {
			sizes = append(sizes, len(g))
		}
		numeric.Permute(x, len(x), func() {
			count++
			if _, v := directMaxZ(grouped(x, sizes...)); math.Abs(v) >= math.Abs(z)-1e-9 {
				extreme++
			}
		})
		if want := float64(extreme) / float64(count); math.Abs(got.P-want) > 1e-12 || !got.Exact {
			t.Errorf("%v: p = %v, counted %d of %d, %v", groups, got.P, extreme, count, want)
		}
	}
}

// What is drawn agrees with what is counted.
func TestMaxRankDrawsWhatItCounts(t *testing.T) {
	const resamples = 40_000
	for seed := range uint64(4) {
		groups := grouped(statstest.Rounded(statstest.Draw(statstest.Generator(seed), "normal", 12), 0.25), 3, 3, 3, 3)
		for i := range groups[2] {
			groups[2][i] += 1
			groups[3][i] += 1
		}
		drawn := MaxRank(groups, resamples, 1)
		ranks, borders, _ := changeRanks(groups)
		_, z := largestZ(ranks, borders)
		var count, extreme float64
		eachArrangement(ranks, borders, func(largest float64) {
			count++
			if largest >= math.Abs(z)*(1-numeric.Slack) {
				extreme++
			}
		})
		p := extreme / count
		if drawn.Exact || math.Abs(drawn.P-p) > 5*math.Sqrt(p*(1-p)/resamples)+1.0/resamples {
			t.Errorf("p = %v (exact: %t), counted %v", drawn.P, drawn.Exact, p)
		}
	}
}

func TestMaxRankEdges(t *testing.T) {
	for name, groups := range map[string][][]float64{
		"nothing": nil, "one group": {{1, 2, 3}}, "empty groups": {{}, {1, 2}, {}}, "all equal": {{1, 1}, {1}, {1, 1}},
	} {
		if got := MaxRank(groups, 1000, 1); got.P != 1 || got.Z != 0 {
			t.Errorf("%s: %+v", name, got)
		}
		if got := ChangePoints(groups, 0.05, 1000, 1); got != nil {
			t.Errorf("%s: %+v", name, got)
		}
	}
	// Two groups are the Mann-Whitney test, as in checks.md: 5 + 5 apart, 2/252.
	if got := MaxRank([][]float64{{1, 2, 3, 4, 5}, {6, 7, 8, 9, 10}}, 10, 1); got.At != 1 || got.P != 2.0/252 || got.Z <= 0 {
		t.Errorf("%+v", got)
	}
	for _, c := range []struct {
		sizes []int
		want  float64
	}{{[]int{3, 3}, 0.1}, {[]int{5, 5}, 2.0 / 252}, {[]int{2, 4, 2}, 2.0 / 28}, {[]int{4}, 1}, {nil, 1}} {
		if got := SmallestMaxRankP(c.sizes); math.Abs(got-c.want) > 1e-15 {
			t.Errorf("SmallestMaxRankP(%v) = %v, want %v", c.sizes, got, c.want)
		}
	}
}

// No p is below the bound, and turning the values around, or their order,
// mirrors the answer.
func TestMaxRankMirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups := inGroupsOf(statstest.AnySample(t, "x", 4, 9, true), rapid.IntRange(2, 4).Draw(t, "group"))
		got := MaxRank(groups, 500, 7)
		turned := make([][]float64, len(groups))
		back := make([][]float64, len(groups))
		var sizes []int
		for i, g := range groups {
			turned[i] = statstest.Negated(g)
			back[len(groups)-1-i] = g
			sizes = append(sizes, len(g))
		}
		if m := MaxRank(turned, 500, 7); m.At != got.At || m.Z != -got.Z || m.P != got.P {
			t.Fatalf("%+v, values turned %+v", got, m)
		}
		if m := MaxRank(back, 500, 7); math.Abs(math.Abs(m.Z)-math.Abs(got.Z)) > 1e-12 || got.Exact && math.Abs(m.P-got.P) > 1e-12 {
			t.Fatalf("%+v, order turned %+v", got, m)
		}
		if _, tied := numeric.TieSizes(joined(groups)); tied == 0 && got.P < SmallestMaxRankP(sizes)-1e-12 {
			t.Fatalf("p = %v below the bound %v", got.P, SmallestMaxRankP(sizes))
		}
	})
}

// False alarms: no change anywhere, in all noise shapes, for 10 to 60 values in
// groups of several sizes, read off finely and coarsely.
func TestChangePointFalseAlarms(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repetitions := 2000
	if statstest.RaceEnabled {
		repetitions = 200
	}
	for _, shape := range statstest.ShapeNames {
		for _, c := range []struct {
			n, group int
			step     float64
		}{{10, 2, 0}, {12, 6, 0}, {24, 3, 0.5}, {30, 1, 0}, {60, 6, 0}, {60, 5, 1}} {
			alarms := 0
			for i := range repetitions {
				x := statstest.Draw(statstest.Generator(uint64(i)), shape, c.n)
				if c.step > 0 {
					x = statstest.Rounded(x, c.step)
				}
				if len(ChangePoints(inGroupsOf(x, c.group), 0.05, 199, uint64(i))) > 0 {
					alarms++
				}
			}
			share := float64(alarms) / float64(repetitions)
			t.Logf("%s, %d values in groups of %d: false alarms in %.1f %%", shape, c.n, c.group, 100*share)
			if !statstest.RaceEnabled && share > 0.06 {
				t.Errorf("%s, %d values in groups of %d: false alarms in %.1f %%, want at most 6", shape, c.n, c.group, 100*share)
			}
		}
	}
}

// Beside changes that are there: how often a split is found that lies within
// a stretch without one. Locations may be off by a border.
func TestChangePointsFalseAlarmsBesideTrueOnes(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repetitions := 600
	if statstest.RaceEnabled {
		repetitions = 60
	}
	for _, shape := range statstest.ShapeNames {
		for _, shift := range []float64{1, 2, 4} {
			alarms := 0
			for i := range repetitions {
				x := statstest.Draw(statstest.Generator(uint64(i)), shape, 60)
				for k := 18; k < 36; k++ { // up, and down again: borders 3 and 6 of 10
					x[k] += shift
				}
				for _, f := range ChangePoints(inGroupsOf(x, 6), 0.05, 199, uint64(i)) {
					if f.From >= 3 && f.To <= 6 || f.To <= 3 || f.From >= 6 {
						alarms++
						break
					}
				}
			}
			share := float64(alarms) / float64(repetitions)
			t.Logf("%s, shift %v: a false one in %.1f %%", shape, shift, 100*share)
			if !statstest.RaceEnabled && share > 0.06 {
				t.Errorf("%s, shift %v: a false one in %.1f %%, want at most 6", shape, shift, 100*share)
			}
		}
	}
}

// What is found: a shift of so many standard deviations of normal noise, and
// how often at the right border.
func TestChangePointDetection(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repetitions := 500
	if statstest.RaceEnabled {
		repetitions = 50
	}
	for _, c := range []struct {
		name         string
		sizes        []int
		at           int // of the shift
		shift        float64
		found, there float64 // at least, in per cent: what was measured less some six points
	}{
		{"8 and 8 in fours", []int{4, 4, 4, 4}, 2, 2, 80, 75},
		{"8 and 8 one by one", slices.Repeat([]int{1}, 16), 8, 2, 75, 47},
		{"36 and 36 in sixes", slices.Repeat([]int{6}, 12), 6, 1, 86, 58},
		{"the last 6 of 72", slices.Repeat([]int{6}, 12), 11, 2, 87, 74},
		{"the last 6 of 72", slices.Repeat([]int{6}, 12), 11, 1.5, 62, 49},
	} {
		found, there := 0, 0
		for i := range repetitions {
			n, before := 0, 0
			for g, s := range c.sizes {
				if n += s; g < c.at {
					before += s
				}
			}
			x := statstest.Draw(rand.New(rand.NewPCG(uint64(i), 5)), "normal", n)
			for k := before; k < n; k++ {
				x[k] += c.shift
			}
			if f := ChangePoints(grouped(x, c.sizes...), 0.05, 499, 1); len(f) > 0 {
				found++
				if f[0].At == c.at {
					there++
				}
			}
		}
		share := func(n int) float64 { return 100 * float64(n) / float64(repetitions) }
		t.Logf("%s, %v sd: found in %.0f %%, there in %.0f %%", c.name, c.shift, share(found), share(there))
		if !statstest.RaceEnabled && (share(found) < c.found || share(there) < c.there) {
			t.Errorf("%s, %v sd: found in %.0f %%, there in %.0f %%, want at least %v and %v",
				c.name, c.shift, share(found), share(there), c.found, c.there)
		}
	}
}

// What the test rests on: where sessions of one group share luck, half as large
// as what sessions differ by, false alarms are several times as many. The doc
// of history says so.
func TestChangePointsSharedLuck(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	if statstest.RaceEnabled {
		t.Skip("a figure, no promise")
	}
	alarms := 0
	for i := range 1000 {
		g := statstest.Generator(uint64(i))
		x := statstest.Draw(g, "normal", 60)
		for k := range x {
			if k%6 == 0 {
				luck := g.NormFloat64() / 2
				for j := range 6 {
					x[k+j] += luck
				}
			}
		}
		if len(ChangePoints(inGroupsOf(x, 6), 0.05, 199, 1)) > 0 {
			alarms++
		}
	}
	t.Logf("false alarms in %.1f %%", float64(alarms)/10)
	if alarms < 100 {
		t.Errorf("false alarms in %d of 1000; the warning says that they are many", alarms)
	}
}
