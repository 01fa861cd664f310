package intake

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/iotest"
	"time"
	"unsafe"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
)

// show writes a value as: line:column benchmark/metric=value unit, then what
// else is stated. A missing value is a question mark.
func show(v compare.Value) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d:%d %s", v.At.Line, v.At.Column, v.Benchmark)
	if v.Metric != "" {
		fmt.Fprintf(&b, "/%s", v.Metric)
	}
	if v.Missing {
		b.WriteString("=?")
	} else {
		fmt.Fprintf(&b, "=%v", v.Value)
	}
	if v.Unit != "" {
		fmt.Fprintf(&b, " %s", v.Unit)
	}
	for _, part := range []struct{ name, text string }{
		{"better", string(v.Better)}, {"profile", v.Profile}, {"machine", v.Machine}, {"session", v.Session}, {"block", v.Block}, {"run", v.Run},
	} {
		if part.text != "" {
			fmt.Fprintf(&b, " %s=%s", part.name, part.text)
		}
	}
	if !v.Time.IsZero() {
		fmt.Fprintf(&b, " time=%s", v.Time.Format(time.RFC3339Nano))
	}
	if v.SetAside {
		fmt.Fprintf(&b, " aside=%q", v.Reason)
	}
	return b.String()
}

func collect(in string) ([]string, Tally, error) {
	var got []string
	tally, err := Read(strings.NewReader(in), "runs.csv", func(v compare.Value) error {
		if v.At.File != "runs.csv" {
			return fmt.Errorf("value at %q", v.At.File)
		}
		got = append(got, show(v))
		return nil
	})
	return got, tally, err
}

// readCase is one file and what becomes of it. Values come before the error,
// if there is one.
type readCase struct {
	name   string
	in     string
	values []string
	notes  []string
	err    string // the whole text, place included; empty: none
}

func runCases(t *testing.T, cases []readCase) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, tally, err := collect(c.in)
			if diff := cmp.Diff(c.values, got); diff != "" {
				t.Errorf("values (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(c.notes, tally.Notes); diff != "" {
				t.Errorf("notes (-want +got):\n%s", diff)
			}
			if n := tally.Values + tally.Missing + tally.SetAside; n != len(got) {
				t.Errorf("tally counts %d of %d values: %+v", n, len(got), tally)
			}
			checkError(t, err, c.err)
		})
	}
}

func checkError(t *testing.T, err error, want string) {
	t.Helper()
	if want == "" {
		if err != nil {
			t.Errorf("error %q, want none", err)
		}
		return
	}
	if err == nil {
		t.Fatalf("no error, want %q", want)
	}
	if err.Error() != want {
		t.Errorf("error\n%s\nwant\n%s", err, want)
	}
	var p *compare.PlacedError
	if !errors.As(err, &p) || p.At.File == "" {
		t.Errorf("%T carries no place", err)
	}
}

const wantHeader = `a header line such as "benchmark,unit,value", "run,tile-render [s],tile-render power [W]" or "benchmark,unit,Run ` +
	`1,Run 2,Run 3"`

func TestShape(t *testing.T) {
	runCases(t, []readCase{
		{name: "empty", in: "", err: "runs.csv: the file is empty, expected " + wantHeader},
		{name: "blank lines and separators only", in: "\n  \n;;;\r\n", err: "runs.csv: the file is empty, expected " + wantHeader},
		{name: "header only", in: "benchmark,value\n", err: "runs.csv:1:1: found a header without rows, expected at least one row below it"},
		{name: "header only, wide", in: "\ntile-render [s]",
			err: "runs.csv:2:1: found a header without rows, expected at least one row below it"},
		{name: "header only, sheet", in: "benchmark,Run 1\n,\n",
			err: "runs.csv:1:1: found a header without rows, expected at least one row below it"},
		{name: "numbers without header", in: "412,409\n411,410\n",
			err: "runs.csv:1:1: found a row of numbers, expected " + wantHeader + "; put one above"},
		{name: "one number a line", in: "412.5\n409\n", err: "runs.csv:1:1: found a row of numbers, expected " + wantHeader + "; put one above"},
		{name: "decimal commas without header", in: "412,5;409,25;411\n",
			err: "runs.csv:1:1: found a row of numbers, expected " + wantHeader + "; put one above"},
		{name: "row of a long CSV without header", in: "tile-render,s,412\n",
			err: `runs.csv:1:15: found the number "412" in the header line, expected ` + wantHeader + "; put one above"},
		{name: "row of a sheet without header", in: "tile-render,412,409,415\n",
			err: `runs.csv:1:13: found the number "412" in the header line, expected ` + wantHeader + "; put one above"},
		{name: "words only", in: "some text\nmore text\n", notes: []string{`column "some text" skipped: it holds text`},
			err: "runs.csv:1:1: found no column of numbers below this line; expected " + wantHeader},
		{name: "value without benchmark", in: "value,unit\n1,s\n",
			err: `runs.csv:1:1: found column "value" but no column "benchmark"; expected ` + wantHeader},
		{name: "value with a mistyped benchmark", in: "benchmrk,value\na,1\n",
			err: `runs.csv:1:1: column "benchmrk" is unknown and close to "benchmark"; write "benchmark" if that is meant, else rename it to ` +
				`something less alike`},
		{name: "benchmark without value", in: "unit,benchmark\ns,a\n",
			err: `runs.csv:1:6: found column "benchmark" but neither a column "value" nor run columns such as "Run 1"; expected ` + wantHeader},
		{name: "benchmark with a mistyped value", in: "benchmark,valeu\na,1\n",
			err: `runs.csv:1:11: column "valeu" is unknown and close to "value"; write "value" if that is meant, else rename it to ` +
				`something less alike`},
		{name: "value with a unit in its header", in: "benchmark,value [s]\na,1\n",
			values: []string{"2:3 a=1 s"}},
		{name: "run columns without benchmark", in: "1st,Run 1,Run 2\n7,1,2\n",
			err: `runs.csv:1:5: found the run column "Run 1" but no column "benchmark"; head the column that holds the benchmarks' ` +
				`names "benchmark"`},
		{name: "column twice", in: "benchmark,value, VALUE\na,1,2\n",
			err: `runs.csv:1:18: column 3 "VALUE" is named like column 2 "value"; rename or delete one of the two`},
		{name: "headers with a line break", in: "benchmark,\"Run\n1\",\"Run\n2\"\na,1,2\n", values: []string{"4:3 a=1", "4:5 a=2"}},
		{name: "list of JSON", in: `[{"benchmark":"a","value":1}]`,
			err: "runs.csv:1:1: found a list in brackets, expected one JSON object a line or a CSV header; write each object on a line of its " +
				"own, without the outer brackets"},
		{name: "long name in the header", in: strings.Repeat("x", maxName+1) + ",a\n1,2\n",
			err: "runs.csv:1:1: found a name of 1001 bytes, expected at most 1000; shorten it"},
		{name: "too many columns", in: strings.Repeat("a,", maxColumns) + "a\n",
			err: "runs.csv:1:32769: found 16385 columns, expected at most 16384"},
	})
}

// The reader's answer must not depend on how the file arrives.
func TestReadInPieces(t *testing.T) {
	in := "\ufeffbenchmark;unit;value;reason\r\ntile-render;°C;41,5;\r\rmesh-solve;µs;7;\"a\r\nb\"\r\n\r\nshader-build;;;é\n"
	want := []string{"2:16 tile-render=41.5 °C", "4:15 mesh-solve=7 µs", "7:15 shader-build=?"}
	whole, _, err := collect(in)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, whole); diff != "" {
		t.Errorf("at once (-want +got):\n%s", diff)
	}
	var pieces []string
	_, err = Read(iotest.OneByteReader(strings.NewReader(in)), "runs.csv", func(v compare.Value) error {
		pieces = append(pieces, show(v))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, pieces); diff != "" {
		t.Errorf("byte by byte (-want +got):\n%s", diff)
	}
}

func TestReadStopsAtCallersError(t *testing.T) {
	stop := errors.New("stop")
	for _, in := range []string{
		"benchmark,value\na,1\na,2\n",
		"a [s]\n1\n2\n",
		"benchmark,Run 1,Run 2\na,1,2\n",
		"{\"benchmark\":\"a\",\"value\":1}\n{\"benchmark\":\"a\",\"value\":2}\n",
	} {
		calls := 0
		_, err := Read(strings.NewReader(in), "runs.csv", func(compare.Value) error {
			calls++
			return stop
		})
		if err != stop || calls != 1 {
			t.Errorf("%q: %d calls, error %v", in, calls, err)
		}
	}
}

func TestReadPassesOnReadErrors(t *testing.T) {
	broken := errors.New("the disk is gone")
	for _, in := range []string{"benchmark,value\na,1\n", "{\"benchmark\":\"a\",\"value\":1}\n", "bench"} {
		r := iotest.DataErrReader(&failing{strings.NewReader(in), broken})
		_, err := Read(r, "runs.csv", func(compare.Value) error { return nil })
		if !errors.Is(err, broken) || err.Error() != "runs.csv: cannot be read: the disk is gone" {
			t.Errorf("%q: %v", in, err)
		}
	}
	if _, err := Read(silent{}, "runs.csv", func(compare.Value) error { return nil }); err == nil {
		t.Error("a reader that gives nothing for ever is not an error")
	}
}

// failing gives its text and then an error.
type failing struct {
	*strings.Reader
	err error
}

func (f *failing) Read(p []byte) (int, error) {
	if f.Len() == 0 {
		return 0, f.err
	}
	return f.Reader.Read(p)
}

// silent never gives anything.
type silent struct{}

func (silent) Read([]byte) (int, error) { return 0, nil }

func TestNotesAreBounded(t *testing.T) {
	var in strings.Builder
	in.WriteString("benchmark,value")
	for i := range 200 {
		fmt.Fprintf(&in, ",extra %d", i)
	}
	in.WriteString("\na,1" + strings.Repeat(",", 200) + "\n")
	_, tally, err := collect(in.String())
	if err != nil {
		t.Fatal(err)
	}
	if n := len(tally.Notes); n != maxNotes+1 || tally.Notes[maxNotes] != "more notes left out" {
		t.Errorf("%d notes, the last %q", n, tally.Notes[n-1])
	}
}

// Values may outlive the file by far, so they must not hold its rows in
// memory: equal names are one string.
func TestNamesAreSharedAndCopied(t *testing.T) {
	var first, second compare.Value
	n := 0
	in := "benchmark,session,value,reason\n" + strings.Repeat("tile-render,evening,1,"+strings.Repeat("x", 100)+"\n", 2)
	_, err := Read(strings.NewReader(in), "runs.csv", func(v compare.Value) error {
		first, second = second, v
		n++
		return nil
	})
	if err != nil || n != 2 {
		t.Fatal(n, err)
	}
	if !sameString(first.Benchmark, second.Benchmark) || !sameString(first.Session, second.Session) {
		t.Error("two rows hold two copies of a name")
	}
}

func sameString(a, b string) bool {
	return len(a) == len(b) && unsafe.StringData(a) == unsafe.StringData(b)
}
