package stats

import "math"

// Trapezoid integrates a curve that is known at some times, taking it as
// straight between them. The zero value is an empty integral.
//
// For a curve f with a second derivative, read at steps of at most h from a to
// b, the integral is off by at most
//
//	h^2/12 (b - a) max|f''|
//
// (the composite trapezoidal rule; TestTrapezoidAnalytic has the proof). Straight
// lines are exact but for rounding, which compensated summation keeps to a few units
// in the last place however many pieces there are (Neumaier 1974, ZAMM
// 54:39-51).
type Trapezoid struct{ area, areaRest, width, widthRest float64 }

// Add adds the piece of the given width, zero or more, over which the curve
// goes straight from one value to the other.
func (t *Trapezoid) Add(width, from, to float64) {
	t.area, t.areaRest = compensated(t.area, t.areaRest, width*(from/2+to/2))
	t.width, t.widthRest = compensated(t.width, t.widthRest, width)
}

// Integral is the area below all pieces.
func (t *Trapezoid) Integral() float64 { return t.area + t.areaRest }

// Width is the width of all pieces.
func (t *Trapezoid) Width() float64 { return t.width + t.widthRest }

// Mean is the mean value over the pieces, weighted by width: NaN where they
// have none.
func (t *Trapezoid) Mean() float64 { return t.Integral() / t.Width() }

// compensated adds a term to a sum and what its rounding lost to the rest.
func compensated(sum, rest, term float64) (float64, float64) {
	s := sum + term
	if math.Abs(sum) >= math.Abs(term) {
		return s, rest + (sum - s + term)
	}
	return s, rest + (term - s + sum)
}
