package compare_test

import (
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Two pairs of sides whose values are all equal, as a profile against its last state
// and against the same runs as its baseline, are judged as if they were one.
func TestEqualGroupsCountOnce(t *testing.T) {
	measure := func(name string, level float64) *compare.Measured {
		before := comparetest.SeriesOf(t, comparetest.Factory, append(comparetest.Tiles("F", 412), comparetest.Meshes("F", 268)...))
		after := comparetest.SeriesOf(t, comparetest.Boost, append(comparetest.Tiles("B", level), comparetest.Meshes("B", 267.5)...))
		m, err := compare.Measure(before, after, [2]string{name, comparetest.Boost}, compare.Policy{Correction: compare.JointCorrection},
			compare.Options{Resamples: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	alone := compare.JudgeTogether(nil, measure("last", 411))[0]
	twice := compare.JudgeTogether(nil, measure("last", 411), measure("baseline", 411))
	others := compare.JudgeTogether(nil, measure("last", 411), measure("baseline", 410.5))[0]
	for i, r := range alone.Results {
		for k, c := range twice {
			if c.Results[i].PAdjusted != r.PAdjusted || c.Results[i].Among != r.Among || c.Family != alone.Family {
				t.Errorf("%s, list %d: p %v among %d, want %v among %d", r.Name(), k, c.Results[i].PAdjusted, c.Results[i].Among, r.PAdjusted, r.Among)
			}
		}
		if o := others.Results[i]; o.Among != 2*r.Among || o.PAdjusted <= r.PAdjusted {
			t.Errorf("%s beside other values: p %v among %d, alone %v among %d", r.Name(), o.PAdjusted, o.Among, r.PAdjusted, r.Among)
		}
	}
}
