package compare_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

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
func allKinds(c *compare.Comparison) map[compare.NoteKind]bool {
	out := comparetest.Kinds(c.Notes)
	for _, r := range c.Results {
		for k := range comparetest.Kinds(r.Notes) {
			out[k] = true
		}
	}
	return out
}

// Each kind of note: a case in which it appears, with its values, and a near one
// in which it does not. quiet is a comparison without any.
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
		kind          compare.NoteKind
		before, after []compare.Value
		policy        compare.Policy
		want          compare.Note // empty: the note must not appear
	}{
		{"no labels", compare.NoteNoSessions, comparetest.Numbers("s", slower...), comparetest.Numbers("s", faster...), compare.Policy{},
			compare.Note{Kind: compare.NoteNoSessions, Count: 1, Of: 1}},
		{"no labels on one of two", compare.NoteNoSessions,
			slices.Concat(quietBefore, comparetest.Named("mesh-solve", comparetest.Numbers("s", slower...))),
			slices.Concat(quietAfter, comparetest.Named("mesh-solve", comparetest.Numbers("s", faster...))), compare.Policy{},
			compare.Note{Kind: compare.NoteNoSessions, Count: 1, Of: 2}},
		{"labels", compare.NoteNoSessions, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"blocks", compare.NoteNoSessions, comparetest.InBlocks("s", "F", comparetest.OneEach(slower...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(faster...)...), compare.Policy{}, compare.Note{}},

		{"the same labels", compare.NoteSharedLabels, comparetest.Labelled("", comparetest.Numbers("s", slower...)),
			comparetest.Labelled("", comparetest.Numbers("s", faster...)), compare.Policy{},
			compare.Note{Kind: compare.NoteSharedLabels}},
		{"one label in common", compare.NoteSharedLabels, quietBefore,
			append(comparetest.Labelled("B", comparetest.Numbers("s", faster[1:]...)), comparetest.Labelled("F", comparetest.Numbers("s", 401))...),
			compare.Policy{}, compare.Note{Kind: compare.NoteSharedLabels}},
		{"no labels in common", compare.NoteSharedLabels, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"no labels at all", compare.NoteSharedLabels, comparetest.Numbers("s", slower...), comparetest.Numbers("s", faster...), compare.Policy{},
			compare.Note{}},
		{"the same labels in blocks", compare.NoteSharedLabels, comparetest.InBlocks("s", "", comparetest.OneEach(slower...)...),
			comparetest.InBlocks("s", "", comparetest.OneEach(faster...)...), compare.Policy{}, compare.Note{}},

		{"an empty cell", compare.NoteNotRun, append(quietBefore[:5:5], missing), quietAfter, compare.Policy{},
			compare.Note{Kind: compare.NoteNotRun, Count: 1}},

		{"absent", compare.NoteAbsent, quietBefore, quietAfter,
			compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render"}, {Benchmark: "mesh-solve"}}},
			compare.Note{Kind: compare.NoteAbsent, Names: []string{"mesh-solve"}}},
		{"absent, by pattern", compare.NoteAbsent, quietBefore, quietAfter,
			compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render"}, {Benchmark: "mesh-*"}}}, compare.Note{}},
		{"not in the policy", compare.NoteNotInPolicy, quietBefore, quietAfter,
			compare.Policy{Entries: []compare.Entry{{Benchmark: "mesh-solve"}}},
			compare.Note{Kind: compare.NoteNotInPolicy, Names: []string{"tile-render"}}},
		{"in the policy", compare.NoteNotInPolicy, quietBefore, quietAfter, compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-*"}}},
			compare.Note{}},
		{"a cost that the policy does not name", compare.NoteNotInPolicy,
			slices.Concat(quietBefore, comparetest.Metric("power", comparetest.Labelled("F", comparetest.Numbers("W", slower...)))),
			slices.Concat(quietAfter, comparetest.Metric("power", comparetest.Labelled("B", comparetest.Numbers("W", faster...)))),
			compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-*"}}}, compare.Note{}},

		{"exact", compare.NoteNormal, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"many ties", compare.NoteNormal, comparetest.Labelled("F", comparetest.Numbers("s", rounded(fineRuns(120, 900))...)),
			comparetest.Labelled("B", comparetest.Numbers("s", rounded(fineRuns(121, 900))...)), compare.Policy{},
			compare.Note{Kind: compare.NoteNormal}},
		{"as many without ties", compare.NoteNormal, comparetest.Labelled("F", comparetest.Numbers("s", fineRuns(120, 900)...)),
			comparetest.Labelled("B", comparetest.Numbers("s", fineRuns(121, 900)...)), compare.Policy{}, compare.Note{}},
		{"two hundred and one values", compare.NotePlacements, comparetest.Labelled("F", comparetest.Numbers("s", fineRuns(100, 900)...)),
			comparetest.Labelled("B", comparetest.Numbers("s", fineRuns(101, 900)...)), compare.Policy{},
			compare.Note{Kind: compare.NotePlacements, Count: 200}},
		{"two hundred values", compare.NotePlacements, comparetest.Labelled("F", comparetest.Numbers("s", fineRuns(100, 900)...)),
			comparetest.Labelled("B", comparetest.Numbers("s", fineRuns(100, 901)...)), compare.Policy{}, compare.Note{}},

		{"five blocks", compare.NoteStudent, comparetest.InBlocks("s", "F", comparetest.OneEach(slower...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(faster...)...), compare.Policy{},
			compare.Note{Kind: compare.NoteStudent, Replication: compare.ByBlock, Count: 5, Of: 6}},
		{"six blocks", compare.NoteStudent, comparetest.InBlocks("s", "F", comparetest.OneEach(append(slower[:5:5], 412)...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(append(faster[:5:5], 402)...)...), compare.Policy{}, compare.Note{}},

		{"constant on both sides", compare.NoteConstant, comparetest.Labelled("F", comparetest.Numbers("fps", constant...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", constant...)), compare.Policy{},
			compare.Note{Kind: compare.NoteConstant}},
		{"constant before", compare.NoteConstant, comparetest.Labelled("F", comparetest.Numbers("fps", constant...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", spread...)), compare.Policy{},
			compare.Note{Kind: compare.NoteConstant, Side: "before"}},
		{"constant after", compare.NoteConstant, comparetest.Labelled("F", comparetest.Numbers("fps", spread...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", constant...)), compare.Policy{},
			compare.Note{Kind: compare.NoteConstant, Side: "after"}},
		{"one run a side is no constant", compare.NoteConstant, comparetest.Labelled("F", comparetest.Numbers("fps", 60)),
			comparetest.Labelled("B", comparetest.Numbers("fps", 60)), compare.Policy{}, compare.Note{}},
		{"varying", compare.NoteConstant, comparetest.Labelled("F", comparetest.Numbers("fps", coarse...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", spread...)), compare.Policy{}, compare.Note{}},
		{"coarse", compare.NoteCoarse, comparetest.Labelled("F", comparetest.Numbers("fps", coarse...)),
			comparetest.Labelled("B", comparetest.Numbers("fps", spread...)), compare.Policy{},
			compare.Note{Kind: compare.NoteCoarse, Value: 1, Unit: "fps"}},
		{"coarse in tenths", compare.NoteCoarse, comparetest.Labelled("F", comparetest.Numbers("°C", 80.1, 80.2, 80.1, 80.1, 80.2)),
			comparetest.Labelled("B", comparetest.Numbers("°C", 90.1, 90.2, 90.1, 90.1, 90.2)), compare.Policy{},
			compare.Note{Kind: compare.NoteCoarse, Value: 0.1, Unit: "°C"}},
		{"fine", compare.NoteCoarse, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"two fine readings a side", compare.NoteCoarse, comparetest.Labelled("F", comparetest.Numbers("s", 412.31, 409.77)),
			comparetest.Labelled("B", comparetest.Numbers("s", 402.18, 405.93)), compare.Policy{}, compare.Note{}},

		{"labels on one side", compare.NoteSessionsOneSide, quietBefore, comparetest.Numbers("s", faster...), compare.Policy{},
			compare.Note{Kind: compare.NoteSessionsOneSide}},
		{"labels on both sides", compare.NoteSessionsOneSide, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"some labels", compare.NoteSessionsPartly, append(quietBefore[:5:5], comparetest.Numbers("s", 411)...), quietAfter,
			compare.Policy{},
			compare.Note{Kind: compare.NoteSessionsPartly}},
		{"all labels", compare.NoteSessionsPartly, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"unequal runs", compare.NoteUnequalRuns, comparetest.InSessions("s", "F", slower[:3], slower[1:4], slower[2:5]),
			comparetest.InSessions("s", "B", faster[:2], faster[1:3], faster[2:4]), compare.Policy{},
			compare.Note{Kind: compare.NoteUnequalRuns, Values: [2]float64{3, 2}}},
		{"unequal in one session only", compare.NoteUnequalRuns, comparetest.InSessions("s", "F", slower[:3], slower[1:4], slower[2:5]),
			comparetest.InSessions("s", "B", faster[:2], faster[1:4], faster[2:5]), compare.Policy{}, compare.Note{}},
		{"different numbers of runs without sessions", compare.NoteUnequalRuns, comparetest.Numbers("s", slower...),
			comparetest.Numbers("s", faster[:4]...), compare.Policy{}, compare.Note{}},

		{"three runs and twelve", compare.NoteFewOnASide, comparetest.Labelled("F", comparetest.Numbers("s", slower[:3]...)),
			comparetest.Labelled("B", comparetest.Numbers("s", other...)), compare.Policy{},
			compare.Note{Kind: compare.NoteFewOnASide, Count: 3, Replication: compare.BySession}},
		{"four runs and twelve", compare.NoteFewOnASide, comparetest.Labelled("F", comparetest.Numbers("s", slower[:4]...)),
			comparetest.Labelled("B", comparetest.Numbers("s", other...)), compare.Policy{}, compare.Note{}},
		{"three and three, which have no interval", compare.NoteFewOnASide, comparetest.Labelled("F", comparetest.Numbers("s", slower[:3]...)),
			comparetest.Labelled("B", comparetest.Numbers("s", faster[:3]...)), compare.Policy{}, compare.Note{}},

		{"four wild runs and twelve", compare.NoteFewAreNoisier, comparetest.Numbers("s", 380, 395, 420, 431),
			comparetest.Numbers("s", 400, 401, 402, 403, 404, 405, 406, 407, 408, 409, 410, 411), compare.Policy{},
			compare.Note{Kind: compare.NoteFewAreNoisier, Replication: compare.ByRun}},
		{"four calm runs and twelve", compare.NoteFewAreNoisier, comparetest.Numbers("s", 400, 402, 404, 406),
			comparetest.Numbers("s", 400, 401, 402, 403, 404, 405, 406, 407, 408, 409, 410, 411), compare.Policy{}, compare.Note{}},

		{"each run follows the one before", compare.NoteDependentRuns, comparetest.Numbers("s", walk...),
			comparetest.Numbers("s", other...),
			compare.Policy{},
			compare.Note{Kind: compare.NoteDependentRuns, Side: "before", Value: 0.75}},
		{"the same after", compare.NoteDependentRuns, comparetest.Numbers("s", other...), comparetest.Numbers("s", walk...),
			compare.Policy{},
			compare.Note{Kind: compare.NoteDependentRuns, Side: "after", Value: 0.75}},
		{"the same values in another order", compare.NoteDependentRuns, comparetest.Numbers("s", shuffledWalk...),
			comparetest.Numbers("s", other...),
			compare.Policy{}, compare.Note{}},
		{"too few runs to tell", compare.NoteDependentRuns, comparetest.Numbers("s", walk[:9]...), comparetest.Numbers("s", other...),
			compare.Policy{},
			compare.Note{}},
		{"with sessions", compare.NoteDependentRuns, comparetest.Labelled("F", comparetest.Numbers("s", walk...)),
			comparetest.Labelled("B", comparetest.Numbers("s", other...)), compare.Policy{}, compare.Note{}},

		{"real alone", compare.NoteRealAlone, eight(quietBefore), eight(quietAfter), compare.Policy{Correction: compare.Holm},
			compare.Note{Kind: compare.NoteRealAlone, Count: 8}},
		{"real among eight", compare.NoteRealAlone, eight(quietBefore), eight(quietAfter), compare.Policy{Correction: compare.NoCorrection},
			compare.Note{}},
		{"the test says yes, the interval no", compare.NoteTestAlone,
			comparetest.Labelled("F", comparetest.Numbers("fps", 59.68, 59.81, 60.06, 60.24, 59.88, 59.85, 60.05, 61.04, 60.89, 59.92, 60.13,
				59.83)), comparetest.Labelled("B", comparetest.Numbers("fps", 61.82, 60.09, 64.84, 60.59, 62.41)), compare.Policy{},
			// five that spread much wider
			compare.Note{Kind: compare.NoteTestAlone}},
		{"both say yes", compare.NoteTestAlone, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"level", compare.NoteLevel, quietBefore, comparetest.Labelled("B", comparetest.Numbers("s", slower...)), compare.Policy{},
			compare.Note{Kind: compare.NoteLevel, Value: 0.975}},
		{"level at 90 %", compare.NoteLevel, quietBefore, comparetest.Labelled("B", comparetest.Numbers("s", slower...)),
			compare.Policy{Confidence: 0.9},
			compare.Note{Kind: compare.NoteLevel, Value: 0.95}},
		{"not level", compare.NoteLevel, quietBefore, quietAfter, compare.Policy{}, compare.Note{}},
		{"left out", compare.NoteOutsideBlocks,
			slices.Concat(comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...), quietBefore[:1]),
			comparetest.InBlocks("s", "B", comparetest.OneEach(fineRuns(6, 401)...)...), compare.Policy{},
			compare.Note{Kind: compare.NoteOutsideBlocks, Replication: compare.ByBlock, Count: 1, Of: 13}},
		{"nothing left out", compare.NoteOutsideBlocks, comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(fineRuns(6, 401)...)...), compare.Policy{}, compare.Note{}},
		{"blocks on one side", compare.NoteNoBlock, comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...), quietAfter,
			compare.Policy{}, compare.Note{Kind: compare.NoteNoBlock}},
		{"blocks on both", compare.NoteNoBlock, comparetest.InBlocks("s", "F", comparetest.OneEach(fineRuns(6, 400)...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(fineRuns(6, 401)...)...), compare.Policy{}, compare.Note{}},
	} {
		got := comparetest.Judged(t, c.before, c.after, c.policy, compare.Options{})
		note := comparetest.NoteOf(got.Notes, c.kind)
		for _, r := range got.Results {
			if note.Kind == "" {
				note = comparetest.NoteOf(r.Notes, c.kind)
			}
		}
		if d := cmp.Diff(c.want, note, cmpopts.EquateApprox(0, 0.005)); d != "" {
			t.Errorf("%s: note %s: %s", c.name, c.kind, d)
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
	if len(c.Notes) != 1 || c.Notes[0].Kind != compare.NoteNoSessions {
		t.Errorf("%v", c.Notes)
	}
}
