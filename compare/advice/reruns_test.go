package advice

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// timesIn draws sessions of runs of a time around 100 s: sigma is the log
// spread of a session's value, of which rho lies between sessions.
func timesIn(t *testing.T, g *rand.Rand, shape string, profile string, sessions, runs int, sigma, rho, slower float64) []*compare.Series {
	t.Helper()
	draw := comparetest.Shape(shape)
	var r compare.Runs
	for s := range sessions {
		luck := sigma * math.Sqrt(rho) * draw(g)
		for range runs {
			v := 100 * math.Exp(slower+luck+sigma*math.Sqrt(1-rho)*draw(g))
			if err := r.Add(compare.Value{Profile: profile, Benchmark: "tile-render", Unit: "s", Session: fmt.Sprint(profile, s),
				Value: v}); err != nil {
				t.Fatal(err)
			}
		}
	}
	return r.Series()
}

// The advised number of sessions settles the change in the promised share of
// cases, within 5 points: pilots of 12 sessions, and then a comparison at the
// advised size with exactly the change planned for. The share is the mean over
// pilots; 16 pilots with 5 comparisons each have a standard error of about 5.6
// points, so the bounds are 5 points plus two of those.
func TestAdviceHoldsItsPromise(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	pilots, each := 16, 5
	if comparetest.RaceEnabled {
		pilots = 10
	}
	for _, c := range []struct {
		shape string
		runs  int
		rho   float64
	}{{"normal", 1, 1}, {"skew", 1, 1}, {"bimodal", 1, 1}, {"outlier", 1, 1}, {"normal", 3, 0.5}} {
		t.Run(fmt.Sprintf("%s, %d runs a session", c.shape, c.runs), func(t *testing.T) {
			t.Parallel()
			g := rand.New(rand.NewPCG(41, uint64(c.runs)))
			change := 1.0
			settled, all, sizes := 0, 0, 0
			for range pilots {
				a := timesIn(t, g, c.shape, "a", 12, c.runs, 0.01, c.rho, 0)
				b := timesIn(t, g, c.shape, "b", 12, c.runs, 0.01, c.rho, 0)
				p, err := PlanReruns(a, b, []string{"a", "b"}, compare.Policy{}, Wish{Change: &change}, compare.Options{Resamples: 1000})
				if err != nil {
					t.Fatal(err)
				}
				see := p.Metrics[0].See
				if see == nil || see.Min > see.N || see.Max < see.N {
					t.Fatalf("advice %+v", see)
				}
				sizes += see.N
				for range each {
					x := timesIn(t, g, c.shape, "a", see.N, c.runs, 0.01, c.rho, 0)
					y := timesIn(t, g, c.shape, "b", see.N, c.runs, 0.01, c.rho, -math.Log1p(-0.01))
					got, err := compare.Compare(x, y, [2]string{"a", "b"}, compare.Policy{}, compare.Options{Resamples: 1000})
					if err != nil {
						t.Fatal(err)
					}
					all++
					if got.Results[0].Real && got.Results[0].Change < 0 {
						settled++
					}
				}
			}
			share := 100 * float64(settled) / float64(all)
			t.Logf("on average %d sessions a side advised; settled in %.1f %% of %d comparisons", sizes/pilots, share, all)
			slack := 5 + 2*100*math.Sqrt(0.16/float64(all))*1.25
			if math.Abs(share-80) > slack {
				t.Errorf("settled in %.1f %%, promised 80 %% within %.1f points", share, slack)
			}
		})
	}
}

// Planned looks keep the total of false alarms; unplanned ones do not.
func TestLooksKeepThePromise(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	repeats := 500
	if comparetest.RaceEnabled {
		repeats = 150
	}
	g := rand.New(rand.NewPCG(9, 9))
	planned, unplanned := 0, 0
	for range repeats {
		a := comparetest.Observations(timesIn(t, g, "normal", "a", 16, 1, 0.01, 1, 0)[0])
		b := comparetest.Observations(timesIn(t, g, "normal", "b", 16, 1, 0.01, 1, 0)[0])
		var hitPlanned, hitUnplanned bool
		for look := 1; look <= 2; look++ {
			side := func(o []compare.Observation, name string) []*compare.Series {
				s := &compare.Series{SeriesKey: compare.SeriesKey{Profile: name, Benchmark: "tile-render", Metric: "score"}, Unit: "s"}
				s.Append(o[:8*look]...)
				return []*compare.Series{s}
			}
			for _, with := range []bool{true, false} {
				opt := compare.Options{Resamples: 1000}
				if with {
					opt.Look = look
				}
				c, err := compare.Compare(side(a, "a"), side(b, "b"), [2]string{"a", "b"}, compare.Policy{}, opt)
				if err != nil {
					t.Fatal(err)
				}
				if with {
					hitPlanned = hitPlanned || c.Results[0].Real
				} else {
					hitUnplanned = hitUnplanned || c.Results[0].Real
				}
			}
		}
		if hitPlanned {
			planned++
		}
		if hitUnplanned {
			unplanned++
		}
	}
	share := func(n int) float64 { return 100 * float64(n) / float64(repeats) }
	t.Logf("false alarms over two looks: planned %.1f %%, unplanned %.1f %%", share(planned), share(unplanned))
	if limit := 5 + 2*100*math.Sqrt(0.05*0.95/float64(repeats)); share(planned) > limit {
		t.Errorf("planned looks raise %.1f %% false alarms, above %.1f %%", share(planned), limit)
	}
	if unplanned <= planned {
		t.Errorf("unplanned looks raise only %.1f %%: this test cannot tell them apart", share(unplanned))
	}
}

// Cochran 1977: m = sqrt(c1/c2) s2/s1. With as much variance within sessions as
// between them, a session of 12 minutes and runs of 3, m = sqrt(4) = 2 (worked
// by hand); estimated here from many sessions.
func TestRerunsSplit(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 1))
	a := timesIn(t, g, "normal", "a", 400, 5, 0.01, 0.5, 0)
	b := timesIn(t, g, "normal", "b", 400, 5, 0.01, 0.5, 0)
	p, err := PlanReruns(a, b, []string{"a", "b"}, compare.Policy{}, Wish{SessionMinutes: 12, RunMinutes: 3}, compare.Options{Resamples: 1000})
	if err != nil {
		t.Fatal(err)
	}
	m := p.Metrics[0]
	if math.Abs(m.BestRuns-2) > 0.25 {
		t.Errorf("Cochran's rule gives %.2f runs a session, want about 2", m.BestRuns)
	}
	if math.Abs(m.Between/m.WithinSd-1) > 0.12 {
		t.Errorf("sessions differ by %.4f and runs by %.4f, want about the same", m.Between, m.WithinSd)
	}
	least := math.Inf(1)
	for i, s := range m.Schedules {
		if want := 2 * float64(s.Sessions) * (12 + 3*float64(s.RunsPerSession)); s.Minutes != want {
			t.Errorf("%d runs a session: %v minutes, want %v", s.RunsPerSession, s.Minutes, want)
		}
		if i > 0 && s.Sessions > m.Schedules[i-1].Sessions {
			t.Errorf("more runs a session need more sessions: %+v", m.Schedules)
		}
		least = math.Min(least, s.Minutes)
	}
	for _, s := range m.Schedules {
		if s.Cheapest != (s.Minutes == least) {
			t.Errorf("cheapest is marked wrongly: %+v", m.Schedules)
		}
	}
}

func TestProgress(t *testing.T) {
	before, after := comparetest.Scattered(t, comparetest.Factory, 400), comparetest.Scattered(t, comparetest.Boost, 403)
	comparetest.WantRisingProgress(t, func(o compare.Options) error {
		_, err := PlanReruns(before, after, comparetest.Names[:], compare.Policy{}, Wish{}, o)
		return err
	})
}

// Without a tolerance the change to see is the nearer end of what was seen; where the
// pilot shows no change there is nothing to confirm. A number lies within its range.
func TestRerunsConfirm(t *testing.T) {
	policy := comparetest.Tolerating(compare.Policy{}, 0)
	for _, c := range []struct {
		slower  float64
		confirm bool
	}{{0.03, true}, {0, false}} {
		g := rand.New(rand.NewPCG(46, 1))
		a, b := timesIn(t, g, "normal", "a", 6, 1, 0.01, 1, 0), timesIn(t, g, "normal", "b", 6, 1, 0.01, 1, c.slower)
		p, err := PlanReruns(a, b, []string{"a", "b"}, policy, Wish{}, compare.Options{Resamples: 1000})
		if err != nil {
			t.Fatal(err)
		}
		m := p.Metrics[0]
		if m.SeeFrom != SeeObserved || (m.See != nil) != c.confirm {
			t.Fatalf("slower by %v: %+v from %q", c.slower, m.See, m.SeeFrom)
		}
		if !c.confirm {
			continue
		}
		if seen := math.Abs(m.Change); !(m.See.For < seen && m.See.For > seen/3) {
			t.Errorf("seen %v, planned for %v", seen, m.See.For)
		}
		if !(m.See.Min <= m.See.N && m.See.N <= m.See.Max && m.See.Min < m.See.Max) || m.See.Min < m.MinSize {
			t.Errorf("%+v, from %d on", m.See, m.MinSize)
		}
	}
}
