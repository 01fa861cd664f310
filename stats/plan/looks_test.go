package plan

import (
	"math"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// Pocock 1977, table 1 (from memory): 0.0294 at 5 %, z = 2.178.
func TestTwoLooksLevel(t *testing.T) {
	level := TwoLooksLevel(0.05)
	if math.Abs(level-0.0294) > 5e-5 || math.Abs(-numeric.NormalQuantile(level/2)-2.178) > 5e-4 {
		t.Errorf("level %v", level)
	}
	if !statstest.Panics(func() { TwoLooksLevel(1) }) {
		t.Error("an alpha of 1 does not panic")
	}
}

// bothReject is the chance that either look rejects, by the exact joint distribution.
func bothReject(first, second int, level [2]float64) float64 {
	joint := rankLooks(first, second)
	sum := 0.0
	for u, row := range joint {
		for v, x := range row {
			if exactP(first, u) <= level[0] || exactP(second, v) <= level[1] {
				sum += x
			}
		}
	}
	return sum
}

// exactP is the two-sided p of U = u at n a side, from critical values.
func exactP(n, u int) float64 {
	x, y := make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = float64(i)
	}
	left := u
	for j := range y { // so many of x below each y
		below := min(n, left)
		y[j] = float64(below) - 0.5 + float64(j)*1e-3
		left -= below
	}
	return stats.MannWhitney(x, y).PUsed
}

// Every order of 2 then 4 values a side, counted: all are equally likely.
func TestRankLooksByEnumeration(t *testing.T) {
	first, second := 2, 4
	joint := rankLooks(first, second)
	count := make([][]float64, len(joint))
	for u := range count {
		count[u] = make([]float64, len(joint[0]))
	}
	total := 0.0
	// kind of each rank: 0, 1 before (late, early); 2, 3 after (late, early).
	kinds := make([]int, 2*second)
	for code := range 1 << (2 * len(kinds)) {
		var of [4]int
		for i := range kinds {
			kinds[i] = code >> (2 * i) & 3
			of[kinds[i]]++
		}
		if of != [4]int{second - first, first, second - first, first} {
			continue
		}
		u, v := 0, 0
		for i, a := range kinds {
			for _, b := range kinds[i+1:] {
				if a < 2 && b >= 2 {
					v++
					if a == 1 && b == 3 {
						u++
					}
				}
			}
		}
		count[u][v]++
		total++
	}
	for u := range count {
		for v := range count[u] {
			if math.Abs(joint[u][v]-count[u][v]/total) > 1e-12 {
				t.Errorf("P(%d, %d) = %v, counted %v", u, v, joint[u][v], count[u][v]/total)
			}
		}
	}
}

// Both looks at one level keep 5 % exactly, whatever steps the ranks have.
func TestTwoLooksLevelIsKept(t *testing.T) {
	level := TwoLooksLevel(0.05)
	for first, want := range map[int]float64{4: 0.0500, 5: 0.0400, 6: 0.0474} {
		got := bothReject(first, 2*first, [2]float64{level, level})
		if got > 0.05 || math.Abs(got-want) > 5e-5 {
			t.Errorf("%d then %d: %v, want %v", first, 2*first, got, want)
		}
	}
}

// What a look at 5 % leaves, by enumeration or a million paths (found before this
// package was written): 0.0375 after 4 + 4, 0.0285 after 5 + 5, 0.017 after 6 + 6.
func TestSecondLookLevel(t *testing.T) {
	for first, want := range map[int]float64{3: 0.05, 4: 0.0375, 5: 0.0285, 6: 0.017} {
		level, ok := SecondLookLevel(0.05, first, 2*first)
		if !ok || math.Abs(level-want) > 1e-9 {
			t.Errorf("after %d: %v, %v, want %v", first, level, ok, want)
		}
		if first > 3 {
			if got := bothReject(first, 2*first, [2]float64{0.05, level}); got > 0.05 {
				t.Errorf("after %d: both looks reject in %v", first, got)
			}
			if got := bothReject(first, 2*first, [2]float64{0.05, level + 0.0005}); first < 6 && got <= 0.05 {
				t.Errorf("after %d: a higher level would do, %v", first, got)
			}
		}
	}
	if level, ok := SecondLookLevel(0.05, 12, 24); ok {
		t.Errorf("12 then 24: %v", level)
	}
	if !statstest.Panics(func() { SecondLookLevel(0.05, 5, 5) }) {
		t.Error("a look at the same values does not panic")
	}
}

// judgedReal is the program's own rule at one look: the rank test at the level,
// and 0 outside the interval of the same error.
func judgedReal(x, y []float64, level float64, seed uint64) bool {
	if stats.MannWhitney(x, y).PUsed > level+numeric.Slack {
		return false
	}
	in, ok := stats.ChangeInterval(x, y, 1-level, 1000, seed)
	return ok && (in.Lo > 0 || in.Hi < 0)
}

// falseAlarms is the share of comparisons without a change that are called
// real at any of the looks, over all noise shapes.
func falseAlarms(looks []int, level float64, repeats int, seed uint64) float64 {
	g := statstest.Generator(seed)
	last, alarms := looks[len(looks)-1], 0
	for r := range repeats {
		shape := statstest.ShapeNames[r%len(statstest.ShapeNames)]
		x, y := statstest.Draw(g, shape, last), statstest.Draw(g, shape, last)
		for _, n := range looks {
			if judgedReal(x[:n], y[:n], level, uint64(r)) {
				alarms++
				break
			}
		}
	}
	return float64(alarms) / float64(repeats)
}

// Adding runs until the verdict pleases, under this package's own rule. A study
// of some 2,000 repetitions before this package was written found 6.2, 8.4 and
// 12.2 %. The single look is there to compare with: the exact test alone is
// wrong in 4.3 % at 10 and 10.
func TestPeeking(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repeats := 4000
	if statstest.RaceEnabled {
		repeats = 300
	}
	every := make([]int, 12)
	for i := range every {
		every[i] = 4 + i
	}
	for i, c := range []struct {
		name  string
		looks []int
		want  float64
	}{
		{"one look at 10", []int{10}, 0.040},
		{"5, then 10 runs", []int{5, 10}, 0.062},
		{"5, 8, 11, 14 runs", []int{5, 8, 11, 14}, 0.084},
		{"every size from 4 to 15", every, 0.122},
	} {
		share := falseAlarms(c.looks, 0.05, repeats, 330+uint64(i))
		t.Logf("%s: %.1f %% false alarms at a nominal 5 %%", c.name, 100*share)
		if math.Abs(share-c.want) > 0.012+3*statstest.StandardError(c.want, repeats) {
			t.Errorf("%s: %.1f %% false alarms, known are about %.1f %%", c.name, 100*share, 100*c.want)
		}
		if len(c.looks) != 2 {
			continue
		}
		level := TwoLooksLevel(0.05)
		share = falseAlarms(c.looks, level, repeats, 340+uint64(i))
		t.Logf("  with the common level %.4f: %.1f %%", level, 100*share)
		if share > 0.05+2*statstest.StandardError(0.05, repeats) {
			t.Errorf("%s: %.1f %% false alarms with the common level", c.name, 100*share)
		}
	}
}

// Families keep the promise, too: 8 unchanged members that share no luck, each real where
// its own rank test and the corrected p reach the common level at either look. With 1,000
// repetitions it was 5.1 to 5.5 % in normal and 3.0 to 3.4 in skewed noise.
func TestTwoLooksOfFamilies(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	const members = 8
	repeats := 300
	if statstest.RaceEnabled {
		repeats = 50
	}
	level := TwoLooksLevel(0.05)
	for _, shape := range []string{"normal", "skew"} {
		for _, first := range []int{4, 5} {
			g := statstest.Generator(uint64(350 + first))
			alarms := 0
			for range repeats {
				all := stats.Group{}
				for range members {
					all.Before = append(all.Before, statstest.Draw(g, shape, 2*first))
					all.After = append(all.After, statstest.Draw(g, shape, 2*first))
				}
				if anyReal(all, first, level) || anyReal(all, 2*first, level) {
					alarms++
				}
			}
			share := float64(alarms) / float64(repeats)
			t.Logf("%s, %d then %d: %.1f %% of families call something real", shape, first, 2*first, 100*share)
			if share > 0.053+2.33*statstest.StandardError(0.053, repeats) {
				t.Errorf("%s, %d then %d: %.1f %%", shape, first, 2*first, 100*share)
			}
		}
	}
}

// anyReal judges a family by the first n values of each side.
func anyReal(all stats.Group, n int, level float64) bool {
	looked := stats.Group{}
	for k := range all.Before {
		looked.Before = append(looked.Before, all.Before[k][:n])
		looked.After = append(looked.After, all.After[k][:n])
	}
	for k, p := range stats.FamilyP([]stats.Group{looked}, 1000, 1)[0] {
		if p <= level+numeric.Slack && stats.MannWhitney(looked.Before[k], looked.After[k]).PUsed <= level+numeric.Slack {
			return true
		}
	}
	return false
}
