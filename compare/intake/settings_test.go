package intake

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/gate"
)

func TestSettings(t *testing.T) {
	text := `# factory, but colder
baseline = "factory"
notes = "two fans, as \"quiet\" as it goes"

[settings]
lift = "auto"
cores = 16
slope = -0.050
ratio = 1.0
memory = { pace = 5270, waits = [33, 41, 43] }
fan."front top".rpm = 1_200

[settings.limits]
power = 0xC8
"peak.power" = 2.5e2
fast = true
slow = false

[[settings.ramp]]
at = 60
rpm = 900

[[settings.ramp]]
rpm = 1200
at = 75.5

[conditions]
machine = "heron"
since = 2026-03-01T14:05:00+01:00
day = 2026-03-01
hour = 14:05:00
`
	want := gate.Profile{
		Baseline:   "factory",
		BaselineAt: compare.Place{File: "f", Line: 2, Column: 1},
		At:         compare.Place{File: "f"},
		Settings: map[string]string{
			"lift": "auto", "cores": "16", "slope": "-0.05", "ratio": "1",
			"memory.pace": "5270", "memory.waits": "[33, 41, 43]", "fan.front top.rpm": "1200",
			"limits.power": "200", `limits."peak.power"`: "250", "limits.fast": "true", "limits.slow": "false",
			"ramp": "[{at = 60, rpm = 900}, {at = 75.5, rpm = 1200}]",
		},
		Conditions: map[string]string{"machine": "heron", "since": "2026-03-01T14:05:00+01:00", "day": "2026-03-01", "hour": "14:05:00"},
	}
	for name, in := range map[string]string{
		"as written": text, "with CRLF": strings.ReplaceAll(text, "\n", "\r\n"), "with a byte-order mark": "\ufeff" + text,
	} {
		got, err := Settings([]byte(in), "f")
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Errorf("%s: %v (-want +got):\n%s", name, err, diff)
		}
	}
	got, err := Settings(nil, "f")
	if err != nil || got.Baseline != "" || len(got.Settings)+len(got.Conditions) != 0 {
		t.Errorf("nothing: %+v %v", got, err)
	}
}

// Two values come out alike exactly where they are alike. TOML 1.0 says which
// spellings of a number are one number.
func TestSettingsTellValuesApart(t *testing.T) {
	value := func(text string) string {
		t.Helper()
		p, err := Settings([]byte("[settings]\nx = "+text+"\n"), "f")
		if err != nil || len(p.Settings) != 1 {
			t.Fatalf("%s: %v %v", text, p.Settings, err)
		}
		return p.Settings["x"]
	}
	for _, same := range [][]string{
		{"1", "1.0", "1e0", "+1", "0x1", "0b1", "1.000"},
		{"0", "0.0", "-0.0", "-0", "0e5"},
		{"5270", "5_270", "5.27e3", "5270.0"},
		{"0.5", "5e-1", "0.50"},
		{"1e300", "1.0e+300"},
		{"inf", "+inf"},
		{"nan", "+nan", "-nan"},
		{"'a'", `"a"`, `"""a"""`, `"\u0061"`},
		{"[1, 2]", "[ 1.0,\n 2, ]"},
		{"[{a = 1, b = 2}]", "[{b = 2, a = 1.0}]"},
	} {
		for _, other := range same[1:] {
			if a, b := value(same[0]), value(other); a != b {
				t.Errorf("%s is %q, but %s is %q", same[0], a, other, b)
			}
		}
	}
	seen := map[string]string{}
	for _, text := range []string{"1", "1.5", "0.1", "0.10000000000000001e-6", "1e-7", "9007199254740993", "9007199254740992", "1e21", "1e22",
		"inf", "-inf", "nan", "true", `"yes"`, `""`,
		`["a, b"]`, `["a", "b"]`, `["a"]`, `[["a"], "b"]`, `[["a", "b"]]`, `[""]`, `[]`, `["", ""]`, `[" a"]`, `["[a]"]`, `["{a = 1}"]`,
		`[{a = 1}]`, `[{"a.b" = 1}]`, `[{a.b = 1}]`, `["a = 1"]`,
		"2026-03-01", "2026-03-01T00:00:00", "2026-03-01T00:00:00Z", "2026-03-01T00:00:00.5Z", "07:32:00"} {
		got := value(text)
		if other, taken := seen[got]; taken {
			t.Errorf("%s and %s are both %q", other, text, got)
		}
		seen[got] = text
	}
	for text, want := range map[string]string{"1e21": "1e+21", "123456789012": "123456789012", "0.000001": "0.000001", "-inf": "-inf",
		`"5270"`: "5270", `" a "`: " a ",
		`["33 and 41", "x y"]`: "[33 and 41, x y]", "2026-03-01T14:05:00.250Z": "2026-03-01T14:05:00.25Z"} {
		if got := value(text); got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
	// Keys: a dot in quotes is not a table.
	p, err := Settings([]byte("[settings]\n\"a.b\" = 1\na.b = 2\n\"\" = 3\n\"a\\\"b\" = 4\n\"a b\" = 5\nc = {}\n"), "f")
	want := map[string]string{`"a.b"`: "1", "a.b": "2", `""`: "3", `"a\"b"`: "4", "a b": "5"}
	if diff := cmp.Diff(want, p.Settings); err != nil || diff != "" {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
}

func TestSettingsErrors(t *testing.T) {
	const known = "known here: anchor, baseline, conditions, notes, settings"
	for _, c := range []struct{ in, want string }{
		{"setings = 1", `f:1:1: unknown key "setings"; did you mean "settings"?`},
		{"[settings]\nx = 1\n[Conditions]\n", `f:3:2: unknown key "Conditions"; did you mean "conditions"?`},
		{"\n  base-line = \"factory\"\n", `f:2:3: unknown key "base-line"; did you mean "baseline"?`},
		{"BASELINE = \"factory\"\n", `f:1:1: unknown key "BASELINE"; did you mean "baseline"?`},
		{"note = \"x\"\n", `f:1:1: unknown key "note"; did you mean "notes"?`},
		{"lift = \"auto\"\n", `f:1:1: unknown key "lift"; ` + known},
		{"[lift.max]\n", `f:1:2: unknown key "lift"; ` + known},
		{"lift.max = 1\n", `f:1:1: unknown key "lift"; ` + known},
		{"\"\" = 1\n", `f:1:1: unknown key ""; ` + known},
		{"\"\\u001b[31m\" = 1\n", `f:1:1: unknown key "\x1b[31m"; ` + known},
		{"baseline = 3\n", `f:1:12: baseline has the wrong type; expected the name of a profile in quotes, such as "factory"`},
		{"baseline = [\"factory\"]\n", `f:1:1: baseline has the wrong type; expected the name of a profile in quotes, such as "factory"`},
		{"[baseline]\n", `f:1:2: baseline has the wrong type; expected the name of a profile in quotes, such as "factory"`},
		{"baseline.x = \"a\"\n", `f:1:14: baseline has the wrong type; expected the name of a profile in quotes, such as "factory"`},
		{"notes = true\n", "f:1:9: notes has the wrong type; expected a text in quotes"},
		{"notes = { x = 'ü', y = 1 }\n", "f:1:9: notes has the wrong type; expected a text in quotes"},
		{"settings = \"auto\"\n", "f:1:12: settings has the wrong type; expected a table [settings]"},
		{"settings = 3\n", "f:1:12: settings has the wrong type; expected a table [settings]"},
		{"[[settings]]\n", "f:1:3: settings has the wrong type; expected a table [settings]"},
		{"conditions = [{}]\n", "f:1:1: conditions has the wrong type; expected a table [conditions]"},
		{"[settings]\nx = 1\nx = 2\n", "f:3:1: key x is already defined; delete one of the two"},
		{"[settings]\n[settings]\n", "f:2:2: table settings already exists; delete one of the two"},
		{"[settings]\nx = 99999999999999999999\n", "f:2:5: decimal number is too large to fit in a 64-bit signed integer"},
		{"[settings]\nx = 1e999\n", `f:2:5: unable to parse float: parsing "1e999": value out of range`},
		{"[settings]\n\"ü\" = 1 x\n", "f:2:9: expected newline but got U+0078 'x'"},
		{"[settings]\r\n\r\nx = \r\n", "f:3:5: unexpected character U+000A at start of value"},
		{"\ufeffx = 1\n", `f:1:1: unknown key "x"; ` + known},
		{"notes = \"\xff\"\n", "f:1:10: invalid UTF-8 character in basic string"},
		{"[settings]\nx = 2026-02-30\n", "f:2:13: "},
		{"[settings]\n" + strings.Repeat("a.", 40) + "a = 1\n",
			"f:2:1: found tables or arrays nested 42 deep, expected at most 32; flatten them"},
		{"[settings]\nx = " + strings.Repeat("[", 40) + strings.Repeat("]", 40) + "\n",
			"f:2:1: found tables or arrays nested 33 deep, expected at most 32; flatten them"},
		{"[settings]\nx = " + strings.Repeat("{a = ", 40) + "1" + strings.Repeat("}", 40) + "\n",
			"f:2:156: found tables or arrays nested 33 deep, expected at most 32; flatten them"},
		{"[settings]\n" + strings.Repeat("a", 992) + " = 1\n",
			"f:2:1: found a key that has 1002 bytes with the tables around it, expected at most 1000; shorten it"},
		{strings.Repeat("#\n", 40000), "f: found 80000 bytes, expected at most 65536; settings are a few lines, leave the rest out"},
	} {
		_, err := Settings([]byte(c.in), "f")
		var p *compare.PlacedError
		if err == nil || !strings.HasPrefix(err.Error(), c.want) || !strings.HasSuffix(c.want, ": ") && err.Error() != c.want ||
			!errors.As(err, &p) {
			t.Errorf("%.60q: %v\nwant %s", c.in, err, c.want)
		}
	}
}

// What is allowed to be written takes no time or memory out of proportion.
func TestSettingsTimeIsBounded(t *testing.T) {
	var flat, dotted, inline strings.Builder
	flat.WriteString("[settings]\n")
	dotted.WriteString("[settings]\n")
	inline.WriteString("[settings]\nx = {")
	for i := range 4000 {
		fmt.Fprintf(&flat, "k%d = 1\n", i)
		fmt.Fprintf(&dotted, "k%d.a=1\n", i)
		fmt.Fprintf(&inline, "k%d=1, ", i)
	}
	inline.WriteString("z = 1}\n")
	for name, in := range map[string]string{
		"flat": flat.String(), "dotted": dotted.String(), "inline": inline.String(),
		"array":         "[settings]\nx = [" + strings.Repeat("1,", 32000) + "]\n",
		"deep and wide": "[settings]\n" + strings.Repeat("a.", 30) + "a = [" + strings.Repeat("{b={c=1}},", 6000) + "]\n",
		"open arrays":   "[settings]\nx = " + strings.Repeat("[", 60000),
		"open tables":   "[settings]\nx = " + strings.Repeat("{a=", 20000),
		"tables":        strings.Repeat("[[settings.x]]\n", 4000),
	} {
		start := time.Now()
		p, err := Settings([]byte(in), "f")
		took := time.Since(start)
		t.Logf("%-14s %6d bytes %5d settings %8v %.80v", name, len(in), len(p.Settings), took.Round(time.Millisecond), err)
		if took > time.Minute { // not a matter of a slow machine
			t.Errorf("%s: took %v", name, took)
		}
	}
}

func FuzzSettings(f *testing.F) {
	for _, seed := range []string{
		"baseline = \"factory\"\nnotes = \"x\"\n[settings]\nlift = \"auto\"\n[conditions]\nmachine = \"heron\"\n",
		"[settings]\na.b = [1, 2.0, \"x, y\", {c = 1979-05-27}]\n\"d.e\" = inf\n", "settings = {a = {b = '''x'''}}\n",
		"[[settings.fan]]\nrpm = 1\n[settings.x.y]\n",
		"settings = 1\n", "[settings]\nx = 1\nx = 2\n", "\ufeff[settings]\r\nx = \"\"\"a\r\nb\"\"\"\r\n", "[settings]\nx = 07:32:00.5\n",
		"[settings]\nx = -nan\n", "= \n", "[settings]\n\"\\u00e9\" = '\xff'\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		before := bytes.Clone(in)
		p, err := Settings(in, "f")
		if !bytes.Equal(before, in) {
			t.Error("the input was written to")
		}
		checkTOMLError(t, in, err)
		if err != nil {
			return
		}
		if p.At.File != "f" || (p.BaselineAt.Line == 0) != (p.BaselineAt.File == "") || p.Baseline != "" && p.BaselineAt.Line == 0 {
			t.Errorf("%+v", p)
		}
		for key, value := range maps.All(p.Settings) {
			if key == "" || len(key) > 4*maxName || !utf8.ValidString(key) || !utf8.ValidString(value) {
				t.Errorf("%q: %q", key, value)
			}
		}
		again, err := Settings(append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(tomlText(in), []byte("\n"), []byte("\r\n"))...), "f")
		if len(in) < maxSettings/2 {
			if diff := cmp.Diff(p, again); err != nil || diff != "" {
				t.Errorf("with CRLF: %v (-as it is +with CRLF):\n%s", err, diff)
			}
		}
	})
}

// checkTOMLError holds an error about a document to a place within it, on one
// line.
func checkTOMLError(t *testing.T, in []byte, err error) {
	t.Helper()
	if err == nil {
		return
	}
	var p *compare.PlacedError
	if !errors.As(err, &p) || p.At.File != "f" {
		t.Fatalf("error without a place: %v", err)
	}
	if len(in) > maxSettings && p.At.Line == 0 {
		return
	}
	lines := bytes.Split(tomlText(in), []byte{'\n'})
	if p.At.Line < 1 || p.At.Line > len(lines) || p.At.Column < 1 || p.At.Column > utf8.RuneCount(lines[p.At.Line-1])+2 {
		t.Errorf("no such place: %v", err)
	}
	if strings.ContainsAny(p.Msg, "\n\r\x1b") || p.Msg == "" {
		t.Errorf("message %q", p.Msg)
	}
	if strings.Contains(p.Msg, "intake.") || strings.Contains(p.Msg, "struct") {
		t.Errorf("message in the language of the program: %q", p.Msg)
	}
}
