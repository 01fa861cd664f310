package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare/report"
)

const (
	workflowFile = ".github/workflows/tuning-gate.yml"
	digits       = "0123456789abcdef0123456789abcdef01234567"
)

var sum = strings.Repeat("0123456789abcdef", 4)

// What init writes is complete, pinned, has the least rights, and names any folder harmlessly.
func TestNewRepository(t *testing.T) {
	hostile := `re"sults #1: 'x' $(touch pwned)`
	always := []string{"README.md", "profiles/factory/runs/README.md", "profiles/factory/settings.toml", "tunegate.toml"}
	action := source{Action: "studio/tunegate/.github/actions/gate@" + digits, Release: "v1.2.3", SHA256: sum}
	module := source{Module: "example.invalid/studio/tunegate/cmd/tunegate@v1.2.3"}
	program := source{Program: "https://example.invalid/tunegate", SHA256: sum}
	for _, c := range []struct {
		ci
		files []string
		want  []string // in the first of them
	}{
		{ci{Kind: ciGitHub}, nil, nil},
		{ci{source: program, Kind: ciNone}, nil, nil},
		{ci{source: action, Kind: ciGitHub}, []string{workflowFile}, []string{
			"uses: studio/tunegate/.github/actions/gate@" + digits + " # v1.2.3\n",
			"uses: studio/tunegate/.github/actions/comment@" + digits + " # v1.2.3\n", "\n          agreed: ", "sha256: \"" + sum + "\""}},
		{ci{source: action, Kind: ciGitHub, Folder: hostile}, []string{workflowFile},
			[]string{"\n          folder: \"re\\\"sults #1: 'x' $(touch pwned)\"\n"}},
		{ci{source: module, Kind: ciGitHub}, []string{workflowFile},
			[]string{`GOBIN="$tools" go install example.invalid/studio/tunegate/cmd/tunegate@v1.2.3`, `FOLDER: "."`}},
		{ci{source: program, Kind: ciGitHub, Folder: hostile, Upload: uploadAction},
			[]string{workflowFile, ".github/workflows/tuning-comment.yml"},
			[]string{`FOLDER: "re\"sults #1: 'x' $(touch pwned)"`, "uses: " + uploadAction}},
		{ci{source: module, Kind: ciGitLab}, []string{".gitlab-ci.yml"}, []string{`GOBIN="$tools" go install`}},
		{ci{source: program, Kind: ciGitLab, Folder: "a b"}, []string{".gitlab-ci.yml"}, []string{`FOLDER: "a b"`, "GIT_DEPTH: \"0\""}},
		{ci{source: program, Kind: ciScript}, []string{"tuning-gate.sh"}, []string{"SHA256=" + sum}},
	} {
		files, err := newRepository(c.ci)
		if err != nil {
			t.Fatal(err)
		}
		texts := map[string]string{}
		for _, f := range files {
			texts[f.path] = string(f.text)
			if strings.Contains(string(f.text), "[[[") || strings.Contains(string(f.text), "]]]") {
				t.Errorf("not filled in:\n%s", f.text)
			}
		}
		if d := cmp.Diff(slices.Sorted(slices.Values(slices.Concat(always, c.files))), slices.Sorted(maps.Keys(texts))); d != "" {
			t.Errorf("files (-want +got)\n%s", d)
		}
		for _, want := range c.want {
			if !strings.Contains(texts[c.files[0]], want) {
				t.Errorf("%q is not in\n%s", want, texts[c.files[0]])
			}
		}
		for _, name := range c.files {
			if strings.HasPrefix(name, ".github/") {
				checkWorkflow(t, texts[name])
			}
		}
	}
	for _, c := range []ci{{Kind: ciGitHub, Folder: "${{ github.token }}"}, {Kind: ciGitLab, Folder: "$HOME"}} {
		if _, err := newRepository(c); err == nil {
			t.Errorf("a folder that is a variable is taken: %+v", c)
		}
	}
}

// checkWorkflow checks the shape, the rights and the pins of a workflow that init writes.
func checkWorkflow(t *testing.T, text string) {
	t.Helper()
	w := parsed[workflow](t, []byte(text))
	if !maps.Equal(w.Permissions, map[string]string{"contents": "read"}) {
		t.Errorf("rights of the workflow: %v", w.Permissions)
	}
	for name, j := range w.Jobs {
		for _, s := range j.Steps {
			// A folder is a value, never a part of a command.
			if strings.Contains(s.Run, "touch") || strings.Contains(s.Run, "${{") {
				t.Errorf("a value becomes a command: %s", s.Run)
			}
			if s.Uses != "" && !regexp.MustCompile(`^[a-z./-]+@[0-9a-f]{40}$`).MatchString(s.Uses) {
				t.Errorf("not pinned: %s", s.Uses)
			}
			if strings.HasPrefix(s.Uses, "actions/checkout@") &&
				(j.Permissions != nil || s.With["persist-credentials"] != "false" || s.With["fetch-depth"] != "0") {
				t.Errorf("the checkout of %s: %v with rights %v", name, s.With, j.Permissions)
			}
		}
		if writes := j.Permissions["pull-requests"] == "write"; writes != (name == "comment") || j.Permissions["contents"] != "" {
			t.Errorf("the job %s has the rights %v", name, j.Permissions)
		}
	}
}

// The file of a release's checksums gives CI the checksum of its archive.
func TestReleaseSource(t *testing.T) {
	build := report.Build{Version: "v1.2.3", Commit: digits, Repository: stampedHome}
	folder := t.TempDir()
	path := checksumsFile(t, folder, strings.ToUpper(sum))
	got, err := releaseSource(build, path)
	want := source{Action: "studio/tunegate/.github/actions/gate@" + digits, Release: "v1.2.3", SHA256: sum,
		Program: stampedHome + "/releases/download/v1.2.3/" + releaseName}
	if err != nil || got != want {
		t.Errorf("%+v, %v, want %+v", got, err, want)
	}
	if _, err := releaseSource(report.Build{Version: "v1.2.3"}, path); err == nil || !strings.Contains(err.Error(), "no release") {
		t.Errorf("of an unstamped build: %v", err)
	}
	build.Version = "v1.2.4"
	if _, err := releaseSource(build, path); err == nil || !strings.Contains(err.Error(), "tunegate_1.2.4_linux_amd64.tar.gz") {
		t.Errorf("of another release: %v", err)
	}
	if _, err := releaseSource(build, filepath.Join(folder, "none")); err == nil {
		t.Error("a file that is not there is taken")
	}
}

// A build knows a source only where one is sure to be there.
func TestSourceOfBuild(t *testing.T) {
	for _, c := range []struct {
		build report.Build
		want  source
	}{
		{report.Build{}, source{}},
		{report.Build{Version: "v1.2.3", Commit: digits}, source{}}, // from a checkout: who knows where it is
		{report.Build{Version: "v1.2.3", Commit: digits, Repository: "https://forge.example/studio/tunegate"},
			source{Action: "studio/tunegate/.github/actions/gate@" + digits, Release: "v1.2.3"}},
		{report.Build{Version: "v1.2.3", Commit: digits, Modified: true, Repository: "https://forge.example/studio/tunegate"}, source{}},
		{report.Build{Version: "v1.2.3", Repository: "https://forge.example/studio/tunegate"}, source{}},
		{report.Build{Version: "v1.2.3", Commit: digits, Repository: "https://forge.example/"}, source{}},
		{report.Build{Version: "v1.2.3", Module: "forge.example/studio/tunegate"},
			source{Module: "forge.example/studio/tunegate/cmd/tunegate@v1.2.3"}},
		{report.Build{Version: "v1.2.3", Module: "tunegate"}, source{}},
	} {
		if got := sourceOf(c.build); got != c.want {
			t.Errorf("of %+v it is %+v, want %+v", c.build, got, c.want)
		}
	}
}

// However the program is packed, it is unpacked and called.
func TestFetch(t *testing.T) {
	ciTools(t, "unzip")
	program := []byte("#!/bin/sh\nprintf '%s\\n' \"$@\" >called\n") // stands for tunegate
	served := map[string][]byte{"/tunegate": program, "/tunegate.tar.gz": packedTar(t, program), "/tunegate.zip": packedZip(t, program)}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { w.Write(served[r.URL.Path]) }))
	defer server.Close()
	for name, data := range served {
		from, err := programSource(fmt.Sprintf("%s%s#sha256=%x", server.URL, name, sha256.Sum256(data)))
		if err != nil {
			t.Fatal(err)
		}
		folder := t.TempDir()
		writeIn(t, folder, "tuning-gate.sh", string(ciFile(t, ci{source: from, Kind: ciScript}, "tuning-gate.sh")))
		out, err := exec.Command("sh", filepath.Join(folder, "tuning-gate.sh"), "origin/main", "--agreed", "removed,new").CombinedOutput()
		if err != nil {
			t.Errorf("%s: %v: %s", name, err, out)
		}
		want := "gate\n--base\norigin/main\n--results\ntuning-gate\n--agreed\nremoved,new\n"
		if called := readText(t, filepath.Join(folder, "called")); called != want {
			t.Errorf("%s: called with %q, want %q", name, called, want)
		}
	}
}

func packedTar(t *testing.T, program []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	w := tar.NewWriter(z)
	err := w.WriteHeader(&tar.Header{Name: "tunegate", Mode: 0o755, Size: int64(len(program))})
	if err == nil {
		_, err = w.Write(program)
	}
	if err := errors.Join(err, w.Close(), z.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func packedZip(t *testing.T, program []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("tunegate")
	if err == nil {
		_, err = w.Write(program)
	}
	if err := errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
