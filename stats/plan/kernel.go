package plan

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat"

	"tunegate/stats/internal/numeric"
)

// pilot draws values like those seen: residuals of one side, smoothed with a
// normal kernel of Silverman's width and scaled back to the unbiased variance
// (Silverman and Young, Biometrika 74:469-479, 1987).
type pilot struct {
	residual []float64
	kernel   float64
}

func newPilot(x []float64) pilot {
	s := numeric.Sorted(x)
	centre, sd, n := numeric.Mean(s), math.Sqrt(numeric.Variance(s)), float64(len(s))
	iqr := stat.Quantile(0.75, stat.LinInterp, s, nil) - stat.Quantile(0.25, stat.LinInterp, s, nil)
	width := sd
	if iqr > 0 {
		width = math.Min(sd, iqr/1.349)
	}
	p := pilot{residual: s, kernel: 0.9 * width * math.Pow(n, -0.2)}
	shrink := 0.0
	if sd > 0 {
		shrink = math.Sqrt((sd*sd - p.kernel*p.kernel) / (sd * sd * (n - 1) / n))
	}
	for i, v := range s {
		s[i] = (v - centre) * shrink
	}
	return p
}

func (p pilot) fill(g *rand.Rand, into []float64) {
	for i := range into {
		into[i] = p.residual[g.IntN(len(p.residual))] + p.kernel*g.NormFloat64()
	}
}

// newNormalPilot is a pilot of so many values that lie as normal noise does.
func newNormalPilot(n int) pilot {
	x := make([]float64, n)
	for i := range x {
		x[i] = numeric.NormalQuantile((float64(i) + 0.5) / float64(n))
	}
	return newPilot(x)
}

func (p pilot) place(drawn []planDraw, into []float64) {
	for i, d := range drawn {
		into[i] = p.residual[d.residual] + p.kernel*d.kernel
	}
}

// variance is that of drawn values.
func (p pilot) variance() float64 {
	n := float64(len(p.residual))
	return numeric.Variance(p.residual)*(n-1)/n + p.kernel*p.kernel
}
