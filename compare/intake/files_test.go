package intake

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// folder makes files, and links "a -> b", in a new folder and works there.
func folder(t *testing.T, entries ...string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for _, entry := range entries {
		name, target, link := strings.Cut(entry, " -> ")
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if link {
			if err := os.Symlink(target, name); err != nil {
				t.Skipf("no symbolic links here: %v", err)
			}
		} else if strings.HasSuffix(name, "/") {
			if err := os.MkdirAll(name, 0o755); err != nil {
				t.Fatal(err)
			}
		} else if err := os.WriteFile(name, []byte("benchmark,value\na,1\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func TestExpand(t *testing.T) {
	for _, c := range []struct {
		name    string
		entries []string
		args    []string
		want    []string
		err     string
	}{
		{name: "nothing", args: nil, want: nil},
		{name: "files in order, any ending, as often as named", entries: []string{"b.txt", "a.csv"},
			args: []string{"b.txt", "-", "a.csv", "a.csv"}, want: []string{"b.txt", "-", "a.csv", "a.csv"}},
		{name: "folder", entries: []string{"runs/b.csv", "runs/a/z.JSONL", "runs/a/y.tsv", "runs/c.ndjson", "runs/notes.txt", "runs/.hidden.csv",
			"runs/.git/x.csv", "runs/a.csv"},
			args: []string{"runs"}, want: []string{"runs/a.csv", "runs/a/y.tsv", "runs/a/z.JSONL", "runs/b.csv", "runs/c.ndjson"}},
		{name: "folder with slash", entries: []string{"runs/b.csv"}, args: []string{"runs/"}, want: []string{"runs/b.csv"}},
		{name: "folder here", entries: []string{"b.csv", ".x/c.csv"}, args: []string{"."}, want: []string{"b.csv"}},
		{name: "hidden folder by name", entries: []string{".x/c.csv"}, args: []string{".x"}, want: []string{".x/c.csv"}},
		{name: "empty folder", entries: []string{"runs/notes.txt"}, args: []string{"runs"},
			err: "runs: no runs (.csv, .tsv, .jsonl, .ndjson, .xlsx, .xlsm) in this folder; name files that end otherwise one by one"},
		{name: "folder named like a file", entries: []string{"runs/x.csv/", "runs/y.csv"}, args: []string{"runs"}, want: []string{"runs/y.csv"}},
		{name: "not there", args: []string{"runs.csv"},
			err: "runs.csv: no such file or folder; check the name, or the folder the program runs in"},
		{name: "pattern", entries: []string{"b.csv", "a.csv", "c.txt", ".d.csv"}, args: []string{"*.csv"}, want: []string{"a.csv", "b.csv"}},
		{name: "pattern for hidden files", entries: []string{"b.csv", ".d.csv"}, args: []string{".*.csv"}, want: []string{".d.csv"}},
		{name: "pattern of folders", entries: []string{"heron/a.csv", "plover/a.csv", ".old/a.csv"}, args: []string{"*/a.csv"},
			want: []string{"heron/a.csv", "plover/a.csv"}},
		{name: "pattern matches a folder", entries: []string{"runs/x/a.csv", "runs/b.csv"}, args: []string{"runs/*"},
			want: []string{"runs/b.csv", "runs/x/a.csv"}},
		{name: "pattern without match", entries: []string{"a.csv", ".b.tsv"}, args: []string{"*.tsv"},
			err: "*.tsv: no file or folder matches; check the pattern, or the folder the program runs in"},
		{name: "pattern not closed", args: []string{"[a"}, err: "[a: this pattern is not closed, expected * ? or [a-z]: syntax error in pattern"},
		{name: "file with a bracket in its name", entries: []string{"a[1].csv", "a1.csv"}, args: []string{"a[1].csv"},
			want: []string{"a[1].csv"}},
		{name: "found twice", entries: []string{"runs/a.csv", "runs/b.csv"}, args: []string{"runs", "runs/*.csv", "runs/b.csv"},
			want: []string{"runs/a.csv", "runs/b.csv"}},
		{name: "link to a folder above", entries: []string{"runs/a.csv", "runs/x/b.csv", "runs/x/up -> .."}, args: []string{"runs"},
			want: []string{"runs/a.csv", "runs/x/b.csv"}},
		{name: "link to a folder elsewhere", entries: []string{"else/a.csv", "runs/c.csv", "runs/e -> ../else"}, args: []string{"runs"},
			want: []string{"runs/c.csv"}},
		{name: "link to a file", entries: []string{"runs/a.csv", "runs/b.csv -> a.csv"}, args: []string{"runs"},
			err: filepath.Join("runs", "b.csv") + ": found a link, and links in a folder are not followed; name the file that it leads to"},
		{name: "link by name", entries: []string{"a.csv", "b.csv -> a.csv"}, args: []string{"b.csv"}, want: []string{"b.csv"}},
		{name: "link as the folder", entries: []string{"else/a.csv", "runs -> else"}, args: []string{"runs"}, want: []string{"runs/a.csv"}},
		{name: "link to nothing", entries: []string{"runs/a.csv", "runs/b -> nowhere"}, args: []string{"runs"}, want: []string{"runs/a.csv"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			folder(t, c.entries...)
			got, err := Expand(c.args)
			for i := range got {
				got[i] = filepath.ToSlash(got[i])
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("files (-want +got):\n%s", diff)
			}
			if c.err == "" && err != nil || c.err != "" && (err == nil || err.Error() != c.err) {
				t.Errorf("error %v, want %s", err, c.err)
			}
		})
	}
}
