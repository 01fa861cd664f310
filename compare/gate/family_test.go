package gate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// measuredSuite is a profile of so many benchmarks, each with a score and its power,
// in so many sessions whose luck all of them share in part. factor is what scores
// are multiplied with.
func measuredSuite(g *rand.Rand, name, lift string, benchmarks, sessions int, factor float64) *Profile {
	var values []compare.Value
	for s := range sessions {
		luck := g.NormFloat64()
		at := compare.Place{File: "profiles/" + name + "/runs/2026-11.csv"}
		for b := range benchmarks {
			noise := func() float64 { return math.Exp(0.01 * (math.Sqrt(0.3)*luck + math.Sqrt(0.7)*g.NormFloat64())) }
			for i, v := range []compare.Value{{Unit: "s", Value: 100 * factor * noise()}, {Metric: "power", Unit: "W", Value: 150 * noise()}} {
				v.Profile, v.Benchmark, v.Session, v.Run = name, fmt.Sprintf("scene-%02d", b), fmt.Sprint(name[:1], s), "1"
				v.At = at
				v.At.Line = len(values) + i + 2
				values = append(values, v)
			}
		}
	}
	return tuned(name, lift, values)
}

// decidingAll has tolerances for scores and costs, and a suite that decides.
func decidingAll() compare.Policy {
	return compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Metric: "score", Tolerance: ptr(0.5)},
		{Benchmark: "*", Metric: "power", Tolerance: ptr(0.5)}}}
}

// A merge that changes nothing fails at most once in twenty, however many profiles
// it brings: 12 scores, 12 costs and the suite of each decide together. Intervals of 6
// and 6 sessions take ten times as long as others.
func TestCleanMergesFailOnceInTwenty(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	for _, c := range []struct{ profiles, sessions, repetitions int }{{1, 5, 400}, {3, 5, 200}, {20, 5, 60}, {3, 4, 300}, {1, 6, 60}} {
		if comparetest.RaceEnabled {
			c.repetitions = 6
		}
		failed, withheld := 0, 0
		for i := range c.repetitions {
			g := comparetest.Generator(uint64(9000 + i))
			factoryRuns := measuredSuite(g, factory, "auto", 12, c.sessions, 1)
			base, head := profiles{factoryRuns}, profiles{factoryRuns}
			for k := range c.profiles {
				head = append(head, measuredSuite(g, fmt.Sprintf("%c-lift", 'a'+k), raised, 12, c.sessions, 1).from(factory))
			}
			gate := between(t, decidingAll(), base, head)
			if gate.Outcome == Failed {
				failed++
			}
			if slices.ContainsFunc(gate.Reasons, func(r Reason) bool { return r.Kind == ReasonWithheld }) {
				withheld++
			}
			if f := gate.Judged[0].Comparison.Family; f != (compare.Family{Scores: 12 * c.profiles, Costs: 12 * c.profiles, Suites: c.profiles}) {
				t.Fatalf("a family of %+v", f)
			}
		}
		share := float64(failed) / float64(c.repetitions)
		t.Logf("%d profiles, %d sessions a side: %d of %d clean merges fail, %d have a loss withheld", c.profiles, c.sessions, failed,
			c.repetitions, withheld)
		if share := float64(withheld) / float64(c.repetitions); share > 0.01+comparetest.Allowance(0.01, c.repetitions) {
			t.Errorf("%d profiles, %d sessions a side: %.1f %% of clean merges have a loss withheld", c.profiles, c.sessions, 100*share)
		}
		if share > 0.05+comparetest.Allowance(0.05, c.repetitions) {
			t.Errorf("%d profiles, %d sessions a side: %.1f %% of clean merges fail", c.profiles, c.sessions, 100*share)
		}
	}
}

// Of 24 benchmarks that all became half as slow again, each is named, from four
// sessions a side on.
func TestAllSlowerFailsByName(t *testing.T) {
	for _, sessions := range []int{4, 6} {
		g := comparetest.Generator(1)
		old := measuredSuite(g, factory, "auto", 24, sessions, 1)
		gate := between(t, decidingAll(), profiles{old}, profiles{old, measuredSuite(g, boost, raised, 24, sessions, 1.5).from(factory)})
		named := map[string]bool{}
		for _, r := range gate.Reasons {
			if r.Kind == ReasonRegression {
				named[r.About()] = true
			}
		}
		for b := range 24 {
			if name := fmt.Sprintf("scene-%02d", b); !named[name] {
				t.Errorf("%d sessions a side: %s is not named", sessions, name)
			}
		}
		if gate.Outcome != Failed {
			t.Errorf("%d sessions a side: %s", sessions, gate.Outcome)
		}
	}
}
