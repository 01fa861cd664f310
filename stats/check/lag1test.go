package check

import (
	"math"
	"math/bits"
	"math/rand/v2"

	"tunegate/stats/internal/numeric"
)

// Lag1Test tests whether each run resembles the one before: rho is the lag-1
// autocorrelation of the values of each session about its own mean, products and
// squares summed over sessions, and p the chance of a rho at least as large over
// all orders of the same values within their sessions (one-sided, for positive
// dependence; a permutation test in the manner of Wald and Wolfowitz, Annals of
// Mathematical Statistics 14:378-388, 1943). So what sessions differ by does not
// count as dependence, and the test holds its level for any noise shape. Sessions
// of fewer than three values are left out. All orders are counted where there are
// up to 50,000 (8 values in one session); beyond that they are drawn from a fixed
// seed, and from limitFrom values on p comes from the exact moments over all
// orders (lag1Cumulants), unless few values carry the sum. The smallest p is 1 in
// 10,000. A drift is dependence too and raises rho. It returns 0 and 1 where no
// session has three values and where all are the same.
func Lag1Test(sessions [][]float64) (rho, p float64) {
	var centred [][]float64
	products, squares, orders, n := 0.0, 0.0, 1.0, 0
	for _, x := range sessions {
		if len(x) < 3 {
			continue
		}
		centre := numeric.Mean(x)
		d := make([]float64, len(x))
		for i, v := range x {
			d[i] = v - centre
			squares += d[i] * d[i]
			orders = min(orders*float64(i+1), 2*maxOrders)
		}
		products += neighbours(d)
		n += len(x)
		centred = append(centred, d)
	}
	if squares == 0 {
		return 0, 1
	}
	rho = products / squares
	// The same products summed in another order differ in the last digits.
	observed := products - 1e-10*squares
	if orders <= maxOrders {
		return rho, countedOrders(centred, observed)
	}
	if n >= limitFrom {
		if limit, unit := lag1Limit(centred, squares/float64(n)); limit.near() {
			return rho, limit.pearsonTail(observed / unit)
		}
	}
	return rho, drawnOrders(centred, n, observed)
}

// drawnOrders is the share of orders within sessions, drawn from a fixed seed,
// whose products sum to the observed value or more. It leaves d in another
// order.
func drawnOrders(centred [][]float64, n int, observed float64) float64 {
	g := rand.NewPCG(nullSeed, 0)
	return simulatedP(observed, drawsFor(n), 0, func() float64 {
		total := 0.0
		for _, d := range centred {
			shuffle(g, d)
			total += neighbours(d)
		}
		return total
	})
}

// lag1Limit is the sum of lag1Cumulants over sessions, of values in units of
// the root of unit, so that sixth powers stay within reach.
func lag1Limit(centred [][]float64, variance float64) (limit cumulants, unit float64) {
	root := math.Sqrt(variance)
	for _, d := range centred {
		scaled := make([]float64, len(d))
		for i, v := range d {
			scaled[i] = v / root
		}
		c := lag1Cumulants(scaled)
		limit.mean += c.mean
		limit.variance += c.variance
		limit.third += c.third
		limit.heavy += c.heavy * c.variance * c.variance
	}
	limit.heavy /= limit.variance * limit.variance
	return limit, variance
}

// lag1Cumulants are those of neighbours(d) over all orders of at least three
// values whose sum is 0. Mean, variance and third are exact. A product of
// powers of values at different places has the expectation
//
//	M(i, j, ...) / (n (n-1) ...),   M(i, j, ...) = sum d_a^i d_b^j ...
//
// with the sum over all choices of different a, b, ... First powers are removed,
// since all values sum to 0, by
//
//	M(1, i, j, ...) = -(M(i+1, j, ...) + M(i, j+1, ...) + ...)
//
// (Wald and Wolfowitz 1943, as above, who stop at the second moment). What
// remains is to count in how many ways two or three pairs of neighbours share
// places. Of the fourth cumulant heavy counts what large products add.
func lag1Cumulants(d []float64) cumulants {
	p, n := powerSums(d), float64(len(d))
	m22, m33, m42 := p[2]*p[2]-p[4], p[3]*p[3]-p[6], p[4]*p[2]-p[6]
	m211 := p[4] - m22
	m1111 := -3 * m211
	m321 := -(m42 + m33)
	m222 := p[2]*p[2]*p[2] - 3*p[4]*p[2] + 2*p[6]
	m2211 := -(2*m321 + m222)
	m3111 := -(p[6] - m42 + 2*m321)
	m21111 := -(m3111 + 3*m2211)
	m111111 := -5 * m21111
	// of is the expectation of so many products of values at k places each.
	of := func(products, m float64, k int) float64 {
		if products == 0 { // there may be fewer than k places
			return 0
		}
		for i := range k {
			m /= n - float64(i)
		}
		return products * m
	}
	// Of three different pairs: a chain, two that touch, none that do.
	chain, apart := n-3, (n-3)*(n-4)*(n-5)/6
	touching := (n-1)*(n-2)*(n-3)/6 - chain - apart
	mean := of(n-1, -p[2], 2)
	second := of(n-1, m22, 2) + of(2*(n-2), m211, 3) + of((n-2)*(n-3), m1111, 4)
	third := of(n-1, m33, 2) + of(6*(n-2), m321, 3) + of(3*(n-2)*(n-3)+6*chain, m2211, 4) +
		of(6*touching, m21111, 5) + of(6*apart, m111111, 6)
	c := cumulants{mean: mean, variance: second - mean*mean, third: third - 3*second*mean + 2*mean*mean*mean}
	if c.variance > 0 {
		c.heavy = p[4] * p[4] / n / (c.variance * c.variance)
	}
	return c
}

// shuffle puts values into random order (Fisher and Yates). It does what
// rand.Rand does, without a call through an interface: most of the time of the
// test is spent here.
func shuffle(g *rand.PCG, d []float64) {
	for i := len(d) - 1; i > 0; i-- {
		j := below(g, uint64(i+1))
		d[i], d[j] = d[j], d[i]
	}
}

// below is a whole number from 0 to n-1, each as likely as the others, by
// multiplication (Lemire, ACM Transactions on Modeling and Computer Simulation
// 29:3, 2019).
func below(g *rand.PCG, n uint64) uint64 {
	if n&(n-1) == 0 {
		return g.Uint64() & (n - 1)
	}
	hi, lo := bits.Mul64(g.Uint64(), n)
	if lo < n {
		for least := -n % n; lo < least; {
			hi, lo = bits.Mul64(g.Uint64(), n)
		}
	}
	return hi
}

// maxOrders is how many orders are counted one by one; 8! is 40,320.
const maxOrders = 50_000

// neighbours sums the products of neighbouring values.
func neighbours(d []float64) float64 {
	sum := 0.0
	for i := 1; i < len(d); i++ {
		sum += d[i] * d[i-1]
	}
	return sum
}

// countedOrders is the share of all orders within sessions whose products sum
// to the observed value or more.
func countedOrders(centred [][]float64, observed float64) float64 {
	sums := []float64{0}
	for _, d := range centred {
		var own []float64
		numeric.Permute(d, len(d), func() { own = append(own, neighbours(d)) })
		both := make([]float64, 0, len(sums)*len(own))
		for _, a := range sums {
			for _, b := range own {
				both = append(both, a+b)
			}
		}
		sums = both
	}
	beyond := 0
	for _, s := range sums {
		if s >= observed {
			beyond++
		}
	}
	return float64(beyond) / float64(len(sums))
}
