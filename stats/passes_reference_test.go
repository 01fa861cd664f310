package stats_test

import (
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/statstest"
)

// The answers in advise-*.jsonl were made with R 4.2.2, mvtnorm 1.1-3 and nlme
// 3.1-162, checked with SciPy 1.10.1 and statsmodels 0.13.5, and where it says
// "counted" counted in integers by advise.py beside them.

func TestReferencePasses(t *testing.T) { // R's binom.test; SciPy's binomtest and statsmodels agree
	type passesCase struct {
		Failures   int        `json:"failures"`
		N          int        `json:"n"`
		Confidence float64    `json:"confidence"`
		Interval   [2]float64 `json:"interval"`
		Upper      float64    `json:"upper"`
	}
	for _, c := range statstest.Answers[passesCase](t, "advise-passes.jsonl", 42) {
		lo, hi := stats.ClopperPearson(c.Failures, c.N, c.Confidence)
		if !statstest.Near(lo, c.Interval[0], 1e-10, 0) || !statstest.Near(hi, c.Interval[1], 1e-10, 0) {
			t.Errorf("%d of %d at %v: [%v, %v], want %v", c.Failures, c.N, c.Confidence, lo, hi, c.Interval)
		}
		if got := stats.UpperBound(c.Failures, c.N, c.Confidence); !statstest.Near(got, c.Upper, 1e-10, 0) {
			t.Errorf("%d of %d at %v: upper bound %v, want %v", c.Failures, c.N, c.Confidence, got, c.Upper)
		}
	}
}

func TestReferenceCleanPasses(t *testing.T) { // R: dbinom, tried one by one
	type cleanCase struct {
		Rate       float64 `json:"rate"`
		Confidence float64 `json:"confidence"`
		N          int     `json:"n"`
	}
	for _, c := range statstest.Answers[cleanCase](t, "advise-clean-passes.jsonl", 35) {
		if got := stats.CleanPasses(c.Rate, c.Confidence); got != c.N {
			t.Errorf("CleanPasses(%v, %v) = %d, want %d", c.Rate, c.Confidence, got, c.N)
		}
	}
}

func TestReferenceTwoSides(t *testing.T) {
	type twoSidesCase struct {
		Counts        [4]int   `json:"counts"`
		Fisher        float64  `json:"fisher"`         // R's fisher.test; SciPy agrees
		Boschloo      float64  `json:"boschloo"`       // every table tried
		SciPyBoschloo *float64 `json:"scipy_boschloo"` // none: nothing or all failed
	}
	for _, c := range statstest.Answers[twoSidesCase](t, "advise-two-sides.jsonl", 40) {
		v := c.Counts
		if got := stats.FisherExact(v[0], v[1], v[2], v[3]); !statstest.Near(got, c.Fisher, 1e-10, 0) {
			t.Errorf("FisherExact%v = %v, want %v", v, got, c.Fisher)
		}
		got := stats.Boschloo(v[0], v[1], v[2], v[3])
		if !statstest.Near(got, c.Boschloo, 1e-9, 0) {
			t.Errorf("Boschloo%v = %v, want %v", v, got, c.Boschloo)
		}
		if c.SciPyBoschloo != nil && !statstest.Near(got, *c.SciPyBoschloo, 0, 1e-6) {
			t.Errorf("Boschloo%v = %v, SciPy: %v", v, got, *c.SciPyBoschloo)
		}
	}
}

func TestReferenceHours(t *testing.T) { // R's poisson.test; SciPy's chi2 agrees
	type hoursCase struct {
		Failures   int        `json:"failures"`
		Hours      float64    `json:"hours"`
		Confidence float64    `json:"confidence"`
		Interval   [2]float64 `json:"interval"`
		Upper      float64    `json:"upper"`
	}
	for _, c := range statstest.Answers[hoursCase](t, "advise-hours.jsonl", 54) {
		if got := stats.FailuresPerHourBound(c.Failures, c.Hours, (1+c.Confidence)/2); !statstest.Near(got, c.Interval[1], 1e-10, 0) {
			t.Errorf("%d in %v h at %v: upper end %v, want %v", c.Failures, c.Hours, c.Confidence, got, c.Interval[1])
		}
		if got := stats.FailuresPerHourBound(c.Failures, c.Hours, c.Confidence); !statstest.Near(got, c.Upper, 1e-10, 0) {
			t.Errorf("%d in %v h at %v: bound %v, want %v", c.Failures, c.Hours, c.Confidence, got, c.Upper)
		}
	}
}

func TestReferenceCleanHours(t *testing.T) { // R: qexp
	type cleanCase struct {
		Rate       float64 `json:"rate"`
		Confidence float64 `json:"confidence"`
		Hours      float64 `json:"hours"`
	}
	for _, c := range statstest.Answers[cleanCase](t, "advise-clean-hours.jsonl", 12) {
		if got := stats.CleanHours(c.Rate, c.Confidence); !statstest.Near(got, c.Hours, 1e-12, 0) {
			t.Errorf("CleanHours(%v, %v) = %v, want %v", c.Rate, c.Confidence, got, c.Hours)
		}
	}
}
