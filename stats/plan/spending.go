package plan

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"tunegate/stats/internal/numeric"
)

// SpendingBoundaries returns, for looks at growing data, how large |Z| has to
// be at each, and the two-sided p that this is, so that all looks together
// raise false alarms in the share alpha only. fractions are the shares of the
// final number of values that each look has, ascending, the last usually 1.
//
// Each side spends its half of alpha after Lan and DeMets (Biometrika
// 70:659-663, 1983), the function of O'Brien-Fleming type:
//
//	spent by t on each side = 2 (1 - Phi(z(1 - alpha/4) / sqrt(t)))
//
// so that early looks are strict and the last is close to a single one. What is
// not spent at one look is available at the next; fractions may be changed while
// the study runs, as long as the past ones are kept. The boundaries come from
// numerical integration of the density of the sum among comparisons that go on
// (Armitage, McPherson and Rowe, JRSS A 132:235-244, 1969), to about 1e-8. They
// are for normal increments; for rank tests these are the limit, and a small
// sample's own steps make the error smaller. A look at which less than 1e-300 may
// be spent gets +Inf and 0: it cannot settle anything.
//
// Time grows with the number of looks over the smallest distance of two. It
// panics unless alpha lies within 0 and 1 and the fractions ascend in (0, 1].
func SpendingBoundaries(alpha float64, fractions []float64) (z, nominal []float64) {
	if !numeric.Inside(alpha) {
		panic("plan: alpha is no probability")
	}
	z, nominal = make([]float64, len(fractions)), make([]float64, len(fractions))
	going := stillGoing{at: []float64{0}, mass: []float64{1}}
	last, spent := 0.0, 0.0
	for k, t := range fractions {
		if !(t > last && t <= 1) {
			panic("plan: fractions must ascend and end at 1 at the latest")
		}
		sofar := spentBy(alpha, t)
		sd := math.Sqrt(t - last)
		reach := going.reach(sofar-spent, sd)
		z[k] = reach / math.Sqrt(t)
		nominal[k] = 2 * numeric.NormalCDF(-z[k])
		if k+1 < len(fractions) {
			next := math.Sqrt(math.Abs(fractions[k+1] - t))
			going = going.advance(math.Min(reach, furthest*math.Sqrt(t)), sd, math.Min(sd, next))
		}
		last, spent = t, sofar
	}
	return z, nominal
}

// spentBy is what both sides together may have spent by t.
func spentBy(alpha, t float64) float64 {
	return 4 * numeric.NormalCDF(numeric.NormalQuantile(alpha/4)/math.Sqrt(t))
}

const (
	// furthest a sum is followed, in its standard deviations: beyond it lies
	// less than 1e-22.
	furthest = 10
	// panelNodes are the nodes of Gauss and Legendre in each panel. Panels are
	// as wide as the narrower of the steps before and after, which leaves an
	// error below 1e-10.
	panelNodes = 10
)

// stillGoing is the distribution of the sum so far where no look has settled
// it, as masses at nodes.
type stillGoing struct{ at, mass []float64 }

// leaves is the chance that the sum lies beyond reach on either side after a
// further normal step of standard deviation sd.
func (g stillGoing) leaves(reach, sd float64) float64 {
	total := 0.0
	for i, s := range g.at {
		total += g.mass[i] * (numeric.NormalCDF((s-reach)/sd) + numeric.NormalCDF((-s-reach)/sd))
	}
	return total
}

// reach is beyond where the sum lies with a given chance after the step.
func (g stillGoing) reach(chance, sd float64) float64 {
	if !(chance > 1e-300) {
		return math.Inf(1)
	}
	lo, hi := 0.0, sd
	for g.leaves(hi, sd) > chance {
		hi *= 2
	}
	for range 200 {
		mid := (lo + hi) / 2
		if mid == lo || mid == hi {
			break
		}
		if g.leaves(mid, sd) > chance {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// advance is what is left within reach after the step, at nodes in panels of
// the given width or a little less.
func (g stillGoing) advance(reach, sd, width float64) stillGoing {
	panels := int(math.Ceil(2 * reach / width))
	next := stillGoing{make([]float64, panels*panelNodes), make([]float64, panels*panelNodes)}
	for p := range panels {
		from := -reach + 2*reach*float64(p)/float64(panels)
		to := -reach + 2*reach*float64(p+1)/float64(panels)
		quad.Legendre{}.FixedLocations(next.at[p*panelNodes:(p+1)*panelNodes], next.mass[p*panelNodes:(p+1)*panelNodes], from, to)
	}
	for j, s := range next.at {
		density := 0.0
		for i, u := range g.at {
			d := (s - u) / sd
			density += g.mass[i] * math.Exp(-d*d/2)
		}
		next.mass[j] *= density / (sd * math.Sqrt(2*math.Pi))
	}
	return next
}
