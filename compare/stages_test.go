package compare_test

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// stagesOf are two sides with every layout: runs, sessions, blocks of one and of
// several spells, coarse readings, and a cost.
func stagesOf(t *testing.T) (before, after []*compare.Series) {
	for i, s := range []comparetest.Sitting{
		{Sessions: 6, Runs: 1, Unlabelled: true, Unit: "s", Change: 0.02},
		{Sessions: 5, Runs: 3, Unit: "s", Change: 0.01},
		{Sessions: 5, Runs: 3, Unit: "fps", Step: 0.5},
		{Sessions: 5, Runs: 2, Unit: "W", Change: 0.03},
		{Blocks: 6, Sessions: 1, Runs: 2, Unit: "s", Change: -0.02},
		{Blocks: 3, Sessions: 2, Runs: 2, Unit: "fps", Change: 0.02},
	} {
		b, a := s.Simulated(2, comparetest.NoiseShapes[0].Draw, uint64(i))
		for k := range b { // two benchmarks of each, as a suite wants them
			name := fmt.Sprintf("layout-%d-%d", i, k)
			b[k].Benchmark, a[k].Benchmark = name, name
		}
		before, after = append(before, b...), append(after, a...)
	}
	comparetest.Edit(before[2], func(o []compare.Observation) []compare.Observation { return o[3:] }) // a session lacks a score
	return before, after
}

// parts are the measurements of one layout's benchmarks.
func parts(all []*compare.Measurement, layouts ...int) []*compare.Measurement {
	return slices.DeleteFunc(slices.Clone(all), func(m *compare.Measurement) bool {
		return !slices.ContainsFunc(layouts, func(i int) bool { return strings.HasPrefix(m.Benchmark, fmt.Sprintf("layout-%d-", i)) })
	})
}

// No stage changes what an earlier one made, to the bit: whatever is measured,
// judged, pooled or planned, under whichever correction.
func TestNoStageChangesAnEarlierOne(t *testing.T) {
	before, after := stagesOf(t)
	policy := compare.Policy{FewestRuns: 20}
	opt := compare.Options{Resamples: 1000, Seed: 1}
	kept := map[string]any{}
	was := map[string]string{}
	keep := func(stage string, made any) { kept[stage], was[stage] = made, dump(made) }
	check := func(after string) {
		t.Helper()
		for stage, made := range kept {
			if now := dump(made); now != was[stage] {
				t.Fatalf("%s changes the %s:\n%s", after, stage, firstDifference(was[stage], now))
			}
		}
	}
	keep("series", [][]*compare.Series{before, after})
	pairing, err := compare.PairUp(before, after, comparetest.Names, policy, opt)
	if err != nil {
		t.Fatal(err)
	}
	check("pairing up")
	keep("pairing", pairing)
	terms := compare.TermsOf(policy, opt)
	measured := terms.MeasureAll(pairing.Pairs, nil)
	check("measuring")
	keep("measurements", measured)
	var pools []*compare.Pool
	poolings := map[compare.Pooling]bool{}
	for _, layouts := range [][]int{{0}, {1}, {2}, {4}, {5}, {3}} {
		if pool, _ := terms.Pool(compare.PoolOf{Name: "a suite", Factors: []float64{1, 2}}, parts(measured, layouts...), policy); pool != nil {
			pools, poolings[pool.Pooling] = append(pools, pool), true
		}
	}
	if len(pools) != 6 || !poolings[compare.BySuiteBlock] || !poolings[compare.BySuiteSession] || !poolings[compare.BySuitePass] {
		t.Fatalf("%d pools, %v", len(pools), poolings)
	}
	check("pooling")
	keep("pools", pools)
	for _, correction := range []compare.Correction{compare.JointCorrection, compare.Holm, compare.BenjaminiHochberg, compare.NoCorrection} {
		terms.Correction = correction
		judged := terms.Judge(measured)[0]
		keep("judgements", judged)
		results := terms.Results(measured, judged, policy, nil)
		check("judging by " + string(correction))
		keep("results", results)
		var pooled []*compare.Measurement
		for _, p := range pools {
			pooled = append(pooled, p.Measured)
		}
		suites := terms.Suites(pools, terms.Judge(pooled)[0], policy, func(*compare.Measurement) bool { return true })
		check("judging suites by " + string(correction))
		for _, s := range suites {
			results = append(results, s.Result)
		}
		keep("results", results)
		for _, r := range results {
			terms.Rejudged(r, terms.JudgeAs(r.Measurement, 0.5, 9), policy)
			r.SizeToCatch(0.1)
			r.Prospects([]int{5, 10, 20})
			changes, _ := r.Changes()
			clear(changes)
		}
		check("judging again")
	}
}

// What was judged before leaves no trace: each correction gives the same whatever
// was judged by before it.
func TestJudgementsLeaveNoTrace(t *testing.T) {
	before, after := stagesOf(t)
	pairing, err := compare.PairUp(before, after, comparetest.Names, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	terms := compare.TermsOf(compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})
	measured := terms.MeasureAll(pairing.Pairs, nil)
	corrections := []compare.Correction{compare.JointCorrection, compare.Holm, compare.BenjaminiHochberg, compare.NoCorrection}
	first := map[compare.Correction]string{}
	for _, correction := range slices.Concat(corrections, corrections) {
		terms.Correction = correction
		now := dump(terms.Judge(measured))
		if was := first[correction]; was != "" && was != now {
			t.Errorf("%s judges otherwise the second time:\n%s", correction, firstDifference(was, now))
		}
		first[correction] = now
	}
	if first[compare.Holm] == first[compare.NoCorrection] {
		t.Error("corrections make no difference: the check above could not fail")
	}
}

// dump writes everything that a value holds apart from planners, one line each,
// what pointers lead to and unexported fields included; floating-point numbers to
// the bit.
func dump(v any) string {
	var b strings.Builder
	write(&b, "", reflect.ValueOf(v))
	return b.String()
}

func write(b *strings.Builder, path string, v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			fmt.Fprintf(b, "%s nil\n", path)
			return
		}
		write(b, path, v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			// A planner remembers what it has worked out.
			if f := v.Type().Field(i); f.Type != reflect.TypeFor[compare.Planner]() {
				write(b, path+"."+f.Name, v.Field(i))
			}
		}
	case reflect.Slice, reflect.Array:
		fmt.Fprintf(b, "%s %d\n", path, v.Len())
		for i := range v.Len() {
			write(b, fmt.Sprintf("%s[%d]", path, i), v.Index(i))
		}
	case reflect.Map:
		keys := v.MapKeys()
		slices.SortFunc(keys, func(x, y reflect.Value) int { return cmp.Compare(fmt.Sprint(x), fmt.Sprint(y)) })
		for _, k := range keys {
			write(b, fmt.Sprintf("%s[%v]", path, k), v.MapIndex(k))
		}
	case reflect.Float64:
		fmt.Fprintf(b, "%s %v %x\n", path, v, math.Float64bits(v.Float()))
	default:
		fmt.Fprintf(b, "%s %v\n", path, v)
	}
}

// firstDifference is the first line in which two dumps differ.
func firstDifference(was, now string) string {
	a, b := strings.Split(was, "\n"), strings.Split(now, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return a[i] + "\n" + b[i]
		}
	}
	return fmt.Sprintf("%d lines and %d", len(a), len(b))
}
