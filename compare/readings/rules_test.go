package readings

import "testing"

func TestRulesCheck(t *testing.T) {
	threshold := &Limit{Column: "power", Value: 120}
	for _, c := range []struct {
		rules   Rules
		hasList bool
		want    error
	}{
		{Rules{}, false, NoBoundaries},
		{Rules{Marker: "phase", Threshold: threshold}, false, SeveralBoundaries},
		{Rules{Marker: "phase"}, true, SeveralBoundaries},
		{Rules{Threshold: threshold}, false, NoBenchmark},
		{Rules{Marker: "phase", Benchmark: "tile-render"}, false, SecondBenchmark},
		{Rules{Benchmark: "tile-render"}, true, SecondBenchmark},
		{Rules{Marker: "phase", Session: "A", SessionPerLog: true}, false, SecondSession},
		{Rules{Marker: "phase", Session: "A"}, false, nil},
		{Rules{Threshold: threshold, Benchmark: "tile-render", SessionPerLog: true}, false, nil},
		{Rules{}, true, nil},
	} {
		if got := c.rules.Check(c.hasList); got != c.want {
			t.Errorf("%+v, list %v: %v, want %v", c.rules, c.hasList, got, c.want)
		}
	}
}

func TestUnmatchedPatterns(t *testing.T) {
	rules := Rules{
		Maximum: []string{"pow*", "pwoer"}, Percentiles: []Limit{{"power", 95}}, Above: []Limit{{"heat", 90}}, Constant: []string{"clock"},
	}
	got := rules.unmatched([]Column{{Name: "power"}, {Name: "fan"}})
	want := []UnmatchedPattern{{"maximum", "pwoer"}, {"above", "heat"}, {"constant", "clock"}}
	if len(got) != len(want) {
		t.Fatalf("%v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%v, want %v", got[i], want[i])
		}
	}
}
