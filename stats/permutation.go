package stats

import (
	"math"
	"math/rand/v2"
	"slices"

	"tunegate/stats/internal/numeric"
)

// PermutationTest is the outcome of a test of several quantities together.
type PermutationTest struct {
	Superiority float64 // weighted mean of U / (m n): half when nothing changed
	P           float64 // two-sided: as far from 0 as seen, in either direction
	PUsed       float64 // the larger of P and twice the smaller tail, at most 1
	Exact       bool    // all assignments, not a draw of them
	Normal      bool    // the normal distribution of so many values' permutations
}

// normalFrom is from how many values on a pooled permutation test takes its
// normal limit, with the exact variance of the permutations: a sum over so many
// values is normal, and drawing would take longer than all the rest.
const normalFrom = 400

// assignmentLimit bounds the assignments to sides that are enumerated.
const assignmentLimit = 20_000

// clipAt is how far from the median of both sides together a value counts, in
// deviations of normal noise (MAD times 1.4826): beyond it an outlier adds
// nothing. A shift moves the deviation along and is not clipped.
const clipAt = 5

// clipped returns values as a permutation test counts them. They depend on both
// sides together only, so the test stays exact.
func clipped(x []float64) []float64 {
	s := numeric.Sorted(x)
	centre, reach := numeric.Middle(s), clipAt*1.4826*numeric.MAD(x)
	out := slices.Clone(x)
	if reach > 0 {
		for i, v := range out {
			out[i] = math.Min(math.Max(v, centre-reach), centre+reach)
		}
	}
	return out
}

// tally counts assignments by how far they lie out.
type tally struct{ seen, count, lower, upper, extreme float64 }

func (t *tally) add(v float64) {
	near := numeric.Slack * math.Max(1, math.Abs(t.seen))
	t.count++
	if v <= t.seen+near {
		t.lower++
	}
	if v >= t.seen-near {
		t.upper++
	}
	if math.Abs(v) >= math.Abs(t.seen)-near {
		t.extreme++
	}
}

func (t *tally) test() PermutationTest {
	p := t.extreme / t.count
	return PermutationTest{P: p, PUsed: math.Max(p, math.Min(1, 2*math.Min(t.lower, t.upper)/t.count))}
}

// PooledPermutation tests whether the weighted mean of the components' changes
// is 0, by exchanging values between the sides within each component: what was
// estimated is what is tested, so that one large change among many small ones
// counts as it does in PooledShift. The statistic is the weighted sum of
// differences of means, of values clipped at clipAt. All assignments where
// there are at most 20,000, else so many as resamples says, drawn from the seed
// and counted with the one at hand (Phipson and Smyth 2010); from normalFrom
// values on the normal limit.
func PooledPermutation(components []Component, resamples int, seed uint64) PermutationTest {
	flip := 1.0
	if first := components[0]; swapFirst(numeric.Sorted(first.Before), numeric.Sorted(first.After)) { // swapping the sides mirrors every draw
		flip = -1
		components = slices.Clone(components)
		for i, c := range components {
			components[i].Before, components[i].After = c.After, c.Before
		}
	}
	pools := make([][]float64, len(components))
	superiority, weight, assignments := 0.0, 0.0, 1.0
	for i, c := range components {
		pools[i] = clipped(slices.Concat(numeric.Sorted(c.Before), numeric.Sorted(c.After))) // in an order of its own
		superiority += c.Weight * tieGroups(c.Before, c.After).share()
		weight += c.Weight
		assignments *= numeric.Choose(len(pools[i]), len(c.Before))
	}
	// of is a component's part: up to constants, the sum of the after side.
	of := func(i int) float64 {
		m, n := len(components[i].Before), len(components[i].After)
		before, after := numeric.Sum(pools[i][:m]), numeric.Sum(pools[i][m:])
		return components[i].Weight * (after/float64(n) - before/float64(m))
	}
	statistic := func() (total float64) {
		for i := range components {
			total += of(i)
		}
		return total
	}
	out := PermutationTest{Superiority: 0.5 + flip*(superiority/weight-0.5)}
	values, variances := 0, 0.0
	for i, c := range components {
		values += len(pools[i])
		variances += c.Weight * c.Weight * numeric.Variance(pools[i]) * (1/float64(len(c.Before)) + 1/float64(len(c.After)))
	}
	if values >= normalFrom && variances > 0 {
		out.Normal, out.P = true, math.Erfc(math.Abs(statistic())/math.Sqrt(variances)/math.Sqrt2)
		out.PUsed = out.P
		return out
	}
	t := tally{seen: statistic()}
	exact := assignments <= assignmentLimit
	if exact {
		parts := make([][]float64, len(components)) // each component's part in every assignment
		for i, c := range components {
			all, m := slices.Clone(pools[i]), len(c.Before)
			marked := make([]bool, len(all))
			eachAssignment(marked, m, func() {
				b, a := 0, m
				for k, v := range all {
					if marked[k] {
						pools[i][b] = v
						b++
					} else {
						pools[i][a] = v
						a++
					}
				}
				parts[i] = append(parts[i], of(i))
			})
		}
		var fill func(i int, sum float64)
		fill = func(i int, sum float64) {
			if i == len(parts) {
				t.add(sum)
				return
			}
			for _, v := range parts[i] {
				fill(i+1, sum+v)
			}
		}
		fill(0, 0)
	} else {
		g := rand.New(rand.NewPCG(seed, 3))
		t.add(t.seen)
		for range resamples {
			for _, pool := range pools {
				g.Shuffle(len(pool), func(i, j int) { pool[i], pool[j] = pool[j], pool[i] })
			}
			t.add(statistic())
		}
	}
	drawn := t.test()
	out.P, out.PUsed, out.Exact = drawn.P, drawn.PUsed, exact
	return out
}

// share is U / (m n).
func (g groups) share() float64 { return float64(g.doubledU()) / 2 / float64(g.m) / float64(g.n) }

// SmallestPooledP is the smallest two-sided p that untied components of these
// sizes can reach by PooledPermutation.
func SmallestPooledP(components []Component, resamples int) float64 {
	p := 2.0
	for _, c := range components {
		p /= numeric.Choose(len(c.Before)+len(c.After), len(c.Before))
	}
	return drawnFloor(p, resamples)
}

// drawnFloor is the smallest p of a test whose exact one is floor: as it is
// where all assignments are enumerated, else what so many draws can reach.
func drawnFloor(floor float64, resamples int) float64 {
	if 2/floor > assignmentLimit {
		floor = math.Max(floor, 2/float64(resamples+1))
	}
	return math.Min(1, floor)
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
