package numeric

import (
	"math"
	"slices"
	"sort"
	"sync"
)

// MedianDifference is the median of the differences y_j - x_i, for x and y in
// ascending order, and the mean of the middle two where their number is even.
func MedianDifference(x, y []float64) float64 {
	mn := len(x) * len(y)
	low := KthDifference(x, y, (mn+1)/2)
	if mn%2 == 1 {
		return low
	}
	// The next one up is the smallest first one above low in any row.
	upTo := make([]int, len(x))
	if CountDifferences(x, y, low, upTo, true) > mn/2 {
		return low
	}
	high := math.Inf(1)
	for i, j := range upTo {
		if j < len(y) {
			high = math.Min(high, y[j]-x[i])
		}
	}
	return Mid(low, high)
}

// KthDifference returns the k-th smallest (from 1) of the m n differences
// y_j - x_i, for x and y in ascending order: selection in a matrix with sorted
// rows and columns. Rows are cut at pivots that a count of all differences
// takes m + n steps for, as by Johnson and Mizoguchi (SIAM Journal on Computing
// 7:147-153, 1978); the pivots come from a sample of what is left, one on
// either side of the rank that is sought (after Floyd and Rivest, Communications
// of the ACM 18:165-172, 1975). They decide how long it takes and nothing else.
func KthDifference(x, y []float64, k int) float64 {
	m, n := len(x), len(y)
	if m*n <= 256 {
		all := make([]float64, 0, m*n)
		for _, a := range x {
			for _, b := range y {
				all = append(all, b-a)
			}
		}
		return SelectKth(all, k-1)
	}
	space := rowBounds.Get().(*[]int)
	defer rowBounds.Put(space)
	*space = slices.Grow((*space)[:0], 4*m)[:4*m]
	rows := *space
	lo, hi := rows[:m], rows[m:2*m] // row i still holds y[lo[i]:hi[i]]
	below, upTo := rows[2*m:3*m], rows[3*m:]
	for i := range hi {
		lo[i], hi[i] = 0, n
	}
	out := 0 // differences certainly smaller
	g := pivotSeed
	var sample [pivotSample]float64
	alone := false // one pivot, which is sure to take something away where many are tied
	for left := m * n; left > 2*(m+n); {
		sampleDifferences(x, y, lo, hi, left, &g, sample[:])
		slices.Sort(sample[:])
		at := min((k-out)*pivotSample/left, pivotSample-1)
		low, high := sample[max(0, at-pivotReach)], sample[min(at+pivotReach, pivotSample-1)]
		if alone {
			low, high = sample[at], sample[at]
		}
		under := CountDifferences(x, y, low, below, false)
		notOver := CountDifferences(x, y, high, upTo, true)
		switch {
		case k <= under:
			copy(hi, below)
		case k > notOver:
			copy(lo, upTo)
			out = notOver
		case low == high:
			return low
		default:
			copy(lo, below)
			copy(hi, upTo)
			out = under
		}
		now := 0
		for i := range lo {
			now += hi[i] - lo[i]
		}
		alone = !alone && 4*now > 3*left
		left = now
	}
	rest := make([]float64, 0, 2*(m+n))
	for i, a := range x {
		for _, b := range y[lo[i]:hi[i]] {
			rest = append(rest, b-a)
		}
	}
	return SelectKth(rest, k-1-out)
}

// rowBounds holds working space of KthDifference, which is called a dozen times for
// each metric.
var rowBounds = sync.Pool{New: func() any { return new([]int) }}

const (
	pivotSample = 128
	// pivotReach is two standard deviations of a rank in the sample, at most.
	pivotReach = 11
	pivotSeed  = uint64(1975)
)

// sampleDifferences fills sample with differences that are left, one from each
// of as many equal stretches of them, row by row.
func sampleDifferences(x, y []float64, lo, hi []int, left int, g *uint64, sample []float64) {
	row, before := 0, 0 // differences left in the rows before
	for s := range sample {
		*g = *g*6364136223846793005 + 1442695040888963407 // Knuth's MMIX generator
		share := (float64(s) + float64(*g>>11)/(1<<53)) / float64(len(sample))
		at := min(int(share*float64(left)), left-1)
		for at-before >= hi[row]-lo[row] {
			before += hi[row] - lo[row]
			row++
		}
		sample[s] = y[lo[row]+at-before] - x[row]
	}
}

// CountDifferences counts the differences y_j - x_i below d (up to and with d
// if orEqual), row by row into count, for ascending x and y. Time m + n.
func CountDifferences(x, y []float64, d float64, count []int, orEqual bool) int {
	total, j := 0, 0
	for i, a := range x {
		for j < len(y) && (y[j]-a < d || orEqual && y[j]-a == d) {
			j++
		}
		count[i] = j
		total += j
	}
	return total
}

// WalshAverages lists the means of all pairs of values, each with itself as well,
// in ascending order.
func WalshAverages(d []float64) []float64 {
	w := make([]float64, 0, len(d)*(len(d)+1)/2)
	for i, a := range d {
		for _, b := range d[i:] {
			w = append(w, Mid(a, b))
		}
	}
	sort.Float64s(w)
	return w
}
