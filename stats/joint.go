package stats

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"tunegate/stats/internal/numeric"
)

// Joint is one side of a comparison of several quantities that were measured in
// the same sessions: a row a session, a column a quantity, NaN where a session
// lacks one. What a session has in common is in its row, so whole rows are drawn
// and exchanged.
type Joint [][]float64

// JointShift returns the weighted mean over columns of the Hodges-Lehmann
// estimates of after - before. Every column needs a value on both sides.
func JointShift(before, after Joint, weights []float64) float64 {
	return newJointWalk(before, after, weights).shift(ones(len(before)), ones(len(after)))
}

// JointInterval returns the bootstrap interval of JointShift: sessions are
// resampled whole, so that what they have in common stays together, and the
// ends are widened for small samples as PooledInterval's are, with each side's
// variance taken by the jackknife over its sessions (Efron and Tibshirani 1993,
// chapter 11). A resample that lacks a quantity on a side is drawn again. ok is
// false with fewer than two sessions on a side, where nothing varies, and where
// quantities are in so few sessions that most resamples lack one.
func JointInterval(before, after Joint, weights []float64, confidence float64, resamples int, seed uint64) (lo, hi float64, ok bool) {
	if swapJoint(before, after) {
		lo, hi, ok = JointInterval(after, before, weights, confidence, resamples, seed)
		return -hi, -lo, ok
	}
	w := newJointWalk(before, after, weights)
	se, df, k := w.jackknife()
	if !(se > 0) || math.IsInf(se, 0) {
		return math.NaN(), math.NaN(), false
	}
	return w.bootstrap(resamples, seed, numeric.NormalCDF(-math.Sqrt(k)*numeric.StudentQuantile((1+confidence)/2, df)))
}

// maxRedraws is how many draws a resample may take on average.
const maxRedraws = 20

// bootstrap returns the ends that leave the given share beyond each.
func (w *jointWalk) bootstrap(resamples int, seed uint64, tail float64) (lo, hi float64, ok bool) {
	g := rand.New(rand.NewPCG(seed, 0))
	cx, cy := make([]int, len(w.before)), make([]int, len(w.after))
	shifts := make([]float64, resamples)
	for i, left := 0, maxRedraws*resamples; i < resamples; i++ {
		for ; ; left-- {
			if left == 0 {
				return math.NaN(), math.NaN(), false
			}
			drawSessions(g, cx)
			drawSessions(g, cy)
			if w.covers(cx, cy) {
				break
			}
		}
		shifts[i] = w.shift(cx, cy)
	}
	cut := int(tail * float64(resamples))
	return numeric.SelectKth(shifts, cut), numeric.SelectKth(shifts, resamples-1-cut), true
}

// swapJoint orders two sides as swapFirst does, so that swapping them mirrors
// every bit of what is drawn.
func swapJoint(before, after Joint) bool {
	if len(before) != len(after) {
		return len(before) > len(after)
	}
	for i := range before {
		for c := range before[i] {
			if b, a := before[i][c], after[i][c]; b != a && !(math.IsNaN(b) && math.IsNaN(a)) {
				return b > a || math.IsNaN(b)
			}
		}
	}
	return false
}

func drawSessions(g *rand.Rand, count []int) {
	clear(count)
	for range count {
		count[g.IntN(len(count))]++
	}
}

func ones(n int) []int { return slices.Repeat([]int{1}, n) }

// jointWalk holds the differences of each column in ascending order, so that a
// resample's weighted median takes one walk a column.
type jointWalk struct {
	before, after Joint
	weights       []float64
	columns       [][]jointPair
}

type jointPair struct {
	d    float64
	i, j int
}

func newJointWalk(before, after Joint, weights []float64) *jointWalk {
	w := &jointWalk{before: before, after: after, weights: weights}
	for c := range weights {
		var pairs []jointPair
		for i, b := range before {
			for j, a := range after {
				if !math.IsNaN(b[c]) && !math.IsNaN(a[c]) {
					pairs = append(pairs, jointPair{a[c] - b[c], i, j})
				}
			}
		}
		slices.SortFunc(pairs, func(a, b jointPair) int {
			return cmp.Or(cmp.Compare(a.d, b.d), cmp.Compare(a.i, b.i), cmp.Compare(a.j, b.j))
		})
		w.columns = append(w.columns, pairs)
	}
	return w
}

// covers reports whether every column has a pair.
func (w *jointWalk) covers(cx, cy []int) bool {
	for _, pairs := range w.columns {
		if !slices.ContainsFunc(pairs, func(p jointPair) bool { return cx[p.i]*cy[p.j] > 0 }) {
			return false
		}
	}
	return true
}

// shift is JointShift with each session counted so often.
func (w *jointWalk) shift(cx, cy []int) float64 {
	total, weight := 0.0, 0.0
	for c, pairs := range w.columns {
		all := 0
		for _, p := range pairs {
			all += cx[p.i] * cy[p.j]
		}
		// The middle one or two of so many differences.
		seen, low, found := 0, 0.0, false
		for _, p := range pairs {
			n := cx[p.i] * cy[p.j]
			if n == 0 {
				continue
			}
			seen += n
			if !found && seen >= (all+1)/2 {
				low, found = p.d, true
			}
			if seen >= all/2+1 {
				total += w.weights[c] * numeric.Mid(low, p.d)
				break
			}
		}
		weight += w.weights[c]
	}
	return total / weight
}

// jackknife returns the standard error of JointShift, its degrees of freedom
// and k as pooledError does, NaN where a side has fewer than two sessions.
// Leaving out the only session with a quantity is left out itself.
func (w *jointWalk) jackknife() (se, df, k float64) {
	of := func(side int) (v, n float64) {
		counts := [2][]int{ones(len(w.before)), ones(len(w.after))}
		var without []float64
		for i := range counts[side] {
			counts[side][i] = 0
			if w.covers(counts[0], counts[1]) {
				without = append(without, w.shift(counts[0], counts[1]))
			}
			counts[side][i] = 1
		}
		n = float64(len(without))
		if n < 2 {
			return math.NaN(), n
		}
		return numeric.Variance(without) * (n - 1) * (n - 1) / n, n
	}
	vb, m := of(0)
	va, n := of(1)
	total := vb + va
	df = total * total / (vb*vb/(m-1) + va*va/(n-1))
	k = math.Sqrt(total / (vb*(m-1)/m + va*(n-1)/n))
	return math.Sqrt(total), df, k
}

// JointError returns the standard error of JointShift by the jackknife over
// sessions, and its degrees of freedom; NaN with fewer than two on a side.
func JointError(before, after Joint, weights []float64) (se, df float64) {
	se, df, _ = newJointWalk(before, after, weights).jackknife()
	return se, df
}

// JointPermutation tests whether the weighted mean of the columns' changes is 0,
// by exchanging whole sessions between the sides. The statistic is the weighted
// sum of differences of means, of values clipped at clipAt, over what its scale
// would be by the numbers of values that an assignment leaves on each side:
// where the sides lack different columns, assignments differ in scale. Exact or
// drawn as PooledPermutation is. A column that an assignment leaves empty on a
// side counts nothing.
func JointPermutation(before, after Joint, weights []float64, resamples int, seed uint64) PermutationTest {
	if swapJoint(before, after) {
		t := JointPermutation(after, before, weights, resamples, seed)
		t.Superiority = 1 - t.Superiority
		return t
	}
	all := slices.Concat(before, after)
	m := len(before)
	isAfter := make([]bool, len(all))
	for i := m; i < len(all); i++ {
		isAfter[i] = true
	}
	statistic := jointStatistic(all, weights)
	t := tally{seen: statistic(isAfter)}
	exact := numeric.Choose(len(all), m) <= assignmentLimit
	if exact {
		eachAssignment(isAfter, len(all)-m, func() { t.add(statistic(isAfter)) })
	} else {
		g := rand.New(rand.NewPCG(seed, 1))
		t.add(t.seen)
		for range resamples {
			g.Shuffle(len(isAfter), func(i, j int) { isAfter[i], isAfter[j] = isAfter[j], isAfter[i] })
			t.add(statistic(isAfter))
		}
	}
	out := t.test()
	out.Exact = exact
	weight := 0.0
	for c, w := range weights {
		x, y := columnOf(before, c), columnOf(after, c)
		out.Superiority += w * tieGroups(x, y).share()
		weight += w
	}
	out.Superiority /= weight
	return out
}

// columnOf lists the values that a side has of a quantity.
func columnOf(side Joint, c int) []float64 {
	var out []float64
	for _, row := range side {
		if !math.IsNaN(row[c]) {
			out = append(out, row[c])
		}
	}
	return out
}

// SmallestJointP is the smallest two-sided p that m and n sessions can reach
// by JointPermutation.
func SmallestJointP(m, n, resamples int) float64 {
	return drawnFloor(2/numeric.Choose(m+n, m), resamples)
}

// jointStatistic returns the statistic as a function of which sessions are
// after.
func jointStatistic(all Joint, weights []float64) func(isAfter []bool) float64 {
	values := make([][]float64, len(weights)) // of the column, in row order
	rows := make([][]int, len(weights))       // that have one
	spread := make([]float64, len(weights))
	for c := range weights {
		for i, row := range all {
			if !math.IsNaN(row[c]) {
				values[c], rows[c] = append(values[c], row[c]), append(rows[c], i)
			}
		}
		values[c] = clipped(values[c])
		spread[c] = math.Sqrt(numeric.Variance(values[c]))
	}
	return func(isAfter []bool) float64 {
		total, scale := 0.0, 0.0
		for c, w := range weights {
			var sums [2]float64
			var counts [2]int
			for k, i := range rows[c] {
				side := 0
				if isAfter[i] {
					side = 1
				}
				sums[side] += values[c][k]
				counts[side]++
			}
			m, n := float64(counts[0]), float64(counts[1])
			if m == 0 || n == 0 {
				continue
			}
			total += w * (sums[1]/n - sums[0]/m)
			scale += w * spread[c] * math.Sqrt(1/m+1/n)
		}
		if scale == 0 {
			return 0
		}
		return total / scale
	}
}
