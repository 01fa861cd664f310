package gate

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

func TestNothingToJudge(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	reordered := tuned(factory, "auto", meshes("F", 268), tiles("F", 412))
	other := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	other.Baseline = "cool-curve" // free, as notes are
	for name, head := range map[string]*Profile{"the same": old, "rows in another order and place": reordered, "another baseline": other} {
		g := between(t, compare.Policy{}, profiles{old}, profiles{head})
		wantReasons(t, name, g, Passed)
		if len(g.Judged) != 0 || g.Unchanged != 1 || len(g.Notes) != 0 {
			t.Errorf("%s: %d judged, %d unchanged, notes %q", name, len(g.Judged), g.Unchanged, noteTexts(g.Notes))
		}
	}
	warmer := tuned(factory, "auto", tiles("F", 412), meshes("F", 268)).under(map[string]string{"machine": "heron", "room": "27 °C"})
	g := between(t, compare.Policy{}, profiles{old}, profiles{warmer})
	wantReasons(t, "conditions only", g, Passed)
	if g.Unchanged != 1 || noteTexts(g.Notes) != "conditions-only room: -, 27 °C" {
		t.Errorf("conditions only: notes %q", noteTexts(g.Notes))
	}
	g = between(t, compare.Policy{}, profiles{old, tuned("cool-curve", lowered), tuned("boost-lift", raised)}, profiles{old})
	if d := cmp.Diff([]string{"boost-lift", "cool-curve"}, g.Removed); d != "" || g.Outcome != Passed || g.Unchanged != 1 {
		t.Errorf("removed: %v, %s, %d unchanged", g.Removed, g.Outcome, g.Unchanged)
	}
}

// Settings changed: runs at base against runs now.
func TestSettingsChanged(t *testing.T) {
	old := tuned("cool-curve", lowered, tiles("C", 409))
	for _, c := range []struct {
		name    string
		now     *Profile
		outcome Outcome
		want    []string
	}{
		{"faster", tuned("cool-curve", lower, tiles("D", 400)), Passed, nil},
		{"slower", tuned("cool-curve", lower, tiles("D", 420)), Failed, []string{"cool-curve regression tile-render"}},
		{"no new runs", tuned("cool-curve", lower), Failed, []string{"cool-curve no-runs"}},
		{"old runs still there", tuned("cool-curve", lower, tiles("C", 409), tiles("D", 400)), Failed, []string{"cool-curve stale-runs"}},
		{"one of them", tuned("cool-curve", lower, tiles("C", 409)[2:3], tiles("D", 400)), Failed, []string{"cool-curve stale-runs"}},
		{"only the old runs", tuned("cool-curve", lower, tiles("C", 409)), Failed, []string{"cool-curve stale-runs", "cool-curve no-runs"}},
		{"old runs there, set aside now", tuned("cool-curve", lower, aside("old settings", tiles("C", 409)...), tiles("D", 400)), Failed,
			[]string{"cool-curve stale-runs"}},
		{"another benchmark only", tuned("cool-curve", lower, meshes("D", 260)), Failed, []string{"cool-curve no-runs"}},
	} {
		g := between(t, compare.Policy{}, profiles{old}, profiles{c.now})
		wantReasons(t, c.name, g, c.outcome, c.want...)
		j := judgement(t, g)
		d := cmp.Diff([]string{"lift: one notch down, two notches down"}, differ(j.Settings))
		if d != "" || j.Question != AskSettings || j.Against != "" || j.Outcome != c.outcome {
			t.Errorf("%s: %q, %q against %q: %s", c.name, j.Question, differ(j.Settings), j.Against, j.Outcome)
		}
	}
	g := between(t, compare.Policy{}, profiles{old}, profiles{tuned("cool-curve", lower, tiles("C", 409)[:2], tiles("D", 400))})
	if stale := g.Reasons[0]; stale.Rows.Len() != 2 || stale.Rows.At(1).At.String() != "profiles/cool-curve/runs/C.csv:3:2" {
		t.Errorf("stale rows %+v", stale.Rows.List())
	}
	// What is judged is the new runs alone, against all that the base has.
	if r := comparetest.Only(t, judgement(t, g).Comparison); r.Replicates != [2]int{6, 6} || comparetest.VerdictOf(r) != compare.Uplift {
		t.Errorf("%v compared: %s", r.Replicates, comparetest.VerdictOf(r))
	}
	// A setting that appears or vanishes is a change, too.
	bare := tuned("cool-curve", lowered, tiles("D", 400))
	bare.Settings = nil
	j := judgement(t, between(t, compare.Policy{}, profiles{old}, profiles{bare}))
	if j.Question != AskSettings || differ(j.Settings)[0] != "lift: one notch down, -" {
		t.Errorf("%q, %q", j.Question, differ(j.Settings))
	}
}

// After a change of settings a new run may read like an old one by chance. It
// is an old one where labels say so, or where most of the old rows are there.
func TestOldRowOrChance(t *testing.T) {
	coarse := func(letter string, values ...float64) []compare.Value { // whole frames a second
		var out []compare.Value
		for i, v := range values {
			session := ""
			if letter != "" {
				session = fmt.Sprint(letter, i+1)
			}
			out = append(out, compare.Value{Benchmark: "scene-scrub", Unit: "fps", Session: session, Value: v})
		}
		return out
	}
	wide := func(seconds, degrees float64) []compare.Value { // one line, without a label
		return append(comparetest.Numbers("s", seconds), comparetest.Metric("temperature", comparetest.Numbers("°C", degrees))...)
	}
	lines := func(file string, rows ...[]compare.Value) []compare.Value {
		var out []compare.Value
		for i, r := range rows {
			for k, v := range r {
				v.At = compare.Place{File: file, Line: i + 2, Column: k + 1}
				out = append(out, v)
			}
		}
		return out
	}
	noon := func(values []compare.Value) []compare.Value {
		for i := range values {
			values[i].Time = time.Date(2026, 11, 2, 12, i, 0, 0, time.UTC)
		}
		return values
	}
	sixty := []float64{60, 61, 59, 60, 60, 61}
	for _, c := range []struct {
		name        string
		before, now []compare.Value
		stale       int // rows
		warned      bool
		compared    int // runs now
	}{
		{"equal readings under equal labels", coarse("", sixty...), coarse("", 64, 63, 61, 65, 64, 66), 0, true, 6},
		{"sessions numbered anew", coarse("S", sixty...), coarse("S", 64, 61, 66, 65, 64, 66), 0, true, 6},
		{"all old rows are there, unlabelled", coarse("", sixty...), coarse("", append(append([]float64(nil), sixty...), 64, 66, 65)...),
			6, false, 3},
		{"half of them, among others", coarse("S", sixty...), coarse("S", 60, 61, 59, 64, 65, 66), 3, false, 3},
		{"one, but the new ones have labels of their own", coarse("S", sixty...),
			append(coarse("T", 64, 63, 66, 65, 64, 66), coarse("S", sixty...)[2]), 1, false, 6},
		{"one with its time", noon(coarse("", sixty...)), append(noon(coarse("", sixty...))[2:3], coarse("", 64, 66, 65, 63, 65, 66)...),
			1, false, 6},
		{"wide rows that share a coarse reading", lines("a.csv", wide(412, 78), wide(409, 78), wide(415, 79)),
			lines("a.csv", wide(402, 78), wide(399, 79), wide(405, 78)), 0, false, 6},
		{"wide rows that are there as a whole", lines("a.csv", wide(412, 78), wide(409, 78), wide(415, 79)),
			lines("a.csv", wide(402, 78), wide(399, 79), wide(409, 78), wide(415, 79)), 4, false, 4},
	} {
		g := between(t, compare.Policy{}, profiles{tuned(factory, "auto", c.before)}, profiles{tuned(factory, "fixed", c.now)})
		stale := 0
		for _, r := range g.Reasons {
			if r.Kind == ReasonStale {
				stale = r.Rows.Len()
			}
		}
		j := judgement(t, g)
		compared := 0
		for _, r := range j.Comparison.Results {
			compared += r.After.Runs
		}
		if stale != c.stale || hasWarning(j, "reads-as-before") != c.warned || compared != c.compared {
			t.Errorf("%s: %d stale, want %d; %d compared, want %d; warnings %q", c.name, stale, c.stale, compared, c.compared, noteTexts(j.Warnings))
		}
	}
}

// Settings the same, runs added: do they still repeat?
func TestRunsAdded(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	with := func(values ...[]compare.Value) profiles {
		return profiles{tuned(factory, "auto", append([][]compare.Value{tiles("F", 412), meshes("F", 268)}, values...)...)}
	}
	for _, c := range []struct {
		name    string
		now     profiles
		outcome Outcome
		want    []string
	}{
		{"repeat", with(tiles("G", 412.2), meshes("G", 268.1)), Passed, nil},
		{"slower", with(tiles("G", 424), meshes("G", 268.1)), Failed, []string{"factory drift tile-render", "factory drift suite"}},
		{"faster", with(tiles("G", 400), meshes("G", 268.1)), Passed,
			[]string{"factory drift tile-render (passed)", "factory drift suite (passed)"}},
		{"slightly slower", with(tiles("G", 413.9)), Passed, []string{"factory drift tile-render (passed)"}},
		{"a benchmark that there was not", with(comparetest.SixSessions("ray-preview", "fps", "G", 143)), Undecided,
			[]string{"factory new-without-baseline (undecided)"}},
		{"all, and a benchmark that there was not", with(tiles("G", 412.2), meshes("G", 268.1),
			comparetest.SixSessions("ray-preview", "fps", "G", 143)), Passed, nil},
		{"one, and one that may be the other under a new name", with(tiles("G", 412.2), comparetest.Named("mesh-2", meshes("G", 280))),
			Undecided, []string{"factory not-measured (undecided)"}},
		{"one of two", with(tiles("G", 412.2)), Passed, nil},
		{"too few to see a loss", with(tiles("G", 412.2)[:1], meshes("G", 268.1)[:1]), Undecided,
			[]string{"factory no-loss-visible (undecided)"}},
	} {
		policy := compare.Policy{}
		if c.name == "slightly slower" {
			policy.Entries = []compare.Entry{{Benchmark: "*", Tolerance: ptr(2.0)}}
		}
		g := between(t, policy, profiles{old}, c.now)
		wantReasons(t, c.name, g, c.outcome, c.want...)
		if j := judgement(t, g); j.Question != AskRepeat || len(j.Settings) != 0 {
			t.Errorf("%s: %q, settings %q", c.name, j.Question, differ(j.Settings))
		}
	}
}

// Blocks hold both sides of a comparison. Of one profile at two times they are
// sittings, though both begin at B1; between two profiles they stay blocks.
func TestBlocksOfTwoTimes(t *testing.T) {
	in := func(values []compare.Value) []compare.Value {
		for i := range values {
			values[i].Session, values[i].Block = "", fmt.Sprint("B", i+1)
		}
		return values
	}
	old, later := in(tiles("F", 412)), in(tiles("G", 424))
	for i := range later { // as in another month's file
		later[i].At = compare.Place{File: "profiles/factory/runs/later.csv", Line: i + 2, Column: 2}
	}
	g := between(t, compare.Policy{}, profiles{tuned(factory, "auto", old)}, profiles{tuned(factory, "auto", old, later)})
	wantReasons(t, "two times", g, Failed, "factory drift tile-render")
	if r := judgement(t, g).Comparison.Results[0]; r.Replication != compare.BySession || r.Before.Sessions != 6 {
		t.Errorf("two times: judged by %s, %d before", r.Replication, r.Before.Sessions)
	}
	g = between(t, compare.Policy{}, profiles{tuned(factory, "auto", old)},
		profiles{tuned(factory, "auto", old), tuned("boost-lift", "lift", in(tiles("L", 400))).from(factory)})
	if r := judgement(t, g).Comparison.Results[0]; r.Replication != compare.ByBlock {
		t.Errorf("two profiles: judged by %s", r.Replication)
	}
}

// The first runs of a profile that had none, as in a repository that has just
// been started, have nothing to repeat.
func TestFirstRuns(t *testing.T) {
	policy := compare.Policy{FewestRuns: 4, Entries: []compare.Entry{{Benchmark: "*"}, {Benchmark: "mesh-solve", Required: ptr(true)}}}
	none := tuned(factory, "auto")
	crashed := tuned(factory, "auto", aside("crashed", tiles("E", 900)[:1]...))
	g := between(t, policy, profiles{none}, profiles{tuned(factory, "auto", tiles("F", 412), meshes("F", 268))})
	wantReasons(t, "first runs", g, Passed)
	if j := judgement(t, g); j.Comparison != nil || !hasWarning(j, "first-of-its-kind") {
		t.Errorf("comparison %v, warnings %q", j.Comparison, noteTexts(j.Warnings))
	}
	g = between(t, policy, profiles{crashed},
		profiles{tuned(factory, "auto", aside("crashed", tiles("E", 900)[:1]...), tiles("F", 412), meshes("F", 268))})
	wantReasons(t, "first valid runs", g, Passed)
	g = between(t, policy, profiles{none}, profiles{tuned(factory, "auto", tiles("F", 412)[:3])})
	wantReasons(t, "too few", g, Failed, "factory required", "factory too-few-runs tile-render")
}

func TestNewProfile(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	lift := func(level float64) *Profile { return tuned(boost, raised, tiles("B", level), meshes("B", 262)) }
	for _, c := range []struct {
		name    string
		now     *Profile
		outcome Outcome
		want    []string
		against string
	}{
		{"faster than its baseline", lift(402).from(factory), Passed, nil, factory},
		{"slower", lift(424).from(factory), Failed, []string{"boost-lift regression tile-render"}, factory},
		{"no baseline", lift(424), Undecided, []string{"boost-lift new-without-baseline (undecided)"}, ""},
		{"no baseline and no runs", tuned(boost, raised), Passed, nil, ""},
		{"a baseline that is not there", lift(402).from("factroy"), Failed, []string{"boost-lift no-baseline"}, "factroy"},
		{"itself", lift(402).from(boost), Failed, []string{"boost-lift no-baseline"}, boost},
		{"no runs", tuned(boost, raised).from(factory), Failed, []string{"boost-lift no-runs"}, factory},
		{"nothing in common", tuned(boost, raised, comparetest.SixSessions("ray-preview", "fps", "B", 143)).from(factory), Failed,
			[]string{"boost-lift no-runs"}, factory},
	} {
		g := between(t, compare.Policy{}, profiles{old}, profiles{old, c.now})
		wantReasons(t, c.name, g, c.outcome, c.want...)
		if j := judgement(t, g); j.Question != AskNew || j.Against != c.against || j.Outcome != c.outcome || g.Unchanged != 1 {
			t.Errorf("%s: %q against %q: %s", c.name, j.Question, j.Against, j.Outcome)
		}
	}
	j := judgement(t, between(t, compare.Policy{}, profiles{old}, profiles{old, lift(402).from(factory)}))
	if d := cmp.Diff([]string{"lift: auto, two notches"}, differ(j.Settings)); d != "" {
		t.Error(d)
	}
	if j.Comparison.Before != factory || j.Comparison.After != boost {
		t.Errorf("%q against %q", j.Comparison.After, j.Comparison.Before)
	}
	j = judgement(t, between(t, compare.Policy{}, profiles{old}, profiles{old, tuned(boost, raised)}))
	if !hasWarning(j, "names-no-baseline") {
		t.Errorf("no baseline: warnings %q", noteTexts(j.Warnings))
	}
	missing := between(t, compare.Policy{}, profiles{old}, profiles{old, lift(402).from("factroy")}).Reasons[0]
	if d := cmp.Diff([]string{boost, factory}, missing.Names); d != "" || missing.Detail != "factroy" || missing.Rows.At(0).At.Line != 1 {
		t.Errorf("%+v", missing)
	}
	// The baseline's runs are the head's: measured anew in the same request.
	again := tuned(factory, "auto", tiles("F", 412), meshes("F", 268), tiles("G", 412.1), meshes("G", 268.1))
	g := between(t, compare.Policy{}, profiles{old}, profiles{again, lift(402).from(factory)})
	wantReasons(t, "with a baseline measured further", g, Passed)
	if g.Judged[0].Profile != boost || g.Judged[0].Comparison.Results[0].Replicates != [2]int{12, 6} {
		t.Errorf("%+v", g.Judged[0])
	}
}

// Settings the same: a row that is gone fails, one that is set aside does not.
func TestOldRows(t *testing.T) {
	rows := tiles("F", 412)
	old := tuned(factory, "auto", rows)
	changed := append([]compare.Value(nil), rows...)
	changed[2].Value -= 9
	moved := tuned(factory, "auto", at("profiles/factory/runs/other.csv", rows[3:]...), at("profiles/factory/runs/F.csv", rows[:3]...))
	for _, c := range []struct {
		name      string
		base, now *Profile
		want      []string
		warning   string
	}{
		{"removed", old, tuned(factory, "auto", rows[1:]), []string{"factory altered-rows"}, ""},
		{"all removed", old, tuned(factory, "auto"), []string{"factory altered-rows", "factory no-runs"}, ""},
		{"altered", old, tuned(factory, "auto", changed),
			[]string{"factory altered-rows", "factory no-loss-visible tile-render (undecided)"}, ""},
		{"moved to other files", old, moved, nil, ""},
		{"set aside", old, tuned(factory, "auto", aside("fan stuck", rows[0]), rows[1:]), []string{"factory set-aside"},
			"set-aside-since profiles/factory/runs/F.csv:2:2 (fan stuck)"},
		{"all set aside", old, tuned(factory, "auto", aside("fan stuck", rows...)), []string{"factory set-aside", "factory no-runs"},
			"set-aside-since profiles/factory/runs/F.csv:2:2 (fan stuck)"},
		{"restored", tuned(factory, "auto", aside("fan stuck", rows[0]), rows[1:]), old,
			[]string{"factory no-loss-visible tile-render (undecided)"}, "restored profiles/factory/runs/F.csv:2:2"},
	} {
		outcome := Passed
		if c.want != nil {
			outcome = Failed
		}
		if c.name == "restored" {
			outcome = Undecided
		}
		g := between(t, compare.Policy{}, profiles{c.base}, profiles{c.now})
		wantReasons(t, c.name, g, outcome, c.want...)
		if c.name != "moved to other files" && (judgement(t, g).Question != AskRepeat || !hasWarning(g.Judged[0], c.warning)) {
			t.Errorf("%s: %+v", c.name, g.Judged[0])
		}
	}
	g := between(t, compare.Policy{}, profiles{old}, profiles{tuned(factory, "auto", changed)})
	if gone := g.Reasons[0]; gone.Rows.At(0).At.Line != 4 || gone.Rows.At(0).Value != rows[2].Value || gone.Detail != "main" {
		t.Errorf("%+v", gone)
	}
	// A cell that was empty and is filled is an added run.
	filled := tiles("G", 412.2)
	blanks := slices.Clone(filled)
	for i, v := range filled {
		blanks[i] = empty(v)
	}
	blank := tuned(factory, "auto", rows, at("profiles/factory/runs/G.csv", blanks...))
	g = between(t, compare.Policy{}, profiles{blank},
		profiles{tuned(factory, "auto", rows, at("profiles/factory/runs/G.csv", filled...))})
	wantReasons(t, "an empty cell filled", g, Passed)
	// A run without a value that is set aside counts; taking it out is an alteration.
	crashed := tuned(factory, "auto", rows, at("profiles/factory/runs/G.csv", aside("crashed", empty(tiles("G", 1)[0]))...))
	wantReasons(t, "crashed", between(t, compare.Policy{}, profiles{old}, profiles{crashed}), Failed, "factory set-aside")
	wantReasons(t, "crash forgotten", between(t, compare.Policy{}, profiles{crashed}, profiles{old}), Failed, "factory altered-rows")
}

func TestConditionsWarn(t *testing.T) {
	heron := map[string]string{"machine": "heron", "firmware": "2025-08", "room": "22 °C"}
	plover := map[string]string{"machine": "plover", "firmware": "2025-08", "cooler": "tall"}
	old := tuned(factory, "auto", tiles("F", 412)).under(heron)
	words := "other-conditions cooler: -, tall; machine: heron, plover; room: 22 °C, -"
	for name, now := range map[string]*Profile{
		"settings changed": tuned(factory, "fixed", tiles("G", 402)).under(plover),
		"runs added":       tuned(factory, "auto", tiles("F", 412), tiles("G", 412.2)).under(plover),
		"new profile":      tuned(boost, raised, tiles("B", 402)).from(factory).under(plover),
	} {
		head := profiles{now}
		if now.Name != factory {
			head = profiles{old, now}
		}
		g := between(t, compare.Policy{}, profiles{old}, head)
		wantReasons(t, name, g, Passed)
		if j := judgement(t, g); !hasWarning(j, words) {
			t.Errorf("%s: warnings %q", name, noteTexts(j.Warnings))
		}
	}
	g := between(t, compare.Policy{}, profiles{old}, profiles{tuned(factory, "fixed", tiles("G", 402)).under(heron)})
	if j := judgement(t, g); len(j.Warnings) != 0 {
		t.Errorf("same conditions: %q", noteTexts(j.Warnings))
	}
}
