package numeric

import (
	"math"
	"slices"
)

// radixFrom is from how many values on SortWith is faster than comparing.
const radixFrom = 500

// Sort sorts ascending, many values faster than slices.Sort and those that are
// in order already in one look. No value may be NaN.
func Sort(x []float64) {
	switch {
	case len(x) < radixFrom:
		slices.Sort(x)
	case !slices.IsSorted(x):
		SortWith(x, make([]float64, len(x)))
	}
}

// SortWith is Sort with as much space lent. From radixFrom values on it
// sorts their bits, 11 at a time, which takes time linear in their number
// (least significant digit first; Knuth, The Art of Computer Programming 3,
// section 5.2.5).
func SortWith(x, spare []float64) {
	if len(x) < radixFrom {
		slices.Sort(x)
		return
	}
	const digit, passes = 11, 6
	var count [passes][1 << digit]uint32
	for _, v := range x {
		b := sortable(v)
		for p := range count {
			count[p][b>>(digit*p)&(1<<digit-1)]++
		}
	}
	from, to := x, spare[:len(x)]
	for p := range count {
		c := &count[p]
		if c[sortable(from[0])>>(digit*p)&(1<<digit-1)] == uint32(len(x)) {
			continue // one digit for all
		}
		start := uint32(0)
		for k, n := range c {
			c[k] = start
			start += n
		}
		for _, v := range from {
			k := sortable(v) >> (digit * p) & (1<<digit - 1)
			to[c[k]] = v
			c[k]++
		}
		from, to = to, from
	}
	if &from[0] != &x[0] {
		copy(x, from)
	}
}

// sortable are the bits of a number in an order that unsigned integers have:
// all turned where it is negative, else the sign alone.
func sortable(v float64) uint64 {
	b := math.Float64bits(v)
	return b ^ (uint64(int64(b)>>63) | 1<<63)
}
