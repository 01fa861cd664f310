package compare_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// fineRuns are n fine values that drift a little, as fine readings do.
func fineRuns(n int, level float64) []float64 {
	g := comparetest.Generator(uint64(n) + uint64(level))
	out := make([]float64, n)
	for i := range out {
		out[i] = level * math.Exp(0.01*g.NormFloat64())
	}
	return out
}

// allKinds are the kinds of notes of a comparison and of its metrics.
func allKinds(c *compare.Comparison) map[string]bool {
	out := comparetest.Kinds(c.Notes)
	for _, r := range c.Results {
		for k := range comparetest.Kinds(r.Notes) {
			out[k] = true
		}
	}
	return out
}

// Each kind of note: a case in which it appears, with its text or a part of
// it, and a near one in which it does not. quiet is a comparison without any.
func TestNotes(t *testing.T) {
	quietBefore, quietAfter := comparetest.Labelled("F", comparetest.Numbers("s", slower...)),
		comparetest.Labelled("B", comparetest.Numbers("s", faster...))
	if k := allKinds(comparetest.Judged(t, quietBefore, quietAfter, compare.Policy{}, compare.Options{})); len(k) != 0 {
		t.Fatalf("a plain comparison has notes: %v", k)
	}
	missing := compare.Value{Benchmark: "tile-render", Unit: "s", Session: "F9", Missing: true}
	constant := []float64{60, 60, 60, 60, 60}
	spread := []float64{62, 65, 68, 69, 73}
	coarse := []float64{60, 60, 61, 60, 61}
	walk := []float64{400, 401, 402, 403, 404, 405, 406, 407, 408, 409, 410, 411}
	shuffledWalk := []float64{400, 411, 401, 410, 402, 409, 403, 408, 404, 407, 405, 406}
	other := []float64{405.2, 401.1, 409.3, 402.4, 408.5, 403.6, 407.7, 404.8, 406.9, 400.3, 410.2, 405.9}
	eight := func(values []compare.Value) []compare.Value {
		out := append([]compare.Value(nil), values...)
		for i := range 7 {
			out = append(out, comparetest.Named(fmt.Sprint("scene-", i), comparetest.Labelled("S", comparetest.Numbers("s", slower...)))...)
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
		before, after []compare.Value
		policy        compare.Policy
		text          string // empty: the note must not appear
	}{
		{"no labels", "sessions-not-recorded", comparetest.Numbers("s", slower...), comparetest.Numbers("s", faster...), compare.Policy{},
			"no sessions are recorded: each run counts as its own session, so a verdict holds for this sitting only; " +
				"a reboot can move every run of a sitting together (add a column `session`)"},
		{"no labels on one of two", "sessions-not-recorded",
			slices.Concat(quietBefore, comparetest.Named("mesh-solve", comparetest.Numbers("s", slower...))),
			slices.Concat(quietAfter, comparetest.Named("mesh-solve", comparetest.Numbers("s", faster...))), compare.Policy{},
			"no sessions are recorded for 1 of 2 metrics: "},
		{"labels", "sessions-not-recorded", quietBefore, quietAfter, compare.Policy{}, ""},
		{"blocks", "sessions-not-recorded", comparetest.InBlocks("s", "F", comparetest.OneEach(slower...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(faster...)...), compare.Policy{}, ""},

		{"the same labels", "shared-labels", comparetest.Labelled("", comparetest.Numbers("s", slower...)),
			comparetest.Labelled("", comparetest.Numbers("s", faster...)), compare.Policy{},
			"both sides use the same session labels; if each label was one sitting with both profiles in it, " +
				"say so in a column `block` and the comparison is made within each sitting"},
		{"one label in common", "shared-labels", quietBefore,
			append(comparetest.Labelled("B", comparetest.Numbers("s", faster[1:]...)), comparetest.Labelled("F", comparetest.Numbers("s", 401))...),
			compare.Policy{}, "both sides use"},
		{"no labels in common", "shared-labels", quietBefore, quietAfter, compare.Policy{}, ""},
		{"no labels at all", "shared-labels", comparetest.Numbers("s", slower...), comparetest.Numbers("s", faster...), compare.Policy{}, ""},
		{"the same labels in blocks", "shared-labels", comparetest.InBlocks("s", "", comparetest.OneEach(slower...)...),
			comparetest.InBlocks("s", "", comparetest.OneEach(faster...)...), compare.Policy{}, ""},

		{"an empty cell", "not-run", append(quietBefore[:5:5], missing), quietAfter, compare.Policy{}, "empty cells, not yet run: 1"},

		{"absent", "absent", quietBefore, quietAfter,
			compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render"}, {Benchmark: "mesh-solve"}}},
			"named in the policy, but missing on one side or both: mesh-solve; still counted in the correction, for 2 in all"},
		{"absent, by pattern", "absent", quietBefore, quietAfter,
			compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render"}, {Benchmark: "mesh-*"}}}, ""},
		{"not in the policy", "not-in-policy", quietBefore, quietAfter, compare.Policy{Entries: []compare.Entry{{Benchmark: "mesh-solve"}}},
			"shown but not judged, since the policy does not name it: tile-render"},
		{"in the policy", "not-in-policy", quietBefore, quietAfter, compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-*"}}}, ""},
		{"a cost that the policy does not name", "not-in-policy",
			slices.Concat(quietBefore, comparetest.Metric("power", comparetest.Labelled("F", comparetest.Numbers("W", slower...)))),
			slices.Concat(quietAfter, comparetest.Metric("power", comparetest.Labelled("B", comparetest.Numbers("W", faster...)))),
			compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-*"}}}, ""},

		{"exact", "normal-approximation", quietBefore, quietAfter, compare.Policy{}, ""},
		{"many ties", "normal-approximation", comparetest.Labelled("F", comparetest.Numbers("s", rounded(fineRuns(120, 900))...)),
			comparetest.Labelled("B", comparetest.Numbers("s", rounded(fineRuns(121, 900))...)), compare.Policy{},
			"p from the normal approximation: the exact distribution is too large for these sizes"},
		{"as many without ties", "normal-approximation", comparetest.Labelled("F", comparetest.Numbers("s", fineRuns(120, 900)...)),
			comparetest.Labelled("B", comparetest.Numbers("s", fineRuns(121, 900)...)), compare.Policy{}, ""},
		{"two hundred and one values", "placements", comparetest.Labelled("F", comparetest.Numbers("s", fineRuns(100, 900)...)),
			comparetest.Labelled("B", comparetest.Numbers("s", fineRuns(101, 900)...)), compare.Policy{},
			"interval without resampling: with more than 200 values the bootstrap and its limit agree"},
		{"two hundred values", "placements", comparetest.Labelled("F", comparetest.Numbers("s", fineRuns(100, 900)...)),
			comparetest.Labelled("B", comparetest.Numbers("s", fineRuns(100, 901)...)), compare.Policy{}, ""},

		{"five blocks", "student", comparetest.InBlocks("s", "F", comparetest.OneEach(slower...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(faster...)...), compare.Policy{},
			"the interval assumes normal differences; 5 blocks cannot settle anything, 6 could"},
		{"six blocks", "student", comparetest.InBlocks("s", "F", comparetest.OneEach(append(slower[:5:5], 412)...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(append(faster[:5:5], 402)...)...), compare.Policy{}, ""},

		{"constant on both sides", "constant", comparetest.Labelled("F", comparetest.Numbers("fps", constant...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", constant...)), compare.Policy{},
			"every run gave the same value on each side: the readings are too coarse to tell how far apart the sides are; record more digits"},
		{"constant before", "constant", comparetest.Labelled("F", comparetest.Numbers("fps", constant...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", spread...)), compare.Policy{},
			"every run before gave the same value: record more digits"},
		{"constant after", "constant", comparetest.Labelled("F", comparetest.Numbers("fps", spread...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", constant...)), compare.Policy{},
			"every run after gave the same value: record more digits"},
		{"one run a side is no constant", "constant", comparetest.Labelled("F", comparetest.Numbers("fps", 60)),
			comparetest.Labelled("B", comparetest.Numbers("fps", 60)), compare.Policy{}, ""},
		{"varying", "constant", comparetest.Labelled("F", comparetest.Numbers("fps", coarse...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", spread...)), compare.Policy{}, ""},
		{"coarse", "coarse", comparetest.Labelled("F", comparetest.Numbers("fps", coarse...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", spread...)), compare.Policy{},
			"readings in steps of 1 fps are coarse for their spread; the interval allows for it"},
		{"coarse in tenths", "coarse", comparetest.Labelled("F", comparetest.Numbers("°C", 80.1, 80.2, 80.1, 80.1, 80.2)),
			comparetest.Labelled("B", comparetest.Numbers("°C", 90.1, 90.2, 90.1, 90.1, 90.2)), compare.Policy{},
			"readings in steps of 0.1 °C are coarse for their spread; the interval allows for it"},
		{"fine", "coarse", quietBefore, quietAfter, compare.Policy{}, ""},
		{"two fine readings a side", "coarse", comparetest.Labelled("F", comparetest.Numbers("s", 412.31, 409.77)),
			comparetest.Labelled("B", comparetest.Numbers("s", 402.18, 405.93)), compare.Policy{}, ""},

		{"labels on one side", "sessions-one-side", quietBefore, comparetest.Numbers("s", faster...), compare.Policy{},
			"only one side has sessions recorded; the other side's runs count as a session each"},
		{"labels on both sides", "sessions-one-side", quietBefore, quietAfter, compare.Policy{}, ""},
		{"some labels", "sessions-partly", append(quietBefore[:5:5], comparetest.Numbers("s", 411)...), quietAfter, compare.Policy{},
			"some runs have no session label; each of them counts as a session of its own"},
		{"all labels", "sessions-partly", quietBefore, quietAfter, compare.Policy{}, ""},
		{"unequal runs", "unequal-runs", comparetest.InSessions("s", "F", slower[:3], slower[1:4], slower[2:5]),
			comparetest.InSessions("s", "B", faster[:2], faster[1:3], faster[2:4]), compare.Policy{},
			"runs a session: usually 3 before and 2 after; medians of different numbers of skewed runs " +
				"differ by themselves; record the same odd number"},
		{"unequal in one session only", "unequal-runs", comparetest.InSessions("s", "F", slower[:3], slower[1:4], slower[2:5]),
			comparetest.InSessions("s", "B", faster[:2], faster[1:4], faster[2:5]), compare.Policy{}, ""},
		{"different numbers of runs without sessions", "unequal-runs", comparetest.Numbers("s", slower...),
			comparetest.Numbers("s", faster[:4]...), compare.Policy{}, ""},

		{"three runs and twelve", "few-on-one-side", comparetest.Labelled("F", comparetest.Numbers("s", slower[:3]...)),
			comparetest.Labelled("B", comparetest.Numbers("s", other...)), compare.Policy{},
			"3 sessions on one side hardly show how far they scatter: should they scatter more than the other side's, " +
				"the interval is too narrow; measure both sides alike"},
		{"four runs and twelve", "few-on-one-side", comparetest.Labelled("F", comparetest.Numbers("s", slower[:4]...)),
			comparetest.Labelled("B", comparetest.Numbers("s", other...)), compare.Policy{}, ""},
		{"three and three, which have no interval", "few-on-one-side", comparetest.Labelled("F", comparetest.Numbers("s", slower[:3]...)),
			comparetest.Labelled("B", comparetest.Numbers("s", faster[:3]...)), compare.Policy{}, ""},

		{"each run follows the one before", "dependent-runs", comparetest.Numbers("s", walk...), comparetest.Numbers("s", other...),
			compare.Policy{},
			"runs before depend on the run before them (lag-1 correlation 0.75): the interval is too narrow; record sessions"},
		{"the same after", "dependent-runs", comparetest.Numbers("s", other...), comparetest.Numbers("s", walk...), compare.Policy{},
			"runs after depend"},
		{"the same values in another order", "dependent-runs", comparetest.Numbers("s", shuffledWalk...), comparetest.Numbers("s", other...),
			compare.Policy{}, ""},
		{"too few runs to tell", "dependent-runs", comparetest.Numbers("s", walk[:9]...), comparetest.Numbers("s", other...), compare.Policy{},
			""},
		{"with sessions", "dependent-runs", comparetest.Labelled("F", comparetest.Numbers("s", walk...)),
			comparetest.Labelled("B", comparetest.Numbers("s", other...)), compare.Policy{}, ""},

		{"real alone", "real-alone", eight(quietBefore), eight(quietAfter), compare.Policy{}, "real alone, not among 8"},
		{"real among eight", "real-alone", eight(quietBefore), eight(quietAfter), compare.Policy{Correction: compare.NoCorrection}, ""},
		{"the test says yes, the interval no", "test-alone",
			comparetest.Labelled("F", comparetest.Numbers("fps", 59.68, 59.81, 60.06, 60.24, 59.88, 59.85, 60.05, 61.04, 60.89, 59.92, 60.13,
				59.83)), comparetest.Labelled("B", comparetest.Numbers("fps", 61.82, 60.09, 64.84, 60.59, 62.41)), compare.Policy{},
			// five that spread much wider
			"the test calls this real but the interval holds 0: counted as not settled"},
		{"both say yes", "test-alone", quietBefore, quietAfter, compare.Policy{}, ""},
		{"level", "level", quietBefore, comparetest.Labelled("B", comparetest.Numbers("s", slower...)), compare.Policy{},
			"equivalent within the tolerance: each side of the interval excludes a larger change at 97.5 %"},
		{"level at 90 %", "level", quietBefore, comparetest.Labelled("B", comparetest.Numbers("s", slower...)), compare.Policy{Confidence: 0.9},
			"at 95.0 %"},
		{"not level", "level", quietBefore, quietAfter, compare.Policy{}, ""},
		{"left out", "left-out", slices.Concat(comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...), quietBefore[:1]),
			comparetest.InBlocks("s", "B", comparetest.OneEach(fineRuns(6, 401)...)...), compare.Policy{},
			"left out: 1 of 13 runs, those outside complete blocks; blocked and unblocked runs are never mixed"},
		{"nothing left out", "left-out", comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(fineRuns(6, 401)...)...), compare.Policy{}, ""},
		{"blocks on one side", "no-complete-block", comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...), quietAfter,
			compare.Policy{}, "no block holds both sides"},
		{"blocks on both", "no-complete-block", comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(fineRuns(6, 401)...)...), compare.Policy{}, ""},
	} {
		got := comparetest.Judged(t, c.before, c.after, c.policy, compare.Options{})
		text := comparetest.TextOf(got.Notes, c.kind)
		for _, r := range got.Results {
			if text == "" {
				text = comparetest.TextOf(r.Notes, c.kind)
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
	var before, after []compare.Value
	for i := range 20 {
		before = append(before, comparetest.Named(fmt.Sprint("scene-", i), comparetest.Numbers("s", slower...))...)
		after = append(after, comparetest.Named(fmt.Sprint("scene-", i), comparetest.Numbers("s", faster...))...)
	}
	c := comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{})
	if len(c.Notes) != 1 || c.Notes[0].Kind != "sessions-not-recorded" {
		t.Errorf("%v", c.Notes)
	}
	// Long lists of names are cut.
	var entries []compare.Entry
	for i := range 30 {
		entries = append(entries, compare.Entry{Benchmark: fmt.Sprint("scene-", i)})
	}
	c = comparetest.Judged(t, before, after, comparetest.Tolerating(compare.Policy{Entries: entries}, 0), compare.Options{})
	if got := comparetest.TextOf(c.Notes, "absent"); !strings.Contains(got, "scene-25 and 4 more;") {
		t.Errorf("%q", got)
	}
}
