package readings_test

import (
	"fmt"

	"tunegate/compare/readings"
)

// A log of a watt meter that names the benchmark while it runs, read once a
// second.
func ExampleCollector() {
	rules := readings.DefaultRules()
	rules.Marker = "phase"
	c, err := readings.NewCollector(rules)
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := c.Begin(readings.LogHead{File: "log.csv", Columns: []readings.Column{{Name: "power", Unit: "W"}}}); err != nil {
		fmt.Println(err)
		return
	}
	for second, watts := range []float64{40, 100, 120, 140, 40} {
		r := readings.Reading{Line: second + 2, Time: int64(second) * 1e9, Values: []float64{watts}}
		if watts > 40 {
			r.Marker = "tile-render"
		}
		if err := c.Row(r); err != nil {
			fmt.Println(err)
			return
		}
	}
	if err := c.End(); err != nil {
		fmt.Println(err)
		return
	}
	found, err := c.Result()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, run := range found.Runs {
		for _, v := range run.Metrics {
			fmt.Println(run.Benchmark, run.Label, v.Metric, *v.Value, v.Unit)
		}
	}
	// Output:
	// tile-render 1 power 120 W
	// tile-render 1 energy 240 J
}
