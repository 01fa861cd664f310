package plan

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// cloud is what repeated comparisons without a true change would show: estimates,
// and how far the upper end of the joined region (test at Alpha, interval at
// Confidence) lies above each. All of it moves with a true shift, so one cloud
// answers for every size of change.
type cloud struct {
	estimate, reach []float64
}

// caught is the share of repetitions in which a true loss is judged real and
// estimated beyond the margin.
func (c cloud) caught(loss, margin float64) float64 {
	n := 0
	for i, e := range c.estimate {
		if e+math.Max(c.reach[i], margin) < loss {
			n++
		}
	}
	return float64(n) / float64(len(c.estimate))
}

// smallestCaught is the loss that is caught with the given chance.
func (c cloud) smallestCaught(power, margin float64) float64 {
	need := make([]float64, len(c.estimate))
	for i, e := range c.estimate {
		need[i] = e + math.Max(c.reach[i], margin)
	}
	sort.Float64s(need)
	return need[min(len(need)-1, int(math.Ceil(power*float64(len(need)))))]
}

// closed is the same in large samples: a normal estimate and a fixed reach.
type closed struct {
	reach, se float64
	df        float64 // on which se rests
}

func (c closed) caught(loss, margin float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: c.df}.CDF((loss - math.Max(c.reach, margin)) / c.se)
}

func (c closed) smallestCaught(power, margin float64) float64 {
	return math.Max(c.reach, margin) + numeric.StudentQuantile(power, c.df)*c.se
}

// outlook is either of them.
type outlook interface {
	caught(loss, margin float64) float64
	smallestCaught(power, margin float64) float64
}

// usualReach is the mean distance from the estimate to the region's end. In a
// cloud the spread of each repetition is uncertain; its median repetition is
// the one with the pilot's own.
func usualReach(o outlook) float64 {
	if c, ok := o.(closed); ok {
		return c.reach
	}
	return numeric.Middle(numeric.Sorted(o.(cloud).reach))
}

// scaledOutlook simulates up to a size and scales the largest cloud beyond it:
// estimates with the root of the size, reaches also with the width of the test
// in standard errors.
func scaledOutlook(largest int, simulate func(int) cloud, width func(int) float64) func(int) outlook {
	seen := map[int]cloud{}
	return func(n int) outlook {
		from := min(n, largest)
		base, ok := seen[from]
		if !ok {
			base = simulate(from)
			seen[from] = base
		}
		if n == from {
			return base
		}
		spread := math.Sqrt(float64(from) / float64(n))
		grow := spread * width(n) / width(from)
		c := cloud{make([]float64, len(base.estimate)), make([]float64, len(base.reach))}
		for i := range base.estimate {
			c.estimate[i], c.reach[i] = spread*base.estimate[i], grow*base.reach[i]
		}
		return c
	}
}
