package stats

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestChangeIntervalEdges(t *testing.T) { // counting
	up := statstest.AscendingFrom(1, 10)
	for _, c := range []struct {
		name          string
		before, after []float64
		confidence    float64
		ok            bool
		lo, hi        float64
	}{
		{"empty side", nil, up, 0.95, false, 0, 0},
		{"one value", []float64{1}, up, 0.5, false, 0, 0},
		{"3 and 3 reach no 95 %", up[:3], up[:3], 0.95, false, 0, 0},
		{"both constant", []float64{2, 2, 2, 2}, []float64{5, 5, 5, 5, 5}, 0.95, true, 3, 3},
		// Levels of 2/70 and 4/70: three quarters of the way to the next rank. A
		// constant side leaves the ranks where they are.
		{"one side constant", []float64{2, 2, 2, 2}, []float64{5, 6, 7, 8}, 0.95, true, 3, 6},
		{"3 and 3 at 90 %: the range", []float64{1, 2, 4}, []float64{7, 7.5, 9}, 0.9, true, 3, 8},
	} {
		in, ok := ChangeInterval(c.before, c.after, c.confidence, 1000, 1)
		if ok != c.ok || in.Placements {
			t.Errorf("%s: %+v, %v", c.name, in, ok)
		} else if ok && (in.Lo != c.lo || in.Hi != c.hi) {
			t.Errorf("%s: %+v, want [%v, %v]", c.name, in, c.lo, c.hi)
		} else if !ok && !(math.IsNaN(in.Lo) && math.IsNaN(in.Hi)) {
			t.Errorf("%s: not ok, yet %+v", c.name, in)
		}
	}
}

func TestChangeIntervalIsJoined(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := statstest.AnySides(t, 4, 20, true)
		in, ok := ChangeInterval(x, y, 0.95, 500, 9)
		if !ok {
			t.Fatal("not ok")
		}
		lo, hi, _ := SpreadInversion(x, y, 0.95)
		plo, phi := percentileInterval(x, y, 500, 9, 0.025)
		lo, hi = min(lo, plo), max(hi, phi)
		if MannWhitney(x, y).PUsed > 0.05+numeric.Slack {
			lo, hi = min(lo, 0), max(hi, 0)
		}
		if in != (Interval{lo, hi, false}) {
			t.Fatalf("%+v, want [%v, %v]", in, lo, hi)
		}
		if e := HodgesLehmann(x, y); e < in.Lo || e > in.Hi {
			t.Fatalf("the estimate %v lies outside %+v", e, in)
		}
	})
}

// Test and interval agree: 0 outside means that both say so.
func TestChangeIntervalAgreesWithTheTest(t *testing.T) {
	outside := 0
	rapid.Check(t, func(t *rapid.T) {
		x, y := statstest.AnySides(t, 3, 20, true)
		y = statstest.Moved(y, 1, rapid.Float64Range(-4, 4).Draw(t, "change"))
		confidence := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "confidence")
		in, ok := ChangeInterval(x, y, confidence, 200, 2)
		if !ok || in.Lo <= 0 && in.Hi >= 0 {
			return
		}
		outside++
		if test := MannWhitney(x, y); test.PUsed > 1-confidence+numeric.Slack {
			t.Fatalf("0 outside %+v at %v, yet %+v", in, confidence, test)
		}
	})
	if outside == 0 {
		t.Error("0 was never outside")
	}
}

// checkNear holds two intervals' ends together within a share of the width.
func checkNear(t *testing.T, what string, lo, hi, wantLo, wantHi, share float64) {
	t.Helper()
	off := max(math.Abs(lo-wantLo), math.Abs(hi-wantHi)) / (wantHi - wantLo)
	t.Logf("%s: ends differ by up to %.1f %% of the width", what, 100*off)
	if off > share {
		t.Errorf("%s: [%v, %v] against [%v, %v], %.1f %% of the width", what, lo, hi, wantLo, wantHi, 100*off)
	}
}

// The limit for large samples against what it is the limit of. Of the
// difference allowed, about 1 % of the width is the bootstrap's own
// Monte-Carlo error (TestMonteCarloError).
func TestPlacementIntervalAgainstBootstrap(t *testing.T) {
	resamples := DefaultResamples
	if statstest.RaceEnabled {
		resamples = 3000
	}
	for _, size := range [][2]int{{300, 300}, {450, 450}, {200, 700}} {
		for i, shape := range statstest.ShapeNames {
			g := statstest.Generator(40 + uint64(i))
			x, y := statstest.Draw(g, shape, size[0]), statstest.Moved(statstest.Draw(g, statstest.ShapeNames[(i+1)%4], size[1]), 1.5, 0)
			lo, hi := placementInterval(x, y, 0.95)
			plo, phi := percentileInterval(x, y, resamples, 1, 0.025)
			checkNear(t, shape, lo, hi, plo, phi, 0.03)
		}
	}
}

// Up to BootstrapLimit values the bootstrap, then its limit: no step between.
func TestChangeIntervalAcrossTheLimit(t *testing.T) {
	for i, shape := range statstest.ShapeNames {
		g := statstest.Generator(50 + uint64(i))
		x, y := statstest.Draw(g, shape, BootstrapLimit/2), statstest.Moved(statstest.Draw(g, shape, BootstrapLimit/2), 2, 0.1)
		last, ok := ChangeInterval(x, y, 0.95, 4000, 1)
		// One more value, in the middle, hardly changes anything by itself.
		first, ok2 := ChangeInterval(append(x, numeric.Middle(numeric.Sorted(x))), y, 0.95, 4000, 1)
		if !ok || !ok2 || last.Placements || !first.Placements {
			t.Fatalf("%s: %+v, %v and %+v, %v", shape, last, ok, first, ok2)
		}
		checkNear(t, shape, first.Lo, first.Hi, last.Lo, last.Hi, 0.03)
	}
}

// By hand for x = 0 2 4 and y = 1 3: of y lie below each x 0, 1, 2; of x below
// each y 1, 2. Squared deviations 2 and 0.5.
func TestPlacementVariance(t *testing.T) {
	if got := placementVariance([]float64{0, 2, 4}, []float64{1, 3}, 0); math.Abs(got-2.5) > 1e-14 {
		t.Errorf("placementVariance = %v, want 2.5", got)
	}
	// Shifted by 1: against y - 1 = 0 2 the x tie and count half: 0.5, 1.5, 2;
	// the y 0.5, 1.5. Squared deviations 7/6 and 0.5.
	if got := placementVariance([]float64{0, 2, 4}, []float64{1, 3}, 1); math.Abs(got-7./6-0.5) > 1e-14 {
		t.Errorf("placementVariance = %v, want %v", got, 7./6+0.5)
	}
}

// By counting all pairs. A pair whose difference is the shift ties, whatever
// x + shift rounds to.
func TestPlacementVarianceAgainstAllPairs(t *testing.T) { // counting
	rapid.Check(t, func(t *rapid.T) {
		x, y := statstest.AnySides(t, 1, 20, true)
		x, y = numeric.Sorted(x), numeric.Sorted(y)
		shift := numeric.MedianDifference(x, y)
		ofX, ofY := make([]float64, len(x)), make([]float64, len(y))
		for i, a := range x {
			for j, b := range y {
				switch {
				case b-a < shift:
					ofX[i]++
				case b-a > shift:
					ofY[j]++
				default:
					ofX[i] += 0.5
					ofY[j] += 0.5
				}
			}
		}
		want := 0.0
		for _, side := range [][]float64{ofX, ofY} {
			for _, p := range side {
				want += (p - numeric.Mean(side)) * (p - numeric.Mean(side))
			}
		}
		got := placementVariance(x, y, shift)
		if math.Abs(got-want) > 1e-9 {
			t.Fatalf("placementVariance = %v, want %v", got, want)
		}
		if turned := placementVariance(y, x, -shift); turned != got {
			t.Fatalf("sides swapped: %v becomes %v", got, turned)
		}
	})
}

func TestPlacementIntervalEdges(t *testing.T) {
	if lo, hi := placementInterval([]float64{3, 3}, []float64{5, 5, 5}, 0.95); lo != 2 || hi != 2 {
		t.Errorf("two constant sides: [%v, %v], want [2, 2]", lo, hi)
	}
	// Far more than all weight asked for: the range of the differences.
	if lo, hi := placementInterval([]float64{1, 2}, []float64{4, 8}, 0.9999); lo != 2 || hi != 7 {
		t.Errorf("[%v, %v], want the range [2, 7]", lo, hi)
	}
}
