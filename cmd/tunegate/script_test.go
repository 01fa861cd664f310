package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"tunegate/compare/report/schema"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"tunegate": main})
}

// TestScripts runs the program as people do: one file a scenario, commands and
// expected output in plain sight. $FIXTURES is the folder fixtures.
func TestScripts(t *testing.T) {
	fixtures, err := filepath.Abs("../../fixtures")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("FIXTURES", fixtures)
			e.Setenv("COLUMNS", "")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":  exits,
			"schema": holdsToSchema,
			"bytes":  writeBytes,
		},
		RequireExplicitExec: true,
	})
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

// holdsToSchema checks a JSON file, or stdout, against a schema by name.
func holdsToSchema(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: schema NAME FILE")
	}
	if err := checkSchema(args[0], []byte(ts.ReadFile(args[1]))); err != nil {
		ts.Fatalf("%v", err)
	}
}

func checkSchema(name string, data []byte) error {
	text, err := schema.Files.ReadFile(name + ".schema.json")
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return err
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(name, doc); err != nil {
		return err
	}
	compiled, err := c.Compile(name)
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
	text := strings.NewReplacer(`\n`, "\n", `\r`, "\r", `\t`, "\t").Replace(args[1])
	for {
		i := strings.Index(text, `\x`)
		if i < 0 {
			break
		}
		var b [1]byte
		for _, c := range strings.ToLower(text[i+2 : i+4]) {
			b[0] = b[0]<<4 | byte(strings.IndexRune("0123456789abcdef", c))
		}
		text = text[:i] + string(b[:]) + text[i+4:]
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o644))
}
