package stats

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestTick(t *testing.T) { // counting
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
		if got := Tick(c.samples...); got != c.want && math.Abs(got-c.want) > 1e-12 {
			t.Errorf("Tick(%v) = %v, want %v", c.samples, got, c.want)
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

func TestCoarseProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := anySides(t, 2, 12, true)
		tick := Tick(x, y)
		if tick != Tick(y, x) || tick != Tick(shuffled(t, x), y) {
			t.Fatal("the tick depends on order")
		}
		if !(tick > 0) {
			t.Fatalf("tick = %v", tick)
		}
		wide := CoarseWidening(x, y, tick)
		if wide != CoarseWidening(y, x, tick) {
			t.Fatal("the widening depends on order")
		}
		if wide != 0 && wide != tick/2 && wide != tick {
			t.Fatalf("widening %v of tick %v", wide, tick)
		}
	})
}
