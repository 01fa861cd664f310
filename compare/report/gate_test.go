package report

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"tunegate/compare"
	"tunegate/compare/gate"

	"tunegate/compare/report/doc"
)

// Every kind of reason has its own sentence.
func TestReasonText(t *testing.T) {
	rows := func(lines ...int) *compare.Rows {
		var out compare.Rows
		for _, l := range lines {
			for column := range 2 { // two metrics a line: the line is listed once
				out.Append(compare.Value{At: compare.Place{File: "profiles/factory/runs/1.csv", Line: l, Column: column + 2}})
			}
		}
		return &out
	}
	noise := compare.Noise
	metric := compare.Metric{Benchmark: "tile-render", Metric: "score", Unit: "s",
		Better: compare.Lower, Scale: compare.Ratio, Role: compare.Score,
		Tolerance: number(0.005), WidestBlindSpot: number(0.02)}
	lost := timeScore(compare.Regression, -0.0179, -0.0206, -0.0139)
	slower := fields{Metric: metric, Change: -0.0179, Interval: &[2]float64{-0.0206, -0.0139}, Replication: compare.BySession}.result()
	open := fields{Metric: metric, Change: -0.002, Interval: &[2]float64{-0.0150, 0.0110}, Verdict: &noise, Replication: compare.BySession,
		Settle: 41, BlindSpot: number(0.0268)}.result()
	blind := fields{Metric: metric, Verdict: &noise}.result()
	few := fields{Metric: metric, Verdict: &noise, Replication: compare.BySession, Replicates: [2]int{6, 2}}.result()
	within := fields{Metric: metric, Verdict: &noise, BlindSpot: number(0.0268)}.result()
	within.WidestBlindSpot = number(0.004)
	one := []string{"tile-render"}
	cap93 := compare.Metric{Benchmark: "tile-render", Metric: "temperature", Unit: "°C", Cap: number(93)}
	for _, c := range []struct {
		reason gate.Reason
		want   string
	}{
		{
			gate.Reason{Kind: gate.ReasonStale, Rows: rows(2)},
			"1 row from before the settings changed is still there (profiles/factory/runs/1.csv:2). Delete " +
				"it; git keeps it.",
		},
		{
			gate.Reason{Kind: gate.ReasonStale, Rows: rows(2, 3, 4, 5, 6)},
			"5 rows from before the settings changed are still there (profiles/factory/runs/1.csv:2, 3, 4 " +
				"and 2 more). Delete them; git keeps them.",
		},
		{
			gate.Reason{Kind: gate.ReasonAltered, Rows: rows(3), Detail: "main (1a2b3c4)"},
			"1 row of main (1a2b3c4) is missing or altered (profiles/factory/runs/1.csv:3). Restore it; " +
				"mark bad runs valid = no, with a reason.",
		},
		{
			gate.Reason{Kind: gate.ReasonRegression, Result: slower},
			"regression: tile-render is 1.79 % slower (1.39 to 2.06 %)",
		},
		{
			gate.Reason{Kind: gate.ReasonDrift, Result: slower},
			"drift: tile-render is 1.79 % slower (1.39 to 2.06 %), although the settings are the same; find out what else changed",
		},
		{
			gate.Reason{Kind: gate.ReasonCap, Metric: &cap93, Worst: 96.4, Rows: rows(2, 4)},
			"tile-render temperature reached 96.4 °C; the cap is 93 °C, and 2 runs exceeded it " +
				"(profiles/factory/runs/1.csv:2, 4)",
		},
		{
			gate.Reason{Kind: gate.ReasonSetAside, Count: 1, Limit: 0, Names: []string{"crashed"}},
			"1 run set aside since (crashed), and the policy allows 0: a crash, throttling or a wrong result " +
				"counts against the profile; for other causes raise set-aside-allowed",
		},
		{
			gate.Reason{Kind: gate.ReasonSetAside, Count: 4, Limit: 1, Names: []string{"a", "b", "c", "d"}},
			"4 runs set aside since (a, b, c and 1 more), and the policy allows 1: a crash, throttling or a " +
				"wrong result counts against the profile; for other causes raise set-aside-allowed",
		},
		{
			gate.Reason{Kind: gate.ReasonRequired, Names: []string{"archive-pack", "mesh-solve"}},
			"the policy requires archive-pack, mesh-solve, and the new runs have none",
		},
		{
			gate.Reason{Kind: gate.ReasonNoRuns, Detail: "there are no runs"},
			"there are no runs",
		},
		{
			gate.Reason{Kind: gate.ReasonBaseline, Detail: "factroy", Names: []string{"boost-lift", "factory"}},
			`its baseline "factroy" is not a profile here; there are boost-lift, factory`,
		},
		{
			gate.Reason{Kind: gate.ReasonFewRuns, Names: one, Count: 1, Limit: 4, When: "now", What: "run"},
			"tile-render has 1 run now, and the policy wants at least 4: add 3 more",
		},
		{
			gate.Reason{Kind: gate.ReasonFewRuns, Names: []string{"a", "b", "c", "d", "e"}, Count: 5, Limit: 6, When: "before", What: "session"},
			"a, b, c, d and 1 more have as few as 5 sessions before, and the policy wants at least 6: add 1 more",
		},
		{
			gate.Reason{Kind: gate.ReasonSafety, Names: one, Result: open},
			"tile-render: a loss beyond the tolerance of 0.5 % is still possible; to settle 0.5 %: about 41 sessions a side",
		},
		{
			gate.Reason{Kind: gate.ReasonSafety, Names: one, Result: slower},
			"tile-render: a loss beyond the tolerance of 0.5 % is still possible",
		},
		{
			gate.Reason{Kind: gate.ReasonUnmeasured, Names: []string{"mesh-solve"}},
			"not measured now, though there was: mesh-solve; run it too, or, where nobody can any more, have the policy say role = \"info\" first",
		},
		{
			gate.Reason{Kind: gate.ReasonCopies, Profile: "boost-lift", Detail: "factory", Rows: rows(2, 3), Copies: rows(7, 8), Chance: 1e-10},
			"2 rows (profiles/factory/runs/1.csv:2, 3) repeat, value for value, rows of factory (profiles/factory/runs/1.csv:7, 8); " +
				"without copying so many equal readings come about less than once in 1000 million times. Measure instead.",
		},
		{
			gate.Reason{Kind: gate.ReasonCopies, Profile: "boost-lift", Detail: "boost-lift", Rows: rows(2), Copies: rows(7), Chance: 1e-7},
			"1 row (profiles/factory/runs/1.csv:2) repeats, value for value, other rows of its own (profiles/factory/runs/1.csv:7); " +
				"without copying so many equal readings come about less than once in a million times. Measure instead.",
		},
		{
			gate.Reason{Kind: gate.ReasonCopies, Profile: "boost-lift", Detail: "factory", Rows: rows(2), Copies: rows(7), Chance: 5e-6, Factor: 0.98},
			"1 row (profiles/factory/runs/1.csv:2) repeats, value for value times 0.98, rows of factory (profiles/factory/runs/1.csv:7); " +
				"without copying so many equal readings come about less than once in 100,000 times. Measure instead.",
		},
		{
			gate.Reason{Kind: gate.ReasonRegression, Result: slower, Anchor: true},
			"regression: tile-render is 1.79 % slower (1.39 to 2.06 %), counted from its first runs; the last change alone does not show it",
		},
		{
			gate.Reason{Kind: gate.ReasonDrift, Result: slower, Anchor: true},
			"drift: tile-render is 1.79 % slower (1.39 to 2.06 %), counted from its first runs, and the settings did not change now; " +
				"find out what else did, step by step",
		},
		{
			gate.Reason{Kind: gate.ReasonLaterRuns, Result: lost, When: "now", Names: []string{"tile-render"}, Count: 1, Limit: 3},
			"tile-render: its sessions hold as few as 1 run, and the old ones 3, so that what comes later in a sitting, throttling and heat, was " +
				"not measured: make 3 runs a session",
		},
		{
			gate.Reason{Kind: gate.ReasonLaterRuns, Result: slower, Names: []string{"tile-render"}, Limit: 1},
			"by all runs of each session a large loss could hide in tile-render; only the first count here, as many as the old sessions have: " +
				"measure 1 run a session",
		},
		{
			gate.Reason{Kind: gate.ReasonLaterRuns, Result: lost, Names: []string{"tile-render"}, Limit: 1},
			"by all runs of each session tile-render is 1.79 % slower (1.39 to 2.06 %); only the first count here, as many as the old sessions " +
				"have: measure 1 run a session",
		},
		{
			gate.Reason{Kind: gate.ReasonLaterRuns, Result: lost, Names: []string{"tile-render", "mesh-solve", "archive-pack"}, Limit: 3},
			"by all runs of each session tile-render is 1.79 % slower (1.39 to 2.06 %), and 2 other metrics are not better; only the first count " +
				"here, as many as the old sessions have: measure 3 runs a session",
		},
		{
			gate.Reason{Kind: gate.ReasonRemoved, Agreement: gate.AgreeRemoved, Decides: gate.Undecided},
			"the profile is gone, and what it guarded with it. If that is meant, a maintainer agrees: <agree to removed>",
		},
		{gate.Reason{Kind: gate.ReasonRemoved, Decides: gate.Failed}, "the profile is gone, and what it guarded with it"},
		{
			gate.Reason{Kind: gate.ReasonPolicy, Agreement: gate.AgreePolicy, Decides: gate.Passed,
				Changes: []gate.PolicyChange{{Kind: gate.KeyChanged, Key: "fewest-runs", Before: "4", Now: "2"}}},
			"loosened: fewest-runs: 4 before, 2 now (agreed)",
		},
		{
			gate.Reason{Kind: gate.ReasonNew, Agreement: gate.AgreeNew, Decides: gate.Undecided},
			"it names no baseline, so no loss could be seen; write baseline = \"PROFILE\" into its settings.toml. " +
				"If that is meant, a maintainer agrees: <agree to new>",
		},
		{
			gate.Reason{Kind: gate.ReasonNew, Detail: "no benchmark in common", Agreement: gate.AgreeNew, Decides: gate.Undecided},
			"nothing older stands against the new runs: no benchmark in common. If that is meant, a maintainer agrees: <agree to new>",
		},
		{
			gate.Reason{Kind: gate.ReasonNewBase, Detail: "factory", Agreement: gate.AgreeNew, Decides: gate.Undecided},
			"its baseline factory comes with the same request, so nothing older stands against it. " +
				"If that is meant, a maintainer agrees: <agree to new>",
		},
		{
			gate.Reason{Kind: gate.ReasonBlind, Names: []string{"a", "b"}, Result: few, Limit: 4},
			"a, b: no loss of any size could have been noticed; these are 2, and it takes at least 4 sessions a side",
		},
		{
			gate.Reason{Kind: gate.ReasonBlind, Names: one, Result: few, Limit: 2},
			"tile-render: no loss of any size could have been noticed; the readings do not differ, or are too coarse: " +
				"record more digits or use a longer test",
		},
		{
			gate.Reason{Kind: gate.ReasonBlindSpot, Names: one, Result: open},
			"tile-render: losses under 2.7 % may be missed, the policy allows 2 %; run more: these are too " +
				"few, or too coarse, to tell how many would do",
		},
		{
			gate.Reason{Kind: gate.ReasonBlindSpot, Names: one, Result: blind},
			"tile-render: no loss could have been noticed, the policy allows a blind spot of 2 %; run more: " +
				"these are too few, or too coarse, to tell how many would do",
		},
		{
			gate.Reason{Kind: gate.ReasonBlindSpot, Names: one, Result: within},
			"tile-render: losses under 2.7 % may be missed, the policy allows 0.4 %; a blind spot within " +
				"the tolerance is out of reach for any number of runs",
		},
	} {
		if got := typed.reasonText(c.reason); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.reason.Kind, got, c.want)
		}
	}
}

// The number of sessions for a blind spot is the one that SizeToCatch gives.
func TestBlindSpotReasonSaysHowMany(t *testing.T) {
	g := lift(t, compare.Policy{WidestBlindSpot: number(0.54)}, 402)
	r := g.Reasons[0]
	n, ok := r.Result.SizeToCatch(0.0054)
	if !ok || n <= 6 {
		t.Fatalf("%d sessions, %v", n, ok)
	}
	want := fmt.Sprintf("may be missed, the policy allows 0.54 %%; to catch them: about %d sessions a side, over 5.2 h", n)
	if !strings.HasSuffix(typed.reasonText(r), want) {
		t.Errorf("%s\nwant ...%s", typed.reasonText(r), want)
	}
	// The blind spot gets the digits that tell it apart from the limit.
	close := fields{Metric: r.Result.Metric, BlindSpot: number(0.02004), Interval: &[2]float64{-0.03, 0.03}}.result()
	close.WidestBlindSpot = number(0.02)
	const sentence = "losses under 2.004 % may be missed, the policy allows 2 %"
	if s := typed.reasonText(gate.Reason{Kind: gate.ReasonBlindSpot, Result: close}); !strings.Contains(s, sentence) {
		t.Error(s)
	}
}

func TestBlindSpotSentence(t *testing.T) {
	score := func(name string, spot *float64, decides bool) *compare.Result {
		return fields{Metric: compare.Metric{Benchmark: name, Metric: "score", Scale: compare.Ratio, Role: compare.Score},
			Interval: &[2]float64{-0.011, 0.011}, BlindSpot: spot, Decides: decides}.result()
	}
	cost := score("power", number(0.5), true)
	cost.Role = compare.Cost
	of := func(results ...*compare.Result) *gate.Judgement {
		return &gate.Judgement{Comparison: &compare.Comparison{Results: results}}
	}
	for _, c := range []struct {
		j    *gate.Judgement
		want string
	}{
		{&gate.Judgement{}, ""},
		{of(cost), ""},
		{
			of(score("a", number(0.014), true), score("b", number(0.0123), true), cost),
			"a: losses under 1.4 % may be missed",
		},
		{
			of(score("a", number(0.014), true), score("b", number(0.2), false)),
			"a: losses under 1.4 % may be missed",
		},
		{
			of(score("a", number(0.014), true), score("b", nil, true), score("c", nil, true)),
			"b, c: no loss could have been noticed",
		},
	} {
		if got := blindSpotText(c.j); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestGateClosing(t *testing.T) {
	old := gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412))
	second := gateProfile("cool-curve", "one notch down", gateRows("cool-curve", "tile-render", "score", "s", 409))
	passed := lift(t, compare.Policy{}, 402)
	two := *passed
	two.Judged = append(two.Judged, two.Judged[0])
	removed := gateOf(t, gateState("main", nil, old), gateState("head", nil))
	loose := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Tolerance: number(9)}}}
	for _, c := range []struct {
		g    *gate.Gate
		want string
	}{
		{gateOf(t, gateState("main", nil, old), gateState("head", nil, old)), "Passed: nothing that is judged changed"},
		{gateOf(t, gateState("main", nil), gateState("head", nil, old)), "Passed: factory is the first of its kind"},
		{passed, "Passed: with boost-lift, tile-render is 2.49 % faster for 9.09 % more power"},
		{&two, "Passed: 2 profiles judged, none of them worse for sure"},
		{lift(t, compare.Policy{FewestRuns: 7}, 424),
			"Failed: tile-render is 2.83 % slower with boost-lift (2.64 to 3.02 %), and 2 more reasons"},
		{removed, "Undecided: factory is removed, and a person has to agree"},
		{removed.Agree(gate.AgreeRemoved, gate.AgreeNew), "Passed (agreed: removed): nothing that is judged changed"},
		{gateOf(t, gateState("main", nil, old), gateState("head", nil, old, second)).Agree(gate.AgreeNew),
			"Passed (agreed: new): nothing older stands against cool-curve"},
		{gateOf(t, gateState("main", &compare.Policy{}, old), gateState("head", &loose)).Agree(gate.AgreeRemoved),
			"Undecided (agreed: removed): the policy is loosened, and a person has to agree"},
	} {
		if got := GateClosing(c.g); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// The order is: outcome, reasons, blind spot, notes, tables.
func TestGateTextOrder(t *testing.T) {
	strict, loose := compare.Policy{FewestRuns: 7}, compare.Policy{FewestRuns: 3}
	old := gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412))
	now := gateProfile("boost-lift", "two notches",
		gateRows("boost-lift", "tile-render", "score", "s", 424),
		gateRows("boost-lift", "tile-render", "temperature", "°C", 80))
	now.Baseline, now.Conditions = "factory", map[string]string{"room": "27 °C"}
	base := gateState("main (1a2b3c4)", &strict, old, gateProfile("cool-curve", "one notch down"))
	g := gateOf(t, base, gateState("the working tree", &loose, old, now))
	out := gateText(t, g, doc.TextOptions{Width: 80})
	checkOrder(t, out,
		"Failed: tile-render is 2.83 % slower with boost-lift (2.64 to 3.02 %), and 3\nmore reasons\n",
		"main (1a2b3c4) → the working tree; policy: tunegate.toml of the base\n",
		"  1. boost-lift: regression: tile-render is 2.83 % slower",
		"  2. boost-lift: tile-render has 6 runs before, and the policy wants at least 7:\n",
		"  3. boost-lift: tile-render has 6 runs now",
		"  4. policy: loosened: fewest-runs: 7 before, 3 now. If that is meant, a",
		"  boost-lift: tile-render: losses under 0.5",
		"  the policy of the base is in force. Under the new policy: failed\n",
		"  removed: cool-curve\n",
		"  1 profile unchanged\n",
		"== boost-lift: failed\n",
		"new profile, judged against factory (lift: auto before, two notches now)\n",
		"  warning: the recorded conditions differ from those of factory, so the change\n"+
			"    may not be the settings' alone: room: not set before, 27 °C now\n",
		"Scores: plus means better ",
		"tile-render  ▼ regression",
	)
	checkWidth(t, out, 80)
	more := lift(t, compare.Policy{WidestBlindSpot: number(0.01)}, 402)
	for _, width := range []int{60, 80} {
		checkWidth(t, gateText(t, more, doc.TextOptions{Width: width}), width)
	}
	if plain := gateText(t, g, doc.TextOptions{Width: 80, Plain: true}); strings.ContainsFunc(plain, func(r rune) bool { return r > 126 }) {
		t.Errorf("plain text is not ASCII:\n%s", plain)
	}
	if color := gateText(t, g, doc.TextOptions{Width: 80, Color: true}); !strings.HasPrefix(color, "\x1b[1;38;5;166mFailed: tile-render") {
		t.Errorf("coloured: %q", color[:40])
	}
}

func TestGateJSON(t *testing.T) {
	s := schemaOf(t, "gate")
	hostile := hostileGate(t, hostileName)
	loose := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Tolerance: number(9)}}}
	old := gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412))
	changed := gateOf(t, gateState("main", &compare.Policy{}, old), gateState("head", &loose, old))
	for name, g := range map[string]*gate.Gate{
		"passed":              lift(t, compare.Policy{}, 402),
		"failed":              lift(t, compare.Policy{FewestSessions: 9, FewestRuns: 9}, 424),
		"undecided":           lift(t, compare.Policy{Burden: compare.Safety, WidestBlindSpot: number(0.1)}, 412),
		"nothing to judge":    gateOf(t, gateState("main", nil, old), gateState("head", nil, old)),
		"no comparison":       gateOf(t, gateState("main", nil, old), gateState("head", nil, gateProfile("factory", "fixed"))),
		"a policy that loses": changed,
		"hostile names":       hostile,
	} {
		out := rendered(t, func(w io.Writer) error { return gateJSONOf(w, g, 3) })
		holds(t, s, out)
		var got struct {
			Outcome gate.Outcome
			Exit    int `json:"exit_status"`
			Closing string
			Reasons []struct {
				Kind, Text, Metric string
				At                 []compare.Place
			}
			Judged []struct {
				Profile    string
				BlindSpot  string `json:"blind_spot"`
				Comparison *struct {
					Exit int `json:"exit_status"`
				}
			}
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(name, err)
		}
		if got.Outcome != g.Outcome || got.Exit != 3 || got.Closing != GateClosing(g) ||
			len(got.Reasons) != len(g.Reasons) || len(got.Judged) != len(g.Judged) {
			t.Errorf("%s: %+v", name, got)
		}
		for i, r := range g.Reasons {
			if got.Reasons[i].Kind != r.Kind || got.Reasons[i].Text != typed.reasonText(r) || len(got.Reasons[i].At) != r.Rows.Len() {
				t.Errorf("%s: reason %d: %+v", name, i, got.Reasons[i])
			}
		}
		for i, j := range g.Judged {
			c := got.Judged[i].Comparison
			if got.Judged[i].Profile != j.Profile || got.Judged[i].BlindSpot != blindSpotText(j) ||
				(c == nil) != (j.Comparison == nil) || c != nil && c.Exit != 1 {
				t.Errorf("%s: %+v", name, got.Judged[i])
			}
		}
	}
	out := rendered(t, func(w io.Writer) error { return gateJSONOf(w, changed, 0) })
	if !strings.Contains(out, `"proposed_outcome": "passed"`) || !strings.Contains(out, `"tile-render: tolerance 0.5 % before, 9 % now"`) {
		t.Errorf("the change of the policy is not there:\n%s", out)
	}
	// The schema rejects output that is wrong.
	for _, broken := range []string{
		strings.Replace(out, `"exit_status": 0`, `"exit_status": 2`, 1),
		strings.Replace(out, `"removed"`, `"gone"`, 1),
		strings.Replace(out, `"of": "base"`, `"of": "us"`, 1),
	} {
		value, err := jsonschema.UnmarshalJSON(strings.NewReader(broken))
		if err != nil || broken == out || s.Validate(value) == nil {
			t.Errorf("the schema takes it, or it is not broken (%v)", err)
		}
	}
}

// Hostile names put no control characters into the text.
func TestGateTextIsHarmless(t *testing.T) {
	g := hostileGate(t, hostileName)
	for _, width := range []int{60, 80, 140} {
		out := gateText(t, g, doc.TextOptions{Width: width, Detail: true})
		checkPrintable(t, fmt.Sprintf("%d columns", width), out)
		if !strings.HasPrefix(out, "Failed: ") {
			t.Errorf("%d columns: begins with %q", width, out[:20])
		}
	}
}

// WithoutCommands leaves no line that GitHub Actions takes for a command.
func TestWithoutCommands(t *testing.T) {
	for in, want := range map[string]string{
		"":                       "",
		"tile-render\n":          "tile-render\n",
		"::error::x\n":           ": :error::x\n",
		"  ::stop-commands::x":   "  : :stop-commands::x",
		"\t::a\nb ::c::\n :::d":  "\t: :a\nb ::c::\n : ::d",
		"a ##[group]b ##[error]": "a ## [group]b ## [error]",
		"###[x] ##":              "### [x] ##",
	} {
		if d := cmp.Diff(want, WithoutCommands(in)); d != "" {
			t.Errorf("%q: %s", in, d)
		}
	}
	for _, width := range []int{60, 80, 100, 140} {
		text := gateText(t, hostileGate(t, "::error::x ##[error]y"), doc.TextOptions{Width: width})
		for _, l := range strings.Split(WithoutCommands(text), "\n") {
			if strings.HasPrefix(strings.TrimSpace(l), "::") || strings.Contains(l, "##[") {
				t.Errorf("%d columns: %q", width, l)
			}
		}
	}
}
