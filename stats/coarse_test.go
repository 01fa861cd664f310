package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

func TestResolution(t *testing.T) { // counting
	tens := func(v float64, more ...float64) []float64 { return append(slices.Repeat([]float64{v}, 10), more...) }
	for _, c := range []struct {
		samples [][]float64
		want    float64
	}{
		{[][]float64{{60, 61, 63}, {61, 64}}, 1},
		{[][]float64{{60, 62}, {60, 60}}, 2},
		{[][]float64{{60, 60}, {60.5}}, 0.5},
		{[][]float64{{-3, 4}, {0}}, 1}, // nothing repeats
		{[][]float64{{60, 60}, {60}}, 1},
		{[][]float64{{1200}}, 1},
		{[][]float64{{4.25, 4.25}, {4.25}}, 0.01},
		{[][]float64{{-0.5}}, 0.1},
		{[][]float64{{0, 0}}, 1},
		{[][]float64{{3e-9, 3e-9, 3.1e-9}}, 1e-10},
		{[][]float64{{0.3, 0.1 + 0.2, 0.4, 0.4}}, 0.1}, // 0.30000000000000004 is no step
		{nil, 1},
		{[][]float64{{412.31, 409.77, 412.31, 402.1}}, 0.01}, // fine, with a tie
		// Readings written with more digits than most.
		{[][]float64{{60, 60, 61, 60, 61}, {62, 62.03, 61, 62, 62}}, 1},
		{[][]float64{{60, 60, 60, 60, 60}, {60, 60, 60.47, 60, 60}}, 1},
		{[][]float64{{60, 60, 61, 60, 61}, {62.1, 62.03, 61.4, 62, 62}}, 0.1}, // three in ten are too many for slips, one is not
		{[][]float64{tens(60, tens(61, 60.33, 60.67, 60.5)...)}, 1},           // averages
		{[][]float64{tens(78, tens(78.5, 78.43)...)}, 0.5},
		{[][]float64{tens(15.6, tens(31.2, 46.8, 17.43)...)}, 15.6}, // a clock's ticks
		{[][]float64{tens(60, tens(60, 60.5, 60.5, 60.5)...)}, 0.5}, // one value repeats too often for a slip
	} {
		if got := Resolution(c.samples...); math.Abs(got-c.want) > 1e-9*c.want {
			t.Errorf("Resolution(%v) = %v, want %v", c.samples, got, c.want)
		}
	}
}

// A side that was written with more digits has a step of its own.
func TestResolutions(t *testing.T) { // counting
	for _, c := range []struct {
		before, after []float64
		want          [2]float64
	}{
		{[]float64{60, 60, 61, 60, 61}, []float64{62, 63, 62, 62, 63}, [2]float64{1, 1}},
		{[]float64{60, 60, 61, 60, 61}, []float64{62.13, 62.87, 61.94, 62.13, 62.5}, [2]float64{1, 0.01}},
		{[]float64{62.1, 62.8, 61.9, 62.1, 62.5}, []float64{60, 60, 60, 60, 60}, [2]float64{0.1, 1}},
		{[]float64{60, 60, 61, 60, 61}, []float64{61, 60.5, 61, 60.5, 61}, [2]float64{0.5, 0.5}}, // half steps, by chance all whole before
		{[]float64{60, 60, 61, 60, 61}, []float64{61, 61.03, 61, 60, 61}, [2]float64{1, 1}},
	} {
		if got := Resolutions(c.before, c.after); math.Abs(got[0]-c.want[0])+math.Abs(got[1]-c.want[1]) > 1e-9 {
			t.Errorf("Resolutions(%v, %v) = %v, want %v", c.before, c.after, got, c.want)
		}
	}
}

func TestCoarseWidening(t *testing.T) { // the rule, by hand
	for _, c := range []struct {
		name       string
		x          []float64
		step, want float64
	}{
		{"fine", []float64{60, 63, 66}, 1, 0},
		{"within a step", []float64{60, 60, 61}, 1, 0.5},
		{"constant", []float64{60, 60, 60}, 1, 1},
		{"constant in another unit", []float64{0.1, 0.1, 0.1}, 0.1, 0.1},
		{"a spread of exactly a step", []float64{60, 61, 62}, 1, 0},
		{"a spread of two steps, 15 values", []float64{0, 0, 0, 2, 2, 2, 4, 4, 4, 2, 0, 4, 5, 1, 3}, 1, 0.5},
	} {
		if got := CoarseWidening(c.x, c.step); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestRoundingAllowance(t *testing.T) { // by hand; Sheppard's correction takes 1/12
	for _, c := range []struct {
		name          string
		before, after []float64
		tick, want    float64
	}{
		{"a spread of one tick", []float64{60, 61, 62}, []float64{60, 61, 62}, 1, 0},
		{"one side constant", []float64{60, 60, 60}, []float64{60, 64, 70}, 1, 1},
		{"variance 1/3", []float64{60, 60, 61}, []float64{60, 64, 70}, 1, 2 / math.Pi * math.Exp(-math.Pi*math.Pi/4)},
		{"in half steps", []float64{60, 64, 70}, []float64{60, 60, 60.5}, 0.5, 1 / math.Pi * math.Exp(-math.Pi*math.Pi/4)},
		{"at most half a tick", []float64{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1}, []float64{60, 64, 70}, 1, 0.5}, // variance 1/12
	} {
		if got := RoundingAllowance(c.before, c.after, [2]float64{c.tick, c.tick}); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		// A side of fine readings asks for nothing, however little it spreads.
		fine := []float64{60.41, 60.44, 60.4}
		alone := RoundingAllowance(c.before, c.before, [2]float64{c.tick, c.tick})
		got, swapped := RoundingAllowance(c.before, fine, [2]float64{c.tick, 0.01}), RoundingAllowance(fine, c.before, [2]float64{0.01, c.tick})
		if got != alone || got != swapped {
			t.Errorf("%s beside fine readings: %v, sides swapped %v, alone %v", c.name, got, swapped, alone)
		}
	}
}

func TestSpreadTies(t *testing.T) { // by hand
	one := func(float64) float64 { return 1 }
	for _, c := range []struct{ x, want []float64 }{
		{nil, nil},
		{[]float64{62, 60}, []float64{60, 62}},
		{[]float64{60, 61, 60}, []float64{59.75, 60.25, 61}},
		{[]float64{5, 5, 5, 5}, []float64{4.625, 4.875, 5.125, 5.375}},
	} {
		if got := SpreadTies(c.x, one); !slices.Equal(got, c.want) {
			t.Errorf("SpreadTies(%v) = %v, want %v", c.x, got, c.want)
		}
	}
	// Classes as wide as their step touch: many readings of two values fill both.
	got := SpreadTies([]float64{1, 1, 1, 1, 2, 2, 2, 2}, one)
	for i := 1; i < len(got); i++ {
		if got[i]-got[i-1] != 0.25 {
			t.Errorf("%v are not even", got)
		}
	}
	// On logarithms the steps of 1 and 2 overlap: from 1/2 above ln 1 down to 1/4
	// below ln 2.
	logs := append(make([]float64, 20), slices.Repeat([]float64{math.Ln2}, 20)...)
	if got := SpreadTies(logs, func(v float64) float64 { return math.Exp(-v) }); !slices.IsSorted(got) {
		t.Errorf("%v are not ascending", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		x := statstest.AnySample(t, "x", 1, 20, true)
		step := func(v float64) float64 { return math.Abs(v) + 1 }
		up, down := SpreadTies(x, step), SpreadTies(statstest.Negated(x), step)
		for i := range up {
			if down[len(down)-1-i] != -up[i] {
				t.Fatalf("signs turned: %v and %v", up, down)
			}
		}
		if again := SpreadTies(statstest.Shuffled(t, x), step); !slices.Equal(again, up) {
			t.Fatalf("in another order: %v and %v", again, up)
		}
	})
}

func TestCoarseProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := statstest.AnySides(t, 2, 12, true)
		tick := Resolution(x, y)
		if tick != Resolution(y, x) || tick != Resolution(statstest.Shuffled(t, x), y) {
			t.Fatal("the tick depends on order")
		}
		if !(tick > 0) {
			t.Fatalf("tick = %v", tick)
		}
		steps, swapped := Resolutions(x, y), Resolutions(y, x)
		if steps[0] != swapped[1] || steps[1] != swapped[0] || !(min(steps[0], steps[1]) > 0) {
			t.Fatalf("steps %v, sides swapped %v", steps, swapped)
		}
		if wide := CoarseWidening(x, tick); wide != 0 && wide != tick/2 && wide != tick || Coarse(x, tick) && wide == 0 {
			t.Fatalf("coarse %v, widening %v of step %v", Coarse(x, tick), wide, tick)
		}
	})
}

// A step shows where all gaps are whole steps and one of them, or a value, repeats.
func TestOnGrid(t *testing.T) {
	for _, c := range []struct {
		name string
		tick float64
		x    []float64
		want bool
	}{
		{"the smallest gap repeats", 1, []float64{60, 61, 62}, true},
		{"a value repeats", 1, []float64{60, 60, 61, 64}, true},
		{"tenths", 0.1, []float64{80.1, 80.2, 80.2, 80.5}, true},
		{"nothing repeats", 1, []float64{60, 61, 64}, false},
		{"a gap of one and a half steps", 1, []float64{60, 61, 62.5, 63.5}, false},
		{"a single value", 1, []float64{60}, false},
	} {
		if got := onGrid(c.tick, c.x); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
