package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
)

// typedWords matches what only cmd may say: the program with a command behind it,
// or one of its options.
func typedWords(app *cli.App) *regexp.Regexp {
	var commands, options []string
	for _, c := range app.Commands {
		commands = append(commands, c.Names()...)
		for _, f := range append(c.Flags, cli.HelpFlag, cli.VersionFlag) {
			for _, name := range f.Names() {
				options = append(options, regexp.QuoteMeta(name))
			}
		}
	}
	return regexp.MustCompile(fmt.Sprintf(`\b%s (%s)\b|--(%s)($|[^a-z-])`, app.Name, strings.Join(commands, "|"), strings.Join(options, "|")))
}

// Only cmd knows commands and options: no text of a package below names one.
func TestOnlyCmdKnowsCommandsAndOptions(t *testing.T) {
	words := typedWords(newApp(strings.NewReader(""), io.Discard, io.Discard))
	for text, want := range map[string]bool{
		"see tunegate doubts": true, "(--tolerance)": true, "--look 1/3": true, "--leave-out": true,
		"tunegate decides": false, "git branch --all": false, "--before-parent": false, "tunegate.toml": false, "tunegate gateway": false,
	} {
		if words.MatchString(text) != want {
			t.Errorf("%q is found: %v", text, !want)
		}
	}
	literals := 0
	for _, folder := range []string{"../../compare", "../../stats"} {
		err := filepath.WalkDir(folder, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
				return err
			}
			files := token.NewFileSet()
			file, err := parser.ParseFile(files, name, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(file, func(n ast.Node) bool {
				l, ok := n.(*ast.BasicLit)
				if !ok || l.Kind != token.STRING {
					return true
				}
				literals++
				if text, err := strconv.Unquote(l.Value); err != nil || words.MatchString(text) {
					t.Errorf("%s: %s names a command or an option; cmd does that", files.Position(l.Pos()), l.Value)
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if literals < 1000 {
		t.Errorf("only %d literals were read", literals)
	}
}

// house is the table of the design: for each package of ours, without the module's
// name, which others it may import. A package below one of these, such as an
// internal one, serves its parent and may import what that may.
var house = map[string][]string{
	"stats":                {},
	"stats/plan":           {"stats"},
	"stats/check":          {"stats"},
	"compare":              numerics,
	"compare/english":      {},
	"compare/doubts":       above,
	"compare/advice":       above,
	"compare/readings":     above,
	"compare/gate":         slices.Concat(above, []string{"compare/doubts", "compare/readings"}),
	"compare/ladder":       slices.Concat(above, []string{"compare/doubts"}),
	"compare/claims":       slices.Concat(above, []string{"compare/doubts"}),
	"compare/history":      slices.Concat(above, []string{"compare/gate"}),
	"compare/fleet":        above,
	"compare/intake":       slices.Concat(above, uses),
	"compare/report":       slices.Concat(above, uses, []string{"compare/intake", "compare/report/doc", "compare/report/table"}),
	"compare/report/doc":   {},
	"compare/report/table": {"compare/report/doc"},
	"cmd/tunegate": slices.Concat(above, uses, []string{"compare/intake", "compare/report", "compare/report/doc",
		"compare/report/table"}),
}

var (
	numerics = []string{"stats", "stats/plan", "stats/check"}
	above    = append([]string{"compare", "compare/english"}, numerics...) // what every use of the decision builds on
	uses     = []string{"compare/gate", "compare/ladder", "compare/claims", "compare/history", "compare/doubts", "compare/advice",
		"compare/readings", "compare/fleet"}
)

// homeOf is the package of the house that a package is, or lies below; empty for
// none.
func homeOf(name string) string {
	for ; name != "."; name = path.Dir(name) {
		if _, ok := house[name]; ok {
			return name
		}
	}
	return ""
}

// mayImport reports whether one package may import another. That an internal
// package is imported by its parents only the compiler sees to.
func mayImport(from, to string) bool {
	home, other := homeOf(from), homeOf(to)
	reachable := to == other || strings.Contains(to, "/internal/")
	return home != "" && (home == other || reachable && slices.Contains(house[home], other))
}

func TestImportDirections(t *testing.T) {
	for _, c := range []struct {
		from, to string
		want     bool
	}{
		{"stats", "stats/internal/numeric", true}, {"stats/plan", "stats/internal/numeric", true},
		{"compare/history", "compare/gate", true}, {"compare/gate", "compare/doubts", true},
		{"compare/internal/x", "compare", true}, {"compare/report", "compare/report/schema", true},
		{"stats", "stats/plan", false}, {"compare", "compare/gate", false}, {"compare/gate", "compare/history", false},
		{"compare/internal/x", "compare/gate", false},
		{"compare/ladder", "compare/claims", false}, {"compare/intake", "compare/report", false}, {"compare/gate", "cmd/tunegate", false},
		{"cmd/tunegate", "compare/report/schema", false}, {"elsewhere", "stats", false}, {"compare", "fixtures/study", false},
	} {
		if mayImport(c.from, c.to) != c.want {
			t.Errorf("%s may import %s: %v", c.from, c.to, !c.want)
		}
	}
	name, err := exec.Command("go", "list", "-m").Output()
	if err != nil {
		t.Fatal(err)
	}
	module := strings.TrimSpace(string(name)) + "/"
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}} {{join .Imports \" \"}}", module+"...").Output()
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for line := range strings.Lines(string(out)) {
		names := strings.Fields(line)
		from := strings.TrimPrefix(names[0], module)
		if strings.HasPrefix(from, "fixtures/") { // they may import all
			continue
		}
		found[from] = true
		if homeOf(from) == "" {
			t.Errorf("%s has no place in the house", from)
		}
		for _, name := range names[1:] {
			if to, ours := strings.CutPrefix(name, module); ours && !mayImport(from, to) {
				t.Errorf("%s imports %s", from, to)
			}
		}
	}
	for name := range house {
		if !found[name] {
			t.Errorf("there is no package %s", name)
		}
	}
}

// Every action that a workflow of ours uses is pinned by commit, the same one
// everywhere, with its version beside it, no workflow keeps credentials, and none but
// one job may write.
func TestWorkflowsArePinned(t *testing.T) {
	var names []string
	for _, pattern := range []string{"../../.github/workflows/*.yml", "../../.github/actions/*/*.yml",
		"templates/ci/*.yml", "templates/ci/program", "help/ci.md"} {
		found, err := filepath.Glob(pattern)
		if err != nil || len(found) == 0 {
			t.Fatalf("%s: %v, %v", pattern, found, err)
		}
		names = append(names, found...)
	}
	pinned := regexp.MustCompile(`^uses: ([a-z/-]+)@([0-9a-f]{40}) # v[0-9.]+$`)
	commits := map[string]string{}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		text := string(data)
		for _, uses := range regexp.MustCompile(`uses: .*`).FindAllString(text, -1) {
			// TestNewRepository sees to what init fills in.
			if strings.Contains(uses, "[[[ .") || strings.Contains(uses, "OWNER/tunegate/") {
				continue
			}
			pin := pinned.FindStringSubmatch(uses)
			if pin == nil {
				t.Errorf("%s: not pinned: %s", name, uses)
				continue
			}
			if other := commits[pin[1]]; other != "" && other != pin[2] {
				t.Errorf("%s: %s, elsewhere %s", name, uses, other)
			}
			commits[pin[1]] = pin[2]
		}
		if a, b := strings.Count(text, "actions/checkout@"), strings.Count(text, "persist-credentials: false"); a != b {
			t.Errorf("%s: %d checkouts, %d without credentials", name, a, b)
		}
		if strings.Contains(name, "workflows") && !strings.Contains(text, "\npermissions:\n  contents: read\njobs:") {
			t.Errorf("%s: its jobs may do more than read", name)
		}
		if n := strings.Count(text, "contents: write"); n > 1 || n == 1 && filepath.Base(name) != "release.yml" {
			t.Errorf("%s: %d jobs may write", name, n)
		}
	}
}
