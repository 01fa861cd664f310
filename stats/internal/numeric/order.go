package numeric

import (
	"math"
	"strconv"
	"strings"
)

// Sorted returns the values ascending. It panics on NaN, which has no place
// among them: the loops over ties behind it would not end.
func Sorted(x []float64) []float64 {
	s := append([]float64(nil), x...)
	for _, v := range s {
		if v != v {
			panic(NotANumber)
		}
	}
	Sort(s)
	return s
}

// NotANumber is what Sorted panics with.
const NotANumber = "stats: NaN among the values"

// Abs is the absolute value.
func Abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}

// Middle is the median of an ascending sample.
func Middle(s []float64) float64 { return Mid(s[(len(s)-1)/2], s[len(s)/2]) }

// Mid is the mean of two numbers: exact where they are equal, and mirrored
// exactly when both signs turn.
func Mid(a, b float64) float64 { return (a + b) / 2 }

// SelectKth returns the k-th smallest (from 0), reordering v (Hoare's
// selection).
func SelectKth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		pivot := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}

// TieTolerance is how far apart equal differences may come out, as a share of
// the largest value: that of readings and that of their logarithms round
// differently.
const TieTolerance = 1e-12

// Magnitude is the largest absolute value of an ascending sample.
func Magnitude(x []float64) float64 { return math.Max(math.Abs(x[0]), math.Abs(x[len(x)-1])) }

// SmallestGap is the smallest gap between ascending values that differ by more than
// rounding; 0 where none do.
func SmallestGap(s []float64) float64 {
	smallest := math.Inf(1)
	for i := 1; i < len(s); i++ {
		if gap := s[i] - s[i-1]; gap > 1e-9*math.Abs(s[i]) {
			smallest = math.Min(smallest, gap)
		}
	}
	if math.IsInf(smallest, 1) {
		return 0
	}
	return smallest
}

// Slack absorbs the rounding of a probability that is compared with a limit it
// may equal: 3 and 3 runs at 90 % must be able to settle.
const Slack = 1e-12

// LastPlace is the value of the last decimal that the shortest notation of v
// shows: 0.01 for 4.25, 1 for 60 and 1200.
func LastPlace(v float64) float64 {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	point := strings.IndexByte(s, '.')
	if point < 0 {
		return 1
	}
	return math.Pow(10, -float64(len(s)-1-point))
}
