package compare_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

func TestOnlyOneSide(t *testing.T) {
	unrun := []compare.Value{{Benchmark: "shader-build", Unit: "s", Missing: true}}
	c := comparetest.Judged(t,
		slices.Concat(comparetest.Numbers("s", slower...), comparetest.Named("mesh-solve", comparetest.Numbers("s", slower...)), unrun,
			comparetest.Named("ray-preview", comparetest.Numbers("fps", 60))),
		slices.Concat(comparetest.Metric("power", comparetest.Numbers("W", 180, 181)), comparetest.Numbers("s", faster...),
			comparetest.Named("shader-build", comparetest.Numbers("s", 184)),
			[]compare.Value{{Benchmark: "ray-preview", Unit: "fps", Missing: true}}),
		compare.Policy{}, compare.Options{})
	want := []compare.Omission{
		{Name: "mesh-solve", Score: true, Why: compare.MissingAfter},
		{Name: "shader-build", Score: true, Why: compare.NoValidRunBefore},
		{Name: "ray-preview", Score: true, Why: compare.NoValidRunAfter},
		{Name: "tile-render power", Why: compare.MissingBefore},
	}
	if d := cmp.Diff(want, c.Unpaired); d != "" {
		t.Error(d)
	}
	for i, side := range []string{"before", "after", "before", "after"} {
		if got := c.Unpaired[i].OnlySide(); got != side {
			t.Errorf("%+v is only %s", c.Unpaired[i], got)
		}
	}
	if len(c.Results) != 1 || c.Results[0].Benchmark != "tile-render" || c.Family.Members() != 1 {
		t.Errorf("%d results, family of %v", len(c.Results), c.Family)
	}
}

// Errors mean that nothing was judged, and say where and what to do.
func TestNothingJudged(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after []compare.Value
		opt           compare.Options
		want          string
		placed        bool
	}{
		{"nothing in common", comparetest.Numbers("s", slower...), comparetest.Named("mesh-solve", comparetest.Numbers("s", faster...)),
			compare.Options{},
			"factory and boost-lift have no benchmark in common with a valid run on both sides; only before: tile-render; only after: mesh-solve",
			false},
		{"all left out", comparetest.Numbers("s", slower...), comparetest.Numbers("s", faster...),
			compare.Options{Wanted: func(compare.MetricID) bool { return false }},
			"factory and boost-lift have no benchmark in common with a valid run on both sides", false},
		{"units differ", comparetest.Numbers("s", slower...), comparetest.Numbers("ms", faster...), compare.Options{},
			`boost-lift.csv:2:1: tile-render is in "ms" here but in "s" at factory.csv:2:1; write both sides in the same unit`, true},
		{"no direction", comparetest.Numbers("MB", slower...), comparetest.Numbers("MB", faster...), compare.Options{},
			"factory.csv:2: tile-render is in \"MB\", which does not say whether more is better", true},
		{"not above zero", comparetest.Numbers("s", 412, 0), comparetest.Numbers("s", faster...), compare.Options{},
			"factory.csv:3:1: tile-render is 0, but a value in s must be above zero; correct it, " +
				"set the run aside with valid = no and a reason, or, where 0 is a fair result, state scale = \"interval\" in a policy", true},
	} {
		got, err := comparetest.Compared(t, c.before, c.after, compare.Policy{}, c.opt)
		if err == nil || err.Error() != c.want || got != nil {
			t.Errorf("%s: %v\nwant %s", c.name, err, c.want)
		}
		var placed *compare.PlacedError
		if errors.As(err, &placed) != c.placed {
			t.Errorf("%s: has a place: %v", c.name, !c.placed)
		}
	}
	stated := func(values []compare.Value, b compare.Better) []compare.Value {
		out := append([]compare.Value(nil), values...)
		out[0].Better = b
		return out
	}
	_, err := comparetest.Compared(t, stated(comparetest.Numbers("", slower...), compare.Lower),
		stated(comparetest.Numbers("", faster...), compare.Higher), compare.Policy{}, compare.Options{})
	want := "boost-lift.csv:2:1: tile-render says better = higher here but lower at factory.csv:2:1; state one direction for a metric"
	if err == nil || err.Error() != want {
		t.Errorf("%v\nwant %s", err, want)
	}
	// One side may leave the unit and the direction to the other.
	c := comparetest.Judged(t, comparetest.Numbers("", slower...), stated(comparetest.Numbers("s", faster...), compare.Lower),
		compare.Policy{}, compare.Options{})
	if r := comparetest.Only(t, c); r.Unit != "s" || r.Better != compare.Lower || comparetest.VerdictOf(r) != compare.Uplift {
		t.Errorf("%s, %s, %s", r.Unit, r.Better, comparetest.VerdictOf(r))
	}
}

// Options.Better speaks only where neither the data nor the unit do, whoever
// states the unit.
func TestBetterOption(t *testing.T) {
	for _, c := range []struct {
		name   string
		unit   string
		stated compare.Better
		policy compare.Policy
		want   compare.Better
	}{
		{"no unit", "", "", compare.Policy{}, compare.Higher},
		{"a unit that says nothing", "MB", "", compare.Policy{}, compare.Higher},
		{"the unit says", "s", "", compare.Policy{}, compare.Lower},
		{"the data say", "MB", compare.Lower, compare.Policy{}, compare.Lower},
		{"the policy says", "MB", "", compare.Policy{Entries: []compare.Entry{{Better: compare.Lower}}}, compare.Lower},
		{"the policy's unit says", "", "", compare.Policy{Entries: []compare.Entry{{Unit: "s"}}}, compare.Lower},
	} {
		before := comparetest.Numbers(c.unit, slower...)
		before[0].Better = c.stated
		r := resultOf(t, before, comparetest.Numbers(c.unit, faster...), c.policy, compare.Options{Better: compare.Higher})
		if r.Better != c.want {
			t.Errorf("%s: %s, want %s", c.name, r.Better, c.want)
		}
	}
}

// One valid = no takes a run out of all its metrics, and is listed once.
func TestSetAside(t *testing.T) {
	before := slices.Concat(comparetest.Numbers("s", slower...),
		comparetest.Metric("power", comparetest.Numbers("W", 180, 181, 182, 183, 184)))
	after := slices.Concat(comparetest.Numbers("s", faster...), comparetest.Metric("power", comparetest.Numbers("W", 200, 201, 202, 203, 999)))
	after[4].SetAside, after[4].Reason = true, "renderer reported a checksum error"
	c := comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{})
	want := []compare.ExcludedRun{{Profile: comparetest.Boost, Benchmark: "tile-render", Run: "5",
		Reason: "renderer reported a checksum error", At: "boost-lift.csv:6:1"}}
	if d := cmp.Diff(want, c.SetAside); d != "" {
		t.Error(d)
	}
	for _, r := range c.Results {
		if r.After.Runs != 4 || r.After.SetAside != 1 || r.Before.Runs != 5 || r.Before.SetAside != 0 {
			t.Errorf("%s: %+v and %+v", r.Name(), r.Before, r.After)
		}
		if r.After.Max == 999 {
			t.Errorf("%s: the power of a run that is set aside counts", r.Name())
		}
	}
}

// What two series contradict each other in, and what nobody says, is an error with
// a place; what only one side says holds for both.
func TestNewPair(t *testing.T) {
	at := func(p compare.Policy) compare.Policy {
		for i := range p.Entries {
			p.Entries[i].From = "tunegate.toml:4:3"
		}
		return p
	}
	stated := func(better compare.Better, values []compare.Value) []compare.Value {
		values[0].Better = better
		return values
	}
	aside := func(values []compare.Value) []compare.Value {
		for i := range values {
			values[i].SetAside, values[i].Reason = true, "crashed"
		}
		return values
	}
	numbers := comparetest.Numbers
	for _, c := range []struct {
		name          string
		before, after []compare.Value
		policy        compare.Policy
		err           string // empty for none
		unitFrom      string
	}{
		{"the same unit", numbers("s", 412, 411), numbers("s", 402, 401), compare.Policy{}, "", ""},
		{"units differ", numbers("s", 412, 411), numbers("ms", 402, 401), compare.Policy{},
			`boost-lift.csv:2:1: tile-render is in "ms" here but in "s" at factory.csv:2:1; write both sides in the same unit`, ""},
		{"a unit before", numbers("s", 412, 411), numbers("", 402, 401), compare.Policy{}, "", "before"},
		{"a unit after", numbers("", 412, 411), numbers("s", 402, 401), compare.Policy{}, "", "after"},
		{"a unit before, and the policy's", numbers("s", 412, 411), numbers("", 402, 401),
			compare.Policy{Entries: []compare.Entry{{Unit: "s"}}}, "", ""},
		{"another unit than the policy's", numbers("s", 412, 411), numbers("s", 402, 401),
			at(compare.Policy{Entries: []compare.Entry{{Unit: "ms"}}}),
			`factory.csv:2: tile-render is measured in "s", but the policy says "ms" (tunegate.toml:4:3)`, ""},
		{"directions differ", stated(compare.Higher, numbers("", 412, 411)), stated(compare.Lower, numbers("", 402, 401)), compare.Policy{},
			"boost-lift.csv:2:1: tile-render says better = lower here but higher at factory.csv:2:1; state one direction for a metric", ""},
		{"a direction after", numbers("", 412, 411), stated(compare.Lower, numbers("", 402, 401)), compare.Policy{}, "", ""},
		{"no direction", numbers("", 412, 411), numbers("", 402, 401), compare.Policy{},
			"factory.csv:2: tile-render has no unit", ""},
		{"not above zero before", numbers("s", 412, -1), numbers("s", 402, 401), compare.Policy{},
			"factory.csv:3:1: tile-render is -1, but a value in s must be above zero", ""},
		{"not above zero after", numbers("s", 412, 411), numbers("s", 0, 401), compare.Policy{},
			"boost-lift.csv:2:1: tile-render is 0, but a value in s must be above zero", ""},
		{"zero on an interval scale", numbers("s", 412, 411), numbers("s", 0, 401),
			compare.Policy{Entries: []compare.Entry{{Scale: compare.Interval}}}, "", ""},
		{"no valid run after", numbers("s", 412, 411), aside(numbers("s", 0, 401)), compare.Policy{}, "", ""},
	} {
		b, a := comparetest.SeriesOf(t, comparetest.Factory, c.before)[0], comparetest.SeriesOf(t, comparetest.Boost, c.after)[0]
		p, err := compare.NewPair(b, a, c.policy, compare.Options{})
		if c.err != "" {
			var placed *compare.PlacedError
			if err == nil || !strings.HasPrefix(err.Error(), c.err) || !errors.As(err, &placed) {
				t.Errorf("%s: %v\nwant %s", c.name, err, c.err)
			}
			continue
		}
		if err != nil || p.UnitFrom != c.unitFrom || p.Before.Runs != 2 || p.After.Runs+p.After.SetAside != 2 {
			t.Errorf("%s: %v, %+v; want the unit from %q", c.name, err, p, c.unitFrom)
		}
	}
}
