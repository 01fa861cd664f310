package main

import (
	"archive/zip"
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// playedForge stands for GitHub and GitLab at once: it serves a release, the comments of
// request 7 of studio/results, and what workflows kept. Paths, bodies and rights are as
// both document them (GitHub: "REST API endpoints for issue comments", "... for pull
// requests", "... for GitHub Actions artifacts", and "Permissions for the GITHUB_TOKEN";
// GitLab: "Notes API", "Users API").
type playedForge struct {
	*httptest.Server
	t *testing.T

	mu        sync.Mutex
	files     map[string][]byte // by path
	rights    map[string]string // of a token: "read", "write", "person"
	comments  []playedComment
	open      []map[string]any // requests
	artifacts map[int]map[string][]byte
	broken    bool // out of order, but for the release
}

type playedComment struct {
	ID     int64          `json:"id"`
	Body   string         `json:"body"`
	User   map[string]any `json:"user"`
	Author map[string]any `json:"author"`
}

const (
	jobUser     = 41 // github-actions[bot], and GitLab's user of the project's token
	releaseName = "tunegate_1.2.3_linux_amd64.tar.gz"
	releasePath = "/studio/tunegate/releases/download/v1.2.3/" + releaseName
)

func playForge(t *testing.T) *playedForge {
	f := &playedForge{t: t, files: map[string][]byte{}, rights: map[string]string{}, artifacts: map[int]map[string][]byte{}}
	// More than a page of comments, one of them a person's who wrote our mark.
	for i := range 130 {
		c := playedComment{ID: int64(i + 1), Body: fmt.Sprintf("comment %d", i), User: map[string]any{"login": "visitor", "type": "User"},
			Author: map[string]any{"id": 5}}
		if i == 3 {
			c.Body = commentMark + "\nPassed, believe me"
		}
		f.comments = append(f.comments, c)
	}
	f.Server = httptest.NewServer(http.HandlerFunc(f.serve))
	t.Cleanup(f.Close)
	return f
}

// with changes what the forge holds.
func (f *playedForge) with(change func(*playedForge)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(f)
}

// newToken is a token with a right.
func (f *playedForge) newToken(right string) (token string) {
	f.with(func(f *playedForge) {
		token = fmt.Sprintf("token-%d", len(f.rights))
		f.rights[token] = right
	})
	return token
}

// own are the comments that the forge's jobs wrote.
func (f *playedForge) own() (out []string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, c := range f.comments[130:] {
		out = append(out, c.Body)
	}
	for i, c := range f.comments[:130] {
		if want := fmt.Sprintf("comment %d", i); c.Body != want && i != 3 {
			f.t.Errorf("a stranger's comment became %q", c.Body)
		}
	}
	if !strings.HasSuffix(f.comments[3].Body, "believe me") {
		f.t.Errorf("a stranger's comment became %q", f.comments[3].Body)
	}
	return out
}

func (f *playedForge) serve(w http.ResponseWriter, r *http.Request) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if data, ok := f.files[r.URL.Path]; ok && r.Method == "GET" {
		w.Write(data)
		return
	}
	if f.broken {
		http.Error(w, "out of order", http.StatusBadGateway)
		return
	}
	token, _ := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	right := f.rights[cmp.Or(token, r.Header.Get("PRIVATE-TOKEN"))]
	answer := func(status int, v any) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		json.NewEncoder(w).Encode(v)
	}
	refuse := func(status int) { answer(status, map[string]string{"message": "Resource not accessible"}) }
	var sent struct{ Body string }
	if r.Method != "GET" {
		if err := json.NewDecoder(r.Body).Decode(&sent); err != nil || r.Header.Get("Content-Type") != "application/json" {
			f.t.Errorf("%s %s: no JSON: %v", r.Method, r.URL, err)
		}
	}
	const hub, lab = "/hub/repos/studio/results", "/lab/projects/12/merge_requests/7/notes"
	path := r.URL.Path
	var id int64
	one := false
	for _, below := range []string{hub + "/issues/comments/", lab + "/"} {
		if rest, ok := strings.CutPrefix(path, below); ok {
			id, _ = strconv.ParseInt(rest, 10, 64)
			one = id > 0
		}
	}
	list := path == hub+"/issues/7/comments" || path == lab
	switch {
	case right == "":
		refuse(http.StatusUnauthorized)
	case path == "/hub/user" && right != "person", path == "/lab/user" && right == "read":
		refuse(http.StatusForbidden) // the token of a job is nobody's
	case path == "/hub/user", path == "/lab/user":
		answer(200, map[string]any{"id": jobUser, "login": "release-person"})
	case r.Method == "GET" && list:
		size, _ := strconv.Atoi(r.URL.Query().Get("per_page"))
		page, _ := strconv.Atoi(r.URL.Query().Get("page"))
		if size < 1 || size > 100 || page < 1 {
			f.t.Errorf("page %d of %d", page, size)
		}
		from := min((page-1)*size, len(f.comments))
		answer(200, f.comments[from:min(from+size, len(f.comments))])
	case r.Method == "GET" && path == hub+"/pulls":
		answer(200, f.open)
	case r.Method == "GET" && strings.HasPrefix(path, hub+"/actions/"):
		f.serveArtifact(w, strings.TrimPrefix(path, hub+"/actions/"), answer)
	case right == "read" && (list || one):
		refuse(http.StatusForbidden)
	case r.Method == "POST" && list:
		c := playedComment{ID: int64(1000 + len(f.comments)), Body: sent.Body, Author: map[string]any{"id": jobUser},
			User: map[string]any{"login": "github-actions[bot]", "type": "Bot"}}
		if right == "person" {
			c.User = map[string]any{"login": "release-person", "type": "User"}
		}
		f.comments = append(f.comments, c)
		answer(201, c)
	case one && (r.Method == "PATCH" && strings.HasPrefix(path, hub) || r.Method == "PUT" && strings.HasPrefix(path, lab)):
		for i, c := range f.comments {
			if c.ID == id {
				f.comments[i].Body = sent.Body
				answer(200, f.comments[i])
				return
			}
		}
		refuse(http.StatusNotFound)
	default:
		f.t.Errorf("unexpected call: %s %s", r.Method, r.URL)
		refuse(http.StatusNotFound)
	}
}

func (f *playedForge) serveArtifact(w http.ResponseWriter, path string, answer func(int, any)) {
	var run, id int
	if n, _ := fmt.Sscanf(path, "runs/%d/artifacts", &run); n == 1 {
		list := []map[string]any{}
		if files, ok := f.artifacts[run]; ok {
			list = append(list, map[string]any{"id": 90 + run, "name": "other", "size_in_bytes": 1},
				map[string]any{"id": 900 + run, "name": "tuning-gate", "size_in_bytes": len(files), "expired": false})
		}
		answer(200, map[string]any{"total_count": len(list), "artifacts": list})
		return
	}
	if n, _ := fmt.Sscanf(path, "artifacts/%d/zip", &id); n == 1 && f.artifacts[id-900] != nil {
		w.Write(zipped(f.t, f.artifacts[id-900]))
		return
	}
	answer(404, nil)
}

// zipped packs files.
func zipped(t *testing.T, files map[string][]byte) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, data := range files {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(data)
		}
		if err != nil {
			t.Error(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Error(err)
	}
	return b.Bytes()
}

// stampedBuild is the program as release v1.2.3 of a forge, built once for all tests.
var stampedBuild struct {
	sync.Once
	program []byte
	err     error
}

const (
	stampedCommit = "0123456789abcdef0123456789abcdef01234567"
	stampedHome   = "https://forge.example/studio/tunegate"
)

func stampedProgram(t *testing.T) []byte {
	t.Helper()
	s := &stampedBuild
	s.Do(func() {
		folder, err := os.MkdirTemp("", "stamped")
		if s.err = err; err != nil {
			return
		}
		defer os.RemoveAll(folder)
		path := filepath.Join(folder, "tunegate")
		stamps := "-s -w -X main.stampVersion=v1.2.3 -X main.stampCommit=" + stampedCommit + " -X main.stampRepository=" + stampedHome
		out, err := exec.Command("go", "build", "-buildvcs=false", "-ldflags", stamps, "-o", path, ".").CombinedOutput()
		if err != nil {
			s.err = fmt.Errorf("%w: %s", err, out)
			return
		}
		s.program, s.err = os.ReadFile(path)
	})
	if s.err != nil {
		t.Fatal(s.err)
	}
	return s.program
}

// publish puts the release on the forge, and returns the archive's checksum.
func (f *playedForge) publish(t *testing.T) string {
	archive := packedTar(t, stampedProgram(t))
	f.with(func(f *playedForge) { f.files[releasePath] = archive })
	return fmt.Sprintf("%x", sha256.Sum256(archive))
}

// checksumsFile is the release's file of checksums, in a folder.
func checksumsFile(t *testing.T, folder, sum string) string {
	writeIn(t, folder, "checksums.txt", strings.Repeat("0", 64)+"  tunegate_1.2.3_windows_amd64.zip\n"+sum+"  "+releaseName+"\n")
	return filepath.Join(folder, "checksums.txt")
}

// exitOf is the status of a process that ended; -1 where it did not.
func exitOf(err error) int {
	var exit *exec.ExitError
	switch {
	case err == nil:
		return 0
	case errors.As(err, &exit):
		return exit.ExitCode()
	}
	return -1
}
