package compare_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Eight benchmarks of four sessions can settle together what none settles alone.
func TestSuiteSettlesTogether(t *testing.T) {
	b := suiteData(comparetest.Factory, 8, 4, 1, true, apart(3, 100))
	a := suiteData(comparetest.Boost, 8, 4, 1, true, apart(4, 98))
	c := comparedSuite(t, b, a, compare.Policy{Correction: compare.Holm, SuiteDecides: new(bool)})
	for _, r := range c.Results {
		if r.Verdict.Settled() {
			t.Errorf("%s is settled alone", r.Name())
		}
	}
	if *c.Suite.Verdict != compare.Uplift || !comparetest.Kinds(c.Suite.Notes)[compare.NoteTogether] {
		t.Errorf("the suite is %v, notes %v", *c.Suite.Verdict, c.Suite.Notes)
	}
}

func TestSuiteClassesAndWhatIsLeftOut(t *testing.T) {
	b, a := suiteData(comparetest.Factory, 5, 6, 1, true, lucky(5, 100)), suiteData(comparetest.Boost, 5, 6, 1, true, lucky(6, 99))
	b = append(b, &compare.Series{SeriesKey: compare.SeriesKey{comparetest.Factory, "hum", compare.DefaultMetric}, Unit: "dB"})
	b[5].Append(comparetest.Observations(b[0])...)
	a = append(a, &compare.Series{SeriesKey: compare.SeriesKey{comparetest.Boost, "hum", compare.DefaultMetric}, Unit: "dB"})
	a[5].Append(comparetest.Observations(a[0])...)
	a = slices.Delete(a, 4, 5)
	policy := compare.Policy{Entries: []compare.Entry{
		{Benchmark: "scene-[01]", Class: "rendering"}, {Benchmark: "scene-2", Class: "interactive"}, {Benchmark: "scene-3"},
		{Benchmark: "scene-4"},
		{Benchmark: "hum", Role: compare.Score}, {Benchmark: "gone"},
	}}
	c := comparedSuite(t, b, a, policy)
	leftOut := []compare.Omission{{Name: "hum", Score: true, Why: compare.NoRatio, Unit: "dB"},
		{Name: "scene-4", Score: true, Why: compare.MissingAfter}, {Name: "gone", Score: true, Why: compare.MissingBoth}}
	if d := cmp.Diff(leftOut, c.Suite.LeftOut); d != "" {
		t.Errorf("left out: %s", d)
	}
	if len(c.Suite.Scores) != 4 || len(c.Classes) != 2 || c.Classes[0].Benchmark != "rendering" || len(c.Classes[0].Scores) != 2 {
		t.Fatalf("suite of %v, classes %v", c.Suite.Scores, c.Classes)
	}
	if lone := c.Classes[1]; lone.Change != c.Results[2].Change || lone.Among != 2 || lone.PAdjusted < lone.PUsed {
		t.Errorf("a class of one score: %v, among %d", lone.Change, lone.Among)
	}
	slower := suiteData(comparetest.Boost, 5, 6, 1, true, lucky(6, 110))
	if c = comparedSuite(t, b[:5], slower, policy); !c.Suite.Decides || !slices.Contains(c.Failures(), c.Suite.Result) {
		t.Error("a suite that lost did not count as a regression")
	}
	shownOnly := false
	policy.SuiteDecides = &shownOnly
	if c = comparedSuite(t, b[:5], slower, policy); c.Suite.Decides || slices.Contains(c.Failures(), c.Suite.Result) {
		t.Error("a suite counts as a regression though the policy says that it does not decide")
	}
}
