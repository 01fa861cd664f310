package report

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/gate"
	"tunegate/compare/report/doc"
	"tunegate/compare/report/schema"
)

// fields are the fields that a test sets in a result it builds.
type fields struct {
	Metric      compare.Metric
	Change      float64
	Interval    *[2]float64
	Replication compare.Replication
	Replicates  [2]int
	Verdict     *compare.Verdict
	Decides     bool
	CanSettle   bool
	BlindSpot   *float64
	Settle      int // values a side, or blocks; 0 for none
}

// result builds the result with these fields.
func (f fields) result() *compare.Result {
	var needs []compare.Need
	if f.Settle > 0 {
		needs = []compare.Need{{Question: compare.ToSettle, Size: f.Settle}}
	}
	return &compare.Result{
		Measurement: &compare.Measurement{Pair: &compare.Pair{Metric: f.Metric},
			Change: f.Change, Interval: f.Interval, Replication: f.Replication, Replicates: f.Replicates},
		Judgement: compare.Judgement{Verdict: f.Verdict, Decides: f.Decides},
		Outlook:   compare.Outlook{CanSettle: f.CanSettle, BlindSpot: f.BlindSpot, Needs: needs},
	}
}

// typed holds placeholders for the names of commands and options, so that a test
// can tell a name that is passed in from one that is fixed in the text.
var typed = Commands{Init: "<init>", Compare: "<compare>", Gate: "<gate>", Agree: func(to string) string { return "<agree to " + to + ">" },
	Doubts: "<doubts>", Reruns: "<reruns>",
	Sheet:      func(blocks, spells int) string { return fmt.Sprintf("<sheet %d %d>", blocks, spells) },
	JudgeLook:  func(look int) string { return fmt.Sprintf("<look %d>", look) },
	RunMinutes: "<run minutes>", SessionMinutes: "<session minutes>",
	ChangeOption: "<change>", CommitsOption: "<commits>",
	Confidence: func(percent string, alone bool) string { return fmt.Sprintf("<%s %% alone %v>", percent, alone) },
	Explain:    func(err error) string { return err.Error() + " <remedy>" },
}

// compared judges two profiles and checks their data for doubts, as the program
// does.
func compared(t testing.TB, runs *compare.Runs, names [2]string, policy compare.Policy) ComparisonPage {
	t.Helper()
	before, after := runs.Profile(names[0]), runs.Profile(names[1])
	c, err := compare.Compare(before, after, names, policy, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	found, err := doubts.OfComparison(doubts.Compared{Comparison: c, Before: before, After: after}, policy, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return ComparisonPage{Comparison: c, Doubts: found, Commands: typed}
}

// columns is the width of a printed line without its colour codes.
func columns(line string) int { return text.StringWidthWithoutEscSequences(line) }

// longName is the name of a benchmark that cannot be wrapped at a blank.
const longName = "a-name-without-any-blank-that-goes-on-and-on-for-ever-and-a-day"

func rendered(t testing.TB, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func textOf(t testing.TB, d doc.Document, opt doc.TextOptions) string {
	t.Helper()
	return rendered(t, func(w io.Writer) error { return doc.Text(w, d, opt) })
}

func markdownOf(t testing.TB, d doc.Document) string {
	t.Helper()
	return rendered(t, func(w io.Writer) error { return doc.Markdown(w, d) })
}

func pageOf(t testing.TB, d doc.Document) string {
	t.Helper()
	return rendered(t, func(w io.Writer) error { return Page(w, d) })
}

// add adds a value that must be valid.
func add(t rapid.TB, runs *compare.Runs, v compare.Value) {
	t.Helper()
	if err := runs.Add(v); err != nil {
		t.Fatal(err)
	}
}

// checkOrder fails unless the parts follow each other in the output.
func checkOrder(t testing.TB, out string, parts ...string) {
	t.Helper()
	at := 0
	for _, part := range parts {
		i := strings.Index(out[at:], part)
		if i < 0 {
			t.Fatalf("%q is missing, or comes before the part that should precede it, in\n%s", part, out)
		}
		at += i
	}
}

// checkContains fails for each part that the output lacks.
func checkContains(t testing.TB, out string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if !strings.Contains(out, part) {
			t.Errorf("%q is not in\n%s", part, out)
		}
	}
}

// checkWidth fails for each line that is wider than the given columns.
func checkWidth(t rapid.TB, out string, width int) {
	t.Helper()
	for i, line := range strings.Split(out, "\n") {
		if columns(line) > width {
			t.Errorf("line %d takes %d columns of %d: %q", i+1, columns(line), width, line)
		}
	}
}

// checkPrintable fails if the output holds a control or format character
// other than a line break.
func checkPrintable(t testing.TB, what, out string) {
	t.Helper()
	for _, r := range out {
		if r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r)) {
			t.Errorf("%s: %U in\n%q", what, r, out)
			return
		}
	}
}

// gateRows are six sessions of a metric within 0.25 % of a level, from line 2 of
// a runs file.
func gateRows(profile, benchmark, metric, unit string, level float64) []compare.Value {
	var out []compare.Value
	for i, scatter := range []float64{0.9975, 0.9990, 0.9995, 1.0005, 1.0010, 1.0025} {
		out = append(out, compare.Value{Benchmark: benchmark, Metric: metric, Unit: unit,
			Session: fmt.Sprint(profile, " ", i+1), Value: level * scatter,
			At: compare.Place{File: "profiles/" + profile + "/runs/1.csv", Line: i + 2, Column: 2}})
	}
	return out
}

func gateProfile(name, lift string, rows ...[]compare.Value) *gate.Profile {
	p := &gate.Profile{Name: name, Settings: map[string]string{"lift": lift}, Conditions: map[string]string{},
		At: compare.Place{File: "profiles/" + name + "/settings.toml"}, Values: compare.RowsOf(slices.Concat(rows...)...)}
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

// lift gates a new profile boost-lift, whose tile-render takes the given seconds,
// against factory, where it takes 412 s.
func lift(t testing.TB, policy compare.Policy, seconds float64, more ...[]compare.Value) *gate.Gate {
	t.Helper()
	old := gateProfile("factory", "auto",
		gateRows("factory", "tile-render", "score", "s", 412),
		gateRows("factory", "tile-render", "power", "W", 187))
	now := gateProfile("boost-lift", "two notches", append(more,
		gateRows("boost-lift", "tile-render", "score", "s", seconds),
		gateRows("boost-lift", "tile-render", "power", "W", 204))...)
	now.Baseline = "factory"
	return gateOf(t, gateState("main (1a2b3c4)", &policy, old), gateState("the working tree", &policy, old, now))
}

func gateText(t testing.TB, g *gate.Gate, opt doc.TextOptions) string {
	t.Helper()
	return textOf(t, GateDocument(GatePage{Gate: g, Commands: typed}, Origin{}), opt)
}

// gateJSONOf writes a gate with an exit status; its comparisons have status 1.
func gateJSONOf(w io.Writer, g *gate.Gate, status int) error {
	return GateJSON(w, GatePage{Gate: g, Commands: typed}, status, func(*compare.Comparison) int { return 1 })
}

func number(v float64) *float64 { return &v }

// schemaOf compiles a schema, given its file's name, with all others loaded.
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
		own := "mem:///" + doc.(map[string]any)["$id"].(string) // else it would be a file of this folder
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

// hostileName holds markup, terminal escapes and workflow commands of many kinds.
const hostileName = "a|b `c` *d* _e_ <img src=x onerror=alert(1)> [f](http://evil.example/) @everyone #1 ~~g~~ $h$ &amp; \\ " +
	"\x1b[31mred\x1b[0m\nnew line\r\x00\u202egnp.exe ::error::i ##[error]j \"k\" 'l' %0A-- ]]> -->"

// hostileGate uses the name wherever a repository can hold one.
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
	required := true
	policy := compare.Policy{Source: name, Burden: compare.Safety, FewestRuns: 7, Entries: []compare.Entry{
		{Benchmark: "*", From: name},
		{Benchmark: "*", Metric: "*", Cap: number(49), From: name},
		{Benchmark: "quiet", Required: &required},
	}}
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
