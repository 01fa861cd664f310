package advice_test

import (
	"fmt"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/gate"
	"tunegate/compare/internal/comparetest"
)

// What a plan advises, a policy's fewest runs and sessions never refuse: the
// gate fed with the advised number has no reason left that is about numbers.
func TestAdviceMeetsThePolicysFewest(t *testing.T) {
	policy := compare.Policy{FewestRuns: 20, FewestSessions: 12}
	rows := func(profile string, sessions, runs int, base float64) *compare.Rows {
		out := compare.RowsOf()
		for s := range sessions {
			for k := range runs {
				out.Append(compare.Value{Profile: profile, Benchmark: "tile-render", Unit: "s", Session: fmt.Sprint(profile, s),
					Run: fmt.Sprint(k), Value: base + 0.05*float64((7*s+3*k)%11)})
			}
		}
		return out
	}
	gated := func(sessions, runs int) *gate.Gate {
		t.Helper()
		profiles := map[string]*gate.Profile{"factory": {Name: "factory", Values: rows("factory", 12, 3, 400)},
			"boost-lift": {Name: "boost-lift", Baseline: "factory", Values: rows("boost-lift", sessions, runs, 400.5)}}
		g, err := gate.Judge(gate.Snapshot{Name: "base", Policy: &policy}, gate.Snapshot{Name: "head", Policy: &policy, Profiles: profiles},
			compare.Options{Resamples: 1000})
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	refused := func(g *gate.Gate) string {
		var why []string
		for _, r := range g.Reasons {
			if r.Kind == gate.ReasonFewRuns && r.Profile == "boost-lift" {
				why = append(why, fmt.Sprintf("%d %ss, wanted %d", r.Count, r.What, r.Limit))
			}
		}
		return strings.Join(why, "; ")
	}
	if refused(gated(4, 3)) == "" {
		t.Fatal("4 sessions are not refused: the check below could not fail")
	}
	for _, runs := range []int{1, 3} {
		pilot := func(name string, base float64) []*compare.Series {
			return comparetest.SeriesOf(t, name, rows(name, 4, runs, base).List())
		}
		p, err := advice.PlanReruns(pilot("factory", 400), pilot("boost-lift", 400.5), []string{"factory", "boost-lift"}, policy, advice.Wish{},
			compare.Options{Resamples: 1000})
		if err != nil {
			t.Fatal(err)
		}
		m := p.Metrics[0]
		if m.See == nil || m.See.N > 30 {
			t.Fatalf("advice %+v; the data were to need few", m.See)
		}
		if why := refused(gated(m.See.N, runs)); why != "" {
			t.Errorf("%d sessions of %d runs, as advised, are refused: %s", m.See.N, runs, why)
		}
		for _, s := range m.Schedules {
			if why := refused(gated(s.Sessions, s.RunsPerSession)); why != "" {
				t.Errorf("%d sessions of %d runs, as in the table, are refused: %s", s.Sessions, s.RunsPerSession, why)
			}
		}
	}
}
