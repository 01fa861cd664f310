package compare_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

func TestDefaults(t *testing.T) {
	c, err := compare.Compare(comparetest.SeriesOf(t, comparetest.Factory, comparetest.Numbers("s", slower...)),
		comparetest.SeriesOf(t, comparetest.Boost, comparetest.Numbers("s", faster...)), comparetest.Names, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if c.Confidence != 0.95 || c.Correction != compare.JointCorrection || c.Resamples != 10_000 {
		t.Errorf("%v, %s, %d", c.Confidence, c.Correction, c.Resamples)
	}
}

func TestRegressionsDecide(t *testing.T) {
	c := comparetest.Judged(t,
		slices.Concat(comparetest.Numbers("s", faster...), comparetest.Named("mesh-solve", comparetest.Numbers("s", slower...)),
			comparetest.Metric("power", comparetest.Numbers("W", 180, 181, 182, 183, 184)),
			comparetest.Metric("clock", comparetest.Numbers("MHz", 5000, 5001, 5002, 5003, 5004))),
		slices.Concat(comparetest.Numbers("s", slower...), comparetest.Named("mesh-solve", comparetest.Numbers("s", faster...)),
			comparetest.Metric("power", comparetest.Numbers("W", 190, 191, 192, 193, 194)),
			comparetest.Metric("clock", comparetest.Numbers("MHz", 4000, 4001, 4002, 4003, 4004))),
		compare.Policy{}, compare.Options{})
	var names []string
	for _, r := range c.Failures() {
		names = append(names, r.Name())
	}
	if d := cmp.Diff([]string{"tile-render"}, names); d != "" {
		t.Error(d)
	}
	if clock := c.Results[3]; clock.Verdict != nil || clock.Decides || !clock.Real {
		t.Errorf("a clock is shown, never judged: %v, decides %v", clock.Verdict, clock.Decides)
	}
}

func TestProgress(t *testing.T) {
	before, after := comparetest.Scattered(t, comparetest.Factory, 400), comparetest.Scattered(t, comparetest.Boost, 403)
	comparetest.WantRisingProgress(t, func(o compare.Options) error {
		_, err := compare.Compare(before, after, comparetest.Names, compare.Policy{}, o)
		return err
	})
}
