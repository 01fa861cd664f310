package plan_test

import (
	"math"
	"testing"

	"tunegate/stats/internal/statstest"
	"tunegate/stats/plan"
)

func TestReferenceNoether(t *testing.T) { // R: qnorm in Noether's formula
	type noetherCase struct {
		P     float64 `json:"p"`
		Alpha float64 `json:"alpha"`
		Power float64 `json:"power"`
		Size  int     `json:"size"`
	}
	for _, c := range statstest.Answers[noetherCase](t, "advise-noether.jsonl", 70) {
		want := c.Size
		if want > 1_000_000 {
			want = 0
		}
		if got := plan.NoetherSize(c.P, c.Alpha, c.Power); got != want {
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
	for _, c := range statstest.Answers[componentsCase](t, "advise-components.jsonl", 25) {
		between, within := plan.VarianceComponents(c.Sessions)
		if !statstest.Near(between, c.Between, 1e-9, 1e-12) || !statstest.Near(within, c.Within, 1e-10, 0) {
			t.Errorf("%s: components %v and %v, want %v and %v", c.ID, between, within, c.Between, c.Within)
		}
		if c.Between == 0 {
			truncated++
		}
		if len(c.Sessions[0]) != len(c.Sessions[len(c.Sessions)-1]) {
			unequal++
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
	for _, c := range statstest.Answers[spendingCase](t, "advise-spending.jsonl", 12) {
		z, nominal := plan.SpendingBoundaries(c.Alpha, c.Fractions)
		for k := range c.Z {
			if !statstest.Near(z[k], c.Z[k], 0, 2e-6) { // Miwa's grid
				t.Errorf("alpha %v, looks %v: z[%d] = %v, want %v", c.Alpha, c.Fractions, k, z[k], c.Z[k])
			}
			if want := math.Erfc(z[k] / math.Sqrt2); !statstest.Near(nominal[k], want, 1e-12, 0) {
				t.Errorf("alpha %v, looks %v: nominal[%d] = %v, want %v", c.Alpha, c.Fractions, k, nominal[k], want)
			}
		}
	}
}
