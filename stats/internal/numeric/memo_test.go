package numeric

import (
	"slices"
	"sync"
	"sync/atomic"
	"testing"
)

func TestMemo(t *testing.T) {
	m := Memo[int, int]{Max: 2}
	var computed atomic.Int32
	square := func(k int) int {
		return m.Get(k, func() int { computed.Add(1); return k * k })
	}
	var wg sync.WaitGroup
	for range 8 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			if got := square(3); got != 9 {
				t.Errorf("3 gives %d", got)
			}
		}()
	}
	wg.Wait()
	if n := computed.Load(); n != 1 {
		t.Errorf("computed %d times for one key", n)
	}
	for _, k := range []int{4, 5, 3, 5} { // 5 pushes 3 out, and 3 then 4
		if got := square(k); got != k*k {
			t.Errorf("%d gives %d", k, got)
		}
	}
	if n := computed.Load(); n != 4 {
		t.Errorf("computed %d times, want 4: only two keys are kept", n)
	}
	if len(m.kept) != 2 || len(m.order) != 2 {
		t.Errorf("%d keys kept, want 2", len(m.kept))
	}
}

// Different sizes have different keys, whatever their number.
func TestSizesKey(t *testing.T) {
	seen := map[string][]int{}
	for _, s := range [][]int{nil, {0}, {1}, {1, 1}, {2}, {127}, {128}, {0, 1}, {128, 1}, {1, 128}, {255}, {16384}, {1 << 20}} {
		k := SizesKey(s)
		if other, ok := seen[k]; ok {
			t.Errorf("%v and %v share a key", other, s)
		}
		seen[k] = slices.Clone(s)
	}
}
