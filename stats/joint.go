package stats

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// Joint is one side of a comparison of several quantities that were measured
// in the same sessions: a row a session, a column a quantity, NaN where a
// session lacks one. A session's luck is common to its row, so rows are what
// is drawn and exchanged.
type Joint [][]float64

// jointLimit bounds the assignments of sessions that are enumerated.
const jointLimit = 20_000

// JointShift returns the weighted mean over columns of the Hodges-Lehmann
// estimates of after - before. Every column needs a value on both sides.
func JointShift(before, after Joint, weights []float64) float64 {
	return newJointWalk(before, after, weights).shift(ones(len(before)), ones(len(after)))
}

// JointInterval returns the bootstrap interval of JointShift: sessions are
// resampled whole, so that what they have in common stays together, and the
// ends are widened for small samples as WidenedInterval's are, with each side's
// variance taken by the jackknife over its sessions (Efron and Tibshirani 1993,
// chapter 11). A resample that lacks a quantity on a side is drawn again. ok is
// false with fewer than two sessions on a side, or where nothing varies.
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
	lo, hi = w.bootstrap(resamples, seed, normalCDF(-math.Sqrt(k)*studentQuantile((1+confidence)/2, df)))
	return lo, hi, true
}

// JointPercentileInterval returns the plain percentile bootstrap interval of
// JointShift on the same resampling plan, without widening.
func JointPercentileInterval(before, after Joint, weights []float64, confidence float64, resamples int, seed uint64) (lo, hi float64) {
	return newJointWalk(before, after, weights).bootstrap(resamples, seed, (1-confidence)/2)
}

// bootstrap returns the ends that leave the given share beyond each.
func (w *jointWalk) bootstrap(resamples int, seed uint64, tail float64) (lo, hi float64) {
	g := rand.New(rand.NewPCG(seed, 0))
	cx, cy := make([]int, len(w.before)), make([]int, len(w.after))
	shifts := make([]float64, resamples)
	for i := range shifts {
		for {
			drawSessions(g, cx)
			drawSessions(g, cy)
			if w.covers(cx, cy) {
				break
			}
		}
		shifts[i] = w.shift(cx, cy)
	}
	cut := int(tail * float64(resamples))
	return selectKth(shifts, cut), selectKth(shifts, resamples-1-cut)
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
				total += w.weights[c] * mid(low, p.d)
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
		return variance(without) * (n - 1) * (n - 1) / n, n
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

// JointTest is the outcome of JointPermutation.
type JointTest struct {
	T        float64 // weighted mean over columns of U / (m n): half when nothing changed
	P        float64 // two-sided: P(|T - 1/2| >= |t - 1/2|)
	PVerdict float64 // the larger of P and twice the smaller tail, at most 1
	Exact    bool    // all assignments, not a draw of them
}

// JointPermutation tests whether sessions of one side tend to be larger than
// those of the other in the weighted mean of the columns' Mann-Whitney
// statistics, by exchanging whole sessions between the sides: all assignments
// where there are at most 20,000, else so many as resamples says, drawn from
// the seed and counted with the one at hand (Phipson and Smyth 2010). A column
// that an assignment leaves empty on a side counts half.
func JointPermutation(before, after Joint, weights []float64, resamples int, seed uint64) JointTest {
	if swapJoint(before, after) {
		t := JointPermutation(after, before, weights, resamples, seed)
		t.T = 1 - t.T
		return t
	}
	all := slices.Concat(before, after)
	m := len(before)
	isAfter := make([]bool, len(all))
	for i := m; i < len(all); i++ {
		isAfter[i] = true
	}
	statistic := jointStatistic(all, weights)
	t := JointTest{T: statistic(isAfter)}
	var count, lower, upper, extreme float64
	visit := func() {
		v := statistic(isAfter)
		count++
		if v <= t.T+slack {
			lower++
		}
		if v >= t.T-slack {
			upper++
		}
		if math.Abs(v-0.5) >= math.Abs(t.T-0.5)-slack {
			extreme++
		}
	}
	if choose(len(all), m) <= jointLimit {
		t.Exact = true
		eachAssignment(isAfter, len(all)-m, visit)
	} else {
		g := rand.New(rand.NewPCG(seed, 1))
		visit()
		for range resamples {
			g.Shuffle(len(isAfter), func(i, j int) { isAfter[i], isAfter[j] = isAfter[j], isAfter[i] })
			visit()
		}
	}
	t.P = extreme / count
	t.PVerdict = math.Max(t.P, math.Min(1, 2*math.Min(lower, upper)/count))
	return t
}

// SmallestJointP is the smallest two-sided p that m and n sessions can reach
// by JointPermutation.
func SmallestJointP(m, n, resamples int) float64 {
	if choose(m+n, m) <= jointLimit {
		return SmallestP(m, n)
	}
	return math.Max(SmallestP(m, n), 2/float64(resamples+1))
}

// jointStatistic returns T as a function of which sessions are after.
func jointStatistic(all Joint, weights []float64) func(isAfter []bool) float64 {
	ranks := make([][]float64, len(weights)) // of the column's values, in row order
	rows := make([][]int, len(weights))      // that have one
	whole := 0.0
	for c, w := range weights {
		var values []float64
		for i, row := range all {
			if !math.IsNaN(row[c]) {
				values, rows[c] = append(values, row[c]), append(rows[c], i)
			}
		}
		ranks[c] = Midranks(values)
		whole += w
	}
	return func(isAfter []bool) float64 {
		t := 0.0
		for c, w := range weights {
			sum, n := 0.0, 0
			for k, i := range rows[c] {
				if isAfter[i] {
					sum += ranks[c][k]
					n++
				}
			}
			share := 0.5
			if m := len(rows[c]) - n; m > 0 && n > 0 {
				share = (sum - float64(n)*float64(n+1)/2) / float64(m) / float64(n)
			}
			t += w * share
		}
		return t / whole
	}
}

// eachAssignment calls visit with every way of marking k places.
func eachAssignment(marked []bool, k int, visit func()) {
	clear(marked)
	var place func(from, left int)
	place = func(from, left int) {
		if left == 0 {
			visit()
			return
		}
		for i := from; i <= len(marked)-left; i++ {
			marked[i] = true
			place(i+1, left-1)
			marked[i] = false
		}
	}
	place(0, k)
}
