package gate

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// A profile without a baseline cannot be compared, but has to obey caps and
// the demands on runs all the same.
func TestNoBaselineObeysThePolicy(t *testing.T) {
	policy := compare.Policy{FewestRuns: 4, FewestSessions: 3,
		Entries: []compare.Entry{{Benchmark: "*"}, {Benchmark: "*", Metric: "temperature", Cap: ptr(93.0)},
			{Benchmark: "mesh-solve", Required: ptr(true)}}}
	for _, c := range []struct {
		name string
		now  *Profile
		want []string
	}{
		{"fine", tuned(boost, raised, tiles("B", 402), meshes("B", 262), heat("B", 80)), nil},
		{"hot", tuned(boost, raised, tiles("B", 402), meshes("B", 262), heat("B", 96)), []string{"boost-lift cap tile-render temperature"}},
		{"set aside", tuned(boost, raised, tiles("B", 402), meshes("B", 262), aside("crashed", tiles("Z", 500)[:1]...)),
			[]string{"boost-lift set-aside"}},
		{"without what is required", tuned(boost, raised, tiles("B", 402)), []string{"boost-lift required"}},
		{"too few", tuned(boost, raised, tiles("B", 402)[:2], meshes("B", 262)),
			[]string{"boost-lift too-few-runs tile-render", "boost-lift too-few-runs tile-render"}},
	} {
		outcome := Failed
		if c.want == nil {
			outcome = Passed
		}
		wantReasons(t, c.name, between(t, policy, nil, profiles{c.now}), outcome, c.want...)
	}
}

var capped = compare.Policy{Entries: []compare.Entry{{Benchmark: "*"}, {Benchmark: "*", Metric: "temperature", Cap: ptr(93.0)}}}

func TestCaps(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), heat("F", 80))
	with := func(values ...[]compare.Value) *Profile { return tuned(boost, raised, values...).from(factory) }
	at93 := heat("B", 80)
	at93[0].Value = 93
	for _, c := range []struct {
		name string
		now  *Profile
		want []string
	}{
		{"below", with(tiles("B", 402), heat("B", 90)), nil},
		{"one run exactly there", with(tiles("B", 402), at93), nil},
		{"beyond", with(tiles("B", 402), heat("B", 93)), []string{"boost-lift cap tile-render temperature"}},
		{"beyond, and set aside", with(tiles("B", 402), heat("B", 90), aside("throttled", heat("Z", 96)...)), []string{"boost-lift set-aside"}},
		{"beyond, in a benchmark without partner", with(tiles("B", 402), heat("B", 90), comparetest.Named("mesh-solve", heat("B", 96))),
			[]string{"boost-lift cap mesh-solve temperature"}},
	} {
		outcome := Passed
		if c.want != nil {
			outcome = Failed
		}
		wantReasons(t, c.name, between(t, capped, profiles{old}, profiles{old, c.now}), outcome, c.want...)
	}
	over := between(t, capped, profiles{old}, profiles{old, with(tiles("B", 402), heat("B", 93))}).Reasons[0]
	if over.Rows.Len() != 3 || over.Worst != 93*1.0025 || *over.Metric.Cap != 93 {
		t.Errorf("%d rows, worst %v", over.Rows.Len(), over.Worst)
	}
	// The old runs are not asked again, but one that counts again is.
	hot := tuned(factory, "auto", tiles("F", 412), heat("F", 96))
	g := between(t, capped, profiles{hot}, profiles{tuned(factory, "auto", tiles("F", 412), heat("F", 96), tiles("G", 412.3),
		heat("G", 90))})
	wantReasons(t, "old runs beyond a cap", g, Passed)
	once := tuned(factory, "auto", tiles("F", 412), aside("throttled", heat("F", 96)...))
	wantReasons(t, "restored beyond a cap", between(t, capped, profiles{once}, profiles{hot}), Failed, "factory cap tile-render temperature",
		"factory new-without-baseline (undecided)")
}

// A reduced row is beyond a cap where its largest run is.
func TestCapOfReducedRows(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412))
	for largest, want := range map[float64][]string{92.9: nil, 93.1: {"boost-lift cap tile-render temperature"}} {
		row := heat("B", 90)[:1]
		row[0].Reduced = &compare.Reduction{Runs: 3, Mean: 90, Spread: 1, Smallest: 80, Largest: largest}
		g := between(t, capped, profiles{old}, profiles{old, tuned(boost, raised, tiles("B", 402), row).from(factory)})
		if want == nil {
			wantReasons(t, "below", g, Passed)
			continue
		}
		wantReasons(t, "beyond", g, Failed, want...)
		if over := g.Reasons[0]; over.Worst != largest || over.Rows.Len() != 1 {
			t.Errorf("the worst is %v in %d rows, want %v in 1", over.Worst, over.Rows.Len(), largest)
		}
	}
}

// A column that is headed like a capped metric is held to its cap, also where no column of
// its benchmark stands beside it, so that it is a benchmark of its own.
func TestCapOfAColumnOfItsOwn(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412))
	for header, want := range map[string]Outcome{"temperature": Failed, "rendering Temperature": Failed, "tile-render temperature": Failed,
		"temperatures": Passed, "temperature of the room": Passed} {
		rows := heat("B", 97)
		for i := range rows {
			rows[i].Benchmark, rows[i].Metric = header, ""
		}
		g := between(t, capped, profiles{old}, profiles{old, tuned(boost, raised, tiles("B", 402), rows).from(factory)})
		if g.Outcome != want || want == Failed && (g.Reasons[0].Kind != ReasonCap || g.Reasons[0].About() != header) {
			t.Errorf("%s: %s, want %s; %q", header, g.Outcome, want, reasons(g))
		}
		if want == Failed {
			cool := at("profiles/factory/runs/C.csv", heat("F", 78)...)
			for i := range cool {
				cool[i].Benchmark, cool[i].Metric = header, ""
			}
			g = between(t, capped, profiles{tuned(factory, "auto", tiles("F", 412), cool)}, profiles{tuned(factory, "up", tiles("B", 402))})
			wantReasons(t, "left out", g, Undecided, "factory not-measured (undecided)")
		}
		for i := range rows {
			rows[i].Unit = "s"
		}
		g = between(t, capped, profiles{old}, profiles{old, tuned(boost, raised, tiles("B", 402), rows).from(factory)})
		wantReasons(t, "a benchmark of that name", g, Passed)
	}
}

// What nobody can measure any more the policy takes out by role = "info", a capped metric
// as well.
func TestInfoNeedNotBeMeasured(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268), heat("F", 78))
	now := tuned(factory, "up", tiles("B", 402))
	policy := capped
	wantReasons(t, "before", between(t, policy, profiles{old}, profiles{now}), Undecided, "factory not-measured (undecided)")
	policy.Entries = append(slices.Clone(policy.Entries), compare.Entry{Benchmark: "mesh-solve", Role: compare.Info},
		compare.Entry{Benchmark: "tile-render", Metric: "temperature", Role: compare.Info})
	wantReasons(t, "taken out", between(t, policy, profiles{old}, profiles{now}), Passed)
}

// A reduced row that does not say how high its runs went cannot pass a cap.
func TestCapOfReducedRowsWithoutLargest(t *testing.T) {
	old, row := tuned(factory, "auto", tiles("F", 412)), heat("B", 90)[:1]
	row[0].Reduced = &compare.Reduction{Runs: 3, Mean: 90, Smallest: 90, Largest: 90, NoLargest: true}
	row[0].At.Line = 7
	base := repository("main", &capped, old)
	_, err := Judge(base, repository("head", &capped, old, tuned(boost, raised, tiles("B", 402), row).from(factory)), compare.Options{})
	var placed *compare.PlacedError
	if !errors.As(err, &placed) || !strings.HasSuffix(err.Error(), "write the largest of them into the column largest") {
		t.Errorf("the error is %v", err)
	}
	if _, err := Judge(base, repository("head", &compare.Policy{}, old, tuned(boost, raised, tiles("B", 402), row).from(factory)),
		compare.Options{}); err == nil {
		t.Error("the head's policy lifts the cap")
	}
	row[0].SetAside, row[0].Reason = true, "fan"
	if _, err := Judge(base, repository("head", &capped, old, tuned(boost, raised, tiles("B", 402), row).from(factory)),
		compare.Options{}); err != nil {
		t.Errorf("set aside: %v", err)
	}
}

// A unit that contradicts the policy cannot carry a metric past its cap, also
// where there is nothing to compare it with.
func TestCapInAnotherUnit(t *testing.T) {
	policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "*"}, {Benchmark: "*", Metric: "temperature", Unit: "°C", Cap: ptr(93.0)}}}
	fahrenheit := heat("B", 210)
	for i := range fahrenheit {
		fahrenheit[i].Unit = "°F"
	}
	base, head := repository("main", &policy), repository("head", &policy, tuned(boost, raised, tiles("B", 402), fahrenheit))
	g, err := Judge(base, head, compare.Options{})
	var placed *compare.PlacedError
	if !errors.As(err, &placed) || placed.At.File != "profiles/boost-lift/runs/B.csv" ||
		!strings.Contains(err.Error(), `"°F", but the policy says "°C"`) {
		t.Errorf("%+v, %v", g, err)
	}
}

// The runs under judgement cannot say that a time is better high, or that a
// score is a cost.
func TestNewRunsCannotTurnAMetricAround(t *testing.T) {
	stated := func(values []compare.Value, unit string, better compare.Better) []compare.Value {
		for i := range values {
			values[i].Unit, values[i].Better = unit, better
		}
		return values
	}
	seconds := tuned(factory, "auto", tiles("F", 412))
	bare := tuned(factory, "auto", stated(tiles("F", 412), "", compare.Lower))
	for _, c := range []struct {
		name string
		old  *Profile
		now  []compare.Value
		want string // in the error; empty for a gate that fails on the loss
	}{
		{"direction", seconds, stated(tiles("B", 424), "s", compare.Higher),
			"tile-render is a score here, higher is better, on a ratio scale; in factory it is a score, lower is better"},
		{"a cost", bare, stated(tiles("B", 424), "W", ""), "tile-render is a cost here"},
		{"an info", bare, stated(tiles("B", 424), "MHz", ""), "tile-render is a info here"},
		{"a scale", bare, stated(tiles("B", 424), "°C", ""), "tile-render is a cost here, lower is better, on an interval scale"},
		{"the same, said", seconds, stated(tiles("B", 424), "s", compare.Lower), ""},
		{"the same, with a unit", bare, stated(tiles("B", 424), "s", ""), ""},
		{"the same, without", seconds, stated(tiles("B", 424), "", ""), ""},
	} {
		old := repository("main", &compare.Policy{}, c.old)
		g, err := Judge(old, repository("head", &compare.Policy{}, c.old, tuned(boost, raised, c.now).from(factory)),
			compare.Options{Resamples: 1000})
		var placed *compare.PlacedError
		switch {
		case c.want == "" && (err != nil || g.Outcome != Failed):
			t.Errorf("%s: %v, %+v", c.name, err, g)
		case c.want != "" && (!errors.As(err, &placed) || !strings.Contains(err.Error(), c.want) || placed.At.Line != 2):
			t.Errorf("%s: %v\nwant %s", c.name, err, c.want)
		}
		// A policy that says what the metric is settles it.
		policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Better: compare.Lower, Role: compare.Score, Scale: compare.Ratio}}}
		g, err = Judge(repository("main", &policy, c.old), repository("head", &policy, c.old, tuned(boost, raised, c.now).from(factory)),
			compare.Options{Resamples: 1000})
		if err != nil || g.Outcome != Failed {
			t.Errorf("%s, with the policy's word: %v, %+v", c.name, err, g)
		}
	}
}

func TestRequired(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268), comparetest.SixSessions("mesh-bend", "s", "F", 70),
		heat("F", 80))
	all := [][]compare.Value{tiles("B", 402), meshes("B", 262), comparetest.SixSessions("mesh-bend", "s", "B", 69)}
	only := func(n ...int) *Profile {
		var values [][]compare.Value
		for _, i := range n {
			values = append(values, all[i])
		}
		return tuned(boost, raised, values...).from(factory)
	}
	exact := []compare.Entry{{Benchmark: "*"}, {Benchmark: "mesh-solve", Required: ptr(true)}}
	glob := []compare.Entry{{Benchmark: "*"}, {Benchmark: "mesh-*", Required: ptr(true)}}
	never := []compare.Entry{{Benchmark: "*"}, {Benchmark: "scene-scrub", Required: ptr(true)}}
	other := []compare.Entry{{Benchmark: "*"}, {Benchmark: "tile-render", Metric: "temperature", Required: ptr(true)}}
	for _, c := range []struct {
		name    string
		entries []compare.Entry
		now     *Profile
		missing []string
	}{
		{"exact, there", exact, only(0, 1, 2), nil},
		{"exact, missing", exact, only(0, 2), []string{"mesh-solve"}},
		{"exact, set aside", exact, tuned(boost, raised, all[0], aside("crashed", all[1]...)).from(factory), []string{"mesh-solve"}},
		{"exact, not run yet", exact, tuned(boost, raised, all[0], []compare.Value{empty(all[1][0])}).from(factory), []string{"mesh-solve"}},
		{"glob, there", glob, only(0, 1, 2), nil},
		{"glob, one missing", glob, only(0, 1), []string{"mesh-bend"}},
		{"glob, both missing", glob, only(0), []string{"mesh-solve", "mesh-bend"}},
		{"exact, that nobody has", never, only(0, 1, 2), []string{"scene-scrub"}},
		{"a metric", other, only(0), []string{"tile-render temperature"}},
	} {
		g := between(t, compare.Policy{Entries: c.entries, SetAsideAllowed: 9}, profiles{old}, profiles{old, c.now})
		if c.missing == nil {
			wantReasons(t, c.name, g, Passed)
			continue
		}
		if g.Outcome != Failed || g.Reasons[0].Kind != ReasonRequired {
			t.Errorf("%s: %s, %q", c.name, g.Outcome, reasons(g))
		}
		if d := cmp.Diff(c.missing, g.Reasons[0].Names); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
	}
}

func TestFewestRunsAndSessions(t *testing.T) {
	threeRuns := func(letter string, level float64, sessions int) []compare.Value { // 3 runs in each
		var out []compare.Value
		for i := range sessions {
			for k := range 3 {
				out = append(out, compare.Value{Benchmark: "tile-render", Unit: "s", Session: fmt.Sprint(letter, i+1),
					Value: level + float64(i) + 0.1*float64(k)})
			}
		}
		return out
	}
	watts := comparetest.Metric("power", comparetest.SixSessions("tile-render", "W", "B", 200))[:1]
	old := tuned(factory, "auto", threeRuns("F", 412, 6), comparetest.Metric("power", comparetest.SixSessions("tile-render", "W", "F", 187)))
	for _, c := range []struct {
		name           string
		runs, sessions int
		now            *Profile
		want           []string // "6 run now, 18"
	}{
		{"no demand", 0, 0, tuned(boost, raised, threeRuns("B", 390, 1)), nil},
		{"enough", 18, 6, tuned(boost, raised, threeRuns("B", 390, 6)), nil},
		{"runs", 18, 0, tuned(boost, raised, threeRuns("B", 390, 5)), []string{"15 run now, 18"}},
		{"sessions", 0, 6, tuned(boost, raised, threeRuns("B", 390, 5)), []string{"5 session now, 6"}},
		{"both sides", 0, 7, tuned(boost, raised, threeRuns("B", 390, 5)), []string{"6 session before, 7", "5 session now, 7"}},
		{"sessions not recorded", 0, 2, tuned(boost, raised, comparetest.Numbers("s", 390, 391, 392, 393)), []string{"0 session now, 2"}},
		{"costs are not asked", 6, 6, tuned(boost, raised, threeRuns("B", 390, 6), watts), nil},
		{"set aside do not count", 6, 0, tuned(boost, raised, threeRuns("B", 390, 2)[:5], aside("crashed", threeRuns("Z", 390, 1)[:1]...)),
			[]string{"5 run now, 6"}},
	} {
		policy := compare.Policy{FewestRuns: c.runs, FewestSessions: c.sessions, SetAsideAllowed: 1}
		g := between(t, policy, profiles{old}, profiles{old, c.now.from(factory)})
		var got []string
		for _, r := range g.Reasons {
			if r.Kind == ReasonFewRuns {
				got = append(got, fmt.Sprintf("%d %s %s, %d", r.Count, r.What, r.When, r.Limit))
			}
		}
		if d := cmp.Diff(c.want, got); d != "" || (g.Outcome == Failed) != (c.want != nil) {
			t.Errorf("%s: %s (-want +got)\n%s", c.name, g.Outcome, d)
		}
	}
}

// What is set aside is counted by runs, not by rows: the metrics of one run
// are one, and so is a row of a wide file.
func TestSetAsideAllowed(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	fine := [][]compare.Value{tiles("B", 402), meshes("B", 262)}
	place := func(line int, v compare.Value) compare.Value {
		v.At = compare.Place{File: "profiles/boost-lift/runs/crashed.csv", Line: line, Column: 1}
		return v
	}
	run := func(label string, v compare.Value) compare.Value { v.Run = label; return v }
	tile, mesh := tiles("Z", 500)[0], meshes("Z", 300)[0]
	power := comparetest.Metric("power", comparetest.SixSessions("tile-render", "W", "Z", 90))[0]
	another := tile
	another.Session = "Y1"
	for _, c := range []struct {
		name  string
		rows  []compare.Value
		count int
	}{
		{"none", nil, 0},
		{"one", aside("crashed", place(2, tile)), 1},
		{"two sessions", aside("crashed", place(2, tile), place(3, another)), 2},
		{"two metrics of one run", aside("crashed", place(2, tile), place(3, power)), 1},
		{"the same with labels", aside("crashed", place(2, run("1", tile)), place(9, run("1", power))), 1},
		{"two runs with labels", aside("crashed", place(2, run("1", tile)), place(9, run("2", tile))), 2},
		{"one marked, its other metric not", append(aside("crashed", place(2, tile)), place(3, power)), 1},
		{"two benchmarks, long", aside("crashed", place(2, tile), place(3, mesh)), 2},
		{"two benchmarks in one wide row", aside("crashed", place(2, tile), place(2, mesh), place(2, power)), 1},
		{"two wide rows", aside("crashed", place(2, tile), place(2, mesh), place(3, another),
			place(3, comparetest.Named("mesh-solve", []compare.Value{another})[0])), 2},
	} {
		for allowed := max(0, c.count-1); allowed <= c.count; allowed++ {
			policy := compare.Policy{SetAsideAllowed: allowed,
				Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(0.0)}}} // which is quicker to plan for
			g := between(t, policy, profiles{old}, profiles{old, tuned(boost, raised, append(fine, c.rows)...).from(factory)})
			if c.count <= allowed {
				wantReasons(t, c.name, g, Passed)
				continue
			}
			wantReasons(t, fmt.Sprintf("%s, %d allowed", c.name, allowed), g, Failed, "boost-lift set-aside")
			if r := g.Reasons[0]; r.Count != c.count || r.Limit != allowed || r.Names[0] != "crashed" || len(r.Names) != 1 {
				t.Errorf("%s: %d of %d, %q", c.name, r.Count, r.Limit, r.Names)
			}
		}
	}
}
