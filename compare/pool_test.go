package compare_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/stats"
)

// suiteData makes sides of scores measured in seconds: a row a session, as
// seconds(score, session, run) says. Sessions are labelled where labelled is.
func suiteData(profile string, scores, sessions, runs int, labelled bool, seconds func(score, session, run int) float64) []*compare.Series {
	var out []*compare.Series
	for k := range scores {
		s := &compare.Series{SeriesKey: compare.SeriesKey{profile, fmt.Sprintf("scene-%d", k), compare.DefaultMetric}, Unit: "s"}
		for i := range sessions {
			for j := range runs {
				o := compare.Observation{Value: seconds(k, i, j)}
				if labelled {
					o.Session = fmt.Sprintf("%s %d", profile, i)
				}
				s.Append(o)
			}
		}
		out = append(out, s)
	}
	return out
}

// lucky draws values with a session's luck that all of its scores share.
func lucky(seed uint64, level float64) func(score, session, run int) float64 {
	g := rand.New(rand.NewPCG(seed, 0))
	luck := map[int]float64{}
	return func(score, session, _ int) float64 {
		if _, ok := luck[session]; !ok {
			luck[session] = g.NormFloat64()
		}
		return level * float64(score+1) * math.Exp(0.01*(luck[session]+g.NormFloat64()))
	}
}

// apart draws values that share nothing.
func apart(seed uint64, level float64) func(score, session, run int) float64 {
	g := rand.New(rand.NewPCG(seed, 1))
	return func(score, _, _ int) float64 { return level * float64(score+1) * math.Exp(0.01*g.NormFloat64()) }
}

func comparedSuite(t testing.TB, before, after []*compare.Series, policy compare.Policy) *compare.Comparison {
	t.Helper()
	c, err := compare.Compare(before, after, comparetest.Names, policy, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

var poolTerms = compare.TermsOf(compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})

// pooled is the suite of a comparison before it is judged.
func pooled(t testing.TB, before, after []*compare.Series) *compare.Pool {
	t.Helper()
	p, err := compare.PairUp(before, after, comparetest.Names, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	pool, note := poolTerms.Pool(compare.PoolOf{Name: compare.WholeSuite, Whole: true}, poolTerms.MeasureAll(p.Pairs, nil), compare.Policy{})
	if pool == nil {
		t.Fatalf("no suite: %v", note)
	}
	return pool
}

// The argument of Fleming and Wallace (CACM 29:218-221, 1986): five programs on
// three machines, normalised to one of them. The geometric means agree whatever
// the base; by the arithmetic ones each machine is slower than the other. Times
// made up for it.
func TestSuiteIsGeometric(t *testing.T) {
	times := map[string][]float64{"R": {400, 90, 60, 30000, 800}, "M": {250, 80, 150, 25000, 400}, "Z": {150, 75, 140, 52000, 390}}
	of := func(machine string) []*compare.Series {
		return suiteData(machine, 5, 1, 4, false, func(score, _, _ int) float64 { return times[machine][score] })
	}
	for _, tt := range [][2]string{{"R", "M"}, {"R", "Z"}, {"M", "R"}, {"M", "Z"}, {"Z", "M"}} {
		product, sum := 1.0, 0.0 // of the ratios of times
		for i, before := range times[tt[0]] {
			product *= times[tt[1]][i] / before
			sum += times[tt[1]][i] / before
		}
		geometric, arithmetic := math.Pow(product, 0.2), sum/5
		c := comparedSuite(t, of(tt[0]), of(tt[1]), compare.Policy{})
		if got := 1 / (1 + c.Suite.Change); math.Abs(got-geometric) > 1e-12 {
			t.Errorf("%s to %s: geometric mean of the times %v, want %v", tt[0], tt[1], got, geometric)
		}
		// The suite speaks of speed, so its arithmetic mean is of the inverse.
		if got := 1 + comparedSuite(t, of(tt[1]), of(tt[0]), compare.Policy{}).Suite.Arithmetic; math.Abs(got-arithmetic) > 1e-12 {
			t.Errorf("%s to %s: arithmetic mean of the times %v, want %v", tt[0], tt[1], got, arithmetic)
		}
		if tt[0] != "R" && tt[1] != "R" && arithmetic <= 1 {
			t.Errorf("%s to %s: arithmetic mean of the times %v shows no paradox", tt[0], tt[1], arithmetic)
		}
	}
	c := comparedSuite(t, of("R"), of("M"), compare.Policy{})
	if c.Suite.Interval != nil {
		t.Error("constant readings have no spread to make an interval from")
	}
}

// A session that holds every score counts once, by the weighted mean of its
// logarithms: worked by hand for weights 1 and 3.
func TestSuiteOfSessions(t *testing.T) {
	before := suiteData(comparetest.Factory, 2, 4, 1, true, func(score, session, _ int) float64 {
		return [][]float64{{100, 104, 98, 102}, {10, 10.2, 10.4, 9.9}}[score][session]
	})
	after := suiteData(comparetest.Boost, 2, 4, 1, true, func(score, session, _ int) float64 {
		return [][]float64{{95, 97, 96, 94}, {10.1, 9.8, 9.7, 10}}[score][session]
	})
	three := 3.0
	c := comparedSuite(t, before, after, compare.Policy{Entries: []compare.Entry{{Benchmark: "*"}, {Benchmark: "scene-1", Weight: &three}}})
	value := func(a, b float64) float64 { return (math.Log(a) + 3*math.Log(b)) / 4 }
	b := []float64{value(100, 10), value(104, 10.2), value(98, 10.4), value(102, 9.9)}
	a := []float64{value(95, 10.1), value(97, 9.8), value(96, 9.7), value(94, 10)}
	var d []float64
	for _, x := range b {
		for _, y := range a {
			d = append(d, x-y) // less time is more speed
		}
	}
	slices.Sort(d)
	if want := math.Expm1((d[7] + d[8]) / 2); math.Abs(c.Suite.Change-want) > 1e-12 {
		t.Errorf("change %v, by hand %v", c.Suite.Change, want)
	}
	if c.Suite.Pooling != compare.BySuiteSession || c.Suite.Test != "mann-whitney" || c.Suite.Replicates != [2]int{4, 4} {
		t.Errorf("basis %q, test %q, replicates %v", c.Suite.Pooling, c.Suite.Test, c.Suite.Replicates)
	}
}

func TestSuiteBasis(t *testing.T) {
	whole := func(labelled bool, runs int) (b, a []*compare.Series) {
		return suiteData(comparetest.Factory, 4, 6, runs, labelled, lucky(1, 100)),
			suiteData(comparetest.Boost, 4, 6, runs, labelled, lucky(2, 95))
	}
	b, a := whole(true, 3)
	if c := comparedSuite(t, b, a, compare.Policy{}); c.Suite.Pooling != compare.BySuiteSession || *c.Suite.Verdict != compare.Uplift {
		t.Errorf("complete sessions: %q, %v", c.Suite.Pooling, *c.Suite.Verdict)
	}
	b, a = whole(true, 1)
	comparetest.Edit(b[2], func(o []compare.Observation) []compare.Observation { return o[1:] })
	c := comparedSuite(t, b, a, compare.Policy{})
	if c.Suite.Pooling != compare.BySuiteSession || *c.Suite.Verdict != compare.Uplift || c.Suite.Replicates != [2]int{5, 6} {
		t.Errorf("a session without a score: %q, %v, %v", c.Suite.Pooling, *c.Suite.Verdict, c.Suite.Replicates)
	}
	if n := comparetest.NoteOf(c.Suite.Notes, compare.NoteIncompleteSessions); n.Count != 1 || n.Of != 12 {
		t.Errorf("a session without a score: notes %v", c.Suite.Notes)
	}
	comparetest.Edit(b[3], func(o []compare.Observation) []compare.Observation { return o[:1] })
	c = comparedSuite(t, b, a, compare.Policy{})
	if c.Suite != nil || comparetest.NoteOf(c.Notes, compare.NoteNoCommon).Suite != compare.WholeSuite {
		t.Errorf("no session with every score: suite %v, notes %v", c.Suite, c.Notes)
	}
	b, a = whole(false, 1)
	c = comparedSuite(t, b, a, compare.Policy{})
	if c.Suite.Pooling != compare.BySuitePass || c.Suite.Test != "mann-whitney" || c.Suite.Replicates != [2]int{6, 6} ||
		*c.Suite.Verdict != compare.Uplift || !comparetest.Kinds(c.Suite.Notes)[compare.NotePasses] {
		t.Errorf("no sessions: %q, %v, %v", c.Suite.Pooling, c.Suite.Test, c.Suite.Notes)
	}
	for _, s := range slices.Concat(b, a) {
		comparetest.EditEach(s, func(i int, o *compare.Observation) { o.Block = fmt.Sprint(i) })
	}
	if c = comparedSuite(t, b, a, compare.Policy{}); c.Suite.Pooling != compare.BySuiteBlock || c.Suite.Test != "signed-rank" {
		t.Errorf("blocks: %q, %v", c.Suite.Pooling, c.Suite.Test)
	}
	for _, s := range []*compare.Series{a[0], b[0]} {
		comparetest.EditEach(s, func(_ int, o *compare.Observation) { o.Block = "" })
	}
	c = comparedSuite(t, b, a, compare.Policy{})
	if c.Suite != nil || comparetest.NoteOf(c.Notes, compare.NoteSomeBlocks).Suite != compare.WholeSuite {
		t.Errorf("blocks and none: suite %v, notes %v", c.Suite, c.Notes)
	}
}

// Rows in another order and sides exchanged: the same bits, and the mirror
// image.
func TestSuiteProperties(t *testing.T) {
	for name, labelled := range map[string]bool{"sessions": true, "runs": false} {
		b, a := suiteData(comparetest.Factory, 3, 7, 1, labelled, lucky(7, 100)), suiteData(comparetest.Boost, 3, 7, 1, labelled, lucky(8, 99))
		if labelled {
			comparetest.Edit(b[1], func(o []compare.Observation) []compare.Observation { return o[1:] }) // a session lacks a score
		}
		c := comparedSuite(t, b, a, compare.Policy{})
		rb, ra := slices.Clone(b), slices.Clone(a)
		slices.Reverse(rb)
		for _, s := range slices.Concat(rb, ra) {
			comparetest.Edit(s, func(o []compare.Observation) []compare.Observation {
				slices.Reverse(o)
				return o
			})
		}
		again := comparedSuite(t, rb, ra, compare.Policy{})
		if *again.Suite.Interval != *c.Suite.Interval || again.Suite.PUsed != c.Suite.PUsed || again.Suite.Change != c.Suite.Change {
			t.Errorf("%s: another order of rows gives %v, %v", name, *again.Suite.Interval, *c.Suite.Interval)
		}
		back := comparedSuite(t, a, b, compare.Policy{})
		near := func(x, y float64) bool { return math.Abs((1+x)*(1+y)-1) < 1e-12 }
		if !near(back.Suite.Change, c.Suite.Change) || !near(back.Suite.Interval[0], c.Suite.Interval[1]) ||
			back.Suite.PUsed != c.Suite.PUsed {
			t.Errorf("%s: exchanged sides give %v, not the mirror of %v", name, *back.Suite.Interval, *c.Suite.Interval)
		}
	}
}

// One reboot's luck touches every score of a session: the suite's interval
// covers because sessions stay together. Score by score it would cover 77 % of
// these.
func TestSuitePromise(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	n := 600
	if comparetest.RaceEnabled {
		n = 60
	}
	covered, alarms := 0, 0
	for i := range n {
		b := suiteData(comparetest.Factory, 6, 7, 1, true, lucky(uint64(1000+i), 100))
		a := suiteData(comparetest.Boost, 6, 7, 1, true, lucky(uint64(9000+i), 100))
		s := pooled(t, b, a).Measured
		if s.Interval[0] <= 0 && s.Interval[1] >= 0 {
			covered++
		} else if s.PUsed <= 0.05 {
			alarms++
		}
	}
	share := float64(covered) / float64(n)
	t.Logf("coverage %.1f %%, false alarms %.1f %%", 100*share, 100*float64(alarms)/float64(n))
	if se := math.Sqrt(0.93 * 0.07 / float64(n)); share < 0.93-se {
		t.Errorf("coverage %.1f %%", 100*share)
	}
	if rate, se := float64(alarms)/float64(n), math.Sqrt(0.06*0.94/float64(n)); rate > 0.06+se {
		t.Errorf("false alarms %.1f %%", 100*rate)
	}
}

// Passes are the k-th runs of all scores, whichever of them do not count: one that
// lacks a score is left out, and so are those of scores with more runs than others.
func TestSuiteOfPasses(t *testing.T) {
	b := suiteData(comparetest.Factory, 3, 7, 1, false, lucky(1, 100))
	a := suiteData(comparetest.Boost, 3, 6, 1, false, lucky(2, 95))
	all := comparedSuite(t, b, a, compare.Policy{}).Suite
	aside, missing := b[1].At(2), a[2].At(1)
	aside.SetAside, aside.Reason, missing.Missing = true, "an update ran", true
	b[1].Set(2, aside)
	a[2].Set(1, missing)
	b[0].Append(compare.Observation{Value: 300})
	some := comparedSuite(t, b, a, compare.Policy{}).Suite
	if some.Replicates != [2]int{6, 5} || some.Incomplete != 3 || some.Rows != 14 {
		t.Fatalf("%v passes, %d of %d left out", some.Replicates, some.Incomplete, some.Rows)
	}
	if n := comparetest.NoteOf(some.Notes, compare.NoteIncompletePasses); n.Count != 3 || n.Of != 14 {
		t.Errorf("notes %v", some.Notes)
	}
	// The passes that are left count as they did, up to the scores' medians before.
	whole, left := all.Measured.Before.Values, some.Measured.Before.Values
	pass := func(k int) float64 {
		sum := 0.0
		for _, s := range b {
			sum -= math.Log(s.At(k).Value) / 3
		}
		return sum
	}
	var want []float64
	for _, k := range []int{0, 1, 3, 4, 5, 6} {
		want = append(want, pass(k))
	}
	slices.Sort(want)
	for i := range want {
		if math.Abs((left[i]-left[0])-(want[i]-want[0])) > 1e-12 {
			t.Fatalf("%v, want %v up to a constant, of %v", left, want, whole)
		}
	}
}

// Three and four passes have Student's interval, and no verdict however far the
// sides lie apart; five have one.
func TestSuiteOfFewPasses(t *testing.T) {
	for passes := 1; passes <= 5; passes++ {
		b := suiteData(comparetest.Factory, 8, passes, 1, false, apart(3, 100))
		a := suiteData(comparetest.Boost, 8, 5, 1, false, apart(4, 80))
		s := comparedSuite(t, b, a, compare.Policy{Correction: compare.NoCorrection}).Suite
		if passes == 5 {
			if *s.Verdict != compare.Uplift || s.Test != compare.TestMannWhitney {
				t.Errorf("5 passes: %s by %s", *s.Verdict, s.Test)
			}
			continue
		}
		if *s.Verdict != compare.Noise || s.Real || s.CanSettle || s.MinSampleSize != 5 || s.BlindSpot != nil || s.PUsed != 1 {
			t.Errorf("%d passes: %s, %+v", passes, *s.Verdict, s.Outlook)
		}
		if passes == 1 {
			if s.Interval != nil {
				t.Errorf("1 pass: interval %v", *s.Interval)
			}
			continue
		}
		lo, hi, _ := stats.WelchInterval(s.Measured.Before.Values, s.Measured.After.Values, 0.95)
		if !comparetest.Near(s.Interval[0], math.Expm1(lo), 1e-12) || !comparetest.Near(s.Interval[1], math.Expm1(hi), 1e-12) || lo <= 0 ||
			comparetest.NoteOf(s.Notes, compare.NoteFewPasses).Count != 5 {
			t.Errorf("%d passes: interval %v, notes %v", passes, *s.Interval, s.Notes)
		}
	}
}

// Where one pass runs all benchmarks, its luck is in all of them. Whatever its
// share of the variance, passes count once. Runs of the scores taken for
// independent of each other would be called real in 20 % of these.
func TestSuiteWithSharedLuck(t *testing.T) {
	n := 400
	if comparetest.RaceEnabled {
		n = 30
	}
	for _, c := range []struct {
		passes int
		luck   float64
	}{{3, 0.3}, {5, 0}, {5, 0.6}, {12, 0.15}} {
		alarms, covered := 0, 0
		for i := range n {
			side := func(profile string, seed uint64) []*compare.Series {
				g := rand.New(rand.NewPCG(seed, 9))
				var luck []float64
				for range c.passes {
					luck = append(luck, g.NormFloat64())
				}
				return suiteData(profile, 8, 1, c.passes, false, func(_, _, run int) float64 {
					return 100 * math.Exp(0.01*(math.Sqrt(c.luck)*luck[run]+math.Sqrt(1-c.luck)*g.NormFloat64()))
				})
			}
			s := pooled(t, side(comparetest.Factory, uint64(10*i+1)), side(comparetest.Boost, uint64(10*i+2)))
			if poolTerms.Judge([]*compare.Measurement{s.Measured})[0][0].Real {
				alarms++
			}
			if in := s.Measured.Interval; in[0] <= 0 && in[1] >= 0 {
				covered++
			}
		}
		t.Logf("%d passes, shared luck %v: covered %.1f %%, false alarms %.1f %%", c.passes, c.luck, 100*float64(covered)/float64(n),
			100*float64(alarms)/float64(n))
		if rate, se := float64(alarms)/float64(n), math.Sqrt(0.06*0.94/float64(n)); rate > 0.06+2*se {
			t.Errorf("%d passes, shared luck %v: false alarms %.1f %%", c.passes, c.luck, 100*rate)
		}
		if share, se := float64(covered)/float64(n), math.Sqrt(0.94*0.06/float64(n)); share < 0.94-2*se {
			t.Errorf("%d passes, shared luck %v: covered %.1f %%", c.passes, c.luck, 100*share)
		}
	}
}

// Two frame rates in whole numbers that spread by 0.75: taken as they are, 120
// runs or sessions a side cover the suite's change in 60 to 70 %, since estimates
// are whole and half steps.
func TestSuiteOfCoarseScoresPromise(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	n := 150
	if comparetest.RaceEnabled {
		n = 20
	}
	for _, basis := range []compare.Pooling{compare.BySuitePass, compare.BySuiteSession} {
		covered := 0
		for i := range n {
			g := rand.New(rand.NewPCG(uint64(i), 17))
			var level [2][2]float64 // side, score
			truth := 0.0
			for score := range 2 {
				level[0][score] = 60 + g.Float64()
				level[1][score] = level[0][score] + g.Float64()
				truth += math.Log(level[1][score]/level[0][score]) / 2
			}
			side := func(profile string, level [2]float64) []*compare.Series {
				read := func(score, _, _ int) float64 { return math.Round(level[score] + 0.75*g.NormFloat64()) }
				data := suiteData(profile, 2, 120, 1, basis == compare.BySuiteSession, read)
				for _, s := range data {
					s.Unit, s.Better = "fps", compare.Higher
				}
				return data
			}
			p := pooled(t, side(comparetest.Factory, level[0]), side(comparetest.Boost, level[1]))
			if p.Pooling != basis {
				t.Fatalf("basis %q, want %q", p.Pooling, basis)
			}
			s := p.Measured
			if s.Interval[0] > s.Change || s.Interval[1] < s.Change {
				t.Errorf("change %v outside of %v", s.Change, *s.Interval)
			}
			if math.Log1p(s.Interval[0]) <= truth && math.Log1p(s.Interval[1]) >= truth {
				covered++
			}
		}
		share := float64(covered) / float64(n)
		t.Logf("%s: coverage %.1f %% of %d", basis, 100*share, n)
		if se := math.Sqrt(0.93 * 0.07 / float64(n)); share < 0.93-2*se {
			t.Errorf("%s: coverage %.1f %%", basis, 100*share)
		}
	}
}
