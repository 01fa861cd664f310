package stats

import (
	"math"
	"testing"
)

// What is foreseen agrees with the plans made of it: at the planned size the
// chance has just been reached, and so has the width.
func TestForeseeAgreesWithPlans(t *testing.T) {
	before, after := NormalScores(6, 1), NormalScores(6, 1)
	design := Design{Confidence: 0.95, Alpha: 0.05 / 3, Power: 0.8}
	for _, loss := range []float64{0.5, 1, 2} {
		n, ok := SizeToCatch(before, after, loss, 0, design)
		if !ok {
			t.Fatalf("no size catches %v", loss)
		}
		got, ok := Foresee(before, after, loss, design, []int{n - 1, n, n + 1})
		if !ok || got[1].Chance < 0.8 || got[0].Chance >= 0.8 {
			t.Errorf("SizeToCatch says %d for %v, but Foresee %v", n, loss, got)
		}
	}
	n, _ := PrecisionSize(before, after, 0.7, 0.95)
	if got, _ := Foresee(before, after, 1, design, []int{n - 1, n}); got[0].Half <= 0.7 || got[1].Half > 0.7 {
		t.Errorf("PrecisionSize says %d for 0.7, but Foresee %v", n, got)
	}
	blocks, _ := BlocksToCatch(before, 1, 0, design)
	if got, ok := BlocksForesee(before, 1, design, []int{blocks - 1, blocks}); !ok || got[0].Chance >= 0.8 || got[1].Chance < 0.8 {
		t.Errorf("BlocksToCatch says %d, but BlocksForesee %v", blocks, got)
	}
	strata := []Stratum{{[]float64{0, 1}, []float64{0.2, 1.5}}, {[]float64{0.3, 0.9}, []float64{-0.1, 1.1}}, {[]float64{0, 0.8}, []float64{0.4, 1}}}
	many, _ := StrataToCatch(strata, 1.5, 0, design)
	if got, ok := StrataForesee(strata, 1.5, design, []int{many - 1, many}); !ok || got[0].Chance >= 0.8 || got[1].Chance < 0.8 {
		t.Errorf("StrataToCatch says %d, but StrataForesee %v", many, got)
	}
}

// Too few values give no interval and no chance; values that do not vary
// foresee nothing.
func TestForeseeLimits(t *testing.T) {
	design := Design{Confidence: 0.95, Alpha: 0.05, Power: 0.8}
	got, ok := Foresee(NormalScores(5, 1), NormalScores(5, 1), 100, design, []int{3, 4})
	if !ok || !math.IsInf(got[0].Half, 1) || got[0].Chance != 0 || math.IsInf(got[1].Half, 1) || got[1].Chance != 1 {
		t.Errorf("3 + 3 and 4 + 4: %v", got)
	}
	if _, ok := Foresee([]float64{1, 1}, []float64{1, 1}, 1, design, []int{5}); ok {
		t.Error("constant sides foresee something")
	}
	if _, ok := BlocksForesee([]float64{1, 1}, 1, design, []int{5}); ok {
		t.Error("constant blocks foresee something")
	}
	if _, ok := (Closed{}).Foresee(2, 1, design); ok {
		t.Error("an unknown error foresees something")
	}
	c := Closed{Half: 2, SE: 1, DF: 10}
	if p, ok := c.Foresee(4, 1, design); !ok || p.Half != 1 {
		t.Errorf("four times the values halve the width: %v", p)
	}
}
