package intake

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare/history"
)

// history reads the history of a profile: one line a commit, its subject, the
// profiles of its state with their settings and values, and what is wrong.
func (r *gitRepo) history(rev, profile string, limit int, folder ...string) (lines []string, span Span, err error) {
	repository, err := OpenRepository(context.Background(), r.path(strings.Join(folder, "/")))
	if err != nil {
		return nil, Span{}, err
	}
	span, err = repository.History(context.Background(), rev, profile, limit, func(c history.Commit) error {
		line := fmt.Sprintf("%d/%d %s:", c.Index, c.Of, c.Subject)
		if c.First {
			line = "first " + line
		}
		for _, name := range []string{"factory", "boost-lift"} {
			if p := c.State.Profiles[name]; p != nil && c.Wrong == nil {
				line += fmt.Sprintf(" %s %s %d", name, p.Settings["lift"], p.Values.Len())
			}
		}
		if c.State.Policy != nil {
			line += fmt.Sprintf(" at %v", c.State.Policy.Confidence)
		}
		if len(c.Profiles) != 2 {
			line += fmt.Sprint(" of ", c.Profiles)
		}
		if c.Wrong != nil {
			line += " wrong: " + c.Wrong.Error()
		}
		lines = append(lines, line)
		return nil
	})
	return lines, span, err
}

func wantHistory(t *testing.T, what string, got []string, err error, want ...string) {
	t.Helper()
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s: -want +got\n%s", what, d)
	}
}

func TestHistory(t *testing.T) {
	r := newGitRepo(t)
	r.write("README.md", "results\n")
	r.commit("nothing yet")
	r.write("lab/tunegate.toml", "confidence = 95\n")
	r.write("lab/profiles/factory/settings.toml", "[settings]\nlift = \"auto\"\n")
	r.write("lab/profiles/factory/runs/1.csv", runs(412, 409))
	r.commit("factory")
	r.write("lab/profiles/boost-lift/settings.toml", "baseline = \"factory\"\n[settings]\nlift = \"two notches\"\n")
	r.write("lab/profiles/boost-lift/runs/1.csv", runs(402, 403))
	r.commit("boost-lift")
	r.write("README.md", "more\n")
	r.commit("a page")
	// A branch of two commits, merged: one commit of main.
	r.git("checkout", "-q", "-b", "more")
	r.write("lab/profiles/boost-lift/runs/2.csv", runs(401))
	r.commit("one on the branch")
	r.write("lab/profiles/boost-lift/runs/deep/3.csv", runs(400))
	r.commit("another on the branch")
	r.git("checkout", "-q", "main")
	r.git("merge", "-q", "--no-ff", "-m", "Merge more runs\n\nTwo of them.", "more")
	r.write("lab/profiles/boost-lift/settings.toml", "[settings\n")
	r.commit("broken")
	r.write("lab/profiles/boost-lift/settings.toml", "[settings]\nlift = \"three notches\"\n")
	r.write("lab/tunegate.toml", "confidence = 99\n")
	r.commit("mended")
	r.remove("lab/profiles/boost-lift")
	last := r.commit("gone")

	want := []string{
		"first 0/6 factory: at 0.95 of [factory]",
		"1/6 boost-lift: factory auto 2 boost-lift two notches 2 at 0.95", // new, so with its baseline
		"2/6 Merge more runs: boost-lift two notches 4 at 0.95",
		"3/6 broken: at 0.95 wrong: lab/profiles/boost-lift/settings.toml:1:10: expected ']' to close table name",
		"4/6 mended: boost-lift three notches 4 at 0.99",
		"5/6 gone: at 0.99 of [factory]",
	}
	got, span, err := r.history("", "boost-lift", 10, "lab")
	wantHistory(t, "from the folder", got, err, want...)
	if d := cmp.Diff(Span{Head: fmt.Sprintf("HEAD (%.7s)", last), Commits: 6}, span); d != "" {
		t.Error(d)
	}

	got, span, err = r.history("HEAD~1", "boost-lift", 2, "lab", "profiles", "factory")
	wantHistory(t, "two", got, err, strings.Replace(want[3], "3/6", "0/2", 1), strings.Replace(want[4], "4/6", "1/2", 1))
	if !span.Earlier || span.Commits != 2 {
		t.Errorf("%+v", span)
	}

	// The newest has to be readable.
	_, _, err = r.history("HEAD~2", "boost-lift", 10, "lab")
	wantError(t, err, "in HEAD~2 (", "lab/profiles/boost-lift/settings.toml:1:")

	repository, err := OpenRepository(context.Background(), r.path("lab"))
	if err != nil {
		t.Fatal(err)
	}
	for rev, want := range map[string][]string{"": {"factory"}, "HEAD~1": {"boost-lift", "factory"}} {
		if got, err := repository.Profiles(context.Background(), rev); err != nil || !cmp.Equal(got, want) {
			t.Errorf("profiles of %q: %v, %v", rev, got, err)
		}
	}
	_, err = repository.Profiles(context.Background(), "HEAD~7")
	wantError(t, err, "found neither tunegate.toml nor profiles/NAME/settings.toml")
	for _, name := range []string{"", ".", "..", "a/b"} {
		_, _, err := r.history("", name, 10, "lab")
		wantError(t, err, "is no name of a profile")
	}
	_, _, err = r.history("--output=x", "factory", 10, "lab")
	wantError(t, err, "begins with a dash")
}

// A shallow clone is read as far as it goes, and says what to fetch.
func TestHistoryShallow(t *testing.T) {
	r := plain(t)
	for i := range 3 {
		r.write(fmt.Sprintf("profiles/factory/runs/%d.csv", i), runs(411))
		r.commit(fmt.Sprint("more ", i))
	}
	clone := newGitRepo(t)
	clone.remove(".git")
	clone.git("clone", "-q", "--depth", "2", r.url(), ".")
	got, span, err := clone.history("", "factory", 10)
	wantHistory(t, "shallow", got, err, "0/2 more 1: factory auto 5 at 0.95", "1/2 more 2: factory auto 6 at 0.95")
	if want := "the clone is shallow, and older commits are missing; run: git fetch --unshallow origin"; span.Missing != want {
		t.Errorf("says %q, want %q", span.Missing, want)
	}
	clone.git("fetch", "-q", "--unshallow", "origin")
	if got, span, err := clone.history("", "factory", 10); err != nil || len(got) != 4 || span.Missing != "" {
		t.Errorf("%q, %+v, %v", got, span, err)
	}
}

// However long the history, git is called as often; whichever call fails, and
// however, the outcome is an error.
func TestHistoryGitCalls(t *testing.T) {
	var counts []int
	for _, commits := range []int{2, 40} {
		setenv(t, "PATH", trueSearchPath) // without the stand-in of the round before
		r := plain(t)
		for i := range commits {
			r.write(fmt.Sprintf("profiles/factory/runs/%d.csv", i), runs(411))
			r.commit("more")
		}
		calls := fakeGit(t, "")
		got, _, err := r.history("", "factory", 1000)
		if err != nil || len(got) != commits+1 {
			t.Fatalf("%d of %d commits, %v", len(got), commits+1, err)
		}
		counts = append(counts, len(calls()))
		if commits > 2 {
			break
		}
		for _, how := range waysToFail() {
			for i := 1; i <= counts[0]; i++ {
				calls := fakeGit(t, fmt.Sprintf("[ $n -ne %d ] || { %s; }", i, how))
				_, _, err := r.history("", "factory", 1000)
				made := calls()
				if err == nil && how == "echo nonsense; exit 0" && made[i-1] == "rev-parse" && i == len(made)-1 {
					continue // whether the clone is shallow: anything but true is no
				}
				if err == nil {
					t.Errorf("call %d, %s: %s: no error", i, made[i-1], how)
				}
			}
		}
	}
	if counts[0] != counts[1] {
		t.Errorf("%d calls of git for 3 commits, %d for 41", counts[0], counts[1])
	}
}

// Of a long history no more is kept than what the last commits hold: the entries of
// folders do not add up, be they of other profiles or of the one that is followed.
func TestLongHistoriesAreNotKept(t *testing.T) {
	most := map[int]int{}
	for _, commits := range []int{5, 40} {
		r := plain(t)
		for i := range 30 {
			r.write(fmt.Sprintf("profiles/other-%02d/settings.toml", i), "[settings]\n")
		}
		for i := range commits {
			r.write("profiles/factory/runs/1.csv", runs(411+float64(i)))
			r.write("profiles/other-00/settings.toml", fmt.Sprintf("[settings]\nlift = %d\n", i))
			r.commit("more")
		}
		repository, err := OpenRepository(context.Background(), r.path(""))
		if err != nil {
			t.Fatal(err)
		}
		p, err := repository.past(context.Background(), "")
		if err == nil {
			err = p.open()
		}
		if err != nil {
			t.Fatal(err)
		}
		defer p.end()
		all, err := p.list([]string{"profiles/factory"}, 1000)
		if err != nil || len(all) != commits+1 {
			t.Fatalf("%d commits, %v", len(all), err)
		}
		for _, commit := range all {
			if _, err := p.snapshot(commit, "factory", true); err != nil {
				t.Fatal(err)
			}
			kept := 0
			for _, known := range []map[string][]treeEntry{p.folders.now, p.folders.before, p.flat.now, p.flat.before} {
				for _, entries := range known {
					kept += len(entries)
				}
			}
			most[commits] = max(most[commits], kept)
		}
	}
	if most[5] < 30 || most[40] > most[5] {
		t.Errorf("%d entries are kept of 5 commits, %d of 40", most[5], most[40])
	}
}

// What an old commit may hold: a link, a repository, a profile's row in another
// profile's file, a message that would command a terminal.
func TestHistoryHostile(t *testing.T) {
	r := plain(t)
	hash := r.git("hash-object", "-w", "tunegate.toml")
	r.git("update-index", "--add", "--cacheinfo", "120000,"+hash+",profiles/factory/runs/link.csv")
	r.git("commit", "-q", "-m", "\x1b[2J\rred")
	r.git("rm", "-q", "--cached", "profiles/factory/runs/link.csv")
	r.git("update-index", "--add", "--cacheinfo", "160000,"+r.git("rev-parse", "HEAD")+",profiles/factory/nested")
	r.git("commit", "-q", "-m", "nested")
	r.git("rm", "-q", "--cached", "profiles/factory/nested")
	r.write("profiles/factory/runs/other.csv", "benchmark,unit,value,profile\ntile-render,s,400,cool-curve\n")
	r.git("add", "profiles/factory/runs/other.csv")
	r.git("commit", "-q", "-m", "other")
	r.git("rm", "-q", "profiles/factory/runs/other.csv")
	r.git("commit", "-q", "-m", "fine")
	got, _, err := r.history("", "factory", 10)
	if err != nil || len(got) != 5 {
		t.Fatalf("%q, %v", got, err)
	}
	for i, part := range []string{"results: factory auto 3", "found a symbolic link", "found a git repository of its own",
		"this row is of the profile \"cool-curve\"", "fine: factory auto 3"} {
		if !strings.Contains(got[i], part) {
			t.Errorf("%q does not say %q", got[i], part)
		}
	}
}

func TestTreeEntries(t *testing.T) {
	hash := strings.Repeat("\x01", 20)
	good := "100644 a.csv\x00" + hash + "40000 b\x00" + hash
	entries, err := treeEntries([]byte(good), 20)
	if err != nil || len(entries) != 2 || entries[1] != (treeEntry{path: "b", mode: treeMode, object: strings.Repeat("01", 20)}) {
		t.Errorf("%v, %v", entries, err)
	}
	for data, want := range map[string]string{
		good[:len(good)-1]:       "breaks off",
		"100644":                 "breaks off",
		"100644a\x00" + hash:     "breaks off",
		"100644 \x00" + hash:     "found an entry named",
		"100644 ../x\x00" + hash: "found an entry named",
		"100644 a\x00" + hash + "100644 a\x00" + hash:   "found two entries",
		"100644 a\x00" + hash + "100644 a/b\x00" + hash: "found an entry named",
	} {
		_, err := treeEntries([]byte(data), 20)
		wantError(t, err, want)
	}
}

func TestSignatureTime(t *testing.T) {
	for signature, want := range map[string]string{
		"studio <studio@example.invalid> 1793610000 +0100": "2026-11-02T10:00:00+01:00",
		"a > b <x> 1793610000 -0330":                       "2026-11-02T05:30:00-03:30",
		"studio <studio@example.invalid>":                  "",
		"studio <studio@example.invalid> soon +0000":       "",
		"studio <studio@example.invalid> -5 +0000":         "",
		"studio <x> 99999999999999 +0000":                  "",
		"studio <x> 1793610000 +9900":                      "",
	} {
		got := signatureTime(signature)
		if s := got.Format(time.RFC3339); got.IsZero() != (want == "") || want != "" && s != want {
			t.Errorf("%q: %v, want %q", signature, got, want)
		}
	}
}
