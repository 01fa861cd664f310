package intake

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tunegate/compare"
)

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestReadFiles(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "factory.csv", "benchmark,unit,Run 1,Run 2,Average\na,s,5,,5\n")
	write(t, "boost-lift.csv", "benchmark,Run 1,Average,Min\na,6,6,6\n")
	write(t, "mixed.jsonl", `{"benchmark":"a","value":7,"profile":"cool-curve"}`+"\n"+
		`{"benchmark":"a","value":8,"valid":false,"reason":"fan"}`+"\n")
	var got []string
	tally, err := ReadFiles([]string{"factory.csv", "boost-lift.csv", "mixed.jsonl", "-"}, strings.NewReader("a [s]\n9\n"), Reading{},
		func(v compare.Value) error {
			got = append(got, v.At.File+": "+show(v))
			return nil
		})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"factory.csv: 2:5 a=5 s profile=factory",
		"factory.csv: 2:7 a=? s profile=factory",
		"boost-lift.csv: 2:3 a=6 profile=boost-lift",
		"mixed.jsonl: 1:26 a=7 profile=cool-curve",
		`mixed.jsonl: 2:26 a=8 profile=mixed aside="fan"`,
		"standard input: 2:1 a=9 s profile=stdin",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("values (-want +got):\n%s", diff)
	}
	average, lowest := `column "Average" skipped: it is the mean of the runs`, `column "Min" skipped: it is the smallest of the runs`
	if diff := cmp.Diff(Tally{Values: 4, Missing: 1, SetAside: 1, Notes: []string{
		"2 of 4 files, such as factory.csv: " + average,
		"boost-lift.csv: " + lowest,
	}}, tally, cmpopts.IgnoreUnexported(Tally{})); diff != "" {
		t.Errorf("tally (-want +got):\n%s", diff)
	}
}

func TestReadFilesGivesProfiles(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{"heron/1.csv", "heron/2.csv", "plover/1.csv"} {
		write(t, name, "benchmark,value,remarks\na,1,\n")
	}
	files, err := Expand([]string{"heron", "plover"})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	byFolder := func(path string) string { return filepath.Base(filepath.Dir(path)) }
	tally, err := ReadFiles(files, nil, Reading{ProfileOf: byFolder}, func(v compare.Value) error {
		got = append(got, v.Profile)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"heron", "heron", "plover"}, got); diff != "" {
		t.Errorf("profiles (-want +got):\n%s", diff)
	}
	want := []string{`3 files: column "remarks" skipped: its name is none of those known`}
	if diff := cmp.Diff(want, tally.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
}

func TestReadFilesErrors(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "good.csv", "benchmark,value,remarks\na,1,\n")
	write(t, "bad.csv", "benchmark,value\na,1\na,fast\n")
	if err := os.Mkdir("runs", 0o755); err != nil {
		t.Fatal(err)
	}
	ignore := func(compare.Value) error { return nil }

	tally, err := ReadFiles([]string{"good.csv", "bad.csv", "good.csv"}, nil, Reading{}, ignore)
	checkError(t, err, `bad.csv:3:3: found "fast", expected a number; `+acceptedNumbers+"; "+leaveEmpty)
	if tally.Values != 2 || len(tally.Notes) != 1 {
		t.Errorf("tally before the error: %+v", tally)
	}

	_, err = ReadFiles([]string{"-"}, strings.NewReader("benchmark,value\na,x\n"), Reading{}, ignore)
	if err == nil || !strings.HasPrefix(err.Error(), `standard input:2:3: found "x"`) {
		t.Errorf("%v, want it placed in standard input", err)
	}

	for _, c := range []struct {
		paths []string
		want  string
	}{
		{[]string{"-", "-"}, `"-" stands twice among the files, but standard input can be read once only; name it once`},
		{[]string{"runs"}, "runs: found a folder, expected a file"},
	} {
		if _, err := ReadFiles(c.paths, strings.NewReader("a [s]\n1\n"), Reading{}, ignore); err == nil || err.Error() != c.want {
			t.Errorf("%v: %v, want %s", c.paths, err, c.want)
		}
	}
	if _, err := ReadFiles([]string{"-"}, nil, Reading{}, ignore); err == nil ||
		err.Error() != "standard input is not there to be read; name a file instead of -" {
		t.Errorf("no standard input: %v", err)
	}
	if _, err := ReadFiles([]string{"nowhere.csv"}, nil, Reading{}, ignore); !errors.Is(err, fs.ErrNotExist) ||
		!strings.HasPrefix(err.Error(), "nowhere.csv: cannot be opened: ") {
		t.Errorf("missing file: %v", err)
	}
}

func TestProfileName(t *testing.T) {
	for path, want := range map[string]string{
		"-": "stdin", "factory.csv": "factory", "runs/fixed-all.tight-ram.jsonl": "fixed-all.tight-ram", "plain": "plain", ".csv": ".csv",
	} {
		if got := ProfileName(path); got != want {
			t.Errorf("ProfileName(%q) = %q, want %q", path, got, want)
		}
	}
}

func TestNotesOfFilesThatSayAlike(t *testing.T) {
	t.Chdir(t.TempDir())
	const table = "benchmark,unit,Lauf 1\na,s,1\n"
	write(t, "a.csv", "heron\n"+table)
	write(t, "b.csv", "plover\nnovember\n"+table)
	write(t, "c.csv", table)
	read := func(names ...string) Tally {
		tally, err := ReadFiles(names, nil, Reading{}, func(compare.Value) error { return nil })
		if err != nil {
			t.Fatal(err)
		}
		return tally
	}
	header := `benchmarks down, runs across; runs are "Lauf 1"`
	for _, c := range []struct{ got, want []string }{
		{read("a.csv", "b.csv").Notes, []string{"2 files, as in a.csv: the header is in line 2: " + header,
			`2 files, as in a.csv: 1 row skipped, which holds no runs: "heron"`}},
		{JoinNotes(read("a.csv"), read("b.csv", "c.csv")), []string{"3 files, as in a.csv: the header is in line 2: " + header,
			`2 of 3 files, as in a.csv: 1 row skipped, which holds no runs: "heron"`}},
		{read("c.csv", "c.csv").Notes, []string{"2 files: the header is in line 1: " + header}},
	} {
		if diff := cmp.Diff(c.want, c.got); diff != "" {
			t.Errorf("notes (-want +got):\n%s", diff)
		}
	}
}
