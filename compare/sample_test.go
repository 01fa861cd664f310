package compare_test

import (
	"bufio"
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

func sampled(t *testing.T, m compare.Metric, values []compare.Value) compare.Sample {
	t.Helper()
	s, err := compare.Reduce(m, comparetest.SeriesOf(t, comparetest.Factory, values)[0])
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Michelson 1879: five experiments of twenty runs each are five values. Data
// and medians 940, 845, 855, 815, 810 km/s above 299,000: R's datasets::morley.
func TestSessionsOfMichelson(t *testing.T) {
	f, err := os.Open("../fixtures/reference/morley.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var values []compare.Value
	for lines := bufio.NewScanner(f); lines.Scan(); {
		cells := strings.Split(lines.Text(), ",")
		if len(cells) != 3 || cells[0] == "experiment" || strings.HasPrefix(cells[0], "#") {
			continue
		}
		v, err := strconv.ParseFloat(cells[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		values = append(values, compare.Value{Benchmark: "light", Session: cells[0], Value: v})
	}
	s := sampled(t, compare.Metric{Benchmark: "light", Scale: compare.Interval}, values)
	if s.Runs != 100 || s.Sessions != 5 {
		t.Fatalf("%d runs in %d sessions", s.Runs, s.Sessions)
	}
	var medians []float64
	for x := range s.Spells() {
		medians = append(medians, x.Value)
	}
	if d := cmp.Diff([]float64{940, 845, 855, 815, 810}, medians); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]float64{810, 815, 845, 855, 940}, s.Values); d != "" {
		t.Error(d)
	}
	if s.Median != 845 || s.UsualRuns != 20 {
		t.Errorf("median %v of sessions of usually %v runs", s.Median, s.UsualRuns)
	}
	// On a ratio scale the median is that of logarithms: with an even number
	// of runs the geometric mean of the middle two.
	r := sampled(t, compare.Metric{Benchmark: "light", Scale: compare.Ratio}, []compare.Value{
		{Benchmark: "light", Session: "1", Value: 2}, {Benchmark: "light", Session: "1", Value: 8},
		{Benchmark: "light", Session: "1", Value: 1}, {Benchmark: "light", Session: "1", Value: 100}})
	if !comparetest.Near(r.Median, 4, 1e-15) {
		t.Errorf("median of 1, 2, 8, 100: %v, want 4", r.Median)
	}
}

// Worked by hand: mean 5, sum of squared deviations 32, sqrt(32/7).
func TestSideFigures(t *testing.T) {
	values := comparetest.Numbers("s", 9, 4, 2, 5, 5, 7, 4, 4)
	values = append(values, compare.Value{Benchmark: "tile-render", Unit: "s", Missing: true},
		compare.Value{Benchmark: "tile-render", Unit: "s", Value: 1000, SetAside: true, Reason: "throttled"})
	s := sampled(t, compare.Metric{Benchmark: "tile-render", Unit: "s", Scale: compare.Ratio}, values)
	want := compare.Side{Runs: 8, SetAside: 1, NotRun: 1, Median: 4.5, Mean: 5, StdDev: math.Sqrt(32.0 / 7), Min: 2, Max: 9}
	if d := cmp.Diff(want, s.Side, cmpopts.EquateApprox(1e-14, 0)); d != "" {
		t.Error(d)
	}
	one := sampled(t, compare.Metric{Benchmark: "tile-render", Scale: compare.Ratio}, comparetest.Numbers("s", 412))
	if one.StdDev != 0 || one.Runs != 1 || !comparetest.Near(one.Median, 412, 1e-14) {
		t.Errorf("one run: %+v", one.Side)
	}
	none := sampled(t, compare.Metric{Benchmark: "tile-render", Scale: compare.Ratio},
		[]compare.Value{{Benchmark: "tile-render", Missing: true}})
	if none.Runs != 0 || none.NotRun != 1 {
		t.Errorf("no run: %+v", none.Side)
	}
}

func TestRatioScaleNeedsValuesAboveZero(t *testing.T) {
	for _, bad := range []float64{0, -1, math.NaN()} {
		values := comparetest.Numbers("s", 412, bad)
		_, err := compare.Reduce(compare.Metric{Benchmark: "tile-render", Unit: "s", Scale: compare.Ratio},
			comparetest.SeriesOf(t, comparetest.Factory, values)[0])
		var placed *compare.PlacedError
		if !errors.As(err, &placed) || placed.At.String() != "factory.csv:3:1" || !strings.Contains(err.Error(), "must be above zero") {
			t.Errorf("%v: %v", bad, err)
		}
	}
	s := sampled(t, compare.Metric{Benchmark: "tile-render", Unit: "°C", Scale: compare.Interval}, comparetest.Numbers("°C", -3, 0, 4))
	if s.Median != 0 || s.Min != -3 {
		t.Errorf("below zero there is heat too: %+v", s.Side)
	}
	// A run that is set aside may hold anything.
	aside := comparetest.Numbers("s", 412, 0)
	aside[1].SetAside, aside[1].Reason = true, "crashed"
	if s := sampled(t, compare.Metric{Benchmark: "tile-render", Unit: "s", Scale: compare.Ratio}, aside); s.Runs != 1 {
		t.Errorf("%+v", s.Side)
	}
}

// Runs without a label are a session each, labelled ones share theirs, and a
// label within a block is a session of that block.
func TestWhatCountsOnce(t *testing.T) {
	v := func(session, block string, x float64) compare.Value {
		return compare.Value{Benchmark: "tile-render", Session: session, Block: block, Value: x}
	}
	for _, c := range []struct {
		name   string
		values []compare.Value
		want   []float64
	}{
		{"no labels", []compare.Value{v("", "", 3), v("", "", 1), v("", "", 2)}, []float64{1, 2, 3}},
		{"labels", []compare.Value{v("1", "", 3), v("2", "", 1), v("1", "", 5), v("2", "", 2)}, []float64{1.5, 4}},
		{"some labels", []compare.Value{v("1", "", 3), v("", "", 1), v("1", "", 5), v("", "", 2)}, []float64{1, 2, 4}},
		{"the same label in two blocks", []compare.Value{v("1", "A", 3), v("1", "B", 5), v("1", "B", 7)}, []float64{3, 6}},
		{"in a block and outside", []compare.Value{v("1", "A", 3), v("1", "", 5)}, []float64{3, 5}},
	} {
		s := sampled(t, compare.Metric{Benchmark: "tile-render", Scale: compare.Interval}, c.values)
		if d := cmp.Diff(c.want, s.Values); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
	}
}
