package numeric

import (
	"math"
	"slices"
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
// rows and columns.
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
	r := newRows(space, m)
	for i := range m {
		r.lo[i], r.hi[i] = 0, n
	}
	r.value = func(i, j int) float64 { return y[j] - x[i] }
	r.count = func(d float64, to []int, orEqual bool) int { return CountDifferences(x, y, d, to, orEqual) }
	return r.kth(k, m*n, 2*(m+n))
}

// rowBounds holds working space of KthDifference, which is called a dozen times for
// each metric.
var rowBounds = sync.Pool{New: func() any { return new([]int) }}

// rows is what is left of a matrix with ascending rows and sorted columns: of row
// i the columns from lo[i] to before hi[i].
type rows struct {
	lo, hi, below, upTo []int // below and upTo are working space
	value               func(i, j int) float64
	// count counts the values below v (up to and with v if orEqual), and writes for
	// each row the column at which they end.
	count func(v float64, to []int, orEqual bool) int
}

func newRows(space *[]int, m int) *rows {
	*space = slices.Grow((*space)[:0], 4*m)[:4*m]
	s := *space
	return &rows{lo: s[:m], hi: s[m : 2*m], below: s[2*m : 3*m], upTo: s[3*m:]}
}

// kth returns the k-th smallest (from 1) of so many values. Rows are cut at pivots
// until at most enough are left; counting takes as many steps as there are rows and
// columns, as by Johnson and Mizoguchi (SIAM Journal on Computing 7:147-153, 1978).
// The pivots come from a sample of what is left, one on either side of the rank that
// is sought (after Floyd and Rivest, Communications of the ACM 18:165-172, 1975).
// They decide how long it takes and nothing else.
func (r *rows) kth(k, left, enough int) float64 {
	out := 0 // values certainly smaller
	g := pivotSeed
	var sample [pivotSample]float64
	alone := false // one pivot, which is sure to take something away where many are tied
	for left > enough {
		r.sample(left, &g, sample[:])
		slices.Sort(sample[:])
		at := min((k-out)*pivotSample/left, pivotSample-1)
		low, high := sample[max(0, at-pivotReach)], sample[min(at+pivotReach, pivotSample-1)]
		if alone {
			low, high = sample[at], sample[at]
		}
		under := r.count(low, r.below, false)
		notOver := r.count(high, r.upTo, true)
		switch {
		case k <= under:
			copy(r.hi, r.below)
		case k > notOver:
			copy(r.lo, r.upTo)
			out = notOver
		case low == high:
			return low
		default:
			copy(r.lo, r.below)
			copy(r.hi, r.upTo)
			out = under
		}
		now := 0
		for i := range r.lo {
			now += r.hi[i] - r.lo[i]
		}
		alone = !alone && 4*now > 3*left
		left = now
	}
	rest := make([]float64, 0, left)
	for i := range r.lo {
		for j := r.lo[i]; j < r.hi[i]; j++ {
			rest = append(rest, r.value(i, j))
		}
	}
	return SelectKth(rest, k-1-out)
}

const (
	pivotSample = 128
	// pivotReach is two standard deviations of a rank in the sample, at most.
	pivotReach = 11
	pivotSeed  = uint64(1975)
)

// sample fills into with values that are left, one from each of as many equal
// stretches of them, row by row.
func (r *rows) sample(left int, g *uint64, into []float64) {
	row, before := 0, 0 // values left in the rows before
	for s := range into {
		*g = *g*6364136223846793005 + 1442695040888963407 // Knuth's MMIX generator
		share := (float64(s) + float64(*g>>11)/(1<<53)) / float64(len(into))
		at := min(int(share*float64(left)), left-1)
		for at-before >= r.hi[row]-r.lo[row] {
			before += r.hi[row] - r.lo[row]
			row++
		}
		into[s] = r.value(row, r.lo[row]+at-before)
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
