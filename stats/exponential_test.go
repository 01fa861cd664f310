package stats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/statstest"
)

func TestHoursByHand(t *testing.T) {
	// Without a failure the bound is -ln(1 - confidence) / hours: at 95 %, 3.00
	// in the hours tested.
	if got, want := FailuresPerHourBound(0, 24, 0.95), -math.Log(0.05)/24; math.Abs(got-want) > 1e-12 {
		t.Errorf("bound %v, want %v", got, want)
	}
	if got, want := CleanHours(0.01, 0.95), -math.Log(0.05)/0.01; math.Abs(got-want) > 1e-9 {
		t.Errorf("%v clean hours, want %v", got, want)
	}
}

// At every true rate the counts whose bound lies above it have at least the
// confidence; checked without simulation.
func TestFailuresPerHourBoundCovers(t *testing.T) {
	const hours, confidence = 10, 0.9
	for mean := 0.05; mean < 25; mean *= 1.06 {
		b := distuv.Poisson{Lambda: mean}
		upper := 0.0
		for f := range 100 {
			if mean/hours <= FailuresPerHourBound(f, hours, confidence) {
				upper += b.Prob(float64(f))
			}
		}
		if upper < confidence-1e-9 {
			t.Fatalf("%v failures expected: covered with %v", mean, upper)
		}
	}
}

func TestHoursEdges(t *testing.T) {
	// What CleanHours asks for proves the claim.
	for _, rate := range []float64{1e-6, 0.1, 50} {
		if got := FailuresPerHourBound(0, CleanHours(rate, 0.99), 0.99); math.Abs(got/rate-1) > 1e-12 {
			t.Errorf("clean hours for %v prove %v", rate, got)
		}
	}
	for _, f := range []func(){
		func() { FailuresPerHourBound(-1, 5, 0.95) }, func() { FailuresPerHourBound(1, 0, 0.95) }, func() { FailuresPerHourBound(1, 5, 1) },
		func() { FailuresPerHourBound(1, math.NaN(), 0.95) }, func() { FailuresPerHourBound(1, 5, 0) },
		func() { CleanHours(0, 0.95) }, func() { CleanHours(1, 1) },
	} {
		if !statstest.Panics(f) {
			t.Error("bad hours or confidence, no panic")
		}
	}
}
