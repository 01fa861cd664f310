package intake

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/readings"
)

func TestPolicy(t *testing.T) {
	text := `confidence = 99            # per cent
correction = "benjamini-hochberg"
burden = "safety"
fewest-runs = 4
fewest-sessions = 6
set-aside-allowed = 1
widest-blind-spot = 3.5

[[metric]]
benchmark = "tile-*"
tolerance = 0.5
weight = 2
class = "rendering"
required = true

  [[metric]]
  benchmark = "*"
  metric = "temperature"
  unit = "degC"
  better = "lower"
  scale = "interval"
  role = "cost"
  cap = 93
  widest-blind-spot = 2

[[metric]]
`
	number := func(v float64) *float64 { return &v }
	yes := true
	want := compare.Policy{
		Source: "f", Confidence: 0.99, Correction: compare.BenjaminiHochberg, Burden: compare.Safety,
		FewestRuns: 4, FewestSessions: 6, SetAsideAllowed: 1, WidestBlindSpot: number(3.5),
		Entries: []compare.Entry{
			{Benchmark: "tile-*", Tolerance: number(0.5), Weight: number(2), Class: "rendering", Required: &yes, From: "f:9:3"},
			{Benchmark: "*", Metric: "temperature", Unit: "°C", Better: compare.Lower, Scale: compare.Interval, Role: compare.Cost, Cap: number(93),
				WidestBlindSpot: number(2), From: "f:16:5"},
			{From: "f:26:3"},
		},
	}
	for name, in := range map[string]string{
		"as written": text, "with CRLF": strings.ReplaceAll(text, "\n", "\r\n"), "with a byte-order mark": "\ufeff" + text,
	} {
		got, err := Policy([]byte(in), "f")
		for key, want := range map[string]string{"burden": "f:3:1", "metric 0": "f:9:3", "metric 1.cap": "f:23:3", "metric 2": "f:26:3"} {
			if at := got.At[key].String(); at != want {
				t.Errorf("%s: %s stands at %s, want %s", name, key, at, want)
			}
		}
		got.At = nil
		stated := map[string]bool{"confidence": true, "correction": true, "burden": true, "fewest-runs": true, "fewest-sessions": true,
			"set-aside-allowed": true, "widest-blind-spot": true}
		if diff := cmp.Diff(PolicyFile{Policy: want, Stated: stated}, got); err != nil || diff != "" {
			t.Errorf("%s: %v (-want +got):\n%s", name, err, diff)
		}
	}
	got, err := Policy(nil, "f")
	if diff := cmp.Diff(PolicyFile{Policy: compare.Policy{Source: "f"}, Stated: map[string]bool{}, At: map[string]compare.Place{}}, got); err != nil || diff != "" {
		t.Errorf("nothing: %v (-want +got):\n%s", err, diff)
	}
	for _, in := range []string{"[bench]\nrun-minutes = 5\nsession-minutes = 12.5\n", "bench = {run-minutes = 5, session-minutes = 12.5}",
		"bench.run-minutes = 5\nbench.session-minutes = 12.5"} {
		got, err := Policy([]byte(in), "f")
		want := compare.Policy{Source: "f", Bench: compare.Minutes{Run: 5, Session: 12.5}}
		if diff := cmp.Diff(want, got.Policy); err != nil || diff != "" {
			t.Errorf("%q: %v (-want +got):\n%s", in, err, diff)
		}
	}
	// Written inline, an entry says where it stands, too.
	got, err = Policy([]byte("metric = [{benchmark = \"ü\"},\n  {role = \"info\", cap = -1e3}]\nconfidence = 0.9\n"), "f")
	want = compare.Policy{Source: "f", Confidence: 0.9, Entries: []compare.Entry{
		{Benchmark: "ü", From: "f:1:11"}, {Role: compare.Info, Cap: number(-1000), From: "f:2:3"}}}
	got.At = nil
	if diff := cmp.Diff(PolicyFile{Policy: want, Stated: map[string]bool{"confidence": true}}, got); err != nil || diff != "" {
		t.Errorf("inline: %v (-want +got):\n%s", err, diff)
	}
}

// The rules for monitoring logs come beside the policy.
func TestPolicyReadings(t *testing.T) {
	file, err := Policy([]byte("confidence = 90\n[readings]\nwarm-up = 1_0\ncolumn = [\"Wall = wall [W]\"]\n"), "f")
	want := readings.DefaultRules()
	want.WarmUp = 10
	want.Columns = []readings.Column{{Header: "Wall", Name: "wall", Unit: "W", FromPolicy: true}}
	if diff := cmp.Diff(&want, file.Readings); err != nil || diff != "" || file.Policy.Confidence != 0.9 {
		t.Errorf("%v, %+v (-want +got):\n%s", err, file.Policy, diff)
	}
}

func TestPolicyErrors(t *testing.T) {
	const (
		top = "known here: bench, burden, confidence, correction, fewest-runs, fewest-sessions, map, metric, readings, removed, " +
			"set-aside-allowed, suite-decides, suite-tolerance, trust, widest-blind-spot"
		below     = "known here: benchmark, better, cap, class, metric, required, role, scale, tolerance, unit, weight, widest-blind-spot"
		m         = "[[metric]]\n"
		wrongType = " has the wrong type; expected "
		whole     = "a whole number, zero or more"
		tables    = "f:%s: metric has the wrong type; expected one or more [[metric]] tables"
	)
	for _, c := range []struct{ in, want string }{
		// Unknown keys.
		{"confidance = 95", `f:1:1: unknown key "confidance"; did you mean "confidence"?`},
		{"\n\n  fewest-run = 4", `f:3:3: unknown key "fewest-run"; did you mean "fewest-runs"?`},
		{"fewest_sessions = 4", `f:1:1: unknown key "fewest_sessions"; did you mean "fewest-sessions"?`},
		{"Confidence = 95", `f:1:1: unknown key "Confidence"; did you mean "confidence"?`},
		{"confidence = 95\nConfidence = 50", `f:2:1: unknown key "Confidence"; did you mean "confidence"?`},
		{"tolerance = 0.5", `f:1:1: unknown key "tolerance"; ` + top},
		{"foo = 1", `f:1:1: unknown key "foo"; ` + top},
		{"[bench]\nrun-minutes = 0", "f:2:1: run-minutes is 0; expected a number above zero and below 1e9"},
		{"bench = {session-minutes = \"12\"}",
			"f:1:28: session-minutes has the wrong type; expected a number above zero: what a session takes before its first run"},
		{"[bench]\nminutes = 5", "f:2:1: unknown key \"minutes\"; known here: run-minutes, session-minutes"},
		{"bench = 5", "f:1:9: bench has the wrong type; expected one [bench] table"},
		{"[[bench]]", "f:1:3: bench has the wrong type; expected one [bench] table"},
		{"confidence = 95\n[sensors]\nwarm-up = 10", `f:2:2: unknown key "sensors"; the table is called [readings] now`},
		{"sensors.warm-up = 10", `f:1:1: unknown key "sensors"; the table is called [readings] now`},
		{m + "sensors = 1", `f:2:1: unknown key "sensors"; ` + below},
		{"\"ü\" = 1", `f:1:1: unknown key "ü"; ` + top},
		{"\"\" = 1", `f:1:1: unknown key ""; ` + top},
		{"\"\\u001b]0;\" = 1", `f:1:1: unknown key "\x1b]0;"; ` + top},
		{"foo.bar = 1", `f:1:1: unknown key "foo"; ` + top},
		{"[foo.bar]", `f:1:2: unknown key "foo"; ` + top},
		{"[[metrics]]\nrole = \"score\"", `f:1:3: unknown key "metrics"; did you mean "metric"?`},
		{m + "benchmrk = \"x\"", `f:2:1: unknown key "benchmrk"; did you mean "benchmark"?`},
		{m + m + "\ttolerence = 1", `f:3:2: unknown key "tolerence"; did you mean "tolerance"?`},
		{m + "Role = \"score\"", `f:2:1: unknown key "Role"; did you mean "role"?`},
		{m + "confidence = 95", `f:2:1: unknown key "confidence"; ` + below},
		{m + "foo = 1", `f:2:1: unknown key "foo"; ` + below},
		{m + "foo.bar = 1", `f:2:1: unknown key "foo"; ` + below},
		{m + "[metric.foo]", `f:2:2: unknown key "foo"; ` + below},
		{m + "[[metric.rol]]", `f:2:3: unknown key "rol"; did you mean "role"?`},
		{"metric = [{benchmark = \"ü\", rol = 1}]", `f:1:29: unknown key "rol"; did you mean "role"?`},
		// Wrong types.
		{"confidence = \"95\"", "f:1:14: confidence" + wrongType + "a number such as 95 (per cent) or 0.95"},
		{"confidence = [95]", "f:1:1: confidence" + wrongType + "a number such as 95 (per cent) or 0.95"},
		{"confidence.x = 95", "f:1:16: confidence" + wrongType + "a number such as 95 (per cent) or 0.95"},
		{"[confidence]", "f:1:2: confidence" + wrongType + "a number such as 95 (per cent) or 0.95"},
		{"correction = 1", "f:1:14: correction" + wrongType + `"joint", "holm", "benjamini-hochberg" or "none"`},
		{"burden = false", "f:1:10: burden" + wrongType +
			`"harm" (fail on a regression) or "safety" (pass only where the interval excludes a loss beyond the tolerance)`},
		{"fewest-runs = 5.0", "f:1:15: fewest-runs" + wrongType + whole},
		{"fewest-sessions = true", "f:1:19: fewest-sessions" + wrongType + whole},
		{"set-aside-allowed = 1979-05-27", "f:1:21: set-aside-allowed" + wrongType + whole},
		{"widest-blind-spot = \"3 %\"", "f:1:21: widest-blind-spot" + wrongType + "a number above zero, in per cent"},
		{m + "benchmark = 3", "f:2:13: benchmark" + wrongType + `a name or a pattern in quotes, such as "tile-*"`},
		{m + "metric = 3", "f:2:10: metric" + wrongType + `a name or a pattern in quotes, such as "power"`},
		{m + "unit = 3", "f:2:8: unit" + wrongType + `a unit in quotes, such as "s"`},
		{m + "better = 3", "f:2:10: better" + wrongType + `"higher" or "lower"`},
		{m + "scale = 3", "f:2:9: scale" + wrongType + `"ratio" or "interval"`},
		{m + "role = 3", "f:2:8: role" + wrongType + `"score", "cost" or "info"`},
		{m + "tolerance = \"0.5 %\"", "f:2:13: tolerance" + wrongType + "a number, in per cent on a ratio scale, else in the metric's unit"},
		{m + "weight = \"2\"", "f:2:10: weight" + wrongType + "a number above zero"},
		{m + "weight.x = 2", "f:2:12: weight" + wrongType + "a number above zero"},
		{m + "cap = \"93\"", "f:2:7: cap" + wrongType + "a number in the metric's unit"},
		{m + "class = 3", "f:2:9: class" + wrongType + `a workload class in quotes, such as "rendering"`},
		{m + "required = 1", "f:2:12: required" + wrongType + "true or false"},
		{m + "widest-blind-spot = true", "f:2:21: widest-blind-spot" + wrongType +
			"a number above zero, in per cent on a ratio scale, else in the metric's unit"},
		{"metric = [{benchmark = \"ü\", role = 3}]", "f:1:36: role" + wrongType + `"score", "cost" or "info"`},
		{"metric = 3", fmt.Sprintf(tables, "1:10")},
		{"metric = [3]", fmt.Sprintf(tables, "1:1")},
		{"metric = {role = \"score\"}", fmt.Sprintf(tables, "1:10")},
		{"metric.role = \"score\"", fmt.Sprintf(tables, "1:15")},
		{"[metric]\nrole = \"score\"", fmt.Sprintf(tables, "1:2")},
		{m + "[metric]", fmt.Sprintf(tables, "2:2")},
		// Values out of range.
		{"confidence = 10", "f:1:1: confidence: 10 is not a confidence; expected 50 to below 100 (per cent), or 0.5 to below 1"},
		{"\n confidence = 100", "f:2:2: confidence: 100 is not a confidence; expected 50 to below 100 (per cent), or 0.5 to below 1"},
		{"confidence = nan", "f:1:1: confidence: NaN is not a confidence; expected 50 to below 100 (per cent), or 0.5 to below 1"},
		{"correction = \"bonferroni\"", `f:1:1: correction: "bonferroni" is unknown; expected joint, holm, benjamini-hochberg or none`},
		{"burden = \"both\"", `f:1:1: burden: "both" is unknown; expected "harm" or "safety"`},
		{"removed = \"yes\"", `f:1:1: removed: "yes" is unknown; expected "review" or "fail" or "allow"`},
		{"burden = \"\"", `f:1:1: burden: "" is unknown; expected "harm" or "safety"`},
		{"fewest-runs = -1", "f:1:1: fewest-runs is -1; expected " + whole},
		{"fewest-sessions = -1", "f:1:1: fewest-sessions is -1; expected " + whole},
		{"set-aside-allowed = -2", "f:1:1: set-aside-allowed is -2; expected " + whole},
		{"widest-blind-spot = 0", "f:1:1: widest-blind-spot is 0; expected a number above zero and below 1e9"},
		{"widest-blind-spot = inf", "f:1:1: widest-blind-spot is +Inf; expected a number above zero and below 1e9"},
		{m + "benchmark = \"[\"", `f:2:1: benchmark: "[" is not a name pattern: * stands for any characters, ? for one, [ab] for a or b`},
		{m + m + "metric = \"[\"", `f:3:1: metric: "[" is not a name pattern: * stands for any characters, ? for one, [ab] for a or b`},
		{m + "benchmark = \" \"", `f:2:1: benchmark is empty; expected a name or a pattern in quotes, such as "tile-*", or leave the line out`},
		{m + "metric = \"\"", `f:2:1: metric is empty; expected a name or a pattern in quotes, such as "power", or leave the line out`},
		{m + "unit = \"\"", `f:2:1: unit is empty; expected a unit in quotes, such as "s", or leave the line out`},
		{m + "class = \"\"", `f:2:1: class is empty; expected a workload class in quotes, such as "rendering", or leave the line out`},
		{m + "better = \"up\"", `f:2:1: better: "up" is unknown; expected "higher" or "lower"`},
		{m + "scale = \"log\"", `f:2:1: scale: "log" is unknown; expected "ratio" or "interval"`},
		{m + "role = \"Score\"", `f:2:1: role: "Score" is unknown; expected "score" or "cost" or "info"`},
		{m + "benchmark = \"a\"\n\n" + m + "role = \"q\"", `f:5:1: role: "q" is unknown; expected "score" or "cost" or "info"`},
		{"metric = [{benchmark = \"ü\"}, {role = \"q\"}]", `f:1:31: role: "q" is unknown; expected "score" or "cost" or "info"`},
		{m + "tolerance = -1", "f:2:1: tolerance is -1; expected zero or more, and below 1e9"},
		{m + "tolerance = nan", "f:2:1: tolerance is NaN; expected zero or more, and below 1e9"},
		{m + "tolerance = 1e9", "f:2:1: tolerance is 1e+09; expected zero or more, and below 1e9"},
		{m + "weight = 0\nwidest-blind-spot = 0", "f:2:1: weight is 0; expected a number above zero and below 1e9"},
		{m + "weight = 1e10", "f:2:1: weight is 1e+10; expected a number above zero and below 1e9"},
		{m + "widest-blind-spot = -3", "f:2:1: widest-blind-spot is -3; expected a number above zero and below 1e9"},
		{m + "cap = nan", "f:2:1: cap is NaN; expected a number in the metric's unit"},
		{m + "cap = -inf", "f:2:1: cap is -Inf; expected a number in the metric's unit"},
		{m + "class = \"" + strings.Repeat("x", 1001) + "\"", "f:2:9: class has 1001 bytes, expected at most 1000; shorten it"},
		// No TOML.
		{"confidence = 95\nconfidence = 96", "f:2:1: key confidence is already defined; delete one of the two"},
		{m + "role = \"score\"\nrole = \"cost\"", "f:3:1: key role is already defined; delete one of the two"},
		{"metric = []\n" + m, "f:2:3: key metric already exists as a value, but should be an array table; delete one of the two"},
		{"confidence = 95 %", "f:1:17: expected newline but got U+0025 '%'"},
		{"correction = \"ü\"; x", "f:1:17: expected newline but got U+003B ';'"},
		{"confidence =", "f:1:12: "},
		{"[[metric]", "f:1:9: "},
		{"= 3", "f:1:1: invalid character at start of key: U+003D '='"},
		{"correction = \"\xff\"", "f:1:15: invalid UTF-8 character in basic string"},
		{"fewest-runs = 99999999999999999999", "f:1:15: decimal number is too large to fit in a 64-bit signed integer"},
		{"confidence = 1e400", `f:1:14: unable to parse float: parsing "1e400": value out of range`},
		{"a", "f:1:1: "},
		{"\ufeffconfidence = 1", "f:1:1: confidence: 1 is not a confidence"},
	} {
		_, err := Policy([]byte(c.in), "f")
		var p *compare.PlacedError
		switch {
		case err == nil || !errors.As(err, &p) || !strings.HasPrefix(err.Error(), c.want):
		case strings.HasSuffix(c.want, ": ") || strings.HasSuffix(c.want, "confidence") || err.Error() == c.want:
			checkTOMLError(t, []byte(c.in), err)
			continue
		}
		t.Errorf("%.60q: %v\nwant %s", c.in, err, c.want)
	}
}

func TestPolicyTimeIsBounded(t *testing.T) {
	for name, in := range map[string]string{
		"tables":       strings.Repeat("[[metric]]\n", 40000),
		"inline":       "metric = [" + strings.Repeat("{role = \"cost\"},", 20000) + "]",
		"deep":         "confidence = " + strings.Repeat("[", 1<<20),
		"dotted":       "confidence" + strings.Repeat(".a", 1<<19) + " = 1",
		"a long line":  "correction = \"" + strings.Repeat("ü", 1<<19) + "\"",
		"a long key":   strings.Repeat("a", 1<<20) + " = 1",
		"many unknown": strings.Repeat("a = 1\n", 1<<17),
	} {
		start := time.Now()
		_, err := Policy([]byte(in), "f")
		took := time.Since(start)
		t.Logf("%-12s %7d bytes %8v %.100v", name, len(in), took.Round(time.Millisecond), err)
		if took > time.Minute { // not a matter of a slow machine
			t.Errorf("%s: took %v", name, took)
		}
	}
}

func FuzzPolicy(f *testing.F) {
	for _, seed := range []string{
		"confidence = 95\ncorrection = \"holm\"\nburden = \"harm\"\nfewest-runs = 4\nfewest-sessions = 0\nset-aside-allowed = " +
			"0\nwidest-blind-spot = 3\n",
		"[[metric]]\nbenchmark = \"*\"\nmetric = \"power\"\nunit = \"W\"\nbetter = \"lower\"\nscale = \"ratio\"\nrole = " +
			"\"cost\"\ntolerance = 0.5\nweight = 2\ncap = 93\nclass = \"x\"\nrequired = true\nwidest-blind-spot = 1\n",
		"metric = [{benchmark = \"a\"}, {role = \"info\", cap = -1}]\n", "[metric]\n", "metric.role = \"x\"\n", "Confidence = 95\n",
		"confidence = 0x10\n", "[[metric]]\n[metric.role]\n[[metric]]\n",
		"\ufeffconfidence = 95\r\n[[metric]]\r\nunit = '''\r\nx'''\r\n", "correction = \"ü\" x\n", "[[metric]]\ncap = nan\n", "a.b = 1\n[a]\n",
		"confidence = \n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		before := bytes.Clone(in)
		file, err := Policy(in, "f")
		p := file.Policy
		if !bytes.Equal(before, in) {
			t.Error("the input was written to")
		}
		checkTOMLError(t, in, err)
		if err != nil {
			return
		}
		positive := func(v *float64) bool { return v == nil || *v > 0 && *v < 1e9 }
		if p.Confidence != 0 && !(p.Confidence >= 0.5 && p.Confidence < 1) || p.FewestRuns < 0 || p.FewestSessions < 0 || p.SetAsideAllowed < 0 ||
			!positive(p.WidestBlindSpot) {
			t.Errorf("%+v", p)
		}
		for _, e := range p.Entries {
			if !strings.HasPrefix(e.From, "f:") || compare.ValidGlob(e.Benchmark) != nil || compare.ValidGlob(e.Metric) != nil ||
				!positive(e.Weight) || !positive(e.WidestBlindSpot) ||
				e.Tolerance != nil && !(*e.Tolerance >= 0 && *e.Tolerance < 1e9) || e.Cap != nil && (math.IsNaN(*e.Cap) || math.IsInf(*e.Cap, 0)) {
				t.Errorf("%+v", e)
			}
			if _, err := p.Resolve("tile-render", "score", "s", ""); err != nil && strings.Contains(err.Error(), "\n") {
				t.Errorf("%v", err)
			}
		}
		again, err := Policy(append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(tomlText(in), []byte("\n"), []byte("\r\n"))...), "f")
		if diff := cmp.Diff(file, again); err != nil || diff != "" {
			t.Errorf("with CRLF: %v (-as it is +with CRLF):\n%s", err, diff)
		}
	})
}
