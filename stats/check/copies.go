package check

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"tunegate/stats/internal/numeric"
)

// Density bounds the integral of the squared density of this noise, per unit of the
// readings: times a step, the chance that two readings are equal, and that one lies
// within a step of any point that does not depend on it (by the inequality of Cauchy
// and Schwarz). Each log holds the readings of each sitting in run order, and
// step is in what steps they were written, see Step. It returns +Inf where nothing shows
// the noise.
//
// It is the larger of two estimates, SmoothDensity and one that holds for modes and limits,
// too: it counts the nearest pairs of readings of a log, see nearestPairs.
func Density(step float64, logs ...[][]float64) float64 {
	smooth := SmoothDensity(logs...)
	if math.IsInf(smooth, 1) {
		return smooth
	}
	nearest := 0.0
	for _, lists := range logs {
		nearest = math.Max(nearest, nearestPairs(step, lists))
	}
	if nearest == 0 {
		nearest = nearestPairs(step, slices.Concat(logs...))
	}
	return math.Max(smooth, nearest)
}

// SmoothDensity is Density where the noise has neither modes nor limits: that of
// normal noise of standard deviation s, 1 / (2 sqrt(pi) s), twice, since exponential and
// Student's t noise come to at most 1.8 times as much. s comes from the smallest of three
// medians, so that neither what sittings differ by nor a drift or a warm-up that they share
// makes equal readings seem rare: of the differences between readings of a sitting, of those
// from the reading before, and of those from the reading at the same place of the sitting
// before, each without equal readings, which may be copies. A median of fewer than a
// dozen may be far too small by chance: where none has more, it is that of the differences
// between any two readings of a log.
func SmoothDensity(logs ...[][]float64) float64 {
	const maxPaired, enough = 60, 12
	var kinds [3][]float64 // among a sitting, from the one before, beside
	for _, lists := range logs {
		for k, x := range lists {
			for i := 1; i < len(x); i++ {
				kinds[1] = append(kinds[1], math.Abs(x[i]-x[i-1]))
				for _, u := range x[:min(i, maxPaired)] {
					kinds[0] = append(kinds[0], math.Abs(x[i]-u))
				}
			}
			if k > 0 {
				for i := range min(len(x), len(lists[k-1])) {
					kinds[2] = append(kinds[2], math.Abs(x[i]-lists[k-1][i]))
				}
			}
		}
	}
	const normalMedian = 0.6745 // of |Z|
	s := math.Inf(1)
	take := func(differences []float64, least int) {
		differences = slices.DeleteFunc(differences, func(d float64) bool { return d == 0 })
		if len(differences) >= least {
			s = math.Min(s, numeric.Middle(numeric.Sorted(differences))/(normalMedian*math.Sqrt2))
		}
	}
	for _, differences := range kinds {
		take(differences, enough)
	}
	if math.IsInf(s, 1) {
		var pairs []float64
		for _, lists := range logs {
			all := slices.Concat(lists...)
			for i, v := range all {
				for _, u := range all[:min(i, maxPaired)] {
					pairs = append(pairs, math.Abs(v-u))
				}
			}
		}
		take(pairs, 1)
	}
	if math.IsInf(s, 1) || s == 0 {
		return math.Inf(1)
	}
	return 1 / (math.Sqrt(math.Pi) * s)
}

// DensityOfDifferences is Density of the noise of readings of which only pairs have their
// level in common, such as two profiles' in one block, from the differences within the
// pairs that are not equal. s comes from the smaller of two medians: of the differences,
// which are of mean 0 where both readings have one level, and of the gaps between any two
// of them, where they have not; of more than 400 differences, 400 at even distances in d
// count, so that time does not grow with the square. It returns 0 where nothing shows the
// noise.
func DensityOfDifferences(d []float64) float64 {
	const normalMedian, most = 0.6745, 400 // of |Z|
	if len(d) == 0 {
		return 0
	}
	if len(d) > most {
		kept := make([]float64, most)
		for i := range kept {
			kept[i] = d[i*len(d)/most]
		}
		d = kept
	}
	var sizes, gaps []float64
	for i, x := range d {
		sizes = append(sizes, math.Abs(x))
		for _, y := range d[:i] {
			gaps = append(gaps, math.Abs(x-y))
		}
	}
	s := numeric.Middle(numeric.Sorted(sizes)) / (normalMedian * math.Sqrt2)
	if len(d) > 2 {
		s = math.Min(s, numeric.Middle(numeric.Sorted(gaps))/(normalMedian*2))
	}
	return 1 / (math.Sqrt(math.Pi) * s)
}

// nearestPairs estimates the density from the pairs of readings with the smallest
// differences, up to w: of all pairs their share is near 2 w times the density,
// whatever the shape of the noise. Half as much again allows for what few pairs can tell.
// Pairs of one sitting are taken where there are enough, else all; it returns 0 for fewer
// than ten. Readings that stand there twice may be copies and count once. Those that
// stand there three times repeat by themselves, four times where more than half of all
// differ; of six different ones and more only those that stand there three times as often
// as the middle one, as at a limit: where most stand there often, they are copies, or
// steps, which the gaps show.
func nearestPairs(step float64, lists [][]float64) float64 {
	const nearest, allowance, enough, maxList, jump, different = 7, 1.5, 10, 200, 30, 6
	within := 0
	for _, x := range lists {
		within += len(x) * (len(x) - 1) / 2
	}
	if within < enough {
		if lists = [][]float64{slices.Concat(lists...)}; len(lists[0])*(len(lists[0])-1)/2 < enough {
			return 0
		}
	}
	count := map[float64]int{}
	for _, x := range lists {
		for _, v := range x {
			count[v]++
		}
	}
	counts := slices.Sorted(maps.Values(count))
	often := 3
	switch {
	case len(counts) >= different:
		often *= counts[len(counts)/2]
	case 2*len(counts) > len(slices.Concat(lists...)):
		often = 4 // three of six come about by chance
	}
	var gaps []float64
	met := map[float64]bool{}
	for _, x := range lists {
		var kept []float64
		for _, v := range x[:min(len(x), maxList)] {
			if count[v] >= often || !met[v] {
				kept = append(kept, v)
			}
			met[v] = true
		}
		gaps = slices.Grow(gaps, len(kept)*(len(kept)-1)/2)
		for i, v := range kept {
			for _, u := range kept[:i] {
				gaps = append(gaps, math.Abs(u-v))
			}
		}
	}
	if len(gaps) == 0 {
		return math.Inf(1)
	}
	least := make([]float64, 0, nearest+1) // ascending
	for _, gap := range gaps {
		if len(least) == nearest && gap >= least[nearest-1] {
			continue
		}
		at, _ := slices.BinarySearch(least, gap)
		least = slices.Insert(least, at, gap)
		least = least[:min(len(least), nearest)]
	}
	near := len(least)
	for k := 1; k < near; k++ {
		if least[k] > jump*math.Max(least[k-1], step) { // the gap between two modes
			near = k
		}
	}
	w := math.Max(least[near-1], step/2)
	within = 0
	for _, gap := range gaps {
		if gap < w*(1+1e-9) {
			within++
		}
	}
	return allowance * float64(within) / (2 * w * float64(len(gaps)))
}

// Overlap counts what two lists of readings of one metric have in common.
type Overlap struct {
	N, M int // readings of each
	// Self says that they are one list, of which the pairs of different readings count.
	Self   bool
	Equal  int     // pairs that are equal
	Chance float64 // that two readings are equal
}

// EqualAnywhereP bounds the chance of as many equal pairs in total where all readings
// were measured and the metrics do not depend on each other. The pairs share readings:
// of two lists their number has mean m = N M Chance and a variance of at most
// m + m^2 (N + M) / (N M), of one list half that mean and m + 4 m^2 / N, and the tail is that
// of a negative binomial distribution, as in Repeats.
func EqualAnywhereP(metrics []Overlap) float64 {
	equal, mean, excess := 0, 0.0, 0.0
	for _, o := range metrics {
		n, m := float64(o.N), float64(o.M)
		expected, share := n*m*o.Chance, (n+m)/(n*m)
		if o.Self {
			expected, share = n*(n-1)/2*o.Chance, 4/n
		}
		equal, mean, excess = equal+o.Equal, mean+expected, excess+expected*expected*share
	}
	if equal == 0 || excess == 0 {
		return 1
	}
	size := mean * mean / excess
	return mathext.RegIncBeta(float64(equal), size, mean/(mean+size))
}

// Aligned counts the readings of one metric that stand at the same place of two lists.
type Aligned struct {
	Pairs  int     // that were compared
	Equal  int     // of those
	Chance float64 // that two readings are equal
}

// EqualInPlaceP bounds the chance of as many equal pairs in total where all readings were
// measured and the metrics do not depend on each other. The pairs share no reading, and
// above its mean plus 1 their number has at most the tail of a binomial distribution with
// the mean chance (Hoeffding, Annals of Mathematical Statistics 27:713-721, 1956).
func EqualInPlaceP(metrics []Aligned) float64 {
	equal, pairs, mean := 0, 0, 0.0
	for _, a := range metrics {
		equal, pairs = equal+a.Equal, pairs+a.Pairs
		mean += float64(a.Pairs) * a.Chance
	}
	if equal == 0 || float64(equal) < mean+1 && equal < pairs {
		return 1
	}
	return mathext.RegIncBeta(float64(equal), float64(pairs-equal+1), mean/float64(pairs))
}

// scale is a factor, or a shift, that a pair of readings states, and the window that
// other readings of the second list may lie in: from below up to above + slope x over
// where it moves a reading x of the first.
type scale struct {
	factor, offset      float64
	below, above, slope float64
}

// scaleOf is what makes the reading x of a pair its y. Of the readings that one factor
// explains it is the pair that rounding moved down most, so that the others lie above it,
// by up to half of within, the step that y is rounded to, for each of the two.
func scaleOf(x, y, within float64, shift bool) scale {
	slack := 1e-6 * within
	if shift {
		return scale{factor: 1, offset: y - x, below: slack, above: within + slack}
	}
	return scale{factor: y / x, below: slack, above: within/2 + slack, slope: within / 2 / x}
}

// by is the factor, or the shift.
func (s scale) by(shift bool) float64 {
	if shift {
		return s.offset
	}
	return s.factor
}

// explains reports whether rounding explains a reading y of one that was x.
func (s scale) explains(x, y float64) bool {
	d := y - (x*s.factor + s.offset)
	return d >= -s.below && d <= s.above+s.slope*x
}

// Scaled finds the factor, or the shift, by which as many readings of y as possible are
// readings of x, each to within what rounding explains, whatever their order. x and y are
// ascending and above zero where a factor is sought; within is the step that y is rounded
// to. pairs says which of x and y belong together; nil where they are fewer than least.
func Scaled(x, y []float64, within float64, shift bool, least int) (by float64, pairs [][2]int) {
	least = max(least, 1)
	if !mayBeScaled(x, y, within, shift, least) {
		return 0, nil
	}
	for i := range x {
		for j := range y {
			of := scaleOf(x[i], y[j], within, shift)
			if found := of.matches(x, y, max(least, len(pairs)+1)); found != nil {
				by, pairs = of.by(shift), found
			}
		}
	}
	return by, pairs
}

// mayBeScaled is false where fewer pairs than least belong together. The first of them
// has least - 1 readings of either list behind it, and states the factor or the shift
// as well as any other does, to within the rounding of both.
func mayBeScaled(x, y []float64, within float64, shift bool, least int) bool {
	for i := range len(x) - least + 1 {
		for j := range len(y) - least + 1 {
			wide := 2 * within
			if !shift {
				wide = within * (1 + x[len(x)-1]/x[i])
			}
			of := scaleOf(x[i], y[j], within, shift)
			of.below, of.above, of.slope = wide*(1+1e-6), wide*(1+1e-6), 0
			if of.matches(x[i:], y[j:], least) != nil {
				return true
			}
		}
	}
	return false
}

// matches pairs the readings of y with those of x that they are explained by; nil where
// they are fewer than least.
func (s scale) matches(x, y []float64, least int) (found [][2]int) {
	for a, b := 0, 0; len(found)+min(len(x)-a, len(y)-b) >= least; {
		if a == len(x) || b == len(y) {
			return found
		}
		switch d := y[b] - (x[a]*s.factor + s.offset); {
		case d > s.above+s.slope*x[a]:
			a++
		case d < -s.below:
			b++
		default:
			found = append(found, [2]int{a, b})
			a++
			b++
		}
	}
	return nil
}

// ScaledP bounds the chance that Scaled finds k pairs among n and m readings that were all
// measured, where a reading lies within a step above any point with probability
// chance: one pair states the factor, k - 1 others agree with it, in so many ways,
//
//	k binomial(n, k) m! / (m - k)! chance^(k-1).
func ScaledP(k, n, m int, chance float64) float64 {
	if k < 2 {
		return 1
	}
	logFactorial := func(n int) float64 {
		v, _ := math.Lgamma(float64(n) + 1)
		return v
	}
	ways := logFactorial(n) - logFactorial(k) - logFactorial(n-k) + logFactorial(m) - logFactorial(m-k)
	return math.Min(1, math.Exp(math.Log(float64(k))+ways+float64(k-1)*math.Log(chance)))
}

// ScaledInPlace finds the factor, or the shift, by which as many readings of y as possible
// are the readings of x at the same place, each to within what rounding explains. x and y
// are as long as each other, within is as in Scaled, and at says which places agree.
func ScaledInPlace(x, y []float64, within float64, shift bool) (by float64, at []int) {
	for i := range x {
		of := scaleOf(x[i], y[i], within, shift)
		var found []int
		for k, v := range x {
			if of.explains(v, y[k]) {
				found = append(found, k)
			}
		}
		if len(found) > len(at) {
			by, at = of.by(shift), found
		}
	}
	return by, at
}

// ScaledInPlaceP bounds the chance that ScaledInPlace finds k of n places where all was
// measured: one states the factor, of which there are n, and k - 1 of the others agree
// with it, each with probability chance.
func ScaledInPlaceP(k, n int, chance float64) float64 {
	if k < 2 {
		return 1
	}
	return math.Min(1, float64(n)*EqualInPlaceP([]Aligned{{Pairs: n - 1, Equal: k - 1, Chance: math.Min(1, chance)}}))
}

// TogetherP combines p values of metrics that do not depend on each other by Fisher's
// method: minus the sum of their logarithms has a gamma distribution.
func TogetherP(p []float64) float64 {
	sum := 0.0
	for _, v := range p {
		sum -= math.Log(math.Max(v, 1e-300))
	}
	if len(p) == 0 || sum == 0 {
		return 1
	}
	return mathext.GammaIncRegComp(float64(len(p)), sum)
}
