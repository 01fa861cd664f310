package report

import (
	"encoding/json"
	"io"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// foreignSchema is a schema in fixtures: that of OASIS for SARIF, or that of a
// code-quality report. Their READMEs and descriptions name the sources.
func foreignSchema(t testing.TB, path ...string) *jsonschema.Schema {
	t.Helper()
	compiler := jsonschema.NewCompiler()
	compiler.AssertFormat()
	s, err := compiler.Compile(filepath.Join(append([]string{"..", "..", "fixtures"}, path...)...))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// sarifFile is what readers take out of a file.
type sarifFile struct {
	Runs []struct {
		Tool struct {
			Driver struct {
				Rules []struct{ ID string }
			}
		}
		Invocations []struct {
			ExitCode      int
			Notifications []struct{ Message struct{ Text string } } `json:"toolExecutionNotifications"`
		}
		Results []sarifFound
	}
}

type sarifFound struct {
	RuleID    string
	RuleIndex int
	Level     string
	Message   struct{ Text string }
	Locations []struct {
		PhysicalLocation struct {
			ArtifactLocation struct{ URI string }
			Region           struct{ StartLine int }
		}
		Message struct{ Text string }
	}
	RelatedLocations    []any
	PartialFingerprints map[string]string
	Suppressions        []struct{ Justification string }
}

func sarifOf(t testing.TB, p GatePage) sarifFile {
	t.Helper()
	out := rendered(t, func(w io.Writer) error { return GateSARIF(w, p, Origin{Version: "1.2.3"}, 1) })
	holds(t, foreignSchema(t, "sarif", "sarif-schema-2.1.0.json"), out)
	var f sarifFile
	if err := json.Unmarshal([]byte(out), &f); err != nil || len(f.Runs) != 1 {
		t.Fatalf("%v\n%s", err, out)
	}
	return f
}

type qualityFound struct {
	Description, Fingerprint, Severity string
	CheckName                          string `json:"check_name"`
	Location                           struct {
		Path  string
		Lines struct{ Begin int }
	}
}

func qualityOf(t testing.TB, p GatePage) []qualityFound {
	t.Helper()
	out := rendered(t, func(w io.Writer) error { return GateCodeQuality(w, p) })
	holds(t, foreignSchema(t, "code-quality", "code-quality.schema.json"), out)
	var found []qualityFound
	if err := json.Unmarshal([]byte(out), &found); err != nil {
		t.Fatal(err)
	}
	return found
}

// placedGate has reasons about rows, about a workbook, about a file that is gone, and
// about what the policy and the settings say.
func placedGate() GatePage {
	row := func(file, sheet string, line int) compare.Value {
		return compare.Value{At: compare.Place{File: file, Sheet: sheet, Line: line, Column: 3}}
	}
	loose := []gate.PolicyChange{
		{Kind: gate.KeyChanged, Key: "removed", Loosens: true},
		{Kind: gate.KeyChanged, Key: "burden", Loosens: true}, // which the head no longer states
		{Kind: gate.KeyChanged, Key: "cap", Metrics: []string{"tile-render power"}, Loosens: true},
		{Kind: gate.KeyChanged, Key: "tolerance", Metrics: []string{"tile-render", "mesh-solve"}, Loosens: true},
		{Kind: gate.BaselineChanged, Key: "boost-lift", Loosens: true},
		{Kind: gate.AnchorChanged, Key: "boost-lift", Loosens: true},
	}
	metric := compare.Metric{Benchmark: "tile-render", Metric: "temperature", Unit: "°C", Cap: number(93)}
	g := &gate.Gate{Base: "main (1a2b3c4)", Head: "head (5d6e7f8)", Outcome: gate.Failed, PolicyOf: "base", PolicyFile: "tunegate.toml",
		Reasons: []gate.Reason{
			{Kind: gate.ReasonCopies, Profile: "boost-lift", Detail: "factory", Decides: gate.Failed, Chance: 1e-10,
				Rows:   compare.RowsOf(row("profiles/boost-lift/runs/a b%.csv", "", 2), row("profiles/boost-lift/runs/a b%.csv", "", 2)),
				Copies: compare.RowsOf(row("profiles/factory/runs/1.csv", "", 7))},
			{Kind: gate.ReasonAltered, Profile: "factory", Detail: "main (1a2b3c4)", Decides: gate.Failed,
				Rows: compare.RowsOf(row("profiles/factory/runs/1.csv", "", 3), row("profiles/factory/runs/1.csv", "", 4))},
			{Kind: gate.ReasonCap, Profile: "boost-lift", Decides: gate.Failed, Metric: &metric, Worst: 96,
				Rows: compare.RowsOf(row("profiles/boost-lift/runs/2.xlsx", "Mon [1]", 5))},
			{Kind: gate.ReasonRemoved, Profile: "cool-curve", Decides: gate.Undecided, Agreement: gate.AgreeRemoved},
			{Kind: gate.ReasonFewRuns, Profile: "boost-lift", Decides: gate.Undecided, Names: []string{"tile-render"}, When: "before", What: "run",
				Count: 3, Limit: 4},
			{Kind: gate.ReasonPolicy, Decides: gate.Passed, Agreement: gate.AgreePolicy, Changes: loose},
		}}
	settings := func(name string) compare.Place { return compare.Place{File: "profiles/" + name + "/settings.toml"} }
	lift := &gate.Profile{Name: "boost-lift", At: settings("boost-lift"),
		BaselineAt: compare.Place{File: settings("boost-lift").File, Line: 2, Column: 1},
		AnchorAt:   compare.Place{File: settings("boost-lift").File, Line: 1, Column: 1},
		Values: compare.RowsOf(compare.Value{Benchmark: "tile-render"}, compare.Value{Benchmark: "tile-render", Metric: "power"},
			compare.Value{Benchmark: "mesh-solve"})}
	at := map[string]compare.Place{}
	for key, line := range map[string]int{"removed": 3, "metric 0": 5, "metric 0.tolerance": 6, "metric 1": 8, "metric 1.cap": 10,
		"metric 2": 12, "metric 2.tolerance": 13} {
		at[key] = compare.Place{File: "tunegate.toml", Line: line, Column: 1}
	}
	policy := compare.Policy{Entries: []compare.Entry{{Tolerance: number(5), From: "tunegate.toml:5:1"},
		{Benchmark: "tile-*", Metric: "power", Cap: number(200), From: "tunegate.toml:8:1"},
		{Benchmark: "mesh-solve", Tolerance: number(4), From: "tunegate.toml:12:1"}}}
	return GatePage{Gate: g, Commands: typed,
		Before: gate.Snapshot{Profiles: map[string]*gate.Profile{"cool-curve": {Name: "cool-curve", At: settings("cool-curve")}}},
		After: gate.Snapshot{Policy: &policy, PolicyFile: "tunegate.toml", PolicyAt: at,
			Profiles: map[string]*gate.Profile{"boost-lift": lift, "factory": {Name: "factory", At: settings("factory")}}}}
}

// Each result stands at the rows, at the line of the policy, or at the settings; a row
// of a workbook and a line of the base are no line of a file at hand.
func TestResultsStandWhereTheReasonsAre(t *testing.T) {
	p := placedGate()
	type site struct {
		path string
		line int
	}
	want := [][]site{
		{{"profiles/boost-lift/runs/a b%.csv", 2}},
		{{"profiles/factory/runs/1.csv", 0}},
		{{"profiles/boost-lift/runs/2.xlsx", 0}},
		{{"profiles/cool-curve/settings.toml", 0}},
		{{"profiles/boost-lift/settings.toml", 0}},
		{{"tunegate.toml", 3}, {"tunegate.toml", 0}, {"tunegate.toml", 10}, {"tunegate.toml", 6}, {"tunegate.toml", 13},
			{"profiles/boost-lift/settings.toml", 2}, {"profiles/boost-lift/settings.toml", 1}},
	}
	f := sarifOf(t, p).Runs[0]
	quality := qualityOf(t, p)
	for i, r := range f.Results {
		var got []site
		for _, l := range r.Locations {
			uri, err := url.Parse(l.PhysicalLocation.ArtifactLocation.URI)
			if err != nil || uri.IsAbs() || strings.HasPrefix(uri.Path, "/") {
				t.Fatalf("%v: %v", l, err)
			}
			got = append(got, site{uri.Path, l.PhysicalLocation.Region.StartLine})
		}
		if d := cmp.Diff(want[i], got, cmp.AllowUnexported(site{})); d != "" {
			t.Errorf("%s (-want +got)\n%s", r.RuleID, d)
		}
		at := quality[i].Location
		if first := want[i][0]; at.Path != first.path || i != 2 && at.Lines.Begin != max(first.line, 1) {
			t.Errorf("%s: the code-quality report has %+v, want %+v", r.RuleID, at, first)
		}
		if f.Tool.Driver.Rules[r.RuleIndex].ID != r.RuleID {
			t.Errorf("%s: rule %d is %s", r.RuleID, r.RuleIndex, f.Tool.Driver.Rules[r.RuleIndex].ID)
		}
	}
	if got := f.Results[2].Locations[0].Message.Text; got != `sheet Mon \[1\], row 5` || quality[2].Location.Lines.Begin != 5 {
		t.Errorf("the workbook's row is %q", got)
	}
	if len(f.Results[0].RelatedLocations) != 1 {
		t.Errorf("the rows that are repeated: %v", f.Results[0].RelatedLocations)
	}
	if s := f.Results[5].Suppressions; len(s) != 1 || s[0].Justification != "agreed: policy" {
		t.Errorf("what was agreed to is %+v", s)
	}
}

// Levels and severities say what a reason makes of the gate.
func TestLevelsOfResults(t *testing.T) {
	p := placedGate()
	var got []string
	quality := qualityOf(t, p)
	for i, r := range sarifOf(t, p).Runs[0].Results {
		if quality[i].CheckName != r.RuleID || quality[i].Fingerprint != r.PartialFingerprints["tunegateReason/v1"] {
			t.Errorf("%+v and %+v", quality[i], r)
		}
		got = append(got, r.Level+" "+quality[i].Severity)
	}
	want := []string{"error blocker", "error blocker", "error blocker", "warning major", "warning major", "note info"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// A forge knows a reason again when lines moved, a size changed, another base is named
// or the files were renamed; no two reasons of a gate have one name.
func TestFingerprintsStay(t *testing.T) {
	a, b := placedGate(), placedGate()
	b.Base = "main (ffffff0)"
	for i := range b.Reasons {
		r := &b.Reasons[i]
		moved := r.Rows.List()
		for k := range moved {
			moved[k].At.Line += 40
			moved[k].At.File += ".csv"
		}
		r.Rows = compare.RowsOf(moved...)
		r.Worst, r.Count, r.Chance = r.Worst+1, r.Count+1, 1e-6
		if r.Kind == gate.ReasonAltered {
			r.Detail = b.Base
		}
		r.Decides = gate.Failed
	}
	if d := cmp.Diff(fingerprints(a.Reasons), fingerprints(b.Reasons)); d != "" {
		t.Error(d)
	}
	other := placedGate()
	other.Reasons[0].Detail, other.Reasons[1].Profile = "cool-curve", "heron"
	other.Reasons[2].Metric = &compare.Metric{Benchmark: "mesh-solve"}
	other.Reasons[3].Kind, other.Reasons[4].When, other.Reasons[5].Changes = gate.ReasonNew, "now", other.Reasons[5].Changes[:1]
	all := fingerprints(slices.Concat(a.Reasons, other.Reasons, a.Reasons[:1]))
	if seen := slices.Compact(slices.Sorted(slices.Values(all))); len(seen) != len(all) {
		t.Errorf("%d names for %d reasons", len(seen), len(all))
	}
	for _, s := range all {
		if !regexp.MustCompile(`^[0-9a-f]{32}$`).MatchString(s) {
			t.Error(s)
		}
	}
}

// Whatever a gate says, both files hold to their schemas, and say all of it.
func TestGateFilesHoldToTheirSchemas(t *testing.T) {
	old := gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412))
	for name, g := range map[string]*gate.Gate{
		"passed":     lift(t, compare.Policy{}, 402),
		"failed":     lift(t, compare.Policy{FewestRuns: 7}, 424),
		"undecided":  lift(t, compare.Policy{WidestBlindSpot: number(0.01)}, 402),
		"no runs":    gateOf(t, gateState("main", nil, old), gateState("head", nil, gateProfile("factory", "fixed"))),
		"no policy":  gateOf(t, gateState("main", nil, old), gateState("head", nil, old)),
		"hostile":    hostileGate(t, hostileName),
		"no reason":  {Outcome: gate.Passed},
		"not placed": {Outcome: gate.Failed, Reasons: []gate.Reason{{Kind: gate.ReasonNoRuns, Profile: "factory", Decides: gate.Failed}}},
	} {
		p := GatePage{Gate: g, Commands: typed}
		f := sarifOf(t, p).Runs[0]
		if len(f.Results) != len(g.Reasons) || len(qualityOf(t, p)) != len(g.Reasons) || f.Invocations[0].ExitCode != 1 {
			t.Errorf("%s: %d results, %d reasons", name, len(f.Results), len(g.Reasons))
		}
		if got := f.Invocations[0].Notifications; got[0].Message.Text != sarifMessage(GateClosing(g)).Text ||
			name == "passed" && got[1].Message.Text != "boost-lift: "+blindSpotText(g.Judged[0]) {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// In a message no name makes a link or stands for an argument (SARIF 2.1.0, 3.11.5 and
// 3.11.6, from memory).
func TestMessagesAreHarmless(t *testing.T) {
	for in, want := range map[string]string{
		"[f](http://evil.example/)": `\[f\](http://evil.example/)`, `\[f](1)`: `\\\[f\](1)`, "{0}": "{{0}}", "1.79 % slower": "1.79 % slower",
	} {
		if got := sarifMessage(in).Text; got != want {
			t.Errorf("%q is written %q, want %q", in, got, want)
		}
	}
	p := GatePage{Gate: hostileGate(t, hostileName), Commands: typed}
	checkPrintable(t, "SARIF", rendered(t, func(w io.Writer) error { return GateSARIF(w, p, Origin{}, 1) }))
	f := sarifOf(t, p).Runs[0]
	texts := each(f.Results, func(r sarifFound) string { return r.Message.Text })
	for _, n := range f.Invocations[0].Notifications {
		texts = append(texts, n.Message.Text)
	}
	for _, text := range texts {
		if regexp.MustCompile(`(^|[^\\])\[`).MatchString(text) {
			t.Errorf("a name makes a link in %q", text)
		}
	}
	checkPrintable(t, "code quality", rendered(t, func(w io.Writer) error { return GateCodeQuality(w, p) }))
}

// Every kind of reason is a rule that says what it found and what to do.
func TestEveryReasonIsARule(t *testing.T) {
	rules := GateRules()
	if len(rules) != len(gateRules) {
		t.Errorf("%d rules have a text, and there are %d kinds of reasons", len(gateRules), len(rules))
	}
	for _, r := range rules {
		if r.ID == "" || r.Says == "" || r.Do == "" || strings.ContainsAny(r.Says+r.Do, "[]{}|") {
			t.Errorf("%+v", r)
		}
	}
}
