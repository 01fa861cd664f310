package compare_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Eight scores and a cost without a tolerance under Holm, worked by hand: p values
// 2/252 for two scores that are separated, the others far from it. The suite of 5
// and 5 runs decides, too, so that nine share the correction.
func TestCorrections(t *testing.T) {
	var before, after []compare.Value
	for i := range 8 {
		name := fmt.Sprint("scene-", i)
		before = append(before, comparetest.Named(name, comparetest.Numbers("s", slower...))...)
		if i < 2 {
			after = append(after, comparetest.Named(name, comparetest.Numbers("s", faster...))...)
		} else {
			after = append(after, comparetest.Named(name, comparetest.Numbers("s", slower...))...)
		}
	}
	before = append(before, comparetest.Metric("power", comparetest.Numbers("W", 180, 181, 182, 183, 184))...)
	after = append(after, comparetest.Metric("power", comparetest.Numbers("W", 190, 191, 192, 193, 194))...)
	shownOnly := false
	judged := func(p compare.Policy) *compare.Comparison {
		p.SuiteDecides = &shownOnly
		return comparetest.Judged(t, before, after, comparetest.Tolerating(p, 0), compare.Options{})
	}
	p := 2.0 / 252
	for _, c := range []struct {
		correction compare.Correction
		adjusted   float64
		real       bool
		criticalP  float64
	}{
		{compare.Holm, 8 * p, false, 0.05 / 8},                 // 0.063
		{compare.BenjaminiHochberg, 4 * p, true, 0.05 * 2 / 8}, // 8/2 times p
		{compare.NoCorrection, p, true, 0.05},
		{"", p, true, 0.05}, // joint: no other assignment of the runs parts both so far
	} {
		got := judged(compare.Policy{Correction: c.correction})
		r := got.Results[0]
		if got.Family != (compare.Family{Scores: 8}) || !comparetest.Near(r.PAdjusted, c.adjusted, 1e-12) || r.Real != c.real ||
			r.UncorrectedOnly == c.real {
			t.Errorf("%q: family of %v, adjusted %v, real %v, alone only %v", c.correction, got.Family, r.PAdjusted, r.Real, r.UncorrectedOnly)
		}
		// What these runs could settle at: the smallest p must reach the critical one.
		if r.CanSettle != (p <= c.criticalP) || !comparetest.Near(r.MaxConfidence, 1-p*0.05/c.criticalP, 1e-12) {
			t.Errorf("%q: can settle %v, or at %v", c.correction, r.CanSettle, r.MaxConfidence)
		}
		power := got.Results[8]
		if power.Role != compare.Cost || power.PAdjusted != power.PUsed || !power.Real {
			t.Errorf("%q: a cost without a tolerance is no member of the family: %v", c.correction, power.PAdjusted)
		}
	}
	// Once both are found the critical p of the others rises: Holm steps down.
	got := judged(compare.Policy{Confidence: 0.9, Correction: compare.Holm})
	if r := got.Results[0]; !r.Real || !r.CanSettle {
		t.Errorf("at 90 %%: adjusted %v, real %v", r.PAdjusted, r.Real)
	}
	if r := got.Results[7]; !comparetest.Near(r.MaxConfidence, 1-p*6, 1e-12) {
		t.Errorf("with two of eight found the others settle at %v, want %v", r.MaxConfidence, 1-p*6)
	}
}

// A cost with a tolerance and the suite belong to the family; what cannot be settled
// by itself costs the others nothing.
func TestFamily(t *testing.T) {
	values := func(n int, level float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = level + math.Sqrt(float64(i+1))
		}
		return out
	}
	side := func(level float64) []compare.Value {
		return slices.Concat(comparetest.Named("mesh-solve", comparetest.Numbers("s", values(6, level)...)),
			comparetest.Named("tile-render", comparetest.Numbers("s", values(6, level)...)),
			comparetest.Named("tile-render", comparetest.Metric("power", comparetest.Numbers("W", values(6, level)...))),
			comparetest.Named("tile-render", comparetest.Metric("noise", comparetest.Numbers("W", values(6, level)...))),
			comparetest.Named("scene-scrub", comparetest.Metric("power", comparetest.Numbers("W", values(3, level)...))))
	}
	one := 1.0
	policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Metric: "score"}, {Benchmark: "*", Metric: "noise"},
		{Benchmark: "*", Metric: "power", Tolerance: &one}}}
	got := comparetest.Judged(t, side(100), side(140), policy, compare.Options{})
	if want := (compare.Family{Scores: 2, Costs: 1, Suites: 1}); got.Family != want {
		t.Errorf("a family of %+v, want %+v", got.Family, want)
	}
	for _, r := range got.Results {
		if inFamily := r.Metric.Metric != "noise"; r.Decides != inFamily {
			t.Errorf("%s decides: %v", r.Name(), r.Decides)
		}
	}
}

// Twenty-four scores that are all half as slow again: four sessions a side settle
// each, where Holm's correction can settle none.
func TestFourSessionsSettleLargeChanges(t *testing.T) {
	g := comparetest.Generator(3)
	side := func(letter string, level float64) (out []compare.Value) {
		for b := range 24 {
			var sessions [][]float64
			for range 4 {
				sessions = append(sessions, []float64{level * math.Exp(0.01*g.NormFloat64())})
			}
			out = append(out, comparetest.Named(fmt.Sprintf("scene-%02d", b), comparetest.InSessions("s", letter, sessions...))...)
		}
		return out
	}
	before, after := side("F", 100), side("B", 150)
	for correction, want := range map[compare.Correction]int{compare.JointCorrection: 24, compare.Holm: 0} {
		found := 0
		for _, r := range comparetest.Judged(t, before, after, compare.Policy{Correction: correction}, compare.Options{}).Results {
			if comparetest.VerdictOf(r) == compare.Regression {
				found++
			}
		}
		if found != want {
			t.Errorf("%s: %d of 24 regressions found, want %d", correction, found, want)
		}
	}
}

// A confidence at which 3 and 3 runs can just settle: 2/20 is not above
// 1 - 0.9, though in floating point it might be.
func TestBarIsReachedExactly(t *testing.T) {
	for _, c := range []struct {
		n          int
		confidence float64
	}{{3, 0.9}, {4, 1 - 2.0/70}, {5, 1 - 2.0/252}, {6, 1 - 2.0/924}} {
		before, after := make([]float64, c.n), make([]float64, c.n)
		for i := range before {
			before[i], after[i] = 400+math.Sqrt(float64(i)), 300+math.Sqrt(float64(i))
		}
		at := resultOf(t, comparetest.Numbers("s", before...), comparetest.Numbers("s", after...), compare.Policy{Confidence: c.confidence},
			compare.Options{})
		if !at.Real || !at.CanSettle || comparetest.VerdictOf(at) != compare.Uplift {
			t.Errorf("%d and %d at %v: p %v, real %v, can settle %v", c.n, c.n, c.confidence, at.P, at.Real, at.CanSettle)
		}
		over := resultOf(t, comparetest.Numbers("s", before...), comparetest.Numbers("s", after...),
			compare.Policy{Confidence: c.confidence + 1e-6}, compare.Options{})
		if over.Real || over.CanSettle || over.Interval != nil {
			t.Errorf("%d and %d above %v: real %v, can settle %v", c.n, c.n, c.confidence, over.Real, over.CanSettle)
		}
	}
}

// A p that is corrected already decides; what was judged by another p keeps its
// notes, and both are of the same measurement.
func TestRejudged(t *testing.T) {
	terms := compare.TermsOf(compare.Policy{}, compare.Options{Resamples: 1000})
	r := resultOf(t, comparetest.Numbers("s", slower...), comparetest.Numbers("s", faster...), compare.Policy{}, compare.Options{})
	if !r.Real || comparetest.Kinds(r.Notes)[compare.NoteRealAlone] {
		t.Fatalf("real %v, notes %v", r.Real, r.Notes)
	}
	notes := len(r.Notes)
	j := terms.JudgeAs(r.Measurement, 0.2, 7)
	if j.PAdjusted != 0.2 || j.Among != 7 || !comparetest.Near(j.CriticalP, 0.05, 1e-12) || j.Real || !j.UncorrectedOnly ||
		*j.Verdict != compare.Hint || !j.Decides {
		t.Errorf("judged by a p of 0.2: %+v", j)
	}
	again := terms.Rejudged(r, j, compare.Policy{})
	if comparetest.NoteOf(again.Notes, compare.NoteRealAlone).Count != 7 {
		t.Errorf("notes %v", again.Notes)
	}
	if again.Measurement != r.Measurement || len(r.Notes) != notes || comparetest.VerdictOf(r) != compare.Uplift {
		t.Errorf("%+v", r)
	}
	if j := terms.JudgeAs(r.Measurement, 0.05, 7); !j.Real || *j.Verdict != compare.Uplift {
		t.Errorf("judged by a p of 0.05: %+v", j)
	}
}

// A suite that is judged again keeps its own notes.
func TestSuiteRejudged(t *testing.T) {
	b, a := suiteData(comparetest.Factory, 4, 6, 1, false, apart(1, 100)), suiteData(comparetest.Boost, 4, 6, 1, false, apart(2, 95))
	c := comparedSuite(t, b, a, compare.Policy{})
	again := c.Rejudged(c.Suite.Result, c.JudgeAs(c.Suite.Measurement, 0.2, 3), compare.Policy{})
	for _, kind := range []compare.NoteKind{compare.NotePasses, compare.NoteRealAlone} {
		if !comparetest.Kinds(again.Notes)[kind] {
			t.Errorf("no note %s: %v", kind, again.Notes)
		}
	}
	if comparetest.Kinds(c.Suite.Notes)[compare.NoteRealAlone] {
		t.Errorf("the notes of the suite that was judged first are changed: %v", c.Suite.Notes)
	}
}

// The strictest p is what each has to reach where nothing is found.
func TestStrictestP(t *testing.T) {
	var before, after []compare.Value
	for i := range 8 {
		name := fmt.Sprint("scene-", i)
		before = append(before, comparetest.Named(name, comparetest.Numbers("s", slower...))...)
		after = append(after, comparetest.Named(name, comparetest.Numbers("s", slower...))...)
	}
	for correction, want := range map[compare.Correction]float64{
		compare.Holm: 0.05 / 9, compare.BenjaminiHochberg: 0.05 / 9, compare.NoCorrection: 0.05, compare.JointCorrection: 0.05,
	} { // eight scores and the suite
		c := comparetest.Judged(t, before, after, compare.Policy{Correction: correction}, compare.Options{})
		if p := c.StrictestP(9); !comparetest.Near(p, want, 1e-12) || c.Results[3].CriticalP != p {
			t.Errorf("%s: %v, and %v in a comparison; want %v", correction, p, c.Results[3].CriticalP, want)
		}
	}
}
