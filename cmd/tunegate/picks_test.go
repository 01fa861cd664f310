package main

import (
	"testing"

	"tunegate/compare"
)

func TestPicks(t *testing.T) {
	power := compare.MetricID{Benchmark: "tile-render", Metric: "power"}
	for _, c := range []struct {
		name  string
		picks picks
		want  bool
	}{
		{"nothing picked", picks{}, true},
		{"the benchmark", picks{only: []string{"tile-render"}}, true},
		{"the metric", picks{only: []string{"mesh-solve", "pow*"}}, true},
		{"both", picks{only: []string{"tile-* power"}}, true},
		{"another benchmark", picks{only: []string{"mesh-*"}}, false},
		{"another metric", picks{only: []string{"tile-render temperature"}}, false},
		{"left out", picks{leaveOut: []string{"power"}}, false},
		{"another left out", picks{leaveOut: []string{"mesh-solve power"}}, true},
		{"picked and left out", picks{only: []string{"tile-render"}, leaveOut: []string{"* power"}}, false},
	} {
		if got := c.picks.wants(power); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
