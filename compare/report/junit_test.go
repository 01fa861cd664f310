package report

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// junitFile is the JUnit form as it is commonly read (common practice, from
// memory): fixtures/junit/junit.xsd says the same.
type junitFile struct {
	XMLName  xml.Name `xml:"testsuites"`
	Tests    int      `xml:"tests,attr"`
	Failures int      `xml:"failures,attr"`
	Suites   []struct {
		Name     string `xml:"name,attr"`
		Tests    int    `xml:"tests,attr"`
		Failures int    `xml:"failures,attr"`
		Errors   int    `xml:"errors,attr"`
		Cases    []struct {
			Name     string `xml:"name,attr"`
			Class    string `xml:"classname,attr"`
			Failures []struct {
				Message string `xml:"message,attr"`
				Type    string `xml:"type,attr"`
				Text    string `xml:",chardata"`
			} `xml:"failure"`
			Out string `xml:"system-out"`
		} `xml:"testcase"`
		Out string `xml:"system-out"`
	} `xml:"testsuite"`
}

// readJUnit parses a file and checks that its counts add up.
func readJUnit(t *testing.T, write func(io.Writer) error) junitFile {
	t.Helper()
	out := rendered(t, write)
	d := xml.NewDecoder(strings.NewReader(out))
	d.Strict = true
	var f junitFile
	if err := d.Decode(&f); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	tests, failures := 0, 0
	for _, s := range f.Suites {
		failed := 0
		for _, c := range s.Cases {
			if len(c.Failures) > 1 {
				t.Errorf("case %q has %d failures, want one at most", c.Name, len(c.Failures))
			}
			failed += len(c.Failures)
			if c.Name == "" || c.Class == "" {
				t.Errorf("a case without a name or class: %+v", c)
			}
		}
		if s.Tests != len(s.Cases) || s.Failures != failed || s.Errors != 0 {
			t.Errorf("suite %q says %d, %d, %d; there are %d cases, %d failed", s.Name, s.Tests, s.Failures, s.Errors, len(s.Cases), failed)
		}
		tests, failures = tests+s.Tests, failures+s.Failures
	}
	if f.Tests != tests || f.Failures != failures {
		t.Errorf("the file says %d and %d, its suites %d and %d", f.Tests, f.Failures, tests, failures)
	}
	return f
}

// cases lists the cases as suite/case, with the type of a failure.
func (f junitFile) cases() []string {
	out := []string{}
	for _, s := range f.Suites {
		for _, c := range s.Cases {
			line := s.Name + "/" + c.Name
			for _, x := range c.Failures {
				line += ": " + x.Type
			}
			out = append(out, line)
		}
	}
	return out
}

func TestGateJUnit(t *testing.T) {
	old := gateProfile("factory", "auto", gateRows("factory", "tile-render", "score", "s", 412))
	capped := compare.Policy{Entries: []compare.Entry{
		{Benchmark: "*"},
		{Benchmark: "*", Metric: "power", Cap: number(190), Tolerance: number(5)},
	}}
	for _, c := range []struct {
		name string
		g    *gate.Gate
		want []string
	}{
		{"passed", lift(t, compare.Policy{}, 402), []string{"boost-lift/new profile", "boost-lift/tile-render"}},
		{"regression", lift(t, compare.Policy{}, 424), []string{"boost-lift/new profile", "boost-lift/tile-render: regression"}},
		{
			"a cost that decides, and a cap", lift(t, capped, 402),
			[]string{"boost-lift/new profile: cap", "boost-lift/tile-render", "boost-lift/tile-render power: rise"},
		},
		{
			"several reasons, one failure", lift(t, compare.Policy{FewestRuns: 7, WidestBlindSpot: number(0.01)}, 424),
			[]string{"boost-lift/new profile", "boost-lift/tile-render: regression"},
		},
		{
			"undecided", lift(t, compare.Policy{WidestBlindSpot: number(0.01)}, 402),
			[]string{"boost-lift/new profile", "boost-lift/tile-render: undecided"},
		},
		{
			"no comparison",
			gateOf(t, gateState("main", nil, old), gateState("head", nil, gateProfile("factory", "fixed"))),
			[]string{"factory/settings changed: no-runs"},
		},
		{
			"about a score without comparison",
			gateOf(t, gateState("main", nil), gateState("head", &compare.Policy{FewestRuns: 9}, old)),
			[]string{"factory/new profile: too-few-runs"},
		},
		{"nothing to judge", gateOf(t, gateState("main", nil, old), gateState("head", nil, old)), []string{}},
	} {
		f := readJUnit(t, func(w io.Writer) error { return GateJUnit(w, GatePage{Gate: c.g, Commands: typed}) })
		if d := cmp.Diff(c.want, f.cases()); d != "" {
			t.Errorf("%s: -want +got\n%s", c.name, d)
		}
		if (f.Failures > 0) != (c.g.Outcome != gate.Passed) {
			t.Errorf("%s: %d failures, but the gate has %s", c.name, f.Failures, c.g.Outcome)
		}
	}
	g := lift(t, compare.Policy{FewestRuns: 7}, 424)
	f := readJUnit(t, func(w io.Writer) error { return GateJUnit(w, GatePage{Gate: g, Commands: typed}) })
	failure := f.Suites[0].Cases[1].Failures[0]
	if failure.Message != typed.reasonText(g.Reasons[0]) ||
		!strings.Contains(failure.Text, "profiles/boost-lift/runs/1.csv:2") ||
		!strings.Contains(failure.Text, typed.reasonText(g.Reasons[2])) {
		t.Errorf("%+v", failure)
	}
	const judged = "new profile, judged against factory (lift: auto before, two notches now)"
	if out := f.Suites[0].Out; !strings.Contains(out, judged) || !strings.Contains(out, blindSpotText(g.Judged[0])) {
		t.Errorf("the suite says %q", out)
	}
}

func TestJUnitOfAComparison(t *testing.T) {
	for seconds, want := range map[float64][]string{
		402: {"factory to boost-lift/tile-render"},
		424: {"factory to boost-lift/tile-render: regression"},
	} {
		c := lift(t, compare.Policy{}, seconds).Judged[0].Comparison
		f := readJUnit(t, func(w io.Writer) error { return JUnit(w, c) })
		if d := cmp.Diff(want, f.cases()); d != "" {
			t.Error(d)
		}
		if f.Suites[0].Out != Closing(c) {
			t.Errorf("the suite says %q", f.Suites[0].Out)
		}
	}
}

// Two metrics can have the same printed name; each keeps its own reasons.
func TestJUnitTellsNamesApart(t *testing.T) {
	old := gateProfile("factory", "auto",
		gateRows("factory", "tile-render power", "score", "s", 412),
		gateRows("factory", "tile-render", "power", "s", 187))
	now := gateProfile("boost-lift", "two notches",
		gateRows("boost-lift", "tile-render power", "score", "s", 402),
		gateRows("boost-lift", "tile-render", "power", "s", 204))
	now.Baseline = "factory"
	g := gateOf(t, gateState("main", nil, old), gateState("head", nil, old, now))
	f := readJUnit(t, func(w io.Writer) error { return GateJUnit(w, GatePage{Gate: g, Commands: typed}) })
	want := []string{"boost-lift/new profile", "boost-lift/tile-render power", "boost-lift/tile-render power: regression",
		"boost-lift/suite: regression"}
	if d := cmp.Diff(want, f.cases()); d != "" {
		t.Error(d)
	}
}

func TestJUnitIsHarmless(t *testing.T) {
	f := readJUnit(t, func(w io.Writer) error {
		return GateJUnit(w, GatePage{Gate: hostileGate(t, hostileName), Commands: typed})
	})
	name := Clean(hostileName)
	if f.Suites[0].Name != name || f.Suites[0].Cases[1].Name != name {
		t.Errorf("%q, %q, want %q", f.Suites[0].Name, f.Suites[0].Cases[1].Name, name)
	}
	// Not every character is allowed in XML, not even escaped.
	odd := readJUnit(t, func(w io.Writer) error {
		return GateJUnit(w, GatePage{Gate: hostileGate(t, "a\uffff\ufffe\xff\x01b"), Commands: typed})
	})
	got := odd.Suites[0].Name
	if !strings.HasPrefix(got, "a") || !strings.HasSuffix(got, "b") || strings.ContainsAny(got, "\x01\uffff\ufffe") {
		t.Errorf("%q", got)
	}
}
