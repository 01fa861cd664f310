package intake

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare/gate"
)

// apart is a repository whose branches main and feature each went on after they
// parted: feature has more runs of factory, main another policy and cool-curve.
func apart(t testing.TB) *gitRepo {
	r := plain(t)
	r.git("checkout", "-q", "-b", "feature")
	r.write("profiles/factory/runs/more.csv", runs(413))
	r.commit("more runs")
	r.git("checkout", "-q", "main")
	r.write("tunegate.toml", "confidence = 99\n")
	r.write("profiles/cool-curve/runs/more.csv", runs(404))
	r.commit("main goes on")
	r.git("checkout", "-q", "feature")
	return r
}

// everything lists the files of a folder with their sizes and times.
func everything(t testing.TB, folder string) (out []string) {
	t.Helper()
	err := filepath.WalkDir(folder, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err == nil {
			out = append(out, name+" "+info.ModTime().String())
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// What is judged is the merge that would land, under the policy of the tip; the
// repository stays as it is, and so does the folder for temporary files.
func TestLoadJudgesTheMerge(t *testing.T) {
	r := apart(t)
	temporary := t.TempDir()
	for _, name := range []string{"TMPDIR", "TMP", "TEMP"} {
		setenv(t, name, temporary)
	}
	was := everything(t, r.path(".git"))
	for _, head := range []string{"", "feature"} {
		before, after := r.mustLoad("main", head)
		if before.Policy.Confidence != 0.99 || after.Policy.Confidence != 0.99 {
			t.Errorf("head %q: confidence %v and %v", head, before.Policy.Confidence, after.Policy.Confidence)
		}
		wantTold(t, "before", before, "cool-curve: lift=low",
			"factory: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3 415@factory/runs/first.csv:4")
		wantTold(t, "after", after, "cool-curve: lift=low", "factory: lift=auto 412@factory/runs/first.csv:2 "+
			"409@factory/runs/first.csv:3 415@factory/runs/first.csv:4 413@factory/runs/more.csv:2")
		if len(after.Notes) > 0 {
			t.Errorf("head %q: notes %v", head, after.Notes)
		}
	}
	if diff := cmp.Diff(was, everything(t, r.path(".git"))); diff != "" {
		t.Errorf("the repository was written to (-before +after):\n%s", diff)
	}
	if left := everything(t, temporary); len(left) > 1 {
		t.Errorf("left behind: %v", left)
	}
}

// A conflict stays one, whatever merge drivers the request brings and the
// machine is configured to use.
func TestLoadConflict(t *testing.T) {
	r := apart(t)
	r.write(".gitattributes", "* merge=union\n")
	r.write("tunegate.toml", "confidence = 90\n")
	r.commit("another confidence")
	r.git("config", "--global", "merge.default", "union")
	r.git("config", "--global", "core.attributesFile", r.path(".gitattributes"))
	if out, err := r.try("merge-tree", "--write-tree", "main", "feature"); err != nil {
		t.Fatalf("git itself finds a conflict, so there is nothing to see here: %s", out)
	}
	_, _, err := r.load("main", "feature")
	wantError(t, err, "feature (", "cannot be merged into main: both changed \"tunegate.toml\"",
		"merge main into it, settle the conflict, and commit")
}

func TestLoadWantsTheTip(t *testing.T) {
	want := func(r *gitRepo, head string, dirty bool, parts ...string) {
		t.Helper()
		_, _, err := r.load("main", head)
		wantError(t, err, parts...)
		var e *NotMergedError
		if !errors.As(err, &e) || e.Dirty != dirty {
			t.Errorf("%#v", err)
		}
	}
	r := apart(t)
	r.write("README.md", "not read, so nothing differs\n")
	r.write("download.csv", runs(1))
	r.mustLoad("main", "")
	r.write("profiles/factory/runs/third.csv", runs(414))
	want(r, "", true, "not committed, and HEAD (", "does not hold main (", "commit them, or run: git merge main")
	r.git("merge", "-q", "main")
	_, after := r.mustLoad("main", "")
	if after.Profiles["factory"].Values.Len() != 5 || !cmp.Equal([]gate.Note{{Kind: gate.NoteNotCommitted}}, after.Notes) {
		t.Errorf("%v %v", described(after), after.Notes)
	}

	r = apart(t)
	fakeGit(t, "[ $verb != version ] || { echo git version 2.37.4; exit 0; }")
	want(r, "", false, "HEAD (", "does not hold main (", "too old to merge them", "run: git merge main")
	want(r, "feature", false, "feature (", "does not hold main (")
	r.git("merge", "-q", "main")
	r.mustLoad("main", "")
	r.mustLoad("main", "feature")
}

// A base that holds the head leaves nothing to judge.
func TestNothingToMerge(t *testing.T) {
	r := apart(t)
	r.git("checkout", "-q", "main")
	r.git("merge", "-q", "feature")
	for _, c := range []struct{ base, head, want string }{
		{"main", "", "are the same commit"}, {"main", "main", "are the same commit"}, {"main", "HEAD", "are the same commit"},
		{"main", "feature", "already holds feature ("},
	} {
		_, _, err := r.load(c.base, c.head)
		wantError(t, err, "main (", c.want, "compare with the one before it, main~1")
	}
	r.mustLoad("main~1", "main")
	r.git("checkout", "-q", "feature") // its tree is clean
	_, _, err := r.load("main", "")
	wantError(t, err, "already holds HEAD (")
	r.write("profiles/factory/runs/third.csv", runs(414))
	_, _, err = r.load("main", "")
	wantError(t, err, "does not hold main (", "run: git merge main")
}

// A base that lies behind is said.
func TestBaseIsNoTip(t *testing.T) {
	r := plain(t)
	r.git("checkout", "-q", "-b", "feature")
	r.profile("factory", "auto", 412, 409, 415, 413)
	r.commit("one more")
	r.profile("factory", "auto", 412, 409, 415, 413, 414)
	r.commit("two more")
	for base, want := range map[string][]gate.Note{"main": nil, "HEAD~1": {{Kind: gate.NoteNoTip}}, "HEAD~2": nil} {
		for _, head := range []string{"", "feature"} {
			if _, after := r.mustLoad(base, head); !cmp.Equal(want, after.Notes) {
				t.Errorf("%s: %v, want %v", base, after.Notes, want)
			}
		}
	}
}

// Attributes that edit what a checkout writes do not edit what is judged.
func TestAttributesEditNothing(t *testing.T) {
	r := plain(t)
	r.git("checkout", "-q", "-b", "feature")
	r.write(".gitattributes", "*.csv ident\n")
	r.write("profiles/factory/runs/more.csv", "benchmark,unit,value\n$Id$,s,413\n")
	r.commit("more")
	r.remove("profiles/factory/runs/more.csv")
	r.git("checkout", "-q", "--", ".")
	if data, err := os.ReadFile(r.path("profiles/factory/runs/more.csv")); err != nil || strings.Contains(string(data), "$Id$") {
		t.Fatalf("the attribute does nothing here: %s %v", data, err)
	}
	_, after := r.mustLoad("main", "")
	if v := after.Profiles["factory"].Values.At(3); v.Benchmark != "$Id$" || len(after.Notes) > 0 {
		t.Errorf("%+v %v", v, after.Notes)
	}
	// Whoever writes to the file is judged by what was written.
	r.write("profiles/factory/runs/more.csv", "benchmark,unit,value\n$Id: 1$,s,4130\n")
	_, after = r.mustLoad("main", "")
	if v := after.Profiles["factory"].Values.At(3); v.Value != 4130 || len(after.Notes) != 1 || after.Notes[0].Kind != gate.NoteNotCommitted {
		t.Errorf("%+v %v", v, after.Notes)
	}
}

// A git that never answers is stopped, and the error says after how long.
func TestGitHasALimit(t *testing.T) {
	r := apart(t)
	for _, verb := range []string{"merge-tree", "cat-file"} {
		fakeGit(t, "[ $verb != "+verb+" ] || exec sleep 60")
		repository, err := OpenRepository(t.Context(), r.dir)
		if err != nil {
			t.Fatal(err)
		}
		repository.git.limit = 700 * time.Millisecond
		_, _, err = repository.Load(t.Context(), "main", "feature")
		wantError(t, err, "git "+verb+" was stopped: it took longer than the 700ms that git is given for one answer")
	}
}
