package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/testscript"
)

// gitIdentity lets git commit in a test, whatever the machine's configuration.
var gitIdentity = []string{
	"GIT_CONFIG_GLOBAL=" + os.DevNull, "GIT_CONFIG_NOSYSTEM=1",
	"GIT_AUTHOR_NAME=studio", "GIT_AUTHOR_EMAIL=studio@example.invalid", "GIT_AUTHOR_DATE=2026-11-02T09:00:00Z",
	"GIT_COMMITTER_NAME=studio", "GIT_COMMITTER_EMAIL=studio@example.invalid", "GIT_COMMITTER_DATE=2026-11-02T09:00:00Z",
}

// commitName is the short hash behind a revision's name.
var commitName = regexp.MustCompile(` \([0-9a-f]{7}\)`)

// beginsWith checks the beginning of a file, or of stdout, against another
// file, short hashes of commits aside: begins stdout want. With -update the script
// is changed to what it is.
func beginsWith(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: begins FILE WANT")
	}
	got, want := commitName.ReplaceAllString(ts.ReadFile(args[0]), ""), ts.ReadFile(args[1])
	if strings.HasPrefix(got, want) {
		return
	}
	if *update { // as many lines as are wanted now
		now := strings.Join(strings.SplitAfter(got, "\n")[:min(strings.Count(want, "\n"), strings.Count(got, "\n"))], "")
		script := filepath.Join("testdata", "script", ts.Name()+".txtar")
		data, err := os.ReadFile(script)
		ts.Check(err)
		ts.Check(os.WriteFile(script, []byte(strings.Replace(string(data), want, now, 1)), 0o600))
		return
	}
	ts.Fatalf("-want +got\n%s", cmp.Diff(want, got[:min(len(got), len(want))]))
}

// outsideActions keeps a test from telling GitHub Actions what it gates, where
// it runs there itself.
func outsideActions(t *testing.T) {
	t.Helper()
	t.Setenv("GITHUB_ACTIONS", "")
	t.Setenv("COLUMNS", "")
}

func gitIn(t testing.TB, folder string, args ...string) {
	t.Helper()
	c := exec.Command("git", args...)
	c.Dir, c.Env = folder, append(os.Environ(), gitIdentity...)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("git %q: %v: %s", args, err, out)
	}
}

func writeIn(t testing.TB, folder, name, content string) {
	t.Helper()
	path := filepath.Join(folder, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
}

func tunegate(args ...string) (status int, stdout, stderr string) {
	var out, errs bytes.Buffer
	status = run(append([]string{"tunegate"}, args...), strings.NewReader(""), &out, &errs)
	return status, out.String(), errs.String()
}

// Every merge request of the demo, checked out, ends as it says. By its
// branch's name and in words: testdata/script/gate-demo.txtar.
func TestDemoRequests(t *testing.T) {
	outsideActions(t)
	demo := filepath.Join(t.TempDir(), "demo")
	requests, err := demoRepository(demo)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for _, r := range requests {
		seen[r.Branch] = r.Exit
		gitIn(t, demo, "switch", "-q", r.Branch)
		args := []string{"gate", "--base", "main", "--json", demo}
		for form := range foreignSchemas {
			args = append(args, "--write", form+"="+filepath.Join(demo, "..", form))
		}
		status, out, errs := tunegate(args...)
		var got struct {
			Exit int `json:"exit_status"`
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil || status != r.Exit || got.Exit != r.Exit || errs != "" {
			t.Errorf("%s, %s: exit status %d, want %d; JSON says %d, %v; %s", r.Branch, r.What, status, r.Exit, got.Exit, err, errs)
		}
		if err := checkSchema("gate", []byte(out)); err != nil {
			t.Errorf("%s: %v", r.Branch, err)
		}
		for form := range foreignSchemas {
			data, err := os.ReadFile(filepath.Join(demo, "..", form))
			if err == nil {
				err = checkSchema(form, data)
			}
			if err != nil || bytes.Contains(data, []byte(filepath.ToSlash(demo))) {
				t.Errorf("%s, %s: %v", r.Branch, form, err)
			}
		}
	}
	for branch, exit := range map[string]int{"good": 0, "regression": 1, "noise": 3, "cap-broken": 1, "policy-loosened": 1, "stale-runs": 1,
		"policy-alone": 3, "score-left-out": 3, "copied": 1, "no-baseline": 3, "removed": 3, "renamed": 0} {
		if got, there := seen[branch]; !there || got != exit {
			t.Errorf("the demo's %s ends with %d, there: %v; want %d", branch, got, there, exit)
		}
	}
}

// hostileNames of profiles, files and benchmarks. All of them sort apart.
func hostileNames() []string {
	names := []string{
		"-rf", "--help", "--base=x", "a b  c", " leading and trailing ", "new\nline\n::error::boo", "tab\tand\rreturn",
		"\x1b[31mred\x1b[0m\x1b[2J\x07", "<script>alert(1)<script>", "<!-- -->&amp;<details>",
		"`code` **bold** _it_ |pipe| \\",
		"[link](https:evil.example) ![i](x) @everyone #1", `"double" 'single'`, "$(touch pwned)`touch pwned`;touch pwned", "::error::boo",
		"##[error]boo", "%0A::error::boo",
		"*?[a]", ":(exclude)x", ":!y", "名前", "CON", "x{{.}}", "]]>-->",
	}
	if runtime.GOOS != "darwin" { // whose file systems refuse it
		names = append(names, "not \xff\xfe UTF-8")
	}
	return names
}

// hostileRepository has a profile by each name, every second one slower than
// factory. It returns what the gate has to say of each.
func hostileRepository(t *testing.T) (folder string, want map[string]string) {
	t.Helper()
	folder = filepath.Join(t.TempDir(), "hostile repo \x1b[31m\n::error::folder")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	// No two profiles spread alike, as measured ones do not.
	csv := func(benchmark string, level, spread float64) string {
		var b strings.Builder
		b.WriteString("benchmark,unit,session,value\n")
		quoted := `"` + strings.ReplaceAll(benchmark, `"`, `""`) + `"`
		noise := rand.New(rand.NewPCG(7, uint64(1000*spread)))
		scatter := func(level float64) float64 { return level * math.Exp(0.002*spread*(2*noise.Float64()-1)) }
		for i := range 4 {
			fmt.Fprintf(&b, "tile-render,s,%d,%.3f\n%s,s,%d,%.3f\n", i, scatter(level), quoted, i, scatter(100))
		}
		return b.String()
	}
	gitIn(t, folder, "init", "-q", "-b", "main", ".")
	writeIn(t, folder, "tunegate.toml", "[[metric]]\nbenchmark = \"*\"\ntolerance = 0.5\n")
	writeIn(t, folder, "profiles/factory/settings.toml", "[settings]\nlift = \"auto\"\n")
	factoryRuns := regexp.MustCompile(`(?m)^"mesh-solve".*\n`).ReplaceAllString(csv("mesh-solve", 412, 1), "")
	writeIn(t, folder, "profiles/factory/runs/1.csv", factoryRuns)
	gitIn(t, folder, "add", "-A")
	gitIn(t, folder, "commit", "-q", "-m", "factory")
	want = map[string]string{}
	for i, name := range hostileNames() {
		level, outcome := 402.0, "passed"
		if i%2 == 1 {
			level, outcome = 424, "failed"
		}
		text, err := json.Marshal(name) // as good as TOML's basic strings
		if err != nil {
			t.Fatal(err)
		}
		writeIn(t, folder, "profiles/"+name+"/settings.toml",
			fmt.Sprintf("baseline = \"factory\"\n[settings]\nlift = %s\n%[1]s = 1\n[conditions]\nroom = %[1]s\n", text))
		benchmark := strings.Map(func(r rune) rune {
			if r < ' ' || r == unicode.ReplacementChar {
				return '_'
			}
			return r
		}, name)
		writeIn(t, folder, "profiles/"+name+"/runs/"+name+".csv", csv(benchmark, level, 1+float64(i+1)/200))
		var shown string // what JSON makes of it
		if err := json.Unmarshal(text, &shown); err != nil {
			t.Fatal(err)
		}
		want[shown] = outcome
	}
	return folder, want
}

func noControls(t *testing.T, what, s string) {
	t.Helper()
	for i, r := range s {
		if r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029') {
			t.Fatalf("%s holds %U in %q", what, r, s[max(0, i-40):min(len(s), i+20)])
		}
	}
}

// A repository with hostile names is judged right and printed harmlessly, in
// every form, from the working tree and from a commit.
func TestHostileRepository(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows does not allow such names")
	}
	outsideActions(t)
	folder, want := hostileRepository(t)
	out := t.TempDir()
	for _, head := range []string{"", "HEAD"} {
		if head != "" {
			gitIn(t, folder, "switch", "-q", "-c", "feature")
			gitIn(t, folder, "add", "-A")
			gitIn(t, folder, "commit", "-q", "-m", "hostile")
		}
		t.Setenv("GITHUB_ACTIONS", "true")
		t.Setenv("GITHUB_STEP_SUMMARY", filepath.Join(out, "summary.md"))
		os.Remove(filepath.Join(out, "summary.md"))
		args := []string{"gate", "--base", "main", "--head", head, folder}
		for _, form := range []string{"text", "json", "markdown", "junit", "sarif", "code-quality", "badge"} {
			args = append(args, "--write", form+"="+filepath.Join(out, form))
		}
		status, text, annotations := tunegate(args...)
		if status != 1 {
			t.Fatalf("exit status %d; %s", status, annotations)
		}
		read := func(name string) string {
			data, err := os.ReadFile(filepath.Join(out, name))
			if err != nil {
				t.Fatal(err)
			}
			return string(data)
		}

		var gate struct {
			Judged  []struct{ Profile, Outcome string }
			Reasons []struct {
				Kind, Profile string
				At            []struct{ File string }
			}
		}
		asJSON := read("json")
		if err := json.Unmarshal([]byte(asJSON), &gate); err != nil {
			t.Fatal(err)
		}
		if err := checkSchema("gate", []byte(asJSON)); err != nil {
			t.Error(err)
		}
		got := map[string]string{}
		for _, j := range gate.Judged {
			got[j.Profile] = j.Outcome
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("outcomes (-want +got)\n%s", d)
		}
		for _, r := range gate.Reasons {
			valid := func(s string) string { return strings.ReplaceAll(s, "\ufffd", "") }
			if r.Kind != "regression" || valid(r.At[0].File) != valid("profiles/"+r.Profile+"/runs/"+r.Profile+".csv") {
				t.Errorf("a reason of kind %s at %+v", r.Kind, r.At)
			}
		}

		for name, page := range map[string]string{"stdout": text, "text": read("text"), "markdown": read("markdown"), "junit": read("junit"),
			"annotations": annotations, "sarif": read("sarif"), "code-quality": read("code-quality"), "badge": read("badge")} {
			noControls(t, name, page)
		}
		for _, l := range strings.Split(text, "\n") { // what the log of GitHub Actions would obey
			if strings.HasPrefix(strings.TrimSpace(l), "::") || strings.Contains(l, "##[") {
				t.Errorf("a command for the log: %q", l)
			}
		}
		if page := read("summary.md"); page != read("markdown") {
			t.Error("the step summary is not the markdown form")
		}
		for form := range foreignSchemas {
			if err := checkSchema(form, []byte(read(form))); err != nil {
				t.Errorf("%s: %v", form, err)
			}
		}
		if err := xml.Unmarshal([]byte(read("badge")), new(struct{})); err != nil {
			t.Errorf("the badge: %v", err)
		}
		unescapedTag := regexp.MustCompile(`<[^>]*>`)
		for _, tag := range unescapedTag.FindAllString(read("markdown"), -1) {
			if !slices.Contains([]string{"<details>", "</details>", "<summary>", "</summary>"}, tag) {
				t.Errorf("markdown holds the tag %q", tag)
			}
		}
		if n := strings.Count(read("markdown"), "\n### "); n != len(want) {
			t.Errorf("markdown has %d profiles, want %d", n, len(want))
		}
		d := xml.NewDecoder(strings.NewReader(read("junit")))
		suites := 0
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			if s, ok := token.(xml.StartElement); ok && s.Name.Local == "testsuite" {
				suites++
			}
		}
		if suites != len(want) {
			t.Errorf("junit has %d suites, want %d", suites, len(want))
		}
		command := regexp.MustCompile(`^::(error|notice) (file=[^,:]*,line=[0-9]+,)?title=tunegate gate::[^\n]+$`)
		lines := strings.Split(strings.TrimSuffix(annotations, "\n"), "\n")
		for _, l := range lines {
			if !command.MatchString(l) {
				t.Errorf("%q is no annotation", l)
			}
		}
		if len(lines) != len(want) {
			t.Errorf("%d annotations, want %d", len(lines), len(want))
		}
	}
	for _, dir := range []string{folder, out, "."} {
		if _, err := os.Stat(filepath.Join(dir, "pwned")); err == nil {
			t.Error("a name was run")
		}
	}
}

// An error about a hostile file is one harmless line, and nothing is judged.
func TestHostileErrors(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows does not allow such names")
	}
	outsideActions(t)
	for _, actions := range []string{"", "true"} {
		t.Setenv("GITHUB_ACTIONS", actions)
		t.Setenv("GITHUB_STEP_SUMMARY", "")
		folder, _ := hostileRepository(t)
		for _, name := range hostileNames() {
			file := "profiles/" + name + "/runs/" + name + ".csv"
			good, err := os.ReadFile(filepath.Join(folder, file))
			if err != nil {
				t.Fatal(err)
			}
			writeIn(t, folder, file, "benchmark,unit,value\n\x1b[2J\u202e::error::x,s,not a number "+name+"\n")
			status, out, errs := tunegate("gate", "--base", "main", folder)
			if status != 2 || out != "" || !strings.HasPrefix(errs, "tunegate: ") || strings.Count(errs, "\n") != 1 {
				t.Errorf("%q: exit status %d, %d bytes printed, says %q", name, status, len(out), errs)
			}
			if strings.ContainsAny(errs, "\x1b\r\x00\x07") || actions == "true" && strings.Contains(errs, "##[") {
				t.Errorf("says %q", errs)
			}
			writeIn(t, folder, file, string(good))
		}
	}
}

// Revisions from outside never become options of git.
func TestHostileRevisions(t *testing.T) {
	outsideActions(t)
	demo := filepath.Join(t.TempDir(), "demo")
	if _, err := demoRepository(demo); err != nil {
		t.Fatal(err)
	}
	for _, rev := range []string{"-x", "--help", "--upload-pack=touch pwned", "--output=pwned", "-", "main\nHEAD", "main:tunegate.toml",
		"^main", "main..HEAD", "", "nope", "$(touch pwned)"} {
		for _, args := range [][]string{{"--base", rev}, {"--base=" + rev}, {"--base", "main", "--head", rev}} {
			if rev == "" && args[0] != "--base=" { // an empty head is the working tree
				continue
			}
			status, out, errs := tunegate(append([]string{"gate", demo}, args...)...)
			if status != 2 || out != "" || !strings.HasPrefix(errs, "tunegate: ") || strings.Count(errs, "\n") != 1 {
				t.Errorf("%q: exit status %d, %d bytes printed, says %q", args, status, len(out), errs)
			}
		}
	}
	for _, dir := range []string{demo, "."} {
		if _, err := os.Stat(filepath.Join(dir, "pwned")); err == nil {
			t.Error("a revision was run or written")
		}
	}
}
