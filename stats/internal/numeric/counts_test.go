package numeric

import (
	"fmt"
	"math"
	"math/big"
	"testing"
)

// Harding's recurrence subtracts; floats must not lose what integers keep.
func TestUntiedCountsAgainstIntegers(t *testing.T) {
	for _, size := range [][2]int{{3, 3}, {10, 7}, {30, 30}, {60, 60}, {100, 100}, {5, 500}} {
		m, n := size[0], size[1]
		want := make([]*big.Int, m*n+1)
		for i := range want {
			want[i] = new(big.Int)
		}
		want[0].SetInt64(1)
		for i := 1; i <= m; i++ {
			for u := m * n; u >= n+i; u-- {
				want[u].Sub(want[u], want[u-n-i])
			}
			for u := i; u <= m*n; u++ {
				want[u].Add(want[u], want[u-i])
			}
		}
		got := UntiedCounts(m, n)
		worst := 0.0
		for u := range want {
			w, _ := new(big.Float).SetInt(want[u]).Float64()
			worst = math.Max(worst, math.Abs(got[u]-w)/w)
		}
		t.Logf("%d and %d: largest relative error %.1e", m, n, worst)
		if worst > 1e-12 {
			t.Errorf("%d and %d: counts are off by %.2e", m, n, worst)
		}
	}
}

// The distribution itself, which metrics of the same sizes share.
func BenchmarkGaussianBinomial(b *testing.B) {
	for _, n := range []int{5, 30, 270} { // beyond, the normal approximation serves
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				gaussianBinomial(n, n)
			}
		})
	}
}
