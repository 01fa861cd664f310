package compare

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare/internal/pieces"
)

func TestPlace(t *testing.T) {
	for want, p := range map[string]Place{
		"runs.csv:3:7":                  {File: "runs.csv", Line: 3, Column: 7},
		"runs.csv:3":                    {File: "runs.csv", Line: 3},
		"--before, number 2":            {File: "--before, number 2"},
		"runs.xlsx, sheet boost, C7":    {File: "runs.xlsx", Sheet: "boost", Line: 7, Column: 3},
		"runs.xlsx, sheet boost, AA7":   {File: "runs.xlsx", Sheet: "boost", Line: 7, Column: 27},
		"runs.xlsx, sheet boost, XFD1":  {File: "runs.xlsx", Sheet: "boost", Line: 1, Column: 16384}, // the last column of the format
		"runs.xlsx, sheet boost, row 7": {File: "runs.xlsx", Sheet: "boost", Line: 7},
		"runs.xlsx, sheet boost":        {File: "runs.xlsx", Sheet: "boost"},
	} {
		if got := p.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := (&PlacedError{At: Place{File: "runs.csv", Line: 3, Column: 7}, Msg: "wrong"}).Error(); got != "runs.csv:3:7: wrong" {
		t.Error(got)
	}
	if got := (&PlacedError{Msg: "wrong"}).Error(); got != "wrong" {
		t.Error(got)
	}
}

func TestOneUnitAndDirectionForAMetric(t *testing.T) {
	at := func(line int) Place { return Place{File: "runs.csv", Line: line, Column: 3} }
	for _, c := range []struct {
		name   string
		values []Value
		want   string
	}{
		{"two units", []Value{{Unit: "s", At: at(2)}, {Unit: "ms", At: at(3)}},
			`runs.csv:3:3: tile-render is in "ms" here but in "s" at runs.csv:2:3; write all runs of a metric in one unit`},
		{"two directions", []Value{{Better: Lower, At: at(2)}, {At: at(3)}, {Better: Higher, At: at(4)}},
			`runs.csv:4:3: tile-render says better = higher here but lower at runs.csv:2:3; state one direction for a metric`},
		{"stated late, once", []Value{{At: at(2)}, {Unit: "s", Better: Lower, At: at(3)}, {At: at(4)}}, ""},
	} {
		var runs Runs
		var err error
		for _, v := range c.values {
			v.Benchmark = "tile-render"
			if err == nil {
				err = runs.Add(v)
			}
		}
		got := ""
		if err != nil {
			got = err.Error()
			var placed *PlacedError
			if !errors.As(err, &placed) {
				t.Errorf("%s: %T has no place", c.name, err)
			}
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// Runs are in order of time where every value has one, else as they were read.
func TestRunOrder(t *testing.T) {
	clock := func(minute int) time.Time { return time.Date(2026, 3, 1, 14, minute, 0, 0, time.UTC) }
	order := func(values ...Value) []float64 {
		var out []float64
		var runs Runs
		for _, v := range values {
			if err := runs.Add(v); err != nil {
				t.Fatal(err)
			}
		}
		for _, s := range runs.Series() {
			for _, o := range s.All() {
				out = append(out, o.Value)
			}
		}
		return out
	}
	v := func(value float64, at time.Time) Value {
		return Value{Benchmark: "tile-render", Value: value, Time: at}
	}
	if d := cmp.Diff([]float64{2, 3, 1}, order(v(1, clock(9)), v(2, clock(1)), v(3, clock(5)))); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]float64{1, 2, 3}, order(v(1, clock(9)), v(2, time.Time{}), v(3, clock(5)))); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]float64{1, 2, 3}, order(v(1, clock(5)), v(2, clock(5)), v(3, clock(5)))); d != "" {
		t.Errorf("equal times keep their order: %s", d)
	}
}

func TestProfilesAndSeriesInOrderOfAppearance(t *testing.T) {
	var runs Runs
	for _, v := range []Value{
		{Profile: "cool-curve", Benchmark: "mesh-solve"}, {Profile: "factory", Benchmark: "tile-render"},
		{Profile: "cool-curve", Benchmark: "tile-render", Metric: "power"}, {Profile: "cool-curve", Benchmark: "mesh-solve"},
	} {
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	if d := cmp.Diff([]string{"cool-curve", "factory"}, runs.Profiles()); d != "" {
		t.Error(d)
	}
	var keys []SeriesKey
	for _, s := range runs.Profile("cool-curve") {
		keys = append(keys, s.SeriesKey)
	}
	want := []SeriesKey{{"cool-curve", "mesh-solve", "score"}, {"cool-curve", "tile-render", "power"}}
	if d := cmp.Diff(want, keys); d != "" {
		t.Error(d)
	}
	if n := runs.Profile("cool-curve")[0].Len(); n != 2 {
		t.Errorf("%d values of mesh-solve, want 2", n)
	}
	if runs.Profile("nobody") != nil {
		t.Error("a profile that is not there has no series")
	}
}

// valid = no on one metric of a run reaches all metrics of that run, but no
// other benchmark, session, profile or file.
func TestSetAsideReachesAllMetricsOfTheRun(t *testing.T) {
	row := func(profile, benchmark, metric, session, run, file string, aside bool) Value {
		v := Value{Profile: profile, Benchmark: benchmark, Metric: metric, Session: session, Run: run, SetAside: aside,
			At: Place{File: file, Line: 2, Column: 1}}
		if aside {
			v.Reason = "checksum error"
		}
		return v
	}
	for _, c := range []struct {
		name   string
		values []Value
		want   []bool
	}{
		{"by label", []Value{
			row("a", "tile-render", "score", "1", "r1", "f", true), row("a", "tile-render", "score", "1", "r2", "f", false),
			row("a", "tile-render", "power", "1", "r2", "f", false), row("a", "tile-render", "power", "1", "r1", "f", false),
		}, []bool{true, false, false, true}},
		{"by position in the session", []Value{
			row("a", "tile-render", "score", "1", "", "f", false), row("a", "tile-render", "score", "1", "", "f", true),
			row("a", "tile-render", "power", "1", "", "f", false), row("a", "tile-render", "power", "1", "", "f", false),
			row("a", "tile-render", "power", "2", "", "f", false), row("a", "tile-render", "power", "2", "", "f", false),
		}, []bool{false, true, false, true, false, false}},
		{"not other benchmarks, profiles, sessions", []Value{
			row("a", "tile-render", "score", "1", "r1", "f", true), row("a", "mesh-solve", "score", "1", "r1", "f", false),
			row("b", "tile-render", "score", "1", "r1", "f", false), row("a", "tile-render", "power", "2", "r1", "f", false),
		}, []bool{true, false, false, false}},
		{"by position, not in another file", []Value{
			row("a", "tile-render", "score", "1", "", "f", true), row("a", "tile-render", "power", "1", "", "g", false),
		}, []bool{true, false}},
		{"by label, in any file", []Value{
			row("a", "tile-render", "score", "1", "r1", "f", true), row("a", "tile-render", "power", "1", "r1", "g", false),
		}, []bool{true, true}},
	} {
		var runs Runs
		for i, v := range c.values {
			v.Value = float64(i)
			if err := runs.Add(v); err != nil {
				t.Fatal(err)
			}
		}
		got := make([]bool, len(c.values))
		for _, s := range runs.Series() {
			for _, o := range s.All() {
				got[int(o.Value)] = o.SetAside
				if o.SetAside && o.Reason != "checksum error" {
					t.Errorf("%s: reason %q", c.name, o.Reason)
				}
			}
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
	}
}

// A long series is read in pieces, which come out whole and in order, whatever
// was asked for in between.
func TestRunsOfLongSeries(t *testing.T) {
	var runs Runs
	const n = 3*pieces.Size + 7
	for i := range n {
		for _, benchmark := range []string{"tile-render", "mesh-solve"} {
			if err := runs.Add(Value{Benchmark: benchmark, Value: float64(i)}); err != nil {
				t.Fatal(err)
			}
		}
		if i == 5 || i == pieces.Size+1 || i == n-1 {
			for _, s := range runs.Series() {
				if s.Len() != i+1 {
					t.Fatalf("%s: %d values of %d", s.Benchmark, s.Len(), i+1)
				}
				for k, o := range s.All() {
					if o.Value != float64(k) {
						t.Fatalf("%s: value %d is %v", s.Benchmark, k, o.Value)
					}
				}
			}
		}
	}
}

// One rule says which run a value is of: its label within session and block, else
// its number there and in its file.
func TestWhichRun(t *testing.T) {
	at := func(file string, line int) Place { return Place{File: file, Line: line} }
	var runs Runs
	for _, v := range []Value{
		{Session: "s1", Run: "1", At: at("a.csv", 2)},
		{Session: "s1", Run: "1", At: at("b.csv", 2)}, // the same run, from another file
		{Run: "1", At: at("a.csv", 3)},
		{Run: "1", At: at("b.csv", 3)}, // a label without a session is of its file
		{Session: "s1", At: at("a.csv", 4)},
		{Session: "s1", At: at("a.csv", 5)},
		{Block: "b1", At: at("a.csv", 6)},
		{Block: "b2", At: at("a.csv", 7)}, // first runs of two blocks
	} {
		v.Benchmark, v.Value = "tile-render", 1
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	want := []RunID{
		{Session: "s1", Label: "1"}, {Session: "s1", Label: "1"},
		{File: "a.csv", Label: "1"}, {File: "b.csv", Label: "1"},
		{Session: "s1", File: "a.csv", Nth: 2}, {Session: "s1", File: "a.csv", Nth: 3}, // labelled ones count
		{Block: "b1", File: "a.csv", Nth: 1}, {Block: "b2", File: "a.csv", Nth: 1},
	}
	for i, id := range runs.Series()[0].RunIDs() {
		if id != want[i] {
			t.Errorf("value %d is of %+v, want %+v", i, id, want[i])
		}
	}
}

// A run that is set aside in one file leaves the run of the same label in
// another file alone, where no session says that they are one.
func TestSetAsideStaysInItsFile(t *testing.T) {
	var runs Runs
	for _, v := range []Value{
		{Metric: "power", Unit: "W", Run: "3", SetAside: true, Reason: "crash", At: Place{File: "monday.csv", Line: 2}},
		{Unit: "s", Run: "3", At: Place{File: "monday.csv", Line: 3}},
		{Unit: "s", Run: "3", At: Place{File: "tuesday.csv", Line: 3}},
	} {
		v.Benchmark, v.Value = "tile-render", 400
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	score := runs.Series()[1]
	if !score.At(0).SetAside || score.At(1).SetAside {
		t.Errorf("set aside: %v on Monday, %v on Tuesday", score.At(0).SetAside, score.At(1).SetAside)
	}
}
