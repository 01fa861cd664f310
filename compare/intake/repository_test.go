package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// told is a snapshot in lines, one for each profile.
func described(s gate.Snapshot) []string {
	var lines []string
	for name, p := range s.Profiles {
		if p.Name != name {
			name += " but named " + p.Name
		}
		line := fmt.Sprintf("%s: lift=%s", name, p.Settings["lift"])
		if p.Baseline != "" {
			line += " baseline=" + p.Baseline
		}
		for _, v := range p.Values.All() {
			if v.Profile != p.Name {
				line += " of " + v.Profile
			}
			line += fmt.Sprintf(" %v@%s:%d", v.Value, strings.TrimPrefix(v.At.File, "profiles/"), v.At.Line)
		}
		lines = append(lines, line)
	}
	slices.Sort(lines)
	return lines
}

func wantTold(t testing.TB, what string, s gate.Snapshot, want ...string) {
	t.Helper()
	if diff := cmp.Diff(want, described(s)); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

func TestLoad(t *testing.T) {
	r := plain(t)
	r.profile("gone", "high", 500)
	r.profile("fixed-all", "fixed", 420)
	r.git("checkout", "-q", "-b", "feature", r.commit("four profiles"))
	r.git("checkout", "-q", "main")
	r.profile("factory", "fixed", 1, 2, 3) // not the branch's doing
	r.write("tunegate.toml", "confidence = 99\n")
	base := r.commit("main goes on")
	r.git("checkout", "-q", "feature")
	r.write("profiles/cool-curve/runs/later/second.tsv", "benchmark\tunit\tvalue\ntile-render\ts\t400\n")
	r.write("profiles/cool-curve/runs/NOTES.md", "no runs\n")
	r.write("profiles/cool-curve/runs/.hidden.csv", "not read\n")
	r.write("profiles/cool-curve/runs/.cache/a.csv", "not read\n")
	r.write("profiles/cool-curve/more.csv", "not read\n")
	r.write("profiles/.old/settings.toml", "not read\n")
	r.write("profiles/README.md", "not read\n")
	r.write("profiles/boost-lift/settings.toml", "baseline = \"fixed-all\"\n[settings]\nlift = \"up\"\n")
	r.write("profiles/boost-lift/runs/a.jsonl", `{"benchmark":"tile-render","unit":"s","profile":"boost-lift","value":399}`+"\n")
	r.write("profiles/boost-lift/runs/B.CSV", runs(398))
	r.remove("profiles/gone")
	head := r.commit("changes")
	for _, c := range []struct{ head, named string }{
		{"", fmt.Sprintf("HEAD (%.7s)", head)},
		{"feature", fmt.Sprintf("feature (%.7s)", head)},
		{head[:8], fmt.Sprintf("%s (%.7s)", head[:8], head)},
	} {
		before, after := r.mustLoad("main", c.head)
		if want := fmt.Sprintf("main (%.7s)", base); before.Name != want || after.Name != c.named {
			t.Errorf("%q against %q, want %q against %q", before.Name, after.Name, want, c.named)
		}
		for _, s := range []gate.Snapshot{before, after} {
			if s.PolicyFile != "tunegate.toml" || s.Policy == nil || s.Policy.Confidence != 0.99 {
				t.Errorf("%s: policy %s %+v", s.Name, s.PolicyFile, s.Policy)
			}
		}
		wantTold(t, "before", before,
			"cool-curve: lift=low 402@cool-curve/runs/first.csv:2 405@cool-curve/runs/first.csv:3 401@cool-curve/runs/first.csv:4",
			"factory: lift=fixed",
			"fixed-all: lift=fixed 420@fixed-all/runs/first.csv:2", // the baseline of a new one
			"gone: lift=high 500@gone/runs/first.csv:2")
		wantTold(t, "after", after,
			"boost-lift: lift=up baseline=fixed-all 398@boost-lift/runs/B.CSV:2 399@boost-lift/runs/a.jsonl:1",
			"cool-curve: lift=low 402@cool-curve/runs/first.csv:2 405@cool-curve/runs/first.csv:3 401@cool-curve/runs/first.csv:4 "+
				"400@cool-curve/runs/later/second.tsv:2",
			"factory: lift=fixed",
			"fixed-all: lift=fixed 420@fixed-all/runs/first.csv:2")
		g, err := gate.Judge(before, after, compare.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var judged []string
		for _, j := range g.Judged {
			judged = append(judged, j.Profile+": "+string(j.Question))
		}
		if diff := cmp.Diff([]string{"boost-lift: new profile", "cool-curve: runs changed, same settings"}, judged); diff != "" ||
			g.Unchanged != 2 ||
			!slices.Equal(g.Removed, []string{"gone"}) {
			t.Errorf("unchanged %d, removed %q, judged (-want +got):\n%s", g.Unchanged, g.Removed, diff)
		}
	}
}

// The working tree is what is tracked, as it lies on the disk, and what is
// untracked and not ignored.
func TestLoadWorkingTree(t *testing.T) {
	r := plain(t)
	r.write(".gitignore", "ignored.csv\n")
	r.commit("ignore")
	r.write("profiles/factory/runs/untracked.csv", runs(1))
	r.write("profiles/factory/runs/staged.csv", runs(2))
	r.git("add", "profiles/factory/runs/staged.csv")
	r.write("profiles/factory/runs/staged.csv", runs(3))
	r.write("profiles/factory/runs/ignored.csv", runs(4))
	r.write("profiles/factory/runs/promised.csv", runs(5))
	r.git("add", "-N", "profiles/factory/runs/promised.csv")
	r.remove("profiles/factory/runs/first.csv")
	before, after := r.mustLoad("HEAD", "")
	wantTold(t, "before", before, "cool-curve: lift=low",
		"factory: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3 415@factory/runs/first.csv:4")
	wantTold(t, "after", after, "cool-curve: lift=low",
		"factory: lift=auto 5@factory/runs/promised.csv:2 3@factory/runs/staged.csv:2 1@factory/runs/untracked.csv:2")

	t.Run("a folder where a file was", func(t *testing.T) {
		r.write("profiles/factory/runs/first.csv/second.csv", runs(6))
		r.remove("profiles/cool-curve")
		r.write("profiles/cool-curve", "a file where a folder was\n")
		_, after := r.mustLoad("HEAD", "")
		wantTold(t, "after", after,
			"factory: lift=auto 6@factory/runs/first.csv/second.csv:2 5@factory/runs/promised.csv:2 3@factory/runs/staged.csv:2 "+
				"1@factory/runs/untracked.csv:2")
	})
	t.Run("ignored but tracked", func(t *testing.T) {
		r := plain(t)
		r.write(".gitignore", "*.csv\n")
		r.profile("factory", "auto", 412, 409, 415, 413)
		_, after := r.mustLoad("HEAD", "")
		if n := after.Profiles["factory"].Values.Len(); n != 4 {
			t.Errorf("%d values", n)
		}
	})
	t.Run("a link that is ignored where a folder was", func(t *testing.T) {
		r := plain(t)
		r.write(".gitignore", "/profiles/factory\n")
		r.remove("profiles/factory")
		r.link("cool-curve", "profiles/factory")
		_, _, err := r.load("HEAD", "")
		wantError(t, err, "profiles/factory: found a symbolic link")
	})
	t.Run("conflict", func(t *testing.T) {
		r := plain(t)
		r.git("checkout", "-q", "-b", "other")
		r.profile("factory", "auto", 1)
		r.commit("one")
		r.git("checkout", "-q", "main")
		r.profile("factory", "auto", 2)
		r.commit("two")
		if out, err := r.try("merge", "other"); err == nil {
			t.Fatalf("no conflict: %s", out)
		}
		_, _, err := r.load("HEAD", "")
		wantError(t, err, "profiles/factory/runs/first.csv:2:")
		r.profile("factory", "auto", 3)
		_, after := r.mustLoad("HEAD", "")
		wantTold(t, "after", after, "cool-curve: lift=low", "factory: lift=auto 3@factory/runs/first.csv:2")
	})
	t.Run("sparse checkout", func(t *testing.T) {
		r := plain(t)
		r.git("sparse-checkout", "set", "--no-cone", "/*", "!profiles/cool-curve/")
		if _, err := os.Stat(r.path("profiles/cool-curve")); err == nil {
			t.Skip("this git keeps everything on the disk")
		}
		r.profile("factory", "auto", 412, 409, 415, 413)
		before, after := r.mustLoad("HEAD", "")
		if len(before.Profiles) != 2 || len(after.Profiles) != 2 || after.Profiles["cool-curve"].Values.Len() != 0 {
			t.Errorf("%q, %q", described(before), described(after))
		}
	})
}

// The words of the base's policy hold. Those that a request adds are known in its own
// files only, on the disk and committed, so that none gives merged rows another meaning.
func TestLoadWithNewWords(t *testing.T) {
	const old = "map = [\"Aufgabenname = benchmark\", \"Dauer = value\"]\n"
	sheet := func(head string) string { return head + "\ntile-render,s,402\n" }
	r := plain(t)
	r.write("tunegate.toml", old)
	r.write("profiles/factory/runs/second.csv", sheet("Aufgabenname,unit,Dauer"))
	r.commit("words")
	committed := func() (before, after gate.Snapshot) {
		r.git("checkout", "-q", "-b", "request")
		r.commit("request")
		defer func() { r.git("checkout", "-q", "main"); r.git("branch", "-q", "-D", "request") }()
		return r.mustLoad("main", "request")
	}
	const other = "cool-curve: lift=low 402@cool-curve/runs/first.csv:2 405@cool-curve/runs/first.csv:3 401@cool-curve/runs/first.csv:4"
	const was = "factory: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3 415@factory/runs/first.csv:4 " +
		"402@factory/runs/second.csv:2"
	for name, text := range map[string]string{
		"another meaning": "map = [\"Aufgabenname = metric\", \"Dauer = reason\"]\n",
		"no more":         "",
		// what the files of the base say already
		"of merged heads": "map = [\"Aufgabenname = benchmark\", \"Dauer = value\", \"benchmark = session\", \"s = ms\"]\n",
	} {
		r.write("tunegate.toml", text)
		before, after := r.mustLoad("main", "")
		wantTold(t, name+", base", before, other, was)
		wantTold(t, name+", on the disk", after, described(before)...)
		if u := after.Profiles["factory"].Values.At(3).Unit; u != "s" {
			t.Errorf("%s: the unit is %s", name, u)
		}
		before, after = committed()
		wantTold(t, name+", committed", after, described(before)...)
		if g, err := gate.Judge(before, after, compare.Options{}); err != nil || g.Outcome != gate.Undecided || g.Unchanged != 2 {
			t.Errorf("%s: %v %+v", name, err, g)
		}
	}
	r.write("tunegate.toml", strings.Replace(old, "]", ", \"Maß = unit\"]", 1))
	r.write("profiles/factory/runs/third.csv", sheet("Aufgabenname,Maß,Dauer"))
	_, after := r.mustLoad("main", "")
	wantTold(t, "a file of its own, on the disk", after, other, was+" 402@factory/runs/third.csv:2")
	_, after = committed()
	wantTold(t, "a file of its own, committed", after, other, was+" 402@factory/runs/third.csv:2")
}

// Where the policy differs, the metrics of all profiles have to be known.
func TestLoadWithAnotherPolicy(t *testing.T) {
	r := plain(t)
	r.write("tunegate.toml", "confidence = 95\r\n")
	r.write("profiles/extra.csv", runs(1)) // or nothing would differ
	_, after := r.mustLoad("HEAD", "")
	wantTold(t, "after, line ends only", after, "cool-curve: lift=low", "factory: lift=auto")
	r.write("tunegate.toml", "[[metric]]\nbenchmark = \"tile-render\"\ntolerance = 5\n")
	before, after := r.mustLoad("HEAD", "")
	want := []string{
		"cool-curve: lift=low 402@cool-curve/runs/first.csv:2 405@cool-curve/runs/first.csv:3 401@cool-curve/runs/first.csv:4",
		"factory: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3 415@factory/runs/first.csv:4"}
	wantTold(t, "before", before, want...)
	wantTold(t, "after", after, want...)
	g, err := gate.Judge(before, after, compare.Options{})
	if err != nil || len(g.Judged) != 0 || g.Unchanged != 2 || !slices.ContainsFunc(g.PolicyChanges, func(c gate.PolicyChange) bool {
		return slices.Equal(c.Metrics, []string{"tile-render"}) && c.Key == "tolerance" && c.Before == "0.5 %" && c.Now == "5 %"
	}) {
		t.Errorf("%v %+v", err, g)
	}
	r.remove("tunegate.toml")
	before, after = r.mustLoad("HEAD", "")
	if before.Policy == nil || after.Policy != nil || after.PolicyFile != "" || after.Profiles["factory"].Values.Len() != 3 {
		t.Errorf("%+v %+v", before.Policy, after.Policy)
	}
	r.write("tunegate.toml", "confidance = 80\n")
	_, _, err = r.load("HEAD", "")
	wantError(t, err, `tunegate.toml:1:1: unknown key "confidance"; did you mean "confidence"?`)
	r.write("tunegate.toml", strings.Repeat("# long\n", 200000))
	_, _, err = r.load("HEAD", "")
	wantError(t, err, "tunegate.toml: found more than 1048576 bytes")
	r.write("tunegate.toml", "confidance = 80\n")
	r.commit("broken")
	r.write("tunegate.toml", "confidence = 80\n")
	_, _, err = r.load("HEAD", "")
	wantError(t, err, "in the base, HEAD (", `): tunegate.toml:1:1: unknown key "confidance"`)
	var placed *compare.PlacedError
	if !errors.As(err, &placed) || placed.At.File != "" {
		t.Errorf("a place in the base is none in the files at hand: %+v", placed)
	}
}

func TestLoadFindsTheRoot(t *testing.T) {
	r := newGitRepo(t)
	r.write("studio/results/profiles/factory/settings.toml", "[settings]\nlift = \"auto\"\n")
	r.write("studio/results/profiles/factory/runs/first.csv", runs(412))
	r.write("studio/results/docs/deep/README.md", "notes\n")
	r.write("studio/policy-only/tunegate.toml", "confidence = 90\n")
	r.write("elsewhere/README.md", "notes\n")
	r.commit("results")
	r.write("studio/results/profiles/factory/runs/first.csv", runs(412, 413))
	for _, folder := range []string{"studio/results", "studio/results/docs/deep", "studio/results/profiles",
		"studio/results/profiles/factory/runs"} {
		repository, err := OpenRepository(context.Background(), r.path(folder))
		if err != nil {
			t.Fatal(err)
		}
		if want := realPath(r.path("studio/results")); repository.Root != want {
			t.Errorf("%s: root %s, want %s", folder, repository.Root, want)
		}
		before, after := r.mustLoad("HEAD", "", folder)
		wantTold(t, "before", before, "factory: lift=auto 412@studio/results/profiles/factory/runs/first.csv:2")
		wantTold(t, "after", after, "factory: lift=auto 412@studio/results/profiles/factory/runs/first.csv:2 "+
			"413@studio/results/profiles/factory/runs/first.csv:3")
		if at := after.Profiles["factory"].At.File; at != "studio/results/profiles/factory/settings.toml" {
			t.Errorf("settings at %s", at)
		}
	}
	r.write("studio/policy-only/tunegate.toml", "confidence = 90 # or nothing would differ\n")
	_, after := r.mustLoad("HEAD", "", "studio/policy-only")
	if after.PolicyFile != "studio/policy-only/tunegate.toml" || after.Policy.Confidence != 0.9 {
		t.Errorf("%s %+v", after.PolicyFile, after.Policy)
	}
	t.Run("relative", func(t *testing.T) {
		t.Chdir(r.path("studio/results/docs"))
		for _, dir := range []string{".", "", "..", "../profiles/"} {
			repository, err := OpenRepository(context.Background(), dir)
			if err != nil || repository.Root != realPath(r.path("studio/results")) {
				t.Errorf("%q: %+v %v", dir, repository, err)
			}
		}
	})
	t.Run("through a link", func(t *testing.T) {
		link := filepath.Join(t.TempDir(), "link")
		if err := os.Symlink(r.path("studio/results/docs"), link); err != nil {
			t.Skip(err)
		}
		repository, err := OpenRepository(context.Background(), link)
		if err != nil || repository.Root != realPath(r.path("studio/results")) {
			t.Errorf("%+v %v", repository, err)
		}
	})
	t.Run("no results", func(t *testing.T) {
		for _, folder := range []string{"", "elsewhere", "studio"} {
			repository, err := OpenRepository(context.Background(), r.path(folder))
			if err != nil || repository.Root != realPath(r.dir) {
				t.Errorf("%q: %+v %v", folder, repository, err)
			}
			_, _, err = r.load("HEAD", "", folder)
			var none *NoResultsError
			if !errors.As(err, &none) {
				t.Errorf("%v is no *NoResultsError", err)
			}
			wantError(t, err, "found neither tunegate.toml nor profiles/NAME/settings.toml", "in HEAD (")
		}
	})
	t.Run("a nearer one", func(t *testing.T) {
		// It would hide the results that the base has.
		r.write("studio/results/docs/profiles/nice/settings.toml", "[settings]\n")
		_, _, err := r.load("HEAD", "", "studio/results/docs")
		wantError(t, err, `searched in "studio/results/docs" here, but lie in "studio/results" in HEAD (`)
		r.mustLoad("HEAD", "", "studio/results")
		r.remove("studio/results/docs/profiles")
	})
	t.Run("another folder of that name above", func(t *testing.T) {
		r := newGitRepo(t)
		r.write("profiles/README.md", "no results\n")
		r.commit("something else")
		r.write("results/profiles/factory/settings.toml", "[settings]\nlift = \"auto\"\n")
		_, after := r.mustLoad("HEAD", "", "results")
		wantTold(t, "after", after, "factory: lift=auto")
	})
	t.Run("the nearer one is gone", func(t *testing.T) {
		r.write("tunegate.toml", "confidence = 80\n")
		r.remove("studio/results/profiles")
		_, _, err := r.load("HEAD", "", "studio/results")
		wantError(t, err, `searched in "." here, but lie in "studio/results" in HEAD (`)
	})
}

func TestLoadElsewhere(t *testing.T) {
	t.Run("worktree", func(t *testing.T) {
		r := plain(t)
		w := &gitRepo{t, filepath.Join(t.TempDir(), "worktree")}
		r.git("worktree", "add", "-q", "-b", "feature", w.dir)
		w.profile("factory", "auto", 412, 409, 415, 413)
		_, after := w.mustLoad("main", "")
		if n := after.Profiles["factory"].Values.Len(); n != 4 {
			t.Errorf("%d values", n)
		}
		_, _, err := r.load("main", "") // there nothing changed
		wantError(t, err, "are the same commit, so there is nothing to merge")
	})
	t.Run("detached", func(t *testing.T) {
		r := plain(t)
		r.git("checkout", "-q", "--detach")
		r.profile("factory", "auto", 412, 409, 415, 413)
		r.commit("one more")
		r.git("branch", "-m", "main", "trunk")
		_, after := r.mustLoad("trunk", "HEAD")
		if n := after.Profiles["factory"].Values.Len(); n != 4 {
			t.Errorf("%d values", n)
		}
	})
	t.Run("SHA-256", func(t *testing.T) {
		probe := exec.Command("git", "init", "-q", "--object-format=sha256", t.TempDir())
		if out, err := probe.CombinedOutput(); err != nil {
			t.Skipf("this git knows no SHA-256: %s", out)
		}
		r := newGitRepo(t, "--object-format=sha256")
		r.profile("factory", "auto", 412)
		r.profile("cool-curve", "low", 402)
		r.commit("results")
		r.profile("factory", "auto", 412, 409)
		before, after := r.mustLoad("main", "")
		wantTold(t, "before", before, "cool-curve: lift=low", "factory: lift=auto 412@factory/runs/first.csv:2")
		wantTold(t, "after", after, "cool-curve: lift=low", "factory: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3")
	})
}

// A checkout with CRLF has other bytes than the repository and says the same.
func TestLoadCRLF(t *testing.T) {
	r := plain(t)
	r.write("profiles/cool-curve/settings.toml", "[settings]\nlift = \"\"\"low\nand lower\"\"\"\n")
	r.commit("a text of two lines")
	r.git("config", "core.autocrlf", "true")
	r.git("rm", "-q", "-r", "--cached", ".")
	r.git("reset", "-q", "--hard")
	for _, file := range []string{"tunegate.toml", "profiles/factory/settings.toml", "profiles/factory/runs/first.csv"} {
		data, err := os.ReadFile(r.path(file))
		if err != nil || !bytes.Contains(data, []byte("\r\n")) {
			t.Fatalf("%s is not as this test wants it: %q %v", file, data, err)
		}
	}
	_, _, err := r.load("HEAD", "")
	wantError(t, err, "are the same commit")
	// Changed profiles are read from both.
	r.write("profiles/factory/runs/more.csv", "benchmark,unit,value\r\ntile-render,s,413\r\n")
	r.write("profiles/cool-curve/runs/more.csv", "benchmark,unit,value\rtile-render,s,404\r")
	before, after := r.mustLoad("HEAD", "")
	g, err := gate.Judge(before, after, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range g.Judged {
		if len(j.Settings) > 0 || j.Question != gate.AskRepeat {
			t.Errorf("%s: %s %+v", j.Profile, j.Question, j.Settings)
		}
	}
	if len(g.Judged) != 2 {
		t.Errorf("%d judged", len(g.Judged))
	}
	for _, reason := range g.Reasons {
		if reason.Kind == gate.ReasonAltered || reason.Kind == gate.ReasonStale {
			t.Errorf("%+v", reason)
		}
	}
}

// A CR may be the last byte of what is read at once.
func TestLineFeeder(t *testing.T) {
	for _, text := range []string{"", "a", "\r", "\n", "\r\n", "\r\r\n", "\r\n\r\n", "a\r\nb\rc\nd\r\n", "a\r\r", "\n\r"} {
		for _, keep := range []bool{true, false} {
			for size := 1; size <= 3; size++ {
				var got bytes.Buffer
				f := lineFeeder{to: &got, keepCR: keep}
				if n, err := io.CopyBuffer(&f, struct{ io.Reader }{strings.NewReader(text)}, make([]byte, size)); n != int64(len(text)) || err != nil {
					t.Fatal(n, err)
				}
				f.end()
				want := text
				if !keep {
					want = strings.ReplaceAll(text, "\r\n", "\n")
				}
				if got.String() != want || f.pairs != int64(strings.Count(text, "\r\n")) {
					t.Errorf("%q by %d: %q, %d pairs", text, size, got.String(), f.pairs)
				}
			}
		}
	}
}

// The hash of a file is that which git gives it.
func TestHoldsIsGitsHash(t *testing.T) {
	r := plain(t)
	check := func(object string) (bool, error) {
		f, err := os.Open(r.path("file"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		return holds(f, "file", object)
	}
	for i, text := range []string{"", "a", "a\n", "a\r\n", strings.Repeat("x\r\n", 40000), strings.Repeat("\r", 70000)} {
		r.write("file", text)
		object := r.git("hash-object", "--no-filters", "file")
		if same, err := check(object); !same || err != nil {
			t.Errorf("%d: %v %v", i, same, err)
		}
		r.write("file", strings.ReplaceAll(text, "\r\n", "\n"))
		if r.git("hash-object", "--no-filters", "file") != object {
			if same, err := check(object); same || err != nil {
				t.Errorf("%d: LF is taken for CRLF: %v %v", i, same, err)
			}
		}
		r.write("file", text+"x")
		if same, err := check(object); same || err != nil {
			t.Errorf("%d, a byte more: %v %v", i, same, err)
		}
	}
}

func TestLoadRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(r *gitRepo)
		says   []string
	}{
		{"a row of another profile", func(r *gitRepo) {
			r.write("profiles/factory/runs/more.csv", "benchmark,unit,profile,value\ntile-render,s,factory,412\ntile-render,s,cool-curve,402\n")
		}, []string{`profiles/factory/runs/more.csv:3: this row is of the profile "cool-curve", but its file lies with "factory"; move the row`}},
		{"no settings", func(r *gitRepo) { r.write("profiles/boost-lift/runs/a.csv", runs(399)) },
			[]string{`profiles/boost-lift: this profile has runs but no settings.toml; write "profiles/boost-lift/settings.toml" with a ` +
				`table [settings]`}},
		{"settings removed", func(r *gitRepo) { r.remove("profiles/factory/settings.toml") },
			[]string{`profiles/factory: this profile has runs but no settings.toml`}},
		{"unknown key", func(r *gitRepo) {
			r.write("profiles/factory/settings.toml", "[setings]\nlift = \"auto\"\n")
		}, []string{`profiles/factory/settings.toml:1:2: unknown key "setings"; did you mean "settings"?`}},
		{"large settings", func(r *gitRepo) {
			r.write("profiles/factory/settings.toml", strings.Repeat("# long\n", 10000))
		}, []string{"profiles/factory/settings.toml: found more than 65536 bytes"}},
		{"bad run file", func(r *gitRepo) { r.write("profiles/factory/runs/more.csv", "benchmark,value\ntile-render,4l2\n") },
			[]string{`profiles/factory/runs/more.csv:2:13: found "4l2"`}},
		{"empty run file", func(r *gitRepo) { r.write("profiles/factory/runs/more.csv", "") },
			[]string{"profiles/factory/runs/more.csv: the file is empty"}},
		{"run file is a link", func(r *gitRepo) { r.link("first.csv", "profiles/factory/runs/more.csv") },
			[]string{"profiles/factory/runs/more.csv: found a symbolic link"}},
		{"run file is a link to nothing", func(r *gitRepo) { r.link("/nowhere", "profiles/factory/runs/more.csv") },
			[]string{"profiles/factory/runs/more.csv: found a symbolic link"}},
		{"folder of runs is a link", func(r *gitRepo) { r.link("../../cool-curve/runs", "profiles/factory/runs/other") },
			[]string{"profiles/factory/runs/other: found a symbolic link"}},
		{"runs is a link", func(r *gitRepo) {
			r.remove("profiles/factory/runs")
			r.link("../cool-curve/runs", "profiles/factory/runs")
		}, []string{"profiles/factory/runs: found a symbolic link"}},
		{"settings is a link", func(r *gitRepo) {
			r.remove("profiles/factory/settings.toml")
			r.link("/etc/passwd", "profiles/factory/settings.toml")
		}, []string{"profiles/factory/settings.toml: found a symbolic link"}},
		{"profile is a link", func(r *gitRepo) { r.link("factory", "profiles/boost-lift") },
			[]string{"profiles/boost-lift: found a symbolic link"}},
		{"profile becomes a link", func(r *gitRepo) {
			r.remove("profiles/factory")
			r.link("cool-curve", "profiles/factory")
		}, []string{"profiles/factory: found a symbolic link"}},
		{"profiles is a link", func(r *gitRepo) {
			if err := os.Rename(r.path("profiles"), r.path("others")); err != nil {
				r.Fatal(err)
			}
			r.link("others", "profiles")
		}, []string{"profiles: found a symbolic link"}},
		{"policy is a link", func(r *gitRepo) {
			r.remove("tunegate.toml")
			r.link("/dev/zero", "tunegate.toml")
		}, []string{"tunegate.toml: found a symbolic link"}},
		{"submodule", func(r *gitRepo) {
			r.git("update-index", "--add", "--cacheinfo", "160000,"+r.git("rev-parse", "HEAD")+",profiles/sub")
		}, []string{"profiles/sub: found a git repository of its own"}},
		{"submodule in a folder left alone", func(r *gitRepo) {
			r.git("update-index", "--add", "--cacheinfo", "160000,"+r.git("rev-parse", "HEAD")+",profiles/factory/.docs/sub")
		}, []string{"profiles/factory/.docs/sub: found a git repository of its own"}},
		{"repository of its own", func(r *gitRepo) {
			r.git("clone", "-q", r.dir, "profiles/clone")
		}, []string{"profiles/clone", ": found a git repository of its own"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := plain(t)
			c.change(r)
			check := func(head string) {
				t.Helper()
				before, after, err := r.load("main", head)
				wantError(t, err, c.says...)
				if before.Profiles != nil || after.Profiles != nil {
					t.Error("an error, and yet a snapshot")
				}
			}
			check("")
			// The same, committed.
			r.git("checkout", "-q", "-b", "feature")
			if !strings.HasPrefix(c.name, "submodule") {
				r.git("add", "-A")
			}
			r.git("commit", "-q", "-m", c.name)
			check("feature")
		})
	}
}

// What is wrong on the base's side is told as such.
func TestLoadRefusesTheBase(t *testing.T) {
	r := plain(t)
	r.write("profiles/factory/runs/more.csv", "benchmark,value\ntile-render,4l2\n")
	r.write("profiles/early/runs/a.csv", runs(1))
	base := r.commit("broken")
	r.write("profiles/factory/runs/more.csv", runs(412))
	r.write("profiles/early/settings.toml", "[settings]\n")
	_, _, err := r.load("main", "")
	wantError(t, err, fmt.Sprintf("in the base, main (%.7s): profiles/factory/runs/more.csv:2:13: found", base))
	// A profile that is not touched is not read.
	r.git("checkout", "-q", "profiles/factory")
	before, after := r.mustLoad("main", "")
	wantTold(t, "before", before, "cool-curve: lift=low", "factory: lift=auto")
	// Runs without settings were no profile yet, so this one is new.
	wantTold(t, "after", after, "cool-curve: lift=low", "early: lift= 1@early/runs/a.csv:2", "factory: lift=auto")
	// One that is removed is not read either.
	r.remove("profiles/factory")
	before, _ = r.mustLoad("main", "")
	if before.Profiles["factory"] == nil || before.Profiles["factory"].At.File != "profiles/factory/settings.toml" {
		t.Errorf("%+v", before.Profiles["factory"])
	}
}

func TestLoadUnreadable(t *testing.T) {
	if runtime.GOOS == "windows" || os.Geteuid() == 0 {
		t.Skip("permissions do not bind here")
	}
	for _, name := range []string{"tunegate.toml", "profiles/factory/settings.toml", "profiles/factory/runs/first.csv",
		"profiles/factory/runs/untracked.csv",
		"profiles/factory/runs", "profiles/factory", "profiles", "profiles/fresh"} {
		r := plain(t)
		r.write("profiles/factory/runs/untracked.csv", runs(1))
		r.write("profiles/fresh/settings.toml", "[settings]\n")
		if err := os.Chmod(r.path(name), 0); err != nil {
			t.Fatal(err)
		}
		before, after, err := r.load("main", "")
		os.Chmod(r.path(name), 0o755)
		wantError(t, err, name, "ermission denied")
		if before.Profiles != nil || after.Profiles != nil {
			t.Errorf("%s: an error, and yet a snapshot", name)
		}
	}
}

// Something else than a file, such as a pipe, would never end.
func TestLoadNoFile(t *testing.T) {
	r := plain(t)
	r.remove("profiles/factory/runs/first.csv")
	if out, err := exec.Command("mkfifo", r.path("profiles/factory/runs/first.csv")).CombinedOutput(); err != nil {
		t.Skipf("no pipes here: %s %v", out, err)
	}
	_, _, err := r.load("main", "")
	wantError(t, err, "profiles/factory/runs/first.csv: found p---------, expected a file")
}

func TestLoadHostileNames(t *testing.T) {
	r := plain(t)
	names := []string{"with space", "-rf", "--output=x", "new\nline", "tab\tand \"quotes\" 'both'", "back\\slash", "\x1b[31mred\x1b[0m",
		"latin\xe9", "latin\xe8",
		"<b>bold", "|pipe|`code`", ":(top)magic", "*", "näme", "e\u0301", "$(touch x)", "{a,b}", "[a]", "a\r", "#", "-", " " +
			"", "runs", "profiles", "settings.toml"}
	switch runtime.GOOS {
	case "windows": // it would bend some of the others
		names = []string{"with space", "-rf", "--output=x", "näme", "$(touch x)", "{a,b}", "[a]", "#", "-", "runs", "profiles", "settings.toml"}
	case "darwin": // git there takes the accent and its letter as one
		names = slices.DeleteFunc(names, func(s string) bool { return s == "e\u0301" })
	}
	var made []string
	for i, name := range names {
		if err := r.tryWrite("profiles/"+name+"/settings.toml", fmt.Sprintf("[settings]\nlift = \"%d\"\n", i)); err != nil {
			t.Logf("left out, since this system has no such name: %q: %v", name, err)
			continue
		}
		if err := r.tryWrite("profiles/"+name+"/runs/"+name+".csv", runs(float64(i+1))); err != nil {
			t.Fatal(err)
		}
		made = append(made, name)
	}
	check := func(head string) {
		t.Helper()
		_, after := r.mustLoad("main", head)
		if len(after.Profiles) != len(made)+2 {
			t.Errorf("head %q: %d profiles, want %d", head, len(after.Profiles), len(made)+2)
		}
		for i, name := range names {
			p := after.Profiles[name]
			if !slices.Contains(made, name) {
				continue
			}
			if p == nil || p.Name != name || p.Settings["lift"] != fmt.Sprint(i) || p.Values.Len() != 1 || p.Values.At(0).Value != float64(i+1) {
				t.Errorf("head %q, %q: %+v", head, name, p)
				continue
			}
			if want := strings.ToValidUTF8("profiles/"+name+"/runs/"+name+".csv", "\uFFFD"); p.Values.At(0).At.File != want {
				t.Errorf("head %q: at %q, want %q", head, p.Values.At(0).At.File, want)
			}
		}
	}
	if !slices.Contains(made, "latin\xe9") {
		check("") // no two names look alike
	} else {
		// Their files would be shown alike, and a run be known by the name shown.
		_, _, err := r.load("main", "")
		wantError(t, err, "two files are shown by this name", `"profiles/latin\xe8/runs/latin\xe8.csv"`,
			`"profiles/latin\xe9/runs/latin\xe9.csv"`)
		r.remove("profiles/latin\xe8")
		made = slices.DeleteFunc(made, func(s string) bool { return s == "latin\xe8" })
	}
	check("")
	r.git("checkout", "-q", "-b", "feature")
	r.commit("hostile")
	check("feature")
	check("")
	// Unchanged, they are known by their hash.
	r.commit("nothing")
	before, after := r.mustLoad("feature~1", "")
	if diff := cmp.Diff(described(before), described(after)); diff != "" || len(before.Profiles) != len(made)+2 {
		t.Errorf("%d profiles (-before +after):\n%s", len(before.Profiles), diff)
	}
	for name, p := range after.Profiles {
		if p.Values.Len() > 0 {
			t.Errorf("%q: read, though nothing changed", name)
		}
	}
	if _, err := os.Stat(r.path("x")); err == nil {
		t.Error("a name was run")
	}
	t.Run("root", func(t *testing.T) {
		for _, name := range []string{"-results \"x\"", "res\nults", "res\xe9", ":(glob)**"} {
			h := newGitRepo(t)
			if err := h.tryWrite(name+"/profiles/factory/settings.toml", "[settings]\nlift = \"auto\"\n"); err != nil {
				t.Logf("left out: %q: %v", name, err)
				continue
			}
			h.commit("results")
			h.write(name+"/profiles/factory/runs/a.csv", runs(412))
			before, after := h.mustLoad("main", "", name)
			if before.Profiles["factory"].Values.Len() != 0 || after.Profiles["factory"].Values.Len() != 1 {
				t.Errorf("%q: %q, %q", name, described(before), described(after))
			}
		}
	})
}

// A tree made by hand can hold one name twice; a reader that took either would
// be led by whoever made it.
// What looks like results where none are read is listed, of the head alone and
// in one order; what people keep beside results is not.
func TestLoadOverlooked(t *testing.T) {
	r := plain(t)
	r.write("profiles/before.csv", runs(1))
	r.commit("one in the base already")
	r.git("checkout", "-q", "-b", "feature")
	for _, name := range []string{
		"profiles/factory/extra.csv", "profiles/factory/runs/raw.ods", "profiles/factory/runs/deep/raw.TXT", "profiles/loose.jsonl",
		"profiles/group/fixed-all/settings.toml", "profiles/group/fixed-all/runs/1.csv", "profiles/settings.toml",
		"profiles/factory/runs/.cache/1.csv", "other/1.csv", "1.csv", ".h/1.csv", "profiles/factory/Runs/1.csv",
		"sub/profiles/factory/runs/1.csv",
		// None of these:
		"profiles/README.md", "profiles/factory/notes.txt", "profiles/factory/runs/README.md", "profiles/.old/settings.toml",
	} {
		r.write(name, "benchmark,unit,value\ntile-render,s,1\n")
	}
	r.write("docs/parts.csv", "part,price,supplier,delivered\nfan,,north,yes\n")
	r.write("docs/prose.csv", "not runs\n")
	want := []string{".h/1.csv", "1.csv", "other/1.csv", "profiles/before.csv", "profiles/factory/Runs/1.csv", "profiles/factory/extra.csv",
		"profiles/factory/runs/.cache/1.csv", "profiles/factory/runs/deep/raw.TXT", "profiles/factory/runs/raw.ods",
		"profiles/group/fixed-all/runs/1.csv", "profiles/group/fixed-all/settings.toml", "profiles/loose.jsonl", "profiles/settings.toml",
		"sub/profiles/factory/runs/1.csv"}
	check := func(head string, want []string) {
		t.Helper()
		before, after := r.mustLoad("main", head)
		if diff := cmp.Diff(want, after.Overlooked); diff != "" || len(before.Overlooked) > 0 {
			t.Errorf("head %q: base has %v, (-want +got):\n%s", head, before.Overlooked, diff)
		}
	}
	check("", want)
	r.commit("all of it")
	check("feature", want)
	r.remove("profiles/before.csv") // gone from the disk, still tracked
	check("", slices.Delete(want, 3, 4))
}

// A workbook among runs is read from its blob as from the disk.
func TestLoadReadsWorkbooks(t *testing.T) {
	book, err := os.ReadFile("../../fixtures/sheets/calc/werte.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	r := plain(t)
	r.git("checkout", "-q", "-b", "feature")
	r.write("profiles/book/settings.toml", "[settings]\nlift = \"low\"\n")
	r.write("profiles/book/runs/deep/Runs.XLSX", string(book))
	check := func(head string) {
		t.Helper()
		_, after, err := r.load("main", head)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, v := range after.Profiles["book"].Values.All() {
			got = append(got, fmt.Sprintf("%v %v", v.Value, v.At))
		}
		at := " profiles/book/runs/deep/Runs.XLSX, sheet werte, "
		want := []string{"412.4" + at + "C2", "409.9" + at + "D2", "415.2" + at + "E2",
			"143.1" + at + "C3", "139.8" + at + "D3", "141.6" + at + "E3"}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("values (-want +got):\n%s", diff)
		}
	}
	check("")
	r.commit("a workbook")
	check("feature")
}

func TestLoadTwiceInTheTree(t *testing.T) {
	r := plain(t)
	blob := r.git("rev-parse", "HEAD:tunegate.toml")
	tree := exec.Command("git", "mktree", "-z")
	tree.Dir = r.dir
	tree.Stdin = strings.NewReader("100644 blob " + blob + "\ttunegate.toml\x00100644 blob " + r.git("rev-parse",
		"HEAD:profiles/factory/settings.toml") + "\ttunegate.toml\x00")
	out, err := tree.Output()
	if err != nil {
		t.Fatal(err)
	}
	r.git("branch", "twice", r.git("commit-tree", "-p", "HEAD", "-m", "twice", strings.TrimSpace(string(out))))
	_, _, err = r.load("main", "twice")
	wantError(t, err, `has two entries "tunegate.toml"`)
}

// manyProfiles makes 200 profiles of 20 metrics with 30 runs each; ten have
// five runs more since the base.
func manyProfiles(t testing.TB) *gitRepo {
	r := newGitRepo(t)
	r.write("tunegate.toml", "confidence = 95\n")
	rows := func(from, to int) string {
		var b strings.Builder
		b.WriteString("session,benchmark,unit,value\n")
		for run := from; run < to; run++ {
			for m := range 20 {
				fmt.Fprintf(&b, "%d,scene-scrub-%d,s,%.2f\n", run/5, m, 400+float64((run*7+m*13)%41)/10)
			}
		}
		return b.String()
	}
	all, more := rows(0, 30), rows(30, 35)
	for i := range 200 {
		name := fmt.Sprintf("profiles/p%03d/", i)
		r.write(name+"settings.toml", fmt.Sprintf("notes = \"one of many\"\n[settings]\nlift = %d\nmemory = {pace = 5270, waits = [33, "+
			"41, 43]}\n[conditions]\nmachine = \"heron\"\n", i))
		r.write(name+"runs/first.csv", strings.Replace(all, "\n", fmt.Sprintf("\n0,mesh-solve,s,%d\n", i+1), 1))
	}
	r.commit("results")
	r.git("checkout", "-q", "-b", "feature")
	for i := range 10 {
		r.write(fmt.Sprintf("profiles/p%03d/runs/second.csv", i*20), more)
	}
	return r
}

func benchmarkLoad(b *testing.B, r *gitRepo, head string, changed int) {
	b.Helper()
	for b.Loop() {
		_, after := r.mustLoad("main", head)
		n := 0
		for _, p := range after.Profiles {
			if p.Values.Len() > 0 {
				n++
			}
		}
		if n != changed || len(after.Profiles) != 200 {
			b.Fatalf("%d of %d profiles read", n, len(after.Profiles))
		}
	}
}

// A gate has three seconds for all of it.
func BenchmarkLoadWorkingTree(b *testing.B) { benchmarkLoad(b, manyProfiles(b), "", 10) }

func BenchmarkLoadRevision(b *testing.B) {
	r := manyProfiles(b)
	r.commit("more runs")
	benchmarkLoad(b, r, "feature", 10)
}

// A changed policy makes it read everything.
func BenchmarkLoadPolicyChanged(b *testing.B) {
	r := manyProfiles(b)
	r.write("tunegate.toml", "confidence = 90\n")
	benchmarkLoad(b, r, "", 200)
}
