package stats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
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
	if lo, _ := FailuresPerHour(0, 24, 0.95); lo != 0 {
		t.Errorf("no failure: lower end %v, want 0", lo)
	}
}

// At every true rate the counts whose interval covers it have at least the
// confidence; checked without simulation.
func TestFailuresPerHourCovers(t *testing.T) {
	const hours, confidence = 10, 0.9
	for mean := 0.05; mean < 25; mean *= 1.06 {
		b := distuv.Poisson{Lambda: mean}
		both, upper := 0.0, 0.0
		for f := range 100 {
			if lo, hi := FailuresPerHour(f, hours, confidence); lo <= mean/hours && mean/hours <= hi {
				both += b.Prob(float64(f))
			}
			if mean/hours <= FailuresPerHourBound(f, hours, confidence) {
				upper += b.Prob(float64(f))
			}
		}
		if both < confidence-1e-9 || upper < confidence-1e-9 {
			t.Fatalf("%v failures expected: covered with %v on both sides, %v above", mean, both, upper)
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
		func() { FailuresPerHour(-1, 5, 0.95) }, func() { FailuresPerHour(1, 0, 0.95) }, func() { FailuresPerHour(1, 5, 1) },
		func() { FailuresPerHourBound(1, math.NaN(), 0.95) }, func() { FailuresPerHourBound(1, 5, 0) },
		func() { CleanHours(0, 0.95) }, func() { CleanHours(1, 1) },
	} {
		if !panics(f) {
			t.Error("bad hours or confidence, no panic")
		}
	}
}
