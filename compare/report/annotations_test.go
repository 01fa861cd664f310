package report

import (
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// command is the form of a workflow command as GitHub's own library writes it
// (npm, @actions/core 1.11.1, lib/command.js): within properties %, line breaks,
// colons and commas are written as %25, %0D, %0A, %3A and %2C (escapeProperty),
// within the message % and line breaks (escapeData).
var command = regexp.MustCompile(`^::(error|warning|notice) (?:file=([^,:\n]*),)?(?:line=([0-9]+),)?title=<gate>::([^\n]*)$`)

func unescaped(s string) string {
	return strings.NewReplacer("%3A", ":", "%2C", ",", "%0D", "\r", "%0A", "\n", "%25", "%").Replace(s)
}

func annotations(t *testing.T, g *gate.Gate) [][]string {
	t.Helper()
	var out [][]string
	text := rendered(t, func(w io.Writer) error { return Annotations(w, GatePage{Gate: g, Commands: typed}) })
	if text == "" {
		return nil
	}
	if !strings.HasSuffix(text, "\n") {
		t.Fatalf("no line break at the end of %q", text)
	}
	for _, l := range strings.Split(strings.TrimSuffix(text, "\n"), "\n") {
		m := command.FindStringSubmatch(l)
		if m == nil {
			t.Fatalf("%q is no workflow command", l)
		}
		out = append(out, []string{m[1], unescaped(m[2]), m[3], unescaped(m[4])})
	}
	return out
}

func TestAnnotations(t *testing.T) {
	rows := func(file string, lines ...int) *compare.Rows {
		var out compare.Rows
		for _, l := range lines {
			for _, column := range []int{2, 3} {
				out.Append(compare.Value{At: compare.Place{File: file, Line: l, Column: column}})
			}
		}
		return &out
	}
	reason := func(kind string, decides gate.Outcome, rows *compare.Rows) gate.Reason {
		return gate.Reason{Kind: kind, Profile: "cool-curve", Decides: decides, Rows: rows, Detail: "100 % gone:\nall, of it"}
	}
	g := &gate.Gate{Outcome: gate.Failed, Reasons: []gate.Reason{
		reason(gate.ReasonStale, gate.Failed, rows("profiles/a,b:c%d\ne/runs/1.csv", 2, 3, 4)),
		reason(gate.ReasonAltered, gate.Failed, rows("profiles/cool-curve/runs/2.csv", 7, 8)),
		reason(gate.ReasonNoRuns, gate.Undecided, nil),
	}, Judged: []*gate.Judgement{{Profile: "cool-curve", Outcome: gate.Failed}}}
	stale, altered := "cool-curve: "+typed.reasonText(g.Reasons[0]), "cool-curve: "+typed.reasonText(g.Reasons[1])
	want := [][]string{
		{"error", "profiles/a,b:c%d\ne/runs/1.csv", "2", stale}, // one annotation a line, although a line holds two values
		{"error", "profiles/a,b:c%d\ne/runs/1.csv", "3", stale},
		{"error", "profiles/a,b:c%d\ne/runs/1.csv", "4", stale},
		{"error", "profiles/cool-curve/runs/2.csv", "", altered}, // without a line: the rows are those of the base
		{"warning", "", "", "cool-curve: 100 % gone:all, of it"},
	}
	if d := cmp.Diff(want, annotations(t, g)); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
}

// GitHub shows ten annotations of a level, so every reason gets one before any
// gets more.
func TestAnnotationsAreShared(t *testing.T) {
	var many compare.Rows
	for l := range 40 {
		many.Append(compare.Value{At: compare.Place{File: "runs/1.csv", Line: l + 2}})
	}
	for reasons, each := range map[int]int{1: 10, 3: 3, 10: 1, 25: 1} {
		g := &gate.Gate{}
		for i := range reasons {
			g.Reasons = append(g.Reasons, gate.Reason{Kind: gate.ReasonStale, Profile: fmt.Sprint(i), Decides: gate.Failed, Rows: &many})
		}
		if got := len(annotations(t, g)); got != reasons*each {
			t.Errorf("%d reasons: %d annotations, want %d", reasons, got, reasons*each)
		}
	}
}

// The annotation of a pass states its blind spot, that of a regression the place
// of its runs.
func TestAnnotationsOfGates(t *testing.T) {
	passed := lift(t, compare.Policy{}, 402)
	want := [][]string{{"notice", "", "", "boost-lift: passed; " + blindSpotText(passed.Judged[0])}}
	if d := cmp.Diff(want, annotations(t, passed)); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	failed := lift(t, compare.Policy{}, 424)
	want = [][]string{{"error", "profiles/boost-lift/runs/1.csv", "2", "boost-lift: " + typed.reasonText(failed.Reasons[0])}}
	if d := cmp.Diff(want, annotations(t, failed)); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
}

func TestAnnotationsAreHarmless(t *testing.T) {
	g := hostileGate(t, hostileName)
	got := annotations(t, g)
	if len(got) < len(g.Reasons) {
		t.Errorf("%d annotations for %d reasons", len(got), len(g.Reasons))
	}
	for _, a := range got {
		for _, s := range a {
			if strings.ContainsAny(s, "\x1b\x00\u202e") {
				t.Errorf("%q", s)
			}
		}
	}
}
