package gate_test

import (
	"fmt"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// A branch changes the lift and measures the profile anew. The policy accepts a
// loss of 1 %.
func ExampleJudge() {
	quiet := func(lift string, seconds ...float64) map[string]*gate.Profile {
		p := &gate.Profile{Name: "quiet", Settings: map[string]string{"lift": lift}, Values: compare.RowsOf()}
		for _, s := range seconds {
			p.Values.Append(compare.Value{Benchmark: "tile-render", Unit: "s", Value: s})
		}
		return map[string]*gate.Profile{p.Name: p}
	}
	policy := &compare.Policy{Overrides: []compare.Override{{Tolerance: 1}}}
	base := gate.Snapshot{Name: "main", Policy: policy, Profiles: quiet("one notch", 402.9, 405.2, 401.3, 399.6, 403.1)}
	head := gate.Snapshot{Name: "branch", Policy: policy, Profiles: quiet("two notches", 412.4, 409.1, 415.0, 411.2, 413.7)}

	g, err := gate.Judge(base, head, compare.Options{Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(g.Outcome)
	for _, j := range g.Judged {
		r := j.Comparison.Results[0]
		fmt.Printf("%s (%s): %s %s, %+.1f %%\n", j.Profile, j.Question, r.Name(), *r.Verdict, 100*r.Change)
	}
	for _, reason := range g.Reasons {
		fmt.Println(reason.Kind, reason.About())
	}
	// Output:
	// failed
	// quiet (settings changed): tile-render regression, -2.4 %
	// regression tile-render
}
