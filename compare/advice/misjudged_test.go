package advice

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Pilots that were built to be misjudged. Each plan is followed: comparisons of the
// advised size with exactly the change planned for settle it in about four of five, on
// average over pilots, or no plan is given (but for one pilot in ten) and the reason is. Where it is known that
// fewer do, that stands here and in the study. With these seeds the shares are fixed;
// the bounds leave three standard errors.
func TestMisleadingPilots(t *testing.T) {
	const pilots, each, change = 40, 4, 1.0 // per cent
	opt := compare.Options{Resamples: 200}
	fine := func(v float64) float64 { return v }
	for i, c := range []struct {
		name    string
		shape   string
		n       [2]int
		read    func(float64) float64
		planned bool
		least   float64 // settled, in per cent
	}{
		{"one side of 4 and one of 12", "normal", [2]int{4, 12}, fine, true, 80},
		{"slowdowns that are skewed", "skew", [2]int{8, 8}, fine, true, 75},
		{"one run in ten hit by a long slowdown, which pilots of 4 seldom show", "outlier", [2]int{4, 4}, fine, true, 66},
		{"readings in steps as large as the spread", "normal", [2]int{6, 6}, math.Round, true, 80},
		{"readings in steps larger than the change", "normal", [2]int{6, 6}, func(v float64) float64 { return 3 * math.Round(v/3) }, false, 0},
	} {
		g := rand.New(rand.NewPCG(60, uint64(i)))
		draw := comparetest.Shape(c.shape)
		side := func(name string, n int, slower float64) []*compare.Series {
			s := &compare.Series{SeriesKey: compare.SeriesKey{Profile: name, Benchmark: "tile-render", Metric: compare.DefaultMetric}, Unit: "s"}
			for k := range n {
				s.Append(compare.Observation{Session: fmt.Sprint(name, k),
					Value: c.read(100 * math.Exp(0.01*draw(g)+slower))})
			}
			return []*compare.Series{s}
		}
		settled, all, advised := 0, 0, 0
		for range pilots {
			wanted := change
			p, err := PlanReruns(side("a", c.n[0], 0), side("b", c.n[1], 0), []string{"a", "b"}, compare.Policy{}, Wish{Change: &wanted}, opt)
			if err != nil {
				t.Fatal(err)
			}
			m := p.Metrics[0]
			if m.See == nil {
				if !m.TooCoarse() && m.Spread > 0 {
					t.Errorf("%s: no plan and no reason", c.name)
				}
				continue
			}
			if advised++; m.See.N > 300 {
				continue // too many to simulate, and to run
			}
			for range each {
				x, y := side("a", m.See.N, 0), side("b", m.See.N, -math.Log1p(-change/100))
				got, err := compare.Compare(x, y, [2]string{"a", "b"}, compare.Policy{}, opt)
				if err != nil {
					t.Fatal(err)
				}
				all++
				if r := got.Results[0]; r.Real && r.Change < 0 {
					settled++
				}
			}
		}
		share := 100 * float64(settled) / float64(max(1, all))
		t.Logf("%s: %d of %d pilots give a plan, settled in %.0f %%", c.name, advised, pilots, share)
		if c.planned && advised < pilots*9/10 || !c.planned && advised > pilots/10 {
			t.Errorf("%s: %d of %d pilots give a plan", c.name, advised, pilots)
		}
		if given := 300 * math.Sqrt(0.16/float64(pilots*each)) * 1.25; c.planned && share < c.least-given {
			t.Errorf("%s: settled in %.0f %%, at least %.0f wanted", c.name, share, c.least)
		}
	}
}
