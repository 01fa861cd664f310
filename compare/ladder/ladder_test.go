package ladder

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
)

// rungData makes a profile of one benchmark in seconds, with power, by hand:
// sessions of one run.
func rungData(profile string, seconds, watts []float64) []*compare.Series {
	side := func(metric, unit string, values []float64) *compare.Series {
		s := &compare.Series{SeriesKey: compare.SeriesKey{Profile: profile, Benchmark: "tile-render", Metric: metric}, Unit: unit}
		for i, v := range values {
			s.Append(compare.Observation{Value: v, Session: fmt.Sprintf("%s %d", profile, i), Run: "1"})
		}
		return s
	}
	out := []*compare.Series{side(compare.DefaultMetric, "s", seconds)}
	if watts != nil {
		out = append(out, side(MetricPower, "W", watts))
	}
	return out
}

// spreadOver makes six values about a level, a little apart.
func spreadOver(level float64) []float64 {
	var out []float64
	for _, f := range []float64{-0.001, 0.0004, 0.0012, -0.0006, 0.0002, 0.0008} {
		out = append(out, level*(1+f))
	}
	return out
}

func climbed(t *testing.T, mix []Share, policy compare.Policy, sides ...[]*compare.Series) *Ladder {
	t.Helper()
	var names []string
	for _, s := range sides {
		names = append(names, s[0].Profile)
	}
	l, err := Climb(names, sides, mix, policy, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Steps multiply: +4.1 % and then +2.6 % make +6.81 %, not +6.7 %. Worked by
// hand: 1.041 x 1.026 = 1.068066.
func TestStepsMultiply(t *testing.T) {
	l := climbed(t, nil, compare.Policy{}, rungData("a", spreadOver(100), nil), rungData("b", spreadOver(100/1.041), nil),
		rungData("c", spreadOver(100/1.041/1.026), nil))
	for i, want := range []float64{0.041, 0.026} {
		if got := l.Steps[i].Suite.Change; math.Abs(got-want) > 1e-9 {
			t.Errorf("step %d is %v, want %v", i+1, got, want)
		}
	}
	if math.Abs(l.Product-0.068066) > 1e-9 || math.Abs(l.Total.Suite.Change-0.068066) > 1e-9 || !l.Gap.Explained() {
		t.Errorf("product %v, measured %v, gap %v; want 0.068066", l.Product, l.Total.Suite.Change, *l.Gap)
	}
	if r := l.Total.Suite.Result; *r.Verdict != compare.Uplift || r.Among != 3 {
		t.Errorf("the total is %v among %d", *r.Verdict, r.Among)
	}
	// Minutes of an hour's work: 60 (1 - 1/1.068066) = 3.8237.
	if w := l.Works[0]; w.Leader != "c" || !w.Settled || l.FrontCost != "" {
		t.Errorf("leader %s, settled %v, front by %q", w.Leader, w.Settled, l.FrontCost)
	}
}

// Energy and efficiency by hand: 250 W for 40 s are 10,000 J; 215 W for 44 s
// are 9,460 J: -5.4 % energy, and 10,000/9,460 = +5.708 % work per joule, at
// -9.09 % speed and -14.0 % power.
func TestEnergyByHand(t *testing.T) {
	same := func(v float64) []float64 { return slices.Repeat([]float64{v}, 4) }
	l := climbed(t, nil, compare.Policy{}, rungData("a", same(40), same(250)), rungData("b", same(44), same(215)))
	r := l.Rungs[1]
	for name, c := range map[string]struct {
		s    *compare.Suite
		want float64
	}{
		"speed": {r.Speed, 40.0/44 - 1}, "power": {r.Power, -0.14}, "energy": {r.Energy, -0.054}, "efficiency": {r.Efficiency, 10000.0/9460 - 1},
	} {
		if c.s == nil || math.Abs(c.s.Change-c.want) > 1e-12 {
			t.Errorf("%s is %+v, want %v", name, c.s, c.want)
		}
	}
	if got := r.Energy.Parts[0].Before.Median; math.Abs(got-10000) > 1e-9 {
		t.Errorf("energy before %v J, want 10,000", got)
	}
	if r.Efficiency.Verdict != nil {
		t.Error("efficiency is shown, not judged")
	}
	back := climbed(t, nil, compare.Policy{}, rungData("b", same(44), same(215)), rungData("a", same(40), same(250)))
	if got := back.Rungs[1].Power.Change; math.Abs(got-35.0/215) > 1e-12 { // +16.3 % the other way
		t.Errorf("power the other way is %v, want %v", got, 35.0/215)
	}
}

// Work per joule is worked out run by run, so what power and speed share falls
// out: power times time is constant here, though both spread by 10 %.
func TestEfficiencyIsPaired(t *testing.T) {
	times := []float64{36, 38, 40, 42, 44, 41}
	watts := make([]float64, len(times))
	faster := make([]float64, len(times))
	for i, s := range times {
		watts[i] = 8000 / s * (1 + 1e-4*float64(i*i%5))
		faster[i] = s / 1.02
	}
	l := climbed(t, nil, compare.Policy{}, rungData("a", times, watts), rungData("b", faster, watts))
	e, s := l.Rungs[1].Efficiency, l.Rungs[1].Speed
	if width := e.Interval[1] - e.Interval[0]; width > 0.002 || math.Abs(e.Change-0.02) > 0.0005 {
		t.Errorf("efficiency %v, interval %v", e.Change, *e.Interval)
	}
	if width := s.Interval[1] - s.Interval[0]; width < 0.05 {
		t.Errorf("speed should spread, interval %v", *s.Interval)
	}
}

func TestDerivedMetrics(t *testing.T) {
	key := func(metric string) compare.SeriesKey {
		return compare.SeriesKey{Profile: "p", Benchmark: "ray-preview", Metric: metric}
	}
	of := func(s *compare.Series, values ...float64) *compare.Series {
		for _, v := range values {
			s.Append(compare.Observation{Value: v, Session: "1"})
		}
		return s
	}
	fps := of(&compare.Series{SeriesKey: key(compare.DefaultMetric), Unit: "fps"}, 100, 110, 120)
	power := of(&compare.Series{SeriesKey: key(MetricPower), Unit: "kW"}, 0.2, 0.22, 0.2)
	hot := of(&compare.Series{SeriesKey: key(MetricTemperature), Unit: "°C"}, 70, 71, 72)
	room := of(&compare.Series{SeriesKey: key(compare.MetricAmbient), Unit: "°C"}, 20, 72, 22)
	off := power.At(1)
	off.SetAside, off.Reason = true, "meter off"
	power.Set(1, off)
	got, err := derive([]*compare.Series{fps, power, hot, room}, compare.Policy{})
	if err != nil {
		t.Fatal(err)
	}
	by := map[string]*compare.Series{}
	for _, s := range got {
		by[s.Metric] = s
	}
	e := by[MetricEfficiency]
	if e == nil || e.Unit != "fps/W" || e.Better != compare.Higher || math.Abs(e.At(0).Value-0.5) > 1e-12 ||
		math.Abs(e.At(2).Value-0.6) > 1e-12 {
		t.Fatalf("work per joule: %+v", e)
	}
	if o := e.At(1); !o.SetAside || o.Reason != "meter off" {
		t.Errorf("a run without power: %+v", o)
	}
	if by[MetricEnergy] != nil {
		t.Error("a frame rate has no energy of a job")
	}
	rise := by[MetricRise]
	if rise == nil || rise.Unit != "K" || rise.At(0).Value != 50 || rise.At(1).Value != -1 {
		t.Errorf("rise: %+v", rise)
	}
	// A measured energy is used as it is; joules from watt-hours.
	timed := of(&compare.Series{SeriesKey: compare.SeriesKey{Profile: "p", Benchmark: "tile-render", Metric: compare.DefaultMetric}, Unit: "min"}, 2)
	measured := of(&compare.Series{SeriesKey: compare.SeriesKey{Profile: "p", Benchmark: "tile-render", Metric: MetricEnergy}, Unit: "Wh"}, 4)
	watts := of(&compare.Series{SeriesKey: compare.SeriesKey{Profile: "p", Benchmark: "tile-render", Metric: MetricPower}, Unit: "W"}, 100)
	if got, err = derive([]*compare.Series{timed, measured, watts}, compare.Policy{}); err != nil || len(got) != 4 {
		t.Fatalf("%d series, %v", len(got), err)
	}
	if v := got[3].At(0).Value; got[3].Metric != MetricEfficiency || math.Abs(v-1/14400.0) > 1e-15 {
		t.Errorf("one job over 4 Wh = 14,400 J: %v", v)
	}
}

func TestFront(t *testing.T) {
	rung := func(name string, speed, watts float64) []*compare.Series {
		return rungData(name, spreadOver(100/speed), spreadOver(watts))
	}
	l := climbed(t, nil, compare.Policy{}, rung("a", 1, 200), rung("b", 1.02, 180), rung("c", 1.05, 240), rung("d", 1.04, 260),
		rung("e", 1.00001, 200.001))
	want := []struct {
		front Front
		by    string
	}{{Beaten, "b"}, {OnFront, ""}, {OnFront, ""}, {Beaten, "c"}, {Beaten, "b"}}
	for i, r := range l.Rungs {
		if r.Front != want[i].front || strings.Join(r.BeatenBy, ",") != want[i].by {
			t.Errorf("%s: %q by %v, want %q by %s", r.Profile, r.Front, r.BeatenBy, want[i].front, want[i].by)
		}
	}
	// Beaten by the estimates alone is not settled.
	l = climbed(t, nil, compare.Policy{}, rung("a", 1, 200), rung("b", 1.00001, 199.99))
	if r := l.Rungs[0]; r.Front != FrontUnsure || r.BeatenBy[0] != "b" {
		t.Errorf("%q by %v", r.Front, r.BeatenBy)
	}
}

func TestWorksAndMix(t *testing.T) {
	side := func(profile string, render, scrub float64) []*compare.Series {
		r := rungData(profile, spreadOver(render), nil)
		s := rungData(profile, spreadOver(scrub), nil)
		s[0].Benchmark = "scene-scrub"
		return append(r, s...)
	}
	policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render", Class: "rendering"},
		{Benchmark: "scene-scrub", Class: "interactive"}}}
	mix := []Share{{"rendering", 0.9}, {"interactive", 0.1}}
	l := climbed(t, mix, policy, side("a", 100, 100), side("b", 95, 106), side("c", 99.999, 94))
	for _, w := range l.Works {
		want := map[string]string{"all scores": "c", "rendering": "b", "interactive": "c", "rendering 90 %, interactive 10 %": "b"}[w.Name]
		if w.Leader != want || !w.Settled {
			t.Errorf("%s: %s, settled %v, rivals %v, want %s", w.Name, w.Leader, w.Settled, w.Rivals, want)
		}
	}
	// By hand: 0.9 ln(100/95) + 0.1 ln(100/106).
	if got, want := l.Works[3].Gain.Change, math.Expm1(0.9*math.Log(100.0/95)+0.1*math.Log(100.0/106)); math.Abs(got-want) > 1e-9 {
		t.Errorf("the mix gains %v, want %v", got, want)
	}
	l = climbed(t, nil, policy, side("a", 100, 100), side("b", 95, 95), side("c", 95.001, 95.001))
	if w := l.Works[0]; w.Settled || len(w.Rivals) != 1 || w.Rivals[0] != "c" {
		t.Errorf("two alike: settled %v, rivals %v", w.Settled, w.Rivals)
	}
}

// What a careful reader should know about a chain.
func TestNotes(t *testing.T) {
	rung := func(name string, seconds, watts float64) []*compare.Series {
		return rungData(name, spreadOver(seconds), spreadOver(watts))
	}
	want := func(what string, l *Ladder, notes ...Note) {
		t.Helper()
		if d := cmp.Diff(notes, l.Notes); d != "" {
			t.Errorf("%s (-want +got)\n%s", what, d)
		}
	}
	want("one step", climbed(t, nil, compare.Policy{}, rung("a", 100, 200), rung("b", 99, 200)))
	want("two steps", climbed(t, nil, compare.Policy{}, rung("a", 100, 200), rung("b", 99, 200), rung("c", 98, 200)),
		Note{Kind: NoteProduct})
	want("no power for one", climbed(t, nil, compare.Policy{}, rung("a", 100, 200), rungData("b", spreadOver(99), nil)),
		Note{Kind: NoteCostLeftOut, Metric: MetricPower, LeftOut: []Unmeasured{{"tile-render", []string{"b"}}}})
	other := func(profile string, level float64) []*compare.Series {
		s := rungData(profile, spreadOver(level), nil)
		s[0].Benchmark = "scene-scrub"
		return append(rungData(profile, spreadOver(level), nil), s...)
	}
	classes := compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render", Class: "rendering"},
		{Benchmark: "scene-scrub", Class: "interactive"}}}
	want("a mix of one class", climbed(t, []Share{{"rendering", 1}}, classes, other("a", 100), other("b", 99)),
		Note{Kind: NoteMix, Classes: []string{"interactive"}})
}

func TestUnmeasuredLinks(t *testing.T) {
	other := func(profile string) []*compare.Series {
		s := rungData(profile, spreadOver(50), nil)
		s[0].Benchmark = "mesh-solve"
		return s
	}
	both := func(profile string) []*compare.Series {
		return append(rungData(profile, spreadOver(100), nil), other(profile)...)
	}
	for _, tt := range []struct {
		sides [][]*compare.Series
		want  string
	}{
		{[][]*compare.Series{rungData("a", spreadOver(100), nil), other("b")}, "a chain needs every link measured"},
		{[][]*compare.Series{rungData("a", spreadOver(100), nil), both("b"), other("c")}, "no score was measured on every profile"},
		{[][]*compare.Series{rungData("a", spreadOver(100), nil)}, "2 to 12 profiles"},
	} {
		var names []string
		for _, s := range tt.sides {
			names = append(names, s[0].Profile)
		}
		_, err := Climb(names, tt.sides, nil, compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v: %v, want %q", names, err, tt.want)
		}
	}
	l := climbed(t, nil, compare.Policy{}, both("a"), rungData("b", spreadOver(99), nil), both("c"))
	if len(l.Scores) != 1 || !cmp.Equal(l.LeftOut, []Unmeasured{{"mesh-solve", []string{"b"}}}) {
		t.Errorf("scores %v, left out %v", l.Scores, l.LeftOut)
	}
	l = climbed(t, nil, compare.Policy{}, both("a"), both("b"), rungData("c", spreadOver(99), nil))
	if len(l.Scores) != 1 || !cmp.Equal(l.LeftOut, []Unmeasured{{"mesh-solve", []string{"c"}}}) {
		t.Errorf("scores %v, left out %v", l.Scores, l.LeftOut)
	}
}
