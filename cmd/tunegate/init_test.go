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
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare/report"
)

const workflowFile = ".github/workflows/tuning-gate.yml"

// workflowFor is the workflow that init writes; empty where it writes none.
func workflowFor(t *testing.T, c ci) string {
	t.Helper()
	files, err := newRepository(c)
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{}
	for _, f := range files {
		texts[f.path] = string(f.text)
	}
	want := []string{workflowFile, "README.md", "profiles/factory/runs/README.md", "profiles/factory/settings.toml", "tunegate.toml"}
	if !c.known() { // a workflow could not fetch the program
		want = want[1:]
	}
	if d := cmp.Diff(want, slices.Sorted(maps.Keys(texts))); d != "" {
		t.Errorf("files (-want +got)\n%s", d)
	}
	return texts[workflowFile]
}

// What init writes is complete, and its workflow names any folder harmlessly.
func TestNewRepository(t *testing.T) {
	const digits = "0123456789abcdef0123456789abcdef01234567"
	hostile := `re"sults #1: $(touch pwned)`
	for _, c := range []struct {
		ci
		want []string // in the workflow
	}{
		{ci{}, nil},
		{ci{source{Action: "studio/tunegate/.github/actions/gate@" + digits, Release: "v1.2.3"}, ""},
			[]string{"uses: studio/tunegate/.github/actions/gate@" + digits + " # v1.2.3\n", "\n          agreed: "}},
		{ci{source{Action: "studio/tunegate/.github/actions/gate@" + digits, Release: "v1.2.3"}, hostile},
			[]string{"\n          folder: \"re\\\"sults #1: $(touch pwned)\"\n"}},
		{ci{source{Module: "example.invalid/studio/tunegate/cmd/tunegate@v1.2.3"}, ""},
			[]string{`GOBIN="$RUNNER_TEMP" go install example.invalid/studio/tunegate/cmd/tunegate@v1.2.3`, `FOLDER: "."`}},
		{ci{source{Program: "https://example.invalid/tunegate"}, hostile}, []string{`FOLDER: "re\"sults #1: $(touch pwned)"`}},
	} {
		workflow := workflowFor(t, c.ci)
		for _, want := range c.want {
			if !strings.Contains(workflow, want) {
				t.Errorf("%q is not in\n%s", want, workflow)
			}
		}
		if strings.Contains(workflow, "[[[") || strings.Contains(workflow, "]]]") {
			t.Errorf("not filled in:\n%s", workflow)
		}
		// A folder is a value, never a part of the command.
		for _, run := range regexp.MustCompile(`run: .*`).FindAllString(workflow, -1) {
			if strings.Contains(run, "touch") {
				t.Errorf("with the folder %q: %s", c.Folder, run)
			}
		}
		if !c.known() {
			continue
		}
		// Actions are pinned by commit, and nothing may be written.
		for _, uses := range regexp.MustCompile(`uses: .*`).FindAllString(workflow, -1) {
			if !regexp.MustCompile(`^uses: [a-z./-]+@[0-9a-f]{40} # v[0-9.]+$`).MatchString(uses) {
				t.Errorf("not pinned: %s", uses)
			}
		}
		if !strings.Contains(workflow, "permissions:\n  contents: read\njobs:") || !strings.Contains(workflow, "persist-credentials: false") {
			t.Errorf("more rights than needed:\n%s", workflow)
		}
	}
	if _, err := newRepository(ci{Folder: "${{ github.token }}"}); err == nil {
		t.Error("a folder that is an expression is taken")
	}
}

// A build knows a source only where one is sure to be there.
func TestSourceOfBuild(t *testing.T) {
	const digits = "0123456789abcdef0123456789abcdef01234567"
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

// What a workflow with --program runs fetches the program and gates with it, and
// ends where the checksum is another.
func TestWorkflowRuns(t *testing.T) {
	for _, tool := range []string{"bash", "curl", "unzip", "tar", "sha256sum"} {
		if _, err := exec.LookPath(tool); err != nil || runtime.GOOS != "linux" {
			t.Skipf("the workflow runs on Linux, with %s: %v", tool, err)
		}
	}
	program := []byte("#!/bin/sh\nprintf '%s\\n' \"$@\" >called\n") // stands for tunegate
	served := map[string][]byte{"/tunegate": program, "/tunegate.tar.gz": packedTar(t, program), "/tunegate.zip": packedZip(t, program)}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { w.Write(served[r.URL.Path]) }))
	defer server.Close()
	step := regexp.MustCompile(`(?m)^      - (?:name: .*\n        )?run: (?:'(.*)'\n|\|\n((?: {10}.*\n)+))(?:        env:\n((?: {10}.*\n)+))?`)
	variable := regexp.MustCompile(`(?m)^ +([A-Z0-9]+): "(.*)"$`)
	for name, data := range served {
		for _, right := range []bool{true, false} {
			sum := fmt.Sprintf("%x", sha256.Sum256(data))
			if !right {
				sum = strings.Repeat("0", 64)
			}
			from, err := programSource(server.URL + name + "#sha256=" + sum)
			if err != nil {
				t.Fatal(err)
			}
			workflow := workflowFor(t, ci{from, "tuning results"})
			steps := step.FindAllStringSubmatch(workflow, -1)
			if len(steps) != 2 {
				t.Fatalf("%d steps in\n%s", len(steps), workflow)
			}
			temp := t.TempDir()
			var failed error
			for _, s := range steps {
				command := exec.Command("bash", "-e", "-c", s[1]+s[2])
				command.Dir = temp
				command.Env = append(os.Environ(), "RUNNER_TEMP="+temp, "GITHUB_BASE_REF=main", "AGREED=removed,new")
				for _, v := range variable.FindAllStringSubmatch(s[3], -1) {
					command.Env = append(command.Env, v[1]+"="+v[2])
				}
				if out, err := command.CombinedOutput(); err != nil {
					failed = fmt.Errorf("%w: %s", err, out)
					break
				}
			}
			if right != (failed == nil) {
				t.Errorf("%s, right checksum %v: %v", name, right, failed)
			}
			called, _ := os.ReadFile(filepath.Join(temp, "called"))
			want := "gate\n--base\norigin/main\n--agreed\nremoved,new\n--\ntuning results\n"
			if !right {
				want = ""
			}
			if string(called) != want {
				t.Errorf("%s, right checksum %v: called with %q, want %q", name, right, called, want)
			}
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
