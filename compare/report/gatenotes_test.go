package report

import (
	"errors"
	"testing"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// changed holds conditions that differ, and words is how they are printed.
var (
	changed = []gate.Difference{{Key: "machine", Before: value("heron"), Now: value("plover")}, {Key: "room", Now: value("27 °C")},
		{Key: "driver", Before: value("")}}
	words = "machine: heron before, plover now; room: not set before, 27 °C now; driver: empty before, not set now"
)

func value(s string) *string { return &s }

// Every kind of note has a sentence with the values of its fields.
func TestGateNotes(t *testing.T) {
	g := &gate.Gate{Base: "main (1a2b3c4)", Head: "the working tree"}
	for _, c := range []struct {
		note gate.Note
		want string
	}{
		{gate.Note{Kind: gate.NoteHeadPolicy}, "main (1a2b3c4) has no policy; the one of the working tree is in force"},
		{gate.Note{Kind: gate.NoteDefaults}, "there is no tunegate.toml; the defaults are in force (<init> writes one)"},
		{gate.Note{Kind: gate.NoteNotRead, Names: []string{"a.xls", "b.xls", "c.xls", "d.xls"}},
			"not read: a.xls, b.xls, c.xls and 1 more; runs are .csv, .tsv, .jsonl, .ndjson, .xlsx or .xlsm files below profiles/NAME/runs, " +
				"and settings stand in profiles/NAME/settings.toml"},
		{gate.Note{Kind: gate.NoteRenamed, Profile: "boost-lift", Names: []string{"lift"}},
			"boost-lift was lift before, with the same settings and runs"},
		{gate.Note{Kind: gate.NoteConditions, Profile: "factory", Changed: changed},
			"factory: recorded conditions changed, but neither settings nor runs: " + words},
	} {
		if got := gateNote(GatePage{Gate: g, Commands: typed}, c.note); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.note.Kind, got, c.want)
		}
	}
}

func TestWarnings(t *testing.T) {
	crashed := compare.Value{Benchmark: "tile-render", At: compare.Place{File: "runs/1.csv", Line: 2, Column: 2}, SetAside: true,
		Reason: "fan stuck"}
	later := compare.Value{Benchmark: "tile-render", At: compare.Place{File: "runs/1.csv", Line: 4, Column: 2}}
	for _, c := range []struct {
		question gate.Question
		note     gate.Note
		want     string
	}{
		{gate.AskRepeat, gate.Note{Kind: gate.NoteSetAside, Rows: compare.RowsOf(crashed)},
			"set aside since: tile-render at runs/1.csv:2:2: fan stuck"},
		{gate.AskRepeat, gate.Note{Kind: gate.NoteRestored, Rows: compare.RowsOf(crashed, later)}, "no longer set aside: runs/1.csv:2, 4"},
		{gate.AskSettings, gate.Note{Kind: gate.NoteOtherConditions, Changed: changed},
			"the recorded conditions differ, so the change may not be the settings' alone: " + words},
		{gate.AskNew, gate.Note{Kind: gate.NoteOtherConditions, Changed: changed},
			"the recorded conditions differ from those of factory, so the change may not be the settings' alone: " + words},
		{gate.AskSettings, gate.Note{Kind: gate.NoteReadsAsBefore, Rows: compare.RowsOf(later)},
			"1 row reads as before the settings changed, counted as new: runs/1.csv:4. If old, delete it; " +
				"new session labels leave no doubt."},
		{gate.AskNew, gate.Note{Kind: gate.NoteNoBaseline}, "has no runs yet, and names no baseline to judge them against; " +
			"write baseline = \"PROFILE\" into its settings.toml"},
		{gate.AskNew, gate.Note{Kind: gate.NoteFirst}, "the first of its kind: held to the caps and to what the policy wants of every " +
			"profile; later ones are judged against it"},
		{gate.AskRepeat, gate.Note{Kind: gate.NoteRenamed, Names: []string{"lift"}}, "was lift before, and is judged as the same profile"},
	} {
		j := &gate.Judgement{Profile: "boost-lift", Question: c.question, Against: "factory", Warnings: []gate.Note{c.note}}
		if got := (GatePage{Gate: &gate.Gate{}, Commands: typed}).warnings(j); len(got) != 1 || got[0] != c.want {
			t.Errorf("%s:\n%q\nwant\n%s", c.note.Kind, got, c.want)
		}
	}
}

// The differences between two policies.
func TestPolicyChanges(t *testing.T) {
	five := []string{"a", "b", "c", "d", "e"}
	wrong := errors.New("it is in \"ms\"")
	for _, c := range []struct {
		change gate.PolicyChange
		want   string
	}{
		{gate.PolicyChange{Kind: gate.PolicyRemoved}, "the policy is removed"},
		{gate.PolicyChange{Kind: gate.KeyChanged, Key: "burden", Before: "harm", Now: "safety"}, "burden: harm before, safety now"},
		{gate.PolicyChange{Kind: gate.KeyChanged, Metrics: five, Key: "cap", Before: "93 °C", Now: "none"},
			"a, b, c, d and 1 more: cap 93 °C before, none now"},
		{gate.PolicyChange{Kind: gate.NotJudgedAnyMore, Metrics: five[:1], Err: wrong}, "a: can no longer be judged: it is in \"ms\""},
		{gate.PolicyChange{Kind: gate.JudgedAgain, Metrics: five[:2], Err: wrong}, "a, b: can be judged now; before: it is in \"ms\""},
		{gate.PolicyChange{Kind: gate.ReadingRulesChanged},
			"readings: other rules for monitoring logs than before; they act when a log is read, not here"},
		{gate.PolicyChange{Kind: gate.BaselineChanged, Key: "boost-lift", Before: "factory", Now: "none"},
			"the baseline of boost-lift: factory before, none now"},
		{gate.PolicyChange{Kind: gate.AnchorChanged, Key: "boost-lift", Before: "the first runs", Now: "0123456789abcdef"},
			"the anchor of boost-lift: the first runs before, 0123456789abcd now"},
		{gate.PolicyChange{Kind: gate.NoEffect, Loosens: true}, "entries are gone, without effect on anything measured so far"},
		{gate.PolicyChange{Kind: gate.NoEffect}, "entries, without effect on anything measured so far"},
	} {
		if got := policyChangeText(c.change); got != c.want {
			t.Errorf("%s: %s, want %s", c.change.Kind, got, c.want)
		}
	}
}

// A profile without runs has a sentence for each reason to judge it.
func TestNoRuns(t *testing.T) {
	for _, c := range []struct {
		question gate.Question
		detail   string
		want     string
	}{
		{gate.AskNew, "", "there are no runs; run the profile and add them below profiles/boost-lift/runs"},
		{gate.AskSettings, "", "the settings changed, but there are no new runs; run the profile again"},
		{gate.AskRepeat, "", "no valid run is left; run the profile again"},
		{gate.AskNew, "a and b have no benchmark in common", "a and b have no benchmark in common"},
	} {
		r := gate.Reason{Kind: gate.ReasonNoRuns, Profile: "boost-lift", Question: c.question, Detail: c.detail}
		if got := typed.reasonText(r); got != c.want {
			t.Errorf("%s %q: %s, want %s", c.question, c.detail, got, c.want)
		}
	}
}
