package report

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/text"
	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/report/doc"
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
	Needed      *int
}

// result builds the result with these fields.
func (f fields) result() *compare.Result {
	return &compare.Result{
		Measurement: &compare.Measurement{Pair: &compare.Pair{Metric: f.Metric},
			Change: f.Change, Interval: f.Interval, Replication: f.Replication, Replicates: f.Replicates},
		Judgement: compare.Judgement{Verdict: f.Verdict, Decides: f.Decides},
		Outlook:   compare.Outlook{CanSettle: f.CanSettle, BlindSpot: f.BlindSpot, Needed: f.Needed},
	}
}

// typed holds placeholders for the names of commands and options, so that a test
// can tell a name that is passed in from one that is fixed in the text.
var typed = Commands{Init: "<init>", Compare: "<compare>", Gate: "<gate>", Doubts: "<doubts>", Reruns: "<reruns>",
	Sheet:      func(blocks, spells int) string { return fmt.Sprintf("<sheet %d %d>", blocks, spells) },
	JudgeLook:  func(look, looks int) string { return fmt.Sprintf("<look %d of %d>", look, looks) },
	LookOption: "<look>", ChangeOption: "<change>", CommitsOption: "<commits>", Uncorrected: "<alone>",
	Explain: func(err error) string { return err.Error() + " <remedy>" },
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
	found, err := doubts.OfComparison(c, before, after, policy, compare.Options{})
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
