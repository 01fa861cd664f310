package report

import (
	"math"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// sittingsOf gives the sessions that were compared, with copies of their runs in
// order.
func TestSittingsAreWhatWasCompared(t *testing.T) {
	before := comparetest.InSessions("s", "F", []float64{412, 410, 415}, []float64{409, 411, 413}, []float64{415, 414, 413},
		[]float64{411, 408, 412})
	after := comparetest.InSessions("s", "B", []float64{402, 401, 404}, []float64{405, 399, 403}, []float64{401, 402, 400},
		[]float64{399, 403, 401})
	r := comparetest.Only(t, comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{Resamples: 1000}))
	for range 2 {
		b, a := sittingsOf(r.Pair)
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
		for _, s := range slices.Concat(b, a) {
			clear(s.Runs)
		}
	}
}

// Sittings of blocks name their block and are in the order of the blocks.
func TestSittingsInBlocks(t *testing.T) {
	before := comparetest.InBlocks("s", "F", comparetest.OneEach(10, 20, 30, 40, 50, 60)...)
	after := comparetest.InBlocks("s", "B", comparetest.OneEach(11, 22, 33, 44, 55, 66)...)
	slices.Reverse(after)
	b, a := sittingsOf(comparetest.Only(t, comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{Resamples: 1000})).Pair)
	for i := range b {
		if b[i].Block == "" || b[i].Block != a[i].Block {
			t.Errorf("block %d: %q before, %q after", i, b[i].Block, a[i].Block)
		}
	}
	if len(b) != 6 || len(a) != 6 {
		t.Errorf("%d and %d sittings of 6 blocks", len(b), len(a))
	}
}
