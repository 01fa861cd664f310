package main

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
)

// Each wiring is run as CI runs it, on one request of each kind.
var ciRequests = []ciRequest{
	{"regression", "", 1, "## ✘ Failed: archive-pack is 1.79 % slower with boost-lift"},
	{"good", "", 0, "## ✔ Passed: boost-lift is 1.80 % faster than factory"},
	{"noise", "", 3, "## … Undecided: "},
	{"removed", "", 3, "## … Undecided: "},
	{"removed", "tuning-agreed", 0, "## ✔ Passed (agreed: removed): "},
	{"broken", "", 2, "## ✘ Nothing was judged"},
}

type ciRequest struct {
	branch, label string
	status        int
	comment       string // how the comment begins
}

// ciTools skips a test where what a CI job needs is not there.
func ciTools(t *testing.T, more ...string) {
	t.Helper()
	for _, tool := range append([]string{"bash", "curl", "tar", "sha256sum", "git"}, more...) {
		if _, err := exec.LookPath(tool); err != nil || runtime.GOOS != "linux" || runtime.GOARCH != "amd64" {
			t.Skipf("CI files are for Linux (amd64) with %s: %v", tool, err)
		}
	}
}

// ciBuilt is the repository that the tests of CI read: a bare clone of the demo with two
// more requests, one that cannot be read and one whose names are hostile, and with the
// merge of each request into main.
var ciBuilt struct {
	sync.Once
	folder string
}

func ciOrigin(t *testing.T) string {
	t.Helper()
	ciBuilt.Do(func() {
		folder, err := os.MkdirTemp("", "ci") // removed in withoutDemo
		if err != nil {
			t.Fatal(err)
		}
		ciBuilt.folder = folder
		demo, origin := filepath.Join(folder, "demo"), filepath.Join(folder, "results.git")
		if _, err := demoRepository(demo); err != nil {
			t.Fatal(err)
		}
		const runs = "profiles/boost-lift/runs/2026-11.csv"
		gitIn(t, demo, "switch", "-q", "-c", "broken", "good")
		writeIn(t, demo, runs, "session,`![x](https://evil.example) [s]\nB1,4\n")
		gitIn(t, demo, "commit", "-q", "-a", "-m", "no unit")
		gitIn(t, demo, "switch", "-q", "-c", "hostile", "regression")
		gitIn(t, demo, "mv", "profiles/boost-lift", "profiles/`<img src=x> @everyone #1 **www.evil.example**")
		gitIn(t, demo, "commit", "-q", "-a", "-m", "names")
		gitIn(t, folder, "clone", "-q", "--bare", demo, origin)
		for _, branch := range []string{"regression", "good", "noise", "removed", "broken", "hostile"} {
			gitIn(t, demo, "switch", "-q", "--detach", "main")
			gitIn(t, demo, "merge", "-q", "--no-ff", "-m", "merge", branch)
			gitIn(t, demo, "push", "-q", origin, "HEAD:refs/merges/"+branch)
		}
	})
	return filepath.Join(ciBuilt.folder, "results.git")
}

// propose opens request 7 from a branch, and returns the branch's commit.
func propose(t *testing.T, origin, branch string) string {
	t.Helper()
	gitIn(t, origin, "update-ref", "refs/pull/7/merge", "refs/merges/"+branch)
	out, err := exec.Command("git", "-C", origin, "rev-parse", branch).Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}

// newRunner opens request 7 from a branch.
func newRunner(t *testing.T, f *playedForge, origin, branch, label string, fork bool) *playedRunner {
	t.Helper()
	head := propose(t, origin, branch)
	from, labels := "studio/results", []any{map[string]any{"name": "later"}}
	if fork {
		from = "guest/results"
	}
	if label != "" {
		labels = append(labels, map[string]any{"name": label})
	}
	request := map[string]any{"number": 7, "labels": labels, "base": map[string]any{"ref": "main"},
		"head": map[string]any{"ref": branch, "sha": head, "repo": map[string]any{"full_name": from}}}
	other := map[string]any{"number": 6, "base": map[string]any{"ref": "main"}, "head": map[string]any{"sha": strings.Repeat("0", 40)}}
	f.with(func(f *playedForge) { f.open = []map[string]any{other, request} })
	return &playedRunner{t: t, forge: f, origin: origin, name: "pull_request", run: 300, system: "X64", fork: fork,
		event: map[string]any{"action": "opened", "pull_request": request}}
}

// afterRun is the event that a workflow_run brings once a workflow ended.
func (r *playedRunner) afterRun(success bool) *playedRunner {
	head := r.event["pull_request"].(map[string]any)["head"].(map[string]any)
	owner, _, _ := strings.Cut(head["repo"].(map[string]any)["full_name"].(string), "/")
	conclusion := map[bool]string{true: "success", false: "failure"}[success]
	return &playedRunner{t: r.t, forge: r.forge, origin: r.origin, name: "workflow_run", run: r.run + 1, system: r.system,
		event: map[string]any{"workflow_run": map[string]any{"id": r.run, "event": "pull_request", "conclusion": conclusion,
			"head_sha": head["sha"], "head_branch": head["ref"], "head_repository": map[string]any{"owner": map[string]any{"login": owner}},
			"pull_requests": []any{}}}}
}

// ciFile is a file that init writes.
func ciFile(t *testing.T, c ci, name string) []byte {
	t.Helper()
	files, err := newRepository(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f.path == name {
			return f.text
		}
	}
	t.Fatalf("init writes no %s", name)
	return nil
}

// releaseOf is the source of the release that a forge has.
func releaseOf(t *testing.T, f *playedForge) (action, program source) {
	sum := f.publish(t)
	action = source{Action: "studio/tunegate/.github/actions/gate@" + stampedCommit, Release: "v1.2.3", SHA256: sum}
	return action, source{Program: f.URL + releasePath, SHA256: sum}
}

const uploadAction = "studio/upload@" + stampedCommit

// checkComment checks the one comment that there is.
func checkComment(t *testing.T, f *playedForge, begins string, status int) {
	t.Helper()
	own := f.own()
	if len(own) != 1 || !strings.HasPrefix(own[0], commentMark+"\n"+begins) {
		t.Errorf("%d comments, want one that begins %q:\n%s", len(own), begins, strings.Join(own, "\n=====\n"))
		return
	}
	next := strings.Contains(own[0], "\nNext: ") && strings.Contains(own[0], "`git fetch origin main && tunegate gate --base origin/main`")
	if next != (status != 0) || !strings.Contains(own[0], "\nResults: <"+f.URL) {
		t.Errorf("status %d; the comment ends\n%s", status, own[0][max(0, len(own[0])-600):])
	}
	if status == 1 && !strings.Contains(own[0], "\n| archive-pack | ▼ regression | -1.79 %, ") {
		t.Errorf("no table in\n%s", own[0])
	}
}

// ofTier are the requests that a test plays; the quick tier plays all of them in one.
func ofTier() []ciRequest {
	if testing.Short() {
		return []ciRequest{ciRequests[0], ciRequests[5]}
	}
	return ciRequests
}

// On GitHub, with our action or with the program alone: one workflow judges and comments
// on requests of the repository.
func TestWorkflowPlayed(t *testing.T) {
	ciTools(t)
	origin := ciOrigin(t)
	for _, kind := range []string{"action", "program"} {
		t.Run(kind, func(t *testing.T) {
			if kind == "program" && testing.Short() {
				t.Skip("the full tier; the two workflows are played with it")
			}
			f := playForge(t)
			from, program := releaseOf(t, f)
			if kind == "program" {
				from = program
			}
			w := parsed[workflow](t, ciFile(t, ci{source: from, Kind: ciGitHub}, workflowFile))
			for _, q := range ciRequests {
				r := newRunner(t, f, origin, q.branch, q.label, false)
				status, success := r.play(w)
				if status != fmt.Sprint(q.status) || success != (q.status == 0) {
					t.Errorf("%s %s: status %q, success %v, want %d\n%s", q.branch, q.label, status, success, q.status, &r.log)
				}
				checkComment(t, f, q.comment, q.status)
				if len(r.summaries) != 1 || !strings.HasPrefix(r.summaries[0], q.comment) {
					t.Errorf("%s: the summaries are %q", q.branch, r.summaries)
				}
				if kind == "action" && !r.downloaded {
					t.Errorf("%s: the release was not downloaded", q.branch)
				}
			}
			// From a fork the token may only read: no comment is tried, and the verdict is the same.
			before := f.own()[0]
			r := newRunner(t, f, origin, "good", "", true)
			status, success := r.play(w)
			if status != "0" || !success || f.own()[0] != before || strings.Contains(r.log.String(), "not commented") {
				t.Errorf("from a fork: status %s, success %v\n%s", status, success, &r.log)
			}
			// Names stay text.
			r = newRunner(t, f, origin, "hostile", "", false)
			r.play(w)
			if bad := regexp.MustCompile("@|<i|(^|[^\\\\])[`#*]<|www[.]").FindString(f.own()[0]); bad != "" || r.log.Len() == 0 {
				t.Errorf("the comment holds %q:\n%s", bad, f.own()[0])
			}
			checkComment(t, f, "## ✘ Failed: archive-pack is 1.79 % slower with \\`&lt;img src=x&gt; ＠everyone \\#1 \\*\\*www\\.evil.example", 1)
			// Without the permission, or without the forge, a warning: the check is the gate's.
			j := w.Jobs["comment"]
			j.Permissions = map[string]string{"contents": "read"}
			w.Jobs["comment"] = j
			r = newRunner(t, f, origin, "good", "", false)
			if status, success := r.play(w); status != "0" || !success ||
				!strings.Contains(r.log.String(), "the answer is 403; give it the permission: pull-requests") {
				t.Errorf("without permission: status %s, success %v\n%s", status, success, &r.log)
			}
		})
	}
}

// With an action that uploads, a second workflow comments, also on requests from forks; it
// takes what was kept for text, and only what fits the check.
func TestTwoWorkflowsPlayed(t *testing.T) {
	ciTools(t)
	origin := ciOrigin(t)
	for _, kind := range []string{"action", "program"} {
		t.Run(kind, func(t *testing.T) {
			if kind == "action" && testing.Short() {
				t.Skip("the full tier; the one workflow is played with it")
			}
			f := playForge(t)
			from, program := releaseOf(t, f)
			if kind == "program" {
				from = program
			}
			c := ci{source: from, Kind: ciGitHub, Upload: uploadAction}
			judge := parsed[workflow](t, ciFile(t, c, workflowFile))
			tell := parsed[workflow](t, ciFile(t, c, ".github/workflows/tuning-comment.yml"))
			if on := fmt.Sprint(tell.On["workflow_run"]); on != fmt.Sprint(map[string]any{"types": []any{"completed"}, "workflows": []any{judge.Name}}) {
				t.Errorf("the second workflow runs on %s", on)
			}
			for _, q := range ofTier() {
				r := newRunner(t, f, origin, q.branch, q.label, true)
				_, success := r.play(judge)
				if success != (q.status == 0) {
					t.Errorf("%s %s: success %v, want %d\n%s", q.branch, q.label, success, q.status, &r.log)
				}
				if got := string(f.artifacts[r.run]["status"]); got != fmt.Sprintln(q.status) {
					t.Errorf("%s: status %q is kept, want %d", q.branch, got, q.status)
				}
				names := slices.Sorted(maps.Keys(f.artifacts[r.run]))
				if want := []string{"gate-quality.json", "gate.html", "gate.json", "gate.md", "gate.sarif", "gate.xml", "status"}; q.status != 2 && !slices.Equal(names, want) {
					t.Errorf("%s: %q are kept", q.branch, names)
				}
				after := r.afterRun(success)
				if _, ok := after.play(tell); !ok {
					t.Errorf("%s: the second workflow fails:\n%s", q.branch, &after.log)
				}
				checkComment(t, f, q.comment, q.status)
			}
			// What somebody else put there.
			for name, kept := range map[string]map[string][]byte{
				"a verdict that is not the check's": {"status": []byte("0\n"), "gate.md": []byte("## Passed\n")},
				"no status":                         {"gate.md": []byte("## Passed\n")},
				"another status":                    {"status": []byte("$(id)"), "gate.md": []byte("## Passed\n")},
				"too much":                          {"status": []byte("1"), "gate.md": bytes.Repeat([]byte("| a "), 1<<20)},
				"nothing":                           {},
			} {
				r := newRunner(t, f, origin, "good", "", true)
				f.with(func(f *playedForge) { f.artifacts[r.run] = kept })
				if _, ok := r.afterRun(false).play(tell); !ok || len(f.own()) != 1 ||
					!strings.HasPrefix(f.own()[0], commentMark+"\n## ✘ There are no results\n") {
					t.Errorf("%s: %q", name, f.own())
				}
			}
			r := newRunner(t, f, origin, "good", "", true)
			hostile := "## ✘ Failed\n<a href=https://evil.example>here</a> @studio [l](https://evil.example)\n/merge\n" + commentMark + "\n"
			f.with(func(f *playedForge) {
				f.artifacts[r.run] = map[string][]byte{"status": []byte("1"), "../gate.md": []byte("x"), "gate.md": []byte(hostile)}
			})
			r.afterRun(false).play(tell)
			want := commentMark + "\n## ✘ Failed\n&lt;a href=https\\://evil.example&gt;here&lt;/a&gt; ＠studio \\[l\\](https\\://evil.example)\n" +
				"\\/merge\n&lt;!-- tunegate gate --&gt;\n"
			if got := f.own()[0]; !strings.HasPrefix(got, want) {
				t.Errorf("a hostile page becomes\n%s", got)
			}
			// Another commit was pushed since, or nothing was kept: the comment stays.
			before := f.own()[0]
			r.event["pull_request"].(map[string]any)["head"].(map[string]any)["sha"] = strings.Repeat("1", 40)
			after := r.afterRun(false)
			f.with(func(f *playedForge) { f.open = nil })
			if _, ok := after.play(tell); !ok || f.own()[0] != before || !strings.Contains(after.log.String(), "no open one ends at the commit") {
				t.Errorf("of an old commit: %s", &after.log)
			}
		})
	}
}

// A checksum that is not the download's ends the job before anything is unpacked.
func TestWrongChecksum(t *testing.T) {
	ciTools(t)
	origin := ciOrigin(t)
	f := playForge(t)
	action, program := releaseOf(t, f)
	action.SHA256, program.SHA256 = strings.Repeat("0", 64), strings.Repeat("0", 64)
	for _, from := range []source{action, program} {
		w := parsed[workflow](t, ciFile(t, ci{source: from, Kind: ciGitHub}, workflowFile))
		r := newRunner(t, f, origin, "good", "", false)
		if status, success := r.play(w); status != "" || success || len(f.own()) > 0 || !strings.Contains(r.log.String(), "checksum") {
			t.Errorf("%+v: status %q, success %v\n%s", from, status, success, &r.log)
		}
	}
	gitlab := ciFile(t, ci{source: program, Kind: ciGitLab}, ".gitlab-ci.yml")
	status, out := playGitLab(t, f, gitlab, origin, "good", "", "sh", true)
	if status == 0 || !strings.Contains(out, "computed checksum did NOT match") {
		t.Errorf("GitLab: status %d\n%s", status, out)
	}
	script := ciFile(t, ci{source: program, Kind: ciScript}, "tuning-gate.sh")
	if status, out := playScript(t, script, origin, "good"); status != 2 || !strings.Contains(out, "computed checksum did NOT match") {
		t.Errorf("script: status %d\n%s", status, out)
	}
	// At a tag the action takes the release of that tag.
	tagged := source{Action: "studio/tunegate/.github/actions/gate@v1.2.3", SHA256: f.publish(t)}
	r := newRunner(t, f, origin, "good", "", false)
	if status, _ := r.play(parsed[workflow](t, ciFile(t, ci{source: tagged, Kind: ciGitHub}, workflowFile))); status != "0" || !r.downloaded {
		t.Errorf("at a tag: status %s, downloaded %v\n%s", status, r.downloaded, &r.log)
	}
	// It builds where no checksum is stated, or where the archive is for other machines.
	if testing.Short() {
		return
	}
	action.SHA256 = ""
	r = newRunner(t, f, origin, "regression", "", false)
	if status, _ := r.play(parsed[workflow](t, ciFile(t, ci{source: action, Kind: ciGitHub}, workflowFile))); status != "1" || r.downloaded {
		t.Errorf("built: status %s, downloaded %v\n%s", status, r.downloaded, &r.log)
	}
	checkComment(t, f, ciRequests[0].comment, 1)
	action.SHA256 = strings.Repeat("0", 64)
	r = newRunner(t, f, origin, "good", "", false)
	r.system = "ARM64"
	if status, _ := r.play(parsed[workflow](t, ciFile(t, ci{source: action, Kind: ciGitHub}, workflowFile))); status != "0" || r.downloaded {
		t.Errorf("built: status %s, downloaded %v\n%s", status, r.downloaded, &r.log)
	}
}

// A push is judged against the commit before it, with the action as the topic shows it.
func TestActionOnPush(t *testing.T) {
	ciTools(t)
	origin := ciOrigin(t)
	f := playForge(t)
	action, _ := releaseOf(t, f)
	before, err := exec.Command("git", "-C", origin, "rev-parse", "main").Output()
	if err != nil {
		t.Fatal(err)
	}
	text := `on: {push: {branches: [main]}}
permissions: {contents: read}
jobs:
  gate:
    runs-on: ubuntu-latest
    timeout-minutes: 10
    outputs:
      status: ${{ steps.gate.outputs.status }}
      markdown: ${{ steps.gate.outputs.markdown }}
      html: ${{ steps.gate.outputs.html }}
      results: ${{ steps.gate.outputs.results }}
    steps:
      - uses: actions/checkout@` + stampedCommit + `
        with: {fetch-depth: 0, persist-credentials: false}
`
	_, shown, _ := strings.Cut(readText(t, topicCI), "\n### The action\n")
	text += strings.NewReplacer("OWNER", "studio", "COMMIT", stampedCommit, "DIGITS", action.SHA256, ", folder: results", "").Replace(
		codeBlock.FindStringSubmatch(shown)[2])
	w := parsed[workflow](t, []byte(text))
	for branch, want := range map[string]int{"good": 0, "regression": 1} {
		r := newRunner(t, f, origin, branch, "", false)
		r.name, r.event = "push", map[string]any{"before": strings.TrimSpace(string(before))}
		if status, success := r.play(w); status != fmt.Sprint(want) || success != (want == 0) {
			t.Errorf("%s: status %q, success %v\n%s", branch, status, success, &r.log)
		}
		for name, file := range map[string]string{"markdown": "gate.md", "html": "gate.html", "results": ""} {
			out, _ := r.last[name].(string)
			if _, err := os.Stat(out); err != nil || !strings.HasSuffix(out, filepath.Join("tuning-gate", file)) {
				t.Errorf("the output %s is %q: %v", name, out, err)
			}
		}
	}
}

// gitlabFile is what GitLab reads, as far as ours holds it (its documentation, "CI/CD
// YAML syntax reference").
type gitlabFile struct {
	Job struct {
		Rules     []map[string]string
		Timeout   string
		Variables map[string]string
		Script    []string
		Artifacts struct {
			When    string
			Paths   []string
			Reports map[string]string
		}
	} `yaml:"tuning-gate"`
}

// playGitLab runs the job for a merge request from a branch as a runner does: a fetch of
// the branch alone, shallow unless GIT_DEPTH is 0, and all lines of the script in one shell.
func playGitLab(t *testing.T, f *playedForge, text []byte, origin, branch, label, shell string, token bool) (status int, out string) {
	t.Helper()
	j := parsed[gitlabFile](t, text).Job
	if len(j.Rules) != 1 || j.Rules[0]["if"] != `$CI_PIPELINE_SOURCE == "merge_request_event"` || j.Artifacts.When != "always" ||
		!slices.Equal(j.Artifacts.Paths, []string{"tuning-gate/"}) || j.Artifacts.Reports["junit"] != "tuning-gate/gate.xml" ||
		j.Artifacts.Reports["codequality"] != "tuning-gate/gate-quality.json" {
		t.Errorf("the job is %+v", j)
	}
	folder := filepath.Join(t.TempDir(), "build s")
	gitIn(t, ".", "init", "-q", folder)
	gitIn(t, folder, "remote", "add", "origin", "file://"+origin)
	fetch := []string{"fetch", "-q", "origin", "+refs/heads/" + branch + ":refs/pipelines/1"}
	if j.Variables["GIT_DEPTH"] != "0" { // 20 unless stated, which this repository does not have
		fetch = append(fetch, "--depth=1")
	}
	gitIn(t, folder, fetch...)
	gitIn(t, folder, "checkout", "-q", "refs/pipelines/1")
	c := exec.Command(shell, "-e", "-c", strings.Join(j.Script, "\n"))
	c.Dir = folder
	c.Env = append(jobEnvironment(), "GITLAB_CI=true", "CI_API_V4_URL="+f.URL+"/lab", "CI_PROJECT_ID=99", "CI_MERGE_REQUEST_PROJECT_ID=12",
		"CI_MERGE_REQUEST_IID=7", "CI_MERGE_REQUEST_TARGET_BRANCH_NAME=main", "CI_COMMIT_SHA="+strings.Repeat("a", 40),
		"CI_MERGE_REQUEST_LABELS=later,"+label, "CI_JOB_URL="+f.URL+"/studio/results/-/jobs/5", "CI_PIPELINE_URL="+f.URL+"/p")
	for name, value := range j.Variables {
		c.Env = append(c.Env, name+"="+value)
	}
	if token {
		c.Env = append(c.Env, "TUNEGATE_TOKEN="+f.newToken("write"))
	}
	printed, err := c.CombinedOutput()
	if kept, read := os.ReadFile(filepath.Join(folder, "tuning-gate", "status")); read == nil && string(kept) != fmt.Sprintln(exitOf(err)) {
		t.Errorf("status %q is kept, and the job ends with %d", kept, exitOf(err))
	}
	return exitOf(err), string(printed)
}

func TestGitLabPlayed(t *testing.T) {
	ciTools(t)
	origin := ciOrigin(t)
	for _, shell := range []string{"sh", "bash"} {
		if shell == "bash" && testing.Short() {
			continue
		}
		f := playForge(t)
		_, program := releaseOf(t, f)
		text := ciFile(t, ci{source: program, Kind: ciGitLab}, ".gitlab-ci.yml")
		for _, q := range ofTier() {
			status, out := playGitLab(t, f, text, origin, q.branch, q.label, shell, true)
			if status != q.status {
				t.Errorf("%s %s: status %d, want %d\n%s", q.branch, q.label, status, q.status, out)
			}
			checkComment(t, f, q.comment, q.status)
			page := "Results: <" + f.URL + "/studio/results/-/jobs/5/artifacts/file/tuning-gate/gate.html> (of aaaaaaa)"
			if !strings.Contains(f.own()[0], page) {
				t.Errorf("no %s in\n%s", page, f.own()[0])
			}
		}
		// Without a token, and with a forge that is out of order.
		before := f.own()[0]
		status, out := playGitLab(t, f, text, origin, "regression", "", shell, false)
		if status != 1 || !strings.Contains(out, "not commented: there is no TUNEGATE_TOKEN") || f.own()[0] != before {
			t.Errorf("without a token: status %d\n%s", status, out)
		}
		f.with(func(f *playedForge) { f.broken = true })
		status, out = playGitLab(t, f, text, origin, "regression", "", shell, true)
		if status != 1 || !strings.Contains(out, "the answer is 502") {
			t.Errorf("out of order: status %d\n%s", status, out)
		}
	}
}

// playScript runs the script that init writes in a clone.
func playScript(t *testing.T, script []byte, origin, branch string, options ...string) (status int, out string) {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "a clone")
	gitIn(t, ".", "clone", "-q", "--branch", branch, origin, folder)
	writeIn(t, folder, "tuning-gate.sh", string(script))
	c := exec.Command("sh", append([]string{filepath.Join(folder, "tuning-gate.sh"), "origin/main"}, options...)...)
	c.Dir, c.Env = t.TempDir(), jobEnvironment()
	printed, err := c.CombinedOutput()
	return exitOf(err), string(printed)
}

func TestScriptPlayed(t *testing.T) {
	ciTools(t)
	origin := ciOrigin(t)
	f := playForge(t)
	_, program := releaseOf(t, f)
	script := ciFile(t, ci{source: program, Kind: ciScript}, "tuning-gate.sh")
	for _, q := range ofTier() {
		var options []string
		if q.label != "" {
			options = []string{"--agreed", "policy,removed,new"}
		}
		if status, out := playScript(t, script, origin, q.branch, options...); status != q.status {
			t.Errorf("%s %s: status %d, want %d\n%s", q.branch, q.label, status, q.status, out)
		}
	}
	f.with(func(f *playedForge) { delete(f.files, releasePath) })
	if status, out := playScript(t, script, origin, "good"); status != 2 {
		t.Errorf("no release: status %d\n%s", status, out)
	}
}
