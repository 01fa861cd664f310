package compare

import (
	"slices"

	"tunegate/stats"
)

// Reduction is what an engine found in the runs for which one value, their median,
// stands. On a ratio scale Mean is the geometric mean, and Spread that of logarithms.
type Reduction struct {
	Runs              int
	Sessions          int     // of a machine, whose value is the median of theirs; 0: the runs are of one session
	Mean, Spread      float64 // of the runs: in the metric's unit, and their standard deviation
	Smallest, Largest float64 // readings; the median where they are not known
	NoLargest         bool    // Largest is not known
}

// readings are the runs whose values are known: those at both ends, and the median
// where it is one of the readings.
func (r *Reduction) readings(median float64) []float64 {
	k := max(1, r.Sessions)
	switch {
	case r.Runs == 1, r.Smallest == r.Largest:
		return []float64{median}
	case r.Runs%k == 0 && r.Runs/k%2 == 1 && k%2 == 1:
		return []float64{r.Smallest, median, r.Largest}
	}
	return []float64{r.Smallest, r.Largest}
}

// IsReduced reports whether a row of the series stands for several runs.
func (s *Series) IsReduced() bool {
	for _, r := range s.rows() {
		if s.store.reduction(r) != nil {
			return true
		}
	}
	return false
}

// moments are those of the runs of a row, in the metric's unit.
func (m Metric) moments(value float64, r *Reduction) stats.Moments {
	switch {
	case r == nil:
		return stats.Moments{N: 1, Mean: value}
	case m.Scale == Ratio:
		return stats.LognormalMoments(float64(r.Runs), r.Mean, r.Spread)
	default:
		return stats.MomentsOf(float64(r.Runs), r.Mean, r.Spread)
	}
}

// sizes are the numbers of runs of its sessions: of a machine's the usual one.
func (x Spell) sizes() []int {
	if x.Reduced == nil {
		return []int{len(x.Runs)}
	}
	k := max(1, x.Reduced.Sessions)
	return slices.Repeat([]int{(2*x.Reduced.Runs + k) / (2 * k)}, k)
}
