package check

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// Step is in what steps readings were written: the larger of the last decimal shown and
// the step that most of them share, or, where they were computed from coarser ones and
// rounded, the step of those: rates from whole counts are multiples of one, rates from
// whole times have reciprocals that are. It is taken for that where fine readings would lie
// as close to multiples by chance once in 100,000 times, see gridStep.
func Step(logs ...[]float64) float64 {
	step, _ := Steps(logs...)
	return step
}

// Steps returns Step, and a coarser one that is possible: where fine readings
// would look as coarse once in twenty times, too few are there to tell.
func Steps(logs ...[]float64) (step, possible float64) {
	const certain, likely = 1e-5, 0.05
	place, grid, p := stepOf(logs)
	switch {
	case p > likely:
		return place, place
	case p > certain:
		return place, grid
	}
	return grid, grid
}

// stepOf is the last decimal of readings or their common step, and a larger one that they may
// have been computed from, with the chance that fine readings look so. Each log holds readings
// of its own, and may be a copy of another; that all logs repeat values of their own
// more often than the last decimal explains speaks for coarse ones, too.
func stepOf(logs [][]float64) (place, step, p float64) {
	x := slices.Concat(logs...)
	place = math.Max(stats.Resolution(x), finestPlace(x))
	distinct := slices.Compact(numeric.Sorted(x))
	step, p = gridStep(distinct, place)
	if len(distinct) > 0 && distinct[0] > 0 {
		inverse, middle := make([]float64, len(distinct)), numeric.Middle(distinct)
		for i, v := range distinct {
			inverse[len(distinct)-1-i] = middle * middle / v
		}
		if d, q := gridStep(inverse, place); q < p {
			step, p = d, q
		}
	}
	return place, step, p * repeatsP(place, logs)
}

// gridStep finds the step of which ascending readings are multiples, but for a constant
// and a remainder, and estimates the chance that fine readings leave as little. Each gap
// between neighbours is tried: sorted, each states how many steps it holds by what the
// smaller ones came to. Of k multiples two place the steps, and each other one
// lies within r of its own with probability 2 r / d, where d is the step and r the
// largest remainder, with half of what was rounded away on top. The chance is
// multiplied by the gaps tried so far.
func gridStep(x []float64, place float64) (step, p float64) {
	const most = 60
	x = x[:min(len(x), most)]
	n := len(x)
	p = 1
	if n < 3 {
		return place, p
	}
	gaps := make([]float64, n-1)
	for i := range gaps {
		gaps[i] = x[i+1] - x[i]
	}
	order := make([]int, n-1)
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(gaps[i], gaps[j]) })
	at, steps := make([]float64, n), make([]float64, n-1)
	tests := 0.0
	for _, part := range []float64{1, 2} { // none but readings two steps apart
		for first, tried := range order {
			whole := gaps[tried] / part
			if whole < 2*place || first > 0 && gaps[tried] == gaps[order[first-1]] {
				continue
			}
			tests++
			length, count, apart := 0.0, 0.0, false
			for _, i := range order {
				d := whole
				if count > 0 {
					d = length / count
				}
				if steps[i] = math.Round(gaps[i] / d); steps[i] > 0 {
					length, count = length+gaps[i], count+steps[i]
				} else if apart = gaps[i] > 2.5*place; apart { // more than rounding and a little jitter
					break
				}
			}
			if apart {
				continue
			}
			different := 1
			for i, k := range steps {
				if at[i+1] = at[i] + k; k > 0 {
					different++
				}
			}
			if different < 3 {
				continue
			}
			offset, d := stat.LinearRegression(at, x, nil, false)
			largest := 0.0
			for i, v := range x {
				largest = math.Max(largest, math.Abs(v-offset-d*at[i]))
			}
			share := math.Min(1, (2*largest+place)/d)
			if q := tests * math.Pow(share, float64(different-2)); q < p {
				step, p = d, q
			}
		}
	}
	return math.Max(step, place), p
}

// repeatsP is the chance that fine readings repeat in each log as often as they do in the
// one where that says least.
func repeatsP(place float64, logs [][]float64) float64 {
	if len(logs) < 2 {
		return 1 // copies of each other may be among them
	}
	p := 0.0
	for _, x := range logs {
		_, equal := numeric.TieSizes(x)
		if equal == 0 {
			return 1
		}
		mean := float64(len(x)*(len(x)-1)/2) * place / (2 * math.Sqrt(math.Pi) * stat.StdDev(x, nil))
		p = math.Max(p, mathext.GammaIncReg(float64(equal), mean))
	}
	return p
}
