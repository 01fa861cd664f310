package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// inJob makes this process one of GitHub's jobs for request 7.
func inJob(t *testing.T, f *playedForge, token string) (results string) {
	t.Helper()
	ciTools(t)
	temp := t.TempDir()
	event, err := json.Marshal(map[string]any{"pull_request": map[string]any{"number": 7, "base": map[string]any{"ref": "main"},
		"head": map[string]any{"sha": strings.Repeat("a", 40)}}})
	if err != nil {
		t.Fatal(err)
	}
	writeIn(t, temp, "event.json", string(event))
	for name, value := range map[string]string{"GITHUB_ACTIONS": "true", "GITHUB_API_URL": f.URL + "/hub",
		"GITHUB_REPOSITORY": "studio/results",
		"GITHUB_SERVER_URL": f.URL, "GITHUB_RUN_ID": "5", "GITHUB_EVENT_PATH": filepath.Join(temp, "event.json"), "TUNEGATE_TOKEN": token,
		"GITHUB_STEP_SUMMARY": "", "GITHUB_OUTPUT": ""} {
		t.Setenv(name, value)
	}
	writeIn(t, temp, "results/status", "0\n")
	writeIn(t, temp, "results/gate.md", "## ✔ Passed: nothing that is judged changed\n")
	return filepath.Join(temp, "results")
}

// The comment is changed in place, whoever's the token is, and only where it says
// something else; a stranger's that begins alike stays (checked by own).
func TestCommentIsOne(t *testing.T) {
	for _, right := range []string{"write", "person"} {
		f := playForge(t)
		results := inJob(t, f, f.newToken(right))
		for i, want := range []string{"commented\n", "the comment says so already\n", "changed the comment\n"} {
			if i == 2 {
				writeIn(t, results, "status", "1\n")
				writeIn(t, results, "gate.md", "## ✘ Failed: x\n")
			}
			if status, out, errs := tunegate("comment", results); status != 0 || out != want || errs != "" {
				t.Fatalf("%s: status %d, %q, %q, want %q", right, status, out, errs, want)
			}
			if n := len(f.own()); n != 1 {
				t.Fatalf("%s: %d comments", right, n)
			}
		}
		want := commentMark + "\n## ✘ Failed: x\n\nResults: <" + f.URL + "/studio/results/actions/runs/5> (of aaaaaaa)\n\nNext: "
		if !strings.HasPrefix(f.own()[0], want) {
			t.Errorf("%s", f.own()[0])
		}
	}
}

// What keeps a comment from being written is a warning that says what to do.
func TestCommentRefused(t *testing.T) {
	for _, c := range []struct{ token, want string }{
		{"unknown", "the answer is 401; give it the permission: pull-requests: write"},
		{"reader", "the answer is 403; give it the permission: pull-requests: write"},
		{"two\nlines", "holds a quote or an unprintable character"},
		{`a"b`, "holds a quote"},
		{"", "there is no TUNEGATE_TOKEN"},
	} {
		f := playForge(t)
		if c.token == "reader" {
			c.token = f.newToken("read")
		}
		results := inJob(t, f, c.token)
		status, out, errs := tunegate("comment", results)
		if status != 0 || out != "" || !strings.HasPrefix(errs, "::warning title=tunegate comment::not commented: ") ||
			!strings.Contains(errs, c.want) || strings.Count(errs, "\n") != 1 || len(f.own()) != 0 {
			t.Errorf("%q: status %d, %q, %q", c.token, status, out, errs)
		}
	}
	f := playForge(t)
	results := inJob(t, f, f.newToken("write"))
	f.Close()
	if status, _, errs := tunegate("comment", results); status != 0 || !strings.Contains(errs, "not commented: curl: ") {
		t.Errorf("nobody there: status %d, %q", status, errs)
	}
	t.Setenv("PATH", t.TempDir())
	if status, _, errs := tunegate("comment", results); status != 0 || !strings.Contains(errs, "curl is not on this machine") {
		t.Errorf("no curl: status %d, %q", status, errs)
	}
	writeIn(t, filepath.Dir(results), "event.json", "{")
	status, _, errs := tunegate("comment", results)
	if status != 0 || !strings.Contains(errs, "the event of GITHUB_EVENT_PATH is not as expected") {
		t.Errorf("no event: status %d, %q", status, errs)
	}
}

// The token stands in no list of processes, and no folder is left behind.
func TestCommentHidesTheToken(t *testing.T) {
	f := playForge(t)
	token := f.newToken("write")
	results := inJob(t, f, token)
	bin := t.TempDir()
	t.Setenv("TMPDIR", t.TempDir())
	curl := "#!/bin/sh\nprintf '%s\\n' \"$@\" >>'" + filepath.Join(bin, "arguments") + "'\nenv -u TUNEGATE_TOKEN PATH=\"$PATHS\" curl \"$@\"\n"
	if err := os.WriteFile(filepath.Join(bin, "curl"), []byte(curl), 0o700); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATHS", os.Getenv("PATH"))
	t.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	if status, out, errs := tunegate("comment", results); status != 0 || out != "commented\n" {
		t.Fatalf("status %d, %q, %q", status, out, errs)
	}
	arguments := readText(t, filepath.Join(bin, "arguments"))
	if !strings.Contains(arguments, "--config") || strings.Contains(arguments, token) {
		t.Errorf("curl is called with %q", arguments)
	}
	if left, err := os.ReadDir(os.Getenv("TMPDIR")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// A comment that a forge would refuse is cut behind a line, and folded parts are closed.
func TestCommentIsCut(t *testing.T) {
	page := "## ✘ Failed: x\n\n<details><summary>6 metrics</summary>\n\n" + strings.Repeat("| @a | ▼ regression |\n", 4000) + "\n</details>\n"
	got := commentText(map[string]string{statusFile: "1", markdownFile: page}, &forge{base: "main", page: "https://forge.example/7"})
	if len(got) > 65_000 || strings.Count(got, "<details>") != strings.Count(got, "</details>") || !strings.Contains(got, "\nCut here; ") ||
		!strings.HasSuffix(got, "`\n") {
		t.Errorf("%d bytes, which end %q", len(got), got[max(0, len(got)-300):])
	}
	hostile := &forge{base: "main`; rm -rf ~", page: "https://forge.example/> [x](y)"}
	got = commentText(map[string]string{statusFile: "1", markdownFile: "## x\n"}, hostile)
	if strings.Contains(got, "rm -rf") || strings.Contains(got, "[x]") {
		t.Errorf("%q", got)
	}
}
