package plan

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// TwoLooksLevel returns the one level that both of two looks are judged at, the
// second at twice as many values as the first, so that a true null hypothesis is
// rejected at either with a chance of alpha (Pocock, Biometrika 64:191-199, 1977): the
// two-sided p of a z with
//
//	P(|Z1| > z or |Z2| > z) = alpha
//
// for normal Z1 and Z2 with correlation sqrt(1/2). At 5 % it is 0.0294.
//
// It is the limit for many values. Rank tests of few values have steps, and both looks
// together spend at most as much: 0.0500 at 4 then 8 a side, 0.0400 (5, 10), 0.0474
// (6, 12), 0.0466 (7, 14), by the exact joint distribution (rankLooks). Higher levels
// that the ranks of one score allow (up to 0.0379, 0.0317, 0.0332) reject no more often
// by ranks, but families of 8 to 24 members, whose corrected p has finer steps, are
// then wrong in up to 6.2 %; with this level in 4.7 to 5.6 (standard error 0.3).
//
// It panics unless alpha lies within 0 and 1.
func TwoLooksLevel(alpha float64) float64 {
	if !numeric.Inside(alpha) {
		panic("plan: alpha is no probability")
	}
	return crossing(alpha/2, alpha, func(level float64) float64 {
		return eitherBeyond(-numeric.NormalQuantile(level/2)) - alpha
	})
}

// eitherBeyond is P(|Z1| > z or |Z2| > z), by Gauss and Legendre over Z1. Given it, Z2
// is normal with mean sqrt(1/2) Z1 and variance 1/2.
func eitherBeyond(z float64) float64 {
	const root = math.Sqrt2 / 2
	inside := quad.Fixed(func(x float64) float64 {
		beyond := numeric.NormalCDF((root*x-z)/root) + numeric.NormalCDF((-root*x-z)/root)
		return (1 - beyond) * math.Exp(-x*x/2) / math.Sqrt(2*math.Pi)
	}, -z, z, 64, quad.Legendre{}, 1)
	return 1 - inside
}

// maxLookWork bounds the states of rankLooks: up to 7 then 14 values a side, a
// twentieth of a second.
const maxLookWork = 50_000_000

// SecondLookLevel returns at which level a rank test may be judged again after the
// same values were judged at alpha when there were only first a side, so that both
// looks together reject a true null hypothesis with a chance of at most alpha: the
// first look's test has steps, and what it did not spend is left. The level is rounded
// down to 0.0005; alpha where the first look could not reject. ok is false where the
// exact joint distribution is too large, or where nothing is left that second values a
// side could reach. It panics unless 1 <= first < second.
func SecondLookLevel(alpha float64, first, second int) (level float64, ok bool) {
	if first < 1 || first >= second {
		panic("plan: looks must grow")
	}
	if stats.SmallestP(first, first) > alpha+numeric.Slack {
		return alpha, true
	}
	square := func(n int) float64 { return float64(n) * float64(n) }
	if square(first+1)*square(second-first+1)*square(first)*square(second) > maxLookWork {
		return 0, false
	}
	joint := rankLooks(first, second)
	rows, columns := make([]float64, len(joint)), make([]float64, len(joint[0]))
	for u, row := range joint {
		for v, x := range row {
			rows[u] += x
			columns[v] += x
		}
	}
	firstP, secondP := twoSided(rows), twoSided(columns)
	spent := 0.0
	for u, p := range firstP {
		if p <= alpha+numeric.Slack {
			spent += rows[u]
		}
	}
	// Both ends of the second statistic become critical together, outermost first.
	for v := 0; v < len(columns)/2; v++ {
		for u, p := range firstP {
			if p > alpha+numeric.Slack {
				spent += joint[u][v] + joint[u][len(columns)-1-v]
			}
		}
		if spent > alpha {
			level = math.Floor(secondP[v]/0.0005-1e-6) * 0.0005
			return level, v > 0 && secondP[v-1] <= level
		}
	}
	return alpha, true
}

// rankLooks returns the joint distribution of the rank statistics U of two looks under
// the null hypothesis: joint[u][v] is the chance of u at first values a side and of v
// at second values a side, the first among them. It goes through the pooled values in
// ascending order, all orders being equally likely; a value is of a side and is or is
// not among the first.
func rankLooks(first, second int) (joint [][]float64) {
	rows, columns := first*first+1, second*second+1
	type counts struct{ beforeEarly, afterEarly, beforeLate, afterLate int }
	ways := map[counts][]float64{{}: make([]float64, rows*columns)}
	ways[counts{}][0] = 1
	for range 2 * second {
		next := map[counts][]float64{}
		for at, from := range ways {
			// add goes on to other counts, with what that adds to both statistics.
			add := func(to counts, u, v int) {
				into := next[to]
				if into == nil {
					into = make([]float64, rows*columns)
					next[to] = into
				}
				for i := 0; i+u < rows; i++ {
					target := into[(i+u)*columns+v : (i+u+1)*columns]
					for j, w := range from[i*columns:][:columns-v] {
						target[j] += w
					}
				}
			}
			below := at.beforeEarly + at.beforeLate
			if to := at; at.beforeEarly < first {
				to.beforeEarly++
				add(to, 0, 0)
			}
			if to := at; at.beforeLate < second-first {
				to.beforeLate++
				add(to, 0, 0)
			}
			if to := at; at.afterEarly < first {
				to.afterEarly++
				add(to, at.beforeEarly, below)
			}
			if to := at; at.afterLate < second-first {
				to.afterLate++
				add(to, 0, below)
			}
		}
		ways = next
	}
	late := second - first
	all := ways[counts{first, first, late, late}]
	total := numeric.Sum(all)
	joint = make([][]float64, rows)
	for u := range joint {
		joint[u] = all[u*columns:][:columns]
		for v := range joint[u] {
			joint[u][v] /= total
		}
	}
	return joint
}

// twoSided lists the two-sided p of each value of a symmetric statistic.
func twoSided(chances []float64) []float64 {
	p, sum := make([]float64, len(chances)), 0.0
	for i := range (len(chances) + 1) / 2 {
		sum += chances[i]
		p[i] = math.Min(1, 2*sum)
		p[len(p)-1-i] = p[i]
	}
	return p
}
