package stats

import (
	"math"
	"testing"

	"tunegate/stats/internal/statstest"
)

func TestStudent(t *testing.T) {
	// By hand: mean 2, standard error 1/sqrt(3), t = 2 sqrt(3) on 2 degrees of
	// freedom, where P(|T| > t) = 1 - t / sqrt(2 + t^2) in closed form; the 97.5 %
	// quantile is 4.302653 (any table).
	got := Student([]float64{1, 2, 3}, 0)
	if want := 1 - math.Sqrt(12./14); math.Abs(got.T-2*math.Sqrt(3)) > 1e-12 || math.Abs(got.P-want) > 1e-12 || got.DF != 2 {
		t.Errorf("%+v, want t %v, p %v", got, 2*math.Sqrt(3), want)
	}
	lo, hi, ok := got.Interval(0.95)
	if half := 4.302653 / math.Sqrt(3); !ok || math.Abs(lo-2+half) > 1e-6 || math.Abs(hi-2-half) > 1e-6 {
		t.Errorf("[%v, %v], %v, want 2 ± %v", lo, hi, ok, half)
	}
}

// No spread settles nothing, unless the readings' step says how far they may be
// off: then the interval is that of a standard error of its size.
func TestStudentWithoutSpread(t *testing.T) {
	for _, d := range [][]float64{{4}, {0.1, 0.1, 0.1}, {0, 0}} {
		got := Student(d, 0)
		if lo, hi, ok := got.Interval(0.95); ok || got.P != 1 || !math.IsNaN(lo) || !math.IsNaN(hi) {
			t.Errorf("%v: %+v, [%v, %v], %v", d, got, lo, hi, ok)
		}
	}
	lo, hi, ok := Student([]float64{0.1, 0.1, 0.1}, 0.01).Interval(0.95)
	if half := 4.302653 * 0.01; !ok || math.Abs(lo-0.1+half) > 1e-8 || math.Abs(hi-0.1-half) > 1e-8 {
		t.Errorf("equal differences with a step: [%v, %v], %v, want 0.1 ± %v", lo, hi, ok, half)
	}
	if got := Student([]float64{1, 2, 3}, 0.5); math.Abs(got.Error-1/math.Sqrt(3)) > 1e-15 {
		t.Errorf("a smaller step changes the error to %v", got.Error)
	}
	if !statstest.Panics(func() { Student(nil, 0) }) {
		t.Error("no panic for no differences")
	}
}

// Blocks whose true changes differ about 0, with a standard deviation of 0, 1 and 2
// times the noise of a run: at most 6 % are called real. Two spells a side, ranked
// inside the blocks, had 10 to 33 %.
func TestBlocksThatDifferKeepTheLevel(t *testing.T) {
	g := statstest.Generator(45)
	repetitions := 4000
	for _, blocks := range []int{2, 3, 4, 5, 6, 10} {
		for _, sd := range []float64{0, 1, 2} {
			alarms := 0
			for range repetitions {
				d := make([]float64, blocks)
				for b := range d {
					d[b] = sd*g.NormFloat64() + (g.NormFloat64()+g.NormFloat64()-g.NormFloat64()-g.NormFloat64())/2
				}
				p := SignedRank(d).P
				if blocks < 6 {
					p = Student(d, 0).P
				}
				if p <= 0.05 {
					alarms++
				}
			}
			// 6 % and three standard errors of it.
			if share := float64(alarms) / float64(repetitions); share > 0.06+3*0.0038 {
				t.Errorf("%d blocks, changes that differ by %v: %.1f %% false alarms", blocks, sd, 100*share)
			}
		}
	}
}
