package plan

import (
	"math"
	"slices"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// rankRule is the joined region for m and n values: the inverted rank test at
// both levels of a design, and SpreadInversion, beyond which the bootstrap hardly
// ever reaches. What it needs are a few order statistics of the m n differences,
// so only those differences are looked at whose place among the sorted values
// allows them to be one of these.
type rankRule struct {
	m, n   int
	middle rankCells
	top    rankCells // where the inverted test ends, and beyond; no cells where it never does
	rank   int       // of the former
	reach  float64   // in ranks, of the interval from the middle for sides of equal spread
	ratio  *studentRatio
	// testDecides says that the interval reaches no further than the test,
	// whatever the spreads: placements from 0 to n vary at most so much that V is
	// below 3 V0.
	testDecides bool
	spare       []float64
	ofX         []int // twice the placements of each side
	ofY         []int
}

func newRankRule(m, n int, design Design) *rankRule {
	mn := m * n
	r := &rankRule{m: m, n: n, spare: make([]float64, mn), ofX: make([]int, m), ofY: make([]int, n)}
	r.middle = newRankCells(m, n, (mn+1)/2, mn/2+1)
	critical := min(stats.RankCritical(m, n, design.Alpha), stats.RankCritical(m, n, 1-design.Confidence))
	if critical < 1 {
		return r
	}
	r.rank = mn + 1 - critical
	r.top = newRankCells(m, n, r.rank, mn)
	r.reach = inversionReach(m, n, design.Confidence)
	r.ratio = studentRatioOf(m, n, design.Confidence)
	r.testDecides = float64(mn+1)/2+r.reach*math.Sqrt(3*slices.Max(r.ratio.ratio[:])) <= float64(r.rank)
	return r
}

// inversionReach is how many ranks SpreadInversion's ends lie from the middle
// for two sides of equal spread.
func inversionReach(m, n int, confidence float64) float64 {
	return float64(m*n+1)/2 - stats.InterpolatedRankCritical(m, n, 1-confidence)
}

// ends returns the estimate and the upper end of the region. It sorts x and y.
func (r *rankRule) ends(x, y []float64) (e, end float64) {
	sortFew(x)
	sortFew(y)
	low, high := r.middle.near(numeric.Mean(y)-numeric.Mean(x), 0.12*(spread(x)+spread(y)), x, y, r.spare)
	e = numeric.Mid(low, high)
	if r.top.cell == nil {
		return e, math.Inf(1)
	}
	rank := float64(r.rank)
	if !r.testDecides {
		if _, _, df, ok := numeric.Welch(x, y); ok {
			v := r.placementVariance(x, y, e) / (float64(r.m*r.n) * float64(r.m+r.n+1) / 12)
			rank = math.Max(rank, float64(r.m*r.n+1)/2+r.reach*math.Sqrt(v*r.ratio.at(df)))
		}
	}
	rank = math.Min(rank, float64(r.m*r.n))
	k := int(rank)
	c := rankCells{r.top.cell, r.top.index + k - r.rank, float64(k) < rank}
	at, behind := c.among(x, y, r.spare)
	return e, at + (rank-float64(k))*(behind-at)
}

// placementVariance is placementVariance, counted pair by pair without a branch.
func (r *rankRule) placementVariance(x, y []float64, shift float64) float64 {
	within := numeric.TieTolerance * math.Max(numeric.Magnitude(x), numeric.Magnitude(y))
	low, high := shift-within, shift+within
	clear(r.ofX)
	clear(r.ofY)
	for i, a := range x {
		sum := 0
		for j, b := range y {
			d := b - a
			twice := isLess(d, low) + 1 - isLess(high, d) // 2 below the shift, 1 at it
			sum += twice
			r.ofY[j] += twice
		}
		r.ofX[i] = sum
	}
	return (squaresAbout(r.ofX) + squaresAbout(r.ofY)) / 4
}

// squaresAbout is the sum of squares about the mean.
func squaresAbout(count []int) float64 {
	sum, squares := 0, 0
	for _, c := range count {
		sum += c
		squares += c * c
	}
	return float64(squares) - float64(sum)*float64(sum)/float64(len(count))
}

// rankCells are the differences y_j - x_i of ascending samples that can have a
// rank or the one behind it: in a matrix whose rows and columns ascend, the
// cell (i, j), from 0, has (i+1)(j+1) - 1 others that are no larger, and
// (m-i)(n-j) - 1 that are no smaller.
type rankCells struct {
	cell  []rankCell
	index int  // of the rank among them
	both  bool // whether the rank behind it is wanted, too
}

type rankCell struct{ i, j uint32 }

func newRankCells(m, n, rank, last int) rankCells {
	c := rankCells{index: rank - 1, both: last > rank}
	for i := range m {
		for j := range n {
			switch {
			case (i+1)*(j+1) > last:
			case (m-i)*(n-j) > m*n+1-rank:
				c.index-- // certainly smaller
			default:
				c.cell = append(c.cell, rankCell{uint32(m - 1 - i), uint32(j)})
			}
		}
	}
	return c
}

// among returns the difference at the rank, and the one at the rank behind it
// where that is wanted, else the same again.
func (c rankCells) among(x, y, spare []float64) (at, behind float64) {
	v := spare[:len(c.cell)]
	for k, p := range c.cell {
		v[k] = y[p.j] - x[p.i]
	}
	at = selectFew(v, c.index)
	if !c.both {
		return at, at
	}
	behind = v[c.index+1]
	for _, d := range v[c.index+2:] {
		if d < behind {
			behind = d
		}
	}
	return at, behind
}

// near is among, looked for within the given distance of a guess first: a guess
// costs time where it is wrong, never a digit.
func (c rankCells) near(guess, within float64, x, y, spare []float64) (at, behind float64) {
	if len(c.cell) < 24 {
		return c.among(x, y, spare)
	}
	v := spare[:len(c.cell)]
	low, high := guess-within, guess+within
	below, kept := 0, 0
	for _, p := range c.cell {
		d := y[p.j] - x[p.i]
		under := isLess(d, low)
		v[kept] = d
		below += under
		kept += isLess(d, high) - under
	}
	index := c.index - below
	if index < 0 || index+1 >= kept {
		return c.among(x, y, spare)
	}
	v = v[:kept]
	at = selectFew(v, index)
	if !c.both {
		return at, at
	}
	behind = v[index+1]
	for _, d := range v[index+2:] {
		if d < behind {
			behind = d
		}
	}
	return at, behind
}

// spread is about the distance between the quartiles of an ascending sample.
func spread(x []float64) float64 { return x[len(x)-1-len(x)/4] - x[len(x)/4] }

// A branch on random values is foreseen wrongly every other time, which costs
// as much as ten other steps. So the two functions below count with the sign of
// a difference instead; values must be finite.

// isLess is 1 where a < b, else 0.
func isLess(a, b float64) int { return int(math.Float64bits(a-b) >> 63) }

// selectFew is SelectKth for some hundred values of which few are equal
// (Lomuto's partition).
func selectFew(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		at := (lo + hi) / 2
		pivot := v[at]
		v[at] = v[hi]
		s := lo
		for j := lo; j < hi; j++ {
			d := v[j]
			v[j] = v[s]
			v[s] = d
			s += isLess(d, pivot)
		}
		v[hi] = v[s]
		v[s] = pivot
		switch {
		case k < s:
			hi = s - 1
		case k > s:
			lo = s + 1
		default:
			return pivot
		}
	}
	return v[k]
}

// sortFew sorts ascending: each value goes to the place that the number of
// smaller ones gives it.
func sortFew(x []float64) {
	if len(x) > planSize {
		slices.Sort(x)
		return
	}
	var place [planSize]int
	var from [planSize]float64
	copy(from[:], x)
	for i := range x {
		for j := range i {
			less := isLess(from[i], from[j])
			place[j] += less
			place[i] += 1 - less
		}
	}
	for i := range x {
		x[place[i]] = from[i]
	}
}
