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

func TestReferenceLooks(t *testing.T) { // mvtnorm, pmvnorm by Miwa's algorithm; SciPy agrees. Shares of a million paths
	type looksCase struct {
		Alpha float64   `json:"alpha"`
		Level float64   `json:"level"`
		First []int     `json:"first"`
		Paths float64   `json:"paths"`
		Share []float64 `json:"share"`
	}
	for _, c := range statstest.Answers[looksCase](t, "advise-looks.jsonl", 4) {
		level := plan.TwoLooksLevel(c.Alpha)
		if !statstest.Near(level, c.Level, 0, 1e-7) { // Miwa's grid
			t.Errorf("alpha %v: level %v, want %v", c.Alpha, level, c.Level)
		}
		for k, first := range c.First {
			got := plan.BothReject(first, 2*first, [2]float64{level, level})
			if math.Abs(got-c.Share[k]) > 4*math.Sqrt(got/c.Paths) {
				t.Errorf("alpha %v, %d then %d: either look rejects in %v, of the paths in %v", c.Alpha, first, 2*first, got, c.Share[k])
			}
		}
	}
}
