package gate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Burden safety: passes only where the interval excludes a loss beyond the tolerance; a
// loss that is not is no failure, but asks for more runs.
func TestBurdenOfProof(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	wild := func(level float64) []compare.Value {
		v := tiles("B", level)
		for i := range v {
			v[i].Value += float64(9 * (i%2*2 - 1))
		}
		return v
	}
	for _, c := range []struct {
		name         string
		now          []compare.Value
		tolerance    float64
		harm, safety Outcome
		want         []string // under safety
	}{
		{"uplift", tiles("B", 402), 0.5, Passed, Passed, nil},
		{"regression", tiles("B", 424), 0.5, Failed, Failed, []string{"boost-lift regression tile-render"}},
		{"level", tiles("B", 412), 1, Passed, Passed, nil},
		{"noise", wild(412), 0.5, Passed, Undecided, []string{"boost-lift loss-not-excluded tile-render (undecided)"}},
		{"slight loss that could be larger", tiles("B", 413.8), 0.5, Passed, Undecided,
			[]string{"boost-lift loss-not-excluded tile-render (undecided)"}},
		{"slight loss that could not", tiles("B", 413.8), 2, Passed, Passed, nil},
		{"one run", tiles("B", 390)[:1], 0.5, Undecided, Undecided, []string{"boost-lift no-loss-visible tile-render (undecided)"}},
	} {
		policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render", Tolerance: &c.tolerance}}}
		head := profiles{old, tuned(boost, raised, c.now, meshes("B", 300)).from(factory)} // mesh-solve is not named, so not judged
		if g := between(t, policy, profiles{old}, head); g.Outcome != c.harm {
			t.Errorf("%s: %s under harm, want %s: %q", c.name, g.Outcome, c.harm, reasons(g))
		}
		policy.Burden = compare.Safety
		wantReasons(t, c.name, between(t, policy, profiles{old}, head), c.safety, c.want...)
	}
}

// What is not measured any more is not excluded either, nor seen.
func TestUnmeasuredScores(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268), heat("F", 80), comparetest.SixSessions("ray-preview", "MHz", "F", 4400))
	head := profiles{old, tuned(boost, raised, tiles("B", 402)).from(factory)}
	for _, c := range []struct {
		name    string
		policy  compare.Policy
		outcome Outcome
		want    []string
	}{
		{"harm", compare.Policy{}, Undecided, []string{"boost-lift not-measured (undecided)"}},
		{"safety", compare.Policy{Burden: compare.Safety}, Undecided, []string{"boost-lift not-measured (undecided)"}},
		{"not named", compare.Policy{Burden: compare.Safety, WidestBlindSpot: ptr(20.0), Entries: []compare.Entry{{Benchmark: "tile-render"}}},
			Passed, nil},
	} {
		g := between(t, c.policy, profiles{old}, head)
		wantReasons(t, c.name, g, c.outcome, c.want...)
		if c.want != nil {
			if d := cmp.Diff([]string{"mesh-solve"}, g.Reasons[0].Names); d != "" {
				t.Errorf("%s: %s", c.name, d)
			}
		}
	}
	// More runs of one benchmark leave the others as they are.
	more := tuned(factory, "auto", tiles("F", 412), meshes("F", 268), heat("F", 80), comparetest.SixSessions("ray-preview", "MHz", "F", 4400),
		tiles("G", 412.2))
	g := between(t, compare.Policy{Burden: compare.Safety, Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(1.0)}}}, profiles{old},
		profiles{more})
	wantReasons(t, "more runs", g, Passed)
}

func TestWidestBlindSpot(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268), heat("F", 80))
	now := tuned(boost, raised, tiles("B", 402), meshes("B", 262), heat("B", 80)).from(factory)
	spots := map[string]float64{}
	for _, r := range judgement(t, between(t, compare.Policy{}, profiles{old}, profiles{old, now})).Comparison.Results {
		spots[r.Name()] = *r.BlindSpot
	}
	mesh := 100 * spots["mesh-solve"]
	for _, c := range []struct {
		name   string
		policy compare.Policy
		want   []string
	}{
		{"wide enough", compare.Policy{WidestBlindSpot: ptr(mesh + 0.001)}, nil},
		{"narrower than all scores", compare.Policy{WidestBlindSpot: ptr(0.1)}, []string{"boost-lift blind-spot (undecided)"}},
		{"narrower for one", compare.Policy{Entries: []compare.Entry{{Benchmark: "*"},
			{Benchmark: "mesh-solve", WidestBlindSpot: ptr(mesh - 0.001)}}}, []string{"boost-lift blind-spot mesh-solve (undecided)"}},
		{"wider for one", compare.Policy{WidestBlindSpot: ptr(0.1),
			Entries: []compare.Entry{{Benchmark: "*"}, {Benchmark: "mesh-solve", WidestBlindSpot: ptr(90.0)}}},
			[]string{"boost-lift blind-spot tile-render (undecided)"}},
	} {
		g := between(t, c.policy, profiles{old}, profiles{old, now})
		outcome := Passed
		if c.want != nil {
			outcome = Undecided
		}
		wantReasons(t, c.name, g, outcome, c.want...)
	}
	// Its number of sessions brings the blind spot to where the policy wants it.
	g := between(t, compare.Policy{WidestBlindSpot: ptr(0.58)}, profiles{old}, profiles{old, now})
	r := g.Reasons[0].Result
	n, ok := r.SizeToCatch(*r.WidestBlindSpot)
	if !ok || n <= 6 || n > 12 {
		t.Errorf("%d sessions a side, %v, from a blind spot of %v", n, ok, *r.BlindSpot)
	}
	// Where no loss of any size could be seen the demand is not met.
	g = between(t, compare.Policy{WidestBlindSpot: ptr(50.0)}, profiles{old},
		profiles{old, tuned(boost, raised, tiles("B", 402)[:2], meshes("B", 262)).from(factory)})
	wantReasons(t, "blind", g, Undecided, "boost-lift no-loss-visible tile-render (undecided)")
	if spot := g.Reasons[0].Result.BlindSpot; spot != nil {
		t.Errorf("two sessions have a blind spot of %v", *spot)
	}
}

func TestFailedOutranksRunMore(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	slow := tuned(boost, raised, tiles("B", 424), meshes("B", 268)).from(factory)
	quick := tuned("fixed-all", "fixed", tiles("X", 402), meshes("X", 262)).from(factory)
	policy := compare.Policy{WidestBlindSpot: ptr(0.01), Burden: compare.Safety}
	g := between(t, policy, profiles{old}, profiles{old, quick, slow})
	if g.Outcome != Failed || g.Judged[0].Outcome != Failed || g.Judged[1].Outcome != Undecided {
		t.Errorf("%s: %s %s, %s %s", g.Outcome, g.Judged[0].Profile, g.Judged[0].Outcome, g.Judged[1].Profile, g.Judged[1].Outcome)
	}
	g = between(t, policy, profiles{old}, profiles{old, quick})
	if g.Outcome != Undecided {
		t.Errorf("without the loss: %s", g.Outcome)
	}
}

// Only scores share the family: costs and infos cannot pad it.
func TestOnlyScoresShareTheFamily(t *testing.T) {
	side := func(letter string) [][]compare.Value {
		out := [][]compare.Value{tiles(letter, 412), meshes(letter, 268)}
		for i := range 9 {
			out = append(out, comparetest.Metric(fmt.Sprint("power-", i), comparetest.SixSessions("tile-render", "W", letter, 180)),
				comparetest.Metric(fmt.Sprint("clock-", i), comparetest.SixSessions("tile-render", "MHz", letter, 4400)))
		}
		return append(out, comparetest.Named("ray-preview", tiles(letter, 70)))
	}
	old, now := tuned(factory, "auto", side("F")...), tuned(boost, raised, side("B")...).from(factory)
	policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Metric: "*"},
		{Benchmark: "scene-scrub"}}} // in the family, never measured
	c := judgement(t, between(t, policy, profiles{old}, profiles{old, now})).Comparison
	if c.Family.Members() != 4 || len(c.Results) != 21 {
		t.Errorf("a family of %v among %d metrics", c.Family, len(c.Results))
	}
	for _, r := range c.Results {
		if r.Role != compare.Score && r.PAdjusted != r.PUsed {
			t.Errorf("%s is corrected: %v for %v", r.Name(), r.PAdjusted, r.PUsed)
		}
	}
}

// The stated blind spot is no mere number: of a true loss of that size the gate
// fails in 75 to 85 % of repetitions. Pilots have six
// sessions a side and normal noise; each is repeated once, which averages over
// pilots best: with 300 the standard error is 2.3 points.
func TestGateFiresAtItsBlindSpot(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	n := 300
	if comparetest.RaceEnabled {
		n = 12
	}
	// No tolerance, since TestBlindSpotIsCaughtFourTimesInFive says what one does.
	policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(0.0)}}}
	run := func(g *rand.Rand, loss float64) *Gate {
		noisy := func(name string, level float64) *Profile {
			v := tiles(name, 0)
			for i := range v {
				v[i].Value = level * math.Exp(0.004*g.NormFloat64())
			}
			return tuned(name, name, v)
		}
		old := noisy(factory, 300)
		// So much more time is a loss of speed of that size.
		return between(t, policy, profiles{old}, profiles{old, noisy(boost, 300/(1-loss)).from(factory)})
	}
	var alarms, fired atomic.Int64
	var wg sync.WaitGroup
	for core := range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := core; i < n; i += 2 {
				g := comparetest.Generator(uint64(1000 + i))
				pilot := run(g, 0)
				if pilot.Outcome == Failed {
					alarms.Add(1)
				}
				if run(g, *pilot.Judged[0].Comparison.Results[0].BlindSpot).Outcome == Failed {
					fired.Add(1)
				}
			}
		}()
	}
	wg.Wait()
	caughtWithin(t, "losses of the blind spot's size", int(fired.Load()), n, 0.75, 0.85)
	caughtWithin(t, "pilots without a loss that fail all the same", int(alarms.Load()), n, 0, 0.03)
}

// caughtWithin holds a share between bounds, less one standard error. Under
// the race detector there are too few to check.
func caughtWithin(t *testing.T, what string, caught, tries int, least, most float64) {
	t.Helper()
	share := float64(caught) / float64(tries)
	t.Logf("%s: %.1f %% of %d", what, 100*share, tries)
	if (share < least-0.018 || share > most+0.018) && !comparetest.RaceEnabled {
		t.Errorf("%s: %.1f %%, want %v to %v %%", what, 100*share, 100*least, 100*most)
	}
}
