package stats_test

import (
	"math"
	"testing"

	"tunegate/stats"
)

// The answers in advise-*.jsonl were made with R 4.2.2, mvtnorm 1.1-3 and nlme
// 3.1-162, checked with SciPy 1.10.1 and statsmodels 0.13.5, and where it says
// "counted" counted in integers by advise.py beside them.

func TestReferenceNoether(t *testing.T) { // R: qnorm in Noether's formula
	type noetherCase struct {
		P     float64 `json:"p"`
		Alpha float64 `json:"alpha"`
		Power float64 `json:"power"`
		Size  int     `json:"size"`
	}
	for _, c := range answers[noetherCase](t, "advise-noether.jsonl", 70) {
		want := c.Size
		if want > 1_000_000 {
			want = 0
		}
		if got := stats.NoetherSize(c.P, c.Alpha, c.Power); got != want {
			t.Errorf("NoetherSize(%v, %v, %v) = %d, want %d", c.P, c.Alpha, c.Power, got, want)
		}
	}
}

func TestReferenceComponents(t *testing.T) { // R: anova(lm), pf; nlme's lme agrees where it must
	type componentsCase struct {
		ID       string      `json:"id"`
		Sessions [][]float64 `json:"sessions"`
		Between  float64     `json:"between"`
		Within   float64     `json:"within"`
		F        float64     `json:"f"`
		P        float64     `json:"p"`
		P2       float64     `json:"p2"` // of F / (1 + 2 n0)
	}
	truncated, unequal := 0, 0
	for _, c := range answers[componentsCase](t, "advise-components.jsonl", 25) {
		between, within := stats.VarianceComponents(c.Sessions)
		if !near(between, c.Between, 1e-9, 1e-12) || !near(within, c.Within, 1e-10, 0) {
			t.Errorf("%s: components %v and %v, want %v and %v", c.ID, between, within, c.Between, c.Within)
		}
		if c.Between == 0 {
			truncated++
		}
		if len(c.Sessions[0]) != len(c.Sessions[len(c.Sessions)-1]) {
			unequal++
		}
		f, p := stats.SessionsApart(c.Sessions, 0)
		if !near(f, c.F, 1e-9, 0) || !near(p, c.P, 1e-9, 0) {
			t.Errorf("%s: F = %v, p = %v, want %v and %v", c.ID, f, p, c.F, c.P)
		}
		if _, p := stats.SessionsApart(c.Sessions, 2); !near(p, c.P2, 1e-9, 0) {
			t.Errorf("%s: p beyond twice the variance of runs = %v, want %v", c.ID, p, c.P2)
		}
	}
	if truncated < 3 || unequal < 6 {
		t.Errorf("%d cases of no variance between sessions, %d of unequal ones, want 3 and 6", truncated, unequal)
	}
}

func TestReferenceSpending(t *testing.T) { // mvtnorm, pmvnorm by Miwa's algorithm; SciPy's multivariate normal agrees
	type spendingCase struct {
		Alpha     float64   `json:"alpha"`
		Fractions []float64 `json:"fractions"`
		Spent     []float64 `json:"spent"`
		Z         []float64 `json:"z"`
	}
	for _, c := range answers[spendingCase](t, "advise-spending.jsonl", 12) {
		z, nominal := stats.SpendingBoundaries(c.Alpha, c.Fractions)
		for k := range c.Z {
			if !near(z[k], c.Z[k], 0, 2e-6) { // Miwa's grid
				t.Errorf("alpha %v, looks %v: z[%d] = %v, want %v", c.Alpha, c.Fractions, k, z[k], c.Z[k])
			}
			if want := math.Erfc(z[k] / math.Sqrt2); !near(nominal[k], want, 1e-12, 0) {
				t.Errorf("alpha %v, looks %v: nominal[%d] = %v, want %v", c.Alpha, c.Fractions, k, nominal[k], want)
			}
		}
	}
}

func TestReferenceTrend(t *testing.T) { // p counted; R's cor.test and SciPy's kendalltau agree
	type trendCase struct {
		ID       string      `json:"id"`
		Sessions [][]float64 `json:"sessions"`
		S        int         `json:"s"`
		Tau      *float64    `json:"tau"` // R; none: sessions, or all values the same
		P        *float64    `json:"p"`   // none: too large to count here
		Normal   *float64    `json:"normal"`
	}
	normal, exact := 0, 0
	for _, c := range answers[trendCase](t, "advise-trend.jsonl", 100) {
		s, tau, p := stats.MannKendallWithin(c.Sessions)
		if s != c.S || c.Tau != nil && !near(tau, *c.Tau, 0, 1e-12) {
			t.Errorf("%s: S = %d, tau = %v, want %d and %v", c.ID, s, tau, c.S, *c.Tau)
		}
		switch {
		case c.P != nil:
			exact++
			if !near(p, *c.P, relativeP, 0) {
				t.Errorf("%s: p = %v, want %v", c.ID, p, *c.P)
			}
		case len(c.Sessions[0]) > 500:
			normal++
			if !near(p, *c.Normal, relativeP, 0) {
				t.Errorf("%s: p = %v, want the normal %v", c.ID, p, *c.Normal)
			}
		case *c.Normal > 1e-3 && !near(p, *c.Normal, 0.05, 0): // exact here, so close to the normal one
			t.Errorf("%s: p = %v, far from the normal %v", c.ID, p, *c.Normal)
		}
	}
	if normal < 2 || exact < 90 {
		t.Errorf("%d normal and %d exact cases, want 2 and 90", normal, exact)
	}
}

func TestReferenceLag1(t *testing.T) { // rho: R's acf; p: all orders counted, or 200,000 drawn with NumPy
	type lag1Case struct {
		ID       string      `json:"id"`
		Sessions [][]float64 `json:"sessions"`
		Rho      float64     `json:"rho"`
		P        float64     `json:"p"`
		SE       float64     `json:"se"` // 0: counted
	}
	counted := 0
	for _, c := range answers[lag1Case](t, "advise-lag1.jsonl", 18) {
		rho, p := stats.Lag1TestWithin(c.Sessions)
		if !near(rho, c.Rho, 0, 1e-12) {
			t.Errorf("%s: rho = %v, want %v", c.ID, rho, c.Rho)
		}
		if c.SE == 0 {
			counted++
			if !near(p, c.P, 1e-12, 0) {
				t.Errorf("%s: p = %v, want %v", c.ID, p, c.P)
			}
			continue
		}
		// Ours ends at 50 draws beyond the observed value, 14 % of p, or after
		// 9,999 draws; three standard errors.
		own := math.Max(c.P/math.Sqrt(50), math.Sqrt(c.P/9999))
		if !near(p, c.P, 0, 3*(own+c.SE)+1e-4) {
			t.Errorf("%s: p = %v, want %v", c.ID, p, c.P)
		}
	}
	if counted < 14 {
		t.Errorf("only %d cases are counted", counted)
	}
}

func TestReferenceMAD(t *testing.T) { // R: mad(constant = 1), and the formula in R
	type farCase struct {
		X   []float64 `json:"x"`
		MAD float64   `json:"mad"`
		Z   []float64 `json:"z"`
	}
	for _, c := range answers[farCase](t, "advise-mad.jsonl", 12) {
		if got := stats.MAD(c.X); !near(got, c.MAD, 1e-12, 0) {
			t.Errorf("MAD(%v) = %v, want %v", c.X, got, c.MAD)
		}
		for i, got := range stats.ModifiedZ(c.X) {
			if !near(got, c.Z[i], 1e-10, 1e-12) {
				t.Errorf("ModifiedZ(%v)[%d] = %v, want %v", c.X, i, got, c.Z[i])
			}
		}
	}
}

func TestReferencePasses(t *testing.T) { // R's binom.test; SciPy's binomtest and statsmodels agree
	type passesCase struct {
		Failures   int        `json:"failures"`
		N          int        `json:"n"`
		Confidence float64    `json:"confidence"`
		Interval   [2]float64 `json:"interval"`
		Upper      float64    `json:"upper"`
	}
	for _, c := range answers[passesCase](t, "advise-passes.jsonl", 42) {
		lo, hi := stats.ClopperPearson(c.Failures, c.N, c.Confidence)
		if !near(lo, c.Interval[0], 1e-10, 0) || !near(hi, c.Interval[1], 1e-10, 0) {
			t.Errorf("%d of %d at %v: [%v, %v], want %v", c.Failures, c.N, c.Confidence, lo, hi, c.Interval)
		}
		if got := stats.UpperBound(c.Failures, c.N, c.Confidence); !near(got, c.Upper, 1e-10, 0) {
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
	for _, c := range answers[cleanCase](t, "advise-clean-passes.jsonl", 35) {
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
	for _, c := range answers[twoSidesCase](t, "advise-two-sides.jsonl", 40) {
		v := c.Counts
		if got := stats.FisherExact(v[0], v[1], v[2], v[3]); !near(got, c.Fisher, 1e-10, 0) {
			t.Errorf("FisherExact%v = %v, want %v", v, got, c.Fisher)
		}
		got := stats.Boschloo(v[0], v[1], v[2], v[3])
		if !near(got, c.Boschloo, 1e-9, 0) {
			t.Errorf("Boschloo%v = %v, want %v", v, got, c.Boschloo)
		}
		if c.SciPyBoschloo != nil && !near(got, *c.SciPyBoschloo, 0, 1e-6) {
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
	for _, c := range answers[hoursCase](t, "advise-hours.jsonl", 54) {
		lo, hi := stats.FailuresPerHour(c.Failures, c.Hours, c.Confidence)
		if !near(lo, c.Interval[0], 1e-10, 0) || !near(hi, c.Interval[1], 1e-10, 0) {
			t.Errorf("%d in %v h at %v: [%v, %v], want %v", c.Failures, c.Hours, c.Confidence, lo, hi, c.Interval)
		}
		if got := stats.FailuresPerHourBound(c.Failures, c.Hours, c.Confidence); !near(got, c.Upper, 1e-10, 0) {
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
	for _, c := range answers[cleanCase](t, "advise-clean-hours.jsonl", 12) {
		if got := stats.CleanHours(c.Rate, c.Confidence); !near(got, c.Hours, 1e-12, 0) {
			t.Errorf("CleanHours(%v, %v) = %v, want %v", c.Rate, c.Confidence, got, c.Hours)
		}
	}
}
