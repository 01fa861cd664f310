package compare_test

import (
	"math"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/stats"
)

// Readings in steps are spread over them, and where their own spread is small or
// none the ends move out; a side's spread below one tick is called coarse. The
// interval still holds the estimate.
func TestCoarseReadings(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after []float64
		tick, step    float64
	}{
		{"fine readings", []float64{50, 53.5, 56.25, 58, 61.75}, []float64{70, 73.125, 77, 79.5, 81}, 0, 0},
		{"coarse on both sides", []float64{60, 60, 61, 60, 61}, []float64{62, 63, 62, 62, 63}, 1, 1},
		{"coarse on one side", []float64{60, 60, 61, 60, 61}, []float64{62, 65, 68, 69, 73}, 1, 1},
		{"constant before", []float64{60, 60, 60, 60, 60}, []float64{62, 65, 68, 69, 73}, 1, 0},
		{"constant after", []float64{62, 65, 68, 69, 73}, []float64{60, 60, 60, 60, 60}, 1, 0},
		{"half steps", []float64{78, 78.5, 78, 78, 78.5}, []float64{84, 83.5, 84, 84, 84}, 0.5, 0.5},
		{"a spread of exactly one tick", []float64{60, 61, 62}, []float64{70, 71, 72}, 0, 1},
		{"a spread of two ticks", []float64{60, 61, 61, 64, 65}, []float64{70, 73, 71, 71, 75}, 0, 1},
	} {
		p := compare.Policy{Confidence: 0.9}
		r := resultOf(t, comparetest.Numbers("°C", c.before...), comparetest.Numbers("°C", c.after...), p, compare.Options{Seed: 3})
		over := func(float64) float64 { return c.step }
		in, ok := stats.ChangeInterval(stats.SpreadTies(c.before, over), stats.SpreadTies(c.after, over), 0.9, 1000, 3)
		in = in.Including(stats.HodgesLehmann(c.before, c.after))
		widen := 0.0
		if c.tick > 0 {
			widen = stats.RoundingAllowance(c.before, c.after, [2]float64{c.tick, c.tick})
		}
		if lo, hi := in.Lo-widen, in.Hi+widen; !ok || !comparetest.Near(r.Interval[0], lo, 1e-9) || !comparetest.Near(r.Interval[1], hi, 1e-9) ||
			r.Resolution != c.tick {
			t.Errorf("%s: interval %v, tick %v; want %v to %v, %v", c.name, *r.Interval, r.Resolution, lo, hi, c.tick)
		}
	}
	// On a ratio scale a tick is one of the smaller side: 1 in 60, on logarithms.
	r := resultOf(t, comparetest.Numbers("fps", 60, 60, 61, 60, 60), comparetest.Numbers("fps", 63, 62, 63, 63, 63), compare.Policy{},
		compare.Options{Seed: 3})
	logs := func(v ...float64) []float64 {
		for i := range v {
			v[i] = math.Log(v[i])
		}
		return v
	}
	over := func(v float64) float64 { return 1 / math.Exp(v) }
	in, _ := stats.ChangeInterval(stats.SpreadTies(logs(60, 60, 61, 60, 60), over),
		stats.SpreadTies(logs(63, 62, 63, 63, 63), over), 0.95, 1000,
		3)
	widen := stats.RoundingAllowance([]float64{60, 60, 61, 60, 60}, []float64{63, 62, 63, 63, 63}, [2]float64{1, 1}) / 60
	if lo, hi := math.Expm1(in.Lo-widen), math.Expm1(in.Hi+widen); widen == 0 || !comparetest.Near(r.Interval[0], lo, 1e-12) ||
		!comparetest.Near(r.Interval[1], hi, 1e-12) {
		t.Errorf("interval %v, want %v to %v", *r.Interval, lo, hi)
	}
}

// Fine readings whose compared values happen to lie closer together than any
// two readings are not coarse: two runs a side, and a steady change under the
// luck of blocks that lie far apart.
func TestFineReadingsAreNotCoarse(t *testing.T) {
	two := resultOf(t, comparetest.Numbers("s", 412.31, 409.77), comparetest.Numbers("s", 402.18, 405.93), compare.Policy{}, compare.Options{})
	if lo, hi := 409.77/405.93-1, 412.31/402.18-1; two.Resolution != 0 || !comparetest.Near(two.Range[0], lo, 1e-12) ||
		!comparetest.Near(two.Range[1], hi, 1e-12) {
		t.Errorf("tick %v, range %v, want %v to %v", two.Resolution, *two.Range, lo, hi)
	}
	before := comparetest.InBlocks("s", "F", comparetest.OneEach(400.13, 421.98, 447.31, 462.87, 489.02, 508.55)...)
	after := comparetest.InBlocks("s", "B", comparetest.OneEach(396.21, 417.64, 443.01, 458.13, 484.19, 503.32)...)
	r := resultOf(t, before, after, compare.Policy{}, compare.Options{})
	if r.Resolution != 0 {
		t.Errorf("tick %v", r.Resolution)
	}
	// Six differences: the interval of the signed-rank test runs from the
	// smallest to the largest.
	if lo, hi := 447.31/443.01-1, 421.98/417.64-1; !comparetest.Near(r.Interval[0], lo, 1e-12) || !comparetest.Near(r.Interval[1], hi, 1e-12) {
		t.Errorf("interval %v, want %v to %v", *r.Interval, lo, hi)
	}
	// Whole numbers in blocks are coarse where their steps show: equal differences of 1
	// may be off by a step, and by the error that rounding leaves their mean,
	// sqrt(2/6/12).
	whole := resultOf(t, comparetest.InBlocks("°C", "F", comparetest.OneEach(60, 62, 65, 70, 75, 80)...),
		comparetest.InBlocks("°C", "B", comparetest.OneEach(61, 63, 66, 71, 76, 81)...), compare.Policy{}, compare.Options{})
	if whole.Resolution != 1 || !comparetest.Near(whole.Interval[0], -1./6, 1e-9) || !comparetest.Near(whole.Interval[1], 2+1./6,
		1e-9) || whole.Real {
		t.Errorf("tick %v, interval %v, real %v", whole.Resolution, *whole.Interval, whole.Real)
	}
}

// A spread of exactly one tick is not below it, whatever rounding says: the
// same readings in another unit must not change the interval.
func TestSpreadOfOneTick(t *testing.T) {
	for scale := 1.0; scale <= 64; scale++ {
		by := func(v ...float64) []float64 {
			for i := range v {
				v[i] *= scale / 10
			}
			return v
		}
		r := resultOf(t, comparetest.Numbers("fps", by(60, 61, 62)...), comparetest.Numbers("fps", by(70, 71, 72)...),
			compare.Policy{Confidence: 0.9}, compare.Options{})
		if r.Resolution != 0 {
			t.Errorf("times %v: the interval is widened for readings in steps of %v", scale/10, r.Resolution)
		}
	}
}

// On a ratio scale a step is no larger than a reading: the gap between 1 and
// 1001 s says nothing of steps of 1000 s, which would take the interval's end
// beyond the range of a float64.
func TestStepIsNoLargerThanReadings(t *testing.T) {
	r := resultOf(t, comparetest.Numbers("s", 1, 1, 1, 1, 1), comparetest.Numbers("s", 1001, 1001, 1001, 1001, 1001), compare.Policy{},
		compare.Options{})
	if lo, hi := math.Exp(-1)/1001-1, math.E/1001-1; r.Resolution != 1 || !comparetest.Near(r.Interval[0], lo, 1e-12) ||
		!comparetest.Near(r.Interval[1], hi, 1e-12) || *r.Verdict != compare.Regression {
		t.Errorf("tick %v, interval %v, %s; want 1, %v to %v, regression", r.Resolution, *r.Interval, *r.Verdict, lo, hi)
	}
	spread := resultOf(t, comparetest.Numbers("s", 1, 1, 1, 1, 1001), comparetest.Numbers("s", 1, 1001, 1001, 1001, 1001), compare.Policy{},
		compare.Options{})
	if spread.Resolution != 0 || spread.Interval[1] > 0.5 {
		t.Errorf("tick %v, interval %v", spread.Resolution, *spread.Interval)
	}
	// A temperature has no zero to count from.
	if r := resultOf(t, comparetest.Numbers("°C", 1, 1, 1, 1, 1), comparetest.Numbers("°C", 11, 11, 11, 11, 11), compare.Policy{},
		compare.Options{}); r.Resolution != 10 {
		t.Errorf("tick %v, want 10", r.Resolution)
	}
}

// Equal readings in steps of 0.01 in 60.25 are settled by one more run a side, so
// nobody may be told that no number would do; whole numbers hide 0.5 % for good.
func TestTooCoarse(t *testing.T) {
	for _, c := range []struct {
		runs    int
		reading float64
		want    bool
		verdict compare.Verdict
	}{
		{3, 60.25, false, compare.Noise}, {4, 60.25, false, compare.Level}, {3, 60, true, compare.Noise}, {30, 60, true, compare.Noise},
	} {
		same := comparetest.Numbers("fps", slices.Repeat([]float64{c.reading}, c.runs)...)
		if r := resultOf(t, same, same, compare.Policy{}, compare.Options{}); r.TooCoarse() != c.want || *r.Verdict != c.verdict {
			t.Errorf("%d readings of %v: too coarse %v, %s", c.runs, c.reading, r.TooCoarse(), *r.Verdict)
		}
	}
	whole := resultOf(t, comparetest.Numbers("fps", 60, 60, 60, 60), comparetest.Numbers("fps", 60, 61, 62, 60), compare.Policy{},
		compare.Options{})
	if !whole.TooCoarse() || whole.Needs != nil {
		t.Errorf("one constant side: too coarse %v, needed %v", whole.TooCoarse(), whole.Needs)
	}
}

// A side of a single session shows no spread, so nothing says that its readings
// are coarse for it.
func TestLoneSessionIsNotCoarse(t *testing.T) {
	single := comparetest.InSessions("fps", "F", []float64{60, 75, 61})
	for _, after := range [][][]float64{{{62, 70, 85}}, {{62, 70, 85}, {64, 86, 71}, {96, 72, 88}}} {
		if r := resultOf(t, single, comparetest.InSessions("fps", "B", after...), compare.Policy{}, compare.Options{}); r.Resolution != 0 {
			t.Errorf("1 and %d sessions: tick %v, notes %v", len(after), r.Resolution, r.Notes)
		}
	}
}

// Both sides constant: the difference plus and minus one tick, and no 0/0
// anywhere.
func TestConstantSides(t *testing.T) {
	same := func(v float64) []float64 { return []float64{v, v, v, v, v} }
	for _, c := range []struct {
		name          string
		unit          string
		before, after float64
		lo, hi        float64
		tolerance     float64
		verdict       compare.Verdict
	}{
		{"the same", "fps", 60, 60, math.Expm1(-1.0 / 60), math.Expm1(1.0 / 60), 0.5, compare.Noise},
		{"the same, wide tolerance", "fps", 60, 60, math.Expm1(-1.0 / 60), math.Expm1(1.0 / 60), 2, compare.Level},
		{"a tick apart", "fps", 60, 61, math.Expm1(math.Log(61.0/60) - 1.0/60), math.Expm1(math.Log(61.0/60) + 1.0/60), 0.5, compare.Hint},
		{"two decimals", "fps", 4.25, 4.25, math.Expm1(-0.01 / 4.25), math.Expm1(0.01 / 4.25), 0.5, compare.Level},
		// With two distinct values the tick is their gap, whatever it is: so
		// constant sides never settle a change.
		{"far apart", "fps", 60, 75, math.Expm1(math.Log(75.0/60) - 15.0/60), math.Expm1(math.Log(75.0/60) + 15.0/60), 0.5, compare.Hint},
		{"a time", "s", 60, 60, math.Expm1(-1.0 / 60), math.Expm1(1.0 / 60), 0.5, compare.Noise},
		{"heat", "°C", 78.5, 78.5, -0.1, 0.1, 0, compare.Noise},
	} {
		p := comparetest.Tolerating(compare.Policy{}, c.tolerance)
		r := resultOf(t, comparetest.Numbers(c.unit, same(c.before)...), comparetest.Numbers(c.unit, same(c.after)...), p, compare.Options{})
		if !comparetest.Near(r.Interval[0], c.lo, 1e-12) || !comparetest.Near(r.Interval[1], c.hi, 1e-12) ||
			comparetest.VerdictOf(r) != c.verdict {
			t.Errorf("%s: interval %v, %s; want %v to %v, %s", c.name, *r.Interval, comparetest.VerdictOf(r), c.lo, c.hi, c.verdict)
		}
		if r.BlindSpot != nil || r.Needs != nil || r.Before.StdDev != 0 || math.IsNaN(r.P+r.PUsed+r.Superiority+r.Change) {
			t.Errorf("%s: %+v", c.name, r)
		}
		if r.Superiority != 0.5 && c.before == c.after {
			t.Errorf("%s: superiority %v", c.name, r.Superiority)
		}
	}
}

// Whole frame rates that spread by 0.4 steps, among which some are finer: the true
// change is covered, a loss beyond the tolerance is not called level, and no
// interval has the width 0. Taken for fine readings, 30 and 30 with one typed with
// decimals were covered in 56 %, and a third of the intervals had the width 0.
func TestMixedReadingsPromise(t *testing.T) {
	n := 200
	if comparetest.RaceEnabled {
		n = 20
	}
	for name, reading := range map[string]func(side, k int, read func(step float64) float64) float64{
		"one typed with decimals": func(side, k int, read func(float64) float64) float64 {
			if side == 1 && k == 3 {
				return read(0.01)
			}
			return read(1)
		},
		"averages of three among them": func(_, k int, read func(float64) float64) float64 {
			if k%10 == 3 {
				return math.Round((read(1)+read(1)+read(1))/3*100) / 100
			}
			return read(1)
		},
		"two decimals after": func(side, _ int, read func(float64) float64) float64 {
			return read([2]float64{1, 0.01}[side])
		},
	} {
		for _, runs := range []int{5, 30} {
			covered, levels, losses := 0, 0, 0
			g := comparetest.Generator(uint64(runs))
			for i := range n {
				before, change := 60+g.Float64(), 2*g.Float64()
				loss := i%2 == 1 // of just more than the tolerance of 0.5 %
				if loss {
					change = -0.006 * before
				}
				var sides [2][]compare.Value
				for side, at := range [2]float64{before, before + change} {
					values := make([]float64, runs)
					for k := range values {
						read := func(step float64) float64 {
							return math.Round(math.Round((at+0.4*g.NormFloat64())/step)*step*100) / 100
						}
						values[k] = reading(side, k, read)
					}
					sides[side] = comparetest.Numbers("fps", values...)
				}
				r := resultOf(t, sides[0], sides[1], compare.Policy{}, compare.Options{Resamples: 500, Seed: 1})
				if !(r.Interval[1] > r.Interval[0]) {
					t.Fatalf("%s: interval %v", name, *r.Interval)
				}
				if truth := change / before; r.Interval[0] <= truth && truth <= r.Interval[1] {
					covered++
				}
				if loss {
					losses++
					if *r.Verdict == compare.Level {
						levels++
					}
				}
			}
			share, level := float64(covered)/float64(n), float64(levels)/float64(losses)
			t.Logf("%s, %d and %d: covered %.1f %%, level %.1f %%", name, runs, runs, 100*share, 100*level)
			if share < 0.93-2*math.Sqrt(0.93*0.07/float64(n)) || level > 0.03+2*math.Sqrt(0.03*0.97/float64(losses)) {
				t.Errorf("%s, %d and %d: covered %.1f %%, a loss called level in %.1f %%", name, runs, runs, 100*share, 100*level)
			}
		}
	}
}
