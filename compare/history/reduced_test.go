package history

import (
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/internal/comparetest"
)

// jittery are six sessions of three runs of tile-render and mesh-solve.
func jittery(seed uint64, letter string, level float64) (out []compare.Value) {
	g := comparetest.Generator(seed)
	for _, benchmark := range []string{"tile-render", "mesh-solve"} {
		for session := range 6 {
			at := level * math.Exp(0.003*g.NormFloat64())
			for range 3 {
				out = append(out, compare.Value{Benchmark: benchmark, Unit: "s", Session: fmt.Sprint(letter, session+1),
					Value: math.Round(100*at*math.Exp(0.004*g.NormFloat64())) / 100})
			}
		}
	}
	return out
}

// A history of reduced rows is that of the runs, but for how many rows there are.
func TestHistoryOfReducedRows(t *testing.T) {
	a, b, c := jittery(1, "A", 400), jittery(2, "B", 401), jittery(3, "C", 420)
	of := func(rows func([]compare.Value) []compare.Value) *History {
		return historyOf(t, tuned(raised, rows(a)), tuned(raised, rows(a), rows(b)), tuned(higher, rows(a), rows(b), rows(c)))
	}
	want := of(func(runs []compare.Value) []compare.Value { return runs })
	got := of(func(runs []compare.Value) []compare.Value { return comparetest.Reduced(runs, true) })
	if len(want.Tracks) != 3 || len(want.Tracks[0].Shifts) == 0 {
		t.Fatalf("%d tracks, %d shifts of the suite", len(want.Tracks), len(want.Tracks[0].Shifts))
	}
	type point struct {
		Values         []float64
		Median         float64
		Runs, Sessions int
		Change         float64
		Interval       *[2]float64
	}
	type shift struct {
		Last, First int
		P, Change   float64
		Interval    *[2]float64
		Settings    []gate.Difference
	}
	type track struct {
		P, PAdjusted float64
		Points       []point
		Shifts       []shift
	}
	shown := func(h *History) (out []track) {
		for _, x := range h.Tracks {
			add := track{P: x.P, PAdjusted: x.PAdjusted}
			for _, m := range x.Measured {
				p := point{Values: m.Values, Median: m.Median, Runs: m.Runs, Sessions: m.Sessions}
				if m.Since != nil {
					p.Change, p.Interval = m.Since.Change, m.Since.Interval
				}
				add.Points = append(add.Points, p)
			}
			for _, s := range x.Shifts {
				add.Shifts = append(add.Shifts, shift{s.Last, s.First, s.P, s.Change, s.Interval, s.Settings})
			}
			out = append(out, add)
		}
		return out
	}
	near := cmpopts.EquateApprox(1e-9, 1e-12)
	if d := cmp.Diff(shown(want), shown(got), near); d != "" {
		t.Errorf("-runs +reduced:\n%s", d)
	}
	if d := cmp.Diff(want.Notes, got.Notes, near); d != "" {
		t.Errorf("notes, -runs +reduced:\n%s", d)
	}
	for i, p := range got.Points {
		if w := want.Points[i]; p.Added != w.Added/3 || p.Withdrawn != 0 || p.SetAside != 0 ||
			p.Gate != nil && p.Gate.Outcome != w.Gate.Outcome {
			t.Errorf("commit %d: %+v, of the runs %+v", i, p, w)
		}
	}
}
