package compare_test

import (
	"fmt"
	"math"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/stats"
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

// At a planned look all of a family are corrected for, those with too few runs to be
// settled too: which of them were run again may hang on what they showed.
func TestPassedOver(t *testing.T) {
	var values [2][]compare.Value
	for side, letter := range []string{"F", "B"} {
		for b := range 10 {
			sessions := 3
			if b == 0 {
				sessions = 6
			}
			for s := range sessions {
				values[side] = append(values[side], compare.Value{Benchmark: fmt.Sprint("benchmark ", b), Unit: "s",
					Session: fmt.Sprint(letter, s), Value: 100 + 0.6*float64((7*s+3*b+side)%5) - 2.2*float64(side)})
			}
		}
	}
	for _, correction := range []compare.Correction{compare.JointCorrection, compare.Holm} {
		var r [2]*compare.Result
		for look := range r {
			c := comparetest.Judged(t, values[0], values[1], compare.Policy{Correction: correction, SuiteDecides: new(bool)},
				compare.Options{Look: look, Resamples: 1000})
			r[look] = c.Results[0]
		}
		if r[0].PAdjusted > 0.03 || r[0].Among != 1 {
			t.Fatalf("%s: p %v among %d without a look; it is alone", correction, r[0].PAdjusted, r[0].Among)
		}
		// Bonferroni's is at most ten times the own p, and Šidák's of ten little less.
		own := stats.WelchP(r[0].Before.Values, r[0].After.Values, 0)
		least := -math.Expm1(10 * math.Log1p(-own))
		if correction == compare.Holm {
			least = 10 * r[0].PUsed
		}
		if r[1].Among != 10 || r[1].PAdjusted < math.Min(1, least)-1e-9 {
			t.Errorf("%s: p %v among %d at a look, want at least %v among 10", correction, r[1].PAdjusted, r[1].Among, least)
		}
	}
}
