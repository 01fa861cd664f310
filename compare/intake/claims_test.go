package intake

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tunegate/compare"
	"tunegate/compare/claims"
)

func TestClaims(t *testing.T) {
	text := `before = "factory"
after = "boost-lift"

[[claim]]
text = "renders 2.50 % faster"
benchmark = "tile-render"
faster = 2.50

[[claim]]
text = "draws 35 W less (250 W to 215)"
before = "cool-curve"
benchmark = "tile-render"
metric = "power"
less = "35 W"
from = "250 W"
to = 215

[[claim]]
text = "at least 1 % faster, and as level as before"
class = "rendering"
faster = "at least 1 %"

[[claim]]
text = "nothing changes"
suite = true
level = true

[[claim]]
text = "saves 3 minutes an hour"
benchmark = "tile-render"
less-time = "3 minutes an hour"

[[claim]]
text = "makes 6.7 %"
faster = 6.7
steps = [4.1, -2, 1_0.0e-1]
`
	figure := func(v, half float64, unit, text string) *claims.Figure {
		return &claims.Figure{Value: v, Half: half, Unit: unit, Text: text}
	}
	place := func(line int) compare.Place { return compare.Place{File: "f", Line: line, Column: 3} }
	want := []claims.Claim{
		{Text: "renders 2.50 % faster", Before: "factory", After: "boost-lift", Benchmark: "tile-render", Form: claims.Faster,
			Change: figure(2.5, 0.005, "%", "2.50"), At: place(4)},
		{Text: "draws 35 W less (250 W to 215)", Before: "cool-curve", After: "boost-lift", Benchmark: "tile-render", Metric: "power",
			Form:   claims.Less,
			Change: figure(35, 0.5, "W", "35 W"), From: figure(250, 0.5, "W", "250 W"), To: figure(215, 0.5, "W", "215"), At: place(9)},
		{Text: "at least 1 % faster, and as level as before", Before: "factory", After: "boost-lift", Class: "rendering", Form: claims.Faster,
			AtLeast: true, Change: figure(1, 0.5, "%", "1"), At: place(18)},
		{Text: "nothing changes", Before: "factory", After: "boost-lift", Suite: true, Form: claims.AsLevel, At: place(23)},
		{Text: "saves 3 minutes an hour", Before: "factory", After: "boost-lift", Benchmark: "tile-render", Form: claims.LessTime,
			Change: figure(5, 0.5/0.6, "%", "3 minutes an hour"), At: place(28)},
		{Text: "makes 6.7 %", Before: "factory", After: "boost-lift", Form: claims.Faster, Change: figure(6.7, 0.05, "%", "6.7"),
			Steps: []claims.Figure{*figure(4.1, 0.05, "%", "4.1"), *figure(-2, 0.5, "%", "-2"), *figure(1, 0.005, "%", "10.0e-1")}, At: place(33)},
	}
	places := cmpopts.IgnoreFields(claims.Claim{}, "Places")
	for name, in := range map[string]string{
		"as written": text, "with CRLF": strings.ReplaceAll(text, "\n", "\r\n"), "with a byte-order mark": "\ufeff" + text,
	} {
		got, err := Claims([]byte(in), "f")
		if diff := cmp.Diff(want, got, places, cmpopts.EquateApprox(1e-12, 0)); err != nil || diff != "" {
			t.Errorf("%s: %v (-want +got):\n%s", name, err, diff)
		}
	}
	got, err := Claims([]byte(text), "f")
	if err != nil || got[1].Places["less"] != (compare.Place{File: "f", Line: 14, Column: 1}) ||
		got[1].Places["after"] != (compare.Place{File: "f", Line: 2, Column: 1}) {
		t.Errorf("%v, %v", err, got[1].Places)
	}
	got, err = Claims([]byte("claim = [{text = \"a\", less = 14, from = \"250 W\", to = \"215 W\"},\n {text = \"b\", faster = 5, "+
		"average-of = [4, 6]}]\n"), "f")
	if err != nil || len(got) != 2 || got[1].At != (compare.Place{File: "f", Line: 2, Column: 2}) || len(got[1].AverageOf) != 2 {
		t.Errorf("inline: %v, %+v", err, got)
	}
}

func TestClaimsErrors(t *testing.T) {
	claim := "before = \"a\"\nafter = \"b\"\n[[claim]]\ntext = \"x\"\n" // four lines
	bench := claim + "benchmark = \"t\"\n"                              // five
	for _, tt := range []struct{ in, says string }{
		{"", "f:1:1: found no claim; write each as a [[claim]] table with its text"},
		{"[claim]\n", "f:1:2: claim has the wrong type; expected one or more [[claim]] tables"},
		{bench + "fastr = 2\n", "f:6:1: unknown key \"fastr\"; did you mean \"faster\"?"},
		{"befor = \"a\"\n", "f:1:1: unknown key \"befor\"; did you mean \"before\"?"},
		{bench + "faster = true\n", "f:6:10: faster has the wrong type; expected a number above zero"},
		{bench + "faster = -2\n", "f:6:10: faster: found -2; the key holds the sign, so write slower = 2"},
		{bench + "less = \"-7 °C\"\n", "f:6:8: less: found -7 °C; the key holds the sign, so write more = 7 °C"},
		{bench + "faster = 0\n", "f:6:10: faster: found 0; expected a number above zero, or level = true for no change"},
		{bench + "faster = nan\n", "f:6:10: faster: found \"nan\"; expected a number with a decimal point"},
		{bench + "faster = 0x10\n", "f:6:10: faster: found \"0x10\"; expected a decimal number"},
		{bench + "faster = \"2,5 %\"\n", "f:6:10: faster: found \"2,5 %\"; expected a number with a decimal point"},
		{bench + "faster = \"quite a bit\"\n", "f:6:10: faster: found \"quite a bit\"; expected a number"},
		{bench + "faster = \"up to 5 %\"\n", "f:6:10: faster: found \"up to 5 %\"; name the benchmark that reaches it, and write the " +
			"number alone"},
		{bench + "less = 100\n", "f:6:8: less: found 100; 100 % less leaves nothing"},
		{bench + "faster = 1e13\n", "f:6:10: faster: found \"1e13\"; expected a number within 1e12"},
		{bench + "faster = 1.123456789012\n", "expected at most 11 decimals"},
		{bench + "level = false\n", "f:6:9: level is false; leave the line out"},
		{bench + "level = \"at least 5\"\n", "f:6:9: level: \"5\" cannot be \"at least\""},
		{bench + "faster = 2\nslower = 3\n", "f:7:1: slower stands beside faster; write a claim for each"},
		{bench + "faster = 2\nsuite = true\n", "f:7:1: suite stands beside benchmark"},
		{bench, "f:3:3: the claim states no change; write faster"},
		{claim + "faster = 2\n", "f:3:3: there is nothing to hold the claim against; name a benchmark"},
		{claim + "from = 2\nto = 3\n", "f:3:3: there is nothing to hold the claim against"},
		{claim + "level = 2\n", "f:5:1: level can only be held against runs"},
		{claim + "metric = \"power\"\nless = 2\n", "f:5:1: metric needs a benchmark"},
		{"[[claim]]\nbenchmark = \"t\"\nfaster = 2\n", "f:1:3: text is missing"},
		{"[[claim]]\ntext = \" \"\n", "f:2:8: text is empty; expected the sentence in quotes"},
		{"before = \"a\"\n[[claim]]\ntext = \"x\"\nsuite = true\nfaster = 2\n", "f:4:1: after is missing; name the profile"},
		{"before = \"b\"\nafter = \"b\"\n[[claim]]\ntext = \"x\"\nsuite = true\nfaster = 2\n", "f:2:1: before and after both name \"b\""},
		{claim + "less = 2\nfrom = \"2 W\"\n", "f:6:1: from and to go together; write both figures"},
		{claim + "less = 2\nto = \"2 W\"\n", "f:6:1: from and to go together; write both figures"},
		{claim + "less = 2\nfrom = \"2 W\"\nto = \"3 J\"\n", "f:7:1: to is in \"J\", but from is in \"W\""},
		{bench + "from = \"2 s\"\nto = \"2 s\"\n", "f:7:1: from and to are the same; write level = true"},
		{bench + "level = 1\nfrom = \"2 s\"\nto = \"2 s\"\n", "f:7:1: from and to are for a change"},
		{claim + "faster = 2\nsteps = [1]\n", "f:6:1: steps has 1 of them; expected two or more percentages"},
		{claim + "faster = 2\nsteps = [1, \"2\"]\n", "f:6:13: steps holds something that is no number"},
		{claim + "faster = 2\nsteps = [1, -100]\n", "f:6:13: steps: -100 is a percentage of -100 or less"},
		{claim + "faster = 2\nsteps = [1, 10000]\n", "f:6:13: steps: expected at most 60 percentages below 10000"},
		{claim + "faster = 2\nsteps = [" + strings.Repeat("1, ", maxPercentages) + "1]\n",
			": steps: expected at most 60 percentages below 10000"},
		{claim + "less = 2\nsteps = [1, 100]\n", "f:6:1: steps holds 100; 100 % less leaves nothing"},
		{claim + "steps = [1, 2]\n", "f:5:1: steps needs the percentage that the page makes of it"},
		{bench + "steps = [1, 2]\n", "f:6:1: steps needs the percentage that the page makes of it"},
		{claim + "less = \"2 W\"\nsteps = [1, 2]\n", "f:6:1: steps are percentages, but less is in \"W\""},
		{claim + "faster = 2\nsteps = [1, 2]\naverage-of = [1, 2]\n", "f:7:1: average-of stands beside steps"},
		{bench + "faster = 2\nfaster = 3\n", "f:7:"},
		{bench + "faster = \n", "f:6:"},
		{claim + "text = \"" + strings.Repeat("x", maxName+1) + "\"\n", "has 1001 bytes, expected at most 1000"},
		{strings.Repeat("#", maxClaims+1), "f: found 262145 bytes, expected at most 262144; split the page"},
	} {
		_, err := Claims([]byte(tt.in), "f")
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%.120q: %v\nwant %q", tt.in, err, tt.says)
		}
	}
}

func FuzzClaims(f *testing.F) {
	for _, seed := range []string{
		"before = \"a\"\nafter = \"b\"\n[[claim]]\ntext = \"x\"\nbenchmark = \"t\"\nmetric = \"power\"\nless = \"35 W\"\nfrom = \"250 " +
			"W\"\nto = 215\n",
		"[[claim]]\ntext = \"x\"\nfaster = 6.70\nsteps = [4.1, 2.6]\n[[claim]]\ntext = \"y\"\nless = 1e1\naverage-of = [1, -2, 3_0.5]\n",
		"claim = [{text = \"a\", suite = true, level = true, before = \"a\", after = \"b\"}]\n", "[claim]\n", "claim.text = 1\n",
		"[[claim]]\nfaster = \"at least 2 %\"\n",
		"\ufeff[[claim]]\r\ntext = '''\r\nx'''\r\nless-time = \"3 min/h\"\r\n", "[[claim]]\nfaster = inf\n", "[[claim]]\nsteps = [[1], {}]\n",
		" ' \t]\U000a69a1\U000a69a1\U000a69a1", "[[claim]]\nlevel = \"1 \u009b\"\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		before := bytes.Clone(in)
		found, err := Claims(in, "f")
		if !bytes.Equal(before, in) {
			t.Error("the input was written to")
		}
		checkTOMLError(t, in, err)
		if err != nil {
			return
		}
		for i := range found {
			c := &found[i]
			if c.Text == "" || c.Form == "" && c.From == nil || c.NamesRuns() && (c.Before == "" || c.Before == c.After) {
				t.Errorf("%+v", *c)
			}
			for _, figure := range append(append(c.Steps, c.AverageOf...), deref(c.Change, c.From, c.To)...) {
				if math.IsNaN(figure.Value) || math.IsInf(figure.Value, 0) || !(figure.Half > 0) || figure.Text == "" {
					t.Errorf("%+v", figure)
				}
			}
			if !c.NamesRuns() {
				held, err := claims.Hold(found[i:i+1], &compare.Runs{}, compare.Policy{}, compare.Options{})
				if err == nil && (held.Held[0].Verdict == claims.Supported) != (len(held.Held[0].Faults) == 0) {
					t.Errorf("%+v", held.Held[0])
				}
			}
		}
		again, err := Claims(append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(tomlText(in), []byte("\n"), []byte("\r\n"))...), "f")
		if diff := cmp.Diff(found, again); err != nil || diff != "" {
			t.Errorf("with CRLF: %v (-as it is +with CRLF):\n%s", err, diff)
		}
	})
}

func deref(figures ...*claims.Figure) (out []claims.Figure) {
	for _, f := range figures {
		if f != nil {
			out = append(out, *f)
		}
	}
	return out
}
