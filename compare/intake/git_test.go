package intake

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"tunegate/compare/gate"
)

// gitRepo is a repository made by git itself.
type gitRepo struct {
	testing.TB
	dir string
}

// newGitRepo starts a repository that no configuration of the machine reaches.
func newGitRepo(t testing.TB, initArgs ...string) *gitRepo {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("git is not installed")
	}
	config := filepath.Join(t.TempDir(), "gitconfig")
	text := "[user]\nname = heron\nemail = heron@studio.example\n[commit]\ngpgsign = false\n[core]\nautocrlf = " +
		"false\n[advice]\ndetachedHead = false\n[gc]\nauto = 0\n"
	if err := os.WriteFile(config, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	setenv(t, "GIT_CONFIG_GLOBAL", config)
	setenv(t, "GIT_CONFIG_NOSYSTEM", "1")
	dir := filepath.Join(t.TempDir(), "repo")
	r := &gitRepo{t, dir}
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	r.git(append([]string{"init", "-q", "-b", "main"}, initArgs...)...)
	return r
}

func setenv(t testing.TB, name, value string) {
	t.Helper()
	t.(interface{ Setenv(string, string) }).Setenv(name, value)
}

// try runs git in the repository and returns all that it prints.
func (r *gitRepo) try(args ...string) (string, error) {
	c := exec.Command("git", args...)
	c.Dir = r.dir
	out, err := c.CombinedOutput()
	return strings.TrimSpace(string(out)), err
}

func (r *gitRepo) git(args ...string) string {
	r.Helper()
	out, err := r.try(args...)
	if err != nil {
		r.Fatalf("git %q: %v: %s", args, err, out)
	}
	return out
}

func (r *gitRepo) path(name string) string { return filepath.Join(r.dir, filepath.FromSlash(name)) }

// url makes git clone as from elsewhere: a path alone would copy everything.
func (r *gitRepo) url() string {
	return "file:///" + strings.TrimPrefix(filepath.ToSlash(r.dir), "/")
}

func (r *gitRepo) write(name, text string) {
	r.Helper()
	if err := r.tryWrite(name, text); err != nil {
		r.Fatal(err)
	}
}

func (r *gitRepo) tryWrite(name, text string) error {
	if err := os.MkdirAll(filepath.Dir(r.path(name)), 0o755); err != nil {
		return err
	}
	return os.WriteFile(r.path(name), []byte(text), 0o644)
}

func (r *gitRepo) link(target, name string) {
	r.Helper()
	if err := os.MkdirAll(filepath.Dir(r.path(name)), 0o755); err != nil {
		r.Fatal(err)
	}
	if err := os.Symlink(target, r.path(name)); err != nil {
		r.Skipf("no symbolic links here: %v", err)
	}
}

func (r *gitRepo) remove(name string) {
	r.Helper()
	if err := os.RemoveAll(r.path(name)); err != nil {
		r.Fatal(err)
	}
}

func (r *gitRepo) commit(message string) string {
	r.Helper()
	r.git("add", "-A")
	r.git("commit", "-q", "--allow-empty", "-m", message)
	return r.git("rev-parse", "HEAD")
}

// runs is a run file with one row for each value.
func runs(values ...float64) string {
	text := "benchmark,unit,value\n"
	for _, v := range values {
		text += fmt.Sprintf("tile-render,s,%v\n", v)
	}
	return text
}

// profile writes a profile with one run file.
func (r *gitRepo) profile(name, setting string, values ...float64) {
	r.Helper()
	r.write("profiles/"+name+"/settings.toml", fmt.Sprintf("[settings]\nlift = %q\n", setting))
	r.write("profiles/"+name+"/runs/first.csv", runs(values...))
}

// plain is a repository of two profiles on main.
func plain(t testing.TB) *gitRepo {
	r := newGitRepo(t)
	r.write("tunegate.toml", "confidence = 95\n")
	r.profile("factory", "auto", 412, 409, 415)
	r.profile("cool-curve", "low", 402, 405, 401)
	r.commit("results")
	return r
}

// load opens the repository from its top, or the folder given, and loads it.
func (r *gitRepo) load(base, head string, folder ...string) (before, after gate.Snapshot, err error) {
	repository, err := OpenRepository(context.Background(), r.path(strings.Join(folder, "/")))
	if err != nil {
		return before, after, err
	}
	return repository.Load(context.Background(), base, head)
}

func (r *gitRepo) mustLoad(base, head string, folder ...string) (before, after gate.Snapshot) {
	r.Helper()
	before, after, err := r.load(base, head, folder...)
	if err != nil {
		r.Fatal(err)
	}
	return before, after
}

// wantError holds an error to what it has to say.
func wantError(t testing.TB, err error, parts ...string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error, want one that says %q", parts)
	}
	for _, part := range parts {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("error %q\nshould say   %q", err, part)
		}
	}
	if strings.Contains(err.Error(), "\n") {
		t.Errorf("error of more than one line: %q", err)
	}
}

var trueSearchPath = os.Getenv("PATH")

// fakeGit puts a git of our own first on the PATH: a shell script in which
// $real is the true one, $verb the command and $n the number of the call.
func fakeGit(t testing.TB, script string) (calls func() []string) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("a shell script stands in for git")
	}
	setenv(t, "PATH", trueSearchPath) // without a stand-in from before
	real, err := exec.LookPath("git")
	if err != nil {
		t.Skip("git is not installed")
	}
	dir := t.TempDir()
	log := filepath.Join(dir, "log")
	text := fmt.Sprintf(`#!/bin/sh
real='%s' log='%s' verb=
for word; do
  case $word in -c|*=*) ;; *) verb=$word; break;; esac
done
echo "$verb" >> "$log"
n=$(wc -l < "$log")
%s
exec "$real" "$@"
`, real, log, script)
	if err := os.WriteFile(filepath.Join(dir, "git"), []byte(text), 0o755); err != nil {
		t.Fatal(err)
	}
	setenv(t, "PATH", dir+string(os.PathListSeparator)+trueSearchPath)
	return func() []string {
		data, _ := os.ReadFile(log)
		os.Remove(log)
		return strings.Fields(string(data))
	}
}

// The number of times git is called must not depend on how much there is.
func TestGitCallsAreFixed(t *testing.T) {
	counts := map[string][]int{}
	for _, profiles := range []int{3, 60} {
		r := newGitRepo(t)
		for i := range profiles {
			r.profile(fmt.Sprintf("p%d", i), "auto", 412, 409, 415)
		}
		r.commit("results")
		r.git("branch", "feature")
		for i := range profiles {
			r.profile(fmt.Sprintf("p%d", i), "low", 402, 405, 401)
			r.write(fmt.Sprintf("profiles/p%d/runs/more.csv", i), runs(403))
		}
		for i := range profiles / 3 {
			r.write(fmt.Sprintf("profiles/new%d/settings.toml", i), "baseline = \"p0\"\n")
		}
		for _, head := range []string{"", "other"} {
			calls := fakeGit(t, "")
			if head != "" {
				r.git("checkout", "-q", "-b", "other")
				r.commit("changes")
				calls()
			}
			before, after := r.mustLoad("feature", head)
			if len(before.Profiles) != profiles || len(after.Profiles) != profiles+profiles/3 || after.Profiles["p2"].Values.Len() != 4 {
				t.Fatalf("%d and %d profiles", len(before.Profiles), len(after.Profiles))
			}
			made := calls()
			t.Logf("%d profiles, head %q: %d calls: %s", profiles, head, len(made), strings.Join(made, " "))
			counts[head] = append(counts[head], len(made))
		}
	}
	for head, n := range counts {
		if n[0] != n[1] || n[0] == 0 {
			t.Errorf("head %q: %d calls of git for 3 profiles, %d for 60", head, n[0], n[1])
		}
	}
}

// waysToFail are what a stand-in for git does instead of a call: all of them in
// the full tier, one in the quick tier.
func waysToFail() []string {
	if testing.Short() {
		return []string{"echo nonsense; exit 0"}
	}
	return []string{"echo nonsense; exit 0", "exit 3", "exit 128", "kill -9 $$"}
}

// Whichever call of git fails, and however, the outcome is an error.
func TestFailingGit(t *testing.T) {
	r := plain(t)
	r.git("checkout", "-q", "-b", "other")
	r.profile("factory", "auto", 412, 409, 415, 413)
	for _, head := range []string{"", "other", "feature"} {
		setenv(t, "PATH", trueSearchPath) // without the stand-in of the round before
		switch head {
		case "other":
			r.commit("one run more")
		case "feature": // has to be merged
			r = apart(t)
		}
		calls := fakeGit(t, "")
		r.mustLoad("main", head)
		n := len(calls())
		for _, how := range waysToFail() {
			for i := 1; i <= n; i++ {
				calls := fakeGit(t, fmt.Sprintf("[ $n -ne %d ] || { %s; }", i, how))
				before, after, err := r.load("main", head)
				made := calls()
				if len(made) < i {
					t.Fatalf("only %d calls", len(made))
				}
				if err == nil && how == "echo nonsense; exit 0" && (made[i-1] == "show-ref" || made[i-1] == "ls-files") {
					continue // could be the name of a ref, or of an untracked file
				}
				if err == nil || before.Profiles != nil || after.Profiles != nil {
					t.Errorf("head %q, call %d, %s: %s: error %v, %d and %d profiles", head, i, made[i-1], how, err, len(before.Profiles),
						len(after.Profiles))
				}
			}
		}
	}
}

// A git that breaks off in the middle of a file gives no part of it.
func TestBrokenOffContent(t *testing.T) {
	r := plain(t)
	r.profile("factory", "auto", 412, 409, 415, 413)
	answers := filepath.Join(t.TempDir(), "answers")
	fakeGit(t, fmt.Sprintf(`[ $verb != cat-file ] || { "$real" "$@" | tee '%s'; exit 0; }`, answers))
	r.mustLoad("main", "")
	whole, err := os.ReadFile(answers)
	if err != nil || len(whole) == 0 {
		t.Fatalf("%d bytes, %v", len(whole), err)
	}
	step, end := 23, 24 // every so many bytes, and each of the last
	if testing.Short() {
		step, end = 97, 2
	}
	for size := 0; size < len(whole)+3; size++ {
		if size%step != 0 && size < len(whole)-end {
			continue
		}
		// It ends well, and says nothing: only the sizes tell.
		fakeGit(t, fmt.Sprintf(`[ $verb != cat-file ] || {
  trap 'exit 0' TERM
  exec 3<&0
  "$real" "$@" <&3 3<&- | { exec 3<&-; dd bs=1 count=%d 2>/dev/null; kill $$; } &
  exec 3<&- </dev/null
  wait
}`, size))
		before, _, err := r.load("main", "")
		if (err == nil) != (size >= len(whole)) || err != nil && before.Profiles != nil {
			t.Errorf("%d of %d bytes: %v, %q", size, len(whole), err, described(before))
		}
	}
}

// A mistake at the head of a large object ends the reading there and then,
// though git has more to say.
func TestErrorInLargeObject(t *testing.T) {
	r := plain(t)
	r.git("checkout", "-q", "-b", "feature")
	r.write("profiles/factory/runs/large.csv", "benchmark,unit,value\ntile-render,s,4l2\n"+strings.Repeat("tile-render,s,412\n", 200000))
	r.commit("large")
	_, _, err := r.load("main", "feature")
	wantError(t, err, `profiles/factory/runs/large.csv:2:15: found "4l2"`)
}

func TestGitTakesTooLong(t *testing.T) {
	r := plain(t)
	for _, verb := range []string{"version", "ls-tree", "cat-file"} {
		fakeGit(t, "[ $verb != "+verb+" ] || exec sleep 60")
		ctx, cancel := context.WithTimeout(context.Background(), 500*time.Millisecond)
		start := time.Now()
		repository, err := OpenRepository(ctx, r.dir)
		if err == nil {
			r.write("profiles/factory/runs/more.csv", runs(413))
			_, _, err = repository.Load(ctx, "main", "")
		}
		cancel()
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%s: %v", verb, err)
		}
		if took := time.Since(start); took > 50*time.Second { // git would have slept for 60
			t.Errorf("%s: waited for git for %v", verb, took)
		}
	}
}

func TestGitIsMissingOrOld(t *testing.T) {
	r := plain(t)
	t.Run("old", func(t *testing.T) {
		fakeGit(t, "[ $verb != version ] || { echo git version 2.29.7; exit 0; }")
		_, err := OpenRepository(context.Background(), r.dir)
		wantError(t, err, "git 2.29 is too old", "2.30")
	})
	t.Run("another program", func(t *testing.T) {
		fakeGit(t, "[ $verb != version ] || { echo hello; exit 0; }")
		_, err := OpenRepository(context.Background(), r.dir)
		wantError(t, err, `does not answer as git does: "hello\n"`)
	})
	t.Run("missing", func(t *testing.T) {
		t.Setenv("PATH", "")
		_, err := OpenRepository(context.Background(), r.dir)
		wantError(t, err, "git is not installed, or not on the PATH; install it")
	})
	t.Run("in the current folder only", func(t *testing.T) {
		// A repository could bring its own git; exec.LookPath finds it through
		// an entry such as "." but says that it is relative.
		r.write("git", "#!/bin/sh\necho git version 2.39.5\n")
		r.write("git.bat", "@echo git version 2.39.5\n")
		if err := os.Chmod(r.path("git"), 0o755); err != nil {
			t.Fatal(err)
		}
		t.Chdir(r.dir)
		t.Setenv("PATH", ".")
		_, err := OpenRepository(context.Background(), ".")
		wantError(t, err, "git is not installed, or not on the PATH")
	})
}

func TestOpenRepositoryRefuses(t *testing.T) {
	r := plain(t)
	open := func(dir string) error {
		_, err := OpenRepository(context.Background(), dir)
		return err
	}
	t.Run("no repository", func(t *testing.T) {
		dir := t.TempDir()
		t.Setenv("GIT_CEILING_DIRECTORIES", filepath.Dir(dir))
		wantError(t, open(dir), dir+" is in no git repository", "git init")
	})
	t.Run("bare", func(t *testing.T) {
		bare := filepath.Join(t.TempDir(), "bare.git")
		r.git("clone", "-q", "--bare", r.dir, bare)
		wantError(t, open(bare), bare+" is a bare git repository", "in a clone")
		// A git before 2.38 does not know safe.bareRepository.
		fakeGit(t, `case "$*" in *--is-bare-repository*) exec "$real" "$verb" --is-bare-repository --is-inside-work-tree --show-cdup;; esac`)
		wantError(t, open(bare), bare+" is a bare git repository")
	})
	t.Run("looks like a bare one", func(t *testing.T) {
		// A merge request can bring such a folder, with a configuration.
		r.git("clone", "-q", "--bare", r.dir, r.path("profiles/trap"))
		wantError(t, open(r.path("profiles/trap")), "is a bare git repository")
		r.remove("profiles/trap")
	})
	t.Run("git's own folder", func(t *testing.T) {
		// Which of the two it says depends on git's version.
		err := open(r.path(".git"))
		if err == nil || !strings.Contains(err.Error(), ".git is no folder of a git work tree") {
			wantError(t, err, ".git is a bare git repository, or git's own folder")
		}
	})
	t.Run("no commits", func(t *testing.T) {
		empty := newGitRepo(t)
		empty.profile("factory", "auto", 412)
		wantError(t, open(empty.dir), empty.dir+": the branch has no commit yet", "commit first")
	})
	t.Run("a file", func(t *testing.T) {
		wantError(t, open(r.path("tunegate.toml")), "found a file, expected the folder of the results")
	})
	t.Run("nothing", func(t *testing.T) {
		wantError(t, open(r.path("nowhere")), "nowhere: no folder to search for results")
	})
}

func TestRevisions(t *testing.T) {
	r := plain(t)
	first := r.git("rev-parse", "HEAD")
	r.git("tag", "-a", "-m", "tagged", "v1")
	second := r.commit("second")
	r.git("branch", "odd/näme")
	r.git("update-ref", "refs/remotes/upstream/released", first)
	r.git("update-ref", "refs/remotes/origin/shared", first)
	r.git("update-ref", "refs/remotes/upstream/shared", second)
	r.git("update-ref", "refs/remotes/origin/main", first)
	r.git("update-ref", "refs/heads/taken", second)
	r.git("update-ref", "refs/tags/taken", first)
	r.git("update-ref", "refs/remotes/origin/trunk", second)
	r.git("update-ref", "refs/tags/trunk", first)
	r.git("update-ref", "refs/tags/origin/trunk", first)
	r.git("update-ref", "refs/tags/refs/heads/main", first)
	r.git("update-ref", "refs/heads/"+second, first)
	r.git("update-ref", "refs/tags/"+second[:9], first)
	g := git{dir: r.dir, limit: answerLimit}
	var err error
	if g.program, err = findGit(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ rev, commit, shown string }{
		{"main", second, "main"},
		{"HEAD", second, "HEAD"},
		{"@", second, "@"},
		{"HEAD~1", first, "HEAD~1"},
		{"main^", first, "main^"},
		{"main@{0}", second, "main@{0}"},
		{"v1", first, "v1"},
		{"odd/näme", second, "odd/näme"},
		{first, first, first},
		{first[:9], first, first[:9]},
		{second, second, second}, // the commit, though a branch bears that name
		{"refs/heads/main", second, "refs/heads/main"},
		{"refs/heads/taken", second, "refs/heads/taken"},
		{"refs/tags/taken", first, "refs/tags/taken"},
		// As on a build server, where no branch is local.
		{"released", first, "upstream/released"},
		{"refs/remotes/origin/trunk", second, "refs/remotes/origin/trunk"},
	} {
		got, err := g.resolve(context.Background(), c.rev)
		if err != nil || got != (revision{c.commit, c.shown}) {
			t.Errorf("%s: %+v, %v; want %s %s", c.rev, got, err, c.commit, c.shown)
		}
	}
	for _, c := range []struct {
		rev  string
		says []string
	}{
		{"", []string{"found an empty revision; expected a branch"}},
		{"-main", []string{`"-main" is no revision, since it begins with a dash`}},
		{"--output=x", []string{`"--output=x" is no revision, since it begins with a dash`}},
		{"ma\nin", []string{`"ma\nin" is no revision`}},
		{"ma\x00in", []string{`"ma\x00in" is no revision`}},
		{"\x1b[31mmain", []string{`git knows no commit "\x1b[31mmain" here`}},
		{"nowhere", []string{`git knows no commit "nowhere" here`, "no remote"}},
		{"main..v1", []string{`git knows no commit "main..v1" here`}},
		{"^main", []string{`git knows no commit "^main" here`}},
		{"main:tunegate.toml", []string{`git knows no commit "main:tunegate.toml" here; check what`}},
		{"shared", []string{`"shared" is a branch of several remotes; write which: refs/remotes/origin/shared or refs/remotes/upstream/shared`}},
		{"HEAD~9", []string{`git knows no commit "HEAD~9" here; check what stands behind the name`}},
		{"main~9", []string{`git knows no commit "main~9" here; check what stands behind the name`}},
		// Whoever may push a tag must not choose what a branch's name means.
		{"taken", []string{`"taken" names both a tag and a branch; write which: refs/heads/taken or refs/tags/taken`}},
		{"taken~0", []string{`"taken~0" names both a tag and a branch`}},
		{"trunk", []string{`"trunk" names both a tag and a branch; write which: refs/remotes/origin/trunk or refs/tags/trunk`}},
		{"origin/trunk", []string{`"origin/trunk" names both a tag and a branch; write which: refs/remotes/origin/trunk or ` +
			`refs/tags/origin/trunk`}},
		{second[:9], []string{fmt.Sprintf("%q names more than one thing; write it in full", second[:9])}},
		{first[:2], []string{"git knows no commit"}},
	} {
		got, err := g.resolve(context.Background(), c.rev)
		if err == nil {
			t.Errorf("%q: %+v", c.rev, got)
			continue
		}
		wantError(t, err, c.says...)
	}
}

// What git is configured to run, it must not run here.
func TestNothingIsRun(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("shell scripts")
	}
	r := plain(t)
	marker := filepath.Join(t.TempDir(), "marker")
	script := filepath.Join(t.TempDir(), "script")
	if err := os.WriteFile(script, []byte("#!/bin/sh\necho \"$0 $*\" >> '"+marker+"'\ncat\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	hooks := r.path(".git/hooks")
	for _, hook := range []string{"post-index-change", "fsmonitor-watchman", "query-watchman", "reference-transaction", "post-checkout",
		"pre-auto-gc"} {
		os.MkdirAll(hooks, 0o755)
		if err := os.Symlink(script, filepath.Join(hooks, hook)); err != nil {
			t.Fatal(err)
		}
	}
	r.git("checkout", "-q", "-b", "feature")
	r.write(".gitattributes", "* filter=trap diff=trap merge=trap text=auto\n")
	for _, key := range []string{"core.fsmonitor", "core.pager", "core.editor", "core.askPass", "core.sshCommand", "core.gitProxy",
		"core.alternateRefsCommand",
		"diff.external", "diff.trap.command", "diff.trap.textconv", "filter.trap.clean", "filter.trap.smudge", "merge.trap.driver",
		"credential.helper", "gpg.program", "interactive.diffFilter", "uploadpack.packObjectsHook"} {
		r.git("config", key, script)
	}
	for _, verb := range []string{"ls-files", "ls-tree", "rev-parse", "cat-file", "show-ref", "merge-base", "version"} {
		r.git("config", "alias."+verb, "!"+script)
		r.git("config", "pager."+verb, script)
	}
	r.write("profiles/factory/runs/more.csv", runs(413))
	// The trap must work, or this test could not fail.
	r.try("add", "-A")
	r.try("commit", "-q", "-m", "trap")
	r.try("status")
	r.write("profiles/factory/runs/more.csv", runs(413, 414))
	r.try("diff")
	if caught, _ := os.ReadFile(marker); len(caught) == 0 {
		t.Fatal("git itself ran nothing, so there is nothing to see here")
	}
	os.Remove(marker)
	for _, head := range []string{"", "feature"} {
		before, after := r.mustLoad("main", head)
		if before.Profiles["factory"].Values.Len() != 3 || after.Profiles["factory"].Values.Len() < 4 {
			t.Errorf("head %q: %d and %d values", head, before.Profiles["factory"].Values.Len(), after.Profiles["factory"].Values.Len())
		}
	}
	if _, _, err := r.load("nowhere", ""); err == nil {
		t.Error("no error")
	}
	if ran, err := os.ReadFile(marker); err == nil {
		t.Errorf("this was run:\n%s", ran)
	}
}

func TestEnvironmentForGit(t *testing.T) {
	got := environmentForGit([]string{"HOME=/home/heron", "GIT_DIR=/elsewhere", "git_work_tree=/elsewhere", "GIT_INDEX_FILE=x",
		"GIT_EXTERNAL_DIFF=x", "GIT_SSH_COMMAND=x",
		"GIT_CONFIG_PARAMETERS='a.b=c'", "GIT_CONFIG_COUNT=1", "GIT_CONFIG_KEY_0=safe.directory", "GIT_CONFIG_VALUE_0=*",
		"GIT_CONFIG_GLOBAL=g", "GIT_TRACE=1", "LC_ALL=de_DE"})
	want := append([]string{"HOME=/home/heron", "GIT_CONFIG_COUNT=1", "GIT_CONFIG_KEY_0=safe.directory", "GIT_CONFIG_VALUE_0=*",
		"GIT_CONFIG_GLOBAL=g", "LC_ALL=de_DE"}, gitEnvironment...)
	if !slices.Equal(got, want) {
		t.Errorf("%q\nwant %q", got, want)
	}
	// The last of two entries with one name counts (os/exec).
	if i, j := slices.Index(got, "LC_ALL=de_DE"), slices.Index(got, "LC_ALL=C"); i > j {
		t.Error("messages would not be in English")
	}
}

// In a hook git points its children at the repository it works on.
func TestVariablesOfAHook(t *testing.T) {
	r := plain(t)
	other := newGitRepo(t)
	other.commit("nothing")
	t.Setenv("GIT_DIR", other.path(".git"))
	t.Setenv("GIT_WORK_TREE", other.dir)
	t.Setenv("GIT_INDEX_FILE", other.path("none"))
	r.write("profiles/factory/runs/more.csv", runs(413))
	_, after := r.mustLoad("main", "")
	if len(after.Profiles) != 2 {
		t.Errorf("%d profiles", len(after.Profiles))
	}
}

// Replace refs and grafts make git show another history than the one that was
// committed.
func TestNoReplacedObjects(t *testing.T) {
	r := plain(t)
	r.git("checkout", "-q", "-b", "feature")
	r.write("tunegate.toml", "confidence = 80\n")
	loose := r.commit("loosen")
	r.git("replace", r.git("rev-parse", "main"), loose)
	if got := r.git("show", "main:tunegate.toml"); !strings.Contains(got, "80") {
		t.Fatalf("git itself shows %q, so there is nothing to see here", got)
	}
	before, _ := r.mustLoad("main", "")
	if before.Policy == nil || before.Policy.Confidence != 0.95 {
		t.Errorf("%+v", before.Policy)
	}
}

// advised takes the git command out of an error and runs it.
func (r *gitRepo) advised(err error) {
	r.Helper()
	m := regexp.MustCompile(`run: git ([^:]+(:refs/[^:]+)?)`).FindStringSubmatch(fmt.Sprint(err))
	if m == nil {
		r.Fatalf("no advice in %v", err)
	}
	r.Logf("advised: git %s", m[1])
	r.git(strings.Fields(m[1])...)
}

// Each error says what to fetch, and fetching that is enough.
func TestShallowClone(t *testing.T) {
	r := plain(t)
	r.commit("main goes on")
	r.git("checkout", "-q", "-b", "feature", "main~1")
	r.profile("factory", "auto", 412, 409, 415, 413)
	r.commit("one run more")
	for range 3 {
		r.commit("and on")
	}
	clone := func(args ...string) *gitRepo {
		c := &gitRepo{t, filepath.Join(t.TempDir(), "clone")}
		r.git(append(append([]string{"clone", "-q"}, args...), r.url(), c.dir)...)
		return c
	}
	check := func(c *gitRepo, base, shown, tip string) {
		t.Helper()
		before, after := c.mustLoad(base, "")
		wantBefore := fmt.Sprintf("%s (%.7s)", shown, r.git("rev-parse", tip))
		wantAfter := fmt.Sprintf("HEAD (%.7s)", r.git("rev-parse", "feature"))
		if before.Name != wantBefore || after.Name != wantAfter {
			t.Errorf("%s and %s, want %s and %s", before.Name, after.Name, wantBefore, wantAfter)
		}
		if before.Profiles["factory"].Values.Len() != 3 || after.Profiles["factory"].Values.Len() != 4 {
			t.Errorf("%d and %d values", before.Profiles["factory"].Values.Len(), after.Profiles["factory"].Values.Len())
		}
	}
	t.Run("enough is there", func(t *testing.T) {
		c := clone("--depth", "6", "--no-single-branch", "-b", "feature")
		if got := c.git("rev-parse", "--is-shallow-repository"); got == "true" {
			t.Log("shallow")
		}
		check(c, "origin/main", "origin/main", "main")
		check(c, "main", "origin/main", "main")
	})
	t.Run("base not there", func(t *testing.T) {
		c := clone("--depth", "1", "-b", "feature")
		_, _, err := c.load("main", "")
		wantError(t, err, `git knows no commit "main" here`, "git fetch origin main")
		c.advised(err)
		if _, _, err = c.load("main", ""); err != nil {
			wantError(t, err, "origin/main and HEAD have no merge base in this shallow clone; run: git fetch --unshallow origin")
			c.advised(err)
		}
		check(c, "main", "origin/main", "main")
	})
	t.Run("base not there, full clone", func(t *testing.T) {
		c := clone("--single-branch", "-b", "feature")
		_, _, err := c.load("origin/main", "")
		wantError(t, err, "git fetch origin main:refs/remotes/origin/main")
		c.advised(err)
		check(c, "origin/main", "origin/main", "main")
	})
	t.Run("merge base not there", func(t *testing.T) {
		c := clone("--depth", "1", "--no-single-branch", "-b", "feature")
		_, _, err := c.load("origin/main", "")
		wantError(t, err, "origin/main and HEAD have no merge base in this shallow clone; run: git fetch --unshallow origin")
		c.advised(err)
		check(c, "origin/main", "origin/main", "main")
	})
	t.Run("ancestor not there", func(t *testing.T) {
		c := clone("--depth", "1", "-b", "feature")
		_, _, err := c.load("HEAD~4", "")
		wantError(t, err, `git knows no commit "HEAD~4" here, and the clone is shallow; run: git fetch --unshallow origin`)
		c.advised(err)
		check(c, "HEAD~4", "HEAD~4", "main~1")
	})
	t.Run("commit not there", func(t *testing.T) {
		r.git("config", "uploadpack.allowAnySHA1InWant", "true")
		c := clone("--depth", "1", "-b", "feature")
		base := r.git("rev-parse", "main~1")
		_, _, err := c.load(base, "")
		wantError(t, err, "git fetch origin "+base)
	})
}

// A partial clone has no old content, and the gate fetches none by itself.
func TestPartialClone(t *testing.T) {
	r := plain(t)
	r.git("config", "uploadpack.allowFilter", "true")
	r.profile("factory", "auto", 412, 409, 415, 413)
	r.commit("one run more")
	c := &gitRepo{t, filepath.Join(t.TempDir(), "clone")}
	r.git("clone", "-q", "--filter=blob:none", r.url(), c.dir)
	_, _, err := c.load("HEAD~1", "")
	wantError(t, err, "in the base, HEAD~1", "run: git fetch --refetch --no-filter")
	if out, err := c.try("cat-file", "-e", "HEAD~1:profiles/factory/runs/first.csv"); err != nil {
		t.Logf("%s", out)
	}
	c.advised(err)
	before, _ := c.mustLoad("HEAD~1", "")
	if before.Profiles["factory"].Values.Len() != 3 {
		t.Errorf("%d values", before.Profiles["factory"].Values.Len())
	}
}

func TestNoMergeBase(t *testing.T) {
	r := plain(t)
	r.git("checkout", "-q", "--orphan", "elsewhere")
	r.commit("another beginning")
	_, _, err := r.load("main", "")
	wantError(t, err, "main and HEAD have no merge base: their histories never met")
}
