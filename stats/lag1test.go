package stats

import (
	"math/bits"
	"math/rand/v2"
)

// Lag1Test tests whether each run resembles the one before: rho is Lag1 of
// the values in order, and p the chance of a rho at least as large over all
// orders of the same values (one-sided, for positive dependence; a permutation
// test in the manner of Wald and Wolfowitz, Annals of Mathematical Statistics
// 14:378-388, 1943). It holds its level for any noise shape. All orders are
// counted up to 8 values; beyond that they are drawn from a fixed seed, and
// the smallest p is 1 in 10,000. A drift is dependence too and raises rho. It
// returns 0 and 1 below three values and where all are the same.
func Lag1Test(x []float64) (rho, p float64) {
	return Lag1TestWithin([][]float64{x})
}

// Lag1TestWithin is Lag1Test over sessions: neighbours are pairs within a
// session, deviations are from the session's own mean, products and squares
// are summed over sessions, and values change places within their session
// only. So what sessions differ by does not count as dependence. Sessions of
// fewer than three values are left out. All orders are counted where there are
// up to 50,000.
func Lag1TestWithin(sessions [][]float64) (rho, p float64) {
	var centred [][]float64
	products, squares, orders, n := 0.0, 0.0, 1.0, 0
	for _, x := range sessions {
		if len(x) < 3 {
			continue
		}
		centre := mean(x)
		d := make([]float64, len(x))
		for i, v := range x {
			d[i] = v - centre
			squares += d[i] * d[i]
			orders = min(orders*float64(i+1), 2*mostOrders)
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
	if orders <= mostOrders {
		return rho, countedOrders(centred, observed)
	}
	g := rand.NewPCG(nullSeed, 0)
	return rho, simulatedP(observed, drawsFor(n), func() float64 {
		total := 0.0
		for _, d := range centred {
			shuffle(g, d)
			total += neighbours(d)
		}
		return total
	})
}

// shuffle puts values into random order (Fisher and Yates). It does what a
// rand.Rand would, without asking its source through an interface: most of the
// time of the test goes by here.
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

// mostOrders is how many orders are counted one by one; 8! is 40,320.
const mostOrders = 50_000

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
		permute(d, len(d), func() { own = append(own, neighbours(d)) })
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

// permute visits every order of the first n values (Heap, Computer Journal
// 6:293-294, 1963).
func permute(d []float64, n int, visit func()) {
	if n <= 1 {
		visit()
		return
	}
	for i := range n {
		permute(d, n-1, visit)
		if i < n-1 {
			if n%2 == 0 {
				d[i], d[n-1] = d[n-1], d[i]
			} else {
				d[0], d[n-1] = d[n-1], d[0]
			}
		}
	}
}
