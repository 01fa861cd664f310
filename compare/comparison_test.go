package compare

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var (
	slower = []float64{411.1, 412.3, 410.9, 413.2, 411.8}
	faster = []float64{401.1, 402.3, 400.9, 403.2, 401.8}
)

func TestOnlyOneSide(t *testing.T) {
	unrun := []Value{{Benchmark: "shader-build", Unit: "s", Missing: true}}
	c := judged(t,
		joined(numbers("s", slower...), named("mesh-solve", numbers("s", slower...)), unrun, named("ray-preview", numbers("fps", 60))),
		joined(metric("power", numbers("W", 180, 181)), numbers("s", faster...), named("shader-build", numbers("s", 184)),
			[]Value{{Benchmark: "ray-preview", Unit: "fps", Missing: true}}),
		Policy{}, Options{})
	if d := cmp.Diff([]string{"mesh-solve", "ray-preview (no valid run after)"}, c.OnlyBefore); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"shader-build (no valid run before)", "tile-render power"}, c.OnlyAfter); d != "" {
		t.Error(d)
	}
	if len(c.Results) != 1 || c.Results[0].Benchmark != "tile-render" || c.Family != 1 {
		t.Errorf("%d results, family of %d", len(c.Results), c.Family)
	}
}

// Errors mean that nothing was judged, and say where and what to do.
func TestNothingJudged(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after []Value
		opt           Options
		want          string
		placed        bool
	}{
		{"nothing in common", numbers("s", slower...), named("mesh-solve", numbers("s", faster...)), Options{},
			"factory and boost-lift have no benchmark in common with a valid run on both sides; only before: tile-render; only after: mesh-solve", false},
		{"all left out", numbers("s", slower...), numbers("s", faster...), Options{Wanted: func(string, string) bool { return false }},
			"factory and boost-lift have no benchmark in common with a valid run on both sides", false},
		{"units differ", numbers("s", slower...), numbers("ms", faster...), Options{},
			`boost-lift.csv:2:1: tile-render is in "ms" here but in "s" at factory.csv:2:1; both sides need the same unit`, true},
		{"no direction", numbers("MB", slower...), numbers("MB", faster...), Options{},
			"factory.csv:2: tile-render is in \"MB\", which does not say whether more is better; add a column `better` with higher or lower, " +
				"or give --better higher or --better lower, or state better in the policy", true},
		{"not above zero", numbers("s", 412, 0), numbers("s", faster...), Options{},
			"factory.csv:3:1: tile-render is 0, but a value in s must be above zero; correct it, set the run aside with valid = no and a reason, or, where 0 is a fair result, state scale = \"interval\" in a policy", true},
	} {
		got, err := tried(t, c.before, c.after, Policy{}, c.opt)
		if err == nil || err.Error() != c.want || got != nil {
			t.Errorf("%s: %v\nwant %s", c.name, err, c.want)
		}
		var placed *PlacedError
		if errors.As(err, &placed) != c.placed {
			t.Errorf("%s: has a place: %v", c.name, !c.placed)
		}
	}
	stated := func(values []Value, b Better) []Value {
		out := append([]Value(nil), values...)
		out[0].Better = b
		return out
	}
	_, err := tried(t, stated(numbers("", slower...), Lower), stated(numbers("", faster...), Higher), Policy{}, Options{})
	if want := "boost-lift.csv:2:1: tile-render says better = higher here but lower at factory.csv:2:1; state one direction for a metric"; err == nil || err.Error() != want {
		t.Errorf("%v\nwant %s", err, want)
	}
	// One side may leave the unit and the direction to the other.
	c := judged(t, numbers("", slower...), stated(numbers("s", faster...), Lower), Policy{}, Options{})
	if r := only(t, c); r.Unit != "s" || r.Better != Lower || verdictOf(r) != Uplift {
		t.Errorf("%s, %s, %s", r.Unit, r.Better, verdictOf(r))
	}
}

// Options.Better speaks only where neither the data nor the unit do, whoever
// states the unit.
func TestBetterOption(t *testing.T) {
	for _, c := range []struct {
		name   string
		unit   string
		stated Better
		policy Policy
		want   Better
	}{
		{"no unit", "", "", Policy{}, Higher},
		{"a unit that says nothing", "MB", "", Policy{}, Higher},
		{"the unit says", "s", "", Policy{}, Lower},
		{"the data say", "MB", Lower, Policy{}, Lower},
		{"the policy says", "MB", "", Policy{Entries: []Entry{{Better: Lower}}}, Lower},
		{"the policy's unit says", "", "", Policy{Entries: []Entry{{Unit: "s"}}}, Lower},
	} {
		before := numbers(c.unit, slower...)
		before[0].Better = c.stated
		r := only(t, judged(t, before, numbers(c.unit, faster...), c.policy, Options{Better: Higher}))
		if r.Better != c.want {
			t.Errorf("%s: %s, want %s", c.name, r.Better, c.want)
		}
	}
}

// One valid = no takes a run out of all its metrics, and is listed once.
func TestSetAside(t *testing.T) {
	before := joined(numbers("s", slower...), metric("power", numbers("W", 180, 181, 182, 183, 184)))
	after := joined(numbers("s", faster...), metric("power", numbers("W", 200, 201, 202, 203, 999)))
	after[4].SetAside, after[4].Reason = true, "renderer reported a checksum error"
	c := judged(t, before, after, Policy{}, Options{})
	want := []ExcludedRun{{Profile: boost, Benchmark: "tile-render", Run: "5", Reason: "renderer reported a checksum error", At: "boost-lift.csv:6:1"}}
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

// Eight scores under Holm, worked by hand: p values 2/252 for two that are
// separated, the others far from it.
func TestCorrections(t *testing.T) {
	var before, after []Value
	for i := range 8 {
		name := fmt.Sprint("scene-", i)
		before = append(before, named(name, numbers("s", slower...))...)
		if i < 2 {
			after = append(after, named(name, numbers("s", faster...))...)
		} else {
			after = append(after, named(name, numbers("s", slower...))...)
		}
	}
	before = append(before, metric("power", numbers("W", 180, 181, 182, 183, 184))...)
	after = append(after, metric("power", numbers("W", 190, 191, 192, 193, 194))...)
	p := 2.0 / 252
	for _, c := range []struct {
		correction Correction
		adjusted   float64
		real       bool
		bar        float64
	}{
		{Holm, 8 * p, false, 0.05 / 8},                 // 0.063
		{BenjaminiHochberg, 4 * p, true, 0.05 * 2 / 8}, // 8/2 times p
		{NoCorrection, p, true, 0.05},
		{"", 8 * p, false, 0.05 / 8}, // Holm
	} {
		got := judged(t, before, after, Policy{Correction: c.correction}.tolerating(0), Options{})
		r := got.Results[0]
		if got.Family != 8 || !near(r.PAdjusted, c.adjusted, 1e-12) || r.Real != c.real || r.UncorrectedOnly == c.real {
			t.Errorf("%q: family of %d, adjusted %v, real %v, alone only %v", c.correction, got.Family, r.PAdjusted, r.Real, r.UncorrectedOnly)
		}
		// What these runs could settle at: the floor must reach the bar.
		if r.CanSettle != (p <= c.bar) || !near(r.MaxConfidence, 1-p*0.05/c.bar, 1e-12) {
			t.Errorf("%q: can settle %v, or at %v", c.correction, r.CanSettle, r.MaxConfidence)
		}
		power := got.Results[8]
		if power.Role != Cost || power.PAdjusted != power.PVerdict || !power.Real {
			t.Errorf("%q: a cost is no member of the family: %v", c.correction, power.PAdjusted)
		}
	}
	// Once both are found the bar for the others rises: Holm steps down.
	got := judged(t, before, after, Policy{Confidence: 0.9}.tolerating(0), Options{})
	if r := got.Results[0]; !r.Real || !r.CanSettle {
		t.Errorf("at 90 %%: adjusted %v, real %v", r.PAdjusted, r.Real)
	}
	if r := got.Results[7]; !near(r.MaxConfidence, 1-p*6, 1e-12) {
		t.Errorf("with two of eight found the others settle at %v, want %v", r.MaxConfidence, 1-p*6)
	}
}

func TestDefaults(t *testing.T) {
	c, err := Compare(seriesOf(t, factory, numbers("s", slower...)), seriesOf(t, boost, numbers("s", faster...)), [2]string{factory, boost}, Policy{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if c.Confidence != 0.95 || c.Correction != Holm || c.Resamples != 10_000 {
		t.Errorf("%v, %s, %d", c.Confidence, c.Correction, c.Resamples)
	}
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, list := range []string{"absent", "only_before", "only_after", "set_aside"} {
		if !strings.Contains(string(text), fmt.Sprintf("%q:[]", list)) {
			t.Errorf("%s is not an empty array", list)
		}
	}
}

func TestRegressionsDecide(t *testing.T) {
	c := judged(t,
		joined(numbers("s", faster...), named("mesh-solve", numbers("s", slower...)), metric("power", numbers("W", 180, 181, 182, 183, 184)), metric("clock", numbers("MHz", 5000, 5001, 5002, 5003, 5004))),
		joined(numbers("s", slower...), named("mesh-solve", numbers("s", faster...)), metric("power", numbers("W", 190, 191, 192, 193, 194)), metric("clock", numbers("MHz", 4000, 4001, 4002, 4003, 4004))),
		Policy{}, Options{})
	var names []string
	for _, r := range c.Regressions() {
		names = append(names, r.Name())
	}
	if d := cmp.Diff([]string{"tile-render"}, names); d != "" {
		t.Error(d)
	}
	if clock := c.Results[3]; clock.Verdict != nil || clock.Decides || !clock.Real {
		t.Errorf("a clock is shown, never judged: %v, decides %v", clock.Verdict, clock.Decides)
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
		at := only(t, judged(t, numbers("s", before...), numbers("s", after...), Policy{Confidence: c.confidence}, Options{}))
		if !at.Real || !at.CanSettle || verdictOf(at) != Uplift {
			t.Errorf("%d and %d at %v: p %v, real %v, can settle %v", c.n, c.n, c.confidence, at.P, at.Real, at.CanSettle)
		}
		over := only(t, judged(t, numbers("s", before...), numbers("s", after...), Policy{Confidence: c.confidence + 1e-6}, Options{}))
		if over.Real || over.CanSettle || over.Interval != nil {
			t.Errorf("%d and %d above %v: real %v, can settle %v", c.n, c.n, c.confidence, over.Real, over.CanSettle)
		}
	}
}
