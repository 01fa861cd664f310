package compare

import (
	"math"
	"slices"
	"testing"
)

// What is drawn is what was compared: sessions with their runs in order, and
// pairs whose middle is the change.
func TestShownIsWhatWasCompared(t *testing.T) {
	before := inSessions("s", "F", []float64{412, 410, 415}, []float64{409, 411, 413}, []float64{415, 414, 413}, []float64{411, 408, 412})
	after := inSessions("s", "B", []float64{402, 401, 404}, []float64{405, 399, 403}, []float64{401, 402, 400}, []float64{399, 403, 401})
	r := judged(t, before, after, Policy{}, Options{Resamples: 1000}).Results[0]
	b, a := r.Sittings()
	if len(b) != 4 || len(a) != 4 || b[1].Label == "" || b[1].Block != "" {
		t.Fatalf("sittings %v and %v", b, a)
	}
	for i, want := range []float64{409, 411, 413} {
		if math.Abs(b[1].Runs[i]-want) > 1e-9 {
			t.Errorf("runs of the second session: %v", b[1].Runs)
		}
	}
	if math.Abs(b[1].Value-411) > 1e-9 {
		t.Errorf("the second session counts with %v, want its median 411", b[1].Value)
	}
	pairs, thinned := r.Pairs()
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

// In blocks each pair stays within its block, and sittings name theirs.
func TestShownInBlocks(t *testing.T) {
	before := inBlocks("s", "F", oneEach(10, 20, 30, 40, 50, 60)...)
	after := inBlocks("s", "B", oneEach(11, 22, 33, 44, 55, 66)...)
	r := judged(t, before, after, Policy{}, Options{Resamples: 1000}).Results[0]
	pairs, _ := r.Pairs()
	if len(pairs) != 6 {
		t.Fatalf("%d pairs of 6 blocks: %v", len(pairs), pairs)
	}
	for _, p := range pairs {
		if math.Abs(p-(1/1.1-1)) > 1e-9 {
			t.Errorf("a pair of %v: every block is 10 %% slower", p)
		}
	}
	b, a := r.Sittings()
	for i := range b {
		if b[i].Block == "" || b[i].Block != a[i].Block {
			t.Errorf("block %d: %q before, %q after", i, b[i].Block, a[i].Block)
		}
	}
	twice := inBlocks("s", "F", [][]float64{{10}, {12}}, [][]float64{{20}, {21}}, [][]float64{{30}, {33}})
	other := inBlocks("s", "B", [][]float64{{9}, {11}}, [][]float64{{19}, {20}}, [][]float64{{29}, {28}})
	r = judged(t, twice, other, Policy{}, Options{Resamples: 1000}).Results[0]
	if pairs, _ := r.Pairs(); len(pairs) != 12 {
		t.Errorf("%d pairs of 3 blocks of 2 and 2 spells, want 12", len(pairs))
	}
}

// Of very many pairs some stand for all, and their middle stays where it was.
func TestManyPairsAreThinned(t *testing.T) {
	var x, y []float64
	for i := range 600 {
		x, y = append(x, 100+float64(i)/600), append(y, 99+float64(i)/600)
	}
	r := judged(t, numbers("s", x...), numbers("s", y...), Policy{}, Options{Resamples: 1000}).Results[0]
	pairs, thinned := r.Pairs()
	if !thinned || len(pairs) != 250_000 {
		t.Fatalf("%d pairs, thinned %v", len(pairs), thinned)
	}
	if middle := pairs[125_000]; math.Abs(middle-r.Change) > 1e-4 {
		t.Errorf("the middle of the thinned pairs is %v, the change %v", middle, r.Change)
	}
}

// The picture of plans agrees with the advice: at the number that is needed the
// chance reaches four in five, and one fewer does not do.
func TestProspectsAgreeWithTheAdvice(t *testing.T) {
	before := inSessions("s", "F", []float64{412}, []float64{409}, []float64{415}, []float64{411}, []float64{418})
	after := inSessions("s", "B", []float64{410}, []float64{412}, []float64{414}, []float64{409}, []float64{416})
	c := judged(t, before, after, Policy{}, Options{Resamples: 1000})
	r := c.Results[0]
	if r.Needed == nil {
		t.Fatal("nothing is needed")
	}
	n := *r.Needed
	got, ok := r.Prospects([]int{5, n - 1, n})
	if !ok || got[1].Chance >= 0.8 || got[2].Chance < 0.8 || got[0].Chance >= got[2].Chance {
		t.Errorf("needed %d, foreseen %v", n, got)
	}
	if half := (r.Interval[1] - r.Interval[0]) / 2; math.Abs(got[0].HalfWidth-half) > 0.5*half {
		t.Errorf("half the width %v, foreseen for as many %v", half, got[0].HalfWidth)
	}
	if got[2].HalfWidth >= got[0].HalfWidth {
		t.Errorf("more sessions do not narrow the interval: %v", got)
	}
	clock := judged(t, numbers("MHz", 1, 2, 3, 4), numbers("MHz", 1, 2, 3, 5), Policy{}, Options{Resamples: 1000}).Results[0]
	if _, ok := clock.Prospects([]int{5}); ok {
		t.Error("what is never judged has prospects")
	}
}
