package compare_test

import (
	"math"
	"slices"
	"strconv"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Four and four runs of a time in whole seconds, worked by hand: the logs of
// 16 ratios, sorted, the mean of the middle two.
func TestTimeByHand(t *testing.T) {
	before, after := comparetest.Numbers("s", 412, 409, 415, 411), comparetest.Numbers("s", 402, 405, 401, 399)
	r := resultOf(t, before, after, compare.Policy{}, compare.Options{})
	// The eighth and ninth of the sixteen ratios before / after in order are
	// 411/401 and 412/402.
	want := math.Sqrt(411.0/401*412/402) - 1
	if !comparetest.Near(r.Change, want, 1e-12) {
		t.Errorf("change %v, want %v", r.Change, want)
	}
	if r.TimeSaved == nil || !comparetest.Near(*r.TimeSaved, 1-1/(1+want), 1e-12) {
		t.Errorf("time saved %v", r.TimeSaved)
	}
	// All of before above all of after: 2 / C(8, 4). Levels of 2/70 and 4/70: 5 %
	// take the ends three quarters of the way from the smallest and the largest
	// ratio, 409/405 and 415/399, to the next ones, 411/405 and 415/401, were the
	// spreads known to be equal; they are nearly.
	if r.Test != compare.TestMannWhitney || r.Statistic != 0 || r.Superiority != 1 || !comparetest.Near(r.P, 2.0/70, 1e-12) ||
		!comparetest.Near(r.MinP, 2.0/70, 1e-12) || r.Method != "exact" {
		t.Errorf("%s: U %v, superiority %v, p %v, floor %v, %s", r.Test, r.Statistic, r.Superiority, r.P, r.MinP, r.Method)
	}
	between := func(a, b float64) float64 { return math.Pow(a, 0.25)*math.Pow(b, 0.75) - 1 }
	if lo, hi := between(409./405, 411./405), between(415./399, 415./401); !comparetest.Near(r.Interval[0], lo, 3e-4) ||
		!comparetest.Near(r.Interval[1], hi, 3e-4) {
		t.Errorf("interval %v, want about %v to %v", *r.Interval, lo, hi)
	}
	if comparetest.VerdictOf(r) != compare.Uplift || !r.Real || !r.Decides || r.Replication != compare.ByRun || r.Replicates != [2]int{4, 4} {
		t.Errorf("%s, real %v, %s %v", comparetest.VerdictOf(r), r.Real, r.Replication, r.Replicates)
	}
}

// What is shown where: scores turned so that plus is better, costs and infos
// with their natural sign, gains turned inside.
func TestSigns(t *testing.T) {
	low, high := []float64{10, 10.01, 10.02, 10.03, 10.04}, []float64{11, 11.01, 11.02, 11.03, 11.04}
	for _, c := range []struct {
		name, unit    string
		before, after []float64
		change        float64 // about
		superiority   float64
		verdict       compare.Verdict
		saved         bool
	}{
		{"a time falls", "s", high, low, 0.10, 1, compare.Uplift, true},
		{"a time rises", "s", low, high, -0.091, 0, compare.Regression, true},
		{"a rate rises", "fps", low, high, 0.10, 1, compare.Uplift, false},
		{"a rate falls", "fps", high, low, -0.091, 0, compare.Regression, false},
		{"power rises", "W", low, high, 0.10, 0, compare.Rise, false},
		{"power falls", "W", high, low, -0.091, 1, compare.Fall, false},
		{"heat rises", "°C", low, high, 1, 0, compare.Rise, false},
		{"heat falls", "°C", high, low, -1, 1, compare.Fall, false},
		{"a clock rises", "MHz", low, high, 0.10, 1, "", false},
	} {
		r := resultOf(t, comparetest.Numbers(c.unit, c.before...), comparetest.Numbers(c.unit, c.after...), compare.Policy{}, compare.Options{})
		if math.Abs(r.Change-c.change) > 0.001 || r.Superiority != c.superiority || comparetest.VerdictOf(r) != c.verdict ||
			(r.TimeSaved != nil) != c.saved {
			t.Errorf("%s: change %.4f, superiority %v, %q, time saved %v", c.name, r.Change, r.Superiority, comparetest.VerdictOf(r), r.TimeSaved)
		}
		if r.Interval == nil || r.Interval[0] > r.Change || r.Interval[1] < r.Change || r.Interval[0] >= r.Interval[1] {
			t.Errorf("%s: interval %v around %v", c.name, r.Interval, r.Change)
		}
		if lo, hi, ok := r.GainInterval(); !ok || lo > r.Gain(r.Change) || hi < r.Gain(r.Change) {
			t.Errorf("%s: gain %v in %v to %v", c.name, r.Gain(r.Change), lo, hi)
		}
		// Only a score decides, or a cost with a tolerance.
		if want := r.Role == compare.Score; r.Decides != want {
			t.Errorf("%s: decides %v", c.name, r.Decides)
		}
	}
	power := resultOf(t, comparetest.Numbers("W", low...), comparetest.Numbers("W", high...),
		compare.Policy{Overrides: []compare.Override{{"tile-render", 5}}}, compare.Options{})
	if !power.Decides || comparetest.VerdictOf(power) != compare.Rise {
		t.Errorf("a cost with a tolerance decides: %v, %s", power.Decides, comparetest.VerdictOf(power))
	}
	within := resultOf(t, comparetest.Numbers("W", low...), comparetest.Numbers("W", high...),
		compare.Policy{Overrides: []compare.Override{{"tile-render", 15}}}, compare.Options{})
	if comparetest.VerdictOf(within) != compare.SlightRise {
		t.Errorf("a cost that rises within its tolerance: %s", comparetest.VerdictOf(within))
	}
}

// A time and its rate are the same measurement. The medians of sessions are
// those of logarithms, so that they agree, with odd and even numbers of runs.
func TestTimeAndRateAgree(t *testing.T) {
	g := comparetest.Generator(7)
	for _, c := range []struct {
		name           string
		sessions, runs int
		labelled       bool
		block          bool
	}{
		{"runs", 6, 1, false, false}, {"3 runs a session", 5, 3, true, false}, {"4 runs a session", 6, 4, true, false},
		{"2 runs a session", 4, 2, true, false}, {"blocks", 8, 2, true, true},
	} {
		side := func(level float64) (times, rates [][]float64) {
			for range c.sessions {
				luck := 0.01 * g.NormFloat64()
				var a, b []float64
				for range c.runs {
					v := level * math.Exp(luck+0.01*g.NormFloat64())
					a, b = append(a, v), append(b, 1/v)
				}
				times, rates = append(times, a), append(rates, b)
			}
			return times, rates
		}
		values := func(unit, letter string, sessions [][]float64) []compare.Value {
			if c.block {
				var blocks [][][]float64
				for _, s := range sessions {
					blocks = append(blocks, [][]float64{s})
				}
				return comparetest.InBlocks(unit, letter, blocks...)
			}
			out := comparetest.InSessions(unit, letter, sessions...)
			for i := range out {
				if !c.labelled {
					out[i].Session = ""
				}
			}
			return out
		}
		bt, br := side(400)
		at, ar := side(398)
		times := resultOf(t, values("s", "F", bt), values("s", "B", at), comparetest.Tolerating(compare.Policy{}, 0), compare.Options{})
		rates := resultOf(t, values("frames/s", "F", br), values("frames/s", "B", ar), comparetest.Tolerating(compare.Policy{}, 0),
			compare.Options{})
		for _, pair := range [][2]float64{
			{times.Change, rates.Change}, {times.Interval[0], rates.Interval[0]}, {times.Interval[1], rates.Interval[1]},
			{times.P, rates.P}, {times.PUsed, rates.PUsed}, {times.Superiority, rates.Superiority},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-12 {
				t.Errorf("%s: time %v, rate %v", c.name, pair[0], pair[1])
			}
		}
		if times.Test != rates.Test || times.Test == compare.TestMannWhitney &&
			times.Statistic+rates.Statistic != float64(c.sessions*c.sessions) {
			t.Errorf("%s: %s %v and %s %v", c.name, times.Test, times.Statistic, rates.Test, rates.Statistic)
		}
		if comparetest.VerdictOf(times) != comparetest.VerdictOf(rates) {
			t.Errorf("%s: %s and %s", c.name, comparetest.VerdictOf(times), comparetest.VerdictOf(rates))
		}
	}
}

// One value on a side: no interval, no verdict but noise, nothing planned, and
// no error.
func TestOneValueASide(t *testing.T) {
	for _, c := range []struct {
		before, after []float64
		floor         float64
		ranged        bool
	}{
		{[]float64{412}, []float64{402}, 1, false},
		{[]float64{412}, []float64{402, 405, 401}, 0.5, true}, // 2 / C(4, 1)
		{[]float64{412, 409, 415, 411}, []float64{402}, 0.4, true},
	} {
		r := resultOf(t, comparetest.Numbers("s", c.before...), comparetest.Numbers("s", c.after...), compare.Policy{}, compare.Options{})
		if r.Interval != nil || r.IntervalMethod != "" || comparetest.VerdictOf(r) != compare.Noise || r.BlindSpot != nil ||
			r.Need(compare.ToSettle) != nil ||
			r.CanSettle {
			t.Errorf("%v against %v: %+v", c.before, c.after, r)
		}
		if !comparetest.Near(r.MinP, c.floor, 1e-12) || (r.Range != nil) != c.ranged || c.ranged &&
			!comparetest.Near(r.RangeConfidence, 1-c.floor, 1e-12) {
			t.Errorf("%v against %v: floor %v, range %v at %v", c.before, c.after, r.MinP, r.Range, r.RangeConfidence)
		}
	}
	// Even a huge number of runs on one side cannot make up for one on the other.
	many := make([]float64, 500)
	for i := range many {
		many[i] = 400 + float64(i)/100
	}
	r := resultOf(t, comparetest.Numbers("s", 700), comparetest.Numbers("s", many...), compare.Policy{}, compare.Options{})
	if r.Interval != nil || comparetest.VerdictOf(r) != compare.Noise || r.CanSettle {
		t.Errorf("1 against 500: interval %v, %s, can settle %v", r.Interval, comparetest.VerdictOf(r), r.CanSettle)
	}
}

// Below 4 and 4 no 95 % interval exists: the range of the differences stands
// in, with its level: 90 % at 3 and 3.
func TestRangeWhereThereIsNoInterval(t *testing.T) {
	r := resultOf(t, comparetest.Numbers("°C", 70, 73.125, 77.5), comparetest.Numbers("°C", 80, 82.0625, 88), compare.Policy{},
		compare.Options{})
	if r.Interval != nil || r.Range == nil || *r.Range != [2]float64{2.5, 18} || !comparetest.Near(r.RangeConfidence, 0.9, 1e-12) {
		t.Errorf("interval %v, range %v at %v", r.Interval, r.Range, r.RangeConfidence)
	}
	if r.CanSettle || r.MinSampleSize != 4 || !comparetest.Near(r.MaxConfidence, 0.9, 1e-12) {
		t.Errorf("can settle %v from %d, or at %v", r.CanSettle, r.MinSampleSize, r.MaxConfidence)
	}
	// At 90 % these runs can settle.
	r = resultOf(t, comparetest.Numbers("°C", 70, 73.125, 77.5), comparetest.Numbers("°C", 80, 82.0625, 88), compare.Policy{Confidence: 0.9},
		compare.Options{})
	if r.Interval == nil || r.Range != nil || !r.Real || !r.CanSettle || comparetest.VerdictOf(r) != compare.Rise {
		t.Errorf("interval %v, real %v, can settle %v, %s", r.Interval, r.Real, r.CanSettle, comparetest.VerdictOf(r))
	}
}

// A share of time that falls from 100 to 0 in every run is settled: the way
// between is no step of the readings.
func TestShareOfTimeIsSettled(t *testing.T) {
	var before, after compare.Runs
	for i := range 5 {
		for side, value := range map[*compare.Runs]float64{&before: 100, &after: 0} {
			v := compare.Value{Benchmark: "tile-render", Metric: "temperature above 90 °C", Unit: compare.ShareOfTime, Run: strconv.Itoa(i + 1),
				Value: value}
			if err := side.Add(v); err != nil {
				t.Fatal(err)
			}
		}
	}
	c, err := compare.Compare(before.Series(), after.Series(), [2]string{"before", "after"}, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := c.Results[0]
	judged := r.Verdict != nil && *r.Verdict == compare.Fall && r.Interval != nil && *r.Interval == [2]float64{-100, -99}
	if r.Role != compare.Cost || r.Scale != compare.Interval || !judged {
		t.Errorf("%s %s %v, want a fall from -100 to -99", r.Role, r.Scale, r.Interval)
	}
}

// Three runs a side have a range instead of an interval, of shares all the same.
func TestRangeOfSharesOfTime(t *testing.T) {
	r := resultOf(t, comparetest.Numbers(compare.ShareOfTime, 100, 100, 100), comparetest.Numbers(compare.ShareOfTime, 0, 0, 0),
		compare.Policy{}, compare.Options{})
	if r.Range == nil || *r.Range != [2]float64{-100, -99} {
		t.Errorf("range %v, want -100 to -99", r.Range)
	}
}

// The middle of the pairs is the change.
func TestChanges(t *testing.T) {
	before := comparetest.InSessions("s", "F", []float64{412, 410, 415}, []float64{409, 411, 413}, []float64{415, 414, 413},
		[]float64{411, 408, 412})
	after := comparetest.InSessions("s", "B", []float64{402, 401, 404}, []float64{405, 399, 403}, []float64{401, 402, 400},
		[]float64{399, 403, 401})
	r := comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{Resamples: 1000}).Results[0]
	pairs, thinned := r.Changes()
	if len(pairs) != 16 || thinned || !slices.IsSorted(pairs) {
		t.Fatalf("%d pairs, thinned %v: %v", len(pairs), thinned, pairs)
	}
	// By hand: slowest session before, 414 s, against the fastest after, 401 s.
	if got, want := pairs[15], 414.0/401-1; math.Abs(got-want) > 1e-12 {
		t.Errorf("largest pair %v, want %v", got, want)
	}
	middle := (math.Log1p(pairs[7]) + math.Log1p(pairs[8])) / 2
	if math.Abs(math.Expm1(middle)-r.Change) > 1e-12 {
		t.Errorf("the middle of the pairs is %v, the change %v", math.Expm1(middle), r.Change)
	}
}

// In blocks each pair stays within its block.
func TestChangesInBlocks(t *testing.T) {
	before := comparetest.InBlocks("s", "F", comparetest.OneEach(10, 20, 30, 40, 50, 60)...)
	after := comparetest.InBlocks("s", "B", comparetest.OneEach(11, 22, 33, 44, 55, 66)...)
	r := comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{Resamples: 1000}).Results[0]
	pairs, _ := r.Changes()
	if len(pairs) != 6 {
		t.Fatalf("%d pairs of 6 blocks: %v", len(pairs), pairs)
	}
	for _, p := range pairs {
		if math.Abs(p-(1/1.1-1)) > 1e-9 {
			t.Errorf("a pair of %v: every block is 10 %% slower", p)
		}
	}
	twice := comparetest.InBlocks("s", "F", [][]float64{{10}, {12}}, [][]float64{{20}, {21}}, [][]float64{{30}, {33}})
	other := comparetest.InBlocks("s", "B", [][]float64{{9}, {11}}, [][]float64{{19}, {20}}, [][]float64{{29}, {28}})
	r = comparetest.Judged(t, twice, other, compare.Policy{}, compare.Options{Resamples: 1000}).Results[0]
	if pairs, _ := r.Changes(); len(pairs) != 3 {
		t.Errorf("%d pairs of 3 blocks of 2 and 2 spells, want 3", len(pairs))
	}
}

// Of very many pairs some stand for all, and their middle stays where it was.
func TestManyPairsAreThinned(t *testing.T) {
	var x, y []float64
	for i := range 600 {
		x, y = append(x, 100+float64(i)/600), append(y, 99+float64(i)/600)
	}
	r := comparetest.Judged(t, comparetest.Numbers("s", x...), comparetest.Numbers("s", y...), compare.Policy{},
		compare.Options{Resamples: 1000}).Results[0]
	pairs, thinned := r.Changes()
	if !thinned || len(pairs) != 250_000 {
		t.Fatalf("%d pairs, thinned %v", len(pairs), thinned)
	}
	if middle := pairs[125_000]; math.Abs(middle-r.Change) > 1e-4 {
		t.Errorf("the middle of the thinned pairs is %v, the change %v", middle, r.Change)
	}
}
