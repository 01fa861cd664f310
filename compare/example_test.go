package compare_test

import (
	"fmt"

	"tunegate/compare"
	"tunegate/compare/intake"
)

// Two files of runs, the first before and the second after the change.
func ExampleCompare() {
	files := []string{"../fixtures/demo/factory.csv", "../fixtures/demo/boost-lift.csv"}
	var runs compare.Runs
	if _, err := intake.ReadFiles(files, nil, intake.Reading{}, runs.Add); err != nil {
		fmt.Println(err)
		return
	}
	names := [2]string{"factory", "boost-lift"} // as the files are named
	c, err := compare.Compare(runs.Profile(names[0]), runs.Profile(names[1]), names, compare.Policy{}, compare.Options{Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range c.Results {
		if r.Role == compare.Score {
			fmt.Printf("%s: %s, %+.2f %% (%+.2f to %+.2f %%)\n", r.Name(), *r.Verdict,
				100*r.Change, 100*r.Interval[0], 100*r.Interval[1])
		}
	}
	fmt.Println("regressions:", len(c.Failures()))
	// Output:
	// tile-render: uplift, +2.46 % (+2.24 to +2.90 %)
	// ray-preview: noise, +0.31 % (-1.47 to +2.04 %)
	// mesh-solve: uplift, +1.45 % (+1.11 to +1.79 %)
	// shader-build: level, -0.00 % (-0.10 to +0.22 %)
	// archive-pack: regression, -1.96 % (-2.36 to -1.56 %)
	// scene-scrub: noise, +0.83 % (-1.12 to +3.88 %)
	// regressions: 1
}

// Numbers that are in memory already become values, one for each run. The policy
// states a tolerance of 1 %.
func ExampleRuns() {
	times := map[string][]float64{
		"factory":    {412.4, 409.1, 415.0, 411.2, 413.7},
		"boost-lift": {402.9, 405.2, 401.3, 399.6, 403.1},
	}
	var runs compare.Runs
	for profile, seconds := range times {
		for _, v := range seconds {
			err := runs.Add(compare.Value{Profile: profile, Benchmark: "tile-render", Unit: "s", Value: v})
			if err != nil {
				fmt.Println(err)
				return
			}
		}
	}
	policy := compare.Policy{Overrides: []compare.Override{{Tolerance: 1}}}
	c, err := compare.Compare(runs.Profile("factory"), runs.Profile("boost-lift"), [2]string{"factory", "boost-lift"}, policy,
		compare.Options{Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	r := c.Results[0]
	fmt.Println(r.Name(), *r.Verdict)
	fmt.Printf("%+.2f %%, 95 %% interval %+.2f to %+.2f %%\n", 100*r.Change, 100*r.Interval[0], 100*r.Interval[1])
	fmt.Printf("%.1f %% less time\n", 100**r.TimeSaved)
	fmt.Printf("a loss of %.1f %% would have been seen four times in five\n", 100**r.BlindSpot)
	// Output:
	// tile-render uplift
	// +2.42 %, 95 % interval +1.53 to +3.25 %
	// 2.4 % less time
	// a loss of 1.3 % would have been seen four times in five
}
