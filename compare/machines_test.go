package compare_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// machineRun is one run of tile-render.
type machineRun struct {
	machine, block, session string
	value                   float64
}

func machineRuns(runs ...machineRun) (out []compare.Value) {
	for _, r := range runs {
		out = append(out, compare.Value{Benchmark: "tile-render", Unit: "s", Machine: r.machine, Block: r.block,
			Session: r.session, Value: r.value})
	}
	return out
}

// The values are medians taken by hand: of runs by session, then of sessions by
// machine.
func TestMachineIsMedianOfItsSessions(t *testing.T) {
	s, err := compare.Reduce(compare.Metric{Benchmark: "tile-render", Unit: "s", Scale: compare.Interval},
		comparetest.SeriesOf(t, comparetest.Factory, machineRuns(
			machineRun{"heron", "", "1", 10}, machineRun{"heron", "", "1", 30}, machineRun{"heron", "", "1", 11}, // 11
			machineRun{"heron", "", "2", 14}, machineRun{"heron", "", "3", 19}, // 14, 19
			machineRun{"plover", "", "1", 20}, machineRun{"plover", "", "1", 22}, // 21
			machineRun{"plover", "B1", "1", 26},                              // a session of its own: 26
			machineRun{"curlew", "", "", 5}, machineRun{"curlew", "", "", 9}, // no session: the median of its runs
			machineRun{"", "", "1", 50},
		))[0])
	if err != nil {
		t.Fatal(err)
	}
	if want := []float64{7, 14, 23.5, 50}; !slices.Equal(s.Values, want) || s.Median != 18.75 {
		t.Errorf("values %v, median %v; want %v, 18.75", s.Values, s.Median, want)
	}
}

func TestMachinesAreUnits(t *testing.T) {
	const mw, st, sr = compare.TestMannWhitney, compare.TestStudent, compare.TestSignedRank
	heron, plover := "heron/1 heron/2", "plover/1 plover/2"
	both := heron + " " + plover
	for _, c := range []struct {
		name          string
		before, after string // machine/session
		test          string
		replication   compare.Replication
		replicates    [2]int
		pooling       compare.Pooling
		note          compare.NoteKind
	}{
		{"the same machines", both, both, st, compare.ByMachine, [2]int{2, 2}, compare.BySuiteMachine, compare.NoteMachines},
		{"six machines", "a/ b/ c/ d/ e/ f/", "a/ b/ c/ d/ e/ f/", sr, compare.ByMachine, [2]int{6, 6}, compare.BySuiteMachine,
			compare.NoteMachines},
		{"other machines", both, "ruff/1 ruff/2 knot/1", mw, compare.ByMachine, [2]int{2, 2}, compare.BySuiteMachine, compare.NoteMachines},
		{"one more machine before", both + " ruff/1", both, st, compare.ByMachine, [2]int{2, 2}, compare.BySuiteMachine, compare.NoteMachines},
		{"several machines before, one of them after", both, heron, st, compare.ByMachine, [2]int{1, 1}, "", compare.NoteMachines},
		{"four machines a side that are not on the other, and one that is", "a/ b/ c/ d/ x/", "e/ f/ g/ h/ x/", mw, compare.ByMachine,
			[2]int{4, 4}, compare.BySuiteMachine, compare.NoteMachines},
		{"runs without a machine beside runs with one", heron + " /1 /2", heron + " /1 /2", st, compare.ByMachine, [2]int{2, 2},
			compare.BySuiteMachine, compare.NoteMachines},
		{"one machine", heron, heron, mw, compare.BySession, [2]int{2, 2}, compare.BySuiteSession, ""},
		{"one machine, no sessions", "heron/ heron/", "heron/ heron/", mw, compare.ByRun, [2]int{2, 2}, compare.BySuitePass, ""},
		{"another machine after", heron, plover, mw, compare.BySession, [2]int{2, 2}, compare.BySuiteSession, compare.NoteOneMachine},
		{"no machine after", heron, "/1 /2", mw, compare.BySession, [2]int{2, 2}, compare.BySuiteSession, compare.NoteOneMachine},
	} {
		g := comparetest.Generator(1)
		side := func(words string) (out []compare.Value) {
			for _, benchmark := range []string{"tile-render", "mesh-solve"} {
				for _, l := range labels(words) { // before the slash, here, the machine
					out = append(out, compare.Value{Benchmark: benchmark, Unit: "s", Machine: l.block, Session: l.session,
						Value: 60 * math.Exp(0.01*g.NormFloat64())})
				}
			}
			return out
		}
		compared := comparetest.Judged(t, side(c.before), side(c.after), compare.Policy{}, compare.Options{Resamples: 100})
		r := compared.Results[0]
		if r.Test != c.test || r.Replication != c.replication || r.Replicates != c.replicates {
			t.Errorf("%s: %s by %s, %v; want %s by %s, %v", c.name, r.Test, r.Replication, r.Replicates, c.test, c.replication, c.replicates)
		}
		pooling := compare.Pooling("")
		if compared.Suite != nil && compared.Suite.Replication == c.replication {
			pooling = compared.Suite.Pooling
		}
		if c.pooling != "" && pooling != c.pooling {
			t.Errorf("%s: the suite by %q, want %q", c.name, pooling, c.pooling)
		}
		for _, kind := range []compare.NoteKind{compare.NoteMachines, compare.NoteOneMachine} {
			if has := comparetest.Kinds(compared.Notes)[kind]; has != (kind == c.note) {
				t.Errorf("%s: note %s: %v", c.name, kind, has)
			}
		}
	}
}

// A run is run k of its machine: setting run 1 of session 1 of one aside leaves that
// of another.
func TestRunsOfMachinesAreApart(t *testing.T) {
	values := machineRuns(machineRun{"heron", "", "1", 10}, machineRun{"plover", "", "1", 12})
	power := comparetest.Metric("power", machineRuns(machineRun{"heron", "", "1", 200}, machineRun{"plover", "", "1", 210}))
	values[0].SetAside, values[0].Reason = true, "throttled"
	series := comparetest.SeriesOf(t, comparetest.Factory, append(values, power...))
	if got := comparetest.Observations(series[1]); !got[0].SetAside || got[1].SetAside {
		t.Errorf("set aside: %v, %v; want true, false", got[0].SetAside, got[1].SetAside)
	}
}

// Nothing changed, machines are 2 % apart, 5 a side, 3 sessions each: where sessions
// were pooled 46 of 200 were real (evidence.md, third study).
func TestUnchangedMachinesAreNotReal(t *testing.T) {
	n := 2000
	if testing.Short() {
		n = 200
	}
	for _, same := range []bool{false, true} {
		g, real := comparetest.Generator(7), 0
		for range n {
			var levels [2][5]float64
			for side := range levels {
				for k := range levels[side] {
					levels[side][k] = 0.02 * g.NormFloat64()
				}
			}
			if same {
				levels[1] = levels[0]
			}
			var sides [2][]compare.Value
			for side, of := range levels {
				for k, level := range of {
					machine := fmt.Sprint("m", k)
					if !same {
						machine += fmt.Sprint(" ", side)
					}
					for session := range 3 {
						luck := 0.01 * g.NormFloat64()
						for range 3 {
							sides[side] = append(sides[side], machineRuns(machineRun{machine, "", fmt.Sprint(side, session),
								60 * math.Exp(level+luck+0.005*g.NormFloat64())})...)
						}
					}
				}
			}
			c := comparetest.Judged(t, sides[0], sides[1], compare.Policy{}, compare.Options{Resamples: 500, Seed: 1})
			if c.Results[0].Real {
				real++
			}
		}
		t.Logf("same machines on both sides %v: %d of %d real", same, real, n)
		if limit := 0.06*float64(n) + float64(n)*comparetest.Allowance(0.06, n); float64(real) > limit {
			t.Errorf("same machines on both sides %v: %d of %d unchanged comparisons are real, at most %.1f may be", same, real, n, limit)
		}
	}
}
