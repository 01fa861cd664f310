package comparetest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"tunegate/compare"
)

// The two profiles of most tests.
const (
	Factory = "factory"
	Boost   = "boost-lift"
)

// Names are both profiles, before and after.
var Names = [2]string{Factory, Boost}

// Generator draws the same numbers for the same seed.
func Generator(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }

// Numbers are runs of tile-render without session labels.
func Numbers(unit string, values ...float64) []compare.Value {
	var out []compare.Value
	for _, v := range values {
		out = append(out, compare.Value{Benchmark: "tile-render", Unit: unit, Value: v})
	}
	return out
}

// InSessions are runs of tile-render, one list a session, labelled with a
// letter and a number.
func InSessions(unit, letter string, sessions ...[]float64) []compare.Value {
	var out []compare.Value
	for i, runs := range sessions {
		for _, v := range runs {
			out = append(out, compare.Value{Benchmark: "tile-render", Unit: unit, Session: fmt.Sprint(letter, i+1), Value: v})
		}
	}
	return out
}

// InBlocks are runs of tile-render, for each block a list of spells, each
// spell a session of its own.
func InBlocks(unit, letter string, blocks ...[][]float64) []compare.Value {
	var out []compare.Value
	for b, spells := range blocks {
		for s, runs := range spells {
			for _, v := range runs {
				out = append(out, compare.Value{Benchmark: "tile-render", Unit: unit, Block: fmt.Sprint(b + 1),
					Session: fmt.Sprint(letter, b+1, ".", s+1), Value: v})
			}
		}
	}
	return out
}

// OneEach makes blocks of one spell with one run each.
func OneEach(values ...float64) [][][]float64 {
	var out [][][]float64
	for _, v := range values {
		out = append(out, [][]float64{{v}})
	}
	return out
}

// Labelled gives each run a session of its own.
func Labelled(letter string, values []compare.Value) []compare.Value {
	return changed(values, func(i int, v *compare.Value) { v.Session = fmt.Sprint(letter, i+1) })
}

// Named gives values another benchmark.
func Named(benchmark string, values []compare.Value) []compare.Value {
	return changed(values, func(_ int, v *compare.Value) { v.Benchmark = benchmark })
}

// Metric gives values another metric.
func Metric(name string, values []compare.Value) []compare.Value {
	return changed(values, func(_ int, v *compare.Value) { v.Metric = name })
}

func changed(values []compare.Value, change func(i int, v *compare.Value)) []compare.Value {
	out := slices.Clone(values)
	for i := range out {
		change(i, &out[i])
	}
	return out
}

// LongSides are two sides of so many benchmarks of so many runs each.
func LongSides(t failer, benchmarks, runs int) (before, after []*compare.Series) {
	t.Helper()
	g := rand.New(rand.NewPCG(1, 2))
	var sides [2]compare.Runs
	for side := range sides {
		for k := range benchmarks {
			for range runs {
				v := math.Round(1e8*math.Exp(0.01*g.NormFloat64())) / 1e6
				if err := sides[side].Add(compare.Value{Profile: Names[side], Benchmark: fmt.Sprint("scene-", k), Unit: "s", Value: v}); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	return sides[0].Series(), sides[1].Series()
}

// failer is what *testing.T, *testing.B and *rapid.T have in common.
type failer interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// SeriesOf files values under a profile, as a reader would. A value without a
// place gets its number as line.
func SeriesOf(t failer, profile string, values []compare.Value) []*compare.Series {
	t.Helper()
	var runs compare.Runs
	for i, v := range values {
		v.Profile = profile
		if v.At.File == "" {
			v.At = compare.Place{File: profile + ".csv", Line: i + 2, Column: 1}
		}
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	return runs.Series()
}

// Compared compares values as the program would, with few resamples.
func Compared(t failer, before, after []compare.Value, policy compare.Policy, opt compare.Options) (*compare.Comparison, error) {
	t.Helper()
	if opt.Resamples == 0 {
		opt.Resamples = 1000
	}
	return compare.Compare(SeriesOf(t, Factory, before), SeriesOf(t, Boost, after), Names, policy, opt)
}

// Judged is Compared where that is no error.
func Judged(t failer, before, after []compare.Value, policy compare.Policy, opt compare.Options) *compare.Comparison {
	t.Helper()
	c, err := Compared(t, before, after, policy, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// DifferencesIn is a policy under which everything is a score on an interval
// scale, so that expected answers can be worked out by hand.
func DifferencesIn(better compare.Better) compare.Policy {
	return compare.Policy{Entries: []compare.Entry{
		{Benchmark: "*", Metric: "*", Scale: compare.Interval, Role: compare.Score, Better: better}}}
}

// Tolerating adds a tolerance for every score.
func Tolerating(p compare.Policy, tolerance float64) compare.Policy {
	p.Overrides = append(slices.Clone(p.Overrides), compare.Override{Tolerance: tolerance})
	return p
}

// Observations lists the observations of a series.
func Observations(s *compare.Series) (out []compare.Observation) {
	for _, o := range s.All() {
		out = append(out, o)
	}
	return out
}

// Edit gives a series the observations that edit makes of its own.
func Edit(s *compare.Series, edit func([]compare.Observation) []compare.Observation) {
	edited := edit(Observations(s))
	*s = compare.Series{SeriesKey: s.SeriesKey, Unit: s.Unit, Better: s.Better, WarmUps: s.WarmUps, UnitAt: s.UnitAt, BetterAt: s.BetterAt,
		Derived: s.Derived}
	s.Append(edited...)
}

// EditEach lets edit change each observation of a series.
func EditEach(s *compare.Series, edit func(i int, o *compare.Observation)) {
	for i, o := range s.All() {
		edit(i, &o)
		s.Set(i, o)
	}
}
