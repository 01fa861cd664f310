package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"tunegate/compare/report/schema"
)

// TestScripts runs the program as people do: one file a scenario, commands and
// expected output in plain sight. $FIXTURES is the folder fixtures, $WORKURL the URL of
// the folder that a script runs in.
func TestScripts(t *testing.T) {
	fixtures, err := filepath.Abs("../../fixtures")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:           "testdata/script",
		UpdateScripts: *update,
		Setup: func(e *testscript.Env) error {
			e.Setenv("FIXTURES", fixtures)
			e.Setenv("COLUMNS", "")
			e.Setenv("LC_ALL", "C.UTF-8")
			e.Setenv("WORKURL", "file:///"+strings.TrimPrefix(filepath.ToSlash(e.WorkDir), "/"))
			for _, v := range gitIdentity {
				name, value, _ := strings.Cut(v, "=")
				e.Setenv(name, value)
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":      exits,
			"refuses":    refuses,
			"schema":     holdsToSchema,
			"columns":    hasColumns,
			"bytes":      writeBytes,
			"width":      keepsToWidth,
			"ascii":      holdsOnlyASCII,
			"nocontrols": hasNoControls,
			"begins":     beginsWith,
			"demo":       buildDemo,
			"uncomment":  uncomment,
			"fill":       fillSheet,
		},
		RequireExplicitExec: true,
	})
}

// uncomment makes a commented key of a TOML file count: uncomment FILE KEY.
func uncomment(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: uncomment FILE KEY")
	}
	before, after := "\n# "+args[1]+" = ", "\n"+args[1]+" = "
	text := ts.ReadFile(args[0])
	if n := strings.Count(text, before); n != 1 {
		ts.Fatalf("%s has %d lines with # %s, want 1", args[0], n, args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, before, after, 1)), 0o644))
}

// exits runs a command and checks its exit status: exits 2 tunegate compare ...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS COMMAND ARG...")
	}
	status := "0"
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		status = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if status != args[0] {
		ts.Fatalf("exit status %s, want %s", status, args[0])
	}
}

// refuses runs tunegate compare on bad input: refuses PATTERN ARG... checks
// that it ends with status 2, prints nothing, says in one line on stderr what
// the pattern expects, and writes none of the files asked for.
func refuses(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: refuses PATTERN ARG...")
	}
	command := append([]string{"compare"}, args[1:]...)
	err := ts.Exec("tunegate", append(command, "--write", "json=refused.json", "--write", "text=refused.txt")...)
	if err == nil || err.Error() != "exit status 2" {
		ts.Fatalf("%v, want exit status 2", err)
	}
	if out := ts.ReadFile("stdout"); out != "" {
		ts.Fatalf("prints %q", out)
	}
	printed := ts.ReadFile("stderr")
	if !strings.HasPrefix(printed, "tunegate: ") || strings.Count(printed, "\n") != 1 || !strings.HasSuffix(printed, "\n") {
		ts.Fatalf("says %q, want one line", printed)
	}
	pattern, err := regexp.Compile(args[0])
	ts.Check(err)
	if !pattern.MatchString(printed) {
		ts.Fatalf("says %q, want %q", printed, args[0])
	}
	for _, name := range []string{"refused.json", "refused.txt"} {
		if _, err := os.Stat(ts.MkAbs(name)); !os.IsNotExist(err) {
			ts.Fatalf("%s is there: %v", name, err)
		}
	}
}

// keepsToWidth checks that no line of a file, or of stdout, is wider than so
// many columns: width 80 stdout. Colours take none, and a command to be typed is not
// wrapped.
func keepsToWidth(ts *testscript.TestScript, neg bool, args []string) {
	columns, err := strconv.Atoi(strings.Join(args[:1], ""))
	if neg || len(args) != 2 || err != nil {
		ts.Fatalf("usage: width COLUMNS FILE")
	}
	for i, line := range strings.Split(ts.ReadFile(args[1]), "\n") {
		if w := text.StringWidthWithoutEscSequences(line); w > columns && !strings.HasPrefix(line, "Next: tunegate ") {
			ts.Fatalf("line %d takes %d columns, more than %d:\n%s", i+1, w, columns, line)
		}
	}
}

// holdsOnlyASCII checks that a file, or stdout, holds nothing but printable
// ASCII and line ends.
func holdsOnlyASCII(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: ascii FILE")
	}
	for i, b := range []byte(ts.ReadFile(args[0])) {
		if b != '\n' && (b < ' ' || b > '~') {
			ts.Fatalf("byte %d is %#x", i, b)
		}
	}
}

// hasNoControls checks that a file, or stdout, can do nothing to a terminal: no
// control character but line ends, and none that turns the direction of text.
func hasNoControls(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: nocontrols FILE")
	}
	for _, r := range ts.ReadFile(args[0]) {
		if r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029') {
			ts.Fatalf("it holds %U", r)
		}
	}
}

// holdsToSchema checks a JSON file, or stdout, against a schema by name.
func holdsToSchema(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: schema NAME FILE")
	}
	if err := checkSchema(args[0], []byte(ts.ReadFile(args[1]))); err != nil {
		ts.Fatalf("%v", err)
	}
}

// hasColumns checks that a CSV begins with the columns of a command: columns COMMAND FILE.
func hasColumns(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: columns COMMAND FILE")
	}
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(ts.ReadFile(args[1]), "\uFEFF"))).ReadAll()
	ts.Check(err)
	columns, err := columnsOf(args[0])
	ts.Check(err)
	if !slices.Equal(rows[0], columns) {
		ts.Fatalf("%s has the columns %q, want %q", args[1], rows[0], columns)
	}
}

// columnsOf are the columns of a command's CSV as the schema lists them.
func columnsOf(command string) (names []string, err error) {
	data, err := schema.Files.ReadFile("columns.json")
	if err != nil {
		return nil, err
	}
	var all struct {
		Tables []struct {
			Command string
			Columns []struct{ Name string }
		}
	}
	if err := json.Unmarshal(data, &all); err != nil {
		return nil, err
	}
	for _, t := range all.Tables {
		if t.Command == command {
			for _, c := range t.Columns {
				names = append(names, c.Name)
			}
			return names, nil
		}
	}
	return nil, fmt.Errorf("columns.json has no command %q", command)
}

// foreignSchemas are those of forms that others have stated; each folder says where
// its schema comes from.
var foreignSchemas = map[string]string{
	"sarif":        "../../fixtures/sarif/sarif-schema-2.1.0.json",
	"code-quality": "../../fixtures/code-quality/code-quality.schema.json",
}

// checkSchema holds JSON to a schema by the name of its file. All schemas of ours are
// at hand under their $id, since one may refer to another.
func checkSchema(name string, data []byte) error {
	c := jsonschema.NewCompiler()
	if file := foreignSchemas[name]; file != "" {
		c.AssertFormat()
		return checkCompiled(c, file, data)
	}
	ids := map[string]string{}
	files, err := fs.Glob(schema.Files, "*.schema.json")
	if err != nil {
		return err
	}
	for _, file := range files {
		source, err := schema.Files.ReadFile(file)
		if err != nil {
			return err
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(source))
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		fields, _ := doc.(map[string]any)
		id, ok := fields["$id"].(string)
		if !ok {
			return fmt.Errorf("%s has no $id", file)
		}
		ids[file] = "mem:///" + id // else it would be a file of this folder
		if err := c.AddResource(ids[file], doc); err != nil {
			return err
		}
	}
	return checkCompiled(c, ids[name+".schema.json"], data)
}

func checkCompiled(c *jsonschema.Compiler, id string, data []byte) error {
	compiled, err := c.Compile(id)
	if err != nil {
		return err
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		return err
	}
	return compiled.Validate(value)
}

// writeBytes writes a file from a quoted Go string, for what a text archive
// cannot hold: bytes FILE "\xff\xfe..."
func writeBytes(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: bytes FILE TEXT")
	}
	content, err := strconv.Unquote(`"` + strings.ReplaceAll(args[1], `"`, `\"`) + `"`)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(content), 0o644))
}
