package compare

import "testing"

func TestPicks(t *testing.T) {
	power := MetricID{"tile-render", "power"}
	for _, c := range []struct {
		name  string
		picks Picks
		want  bool
	}{
		{"nothing picked", Picks{}, true},
		{"the benchmark", Picks{Only: []string{"tile-render"}}, true},
		{"the metric", Picks{Only: []string{"mesh-solve", "pow*"}}, true},
		{"both", Picks{Only: []string{"tile-* power"}}, true},
		{"another benchmark", Picks{Only: []string{"mesh-*"}}, false},
		{"another metric", Picks{Only: []string{"tile-render temperature"}}, false},
		{"left out", Picks{LeaveOut: []string{"power"}}, false},
		{"another left out", Picks{LeaveOut: []string{"mesh-solve power"}}, true},
		{"picked and left out", Picks{Only: []string{"tile-render"}, LeaveOut: []string{"* power"}}, false},
	} {
		if got := c.picks.Wants(power); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
