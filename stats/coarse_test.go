package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

func TestResolution(t *testing.T) { // counting
	for _, c := range []struct {
		samples [][]float64
		want    float64
	}{
		{[][]float64{{60, 61, 63}, {61, 64}}, 1},
		{[][]float64{{60, 62}, {60, 60}}, 2},
		{[][]float64{{60, 60}, {60.5}}, 0.5},
		{[][]float64{{-3, 4}, {0}}, 3},
		{[][]float64{{60, 60}, {60}}, 1},
		{[][]float64{{1200}}, 1},
		{[][]float64{{4.25, 4.25}, {4.25}}, 0.01},
		{[][]float64{{-0.5}}, 0.1},
		{[][]float64{{0, 0}}, 1},
		{[][]float64{{0.3, 0.1 + 0.2, 0.4}}, 0.1}, // 0.30000000000000004 is no step
		{nil, math.Inf(1)},
	} {
		if got := Resolution(c.samples...); got != c.want && math.Abs(got-c.want) > 1e-12 {
			t.Errorf("Resolution(%v) = %v, want %v", c.samples, got, c.want)
		}
	}
}

func TestCoarseWidening(t *testing.T) { // the design's rule, by hand
	for _, c := range []struct {
		name          string
		before, after []float64
		tick, want    float64
	}{
		{"fine on both sides", []float64{60, 63, 66}, []float64{61, 64, 68}, 1, 0},
		{"one side within a tick", []float64{60, 60, 61}, []float64{60, 64, 70}, 1, 0.5},
		{"the other side", []float64{60, 64, 70}, []float64{60, 60, 61}, 1, 0.5},
		{"one side constant", []float64{60, 60, 60}, []float64{60, 64, 70}, 1, 1},
		{"both constant", []float64{60, 60, 60}, []float64{60, 60}, 1, 1},
		{"constant in another unit", []float64{0.1, 0.1, 0.1}, []float64{0.1, 0.3, 0.7}, 0.1, 0.1},
		{"spread of exactly a tick", []float64{60, 61, 62}, []float64{60, 61, 62}, 1, 0},
	} {
		if got := CoarseWidening(c.before, c.after, c.tick); got != c.want {
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
		if got := RoundingAllowance(c.before, c.after, c.tick); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		if got, other := RoundingAllowance(c.before, c.after, c.tick), RoundingAllowance(c.after, c.before, c.tick); got != other {
			t.Errorf("%s: %v, sides swapped %v", c.name, got, other)
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
		wide := CoarseWidening(x, y, tick)
		if wide != CoarseWidening(y, x, tick) {
			t.Fatal("the widening depends on order")
		}
		if got := Coarse(x, y, tick); got != Coarse(y, x, tick) || got && wide == 0 {
			t.Fatalf("coarse %v, widening %v", got, wide)
		}
		if wide != 0 && wide != tick/2 && wide != tick {
			t.Fatalf("widening %v of tick %v", wide, tick)
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
		if got := OnGrid(c.tick, c.x); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
