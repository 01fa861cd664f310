package main

import (
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	resultsrepo "tunegate/fixtures/results-repo/build"
)

func TestMain(m *testing.M) {
	testscript.Main(withoutDemo{m}, map[string]func(){"tunegate": main})
}

// withoutDemo runs the tests and removes the demo results repositories that they
// were given copies of.
type withoutDemo struct{ *testing.M }

func (w withoutDemo) Run() int {
	defer func() {
		for _, d := range []string{demoBuilt.folder, ciBuilt.folder} {
			if d != "" {
				os.RemoveAll(d)
			}
		}
	}()
	return w.M.Run()
}

// demoBuilt is the demo results repository: built once, since that calls git a
// hundred times, and copied for each test.
var demoBuilt struct {
	sync.Once
	folder   string
	requests []resultsrepo.Request
	err      error
}

// demoRepository puts the demo results repository into a folder that must not
// exist yet, and returns its merge requests.
func demoRepository(folder string) ([]resultsrepo.Request, error) {
	b := &demoBuilt
	b.Do(func() {
		if b.folder, b.err = os.MkdirTemp("", "demo"); b.err == nil {
			b.requests, b.err = resultsrepo.Repository(filepath.Join(b.folder, "demo"))
		}
	})
	if b.err != nil {
		return nil, b.err
	}
	return b.requests, os.CopyFS(folder, os.DirFS(filepath.Join(b.folder, "demo")))
}

// buildDemo makes the demo results repository: demo FOLDER.
func buildDemo(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: demo FOLDER")
	}
	_, err := demoRepository(ts.MkAbs(args[0]))
	ts.Check(err)
}
