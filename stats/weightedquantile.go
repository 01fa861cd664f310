package stats

import (
	"math"
	"slices"
)

// WeightedQuantiles finds quantiles of values that count by weight, in bounded
// memory. The zero value is empty.
//
// The p-quantile is the smallest value below or at which at least the share p
// of the weight lies: the inverse of the weighted distribution function. With
// equal weights it is the first of the nine definitions of Hyndman and Fan
// (1996, The American Statistician 50:361-365; R's type = 1).
//
// Up to maxBins distinct values it is exact. A sensor reads in steps, so that
// is the rule. Beyond, values are filed in bins [k h, (k+1) h), h a power of
// two that doubles, merging bins in pairs, whenever more than maxBins are
// occupied. The weight below each border of a bin stays exact, so the true
// quantile lies in the bin found, and its midpoint is off by at most h/2. At
// the width before the last doubling more than maxBins bins were occupied,
// which takes a range of more than (maxBins - 1) h/2: so h/2 is below the
// range of the values over maxBins - 1, less than 0.025 % of it.
type WeightedQuantiles struct {
	weights map[float64]float64 // by value, or by number of bin once width > 0
	width   float64             // of a bin; 0: exact
	total   float64
	lo, hi  float64
	// What was added last, kept out of the map while it repeats.
	lastKey, lastWeight float64
}

// maxBins is how many distinct values, or bins, are kept.
const maxBins = 4096

// Add adds a finite value with a weight above zero; other weights add nothing.
func (q *WeightedQuantiles) Add(value, weight float64) {
	if !(weight > 0) {
		return
	}
	if q.weights == nil {
		q.weights = map[float64]float64{}
		q.lo, q.hi = value, value
	}
	q.lo, q.hi = min(q.lo, value), max(q.hi, value)
	q.total += weight
	if q.key(value) != q.lastKey {
		q.settle()
		q.lastKey = q.key(value) // settling may have made bins wider
	}
	q.lastWeight += weight
}

// key is where a value is filed.
func (q *WeightedQuantiles) key(value float64) float64 {
	if q.width == 0 {
		return value
	}
	return math.Floor(value / q.width)
}

// settle files what was added last.
func (q *WeightedQuantiles) settle() {
	if q.lastWeight == 0 {
		return
	}
	q.weights[q.lastKey] += q.lastWeight
	q.lastWeight = 0
	for len(q.weights) > maxBins {
		q.coarsen()
	}
}

// coarsen files exact values in bins, or merges bins in pairs.
func (q *WeightedQuantiles) coarsen() {
	factor := 2.0
	if q.width == 0 {
		// The largest power of two not above the range over maxBins - 1: half
		// of it would be within the bound that the doubling keeps.
		_, exponent := math.Frexp((q.hi - q.lo) / (maxBins - 1))
		q.width = math.Ldexp(1, exponent-1)
		factor = q.width
	} else {
		q.width *= 2
	}
	merged := make(map[float64]float64, len(q.weights))
	for _, key := range q.keys() { // in order, so that sums round the same every time
		merged[math.Floor(key/factor)] += q.weights[key]
	}
	q.weights = merged
}

func (q *WeightedQuantiles) keys() []float64 {
	keys := make([]float64, 0, len(q.weights))
	for key := range q.weights {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return keys
}

// Quantile returns the p-quantile, p from 0 to 1, and by how much it can be
// off: 0 where it is exact. It is NaN where nothing was added.
func (q *WeightedQuantiles) Quantile(p float64) (value, off float64) {
	if q.total == 0 {
		return math.NaN(), 0
	}
	q.settle()
	keys := q.keys()
	sum := 0.0
	for _, key := range keys {
		sum += q.weights[key]
	}
	// Sums of weights round: a share that is reached but for rounding is
	// reached.
	target := p * sum * (1 - 1e-12)
	found, below := keys[len(keys)-1], 0.0
	for _, key := range keys {
		if below += q.weights[key]; below >= target {
			found = key
			break
		}
	}
	if q.width == 0 {
		return found, 0
	}
	lo, hi := max(q.lo, found*q.width), min(q.hi, (found+1)*q.width)
	return lo/2 + hi/2, (hi - lo) / 2
}
