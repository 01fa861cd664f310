package stats

import (
	"math"
	"sort"
)

// FisherExact tests whether two sides fail at different rates: a of a+b passes
// failed on one side, c of c+d on the other. It returns the two-sided p of
// Fisher's exact test: the chance, given both sides' passes and the failures
// of both together, of all tables that are no more likely than this one (Fisher
// 1935, The Logic of Inductive Inference, JRSS 98:39-54; two-sided as R's
// fisher.test has it, with its slack of 1e-7). It panics when a count is below
// 0.
func FisherExact(a, b, c, d int) float64 {
	low, chance := tablesLike(a, b, c, d)
	limit := chance[a-low] * (1 + 1e-7)
	p := 0.0
	for _, v := range chance {
		if v <= limit {
			p += v
		}
	}
	return math.Min(1, p)
}

// Boschloo is FisherExact without its excess of caution: Fisher's one-sided p
// serves as the statistic only, and the chance of one as small is computed for
// two independent binomials and the common rate that makes it largest
// (Boschloo, Statistica Neerlandica 24:1-9, 1970). The two-sided p is twice
// the smaller one-sided one, at most 1. It never exceeds twice the smaller of
// Fisher's one-sided p, and is valid when only the numbers of passes were fixed
// beforehand. It panics when a count is below 0.
func Boschloo(a, b, c, d int) float64 {
	return math.Min(1, 2*math.Min(boschlooGreater(a, b, c, d), boschlooGreater(c, d, a, b)))
}

// tablesLike returns the chance of each number of failures of the first side,
// from low on, given the margins.
func tablesLike(a, b, c, d int) (low int, chance []float64) {
	if min(a, b, c, d) < 0 {
		panic("stats: a count below 0")
	}
	first, second, failures := a+b, c+d, a+c
	low = max(0, failures-second)
	chance = make([]float64, min(first, failures)-low+1)
	// From the likeliest table outwards, by the ratio of neighbours, so that
	// nothing overflows.
	ratio := func(k int) float64 { // of the chance of k+1 to that of k
		return float64(first-k) * float64(failures-k) / (float64(k+1) * float64(second-failures+k+1))
	}
	mode := sort.Search(len(chance)-1, func(i int) bool { return ratio(low+i) < 1 })
	chance[mode] = 1
	total := 1.0
	for i := mode + 1; i < len(chance); i++ {
		chance[i] = chance[i-1] * ratio(low+i-1)
		total += chance[i]
	}
	for i := mode - 1; i >= 0; i-- {
		chance[i] = chance[i+1] / ratio(low+i)
		total += chance[i]
	}
	for i := range chance {
		chance[i] /= total
	}
	return low, chance
}

// boschlooGreater is the one-sided p for "the first side fails more often".
//
// Whatever the common rate r, the tables with s failures in all have among
// themselves the chances of tablesLike. So the chance of a table at least as
// extreme is the sum over s of Binomial(s; N, r) times the largest one-sided p
// that s failures can have without exceeding the observed one.
func boschlooGreater(a, b, c, d int) float64 {
	low, chance := tablesLike(a, b, c, d)
	observed := 0.0
	for i := len(chance) - 1; i >= a-low; i-- {
		observed += chance[i]
	}
	observed *= 1 + 1e-12
	first, all := a+b, a+b+c+d
	extreme := make([]float64, all+1)
	for s := range extreme {
		most, least := min(first, s), max(0, s-c-d)
		_, chance := tablesLike(most, first-most, s-most, c+d-(s-most))
		tail := 0.0
		for i := most - least; i >= 0 && tail+chance[i] <= observed; i-- {
			tail += chance[i]
		}
		extreme[s] = tail
	}
	at := func(angle float64) float64 {
		r := math.Sin(angle)
		return binomialMean(extreme, r*r)
	}
	// On the scale of the angle a binomial share has the standard deviation
	// 1/(2 sqrt(N)) everywhere; an eighth of that is a fine enough grid.
	steps := int(math.Ceil(4 * math.Pi * math.Sqrt(float64(all+1))))
	best := 0.0
	width := math.Pi / 2 / float64(steps)
	values := make([]float64, steps+1)
	for i := range values {
		values[i] = at(float64(i) * width)
		best = math.Max(best, values[i])
	}
	for i := range values {
		if i > 0 && values[i] < values[i-1] || i < steps && values[i] < values[i+1] || values[i] < 0.9*best {
			continue // no peak, or one that cannot become the highest
		}
		best = math.Max(best, peak(at, math.Max(0, float64(i-1)*width), math.Min(math.Pi/2, float64(i+1)*width)))
	}
	return math.Min(1, best)
}

// binomialMean is the mean of value[s] over s of Binomial(len(value)-1, rate).
func binomialMean(value []float64, rate float64) float64 {
	n := len(value) - 1
	if rate <= 0 || n == 0 {
		return value[0]
	}
	if rate >= 1 {
		return value[n]
	}
	mode := min(n, int(float64(n+1)*rate))
	odds := rate / (1 - rate)
	total, sum := 1.0, value[mode]
	for s, w := mode, 1.0; s < n && w > 1e-30; s++ {
		w *= odds * float64(n-s) / float64(s+1)
		total, sum = total+w, sum+w*value[s+1]
	}
	for s, w := mode, 1.0; s > 0 && w > 1e-30; s-- {
		w *= float64(s) / (odds * float64(n-s+1))
		total, sum = total+w, sum+w*value[s-1]
	}
	return sum / total
}

// peak is the largest value of a function with one peak between lo and hi, by
// golden section.
func peak(f func(float64) float64, lo, hi float64) float64 {
	const golden = 0.6180339887498949
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	fa, fb := f(a), f(b)
	for hi-lo > 1e-9 {
		if fa >= fb {
			hi, b, fb = b, a, fa
			a = hi - golden*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + golden*(hi-lo)
			fb = f(b)
		}
	}
	return math.Max(fa, fb)
}
