package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

const (
	factory = "factory"
	boost   = "boost-lift"
)

// numbers are runs of tile-render without session labels.
func numbers(unit string, values ...float64) []Value {
	var out []Value
	for _, v := range values {
		out = append(out, Value{Benchmark: "tile-render", Unit: unit, Value: v})
	}
	return out
}

// inSessions are runs of tile-render, one list a session, labelled with a
// letter and a number.
func inSessions(unit, letter string, sessions ...[]float64) []Value {
	var out []Value
	for i, runs := range sessions {
		for _, v := range runs {
			out = append(out, Value{Benchmark: "tile-render", Unit: unit, Session: fmt.Sprint(letter, i+1), Value: v})
		}
	}
	return out
}

// inBlocks are runs of tile-render, for each block a list of spells, each
// spell a session of its own.
func inBlocks(unit, letter string, blocks ...[][]float64) []Value {
	var out []Value
	for b, spells := range blocks {
		for s, runs := range spells {
			for _, v := range runs {
				out = append(out, Value{Benchmark: "tile-render", Unit: unit, Block: fmt.Sprint(b + 1),
					Session: fmt.Sprint(letter, b+1, ".", s+1), Value: v})
			}
		}
	}
	return out
}

// oneEach makes blocks of one spell with one run each.
func oneEach(values ...float64) [][][]float64 {
	var out [][][]float64
	for _, v := range values {
		out = append(out, [][]float64{{v}})
	}
	return out
}

// named gives values another benchmark.
func named(benchmark string, values []Value) []Value {
	out := append([]Value(nil), values...)
	for i := range out {
		out[i].Benchmark = benchmark
	}
	return out
}

func metric(name string, values []Value) []Value {
	out := append([]Value(nil), values...)
	for i := range out {
		out[i].Metric = name
	}
	return out
}

func joined(lists ...[]Value) []Value {
	var out []Value
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

// seriesOf files values under a profile, as a reader would. A value without a
// place gets its number as line.
func seriesOf(t testing.TB, profile string, values []Value) []*Series {
	t.Helper()
	var runs Runs
	for i, v := range values {
		v.Profile = profile
		if v.At.File == "" {
			v.At = Place{File: profile + ".csv", Line: i + 2, Column: 1}
		}
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	return runs.Series()
}

// judged compares values as the program would, with few resamples.
func judged(t testing.TB, before, after []Value, policy Policy, opt Options) *Comparison {
	t.Helper()
	c, err := tried(t, before, after, policy, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func tried(t testing.TB, before, after []Value, policy Policy, opt Options) (*Comparison, error) {
	t.Helper()
	if opt.Resamples == 0 {
		opt.Resamples = 1000
	}
	return Compare(seriesOf(t, factory, before), seriesOf(t, boost, after), [2]string{factory, boost}, policy, opt)
}

// only is the one result of a comparison.
func only(t testing.TB, c *Comparison) *Result {
	t.Helper()
	if len(c.Results) != 1 {
		t.Fatalf("%d results, want 1", len(c.Results))
	}
	return c.Results[0]
}

// differencesIn is a policy under which everything is a score on an interval
// scale, so that expected answers can be worked out by hand.
func differencesIn(better Better) Policy {
	return Policy{Entries: []Entry{{Benchmark: "*", Metric: "*", Scale: Interval, Role: Score, Better: better}}}
}

// tolerating adds a tolerance for every score, as --tolerance would.
func (p Policy) tolerating(t float64) Policy {
	p.Overrides = append(append([]Override(nil), p.Overrides...), Override{Tolerance: t})
	return p
}

func near(got, want, within float64) bool {
	return got == want || math.Abs(got-want) <= within*math.Max(1, math.Abs(want))
}

func verdictOf(r *Result) Verdict {
	if r.Verdict == nil {
		return ""
	}
	return *r.Verdict
}

func kinds(notes []Note) map[string]bool {
	out := map[string]bool{}
	for _, n := range notes {
		out[n.Kind] = true
	}
	return out
}

// allKinds are the kinds of notes of a comparison and of its metrics.
func allKinds(c *Comparison) map[string]bool {
	out := kinds(c.Notes)
	for _, r := range c.Results {
		for k := range kinds(r.Notes) {
			out[k] = true
		}
	}
	return out
}

func textOf(notes []Note, kind string) string {
	for _, n := range notes {
		if n.Kind == kind {
			return n.Text
		}
	}
	return ""
}

func generator(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }

func pointer(v float64) *float64 { return &v }
