package check_test

import (
	"math"
	"testing"

	"tunegate/stats/check"
	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestReferenceSessionsApart(t *testing.T) { // R: anova(lm), pf
	type componentsCase struct {
		ID       string      `json:"id"`
		Sessions [][]float64 `json:"sessions"`
		Between  float64     `json:"between"`
		Within   float64     `json:"within"`
		F        float64     `json:"f"`
		P        float64     `json:"p"`
		P2       float64     `json:"p2"` // of F / (1 + 2 n0)
	}
	for _, c := range statstest.Answers[componentsCase](t, "advise-components.jsonl", 25) {
		f, p := check.SessionsApart(c.Sessions, 0)
		if !statstest.Near(f, c.F, 1e-9, 0) || !statstest.Near(p, c.P, 1e-9, 0) {
			t.Errorf("%s: F = %v, p = %v, want %v and %v", c.ID, f, p, c.F, c.P)
		}
		if _, p := check.SessionsApart(c.Sessions, 2); !statstest.Near(p, c.P2, 1e-9, 0) {
			t.Errorf("%s: p beyond twice the variance of runs = %v, want %v", c.ID, p, c.P2)
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
	for _, c := range statstest.Answers[trendCase](t, "advise-trend.jsonl", 100) {
		s, tau, p := check.MannKendall(c.Sessions)
		if s != c.S || c.Tau != nil && !statstest.Near(tau, *c.Tau, 0, 1e-12) {
			t.Errorf("%s: S = %d, tau = %v, want %d and %v", c.ID, s, tau, c.S, *c.Tau)
		}
		switch {
		case c.P != nil:
			exact++
			if !statstest.Near(p, *c.P, 1e-10, 0) {
				t.Errorf("%s: p = %v, want %v", c.ID, p, *c.P)
			}
		case len(c.Sessions[0]) > 500:
			normal++
			if !statstest.Near(p, *c.Normal, 1e-10, 0) {
				t.Errorf("%s: p = %v, want the normal %v", c.ID, p, *c.Normal)
			}
		case *c.Normal > 1e-3 && !statstest.Near(p, *c.Normal, 0.05, 0): // exact here, so close to the normal one
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
	for _, c := range statstest.Answers[lag1Case](t, "advise-lag1.jsonl", 18) {
		rho, p := check.Lag1Test(c.Sessions)
		if !statstest.Near(rho, c.Rho, 0, 1e-12) {
			t.Errorf("%s: rho = %v, want %v", c.ID, rho, c.Rho)
		}
		if c.SE == 0 {
			counted++
			if !statstest.Near(p, c.P, 1e-12, 0) {
				t.Errorf("%s: p = %v, want %v", c.ID, p, c.P)
			}
			continue
		}
		// Ours ends at 50 draws beyond the observed value, 14 % of p, or after
		// 9,999 draws; three standard errors.
		own := math.Max(c.P/math.Sqrt(50), math.Sqrt(c.P/9999))
		if !statstest.Near(p, c.P, 0, 3*(own+c.SE)+1e-4) {
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
	for _, c := range statstest.Answers[farCase](t, "advise-mad.jsonl", 12) {
		if got := numeric.MAD(c.X); !statstest.Near(got, c.MAD, 1e-12, 0) {
			t.Errorf("MAD(%v) = %v, want %v", c.X, got, c.MAD)
		}
		for i, got := range check.ModifiedZ(c.X) {
			if !statstest.Near(got, c.Z[i], 1e-10, 1e-12) {
				t.Errorf("ModifiedZ(%v)[%d] = %v, want %v", c.X, i, got, c.Z[i])
			}
		}
	}
}
