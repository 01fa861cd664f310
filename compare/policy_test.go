package compare_test

import (
	"errors"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// resolved is a policy of the given entries, asked for one metric in seconds.
func resolved(t *testing.T, benchmark, metric, unit string, better compare.Better, entries ...compare.Entry) compare.Metric {
	t.Helper()
	m, err := compare.Policy{Entries: entries}.Resolve(benchmark, metric, unit, better)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// For each field on its own, the most specific entry that states it wins.
func TestMostSpecificEntryWins(t *testing.T) {
	entries := []compare.Entry{
		{Benchmark: "*", Metric: "*", Role: compare.Info, Weight: pointer(9), Tolerance: pointer(9), From: "p:1"},
		{Benchmark: "tile-*", Metric: "*", Role: compare.Cost, Weight: pointer(3), From: "p:2"},
		{Benchmark: "tile-render", Metric: "score", Role: compare.Score, From: "p:3"},
		{Benchmark: "tile-*", Metric: "score", Better: compare.Higher, From: "p:4"},
		{Benchmark: "*", Metric: "score", Better: compare.Lower, Scale: compare.Interval, From: "p:5"},
	}
	m := resolved(t, "tile-render", "score", "", "", entries...)
	want := compare.Metric{Benchmark: "tile-render", Metric: "score", Better: compare.Higher, Scale: compare.Interval, Role: compare.Score,
		Tolerance: pointer(9), ToleranceFrom: "p:1", Weight: 3, Named: true,
		Sources: map[string]string{"unit": "the data", "better": "p:4", "scale": "p:5", "role": "p:3", "tolerance": "p:1", "weight": "p:2"}}
	if d := cmp.Diff(want, m); d != "" {
		t.Error(d)
	}
	// Whatever the order in which they stand.
	for i := range entries {
		turned := append(append([]compare.Entry(nil), entries[i:]...), entries[:i]...)
		if d := cmp.Diff(want, resolved(t, "tile-render", "score", "", "", turned...)); d != "" {
			t.Errorf("entries from number %d on: %s", i+1, d)
		}
	}
}

func TestSpecificity(t *testing.T) {
	// Each is more specific than the next, for the power of tile-render.
	ordered := []compare.Entry{
		{Benchmark: "tile-render", Metric: "power"},
		{Benchmark: "tile-render", Metric: "pow*"},
		{Benchmark: "tile-render", Metric: "p*"},
		{Benchmark: "tile-render", Metric: "*"},
		{Benchmark: "tile-rende?", Metric: "power"},
		{Benchmark: "tile-*", Metric: "power"},
		{Benchmark: "tile-*", Metric: "p*"},
		{Benchmark: "t*", Metric: "power"},
		{Benchmark: "*", Metric: "power"},
		{Benchmark: "", Metric: "*"},
	}
	for i := range ordered {
		for j := i + 1; j < len(ordered); j++ {
			for _, pair := range [][2]int{{i, j}, {j, i}} {
				a, b := ordered[pair[0]], ordered[pair[1]]
				a.Weight, b.Weight = pointer(float64(pair[0]+1)), pointer(float64(pair[1]+1))
				if got := resolved(t, "tile-render", "power", "W", "", a, b).Weight; got != float64(i+1) {
					t.Errorf("%q %q against %q %q: entry %v wins", ordered[i].Benchmark, ordered[i].Metric,
						ordered[j].Benchmark, ordered[j].Metric, got)
				}
			}
		}
	}
	a, b := compare.Entry{Benchmark: "tile-*", Weight: pointer(1)}, compare.Entry{Benchmark: "tile-*", Weight: pointer(2)}
	if got := resolved(t, "tile-render", "score", "s", "", a, b).Weight; got != 2 {
		t.Errorf("of equals the later one wins, not %v", got)
	}
}

func TestEntryMatches(t *testing.T) {
	for _, c := range []struct {
		entry             compare.Entry
		benchmark, metric string
		want              bool
	}{
		{compare.Entry{}, "anything", "score", true},
		{compare.Entry{}, "anything", "power", false}, // an empty metric means the score
		{compare.Entry{Metric: "*"}, "anything", "power", true},
		{compare.Entry{Benchmark: "tile-render"}, "tile-render", "score", true},
		{compare.Entry{Benchmark: "tile-render"}, "tile-render-2", "score", false},
		{compare.Entry{Benchmark: "tile-?"}, "tile-1", "score", true},
		{compare.Entry{Benchmark: "tile-[ab]"}, "tile-a", "score", true},
		{compare.Entry{Benchmark: "Tile-render"}, "tile-render", "score", true},
		// A name is not a path: a wildcard stands for any character.
		{compare.Entry{}, "archive-pack/fast", "score", true},
		{compare.Entry{Benchmark: "archive-*"}, "archive-pack/fast", "score", true},
		{compare.Entry{Benchmark: "archive-pack?fast"}, "archive-pack/fast", "score", true},
		{compare.Entry{Benchmark: "archive-pack/*"}, "archive-pack/fast", "score", true},
		{compare.Entry{Benchmark: "archive-pack/*"}, "archive-pack", "score", false},
		{compare.Entry{Metric: "*"}, "tile-render", "J/frame", true},
	} {
		m, err := compare.Policy{Entries: []compare.Entry{c.entry}}.Resolve(c.benchmark, c.metric, "", compare.Higher)
		if got := m.Named; got != c.want || err != nil {
			t.Errorf("%q %q for %q %q: %v, %v", c.entry.Benchmark, c.entry.Metric, c.benchmark, c.metric, got, err)
		}
	}
	for _, bad := range []string{"[", "tile-[a", `tile-\`} {
		if compare.ValidGlob(bad) == nil {
			t.Errorf("%q passes for a pattern", bad)
		}
	}
	for _, good := range []string{"", "*", "tile-[ab]*", "archive-pack/fast"} {
		if err := compare.ValidGlob(good); err != nil {
			t.Error(err)
		}
	}
}

// The unit says most, the data may say more, the policy has the last word.
func TestWhoSaysWhat(t *testing.T) {
	for _, c := range []struct {
		name       string
		unit       string
		better     compare.Better
		entries    []compare.Entry
		wantBetter compare.Better
		wantRole   compare.Role
		wantUnit   string
		named      bool
	}{
		{"unit alone", "s", "", nil, compare.Lower, compare.Score, "s", true},
		{"data against the unit", "s", compare.Higher, nil, compare.Higher, compare.Score, "s", true},
		{"policy against both", "s", compare.Higher, []compare.Entry{{Better: compare.Lower}}, compare.Lower, compare.Score, "s", true},
		{"policy names the unit", "", "", []compare.Entry{{Unit: "fps"}}, compare.Higher, compare.Score, "fps", true},
		{"policy makes power a score", "W", "", []compare.Entry{{Role: compare.Score}}, compare.Lower, compare.Score, "W", true},
		{"policy makes speed a cost", "s", "", []compare.Entry{{Role: compare.Cost}}, compare.Lower, compare.Cost, "s", true},
		{"policy names other metrics", "s", "", []compare.Entry{{Benchmark: "mesh-solve"}}, compare.Lower, compare.Score, "s", false},
	} {
		m := resolved(t, "tile-render", "score", c.unit, c.better, c.entries...)
		if m.Better != c.wantBetter || m.Role != c.wantRole || m.Unit != c.wantUnit || m.Named != c.named {
			t.Errorf("%s: %+v", c.name, m)
		}
	}
}

func TestUnitConflictWithPolicy(t *testing.T) {
	p := compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render", Unit: "ms", From: "tunegate.toml:4:3"}}}
	_, err := p.Resolve("tile-render", "score", "s", "")
	want := `tile-render is measured in "s", but the policy says "ms" (tunegate.toml:4:3)`
	if err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	if _, err := p.Resolve("tile-render", "score", "", ""); err != nil {
		t.Errorf("data without a unit take the policy's: %v", err)
	}
}

func TestMissingDirection(t *testing.T) {
	for _, c := range []struct{ unit, want string }{
		{"", "tile-render memory has no unit"},
		{"MB", "tile-render memory is in \"MB\", which does not say whether more is better"},
	} {
		_, err := compare.Policy{}.Resolve("tile-render", "memory", c.unit, "")
		if err == nil || err.Error() != c.want {
			t.Errorf("%v, want %s", err, c.want)
		}
		var open *compare.NoDirectionError
		if at := compare.ErrorAt(compare.Place{File: "runs.csv", Line: 2}, "%w", err); !errors.As(at, &open) ||
			open.Metric.Name() != "tile-render memory" {
			t.Errorf("%v is no *NoDirectionError", at)
		}
		cost := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Metric: "*", Role: compare.Cost}}}
		if _, err := cost.Resolve("tile-render", "memory", c.unit, ""); err == nil {
			t.Error("a cost needs a direction too")
		}
		info := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Metric: "*", Role: compare.Info}}}
		if _, err := info.Resolve("tile-render", "memory", c.unit, ""); err != nil {
			t.Errorf("what is never judged needs no direction: %v", err)
		}
	}
}

func TestTolerances(t *testing.T) {
	stated := func(v float64) []compare.Entry {
		return []compare.Entry{{Metric: "*", Tolerance: &v, From: "tunegate.toml:7"}}
	}
	for _, c := range []struct {
		name      string
		unit      string
		entries   []compare.Entry
		overrides []compare.Override
		want      *float64
		from      string
	}{
		{"default of a ratio scale", "s", nil, nil, pointer(0.005), "default"},
		{"default of an interval scale", "s", []compare.Entry{{Scale: compare.Interval}}, nil, pointer(1), "default"},
		{"a cost has none", "W", nil, nil, nil, ""},
		{"nor has heat", "°C", nil, nil, nil, ""},
		{"nor has a clock", "MHz", nil, nil, nil, ""},
		{"stated in per cent", "s", stated(2), nil, pointer(0.02), "tunegate.toml:7"},
		{"stated as zero", "s", stated(0), nil, pointer(0), "tunegate.toml:7"},
		{"stated for a cost", "W", stated(5), nil, pointer(0.05), "tunegate.toml:7"},
		{"stated in degrees", "°C", stated(3), nil, pointer(3), "tunegate.toml:7"},
		{"for all scores", "s", nil, []compare.Override{{"", 1}}, pointer(0.01), "the caller"},
		{"for all scores, interval scale", "s", []compare.Entry{{Scale: compare.Interval}}, []compare.Override{{"", 2}}, pointer(2),
			"the caller"},
		{"for all scores is not for costs", "W", nil, []compare.Override{{"", 1}}, nil, ""},
		{"over the policy", "s", stated(2), []compare.Override{{"", 1}}, pointer(0.01), "the caller"},
		{"by name", "W", nil, []compare.Override{{"tile-render", 4}}, pointer(0.04), "the caller"},
		{"by pattern", "s", nil, []compare.Override{{"tile-*", 4}}, pointer(0.04), "the caller"},
		{"by pattern is for scores", "°C", nil, []compare.Override{{"tile-*", 4}}, nil, ""},
		{"for another", "s", nil, []compare.Override{{"mesh-solve", 4}}, pointer(0.005), "default"},
		{"the last that applies wins", "s", nil, []compare.Override{{"tile-render", 4}, {"", 1}}, pointer(0.01), "the caller"},
		{"the last that applies wins, turned", "s", nil, []compare.Override{{"", 1}, {"tile-render", 4}}, pointer(0.04), "the caller"},
	} {
		p := compare.Policy{Entries: c.entries, Overrides: c.overrides, OverridesFrom: "the caller"}
		m, err := p.Resolve("tile-render", "score", c.unit, "")
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if d := cmp.Diff(c.want, m.Tolerance); d != "" || m.ToleranceFrom != c.from {
			t.Errorf("%s: from %q: %s", c.name, m.ToleranceFrom, d)
		}
	}
	unnamed := compare.Policy{Overrides: []compare.Override{{Tolerance: 1}}}
	if m, err := unnamed.Resolve("tile-render", "score", "s", ""); err != nil || m.ToleranceFrom != compare.FromCall {
		t.Errorf("a caller without a word of its own: from %q, %v", m.ToleranceFrom, err)
	}
	// A name of a benchmark and a metric reaches that metric only.
	p := compare.Policy{Overrides: []compare.Override{{"tile-render power", 4}}}
	if m, _ := p.Resolve("tile-render", "power", "W", ""); m.Tolerance == nil || *m.Tolerance != 0.04 {
		t.Errorf("tile-render power: %v", m.Tolerance)
	}
	if m, _ := p.Resolve("tile-render", "score", "s", ""); *m.Tolerance != 0.005 {
		t.Errorf("tile-render: %v", *m.Tolerance)
	}
	for _, c := range []struct {
		name, benchmark, metric string
		applies                 bool
	}{
		{"tile-*", "tile-render", "power", false},
		{"*", "tile-render", "power", false},
		{"tile-*r", "tile-render", "power", false}, // the r is that of power
		{"* power", "tile-render", "power", true},
		{"tile-* p*", "tile-render", "power", true},
		{"tile-render *", "tile-render", "power", true},
		{"tile *", "tile render", "power", false},
		{"tile r* power", "tile render", "power", true},
		{"* power", "tile-render", "temperature", false},
		{"tile-render", "tile-render", "power", false},
	} {
		m, err := (compare.Policy{Overrides: []compare.Override{{c.name, 4}}}).Resolve(c.benchmark, c.metric, "W", "")
		if err != nil || (m.Tolerance != nil) != c.applies {
			t.Errorf("%q for %s: tolerance %v, %v", c.name, m.Name(), m.Tolerance, err)
		}
	}
	if m, _ := (compare.Policy{Overrides: []compare.Override{{"*/fast", 4}}}).Resolve("archive-pack/fast", "score", "s",
		""); *m.Tolerance != 0.04 {
		t.Errorf("a pattern for archive-pack/fast: %v", *m.Tolerance)
	}
	_, err := compare.Policy{Overrides: []compare.Override{{"", 100}}}.Resolve("tile-render", "score", "s", "")
	if want := "a tolerance of 100 % or more for tile-render would accept everything; expected per cent, such as 0.5"; err == nil ||
		err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	if _, err := (compare.Policy{Entries: []compare.Entry{{Scale: compare.Interval, Tolerance: pointer(150)}}}).Resolve("tile-render", "score",
		"s", ""); err != nil {
		t.Errorf("150 units are no 150 %%: %v", err)
	}
}

// A score that the policy names and the data lack stays in the family, so that
// leaving a benchmark out gains nothing.
func TestAbsentScoresStayInTheFamily(t *testing.T) {
	p := compare.Policy{Entries: []compare.Entry{
		{Benchmark: "tile-render"}, {Benchmark: "mesh-solve"}, {Benchmark: "shader-build"},
		{Benchmark: "shader-build", Tolerance: pointer(1)}, // named twice, counts once
		{Benchmark: "archive-*"},                           // a pattern may match nothing
		{Benchmark: "tile-render", Metric: "power", Unit: "W"},
		{Benchmark: "ray-preview", Metric: "clock", Unit: "MHz"},
		{Benchmark: "scene-scrub", Role: compare.Info},
	}}
	before := slices.Concat(comparetest.Numbers("s", 10.1, 10.2, 10.3, 10.4, 10.5),
		comparetest.Named("mesh-solve", comparetest.Numbers("s", 5, 5.1, 5.2, 5.3, 5.4)))
	after := comparetest.Numbers("s", 9.1, 9.2, 9.3, 9.4, 9.5)
	c := comparetest.Judged(t, before, after, p, compare.Options{})
	if d := cmp.Diff([]string{"mesh-solve", "shader-build"}, c.Absent); d != "" {
		t.Error(d)
	}
	if c.Family != (compare.Family{Scores: 1}) {
		t.Errorf("family of %v, want one score: what is not measured takes no share", c.Family)
	}
	r := comparetest.Only(t, c)
	// p of 5 and 5 separated runs is 2/252.
	if !comparetest.Near(r.PUsed, 2.0/252, 1e-12) || !comparetest.Near(r.PAdjusted, 2.0/252, 1e-12) {
		t.Errorf("p %v, adjusted %v", r.PUsed, r.PAdjusted)
	}
	if n := comparetest.NoteOf(c.Notes, compare.NoteAbsent); !slices.Equal(n.Names, c.Absent) {
		t.Errorf("note: %+v", n)
	}
	// Leaving a score out on purpose takes it off the list.
	left := comparetest.Judged(t, before, after, p,
		compare.Options{Wanted: func(id compare.MetricID) bool { return id.Benchmark != "mesh-solve" }})
	if d := cmp.Diff([]string{"shader-build"}, left.Absent); d != "" {
		t.Error(d)
	}
}

// What a policy does not name is shown, but neither corrected for nor able to
// fail the program.
func TestUnnamedIsNotJudgedForTheGate(t *testing.T) {
	p := compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render"}}}
	before := comparetest.Numbers("s", 10.1, 10.2, 10.3, 10.4, 10.5)
	slower := comparetest.Numbers("s", 11.1, 11.2, 11.3, 11.4, 11.5)
	c := comparetest.Judged(t, slices.Concat(before, comparetest.Named("mesh-solve", before)),
		slices.Concat(before, comparetest.Named("mesh-solve", slower)), p, compare.Options{})
	r := c.Results[1]
	if r.Named || r.Decides || len(c.Failures()) != 0 || c.Family.Members() != 1 {
		t.Errorf("named %v, decides %v, %d regressions, family of %v", r.Named, r.Decides, len(c.Failures()), c.Family)
	}
	if r.PAdjusted != r.PUsed || comparetest.VerdictOf(r) != compare.Regression {
		t.Errorf("adjusted %v of %v, %s", r.PAdjusted, r.PUsed, comparetest.VerdictOf(r))
	}
	if n := comparetest.NoteOf(c.Notes, compare.NoteNotInPolicy); !slices.Equal(n.Names, []string{"mesh-solve"}) {
		t.Errorf("note %+v", n)
	}
}

// Patterns and names of a policy match whatever their spelling, as names do.
func TestPatternsMatchAsNamesDo(t *testing.T) {
	for _, c := range []struct {
		pattern, name string
		want          bool
	}{
		{"Tile-*", "tile-render", true}, {"tile-render", "Tile-Render", true}, {"*-GRÖSSE", "bild-größe", true},
		{"a\u030A*", "\u212Bngström", true}, {"[A-C]x", "bX", true}, {"tile-*", "mesh-solve", false}, {"a/*", "A/b", true}, {"*", "a/b", true},
	} {
		if got := compare.NameMatches(c.pattern, c.name); got != c.want {
			t.Errorf("%q matches %q: %v", c.pattern, c.name, got)
		}
	}
	policy := compare.Policy{Overrides: []compare.Override{{Name: "Tile-Render Power", Tolerance: 2}}}
	m, err := policy.Resolve("tile-render", "power", "W", "")
	if err != nil || m.Tolerance == nil {
		t.Errorf("the tolerance of Tile-Render Power is none of tile-render power: %+v, %v", m, err)
	}
}
