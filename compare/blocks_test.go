package compare_test

import (
	"math"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// One spell a side in each block: one difference a block. Worked by hand for
// differences 1 to 6: all positive, W = 21, p = 2/64; the Walsh averages run
// from 1 to 6 about 3.5, and six differences allow no narrower interval.
func TestBlocksOfOneSpell(t *testing.T) {
	before := comparetest.InBlocks("s", "F", comparetest.OneEach(100, 200, 300, 400, 500, 600)...)
	after := comparetest.InBlocks("s", "B", comparetest.OneEach(101, 202, 303, 404, 505, 606)...)
	r := resultOf(t, before, after, comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if r.Test != "signed-rank" || r.Replication != compare.ByBlock || r.Replicates != [2]int{6, 6} || r.Statistic != 21 {
		t.Fatalf("%s by %s, %v, W %v", r.Test, r.Replication, r.Replicates, r.Statistic)
	}
	if !comparetest.Near(r.P, 2.0/64, 1e-12) || !comparetest.Near(r.MinP, 2.0/64, 1e-12) || r.Superiority != 1 {
		t.Errorf("p %v, floor %v, superiority %v", r.P, r.MinP, r.Superiority)
	}
	if r.Change != 3.5 || *r.Interval != [2]float64{1, 6} || r.IntervalMethod != "signed-rank inversion" {
		t.Errorf("change %v, interval %v by %s", r.Change, *r.Interval, r.IntervalMethod)
	}
	if comparetest.VerdictOf(r) != compare.Uplift || !r.CanSettle || r.MinSampleSize != 2 {
		t.Errorf("%s, can settle %v from %d", comparetest.VerdictOf(r), r.CanSettle, r.MinSampleSize)
	}
	// Several runs in a spell count once, several spells on one side only too.
	more := comparetest.InBlocks("s", "B", [][]float64{{100.5, 101, 107}}, [][]float64{{202}}, [][]float64{{303, 302, 304}},
		[][]float64{{404}}, [][]float64{{504}, {506}}, [][]float64{{606}})
	m := resultOf(t, before, more, comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if m.Test != "signed-rank" || m.Change != 3.5 || m.Statistic != 21 {
		t.Errorf("%s: change %v, W %v", m.Test, m.Change, m.Statistic)
	}
}

// Two to five blocks: Student's test of the differences, with a verdict. For 1, 2, 3,
// 4: mean 2.5, standard error sqrt(5/12), and Student's 97.5 % quantile on 3 degrees
// of freedom is 3.182446 (any printed table of t); p by R 4.2.2's t.test, from memory
// of its definition: 2 P(T > 3.873) on 3 = 0.0305.
func TestFewBlocks(t *testing.T) {
	before := func(n int) []compare.Value {
		return comparetest.InBlocks("s", "F", comparetest.OneEach(100, 200, 300, 400, 500)[:n]...)
	}
	after := func(n int) []compare.Value {
		return comparetest.InBlocks("s", "B", comparetest.OneEach(101, 202, 303, 404, 505)[:n]...)
	}
	r := resultOf(t, before(4), after(4), comparetest.DifferencesIn(compare.Higher), compare.Options{})
	half := 3.182446 * math.Sqrt(5.0/12)
	if r.Interval == nil || !comparetest.Near(r.Interval[0], 2.5-half, 1e-6) || !comparetest.Near(r.Interval[1], 2.5+half, 1e-6) {
		t.Errorf("interval %v, want %v to %v", r.Interval, 2.5-half, 2.5+half)
	}
	if r.Test != "student" || r.Change != 2.5 || !comparetest.Near(r.Statistic, 2.5/math.Sqrt(5.0/12), 1e-12) ||
		!comparetest.Near(r.P, 0.0305, 1e-4) || r.MinP != 0 || r.Superiority != 1 {
		t.Errorf("%s: change %v, t %v, p %v of at least %v", r.Test, r.Change, r.Statistic, r.P, r.MinP)
	}
	if r.IntervalMethod != "Student, assumes normal differences" || comparetest.VerdictOf(r) != compare.Uplift || !r.CanSettle ||
		r.MinSampleSize != 2 || r.BlindSpot == nil {
		t.Errorf("%s: %s, can settle %v from %d", r.IntervalMethod, comparetest.VerdictOf(r), r.CanSettle, r.MinSampleSize)
	}
	if n := comparetest.NoteOf(r.Notes, compare.NoteStudent); n.Count != 4 || n.Of != 6 {
		t.Errorf("notes %+v", r.Notes)
	}
	for n := 2; n <= 5; n++ {
		r := resultOf(t, before(n), after(n), comparetest.DifferencesIn(compare.Higher), compare.Options{})
		if r.Interval == nil || r.Test != "student" || !r.CanSettle {
			t.Errorf("%d blocks: interval %v, %s, can settle %v", n, r.Interval, r.Test, r.CanSettle)
		}
	}
	one := resultOf(t, before(1), after(1), comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if one.Interval != nil || one.P != 1 || one.MinP != 1 || comparetest.VerdictOf(one) != compare.Noise || one.CanSettle ||
		one.MinSampleSize != 2 || comparetest.Kinds(one.Notes)[compare.NoteStudent] {
		t.Errorf("1 block: interval %v, p %v, %s, from %d, %v", one.Interval, one.P, comparetest.VerdictOf(one), one.MinSampleSize, one.Notes)
	}
	// At 90 % five blocks reach 2/32: ranks serve. At 99 % seven do not.
	p := comparetest.DifferencesIn(compare.Higher)
	p.Confidence = 0.9
	five := resultOf(t, before(5), after(5), p, compare.Options{})
	if five.IntervalMethod != "signed-rank inversion" || comparetest.VerdictOf(five) != compare.Uplift {
		t.Errorf("5 blocks at 90 %%: %s, %s", five.IntervalMethod, comparetest.VerdictOf(five))
	}
	p.Confidence = 0.99
	if r := resultOf(t, before(5), after(5), p, compare.Options{}); comparetest.NoteOf(r.Notes, compare.NoteStudent).Of != 8 {
		t.Errorf("5 blocks at 99 %%: %v", r.Notes)
	}
}

// "level" takes four blocks.
func TestLevelInBlocks(t *testing.T) {
	for n := 2; n <= 8; n++ {
		var low, high []float64
		for i := range n {
			level := 100 + math.Sqrt(float64(2*i+2))
			low, high = append(low, level), append(high, level+[]float64{0.011, -0.02, 0.015, -0.01, 0.012, -0.013, 0.005, -0.004}[i])
		}
		r := resultOf(t, comparetest.InBlocks("s", "F", comparetest.OneEach(low...)...), comparetest.InBlocks("s", "B",
			comparetest.OneEach(high...)...),
			comparetest.Tolerating(comparetest.DifferencesIn(compare.Higher), 1), compare.Options{})
		if got := comparetest.VerdictOf(r); r.Interval[1] > 1 || r.Real || (got == compare.Level) != (n >= 4) {
			t.Errorf("%d blocks: %s, interval %v", n, got, *r.Interval)
		}
	}
}

// No interval has width 0. Equal differences of readings in steps of 0.1 may be off by
// rounding: the standard error of the mean of n differences is at least 0.1 sqrt(2/n/12),
// and half of a step is added where no spread shows. The last digit that was written is a
// step, too, however fine.
func TestEqualDifferencesInBlocks(t *testing.T) {
	for _, n := range []int{2, 3, 5, 6, 12} {
		var low, high, fine []float64
		for i := range n {
			x := float64(500 + i*i%7)
			low, high = append(low, x/10), append(high, (x+2)/10)
			fine = append(fine, 50+math.Sqrt(float64(7*i+2)))
		}
		p := comparetest.DifferencesIn(compare.Higher)
		r := resultOf(t, comparetest.InBlocks("s", "F", comparetest.OneEach(low...)...), comparetest.InBlocks("s", "B",
			comparetest.OneEach(high...)...),
			p, compare.Options{})
		if r.Interval == nil || r.Interval[1]-r.Interval[0] < 0.1 || r.Interval[0] > 0.2 || r.Interval[1] < 0.2 {
			t.Errorf("%d blocks in steps: interval %v about %v", n, r.Interval, r.Change)
		}
		var moved []float64
		for _, v := range fine {
			moved = append(moved, v+0.25)
		}
		r = resultOf(t, comparetest.InBlocks("s", "F", comparetest.OneEach(fine...)...), comparetest.InBlocks("s", "B",
			comparetest.OneEach(moved...)...),
			p, compare.Options{})
		if r.Interval == nil || r.Interval[1] <= r.Interval[0] {
			t.Errorf("%d fine blocks: interval %v, %s, notes %v", n, r.Interval, comparetest.VerdictOf(r), r.Notes)
		}
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
		before, after := comparetest.InBlocks("s", "F", comparetest.OneEach(low...)...),
			comparetest.InBlocks("s", "B", comparetest.OneEach(high...)...)
		if r := resultOf(t, before, after, comparetest.Tolerating(comparetest.DifferencesIn(compare.Higher), 0),
			compare.Options{}); r.Superiority != 1 {
			t.Errorf("%d blocks, all better: %v", n, r.Superiority)
		}
		if r := resultOf(t, before, after, comparetest.Tolerating(comparetest.DifferencesIn(compare.Lower), 0),
			compare.Options{}); r.Superiority != 0 {
			t.Errorf("%d blocks, all worse: %v", n, r.Superiority)
		}
	}
	// Equal in a block counts half.
	r := resultOf(t, comparetest.InBlocks("s", "F", comparetest.OneEach(100, 200, 300, 400)...),
		comparetest.InBlocks("s", "B", comparetest.OneEach(101, 200, 299, 404)...), comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if r.Superiority != 2.5/4 {
		t.Errorf("two better, one equal, one worse: %v", r.Superiority)
	}
}

// Two or more spells a side in a block: one difference between their means, worked by
// hand: 14 - 10.5, 56 - 51.5 and 95.5 - 90.25. A block's own luck falls out.
func TestBlocksOfSeveralSpells(t *testing.T) {
	before := comparetest.InBlocks("s", "F", [][]float64{{10}, {11}}, [][]float64{{50}, {53}}, [][]float64{{90}, {90.5}})
	after := comparetest.InBlocks("s", "B", [][]float64{{13}, {15}}, [][]float64{{54}, {58}}, [][]float64{{95}, {96}})
	r := resultOf(t, before, after, comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if mean := (3.5 + 4.5 + 5.25) / 3; r.Test != "student" || r.Replicates != [2]int{3, 3} || !comparetest.Near(r.Change, mean, 1e-9) {
		t.Fatalf("%s, %v, change %v", r.Test, r.Replicates, r.Change)
	}
	// The mean of three spells, not their median.
	three := comparetest.InBlocks("s", "B", [][]float64{{13}, {15}, {29}}, [][]float64{{54}, {58}}, [][]float64{{95}, {96}})
	if m := resultOf(t, before, three, comparetest.DifferencesIn(compare.Higher), compare.Options{}); !comparetest.Near(m.Change,
		(8.5+4.5+5.25)/3, 1e-9) {
		t.Errorf("change %v of three spells", m.Change)
	}
	lifted := func(values []compare.Value) []compare.Value {
		out := append([]compare.Value(nil), values...)
		for i := range out {
			if out[i].Block == "2" {
				out[i].Value += 1024
			}
		}
		return out
	}
	l := resultOf(t, lifted(before), lifted(after), comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if !comparetest.Near(l.Change, r.Change, 1e-7) || !comparetest.Near(l.Interval[0], r.Interval[0], 1e-6) ||
		!comparetest.Near(l.P, r.P, 1e-6) {
		t.Errorf("with one block raised: change %v, interval %v, p %v", l.Change, *l.Interval, l.P)
	}
}

// Sessions of both sides count by equal numbers of runs, and so do the spells of a
// block; a run that is missing here and there changes nothing.
func TestMatchedRuns(t *testing.T) {
	p := comparetest.DifferencesIn(compare.Higher)
	sessions := func(letter string, runs ...[]float64) []compare.Value {
		return comparetest.InSessions("s", letter, runs...)
	}
	three := sessions("F", []float64{1, 2, 9}, []float64{3, 4, 9}, []float64{5, 6, 9}, []float64{7, 8, 9})
	two := sessions("B", []float64{1, 2}, []float64{3, 4}, []float64{5, 6}, []float64{7, 8})
	r := resultOf(t, three, two, p, compare.Options{})
	if r.Change != 0 || r.Before.Median != r.After.Median || r.Before.Runs != 12 || !r.RunsMatched ||
		!comparetest.Kinds(r.Notes)[compare.NoteUnequalRuns] {
		t.Errorf("3 and 2 runs: change %v, medians %v and %v, notes %v", r.Change, r.Before.Median, r.After.Median, r.Notes)
	}
	crashed := sessions("B", []float64{1, 2, 9}, []float64{3, 4}, []float64{5, 6, 9}, []float64{7, 8, 9})
	if r := resultOf(t, three, crashed, p, compare.Options{}); r.RunsMatched || r.Before.Median != 5 {
		t.Errorf("one run missing: matched %v, median %v", r.RunsMatched, r.Before.Median)
	}
	// A side whose runs count once each is matched by the first run of a session.
	if r := resultOf(t, three, comparetest.Numbers("s", 1, 3, 5, 7), p, compare.Options{}); r.Change != 0 || !r.RunsMatched {
		t.Errorf("sessions on one side: change %v, matched %v", r.Change, r.RunsMatched)
	}
	in := func(letter string, blocks ...[][]float64) []compare.Value {
		return comparetest.InBlocks("s", letter, blocks...)
	}
	b := in("F", [][]float64{{1, 2, 9}}, [][]float64{{3, 4}}, [][]float64{{5}})
	a := in("B", [][]float64{{1, 2}}, [][]float64{{3, 4, 9}}, [][]float64{{5, 9, 9}})
	if r := resultOf(t, b, a, p, compare.Options{}); r.Change != 0 || !r.RunsMatched || r.Replication != compare.ByBlock {
		t.Errorf("blocks: change %v, matched %v, by %s", r.Change, r.RunsMatched, r.Replication)
	}
}
