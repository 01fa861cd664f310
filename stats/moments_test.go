package stats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// The moments of two groups together are those of all their values, as gonum's stat has
// them.
func TestMomentsJoin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		group := rapid.SliceOfN(rapid.Float64Range(-1000, 1000), 1, 20)
		x, y := group.Draw(t, "x"), group.Draw(t, "y")
		of := func(v []float64) (m Moments) {
			for _, one := range v {
				m = m.Join(Moments{N: 1, Mean: one})
			}
			return m
		}
		got, all := of(x).Join(of(y)), append(x, y...)
		mean, deviation := stat.MeanStdDev(all, nil)
		if got.N != float64(len(all)) || math.Abs(got.Mean-mean) > 1e-9 || math.Abs(got.StdDev()-deviation) > 1e-9 {
			t.Errorf("%v and %v: %v, expected mean %v and standard deviation %v", x, y, got, mean, deviation)
		}
	})
	if got := (Moments{1, 5, 0}).StdDev(); got != 0 {
		t.Errorf("one value spreads by %v", got)
	}
}

// Mean and standard deviation are those of gonum's distuv.LogNormal.
func TestLognormalMoments(t *testing.T) {
	for _, sigma := range []float64{0, 0.003, 0.1, 1.2} {
		want := distuv.LogNormal{Mu: math.Log(412), Sigma: sigma}
		got := LognormalMoments(7, 412, sigma)
		if math.Abs(got.Mean/want.Mean()-1) > 1e-12 || math.Abs(got.StdDev()-want.StdDev()) > 1e-9*want.Mean() || got.N != 7 {
			t.Errorf("sigma %v: %v and %v, expected %v and %v", sigma, got, got.StdDev(), want.Mean(), want.StdDev())
		}
	}
}
