package compare

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// labelled gives each run a session of its own, so that notes on missing
// sessions keep quiet.
func labelled(letter string, values []Value) []Value {
	out := append([]Value(nil), values...)
	for i := range out {
		out[i].Session = fmt.Sprint(letter, i+1)
	}
	return out
}

// repeated has n fine values that drift a little, as fine readings do.
func fineRuns(n int, level float64) []float64 {
	g := generator(uint64(n) + uint64(level))
	out := make([]float64, n)
	for i := range out {
		out[i] = level * math.Exp(0.01*g.NormFloat64())
	}
	return out
}

// Each kind of note: a case in which it appears, with its text or a part of
// it, and a near one in which it does not. quiet is a comparison without any.
func TestNotes(t *testing.T) {
	quietBefore, quietAfter := labelled("F", numbers("s", slower...)), labelled("B", numbers("s", faster...))
	if k := allKinds(judged(t, quietBefore, quietAfter, Policy{}, Options{})); len(k) != 0 {
		t.Fatalf("a plain comparison has notes: %v", k)
	}
	missing := Value{Benchmark: "tile-render", Unit: "s", Session: "F9", Missing: true}
	constant := []float64{60, 60, 60, 60, 60}
	spread := []float64{62, 65, 68, 69, 73}
	coarse := []float64{60, 60, 61, 60, 61}
	walk := []float64{400, 401, 402, 403, 404, 405, 406, 407, 408, 409, 410, 411}
	shuffledWalk := []float64{400, 411, 401, 410, 402, 409, 403, 408, 404, 407, 405, 406}
	other := []float64{405.2, 401.1, 409.3, 402.4, 408.5, 403.6, 407.7, 404.8, 406.9, 400.3, 410.2, 405.9}
	eight := func(values []Value) []Value {
		out := append([]Value(nil), values...)
		for i := range 7 {
			out = append(out, named(fmt.Sprint("scene-", i), labelled("S", numbers("s", slower...)))...)
		}
		return out
	}
	rounded := func(v []float64) []float64 {
		for i := range v {
			v[i] = math.Round(v[i])
		}
		return v
	}
	for _, c := range []struct {
		name          string
		kind          string
		before, after []Value
		policy        Policy
		text          string // empty: the note must not appear
	}{
		{"no labels", "sessions-not-recorded", numbers("s", slower...), numbers("s", faster...), Policy{},
			"no sessions are recorded: each run counts as its own session, so a verdict holds for this sitting only; " +
				"a reboot can move every run of a sitting together (add a column `session`)"},
		{"no labels on one of two", "sessions-not-recorded",
			joined(quietBefore, named("mesh-solve", numbers("s", slower...))), joined(quietAfter, named("mesh-solve", numbers("s", faster...))), Policy{},
			"no sessions are recorded for 1 of 2 metrics: "},
		{"labels", "sessions-not-recorded", quietBefore, quietAfter, Policy{}, ""},
		{"blocks", "sessions-not-recorded", inBlocks("s", "F", oneEach(slower...)...), inBlocks("s", "B", oneEach(faster...)...), Policy{}, ""},

		{"the same labels", "shared-labels", labelled("", numbers("s", slower...)), labelled("", numbers("s", faster...)), Policy{},
			"both sides use the same session labels; if each label was one sitting with both profiles in it, " +
				"say so in a column `block` and the comparison is made within each sitting"},
		{"one label in common", "shared-labels", quietBefore, append(labelled("B", numbers("s", faster[1:]...)), labelled("F", numbers("s", 401))...), Policy{}, "both sides use"},
		{"no labels in common", "shared-labels", quietBefore, quietAfter, Policy{}, ""},
		{"no labels at all", "shared-labels", numbers("s", slower...), numbers("s", faster...), Policy{}, ""},
		{"the same labels in blocks", "shared-labels", inBlocks("s", "", oneEach(slower...)...), inBlocks("s", "", oneEach(faster...)...), Policy{}, ""},

		{"an empty cell", "not-run", append(quietBefore[:5:5], missing), quietAfter, Policy{}, "empty cells, not yet run: 1"},

		{"absent", "absent", quietBefore, quietAfter, Policy{Entries: []Entry{{Benchmark: "tile-render"}, {Benchmark: "mesh-solve"}}},
			"named in the policy, but missing on one side or both: mesh-solve; still counted in the correction, for 2 in all"},
		{"absent, by pattern", "absent", quietBefore, quietAfter, Policy{Entries: []Entry{{Benchmark: "tile-render"}, {Benchmark: "mesh-*"}}}, ""},
		{"not in the policy", "not-in-policy", quietBefore, quietAfter, Policy{Entries: []Entry{{Benchmark: "mesh-solve"}}},
			"shown but not judged, since the policy does not name it: tile-render"},
		{"in the policy", "not-in-policy", quietBefore, quietAfter, Policy{Entries: []Entry{{Benchmark: "tile-*"}}}, ""},
		{"a cost that the policy does not name", "not-in-policy", joined(quietBefore, metric("power", labelled("F", numbers("W", slower...)))),
			joined(quietAfter, metric("power", labelled("B", numbers("W", faster...)))), Policy{Entries: []Entry{{Benchmark: "tile-*"}}}, ""},

		{"exact", "normal-approximation", quietBefore, quietAfter, Policy{}, ""},
		{"many ties", "normal-approximation", labelled("F", numbers("s", rounded(fineRuns(120, 900))...)), labelled("B", numbers("s", rounded(fineRuns(121, 900))...)), Policy{},
			"p from the normal approximation: the exact distribution is too large for these sizes"},
		{"as many without ties", "normal-approximation", labelled("F", numbers("s", fineRuns(120, 900)...)), labelled("B", numbers("s", fineRuns(121, 900)...)), Policy{}, ""},
		{"two hundred and one values", "placements", labelled("F", numbers("s", fineRuns(100, 900)...)), labelled("B", numbers("s", fineRuns(101, 900)...)), Policy{},
			"interval without resampling: with more than 200 values the bootstrap and its limit agree"},
		{"two hundred values", "placements", labelled("F", numbers("s", fineRuns(100, 900)...)), labelled("B", numbers("s", fineRuns(100, 901)...)), Policy{}, ""},

		{"five blocks", "student", inBlocks("s", "F", oneEach(slower...)...), inBlocks("s", "B", oneEach(faster...)...), Policy{},
			"the interval assumes normal differences; 5 blocks cannot settle anything, 6 could"},
		{"six blocks", "student", inBlocks("s", "F", oneEach(append(slower[:5:5], 412)...)...), inBlocks("s", "B", oneEach(append(faster[:5:5], 402)...)...), Policy{}, ""},

		{"constant on both sides", "constant", labelled("F", numbers("fps", constant...)), labelled("B", numbers("fps", constant...)), Policy{},
			"every run gave the same value on each side: the readings are too coarse to tell how far apart the sides are; record more digits"},
		{"constant before", "constant", labelled("F", numbers("fps", constant...)), labelled("B", numbers("fps", spread...)), Policy{},
			"every run before gave the same value: record more digits"},
		{"constant after", "constant", labelled("F", numbers("fps", spread...)), labelled("B", numbers("fps", constant...)), Policy{},
			"every run after gave the same value: record more digits"},
		{"one run a side is no constant", "constant", labelled("F", numbers("fps", 60)), labelled("B", numbers("fps", 60)), Policy{}, ""},
		{"varying", "constant", labelled("F", numbers("fps", coarse...)), labelled("B", numbers("fps", spread...)), Policy{}, ""},
		{"coarse", "coarse", labelled("F", numbers("fps", coarse...)), labelled("B", numbers("fps", spread...)), Policy{},
			"readings in steps of 1 fps are coarse for their spread; the interval allows for it"},
		{"coarse in tenths", "coarse", labelled("F", numbers("°C", 80.1, 80.2, 80.1, 80.1, 80.2)), labelled("B", numbers("°C", 90.1, 90.2, 90.1, 90.1, 90.2)), Policy{},
			"readings in steps of 0.1 °C are coarse for their spread; the interval allows for it"},
		{"fine", "coarse", quietBefore, quietAfter, Policy{}, ""},
		{"two fine readings a side", "coarse", labelled("F", numbers("s", 412.31, 409.77)), labelled("B", numbers("s", 402.18, 405.93)), Policy{}, ""},

		{"labels on one side", "sessions-one-side", quietBefore, numbers("s", faster...), Policy{},
			"only one side has sessions recorded; the other side's runs count as a session each"},
		{"labels on both sides", "sessions-one-side", quietBefore, quietAfter, Policy{}, ""},
		{"some labels", "sessions-partly", append(quietBefore[:5:5], numbers("s", 411)...), quietAfter, Policy{},
			"some runs have no session label; each of them counts as a session of its own"},
		{"all labels", "sessions-partly", quietBefore, quietAfter, Policy{}, ""},
		{"unequal runs", "unequal-runs", inSessions("s", "F", slower[:3], slower[1:4], slower[2:5]), inSessions("s", "B", faster[:2], faster[1:3], faster[2:4]), Policy{},
			"runs a session: usually 3 before and 2 after; medians of different numbers of skewed runs differ by themselves; record the same odd number"},
		{"unequal in one session only", "unequal-runs", inSessions("s", "F", slower[:3], slower[1:4], slower[2:5]), inSessions("s", "B", faster[:2], faster[1:4], faster[2:5]), Policy{}, ""},
		{"different numbers of runs without sessions", "unequal-runs", numbers("s", slower...), numbers("s", faster[:4]...), Policy{}, ""},

		{"three runs and twelve", "few-on-one-side", labelled("F", numbers("s", slower[:3]...)), labelled("B", numbers("s", other...)), Policy{},
			"3 sessions on one side hardly show how far they scatter: should they scatter more than the other side's, the interval is too narrow; measure both sides alike"},
		{"four runs and twelve", "few-on-one-side", labelled("F", numbers("s", slower[:4]...)), labelled("B", numbers("s", other...)), Policy{}, ""},
		{"three and three, which have no interval", "few-on-one-side", labelled("F", numbers("s", slower[:3]...)), labelled("B", numbers("s", faster[:3]...)), Policy{}, ""},

		{"each run follows the one before", "dependent-runs", numbers("s", walk...), numbers("s", other...), Policy{},
			"runs before depend on the run before them (lag-1 correlation 0.75): the interval is too narrow; record sessions"},
		{"the same after", "dependent-runs", numbers("s", other...), numbers("s", walk...), Policy{}, "runs after depend"},
		{"the same values in another order", "dependent-runs", numbers("s", shuffledWalk...), numbers("s", other...), Policy{}, ""},
		{"too few runs to tell", "dependent-runs", numbers("s", walk[:9]...), numbers("s", other...), Policy{}, ""},
		{"with sessions", "dependent-runs", labelled("F", numbers("s", walk...)), labelled("B", numbers("s", other...)), Policy{}, ""},

		{"real alone", "real-alone", eight(quietBefore), eight(quietAfter), Policy{}, "real alone, not among 8"},
		{"real among eight", "real-alone", eight(quietBefore), eight(quietAfter), Policy{Correction: NoCorrection}, ""},
		{"the test says yes, the interval no", "test-alone",
			labelled("F", numbers("fps", 59.68, 59.81, 60.06, 60.24, 59.88, 59.85, 60.05, 61.04, 60.89, 59.92, 60.13, 59.83)), labelled("B", numbers("fps", 61.82, 60.09, 64.84, 60.59, 62.41)), Policy{}, // five that spread much wider
			"the test calls this real but the interval holds 0: counted as not settled"},
		{"both say yes", "test-alone", quietBefore, quietAfter, Policy{}, ""},
		{"level", "level", quietBefore, labelled("B", numbers("s", slower...)), Policy{},
			"equivalent within the tolerance: each side of the interval excludes a larger change at 97.5 %"},
		{"level at 90 %", "level", quietBefore, labelled("B", numbers("s", slower...)), Policy{Confidence: 0.9}, "at 95.0 %"},
		{"not level", "level", quietBefore, quietAfter, Policy{}, ""},
		{"left out", "left-out", joined(inBlocks("s", "F", oneEach(fineRuns(6, 400)...)...), quietBefore[:1]), inBlocks("s", "B", oneEach(fineRuns(6, 401)...)...), Policy{},
			"left out: 1 of 13 runs, those outside complete blocks; blocked and unblocked runs are never mixed"},
		{"nothing left out", "left-out", inBlocks("s", "F", oneEach(fineRuns(6, 400)...)...), inBlocks("s", "B", oneEach(fineRuns(6, 401)...)...), Policy{}, ""},
		{"blocks on one side", "no-complete-block", inBlocks("s", "F", oneEach(fineRuns(6, 400)...)...), quietAfter, Policy{}, "no block holds both sides"},
		{"blocks on both", "no-complete-block", inBlocks("s", "F", oneEach(fineRuns(6, 400)...)...), inBlocks("s", "B", oneEach(fineRuns(6, 401)...)...), Policy{}, ""},
	} {
		got := judged(t, c.before, c.after, c.policy, Options{})
		text := textOf(got.Notes, c.kind)
		for _, r := range got.Results {
			if text == "" {
				text = textOf(r.Notes, c.kind)
			}
		}
		switch {
		case c.text == "" && text != "":
			t.Errorf("%s: note %s: %q", c.name, c.kind, text)
		case !strings.Contains(text, c.text):
			t.Errorf("%s: note %s: %q, want %q", c.name, c.kind, text, c.text)
		}
	}
}

// A note of the comparison stands once, however many metrics it is about.
func TestNotesStandOnce(t *testing.T) {
	var before, after []Value
	for i := range 20 {
		before = append(before, named(fmt.Sprint("scene-", i), numbers("s", slower...))...)
		after = append(after, named(fmt.Sprint("scene-", i), numbers("s", faster...))...)
	}
	c := judged(t, before, after, Policy{}, Options{})
	if len(c.Notes) != 1 || c.Notes[0].Kind != "sessions-not-recorded" {
		t.Errorf("%v", c.Notes)
	}
	// Long lists of names are cut.
	var entries []Entry
	for i := range 30 {
		entries = append(entries, Entry{Benchmark: fmt.Sprint("scene-", i)})
	}
	c = judged(t, before, after, Policy{Entries: entries}.tolerating(0), Options{})
	if got := textOf(c.Notes, "absent"); !strings.Contains(got, "scene-25 and 4 more;") {
		t.Errorf("%q", got)
	}
}
