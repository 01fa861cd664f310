package compare_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// anySides draws two sides of tile-render: runs, sessions, blocks of one or of
// several spells; fine readings or coarse ones; with and without a change.
// Where odd is set a spell has an odd number of runs, so that its median is
// one of them.
func anySides(t *rapid.T, unit string, odd bool) (before, after []compare.Value) {
	layout := rapid.SampledFrom([]string{"runs", "sessions", "one spell", "several spells"}).Draw(t, "layout")
	g := comparetest.Generator(rapid.Uint64().Draw(t, "seed"))
	step := rapid.SampledFrom([]float64{0, 0, 0.5}).Draw(t, "step")
	change := rapid.SampledFrom([]float64{0, 0.01, -0.03, 0.3}).Draw(t, "change")
	sizes := rapid.SampledFrom([]int{1, 2, 3, 4, 5, 7, 9}) // 6 and 6 are enumerated, which takes long
	sides := [2]int{sizes.Draw(t, "size before"), sizes.Draw(t, "size after")}
	runs := rapid.SampledFrom([]int{1, 3}).Draw(t, "runs")
	if !odd {
		runs = rapid.IntRange(1, 3).Draw(t, "runs")
	}
	var out [2][]compare.Value
	for side := range out {
		add := func(session, block string, runs int, luck float64) {
			for range runs {
				v := 60 * math.Exp(luck+float64(side)*change+0.01*g.NormFloat64())
				if step > 0 {
					v = math.Round(v/step) * step
				}
				out[side] = append(out[side], compare.Value{Benchmark: "tile-render", Unit: unit, Session: session, Block: block, Value: v})
			}
		}
		switch layout {
		case "runs":
			for range sides[side] {
				add("", "", 1, 0)
			}
		case "sessions":
			for i := range sides[side] {
				add(fmt.Sprint(side, ".", i), "", runs, 0.01*g.NormFloat64())
			}
		default:
			spells := 1
			if layout == "several spells" {
				spells = 2
			}
			for b := range sides[0] + 2 {
				for i := range spells {
					add(fmt.Sprint(side, ".", b, ".", i), fmt.Sprint(b), runs, 0.1*float64(b))
				}
			}
		}
	}
	return out[0], out[1]
}

func compared(t *rapid.T, before, after []compare.Value, policy compare.Policy) *compare.Result {
	c, err := compare.Compare(comparetest.SeriesOf(t, comparetest.Factory, before), comparetest.SeriesOf(t, comparetest.Boost, after),
		comparetest.Names, policy, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return c.Results[0]
}

// Swapping the sides mirrors everything: the change becomes its inverse, the
// ends of the interval swap, U becomes mn - U, and the verdict turns. On a
// ratio scale that is exact in the verdict only without a tolerance: +0.5 % is
// undone by -0.4975 %. On an interval scale a tolerance is mirrored too.
// Blind spots are those of a loss, and are not expected to mirror.
func TestSwappingTheSidesMirrorsEverything(t *testing.T) {
	turned := map[compare.Verdict]compare.Verdict{compare.Uplift: compare.Regression, compare.Regression: compare.Uplift,
		compare.SlightGain: compare.SlightLoss, compare.SlightLoss: compare.SlightGain, compare.Level: compare.Level,
		compare.Hint: compare.Hint, compare.Noise: compare.Noise, "": "", compare.Rise: compare.Fall, compare.Fall: compare.Rise,
		compare.SlightRise: compare.SlightFall,
		compare.SlightFall: compare.SlightRise}
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]string{"s", "fps", "W", "MHz", "°C", "dB"}).Draw(t, "unit")
		before, after := anySides(t, unit, false)
		p := comparetest.Tolerating(compare.Policy{}, 0)
		if compare.TraitsOf(unit).Scale == compare.Interval {
			p = compare.Policy{Overrides: []compare.Override{{"tile-render", rapid.SampledFrom([]float64{0, 0.5, 5}).Draw(t, "tolerance")}}}
		}
		a, b := compared(t, before, after, p), compared(t, after, before, p)
		mirrored := func(change float64) float64 {
			if a.Scale == compare.Ratio {
				return 1/(1+change) - 1
			}
			return -change
		}
		same := func(what string, x, y float64) {
			if math.Abs(x-y) > 1e-12*math.Max(1, math.Abs(y)) {
				t.Fatalf("%s: %v, want %v", what, x, y)
			}
		}
		same("change", b.Change, mirrored(a.Change))
		if (a.Interval == nil) != (b.Interval == nil) || (a.Range == nil) != (b.Range == nil) {
			t.Fatalf("interval %v and %v, range %v and %v", a.Interval, b.Interval, a.Range, b.Range)
		}
		for _, in := range [][2]*[2]float64{{a.Interval, b.Interval}, {a.Range, b.Range}} {
			if in[0] != nil {
				same("low end", in[1][0], mirrored(in[0][1]))
				same("high end", in[1][1], mirrored(in[0][0]))
			}
		}
		same("p", b.P, a.P)
		same("verdict p", b.PUsed, a.PUsed)
		same("floor", b.MinP, a.MinP)
		same("superiority", b.Superiority, 1-a.Superiority)
		switch a.Test {
		case compare.TestMannWhitney:
			if a.Statistic+b.Statistic != float64(a.Replicates[0]*a.Replicates[1]) {
				t.Fatalf("U %v and %v of %v", a.Statistic, b.Statistic, a.Replicates)
			}
		case compare.TestStudent:
			same("t", b.Statistic, -a.Statistic)
		}
		if a.Real != b.Real || comparetest.VerdictOf(b) != turned[comparetest.VerdictOf(a)] {
			t.Fatalf("%q becomes %q", comparetest.VerdictOf(a), comparetest.VerdictOf(b))
		}
		if a.Before.Side != b.After.Side || a.After.Side != b.Before.Side || a.Test != b.Test || a.Replication != b.Replication ||
			a.Resolution != b.Resolution {
			t.Fatalf("%+v and %+v", a.Before, b.After)
		}
	})
}

// On a ratio scale the size of the unit says nothing: seconds or minutes,
// whole numbers or thousandths. Readings in steps are known by their digits, which a
// power of ten alone keeps.
func TestScalingChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]string{"s", "fps", "W"}).Draw(t, "unit")
		before, after := anySides(t, unit, true)
		factors := []float64{1.0 / 60, 0.001, 0.3, 7, 1024, 1e6}
		if !slices.ContainsFunc(slices.Concat(before, after), func(v compare.Value) bool { return 2*v.Value != math.Round(2*v.Value) }) {
			factors = []float64{0.001, 0.1, 10, 1e6}
		}
		by := rapid.SampledFrom(factors).Draw(t, "by")
		scaled := func(values []compare.Value) []compare.Value {
			out := slices.Clone(values)
			for i := range out {
				out[i].Value *= by
			}
			return out
		}
		p := comparetest.Tolerating(compare.Policy{}, 0)
		a, b := compared(t, before, after, p), compared(t, scaled(before), scaled(after), p)
		same := func(what string, x, y float64) {
			if math.Abs(x-y) > 1e-9 {
				t.Fatalf("%s: %v, want %v", what, y, x)
			}
		}
		same("change", a.Change, b.Change)
		for _, in := range [][2]*[2]float64{{a.Interval, b.Interval}, {a.Range, b.Range}} {
			if (in[0] == nil) != (in[1] == nil) {
				t.Fatal("an interval comes or goes")
			}
			if in[0] != nil {
				same("low end", in[0][0], in[1][0])
				same("high end", in[0][1], in[1][1])
			}
		}
		same("p", a.P, b.P)
		same("verdict p", a.PUsed, b.PUsed)
		same("superiority", a.Superiority, b.Superiority)
		if (a.BlindSpot == nil) != (b.BlindSpot == nil) {
			t.Fatal("a blind spot comes or goes")
		}
		if a.BlindSpot != nil {
			same("blind spot", *a.BlindSpot, *b.BlindSpot)
		}
		if comparetest.VerdictOf(a) != comparetest.VerdictOf(b) || a.Real != b.Real {
			t.Fatalf("%s becomes %s", comparetest.VerdictOf(a), comparetest.VerdictOf(b))
		}
	})
}

// Readings in tenths are those in whole numbers, divided by ten: nothing may
// hang on how a decimal rounds in binary. 80.3 - 80.1 and 60.4 - 60.2 are equal
// differences, and an interval that ends at zero does not leave it out.
func TestTenthsAreLikeWholeNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layout := rapid.SampledFrom([]string{"runs", "sessions", "blocks"}).Draw(t, "layout")
		g := comparetest.Generator(rapid.Uint64().Draw(t, "seed"))
		n := rapid.SampledFrom([]int{4, 5, 7, 8, 10}).Draw(t, "size")
		runs := rapid.IntRange(1, 2).Draw(t, "runs a session")
		change := rapid.IntRange(0, 3).Draw(t, "change")
		var whole, tenths [2][]compare.Value
		for i := range n {
			for side := range 2 {
				for range runs {
					v := compare.Value{Benchmark: "tile-render", Unit: "°C", Value: math.Round(800 + 1.5*g.NormFloat64() + float64(change*side))}
					switch layout {
					case "sessions":
						v.Session = fmt.Sprint(side, ".", i)
					case "blocks":
						v.Session, v.Block = fmt.Sprint(side, ".", i), fmt.Sprint(i)
						v.Value += math.Round(20 * math.Sin(float64(i)))
					}
					whole[side] = append(whole[side], v)
					v.Value /= 10
					tenths[side] = append(tenths[side], v)
				}
			}
		}
		p := comparetest.Tolerating(compare.Policy{}, 0)
		a, b := compared(t, whole[0], whole[1], p), compared(t, tenths[0], tenths[1], p)
		if math.Abs(a.P-b.P) > 1e-9 || a.Test != compare.TestStudent && (a.P != b.P || a.PUsed != b.PUsed) ||
			a.Superiority != b.Superiority || a.Real != b.Real || comparetest.VerdictOf(a) != comparetest.VerdictOf(b) {
			t.Fatalf("%s: p %v and %v, interval %v and %v, %s and %s", a.Test, a.P, b.P, a.Interval, b.Interval, comparetest.VerdictOf(a),
				comparetest.VerdictOf(b))
		}
		for i := range 2 {
			if a.Interval != nil && math.Abs(a.Interval[i]/10-b.Interval[i]) > 1e-9 {
				t.Fatalf("interval %v and %v", *a.Interval, *b.Interval)
			}
		}
		if math.Abs(a.Change/10-b.Change) > 1e-9 {
			t.Fatalf("change %v and %v", a.Change, b.Change)
		}
	})
}

// A strictly increasing transform of the values leaves the rank test alone,
// whatever it does to the change. Spells have odd numbers of runs here, since
// the middle of two values moves with a transform; differences within blocks
// are no ranks of values.
func TestMonotoneTransformLeavesTheTestAlone(t *testing.T) {
	transforms := map[string]func(float64) float64{
		"cube":        func(v float64) float64 { return v * v * v },
		"exponential": func(v float64) float64 { return math.Exp(v / 50) },
		"logarithm":   math.Log,
		"shift":       func(v float64) float64 { return v + 1000 },
	}
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]string{"s", "fps", "°C"}).Draw(t, "unit")
		before, after := anySides(t, unit, true)
		name := rapid.SampledFrom([]string{"cube", "exponential", "logarithm", "shift"}).Draw(t, "transform")
		moved := func(values []compare.Value) []compare.Value {
			out := slices.Clone(values)
			for i := range out {
				out[i].Value = transforms[name](out[i].Value)
			}
			return out
		}
		p := comparetest.Tolerating(compare.Policy{}, 0)
		a, b := compared(t, before, after, p), compared(t, moved(before), moved(after), p)
		if a.Replication == compare.ByBlock {
			t.Skip("differences are no ranks of values")
		}
		if a.P != b.P || a.PUsed != b.PUsed || a.Superiority != b.Superiority {
			t.Fatalf("%s: p %v and %v", name, a.P, b.P)
		}
		if a.Test != b.Test || a.Statistic != b.Statistic {
			t.Fatalf("%s: %s %v and %s %v", name, a.Test, a.Statistic, b.Test, b.Statistic)
		}
	})
}

// Where rows say which session and run they belong to and have no time, their
// order changes no bit of a metric's result. What may change with it: the
// order in which metrics, profiles and set-aside runs are listed, that of
// first appearance; the place that a message points at; without run labels,
// which values of two metrics make one run; and without sessions, the note on
// runs that depend on the run before them, since file order is the run order
// then.
func TestOrderOfRowsChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var values [2][]compare.Value
		for _, name := range []string{"tile-render", "mesh-solve"} {
			unit := rapid.SampledFrom([]string{"s", "fps", "°C"}).Draw(t, "unit")
			b, a := anySides(t, unit, false)
			for side, v := range [2][]compare.Value{b, a} {
				for i, x := range v {
					x.Benchmark, x.Run = name, fmt.Sprint(i)
					if x.Session == "" {
						x.Session = fmt.Sprint(side, i)
					}
					values[side] = append(values[side], x)
				}
			}
		}
		p := comparetest.Tolerating(compare.Policy{}, 0)
		first := byName(t, values, p)
		order := comparetest.Generator(rapid.Uint64().Draw(t, "order"))
		for side := range values {
			v := slices.Clone(values[side])
			order.Shuffle(len(v), func(i, j int) { v[i], v[j] = v[j], v[i] })
			values[side] = v
		}
		// Raw is in run order; what nobody outside the package sees may be, too.
		figures := cmp.Options{cmpopts.IgnoreFields(compare.Sample{}, "Raw"),
			cmpopts.IgnoreUnexported(compare.Sample{}, compare.Pair{}, compare.Measurement{}, compare.Outlook{}, compare.Comparison{})}
		if d := cmp.Diff(first, byName(t, values, p), figures); d != "" {
			t.Fatal(d)
		}
	})
}

// byName is the comparison with its metrics in order of their names.
func byName(t *rapid.T, values [2][]compare.Value, p compare.Policy) *compare.Comparison {
	c, err := compare.Compare(comparetest.SeriesOf(t, comparetest.Factory, values[0]), comparetest.SeriesOf(t, comparetest.Boost, values[1]),
		comparetest.Names, p, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	slices.SortFunc(c.Results, func(a, b *compare.Result) int { return a.ID().Compare(b.ID()) })
	return c
}
