package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/report/schema"

	"tunegate/compare/report/doc"
)

// gateRows are six sessions of a metric around a level, scattered by about
// 0.25 %, on the lines of a runs file from line 2.
func gateRows(profile, benchmark, metric, unit string, level float64) []compare.Value {
	var out []compare.Value
	for i, scatter := range []float64{0.9975, 0.9990, 0.9995, 1.0005, 1.0010, 1.0025} {
		out = append(out, compare.Value{Benchmark: benchmark, Metric: metric, Unit: unit, Session: fmt.Sprint(profile, " ", i+1), Value: level * scatter,
			At: compare.Place{File: "profiles/" + profile + "/runs/1.csv", Line: i + 2, Column: 2}})
	}
	return out
}

func gateProfile(name, boost string, rows ...[]compare.Value) *gate.Profile {
	p := &gate.Profile{Name: name, Settings: map[string]string{"boost": boost}, Conditions: map[string]string{},
		At: compare.Place{File: "profiles/" + name + "/settings.toml"}}
	for _, r := range rows {
		p.Values = append(p.Values, r...)
	}
	return p
}

func gateState(name string, policy *compare.Policy, profiles ...*gate.Profile) gate.Snapshot {
	s := gate.Snapshot{Name: name, Policy: policy, PolicyFile: "tunegate.toml", Profiles: map[string]*gate.Profile{}}
	for _, p := range profiles {
		s.Profiles[p.Name] = p
	}
	return s
}

func gateOf(t testing.TB, base, head gate.Snapshot) *gate.Gate {
	t.Helper()
	g, err := gate.Judge(base, head, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// lift gates a new profile boost-lift, tile-render at so many s, against
// factory at 412.
func lift(t testing.TB, policy compare.Policy, seconds float64, more ...[]compare.Value) *gate.Gate {
	t.Helper()
	old := gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412), gateRows("factory", "tile-render", "power", "W", 187))
	now := gateProfile("boost-lift", "+200", append(more, gateRows("boost-lift", "tile-render", "score", "s", seconds), gateRows("boost-lift", "tile-render", "power", "W", 204))...)
	now.Baseline = "factory"
	return gateOf(t, gateState("main (1a2b3c4)", &policy, old), gateState("the working tree", &policy, old, now))
}

func rendered(t testing.TB, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func gateText(t testing.TB, g *gate.Gate, opt doc.TextOptions) string {
	t.Helper()
	return rendered(t, func(w io.Writer) error { return doc.Text(w, GateDocument(GatePage{g, typed}, Origin{}), opt) })
}

// gateJSONOf writes a gate under an exit status; its comparisons have 1.
func gateJSONOf(w io.Writer, g *gate.Gate, status int) error {
	return GateJSON(w, GatePage{g, typed}, status, func(*compare.Comparison) int { return 1 })
}

func number(v float64) *float64 { return &v }

// Every kind of reason has its own sentence.
func TestReasonText(t *testing.T) {
	rows := func(lines ...int) []compare.Value {
		var out []compare.Value
		for _, l := range lines {
			for column := range 2 { // two metrics a line: said once
				out = append(out, compare.Value{At: compare.Place{File: "profiles/factory/runs/1.csv", Line: l, Column: column + 2}})
			}
		}
		return out
	}
	noise := compare.Noise
	metric := compare.Metric{Benchmark: "tile-render", Metric: "score", Unit: "s", Better: compare.Lower, Scale: compare.Ratio, Role: compare.Score,
		Tolerance: number(0.005), WidestBlindSpot: number(0.02)}
	slower := fields{Metric: metric, Change: -0.0179, Interval: &[2]float64{-0.0206, -0.0139}, Replication: compare.BySession}.result()
	open := fields{Metric: metric, Change: -0.002, Interval: &[2]float64{-0.0150, 0.0110}, Verdict: &noise, Replication: compare.BySession,
		Needed: func() *int { n := 41; return &n }(), BlindSpot: number(0.0268)}.result()
	blind := fields{Metric: metric, Verdict: &noise}.result()
	within := fields{Metric: metric, Verdict: &noise, BlindSpot: number(0.0268)}.result()
	within.WidestBlindSpot = number(0.004)
	cap95 := compare.Metric{Benchmark: "tile-render", Metric: "temperature", Unit: "°C", Cap: number(95)}
	for _, c := range []struct {
		reason gate.Reason
		want   string
	}{
		{gate.Reason{Kind: gate.ReasonStale, Rows: rows(2)}, "1 row measured before the settings changed and still there (profiles/factory/runs/1.csv:2): they describe another machine; remove them, git keeps them"},
		{gate.Reason{Kind: gate.ReasonStale, Rows: rows(2, 3, 4, 5, 6)}, "5 rows measured before the settings changed and still there (profiles/factory/runs/1.csv:2, 3, 4 and 2 more): they describe another machine; remove them, git keeps them"},
		{gate.Reason{Kind: gate.ReasonAltered, Rows: rows(3), Detail: "main (1a2b3c4)"}, "1 row of main (1a2b3c4) removed or altered although the settings are the same (profiles/factory/runs/1.csv:3): put them back; a bad run is set aside with valid = no and a reason, never deleted"},
		{gate.Reason{Kind: gate.ReasonRegression, Result: slower}, "regression: tile-render is 1.79 % slower (1.39 to 2.06 %)"},
		{gate.Reason{Kind: gate.ReasonDrift, Result: slower}, "drift: tile-render is 1.79 % slower (1.39 to 2.06 %), although the settings are the same; find out what else changed"},
		{gate.Reason{Kind: gate.ReasonCap, Metric: &cap95, Worst: 96.4, Rows: rows(2, 4)}, "tile-render temperature reached 96.4 °C; the cap is 95 °C, and 2 runs passed it (profiles/factory/runs/1.csv:2, 4)"},
		{gate.Reason{Kind: gate.ReasonSetAside, Count: 1, Limit: 0, Names: []string{"crashed"}}, "1 new run set aside (crashed), and the policy allows 0: a run that crashed, throttled or computed wrongly speaks against the profile; where it was something else, raise set-aside-allowed"},
		{gate.Reason{Kind: gate.ReasonSetAside, Count: 4, Limit: 1, Names: []string{"a", "b", "c", "d"}}, "4 new runs set aside (a, b, c and 1 more), and the policy allows 1: a run that crashed, throttled or computed wrongly speaks against the profile; where it was something else, raise set-aside-allowed"},
		{gate.Reason{Kind: gate.ReasonRequired, Names: []string{"archive-pack", "mesh-solve"}}, "the policy requires archive-pack, mesh-solve, and the new runs have none"},
		{gate.Reason{Kind: gate.ReasonNoRuns, Detail: "there are no runs"}, "there are no runs"},
		{gate.Reason{Kind: gate.ReasonBaseline, Detail: "factroy", Names: []string{"boost-lift", "factory"}}, `its baseline "factroy" is no profile of this repository; there are boost-lift, factory`},
		{gate.Reason{Kind: gate.ReasonFewRuns, Result: slower, Count: 1, Limit: 4, When: "now", What: "run"}, "tile-render has 1 run now, and the policy wants at least 4"},
		{gate.Reason{Kind: gate.ReasonFewRuns, Result: slower, Count: 5, Limit: 6, When: "before", What: "session"}, "tile-render has 5 sessions before, and the policy wants at least 6"},
		{gate.Reason{Kind: gate.ReasonSafety, Result: open}, "tile-render: a loss beyond the tolerance of 0.5 % is not ruled out; about 41 sessions a side would settle it"},
		{gate.Reason{Kind: gate.ReasonSafety, Result: slower}, "tile-render: a loss beyond the tolerance of 0.5 % is not ruled out"},
		{gate.Reason{Kind: gate.ReasonSafety, Names: []string{"mesh-solve"}}, "not measured now, so a loss is not ruled out: mesh-solve; run it too"},
		{gate.Reason{Kind: gate.ReasonBlindSpot, Names: []string{"mesh-solve"}}, "not measured now, so blind to any loss: mesh-solve; run it too"},
		{gate.Reason{Kind: gate.ReasonBlindSpot, Result: open}, "tile-render: a loss smaller than 2.7 % could have gone unseen, and the policy allows 2 %; run more: these are too few, or too coarse, to tell how many would do"},
		{gate.Reason{Kind: gate.ReasonBlindSpot, Result: blind}, "tile-render: no loss of any size could have been caught, and the policy wants 2 %; run more: these are too few, or too coarse, to tell how many would do"},
		{gate.Reason{Kind: gate.ReasonBlindSpot, Result: within}, "tile-render: a loss smaller than 2.7 % could have gone unseen, and the policy allows 0.4 %; a blind spot within the tolerance is out of reach for any number of runs"},
	} {
		if got := reasonText(c.reason); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.reason.Kind, got, c.want)
		}
	}
}

// The number of sessions that a blind spot asks for is the planner's.
func TestBlindSpotReasonSaysHowMany(t *testing.T) {
	g := lift(t, compare.Policy{WidestBlindSpot: number(0.54)}, 402)
	r := g.Reasons[0]
	n, ok := r.Result.SizeToCatch(0.0054)
	if !ok || n <= 6 {
		t.Fatalf("%d sessions, %v", n, ok)
	}
	if want := fmt.Sprintf("and the policy allows 0.54 %%; run more: about %d sessions a side would do", n); !strings.HasSuffix(reasonText(r), want) {
		t.Errorf("%s\nwant ...%s", reasonText(r), want)
	}
	// What is wanted and what is found never read alike.
	close := fields{Metric: r.Result.Metric, BlindSpot: number(0.02004), Interval: &[2]float64{-0.03, 0.03}}.result()
	close.WidestBlindSpot = number(0.02)
	if s := reasonText(gate.Reason{Kind: gate.ReasonBlindSpot, Result: close}); !strings.Contains(s, "smaller than 2.004 % could have gone unseen, and the policy allows 2 %") {
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
	of := func(unmeasured []string, results ...*compare.Result) *gate.Judgement {
		return &gate.Judgement{Comparison: &compare.Comparison{Results: results}, Unmeasured: unmeasured}
	}
	for _, c := range []struct {
		j    *gate.Judgement
		want string
	}{
		{&gate.Judgement{}, ""},
		{of(nil, cost), ""},
		{of(nil, score("a", number(0.014), true), score("b", number(0.0123), true), cost), "a loss smaller than 1.4 % in a could have gone unseen"},
		{of(nil, score("a", number(0.014), true), score("b", number(0.2), false)), "a loss smaller than 1.4 % in a could have gone unseen"},
		{of(nil, score("a", number(0.014), true), score("b", nil, true), score("c", nil, true)), "no loss of any size could have been caught in b, c"},
		{of([]string{"c"}, score("a", number(0.014), true)), "a loss smaller than 1.4 % in a could have gone unseen; not measured now, so blind to any loss: c"},
		{of([]string{"c"}), "not measured now, so blind to any loss: c"},
	} {
		if got := blindSpotText(c.j); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestGateClosing(t *testing.T) {
	judged := []*gate.Judgement{{}, {}}
	warning := gate.Reason{Kind: gate.ReasonDrift, Decides: gate.Passed}
	for _, c := range []struct {
		g    gate.Gate
		want string
	}{
		{gate.Gate{Outcome: gate.Passed}, "Passed (nothing to judge)"},
		{gate.Gate{Outcome: gate.Passed, Judged: judged[:1], Reasons: []gate.Reason{warning}}, "Passed (1 profile judged)"},
		{gate.Gate{Outcome: gate.Failed, Judged: judged, Reasons: []gate.Reason{{Decides: gate.Failed}, {Decides: gate.Undecided}, warning}}, "Failed: 2 reasons (2 profiles judged)"},
		{gate.Gate{Outcome: gate.Undecided, Judged: judged, Reasons: []gate.Reason{{Decides: gate.Undecided}}}, "Run more: the policy wants more than these runs can give (2 profiles judged)"},
	} {
		if got := GateClosing(&c.g); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// Outcome and reasons stand first, then what could have hidden, then notes,
// then the tables.
func TestGateTextOrder(t *testing.T) {
	strict, loose := compare.Policy{FewestRuns: 7}, compare.Policy{FewestRuns: 3}
	old := gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412))
	now := gateProfile("boost-lift", "+200", gateRows("boost-lift", "tile-render", "score", "s", 424), gateRows("boost-lift", "tile-render", "temperature", "°C", 80))
	now.Baseline, now.Conditions = "factory", map[string]string{"room": "27 °C"}
	g := gateOf(t, gateState("main (1a2b3c4)", &strict, old, gateProfile("cool-curve", "-15")), gateState("the working tree", &loose, old, now))
	out := gateText(t, g, doc.TextOptions{Width: 80})
	at := 0
	for _, part := range []string{
		"Failed: 3 reasons (1 profile judged)\n",
		"main (1a2b3c4) → the working tree; policy: tunegate.toml of the base\n",
		"  1. boost-lift: regression: tile-render is 2.83 % slower",
		"  2. boost-lift: tile-render has 6 runs before, and the policy wants at least 7\n",
		"  3. boost-lift: tile-render has 6 runs now",
		"  boost-lift: a loss smaller than 0.5",
		"  the policy changes, and the one of the base is in force: fewest-runs: 7\n    before, 3 now. Under the new policy: failed\n",
		"  removed: cool-curve\n",
		"  1 profile unchanged\n",
		"== boost-lift: failed\n",
		"new profile, judged against factory (boost: auto before, +200 now)\n",
		"  warning: the recorded conditions differ from those of factory, so the change\n    may not be the settings' alone: room: not set before, 27 °C now\n",
		"Scores: plus means better\n",
		"tile-render  ▼ regression",
	} {
		i := strings.Index(out[at:], part)
		if i < 0 {
			t.Fatalf("%q is not there, or not in its place, in\n%s", part, out)
		}
		at += i
	}
	for i, l := range strings.Split(out, "\n") {
		if columns(l) > 80 {
			t.Errorf("line %d is %d columns wide: %s", i+1, columns(l), l)
		}
	}
	more := lift(t, compare.Policy{WidestBlindSpot: number(0.01)}, 402)
	for _, width := range []int{60, 80} {
		for i, l := range strings.Split(gateText(t, more, doc.TextOptions{Width: width}), "\n") {
			if columns(l) > width {
				t.Errorf("line %d is %d columns wide: %s", i+1, columns(l), l)
			}
		}
	}
	if plain := gateText(t, g, doc.TextOptions{Width: 80, Plain: true}); strings.ContainsFunc(plain, func(r rune) bool { return r > 126 }) {
		t.Errorf("plain text is not ASCII:\n%s", plain)
	}
	if color := gateText(t, g, doc.TextOptions{Width: 80, Color: true}); !strings.HasPrefix(color, "\x1b[1;31mFailed: 3 reasons") {
		t.Errorf("coloured: %q", color[:40])
	}
}

// Where power, heat or voltage is shown, or a cap on it, stands the caution.
func TestGateCaution(t *testing.T) {
	none := gateOf(t, gateState("main", nil), gateState("head", nil, gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412))))
	hot := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Metric: "temperature", Cap: number(70)}}}
	capOnly := gateOf(t, gateState("main", &hot), gateState("head", &hot, gateProfile("factory", "auto", gateRows("factory", "tile-render", "temperature", "°C", 80))))
	for _, c := range []struct {
		name string
		g    *gate.Gate
		want bool
	}{{"seconds alone", none, false}, {"a power table", lift(t, compare.Policy{}, 402), true}, {"a cap without a table", capOnly, true}} {
		words := strings.Join(strings.Fields(gateText(t, c.g, doc.TextOptions{Width: 60})), " ")
		if strings.Contains(words, caution) != c.want {
			t.Errorf("%s: caution in text is %v", c.name, !c.want)
		}
		for form, write := range map[string]func(io.Writer) error{
			"markdown": func(w io.Writer) error { return doc.Markdown(w, GateDocument(GatePage{c.g, typed}, Origin{})) },
			"json":     func(w io.Writer) error { return gateJSONOf(w, c.g, 0) },
		} {
			if strings.Contains(rendered(t, write), "within the maker's limits") != c.want {
				t.Errorf("%s: caution in %s is %v", c.name, form, !c.want)
			}
		}
	}
}

// schemaOf compiles a schema by its file's name, with all others at hand.
func schemaOf(t testing.TB, name string) *jsonschema.Schema {
	t.Helper()
	compiler := jsonschema.NewCompiler()
	id := ""
	files, err := fs.Glob(schema.Files, "*.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		text, err := schema.Files.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			t.Fatal(f, err)
		}
		own := doc.(map[string]any)["$id"].(string)
		if err := compiler.AddResource(own, doc); err != nil {
			t.Fatal(err)
		}
		if f == name+".schema.json" {
			id = own
		}
	}
	s, err := compiler.Compile(id)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func holds(t testing.TB, s *jsonschema.Schema, out string) {
	t.Helper()
	value, err := jsonschema.UnmarshalJSON(strings.NewReader(out))
	if err == nil {
		err = s.Validate(value)
	}
	if err != nil {
		t.Errorf("%v\n%s", err, out)
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
		"run more":            lift(t, compare.Policy{Burden: compare.Safety, WidestBlindSpot: number(0.1)}, 412),
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
		if got.Outcome != g.Outcome || got.Exit != 3 || got.Closing != GateClosing(g) || len(got.Reasons) != len(g.Reasons) || len(got.Judged) != len(g.Judged) {
			t.Errorf("%s: %+v", name, got)
		}
		for i, r := range g.Reasons {
			if got.Reasons[i].Kind != r.Kind || got.Reasons[i].Text != reasonText(r) || len(got.Reasons[i].At) != len(r.Rows) {
				t.Errorf("%s: reason %d: %+v", name, i, got.Reasons[i])
			}
		}
		for i, j := range g.Judged {
			c := got.Judged[i].Comparison
			if got.Judged[i].Profile != j.Profile || got.Judged[i].BlindSpot != blindSpotText(j) || (c == nil) != (j.Comparison == nil) || c != nil && c.Exit != 1 {
				t.Errorf("%s: %+v", name, got.Judged[i])
			}
		}
	}
	out := rendered(t, func(w io.Writer) error { return gateJSONOf(w, changed, 0) })
	if !strings.Contains(out, `"proposed_outcome": "passed"`) || !strings.Contains(out, `"tile-render: tolerance 0.5 % before, 9 % now"`) {
		t.Errorf("the change of the policy is not there:\n%s", out)
	}
	// The schema is no rubber stamp.
	for _, broken := range []string{strings.Replace(out, `"exit_status": 0`, `"exit_status": 2`, 1), strings.Replace(out, `"removed"`, `"gone"`, 1), strings.Replace(out, `"of": "base"`, `"of": "us"`, 1)} {
		value, err := jsonschema.UnmarshalJSON(strings.NewReader(broken))
		if err != nil || broken == out || s.Validate(value) == nil {
			t.Errorf("the schema takes it, or it is not broken (%v)", err)
		}
	}
}

// hostileName is a name that tries everything at once.
const hostileName = "a|b `c` *d* _e_ <img src=x onerror=alert(1)> [f](http://evil.example/) @everyone #1 ~~g~~ $h$ &amp; \\ \x1b[31mred\x1b[0m\nnew line\r\x00\u202egnp.exe ::error::i ##[error]j \"k\" 'l' %0A-- ]]> -->"

// hostileGate has the name wherever a name can come from a repository.
func hostileGate(t testing.TB, name string) *gate.Gate {
	t.Helper()
	place := func(rows []compare.Value) []compare.Value {
		for i := range rows {
			rows[i].At.File = "profiles/" + name + "/runs/" + name + ".csv"
			rows[i].Session, rows[i].Run = fmt.Sprint(name, i), name
		}
		return rows
	}
	crashed := place(gateRows(name, name, "score", "s", 999))[:1]
	crashed[0].SetAside, crashed[0].Reason, crashed[0].Session, crashed[0].At.Line = true, name, "crashed", 30
	stale := place(gateRows(name, name, name+" load", "W", 50))[:2]
	policy := compare.Policy{Source: name, Burden: compare.Safety, FewestRuns: 7, Entries: []compare.Entry{{Benchmark: "*", From: name}, {Benchmark: "*", Metric: "*", Cap: number(49), From: name},
		{Benchmark: "quiet", Required: func() *bool { b := true; return &b }()}}}
	proposed := compare.Policy{Source: name, Confidence: 0.9, Entries: policy.Entries[:1]}
	old := gateProfile(name, "auto", place(gateRows(name, name, "score", "s", 412)), stale)
	now := gateProfile(name, name, place(gateRows(name, name, "score", "s", 424)), stale, crashed)
	now.Settings[name], now.Conditions[name] = name, name
	gone := gateProfile(name+" 2", "auto")
	lost := gateProfile(name+" 3", "auto")
	lost.Baseline = name + " 4"
	base := gateState(name, &policy, old, gone)
	head := gateState(name, &proposed, now, lost)
	base.PolicyFile = name
	g := gateOf(t, base, head)
	if g.Outcome != gate.Failed || len(g.Reasons) < 7 || len(g.Judged) != 2 || g.Judged[0].Comparison == nil {
		t.Fatalf("the hostile gate has become harmless: %s, %d reasons", g.Outcome, len(g.Reasons))
	}
	return g
}

// Text from hostile names moves no cursor and begins no line of its own.
func TestGateTextIsHarmless(t *testing.T) {
	g := hostileGate(t, hostileName)
	for _, width := range []int{60, 80, 140} {
		out := gateText(t, g, doc.TextOptions{Width: width, Detail: true})
		for _, r := range out {
			if r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r)) {
				t.Fatalf("%d columns: %U in\n%q", width, r, out)
			}
		}
		if !strings.HasPrefix(out, "Failed: ") {
			t.Errorf("%d columns: begins with %q", width, out[:20])
		}
	}
}

// In a log of GitHub Actions no line is taken for a command.
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
		for _, l := range strings.Split(WithoutCommands(gateText(t, hostileGate(t, "::error::x ##[error]y"), doc.TextOptions{Width: width})), "\n") {
			if strings.HasPrefix(strings.TrimSpace(l), "::") || strings.Contains(l, "##[") {
				t.Errorf("%d columns: %q", width, l)
			}
		}
	}
}
