package compare

import (
	"math"
	"slices"
	"strings"
	"testing"

	"tunegate/stats"
)

// Four and four runs of a time in whole seconds, worked by hand: the logs of
// 16 ratios, sorted, the mean of the middle two.
func TestTimeByHand(t *testing.T) {
	c := judged(t, numbers("s", 412, 409, 415, 411), numbers("s", 402, 405, 401, 399), Policy{}, Options{})
	r := only(t, c)
	// The eighth and ninth of the sixteen ratios before / after in order are
	// 411/401 and 412/402.
	want := math.Sqrt(411.0/401*412/402) - 1
	if !near(r.Change, want, 1e-12) {
		t.Errorf("change %v, want %v", r.Change, want)
	}
	if r.TimeSaved == nil || !near(*r.TimeSaved, 1-1/(1+want), 1e-12) {
		t.Errorf("time saved %v", r.TimeSaved)
	}
	// All of before above all of after: 2 / C(8, 4). Levels of 2/70 and 4/70: 5 %
	// take the ends three quarters of the way from the smallest and the largest
	// ratio, 409/405 and 415/399, to the next ones, 411/405 and 415/401, were the
	// spreads known to be equal; they are nearly.
	if *r.U != 0 || r.Superiority != 1 || !near(r.P, 2.0/70, 1e-12) || !near(r.MinP, 2.0/70, 1e-12) || r.Method != "exact" {
		t.Errorf("U %v, superiority %v, p %v, floor %v, %s", *r.U, r.Superiority, r.P, r.MinP, r.Method)
	}
	between := func(a, b float64) float64 { return math.Pow(a, 0.25)*math.Pow(b, 0.75) - 1 }
	if lo, hi := between(409./405, 411./405), between(415./399, 415./401); !near(r.Interval[0], lo, 3e-4) || !near(r.Interval[1], hi, 3e-4) {
		t.Errorf("interval %v, want about %v to %v", *r.Interval, lo, hi)
	}
	if verdictOf(r) != Uplift || !r.Real || !r.Decides || r.Replication != ByRun || r.Replicates != [2]int{4, 4} {
		t.Errorf("%s, real %v, %s %v", verdictOf(r), r.Real, r.Replication, r.Replicates)
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
		verdict       Verdict
		saved         bool
	}{
		{"a time falls", "s", high, low, 0.10, 1, Uplift, true},
		{"a time rises", "s", low, high, -0.091, 0, Regression, true},
		{"a rate rises", "fps", low, high, 0.10, 1, Uplift, false},
		{"a rate falls", "fps", high, low, -0.091, 0, Regression, false},
		{"power rises", "W", low, high, 0.10, 0, Regression, false},
		{"power falls", "W", high, low, -0.091, 1, Uplift, false},
		{"heat rises", "°C", low, high, 1, 0, Regression, false},
		{"heat falls", "°C", high, low, -1, 1, Uplift, false},
		{"a clock rises", "MHz", low, high, 0.10, 1, "", false},
	} {
		r := only(t, judged(t, numbers(c.unit, c.before...), numbers(c.unit, c.after...), Policy{}, Options{}))
		if math.Abs(r.Change-c.change) > 0.001 || r.Superiority != c.superiority || verdictOf(r) != c.verdict || (r.TimeSaved != nil) != c.saved {
			t.Errorf("%s: change %.4f, superiority %v, %q, time saved %v", c.name, r.Change, r.Superiority, verdictOf(r), r.TimeSaved)
		}
		if r.Interval == nil || r.Interval[0] > r.Change || r.Interval[1] < r.Change || r.Interval[0] >= r.Interval[1] {
			t.Errorf("%s: interval %v around %v", c.name, r.Interval, r.Change)
		}
		if lo, hi, ok := r.GainInterval(); !ok || lo > r.Gain(r.Change) || hi < r.Gain(r.Change) {
			t.Errorf("%s: gain %v in %v to %v", c.name, r.Gain(r.Change), lo, hi)
		}
		// Only a score decides, or a cost with a tolerance.
		if want := r.Role == Score; r.Decides != want {
			t.Errorf("%s: decides %v", c.name, r.Decides)
		}
	}
	power := only(t, judged(t, numbers("W", low...), numbers("W", high...), Policy{Overrides: []Override{{"tile-render", 5}}}, Options{}))
	if !power.Decides || verdictOf(power) != Regression {
		t.Errorf("a cost with a tolerance decides: %v, %s", power.Decides, verdictOf(power))
	}
	within := only(t, judged(t, numbers("W", low...), numbers("W", high...), Policy{Overrides: []Override{{"tile-render", 15}}}, Options{}))
	if verdictOf(within) != SlightLoss {
		t.Errorf("a cost that rises within its tolerance: %s", verdictOf(within))
	}
}

// A time and its rate are the same measurement. The medians of sessions are
// those of logarithms, so that they agree, with odd and even numbers of runs.
func TestTimeAndRateAgree(t *testing.T) {
	g := generator(7)
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
		values := func(unit, letter string, sessions [][]float64) []Value {
			if c.block {
				var blocks [][][]float64
				for _, s := range sessions {
					blocks = append(blocks, [][]float64{s})
				}
				return inBlocks(unit, letter, blocks...)
			}
			out := inSessions(unit, letter, sessions...)
			for i := range out {
				if !c.labelled {
					out[i].Session = ""
				}
			}
			return out
		}
		bt, br := side(400)
		at, ar := side(398)
		times := only(t, judged(t, values("s", "F", bt), values("s", "B", at), Policy{}.tolerating(0), Options{}))
		rates := only(t, judged(t, values("frames/s", "F", br), values("frames/s", "B", ar), Policy{}.tolerating(0), Options{}))
		for _, pair := range [][2]float64{
			{times.Change, rates.Change}, {times.Interval[0], rates.Interval[0]}, {times.Interval[1], rates.Interval[1]},
			{times.P, rates.P}, {times.PVerdict, rates.PVerdict}, {times.Superiority, rates.Superiority},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-12 {
				t.Errorf("%s: time %v, rate %v", c.name, pair[0], pair[1])
			}
		}
		if times.U != nil && *times.U+*rates.U != float64(c.sessions*c.sessions) {
			t.Errorf("%s: U %v and %v", c.name, *times.U, *rates.U)
		}
		if verdictOf(times) != verdictOf(rates) {
			t.Errorf("%s: %s and %s", c.name, verdictOf(times), verdictOf(rates))
		}
	}
}

// One spell a side in each block: one difference a block. Worked by hand for
// differences 1 to 6: all positive, W = 21, p = 2/64; the Walsh averages run
// from 1 to 6 about 3.5, and six differences allow no narrower interval.
func TestBlocksOfOneSpell(t *testing.T) {
	before := inBlocks("s", "F", oneEach(100, 200, 300, 400, 500, 600)...)
	after := inBlocks("s", "B", oneEach(101, 202, 303, 404, 505, 606)...)
	r := only(t, judged(t, before, after, differencesIn(Higher), Options{}))
	if r.Test != "signed-rank" || r.Replication != ByBlock || r.Replicates != [2]int{6, 6} || r.U != nil || r.T != nil || *r.W != 21 {
		t.Fatalf("%s by %s, %v, W %v", r.Test, r.Replication, r.Replicates, r.W)
	}
	if !near(r.P, 2.0/64, 1e-12) || !near(r.MinP, 2.0/64, 1e-12) || r.Superiority != 1 {
		t.Errorf("p %v, floor %v, superiority %v", r.P, r.MinP, r.Superiority)
	}
	if r.Change != 3.5 || *r.Interval != [2]float64{1, 6} || r.IntervalMethod != "signed-rank inversion" {
		t.Errorf("change %v, interval %v by %s", r.Change, *r.Interval, r.IntervalMethod)
	}
	if verdictOf(r) != Uplift || !r.CanSettle || r.MinSampleSize != 6 {
		t.Errorf("%s, can settle %v from %d", verdictOf(r), r.CanSettle, r.MinSampleSize)
	}
	// Several runs in a spell count once, several spells on one side only too.
	more := inBlocks("s", "B", [][]float64{{100.5, 101, 107}}, [][]float64{{202}}, [][]float64{{303, 302, 304}},
		[][]float64{{404}}, [][]float64{{504}, {506}}, [][]float64{{606}})
	m := only(t, judged(t, before, more, differencesIn(Higher), Options{}))
	if m.Test != "signed-rank" || m.Change != 3.5 || *m.W != 21 {
		t.Errorf("%s: change %v, W %v", m.Test, m.Change, *m.W)
	}
}

// Three to five blocks: Student's interval of the differences, and no verdict.
// For 1, 2, 3, 4: mean 2.5, standard error sqrt(5/12), and Student's 97.5 %
// quantile on 3 degrees of freedom is 3.182446 (any printed table of t).
func TestFewBlocks(t *testing.T) {
	before := func(n int) []Value { return inBlocks("s", "F", oneEach(100, 200, 300, 400, 500)[:n]...) }
	after := func(n int) []Value { return inBlocks("s", "B", oneEach(101, 202, 303, 404, 505)[:n]...) }
	r := only(t, judged(t, before(4), after(4), differencesIn(Higher), Options{}))
	half := 3.182446 * math.Sqrt(5.0/12)
	if r.Interval == nil || !near(r.Interval[0], 2.5-half, 1e-6) || !near(r.Interval[1], 2.5+half, 1e-6) {
		t.Errorf("interval %v, want %v to %v", r.Interval, 2.5-half, 2.5+half)
	}
	if r.IntervalMethod != "Student, assumes normal differences" || verdictOf(r) != Noise || r.CanSettle || r.MinSampleSize != 6 || r.Real {
		t.Errorf("%s: %s, can settle %v from %d", r.IntervalMethod, verdictOf(r), r.CanSettle, r.MinSampleSize)
	}
	for n := 3; n <= 5; n++ {
		r := only(t, judged(t, before(n), after(n), differencesIn(Higher), Options{}))
		if r.Interval == nil || verdictOf(r) != Noise || r.BlindSpot != nil {
			t.Errorf("%d blocks: interval %v, %s, blind spot %v", n, r.Interval, verdictOf(r), r.BlindSpot)
		}
	}
	two := only(t, judged(t, before(2), after(2), differencesIn(Higher), Options{}))
	if two.Interval != nil || two.IntervalMethod != "" || verdictOf(two) != Noise {
		t.Errorf("2 blocks: interval %v by %q, %s", two.Interval, two.IntervalMethod, verdictOf(two))
	}
	// At 90 % five blocks reach 2/32 and settle; Student is not needed.
	p := differencesIn(Higher)
	p.Confidence = 0.9
	five := only(t, judged(t, before(5), after(5), p, Options{}))
	if five.IntervalMethod != "signed-rank inversion" || verdictOf(five) != Uplift {
		t.Errorf("5 blocks at 90 %%: %s, %s", five.IntervalMethod, verdictOf(five))
	}
}

// The share of blocks in which after is better never leaves 0 to 1: nine ninths
// added up in binary are more than 1.
func TestSuperiorityOfBlocks(t *testing.T) {
	for n := 3; n <= 60; n++ {
		var low, high []float64
		for i := range n {
			low = append(low, 100+float64(7*i))
			high = append(high, 101+float64(7*i)+math.Sqrt(float64(i)))
		}
		before, after := inBlocks("s", "F", oneEach(low...)...), inBlocks("s", "B", oneEach(high...)...)
		if r := only(t, judged(t, before, after, differencesIn(Higher).tolerating(0), Options{})); r.Superiority != 1 {
			t.Errorf("%d blocks, all better: %v", n, r.Superiority)
		}
		if r := only(t, judged(t, before, after, differencesIn(Lower).tolerating(0), Options{})); r.Superiority != 0 {
			t.Errorf("%d blocks, all worse: %v", n, r.Superiority)
		}
	}
	// Equal in a block counts half.
	r := only(t, judged(t, inBlocks("s", "F", oneEach(100, 200, 300, 400)...), inBlocks("s", "B", oneEach(101, 200, 299, 404)...), differencesIn(Higher), Options{}))
	if r.Superiority != 2.5/4 {
		t.Errorf("two better, one equal, one worse: %v", r.Superiority)
	}
}

// Two or more spells a side in every block: van Elteren's test over spells,
// each block weighing the same. Worked by hand: in all three blocks all of
// after lies above all of before, so T = 3 and p = 2 / 6^3; the estimate is
// the median of the twelve differences within blocks.
func TestBlocksOfSeveralSpells(t *testing.T) {
	before := inBlocks("s", "F", [][]float64{{10}, {11}}, [][]float64{{50}, {53}}, [][]float64{{90}, {90.5}})
	after := inBlocks("s", "B", [][]float64{{13}, {15}}, [][]float64{{54}, {58}}, [][]float64{{95}, {96}})
	r := only(t, judged(t, before, after, differencesIn(Higher), Options{}))
	if r.Test != "van-elteren" || *r.T != 3 || r.U != nil || r.W != nil || r.Replication != ByBlock || r.Replicates != [2]int{3, 3} {
		t.Fatalf("%s by %s, %v, T %v", r.Test, r.Replication, r.Replicates, r.T)
	}
	if !near(r.P, 2.0/216, 1e-12) || !near(r.MinP, 2.0/216, 1e-12) || r.Superiority != 1 || r.IntervalMethod != "stratified inversion" {
		t.Errorf("p %v, floor %v, superiority %v, %s", r.P, r.MinP, r.Superiority, r.IntervalMethod)
	}
	// Differences: 3 5 2 4; 4 8 1 5; 5 6 4.5 5.5. In order the sixth and the
	// seventh are 4.5 and 5.
	if r.Change != 4.75 {
		t.Errorf("change %v, want 4.75", r.Change)
	}
	if verdictOf(r) != Uplift || r.MinSampleSize != 3 {
		t.Errorf("%s, settles from %d blocks", verdictOf(r), r.MinSampleSize)
	}
	// Two blocks reach 2/36 at best.
	two := only(t, judged(t, before[:4], after[:4], differencesIn(Higher), Options{}))
	if two.Interval != nil || verdictOf(two) != Noise || two.MinSampleSize != 3 {
		t.Errorf("2 blocks: %v, %s, from %d", two.Interval, verdictOf(two), two.MinSampleSize)
	}
	// A block's own luck falls out: raising one block on both sides changes nothing.
	lifted := func(values []Value) []Value {
		out := append([]Value(nil), values...)
		for i := range out {
			if out[i].Block == "2" {
				out[i].Value += 1024
			}
		}
		return out
	}
	l := only(t, judged(t, lifted(before), lifted(after), differencesIn(Higher), Options{}))
	if l.Change != r.Change || *l.Interval != *r.Interval || l.P != r.P {
		t.Errorf("with one block raised: change %v, interval %v, p %v", l.Change, *l.Interval, l.P)
	}
}

// Blocked and unblocked runs are never mixed: whichever can settle more is
// used, and the output says what was not.
func TestBlockedAndUnblockedAreNeverMixed(t *testing.T) {
	b := inBlocks("s", "F", oneEach(100, 200, 300, 400, 500, 600)...)
	a := inBlocks("s", "B", oneEach(101, 202, 303, 404, 505, 606)...)
	wild := func(letter string, n int) []Value {
		var out []Value
		for i := range n {
			out = append(out, inSessions("s", letter, []float64{9000 + 7*float64(i)})...)
			out[i].Session = letter + string(rune('a'+i))
		}
		return out
	}
	alone := only(t, judged(t, b, a, differencesIn(Higher), Options{}))
	for _, c := range []struct {
		name          string
		before, after []Value
		wantBlocks    bool
		leftOut       string
	}{
		{"blocks alone", b, a, true, ""},
		{"six blocks and two loose runs a side", joined(b, wild("x", 2)), joined(a, wild("y", 2)), true,
			"left out: 4 of 16 runs, those outside complete blocks; blocked and unblocked runs are never mixed"},
		{"six blocks and four loose runs a side", joined(b, wild("x", 4)), joined(a, wild("y", 4)), false,
			"left out: 12 of 20 runs, those in blocks, because the runs outside blocks can settle more; the two are never mixed"},
		{"loose runs on one side", joined(b, wild("x", 9)), a, true,
			"left out: 9 of 21 runs, those outside complete blocks; blocked and unblocked runs are never mixed"},
	} {
		r := only(t, judged(t, c.before, c.after, differencesIn(Higher), Options{}))
		if (r.Replication == ByBlock) != c.wantBlocks || textOf(r.Notes, "left-out") != c.leftOut {
			t.Errorf("%s: by %s, note %q", c.name, r.Replication, textOf(r.Notes, "left-out"))
		}
		if c.wantBlocks && (r.Change != alone.Change || r.Before.Median != alone.Before.Median) {
			t.Errorf("%s: change %v of medians %v", c.name, r.Change, r.Before.Median)
		}
		if !c.wantBlocks && r.Before.Min < 9000 {
			t.Errorf("%s: a blocked run counts among the loose ones: %+v", c.name, r.Before)
		}
	}
}

// A block that only one side has is none: it is left out where others are
// complete, and no comparison within blocks where none is.
func TestIncompleteBlocks(t *testing.T) {
	b := inBlocks("s", "F", oneEach(100, 200, 300, 400, 500, 600, 9000)...)
	a := inBlocks("s", "B", oneEach(101, 202, 303, 404, 505, 606)...)
	r := only(t, judged(t, b, a, differencesIn(Higher), Options{}))
	if r.Replicates != [2]int{6, 6} || r.Before.Max == 9000 || r.Change != 3.5 || r.Before.Sessions != 6 {
		t.Errorf("%v, change %v, %+v", r.Replicates, r.Change, r.Before)
	}
	if got, want := textOf(r.Notes, "left-out"), "left out: 1 of 13 runs, those outside complete blocks; blocked and unblocked runs are never mixed"; got != want {
		t.Errorf("note %q, want %q", got, want)
	}
	// A set-aside or missing run completes no block.
	gone := append([]Value(nil), a...)
	gone[5].SetAside, gone[5].Reason = true, "crashed"
	if r := only(t, judged(t, b, gone, differencesIn(Higher), Options{})); r.Replicates != [2]int{5, 5} {
		t.Errorf("%v", r.Replicates)
	}
	// No block with both sides: each counts once, as a session, labelled or not.
	for i := range a {
		a[i].Block = "after " + a[i].Block
	}
	for _, labelled := range []bool{true, false} {
		bb, aa := append([]Value(nil), b...), append([]Value(nil), a...)
		for i := range bb {
			bb = append(bb, bb[i]) // a second run in each spell
		}
		if !labelled {
			for i := range bb {
				bb[i].Session = ""
			}
			for i := range aa {
				aa[i].Session = ""
			}
		}
		r := only(t, judged(t, bb, aa, differencesIn(Higher), Options{}))
		if r.Test != "mann-whitney" || r.Replication != BySession || r.Replicates != [2]int{7, 6} || r.Before.Runs != 14 {
			t.Errorf("labelled %v: %s by %s, %v of %d runs", labelled, r.Test, r.Replication, r.Replicates, r.Before.Runs)
		}
		if got := textOf(r.Notes, "no-complete-block"); !strings.Contains(got, "no block holds both sides") {
			t.Errorf("labelled %v: note %q", labelled, got)
		}
	}
}

// Readings in steps are spread over them, and where their own spread is small or
// none the ends move out; a side's spread below one tick is called coarse. The
// interval still holds the estimate.
func TestCoarseReadings(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after []float64
		tick, step    float64
	}{
		{"fine readings", []float64{50, 53.5, 56.25, 58, 61.75}, []float64{70, 73.125, 77, 79.5, 81}, 0, 0},
		{"coarse on both sides", []float64{60, 60, 61, 60, 61}, []float64{62, 63, 62, 62, 63}, 1, 1},
		{"coarse on one side", []float64{60, 60, 61, 60, 61}, []float64{62, 65, 68, 69, 73}, 1, 1},
		{"constant before", []float64{60, 60, 60, 60, 60}, []float64{62, 65, 68, 69, 73}, 1, 0},
		{"constant after", []float64{62, 65, 68, 69, 73}, []float64{60, 60, 60, 60, 60}, 1, 0},
		{"half steps", []float64{78, 78.5, 78, 78, 78.5}, []float64{84, 83.5, 84, 84, 84}, 0.5, 0.5},
		{"a spread of exactly one tick", []float64{60, 61, 62}, []float64{70, 71, 72}, 0, 1},
		{"a spread of two ticks", []float64{60, 61, 61, 64, 65}, []float64{70, 73, 71, 71, 75}, 0, 1},
	} {
		p := Policy{Confidence: 0.9}
		r := only(t, judged(t, numbers("°C", c.before...), numbers("°C", c.after...), p, Options{Seed: 3}))
		over := func(float64) float64 { return c.step }
		in, ok := stats.ChangeInterval(stats.Ungrouped(c.before, over), stats.Ungrouped(c.after, over), 0.9, 1000, 3)
		in = in.Including(stats.HodgesLehmann(c.before, c.after))
		widen := 0.0
		if c.tick > 0 {
			widen = stats.RoundingAllowance(c.before, c.after, c.tick)
		}
		if lo, hi := in.Lo-widen, in.Hi+widen; !ok || !near(r.Interval[0], lo, 1e-9) || !near(r.Interval[1], hi, 1e-9) || r.Resolution != c.tick {
			t.Errorf("%s: interval %v, tick %v; want %v to %v, %v", c.name, *r.Interval, r.Resolution, lo, hi, c.tick)
		}
	}
	// On a ratio scale a tick is one of the smaller side: 1 in 60, on logarithms.
	r := only(t, judged(t, numbers("fps", 60, 60, 61, 60, 60), numbers("fps", 63, 62, 63, 63, 63), Policy{}, Options{Seed: 3}))
	logs := func(v ...float64) []float64 {
		for i := range v {
			v[i] = math.Log(v[i])
		}
		return v
	}
	over := func(v float64) float64 { return 1 / math.Exp(v) }
	in, _ := stats.ChangeInterval(stats.Ungrouped(logs(60, 60, 61, 60, 60), over), stats.Ungrouped(logs(63, 62, 63, 63, 63), over), 0.95, 1000, 3)
	widen := stats.RoundingAllowance([]float64{60, 60, 61, 60, 60}, []float64{63, 62, 63, 63, 63}, 1) / 60
	if lo, hi := math.Expm1(in.Lo-widen), math.Expm1(in.Hi+widen); widen == 0 || !near(r.Interval[0], lo, 1e-12) || !near(r.Interval[1], hi, 1e-12) {
		t.Errorf("interval %v, want %v to %v", *r.Interval, lo, hi)
	}
}

// Fine readings whose compared values happen to lie closer together than any
// two readings are not coarse: two runs a side, and a steady change under the
// luck of blocks that lie far apart.
func TestFineReadingsAreNotCoarse(t *testing.T) {
	two := only(t, judged(t, numbers("s", 412.31, 409.77), numbers("s", 402.18, 405.93), Policy{}, Options{}))
	if lo, hi := 409.77/405.93-1, 412.31/402.18-1; two.Resolution != 0 || !near(two.Range[0], lo, 1e-12) || !near(two.Range[1], hi, 1e-12) {
		t.Errorf("tick %v, range %v, want %v to %v", two.Resolution, *two.Range, lo, hi)
	}
	before := inBlocks("s", "F", oneEach(400.13, 421.98, 447.31, 462.87, 489.02, 508.55)...)
	after := inBlocks("s", "B", oneEach(396.21, 417.64, 443.01, 458.13, 484.19, 503.32)...)
	r := only(t, judged(t, before, after, Policy{}, Options{}))
	if r.Resolution != 0 {
		t.Errorf("tick %v", r.Resolution)
	}
	// Six differences: the interval of the signed-rank test runs from the
	// smallest to the largest.
	if lo, hi := 447.31/443.01-1, 421.98/417.64-1; !near(r.Interval[0], lo, 1e-12) || !near(r.Interval[1], hi, 1e-12) {
		t.Errorf("interval %v, want %v to %v", *r.Interval, lo, hi)
	}
	// Whole numbers in blocks are coarse where their steps show.
	whole := only(t, judged(t, inBlocks("°C", "F", oneEach(60, 62, 65, 70, 75, 80)...), inBlocks("°C", "B", oneEach(61, 63, 66, 71, 76, 81)...), Policy{}, Options{}))
	if whole.Tick != 1 || *whole.Interval != [2]float64{0, 2} || whole.Real {
		t.Errorf("tick %v, interval %v, real %v", whole.Tick, *whole.Interval, whole.Real)
	}
}

// A spread of exactly one tick is not below it, whatever rounding says: the
// same readings in another unit must not change the interval.
func TestSpreadOfOneTick(t *testing.T) {
	for scale := 1.0; scale <= 64; scale++ {
		by := func(v ...float64) []float64 {
			for i := range v {
				v[i] *= scale / 10
			}
			return v
		}
		r := only(t, judged(t, numbers("fps", by(60, 61, 62)...), numbers("fps", by(70, 71, 72)...), Policy{Confidence: 0.9}, Options{}))
		if r.Resolution != 0 {
			t.Errorf("times %v: the interval is widened for readings in steps of %v", scale/10, r.Resolution)
		}
	}
}

// On a ratio scale a step is no larger than a reading: the gap between 1 and
// 1001 s says nothing of steps of 1000 s, which would take the interval's end
// beyond the range of a float64.
func TestStepIsNoLargerThanReadings(t *testing.T) {
	r := only(t, judged(t, numbers("s", 1, 1, 1, 1, 1), numbers("s", 1001, 1001, 1001, 1001, 1001), Policy{}, Options{}))
	if lo, hi := math.Exp(-1)/1001-1, math.E/1001-1; r.Resolution != 1 || !near(r.Interval[0], lo, 1e-12) || !near(r.Interval[1], hi, 1e-12) || *r.Verdict != Regression {
		t.Errorf("tick %v, interval %v, %s; want 1, %v to %v, regression", r.Resolution, *r.Interval, *r.Verdict, lo, hi)
	}
	spread := only(t, judged(t, numbers("s", 1, 1, 1, 1, 1001), numbers("s", 1, 1001, 1001, 1001, 1001), Policy{}, Options{}))
	if spread.Tick != 0 || spread.Interval[1] > 0.5 {
		t.Errorf("tick %v, interval %v", spread.Tick, *spread.Interval)
	}
	// A temperature has no zero to count from.
	if r := only(t, judged(t, numbers("°C", 1, 1, 1, 1, 1), numbers("°C", 11, 11, 11, 11, 11), Policy{}, Options{})); r.Resolution != 10 {
		t.Errorf("tick %v, want 10", r.Resolution)
	}
}

// Equal readings in steps of 0.01 in 60.25 are settled by one more run a side, so
// nobody may be told that no number would do; whole numbers hide 0.5 % for good.
func TestTooCoarse(t *testing.T) {
	for _, c := range []struct {
		runs    int
		reading float64
		want    bool
		verdict Verdict
	}{
		{3, 60.25, false, Noise}, {4, 60.25, false, Level}, {3, 60, true, Noise}, {30, 60, true, Noise},
	} {
		same := numbers("fps", slices.Repeat([]float64{c.reading}, c.runs)...)
		if r := only(t, judged(t, same, same, Policy{}, Options{})); r.TooCoarse() != c.want || *r.Verdict != c.verdict {
			t.Errorf("%d readings of %v: too coarse %v, %s", c.runs, c.reading, r.TooCoarse(), *r.Verdict)
		}
	}
	whole := only(t, judged(t, numbers("fps", 60, 60, 60, 60), numbers("fps", 60, 61, 62, 60), Policy{}, Options{}))
	if !whole.TooCoarse() || whole.Needed != nil {
		t.Errorf("one constant side: too coarse %v, needed %v", whole.TooCoarse(), whole.Needed)
	}
}

// A side of a single session shows no spread, so nothing says that its readings
// are coarse for it.
func TestLoneSessionIsNotCoarse(t *testing.T) {
	lone := inSessions("fps", "F", []float64{60, 75, 61})
	for _, after := range [][][]float64{{{62, 70, 85}}, {{62, 70, 85}, {64, 86, 71}, {96, 72, 88}}} {
		if r := only(t, judged(t, lone, inSessions("fps", "B", after...), Policy{}, Options{})); r.Resolution != 0 {
			t.Errorf("1 and %d sessions: tick %v, notes %v", len(after), r.Resolution, r.Notes)
		}
	}
}

// Both sides constant: the difference plus and minus one tick, and no 0/0
// anywhere.
func TestConstantSides(t *testing.T) {
	same := func(v float64) []float64 { return []float64{v, v, v, v, v} }
	for _, c := range []struct {
		name          string
		unit          string
		before, after float64
		lo, hi        float64
		tolerance     float64
		verdict       Verdict
	}{
		{"the same", "fps", 60, 60, math.Expm1(-1.0 / 60), math.Expm1(1.0 / 60), 0.5, Noise},
		{"the same, wide tolerance", "fps", 60, 60, math.Expm1(-1.0 / 60), math.Expm1(1.0 / 60), 2, Level},
		{"a tick apart", "fps", 60, 61, math.Expm1(math.Log(61.0/60) - 1.0/60), math.Expm1(math.Log(61.0/60) + 1.0/60), 0.5, Noise},
		{"two decimals", "fps", 4.25, 4.25, math.Expm1(-0.01 / 4.25), math.Expm1(0.01 / 4.25), 0.5, Level},
		// With two distinct values the tick is their gap, whatever it is: so
		// constant sides never settle a change.
		{"far apart", "fps", 60, 75, math.Expm1(math.Log(75.0/60) - 15.0/60), math.Expm1(math.Log(75.0/60) + 15.0/60), 0.5, Noise},
		{"a time", "s", 60, 60, math.Expm1(-1.0 / 60), math.Expm1(1.0 / 60), 0.5, Noise},
		{"heat", "°C", 78.5, 78.5, -0.1, 0.1, 0, Noise},
	} {
		p := Policy{}.tolerating(c.tolerance)
		r := only(t, judged(t, numbers(c.unit, same(c.before)...), numbers(c.unit, same(c.after)...), p, Options{}))
		if !near(r.Interval[0], c.lo, 1e-12) || !near(r.Interval[1], c.hi, 1e-12) || verdictOf(r) != c.verdict {
			t.Errorf("%s: interval %v, %s; want %v to %v, %s", c.name, *r.Interval, verdictOf(r), c.lo, c.hi, c.verdict)
		}
		if r.BlindSpot != nil || r.Needed != nil || r.Before.StdDev != 0 || math.IsNaN(r.P+r.PVerdict+r.Superiority+r.Change) {
			t.Errorf("%s: %+v", c.name, r)
		}
		if r.Superiority != 0.5 && c.before == c.after {
			t.Errorf("%s: superiority %v", c.name, r.Superiority)
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
		r := only(t, judged(t, numbers("s", c.before...), numbers("s", c.after...), Policy{}, Options{}))
		if r.Interval != nil || r.IntervalMethod != "" || verdictOf(r) != Noise || r.BlindSpot != nil || r.Needed != nil || r.CanSettle {
			t.Errorf("%v against %v: %+v", c.before, c.after, r)
		}
		if !near(r.MinP, c.floor, 1e-12) || (r.Range != nil) != c.ranged || c.ranged && !near(r.RangeLevel, 1-c.floor, 1e-12) {
			t.Errorf("%v against %v: floor %v, range %v at %v", c.before, c.after, r.MinP, r.Range, r.RangeLevel)
		}
	}
	// Even a huge number of runs on one side cannot make up for one on the other.
	many := make([]float64, 500)
	for i := range many {
		many[i] = 400 + float64(i)/100
	}
	r := only(t, judged(t, numbers("s", 700), numbers("s", many...), Policy{}, Options{}))
	if r.Interval != nil || verdictOf(r) != Noise || r.CanSettle {
		t.Errorf("1 against 500: interval %v, %s, can settle %v", r.Interval, verdictOf(r), r.CanSettle)
	}
}

// Below 4 and 4 no 95 % interval exists: the range of the differences stands
// in, with its level: 90 % at 3 and 3.
func TestRangeWhereThereIsNoInterval(t *testing.T) {
	r := only(t, judged(t, numbers("°C", 70, 73.125, 77.5), numbers("°C", 80, 82.0625, 88), Policy{}, Options{}))
	if r.Interval != nil || r.Range == nil || *r.Range != [2]float64{2.5, 18} || !near(r.RangeLevel, 0.9, 1e-12) {
		t.Errorf("interval %v, range %v at %v", r.Interval, r.Range, r.RangeLevel)
	}
	if r.CanSettle || r.MinSampleSize != 4 || !near(r.MaxConfidence, 0.9, 1e-12) {
		t.Errorf("can settle %v from %d, or at %v", r.CanSettle, r.MinSampleSize, r.MaxConfidence)
	}
	// At 90 % these runs can settle.
	r = only(t, judged(t, numbers("°C", 70, 73.125, 77.5), numbers("°C", 80, 82.0625, 88), Policy{Confidence: 0.9}, Options{}))
	if r.Interval == nil || r.Range != nil || !r.Real || !r.CanSettle || verdictOf(r) != Regression {
		t.Errorf("interval %v, real %v, can settle %v, %s", r.Interval, r.Real, r.CanSettle, verdictOf(r))
	}
}
