package stats

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

// One member in few blocks has Student's interval.
func TestSimultaneousIntervalOfOneMember(t *testing.T) {
	d := []float64{0.2, 1.1, 0.7, 0.4}
	lo, hi, _ := StudentInterval(d, 0.95)
	in := SimultaneousIntervals([]Group{{Differences: [][]float64{d}}}, 0.95, 100, 1)[0][0]
	if !statstest.Near(in.Lo, lo, 1e-12, 1e-12) || !statstest.Near(in.Hi, hi, 1e-12, 1e-12) {
		t.Errorf("[%v, %v], want Student's [%v, %v]", in.Lo, in.Hi, lo, hi)
	}
}

func TestSimultaneousIntervalsWithoutSpread(t *testing.T) {
	two, four := []float64{5, 5, 5, 5}, []float64{6, 6, 6, 6}
	group := func(step float64) Group {
		return Group{Before: [][]float64{two}, After: [][]float64{four}, Steps: []float64{step}}
	}
	if in := SimultaneousIntervals([]Group{group(0)}, 0.95, 100, 1)[0][0]; !math.IsNaN(in.Lo) || !math.IsNaN(in.Hi) {
		t.Errorf("constant sides without a step have [%v, %v]", in.Lo, in.Hi)
	}
	if in := SimultaneousIntervals([]Group{group(1)}, 0.95, 100, 1)[0][0]; !(in.Lo < 1 && in.Hi > 1) {
		t.Errorf("constant sides in steps of 1 have [%v, %v]", in.Lo, in.Hi)
	}
	if in := SimultaneousIntervals([]Group{{Before: [][]float64{two[:1]}, After: [][]float64{four}}}, 0.95, 100, 1)[0][0]; !math.IsNaN(in.Lo) {
		t.Errorf("a side of one value has [%v, %v]", in.Lo, in.Hi)
	}
}

// Swapped sides mirror the intervals, and another order of members and groups
// gives the same, drawn or not. A shift of one side moves them along.
func TestSimultaneousIntervalsDependOnNoOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := statstest.Generator(rapid.Uint64().Draw(t, "seed"))
		var groups, other []Group
		for _, size := range [][2]int{{4, 4}, {10, 10}, {6, 14}} {
			group := anyGroup(g, 3, size[0], size[1])
			group.Steps = []float64{1, 1, 1} // no member without any spread
			groups = append(groups, group)
			turned := Group{Before: slices.Clone(group.After), After: slices.Clone(group.Before), Steps: group.Steps}
			slices.Reverse(turned.Before)
			slices.Reverse(turned.After)
			other = append(other, turned)
		}
		slices.Reverse(other)
		want, got := SimultaneousIntervals(groups, 0.95, 200, 1), SimultaneousIntervals(other, 0.95, 200, 1)
		slices.Reverse(got)
		for _, in := range got {
			slices.Reverse(in)
			for k := range in {
				in[k] = Interval{Lo: -in[k].Hi, Hi: -in[k].Lo}
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatal(diff)
		}
		for k := range groups[0].After {
			groups[0].After[k] = statstest.Moved(groups[0].After[k], 1, 3)
		}
		for k, in := range SimultaneousIntervals(groups[:1], 0.95, 200, 1)[0] {
			alone := SimultaneousIntervals([]Group{other[2]}, 0.95, 200, 1)[0][2-k]
			if !statstest.Near(in.Lo, 3-alone.Hi, 1e-9, 1e-9) || !statstest.Near(in.Hi, 3-alone.Lo, 1e-9, 1e-9) {
				t.Fatalf("member %d moved by 3 has [%v, %v], not moved [%v, %v]", k, in.Lo, in.Hi, -alone.Hi, -alone.Lo)
			}
		}
	})
}
