package compare_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// draw makes runs in sessions, as they are read off to hundredths.
func draw(seed uint64, unit, letter string, sessions, runs int, level float64) (out []compare.Value) {
	g := comparetest.Generator(seed)
	for session := range sessions {
		at := level * math.Exp(0.01*g.NormFloat64())
		for range runs {
			v := math.Round(100*at*math.Exp(0.01*g.NormFloat64())) / 100
			out = append(out, compare.Value{Benchmark: "tile-render", Unit: unit, Session: fmt.Sprint(letter, session+1), Value: v})
		}
	}
	return out
}

// What is measured, judged and foreseen of reduced rows is what it is of the runs.
func TestReducedRows(t *testing.T) {
	for _, c := range []struct {
		unit           string
		sessions, runs int
	}{{"s", 6, 3}, {"s", 5, 4}, {"s", 8, 1}, {"°C", 6, 3}, {"°C", 7, 2}, {"points", 20, 7}} {
		before, after := draw(1, c.unit, "F", c.sessions, c.runs, 40), draw(2, c.unit, "B", c.sessions, c.runs, 40.6)
		ratio := c.unit != "°C"
		want := comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{}).Results[0]
		got := comparetest.Judged(t, comparetest.Reduced(before, ratio), comparetest.Reduced(after, ratio),
			compare.Policy{}, compare.Options{}).Results[0]
		type shown struct {
			Change      float64
			Interval    *[2]float64
			P, Adjusted float64
			Verdict     *compare.Verdict
			BlindSpot   *float64
			Needs       []compare.Need
			Resolution  float64
			Runs        [2]int
			Sessions    int
			Median      float64
			Min, Max    float64
			Notes       []compare.Note
		}
		of := func(r *compare.Result) shown {
			return shown{r.Change, r.Interval, r.P, r.PAdjusted, r.Verdict, r.BlindSpot, r.Needs, r.Resolution, [2]int{r.Before.Runs,
				r.After.Runs}, r.Before.Sessions, r.Before.Median, r.Before.Min, r.Before.Max, r.Notes}
		}
		if d := cmp.Diff(of(want), of(got), cmpopts.EquateApprox(1e-9, 1e-12)); d != "" {
			t.Errorf("%d sessions of %d in %s (-runs +reduced):\n%s", c.sessions, c.runs, c.unit, d)
		}
		if g, w := got.Before, want.Before; math.Abs(g.StdDev/w.StdDev-1) > 0.01 || math.Abs(g.Mean/w.Mean-1) > 1e-4 {
			t.Errorf("mean %v and standard deviation %v, of the runs %v and %v", g.Mean, g.StdDev, w.Mean, w.StdDev)
		}
		if !got.Before.Reduced || want.Before.Reduced {
			t.Error("whether rows are reduced is wrong")
		}
	}
}

// A row of a machine stands for its sessions: three of five runs each.
func TestReducedMachines(t *testing.T) {
	var rows []compare.Value
	for i, name := range []string{"heron", "plover", "curlew"} {
		v := 10 + float64(i)
		rows = append(rows, compare.Value{Benchmark: "tile-render", Unit: "s", Machine: name, Value: v,
			Reduced: &compare.Reduction{Runs: 15, Sessions: 3, Mean: v, Spread: 0.01, Smallest: v - 0.5, Largest: v + 0.5}})
	}
	s, err := compare.Reduce(compare.Metric{Benchmark: "tile-render", Unit: "s", Scale: compare.Ratio},
		comparetest.SeriesOf(t, comparetest.Factory, rows)[0])
	if err != nil {
		t.Fatal(err)
	}
	if s.Runs != 45 || s.Sessions != 9 || s.UsualRuns != 5 || s.Median != 11 || s.Min != 9.5 || s.Max != 12.5 || len(s.Values) != 3 {
		t.Errorf("%+v", s)
	}
}

func TestWrongReducedRows(t *testing.T) {
	row := func(session string, value float64, r compare.Reduction) compare.Value {
		return compare.Value{Benchmark: "tile-render", Unit: "s", Session: session, Value: value, Reduced: &r}
	}
	fine := compare.Reduction{Runs: 3, Mean: 10, Smallest: 9, Largest: 11}
	sides := func(runs int) (out []compare.Value) {
		for i := range 6 {
			out = append(out, row(fmt.Sprint(i), 10+0.1*float64(i), compare.Reduction{Runs: runs, Mean: 10, Smallest: 9, Largest: 11}))
		}
		return out
	}
	run := compare.Value{Benchmark: "tile-render", Unit: "s", Session: "a", Value: 10}
	for name, c := range map[string]struct {
		before, after []compare.Value
		want          string
	}{
		"no session": {[]compare.Value{row("", 10, fine)}, sides(3), "factory.csv:2:1: tile-render stands for 3 runs of no session"},
		"twice a session": {[]compare.Value{row("a", 10, fine), row("a", 10.5, fine)}, sides(3),
			`factory.csv:3:1: tile-render has several rows of session "a"`},
		"run and reduced":  {[]compare.Value{run, row("a", 10.5, fine)}, sides(3), "factory.csv:3:1: "},
		"reduced, and run": {[]compare.Value{row("a", 10.5, fine), run}, sides(3), "factory.csv:3:1: "},
		"a run of 0": {[]compare.Value{row("a", 10, compare.Reduction{Runs: 3, Mean: 10, Largest: 11})}, sides(3),
			"tile-render is 0, but"},
		"unequal runs": {sides(3), sides(5), "factory.csv:2: sessions of tile-render hold unequal numbers of runs (usually 3 before and 5 " +
			"after), and reduced rows cannot be cut to their first ones"},
	} {
		_, err := comparetest.Compared(t, c.before, c.after, compare.Policy{}, compare.Options{})
		var placed *compare.PlacedError
		if !errors.As(err, &placed) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
}
