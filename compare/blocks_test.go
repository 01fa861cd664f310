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
	if comparetest.VerdictOf(r) != compare.Uplift || !r.CanSettle || r.MinSampleSize != 6 {
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

// Three to five blocks: Student's interval of the differences, and no verdict.
// For 1, 2, 3, 4: mean 2.5, standard error sqrt(5/12), and Student's 97.5 %
// quantile on 3 degrees of freedom is 3.182446 (any printed table of t).
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
	if r.IntervalMethod != "Student, assumes normal differences" || comparetest.VerdictOf(r) != compare.Noise || r.CanSettle ||
		r.MinSampleSize != 6 || r.Real {
		t.Errorf("%s: %s, can settle %v from %d", r.IntervalMethod, comparetest.VerdictOf(r), r.CanSettle, r.MinSampleSize)
	}
	for n := 3; n <= 5; n++ {
		r := resultOf(t, before(n), after(n), comparetest.DifferencesIn(compare.Higher), compare.Options{})
		if r.Interval == nil || comparetest.VerdictOf(r) != compare.Noise || r.BlindSpot != nil {
			t.Errorf("%d blocks: interval %v, %s, blind spot %v", n, r.Interval, comparetest.VerdictOf(r), r.BlindSpot)
		}
	}
	two := resultOf(t, before(2), after(2), comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if two.Interval != nil || two.IntervalMethod != "" || comparetest.VerdictOf(two) != compare.Noise {
		t.Errorf("2 blocks: interval %v by %q, %s", two.Interval, two.IntervalMethod, comparetest.VerdictOf(two))
	}
	// At 90 % five blocks reach 2/32 and settle; Student is not needed.
	p := comparetest.DifferencesIn(compare.Higher)
	p.Confidence = 0.9
	five := resultOf(t, before(5), after(5), p, compare.Options{})
	if five.IntervalMethod != "signed-rank inversion" || comparetest.VerdictOf(five) != compare.Uplift {
		t.Errorf("5 blocks at 90 %%: %s, %s", five.IntervalMethod, comparetest.VerdictOf(five))
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

// Two or more spells a side in every block: van Elteren's test over spells,
// each block weighing the same. Worked by hand: in all three blocks all of
// after lies above all of before, so T = 3 and p = 2 / 6^3; the estimate is
// the median of the twelve differences within blocks.
func TestBlocksOfSeveralSpells(t *testing.T) {
	before := comparetest.InBlocks("s", "F", [][]float64{{10}, {11}}, [][]float64{{50}, {53}}, [][]float64{{90}, {90.5}})
	after := comparetest.InBlocks("s", "B", [][]float64{{13}, {15}}, [][]float64{{54}, {58}}, [][]float64{{95}, {96}})
	r := resultOf(t, before, after, comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if r.Test != "van-elteren" || r.Statistic != 3 || r.Replication != compare.ByBlock || r.Replicates != [2]int{3, 3} {
		t.Fatalf("%s by %s, %v, T %v", r.Test, r.Replication, r.Replicates, r.Statistic)
	}
	if !comparetest.Near(r.P, 2.0/216, 1e-12) || !comparetest.Near(r.MinP, 2.0/216, 1e-12) || r.Superiority != 1 ||
		r.IntervalMethod != "stratified inversion" {
		t.Errorf("p %v, floor %v, superiority %v, %s", r.P, r.MinP, r.Superiority, r.IntervalMethod)
	}
	// Differences: 3 5 2 4; 4 8 1 5; 5 6 4.5 5.5. In order the sixth and the
	// seventh are 4.5 and 5.
	if r.Change != 4.75 {
		t.Errorf("change %v, want 4.75", r.Change)
	}
	if comparetest.VerdictOf(r) != compare.Uplift || r.MinSampleSize != 3 {
		t.Errorf("%s, settles from %d blocks", comparetest.VerdictOf(r), r.MinSampleSize)
	}
	// Two blocks reach 2/36 at best.
	two := resultOf(t, before[:4], after[:4], comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if two.Interval != nil || comparetest.VerdictOf(two) != compare.Noise || two.MinSampleSize < 3 {
		t.Errorf("2 blocks: %v, %s, from %d", two.Interval, comparetest.VerdictOf(two), two.MinSampleSize)
	}
	// A block's own luck falls out: raising one block on both sides changes nothing.
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
	if l.Change != r.Change || *l.Interval != *r.Interval || l.P != r.P {
		t.Errorf("with one block raised: change %v, interval %v, p %v", l.Change, *l.Interval, l.P)
	}
}
