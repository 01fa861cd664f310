package plan

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func somePilots() map[string]Pilot {
	six := NormalScores(6, 1)
	return map[string]Pilot{
		"samples":      Samples(six, six),
		"unequal":      Samples(NormalScores(4, 2), NormalScores(12, 1)),
		"blocks":       Blocks(six),
		"known spread": Samples(six, six).Known(1.5),
		"coarse":       {N: [2]int{6, 6}, SD: [2]float64{1, 1}, DF: 10, Widening: 0.1},
	}
}

// What is foreseen agrees with the plans made of it: at the planned size the
// chance has just been reached, and so has the width.
func TestForeseeAgreesWithPlans(t *testing.T) {
	design := Design{Confidence: 0.95, CriticalP: 0.05 / 3, Power: 0.8}
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

// Sizes and blind spots answer the same question: n values have a blind spot of at
// most the loss that they were advised for, n - 1 a larger one. Larger losses take
// fewer values, a stricter critical p, a wider spread or a margin more. Six blocks, the
// first that are ranked, may see a little less than five under Student's t.
func TestSizesAndBlindSpotsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sd := rapid.Float64Range(0.01, 10).Draw(t, "spread")
		pilot := Pilot{DF: rapid.Float64Range(1, 60).Draw(t, "df"), Paired: rapid.Bool().Draw(t, "paired"), SD: [2]float64{sd, sd}}
		pilot.N = [2]int{7, 7}
		loss := sd * rapid.Float64Range(0.3, 6).Draw(t, "loss")
		pilot.Widening = loss * rapid.SampledFrom([]float64{0, 0.2}).Draw(t, "widening")
		margin := loss * rapid.SampledFrom([]float64{0, 0.3, 0.8}).Draw(t, "margin")
		d := Design{0.95, 0.05 / rapid.Float64Range(1, 100).Draw(t, "family"), rapid.SampledFrom([]float64{0.5, 0.8, 0.9}).Draw(t, "power")}
		n, ok := New(pilot, d).Size(loss, margin)
		if !ok {
			t.Skip("more than a million")
		}
		of := func(n int) (float64, bool) {
			sized := pilot
			sized.N = [2]int{n, n} // the SDs' sizes only weigh them against each other
			return New(sized, d).BlindSpot(margin)
		}
		if spot, ok := of(n); !ok || spot > loss*(1+1e-9) {
			t.Errorf("%d values for %v have the blind spot %v, %v", n, loss, spot, ok)
		}
		if spot, ok := of(n - 1); ok && spot < loss*(1-1e-9) {
			t.Errorf("%d values for %v, but %d have the blind spot %v", n, loss, n-1, spot)
		}
		last := math.Inf(1)
		for k := 4; k <= 40; k++ {
			if spot, ok := of(k); ok {
				ranked := pilot.Paired && k == MinRankBlocks(1-d.Confidence) // ranks find a little less than Student's t
				if spot > last && !ranked {
					t.Errorf("%d values have the blind spot %v, one fewer %v", k, spot, last)
				}
				last = spot
			}
		}
		for what, more := range map[string]func() (int, bool){
			"a smaller loss": func() (int, bool) { return New(pilot, d).Size(0.99*loss, 0.99*margin) },
			"a wider spread": func() (int, bool) { return New(pilot.Scaled(1.1), d).Size(loss, margin) },
			"a stricter critical p": func() (int, bool) {
				return New(pilot, Design{0.95, d.CriticalP / 2, d.Power}).Size(loss, margin)
			},
			"a margin": func() (int, bool) { return New(pilot, d).Size(loss, margin+0.1*(loss-margin)) },
		} {
			if k, ok := more(); ok && k < n {
				t.Errorf("%s takes %d values, not at least %d", what, k, n)
			}
		}
	})
}

// Coarse readings move both ends of the interval by the same, whatever the size, and can
// take as much again from a loss.
func TestWidening(t *testing.T) {
	design := Design{Confidence: 0.95, CriticalP: 0.05, Power: 0.8}
	fine := Blocks(NormalScores(8, 1))
	coarse := fine
	coarse.Widening = 0.3
	a, b := New(fine, design), New(coarse, design)
	spot, _ := a.BlindSpot(0)
	if got, _ := b.BlindSpot(0); math.Abs(got-spot-0.6) > 1e-12 {
		t.Errorf("blind spots %v and %v, not 0.6 apart", spot, got)
	}
	want, _ := a.Size(1, 0)
	if got, _ := b.Size(1.6, 0); got != want {
		t.Errorf("%d blocks, want %d", got, want)
	}
	if n, ok := b.Size(1.2, 0); ok {
		t.Errorf("%d blocks for what the steps hide", n)
	}
	want, _ = a.Precision(0.5)
	if got, _ := b.Precision(0.8); got != want {
		t.Errorf("%d blocks, want %d", got, want)
	}
	if n, ok := b.Precision(0.3); ok {
		t.Errorf("%d blocks for a width that the steps take", n)
	}
}

// A pilot whose spread is doubled, planned for the double, has the same plan.
func TestPlansScale(t *testing.T) {
	design := Design{Confidence: 0.95, CriticalP: 0.05, Power: 0.8}
	for name, pilot := range somePilots() {
		p, doubled := New(pilot, design), New(pilot.Scaled(-2), design)
		loss, ok := p.BlindSpot(0.1)
		twice, ok2 := doubled.BlindSpot(0.2)
		if name == "coarse" { // steps do not scale with the spread
			continue
		}
		if !ok || !ok2 || math.Abs(twice-2*loss) > 1e-9 {
			t.Errorf("%s: blind spots %v, %v and %v, %v of the doubled spread", name, loss, ok, twice, ok2)
		}
		n, _ := p.Size(1, 0.25)
		if m, _ := doubled.Size(2, 0.5); m != n {
			t.Errorf("%s: sizes %d and %d of the doubled spread", name, n, m)
		}
	}
}

// By counting: 2 / C(8, 4) = 0.029 and 2 / C(10, 5) = 0.008; fewer than 6 blocks have
// Student's test, which can reach any level.
func TestMinSize(t *testing.T) {
	six := NormalScores(6, 1)
	samples, blocks := Samples(six, six), Blocks(six)
	for _, c := range []struct {
		pilot Pilot
		alpha float64
		want  int
	}{{samples, 0.05, 4}, {samples, 0.01, 5}, {blocks, 0.05, 2}, {blocks, 0.01, 2}} {
		if got := c.pilot.MinSize(c.alpha); got != c.want {
			t.Errorf("%v at %v: %d, want %d", c.pilot, c.alpha, got, c.want)
		}
	}
	// By counting: 2 / 2^6 = 0.031, 2 / 2^7 = 0.016, 2 / 2^8 = 0.008.
	if five, one := MinRankBlocks(0.05), MinRankBlocks(0.01); five != 6 || one != 8 {
		t.Errorf("ranks reach 5 %% with %d and 1 %% with %d blocks", five, one)
	}
}

func TestPilotByHand(t *testing.T) {
	p := Samples([]float64{1, 2, 3}, []float64{4, 6, 8}) // variances 1 and 4
	if got := p.Spread(); math.Abs(got-math.Sqrt(2.5)) > 1e-12 || p.N != [2]int{3, 3} || p.SD != [2]float64{1, 2} {
		t.Errorf("%v: spread %v", p, got)
	}
	// Satterthwaite: (1 + 4)^2 / (1/2 + 16/2) = 2.94, times (2 + 2)/(2 + 1).
	if want := 25 / 8.5 * 4 / 3; math.Abs(p.DF-want) > 1e-12 {
		t.Errorf("%v degrees of freedom, want %v", p.DF, want)
	}
	if got := Samples([]float64{1, 2, 3}, []float64{4, 5, 6}).DF; got != 4 { // no more than pooled
		t.Errorf("%v degrees of freedom of equal spreads, want 4", got)
	}
	if b := Blocks([]float64{1, 2, 3}); b.Spread() != 1 || b.DF != 2 {
		t.Errorf("blocks: spread %v on %v", b.Spread(), b.DF)
	}
}

// Too few values give no interval and no chance; values that do not vary foresee
// nothing.
func TestPlanLimits(t *testing.T) {
	design := Design{Confidence: 0.95, CriticalP: 0.05, Power: 0.8}
	five := NormalScores(5, 1)
	got, ok := New(Samples(five, five), design).Foresee(100, []int{3, 4})
	if !ok || !math.IsInf(got[0].Half, 1) || got[0].Chance != 0 || math.IsInf(got[1].Half, 1) || got[1].Chance < 0.999999 {
		t.Errorf("3 + 3 and 4 + 4: %v", got)
	}
	if loss, ok := New(Samples(five[:3], five[:3]), design).BlindSpot(0); ok { // 2 / C(6, 3) = 0.1
		t.Errorf("3 + 3 values would have caught %v", loss)
	}
	for _, c := range []struct{ loss, margin float64 }{{0, 0}, {-1, 0}, {math.NaN(), 0}, {1, 1}, {1e-6, 0}} {
		if n, ok := New(Samples(five, five), design).Size(c.loss, c.margin); ok {
			t.Errorf("%v: %d values", c, n)
		}
	}
	if n, ok := New(Samples(five, five), design).Size(1000, 0); !ok || n != 4 {
		t.Errorf("a huge loss: %d values, %v", n, ok)
	}
	constant := []float64{1, 1}
	for name, pilot := range map[string]Pilot{
		"no pilot":        {},
		"constant sides":  Samples(constant, constant),
		"one value":       Samples([]float64{1}, five),
		"constant blocks": Blocks(constant),
		"one block":       Blocks(constant[:1]),
		"no number":       Samples([]float64{1, math.NaN()}, five),
		"infinite spread": Blocks([]float64{-1e300, 1e300}),
	} {
		p := New(pilot, design)
		_, foreseen := p.Foresee(1, []int{5})
		_, spot := p.BlindSpot(0)
		_, size := p.Size(1, 0)
		_, precise := p.Precision(1)
		_, near := p.NearEnd(1)
		if foreseen || spot || size || precise || near {
			t.Errorf("%s foresees something", name)
		}
	}
}

// Noether's formula for large samples and one comparison alone (JASA 82:645-647, 1987);
// the interval and both tests together ask for up to 10 % more.
func TestSizeNoether(t *testing.T) {
	pilot := Samples(NormalScores(400, 1), NormalScores(400, 1))
	for _, d := range []float64{0.1, 0.2, 0.4} {
		want := float64(NoetherSize(ShiftedSuperiority(d), 0.05, 0.8))
		got, ok := New(pilot, Design{0.95, 0.05, 0.8}).Size(d, 0)
		if !ok || float64(got) < want || float64(got) > 1.1*want {
			t.Errorf("%v sd: %d values a side, %v, Noether %v", d, got, ok, want)
		}
	}
}

// The closed form of the chance against the integral over both spreads, at 4 + 4 among
// 24 to 30 + 30 alone.
func TestFoundAgainstIntegral(t *testing.T) {
	for _, c := range []comparison{{1, 4, 6, 5.5}, {1, 6, 6, 2.6}, {1, 2, 20, 2.1}, {1, 2, 30, 3.4}, {1, 58, 58, 2}, {1, 18, 18, 3.5}} {
		for _, loss := range []float64{2, 4, 6, 10} {
			// E over V of P(Z + loss U >= t V), U by NoncentralTCDF with ncp t V.
			sum, total := 0.0, 0.0
			for y := -4.0; y < 1.5; y += 0.01 {
				v := math.Exp(y)
				w := math.Exp(c.df * (y - (v*v-1)/2))
				sum, total = sum+w*numeric.NoncentralTCDF(loss, c.pilotDF, c.t*v), total+w
			}
			if got := c.found(loss); math.Abs(got-sum/total) > 0.02 {
				t.Errorf("%+v, loss %v: chance %.4f, integral %.4f", c, loss, got, sum/total)
			}
		}
	}
}

func TestStudent(t *testing.T) {
	for _, p := range []float64{0.5, 0.55, 0.8, 0.9, 0.975, 1 - 0.05/48, 1 - 0.05/2000} {
		for _, df := range []float64{1, 1.03, 1.5, 2.7, 4, 5.18, 11, 58, 1e6} {
			want := numeric.StudentQuantile(p, df)
			if got := student(p, df); math.Abs(got-want) > 1e-3*want+1e-12 {
				t.Errorf("p %v, df %v: %v, want %v", p, df, got, want)
			}
		}
		if got, want := student(p, math.Inf(1)), numeric.NormalQuantile(p); math.Abs(got-want) > 1e-12 {
			t.Errorf("p %v: %v, want the normal %v", p, got, want)
		}
	}
}

// The nearer end by Student's interval: 1.476 = qt(0.9, 5) (R).
func TestNearEnd(t *testing.T) {
	p := New(Blocks(NormalScores(6, 1)), Design{0.95, 0.05, 0.8})
	want := 2 - 1.475884/math.Sqrt(6)
	for _, change := range []float64{2, -2} {
		if got, ok := p.NearEnd(change); !ok || math.Abs(got-want) > 1e-3 {
			t.Errorf("%v: %v, %v, want %v", change, got, ok, want)
		}
	}
	if got, ok := p.NearEnd(0.5); ok {
		t.Errorf("an interval that holds 0 ends at %v", got)
	}
}

func BenchmarkPlan(b *testing.B) {
	g := statstest.Generator(1)
	x, y := statstest.Draw(g, "normal", 10), statstest.Draw(g, "normal", 10)
	for b.Loop() {
		p := New(Samples(x, y), Design{0.95, 0.05 / 24, 0.8})
		p.BlindSpot(0.2)
		p.Size(0.5, 0)
	}
}
