package numeric

import (
	"math"
	"slices"
)

// Choose is the binomial coefficient, exact while it fits 53 bits; +Inf where
// it leaves the range of a float64.
func Choose(n, k int) float64 {
	c := 1.0
	for i := 1; i <= min(k, n-k); i++ {
		c = c * float64(n-i+1) / float64(i)
	}
	return c
}

// UntiedCounts returns how many of the C(m+n, m) orderings have U = u, for u
// from 0 to mn: the coefficients of the Gaussian binomial, by Harding's
// recurrence (Applied Statistics 33:1-6, 1984). The lower half is computed
// from smaller u only and mirrored, so that tails stay exact as long as they
// fit a float64's 53 bits. Sides of the same sizes share the result: do not
// write to it.
func UntiedCounts(m, n int) []float64 {
	if m > n {
		m, n = n, m
	}
	return untiedNulls.Get([2]int{m, n}, func() []float64 { return gaussianBinomial(m, n) })
}

var untiedNulls = Memo[[2]int, []float64]{Max: 32}

func gaussianBinomial(m, n int) []float64 {
	half := m * n / 2
	f := make([]float64, m*n+1)
	f[0] = 1
	for i := 1; i <= m; i++ {
		for u := half; u >= n+i; u-- {
			f[u] -= f[u-n-i]
		}
		for u := i; u <= half; u++ {
			f[u] += f[u-i]
		}
	}
	for u := half + 1; u <= m*n; u++ {
		f[u] = f[m*n-u]
	}
	return f
}

// Convolve adds an independent count to a distribution.
// The counts of many groups multiply beyond a float64, so the result is scaled
// by a power of two, which rounds nothing, to a sum between 1 and 4.
func Convolve(a, b []float64) []float64 {
	scale := math.Ldexp(1, -math.Ilogb(Sum(b)))
	out := make([]float64, len(a)+len(b)-1)
	if shrink := math.Ldexp(1, -math.Ilogb(Sum(a))); shrink != 1 {
		a = slices.Clone(a)
		for i := range a {
			a[i] *= shrink
		}
	}
	for j, w := range b {
		if w == 0 {
			continue
		}
		w *= scale
		for i, v := range a {
			out[i+j] += v * w
		}
	}
	return out
}

// Sum adds values in order.
func Sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}

// Permute visits every order of the first n values (Heap, Computer Journal
// 6:293-294, 1963).
func Permute(d []float64, n int, visit func()) {
	if n <= 1 {
		visit()
		return
	}
	for i := range n {
		Permute(d, n-1, visit)
		if i < n-1 {
			if n%2 == 0 {
				d[i], d[n-1] = d[n-1], d[i]
			} else {
				d[0], d[n-1] = d[n-1], d[0]
			}
		}
	}
}
