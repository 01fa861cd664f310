package statstest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// AscendingFrom returns first, first + 1 and so on.
func AscendingFrom(first float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = first + float64(i)
	}
	return x
}

// Panics reports whether f does.
func Panics(f func()) (did bool) {
	defer func() { did = recover() != nil }()
	f()
	return false
}

// BenchmarkSizes runs f on normal noise at the sizes that speed is stated for.
func BenchmarkSizes(b *testing.B, f func(before, after []float64)) {
	for _, n := range []int{5, 30, 300, 3000} {
		g := Generator(uint64(n))
		x, y := Draw(g, "normal", n), Draw(g, "normal", n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f(x, y)
			}
		})
	}
}

// Clean draws sessions without a fault: noise of variance 1 in each run, and a
// share rho of the whole variance between sessions. Values are as of a
// benchmark that takes 412.371 s.
func Clean(r *rand.Rand, shape string, sizes []int, rho float64) [][]float64 {
	sessions := make([][]float64, len(sizes))
	for i, n := range sizes {
		luck := math.Sqrt(rho/(1-rho)) * Shapes[shape](r)
		sessions[i] = Rounded(Moved(Draw(r, shape, n), 1, 412+luck), 0.001)
	}
	return sessions
}

// EqualSizes are so many sessions of so many runs.
func EqualSizes(sessions, runs int) []int {
	sizes := make([]int, sessions)
	for i := range sizes {
		sizes[i] = runs
	}
	return sizes
}

// StandardError is that of a share of n tries.
func StandardError(share float64, n int) float64 {
	return math.Sqrt(share * (1 - share) / float64(n))
}
