package gate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/internal/comparetest"
)

// sittings are sessions of a metric or two, with noise of 0.3 %, as they are written
// down: to so many digits behind the point.
func sittings(seed uint64, letter string, sessions int, level float64, digits int, benchmarks ...string) []compare.Value {
	g := comparetest.Generator(seed)
	var out []compare.Value
	for s := range sessions {
		for i, b := range benchmarks {
			at := compare.Place{File: "profiles/x/runs/" + letter + ".csv", Line: s + 2, Column: i + 2}
			p := math.Pow(10, float64(digits))
			out = append(out, compare.Value{Benchmark: b, Unit: "s", Session: fmt.Sprint(letter, s+1), At: at,
				Value: math.Round(p*level*math.Exp(0.003*g.NormFloat64())) / p})
		}
	}
	return out
}

// labelled gives rows other sessions.
func labelled(letter string, rows []compare.Value) []compare.Value {
	out := append([]compare.Value(nil), rows...)
	for i := range out {
		out[i].Session = letter + out[i].Session
		out[i].At.File = "profiles/x/runs/" + letter + "copy.csv"
	}
	return out
}

func TestCopiedRows(t *testing.T) {
	four := []string{"tile-render", "mesh-solve", "archive-pack", "shader-build"}
	old := tuned(factory, "auto", sittings(1, "F", 6, 412, 2, four...))
	was := old.Values.List()
	own := func(seed uint64) []compare.Value { return sittings(seed, "G", 6, 412, 2, four...) }
	for _, c := range []struct {
		name   string
		head   profiles
		copied int // rows
	}{
		{"old ones under new labels, settings changed", profiles{tuned(factory, "fixed", labelled("Z", was))}, 24},
		{"old ones under new labels, added", profiles{tuned(factory, "auto", was, labelled("Z", was))}, 24},
		{"the baseline's as a new profile's", profiles{old, tuned(boost, raised, labelled("Z", was)).from(factory)}, 24},
		{"half of them", profiles{old, tuned(boost, raised, own(2)[:12], labelled("Z", was[12:])).from(factory)}, 12},
		{"of one benchmark only", profiles{old, tuned(boost, raised, mixed(own(3), labelled("G", was))).from(factory)}, 6},
		{"sessions twice", profiles{old, tuned(boost, raised, own(4)[:12], labelled("Z", own(4)[:12])).from(factory)}, 12},
		{"of one benchmark, under their own labels, settings changed",
			profiles{tuned(factory, "fixed", mixed(sittings(8, "F", 6, 412, 2, four...), was))}, 6},
		{"a third of the lines, under their own labels, settings changed",
			profiles{tuned(factory, "fixed", was[:8], sittings(9, "F", 6, 412, 2, four...)[8:])}, 8},
		{"scaled", profiles{old, tuned(boost, raised, scaled(0.98, labelled("Z", was))).from(factory)}, 24},
		{"one score scaled", profiles{old, tuned(boost, raised, mixed(own(6), scaled(0.99, labelled("G", was)))).from(factory)}, 6},
		{"in blocks", profiles{inBlocks(old), tuned(boost, raised, inBlocks(old).Values.List()).from(factory)}, 24},
		{"measured in blocks", profiles{inBlocks(old), inBlocks(tuned(boost, raised, own(7))).from(factory)}, 0},
		{"as medians of sessions", profiles{old, tuned(boost, raised, medianRows(labelled("Z", was))).from(factory)}, 24},
		{"behind warm-ups",
			profiles{old, tuned(boost, raised, warmUps(1000, "mesh-solve"), mixed(own(10), labelled("G", was))).from(factory)}, 6},
		{"reordered", profiles{old, tuned(boost, raised, reordered(labelled("Z", was))).from(factory)}, 24},
		{"none", profiles{old, tuned(boost, raised, own(5)).from(factory)}, 0},
	} {
		base := profiles{old}
		if c.head[0].Name == factory && c.head[0].Values.At(0).Block != "" {
			base = c.head[:1]
		}
		g := between(t, compare.Policy{}, base, c.head)
		got := 0
		for _, r := range g.Reasons {
			if r.Kind == ReasonCopies {
				got += r.Rows.Len()
				if r.Copies.Len() != r.Rows.Len() || (r.Rows.At(0).Value != r.Copies.At(0).Value) != (r.Factor != 0) || r.Chance >= 1e-4 || r.Detail == "" {
					t.Errorf("%s: %+v", c.name, r)
				}
			}
		}
		if got != c.copied || (g.Outcome == Failed) != (c.copied > 0) {
			t.Errorf("%s: %d rows copied, want %d; %q", c.name, got, c.copied, reasons(g))
		}
	}
}

// Rows that a profile had before its settings changed are no new ones, neither of it nor
// of another; they come back with the settings that they were measured with.
func TestCopiesOfEarlierRows(t *testing.T) {
	four := []string{"tile-render", "mesh-solve", "archive-pack", "shader-build"}
	was := sittings(21, "E", 6, 412, 2, four...)
	old := tuned(factory, "auto", sittings(22, "F", 6, 412, 2, four...))
	policy := compare.Policy{}
	spoilt := tuned(factory, "auto", old.Values.List(), aside("fan", labelled("S", was)...))
	g := between(t, policy, profiles{spoilt}, profiles{spoilt, tuned(boost, raised, labelled("Z", was)).from(factory)})
	wantReasons(t, "of rows that are set aside", g, Failed, "boost-lift copied-rows")
	base := repository("main", &policy, old)
	base.Earlier = []*Profile{tuned(factory, "up", sittings(23, "D", 6, 412, 2, four...)), tuned(factory, "fixed", was)}
	for _, c := range []struct {
		name string
		head profiles
		want []string
	}{
		{"other settings", profiles{tuned(factory, "top", labelled("Z", was))}, []string{"factory copied-rows"}},
		{"another profile", profiles{old, tuned(boost, raised, labelled("Z", was)).from(factory)}, []string{"boost-lift copied-rows"}},
		{"back again", profiles{tuned(factory, "fixed", was)}, nil},
	} {
		g := gated(t, base, repository("head", &policy, c.head...))
		outcome := Passed
		if c.want != nil {
			outcome = Failed
		}
		wantReasons(t, c.name, g, outcome, c.want...)
		if c.want != nil && g.Reasons[0].Detail != "factory in earlier commits" {
			t.Errorf("%s: copies of %q", c.name, g.Reasons[0].Detail)
		}
	}
}

// inBlocks are runs in blocks instead of sessions, one in each.
func inBlocks(p *Profile) *Profile {
	out := *p
	out.Values = &compare.Rows{}
	for _, v := range p.Values.All() {
		v.Block, v.Session = "B"+v.Session[1:], ""
		out.Values.Append(v)
	}
	return &out
}

// mixed takes one benchmark's values from other rows.
func mixed(rows, others []compare.Value) []compare.Value {
	out := append([]compare.Value(nil), rows...)
	for i := range out {
		if out[i].Benchmark == "mesh-solve" {
			out[i].Value = others[i].Value
		}
	}
	return out
}

// medianRows are rows that an engine has reduced.
func medianRows(rows []compare.Value) []compare.Value {
	for i, v := range rows {
		rows[i].Reduced = &compare.Reduction{Runs: 1, Mean: v.Value, Smallest: v.Value, Largest: v.Value}
	}
	return rows
}

// warmUps are runs that do not count, each of a session of its own.
func warmUps(n int, benchmark string) []compare.Value {
	rows := sittings(11, "W", n, 412, 2, benchmark)
	for i := range rows {
		rows[i].Run = compare.WarmUp
	}
	return rows
}

// scaled are rows all times a factor.
func scaled(factor float64, rows []compare.Value) []compare.Value {
	for i := range rows {
		rows[i].Value = math.Round(100*factor*rows[i].Value) / 100
	}
	return rows
}

// reordered gives six sessions of four rows each another order.
func reordered(rows []compare.Value) (out []compare.Value) {
	for _, s := range []int{3, 0, 5, 1, 4, 2} {
		out = append(out, rows[4*s:4*s+4]...)
	}
	return out
}

// Readings that repeat by chance are no copies, however coarse they are and whatever
// the noise looks like: none of some thousand honest lists may be accused.
func TestHonestReadingsAreNoCopies(t *testing.T) {
	shapes := map[string]func(*rand.Rand) float64{
		"normal": func(g *rand.Rand) float64 { return 412 + 1.2*g.NormFloat64() },
		"two modes far apart": func(g *rand.Rand) float64 { // as with a display's refresh
			return []float64{60, 120}[g.IntN(2)] + 0.05*g.NormFloat64()
		},
		"held at a limit": func(g *rand.Rand) float64 { return 134 - math.Max(0, 0.3*(g.NormFloat64()-1.5)) },
		"long tail":       func(g *rand.Rand) float64 { return 60 + math.Exp(1.5*g.NormFloat64()) },
	}
	repetitions := 400
	if testing.Short() {
		repetitions = 100
	}
	for name, draw := range shapes {
		for _, digits := range []int{0, 1, 2, 3} {
			for seed := range uint64(repetitions) {
				g, p := comparetest.Generator(1000+seed), math.Pow(10, float64(digits))
				n := []int{6, 6, 30}[seed%3]
				rows, others := sittings(1, "A", n, 412, 2, "a", "b", "c"), sittings(2, "B", 2*n, 412, 2, "a", "b", "c")
				for _, list := range [][]compare.Value{rows, others} {
					for i := range list {
						list[i].Value = math.Round(p*draw(g)) / p
					}
				}
				for _, with := range [][]*compare.Rows{{compare.RowsOf(others...)}, nil} {
					if found, _ := doubts.CopiesOf(compare.RowsOf(rows...), with...); found != nil {
						t.Errorf("%s, %d digits, seed %d: %d of %d accused, chance %v, factor %v", name, digits, seed, found.Runs, len(rows),
							found.P, found.Factor)
					}
				}
			}
		}
	}
}

// A metric with a cap that two of six runs hold is not measured: the others may be hot.
func TestCapInFewRuns(t *testing.T) {
	r := newRequest(comparetest.Generator(3), func(b bench) bench { return b.faster(0.01) })
	r.bad = compare.MetricID{Benchmark: "tile-render", Metric: heatMetric}
	r.each(true, func(i int, _ *compare.Value) bool { return i < 2 })
	g, err := Judge(r.base, r.head, compare.Options{Resamples: 400, Seed: 1})
	if err != nil || g.Outcome != Undecided || g.Reasons[0].Kind != ReasonUnmeasured {
		t.Errorf("%v, %v", g.Outcome, err)
	}
}

// Six runs of one score, copied under other labels, are found in the demo's noise, also
// where few readings lie close together or on multiples of some step by luck: of 20,000 draws 24
// escape, most of them in steps of a thirtieth of the spread.
func TestOneCopiedScore(t *testing.T) {
	repetitions := 2000
	if testing.Short() || comparetest.RaceEnabled {
		repetitions = 500
	}
	for _, score := range []string{"mesh-solve", "archive-pack"} {
		escaped := 0
		for i := range repetitions {
			g := comparetest.Generator(uint64(7001000 + i))
			was := studioBench()
			old := was.measure(g, "profiles/factory/runs/1.csv", "F", 6)
			cool := was.faster(0.008).measure(g, "profiles/cool-curve/runs/1.csv", "C", 6)
			own := was.faster(-0.05, score).measure(g, "profiles/boost-lift/runs/1.csv", "N", 6)
			for j, v := range old {
				if old[j].Value = math.Round(v.Value*100) / 100; v.Benchmark == score && v.Metric == compare.DefaultMetric {
					own[j].Value = old[j].Value
				}
			}
			if found, _ := doubts.CopiesOf(compare.RowsOf(own...), compare.RowsOf(old...), compare.RowsOf(cool...)); found == nil {
				escaped++
			}
		}
		t.Logf("%s: %d of %d escape", score, escaped, repetitions)
		if escaped > repetitions/500 {
			t.Errorf("%s: %d of %d copies escape", score, escaped, repetitions)
		}
	}
}

// Rates of whole counts, and of whole times, are coarser than their last decimal: equal ones
// are no copies, though few readings hardly show it.
func TestHonestRatesAreNoCopies(t *testing.T) {
	repetitions := 400
	if testing.Short() || comparetest.RaceEnabled {
		repetitions = 100
	}
	rates := map[string]func(g *rand.Rand, level, spread float64) float64{
		"counts in a minute": func(g *rand.Rand, level, spread float64) float64 {
			return math.Round(2000*level+spread*g.NormFloat64()) / 60
		},
		"counts in a minute or so": func(g *rand.Rand, level, spread float64) float64 {
			return math.Round(2000*level+spread*g.NormFloat64()) / (60 * (1 + 1e-4*g.NormFloat64()))
		},
		"whole times": func(g *rand.Rand, level, spread float64) float64 {
			return 1e5 / math.Round(400*level+spread*g.NormFloat64())
		},
	}
	accused, calls := 0, 0
	for name, rate := range rates {
		for _, spread := range []float64{1, 2, 4, 8} {
			for i := range repetitions {
				g, n := comparetest.Generator(uint64(9000000+i)), []int{6, 6, 12, 30}[i%4]
				lists := [][]compare.Value{sittings(1, "A", n, 412, 2, "a", "b", "c"), sittings(2, "B", n, 412, 2, "a", "b", "c")}
				for _, list := range lists {
					for j := range list {
						list[j].Value, list[j].Unit = math.Round(1000*rate(g, []float64{1, 0.7, 1.3}[j%3], spread))/1000, "1/s"
					}
				}
				calls++
				if found, _ := doubts.CopiesOf(compare.RowsOf(lists[0]...), compare.RowsOf(lists[1]...)); found != nil {
					accused++
					t.Logf("%s, spread %v, draw %d: %d runs, chance %v", name, spread, i, found.Runs, found.P)
				}
			}
		}
	}
	t.Logf("%d of %d honest calls accused", accused, calls)
	if float64(accused) > 0.004*float64(calls) {
		t.Errorf("%d of %d honest calls accused", accused, calls)
	}
}
