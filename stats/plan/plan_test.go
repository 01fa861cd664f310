package plan

import (
	"math"
	"testing"
)

func somePilots() map[string]Pilot {
	six := NormalScores(6, 1)
	return map[string]Pilot{
		"samples":    Samples(six, six),
		"blocks":     Blocks(six, false),
		"few blocks": Blocks(six[1:5], true),
	}
}

// What is foreseen agrees with the plans made of it: at the planned size the
// chance has just been reached, and so has the width.
func TestForeseeAgreesWithPlans(t *testing.T) {
	design := Design{Confidence: 0.95, Alpha: 0.05 / 3, Power: 0.8}
	for name, pilot := range somePilots() {
		p := New(pilot, design)
		for _, loss := range []float64{0.5, 1, 1.5} {
			n, ok := p.Size(loss, 0)
			if !ok {
				t.Fatalf("%s: no size catches %v", name, loss)
			}
			got, ok := p.Foresee(loss, []int{n - 1, n})
			if !ok || got[1].Chance < 0.8 || got[0].Chance >= 0.8 {
				t.Errorf("%s: Size says %d for %v, but Foresee %v", name, n, loss, got)
			}
		}
		n, ok := p.Precision(0.5)
		if got, _ := p.Foresee(1, []int{n - 1, n}); !ok || got[0].Half <= 0.5 || got[1].Half > 0.5 {
			t.Errorf("%s: Precision says %d for 0.5, but Foresee %v", name, n, got)
		}
	}
}

// A pilot whose spread is doubled, planned for the double, has the same plan.
func TestPlansScale(t *testing.T) {
	design := Design{Confidence: 0.95, Alpha: 0.05, Power: 0.8}
	for name, pilot := range somePilots() {
		p, doubled := New(pilot, design), New(pilot.Scaled(2), design)
		loss, ok := p.BlindSpot(0.1)
		twice, ok2 := doubled.BlindSpot(0.2)
		if !ok || !ok2 || math.Abs(twice-2*loss) > 1e-9 {
			t.Errorf("%s: blind spots %v, %v and %v, %v of the doubled spread", name, loss, ok, twice, ok2)
		}
		n, _ := p.Size(1, 0.25)
		if m, _ := doubled.Size(2, 0.5); m != n {
			t.Errorf("%s: sizes %d and %d of the doubled spread", name, n, m)
		}
		if got, want := pilot.Scaled(2).Spread(), 2*pilot.Spread(); math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: spread %v, want %v", name, got, want)
		}
		if got := pilot.Scaled(2).DF(); got != pilot.DF() {
			t.Errorf("%s: %v degrees of freedom, want %v", name, got, pilot.DF())
		}
	}
}

// By counting: 2 / C(8, 4) = 0.029, 2 / 2^6 = 0.031; Student's test
// reaches any p with two blocks; 2 / 6^4 = 0.0015 of four scores with two runs a side.
func TestMinSize(t *testing.T) {
	want := map[string]int{"samples": 4, "blocks": 6, "few blocks": 2, "pooled": 2, "joint": 4}
	for name, pilot := range somePilots() {
		if got := pilot.MinSize(0.05); got != want[name] {
			t.Errorf("%s: %d, want %d", name, got, want[name])
		}
	}
}

func TestSpreadByHand(t *testing.T) {
	for _, c := range []struct {
		pilot    Pilot
		sd, free float64
	}{
		{Samples([]float64{1, 2, 3}, []float64{4, 6, 8}), math.Sqrt(2.5), 4}, // variances 1 and 4
		{Blocks([]float64{1, 2, 3}, true), 1, 2},
	} {
		if got := c.pilot.Spread(); math.Abs(got-c.sd) > 1e-12 || c.pilot.DF() != c.free {
			t.Errorf("%v: spread %v on %v, want %v on %v", c.pilot, got, c.pilot.DF(), c.sd, c.free)
		}
	}
}

// Too few values give no interval and no chance; values that do not vary
// foresee nothing.
func TestForeseeLimits(t *testing.T) {
	design := Design{Confidence: 0.95, Alpha: 0.05, Power: 0.8}
	five := NormalScores(5, 1)
	got, ok := New(Samples(five, five), design).Foresee(100, []int{3, 4})
	if !ok || !math.IsInf(got[0].Half, 1) || got[0].Chance != 0 || math.IsInf(got[1].Half, 1) || got[1].Chance != 1 {
		t.Errorf("3 + 3 and 4 + 4: %v", got)
	}
	constant := []float64{1, 1}
	for name, pilot := range map[string]Pilot{
		"no pilot":        nil,
		"constant sides":  Samples(constant, constant),
		"one value":       Samples([]float64{1}, five),
		"constant blocks": Blocks(constant, true),
	} {
		p := New(pilot, design)
		_, foreseen := p.Foresee(1, []int{5})
		_, spot := p.BlindSpot(0)
		_, size := p.Size(1, 0)
		_, precise := p.Precision(1)
		if foreseen || spot || size || precise {
			t.Errorf("%s foresees something", name)
		}
	}
}
