package claims

import (
	"math"
	"slices"

	"tunegate/compare"
)

// figuresMake is the change between the two figures of a claim in the words of
// a form, and between which values it lies if the figures were rounded. lower
// says that less of the quantity is more speed.
func (h *Held) figuresMake(f Form, percent, lower bool) (change, lo, hi float64) {
	of := func(from, to float64) float64 {
		switch {
		case !percent:
			d := to - from
			if f == Less || f == LessTime || f == Faster && lower || f == Slower && !lower {
				d = -d
			}
			return d
		case from <= 0 || to <= 0:
			return math.Inf(int(math.Copysign(1, to-from)))
		case f.OfSpeed() && lower:
			return 100 * f.fraction(from/to)
		}
		return 100 * f.fraction(to/from)
	}
	a, b := of(h.From.Value-h.From.Half, h.To.Value+h.To.Half), of(h.From.Value+h.From.Half, h.To.Value-h.To.Half)
	return of(h.From.Value, h.To.Value), math.Min(a, b), math.Max(a, b)
}

// checkFigures holds the change to the two figures beside it.
func (h *Held) checkFigures() error {
	if h.From == nil || h.Form == "" || h.Change == nil {
		return nil
	}
	unit := h.From.Unit
	if unit == "" && h.Result != nil {
		unit = h.Result.Unit
	}
	percent, c := h.Change.percent(), *h.Change
	switch {
	case percent && compare.TraitsOf(unit).Scale == compare.Interval:
		if h.Result == nil { // else the runs say so
			h.fault(FaultDegrees, Finding{Cause: NoZero})
		}
		d, _, _ := h.figuresMake(More, false, false)
		h.Exact = append(h.Exact, Made{Of: OfFigures, Change: d, Places: c.places(), Unit: unit, Form: More})
		return nil
	case percent && (h.From.Value <= 0 || h.To.Value <= 0):
		return h.fail("from", "from and to are %s and %s; a percentage needs both above zero", h.From.Text, h.To.Text)
	case !percent && unit != "" && c.Unit != unit:
		return h.fail(h.formKey(), "%s is in %q, but from and to are in %q; write all of them in one unit", c.Text, c.Unit, unit)
	}
	better := compare.TraitsOf(unit).Better
	if h.Result != nil && h.Result.Unit == unit {
		better = h.Result.Better
	}
	if h.Form.OfSpeed() && better == "" {
		return h.fail("from", "from and to do not say whether less of them is faster; write their unit, such as %q", h.From.Text+" s")
	}
	lower := better == compare.Lower
	change, lo, hi := h.figuresMake(h.Form, percent, lower)
	carried := min(compare.Places((hi-lo)/2), 11)
	places := min(max(c.places(), 1), carried)
	if !percent {
		places = max(c.places(), h.From.places(), h.To.places())
	}
	made := Made{Of: OfFigures, Change: change, Places: places, Unit: c.Unit, Form: h.Form}
	h.Exact = append(h.Exact, made)
	if h.AtLeast && c.Value <= hi {
		return nil
	}
	if c.meets(lo, hi) {
		if percent && 2*c.Half < math.Pow(10, -float64(carried))*(1-1e-9) {
			h.fault(FaultDigits, Finding{Cause: DigitsOfFigures, Lo: lo, Hi: hi, Places: carried})
		}
		return nil
	}
	if percent && h.Result != nil && h.Result.Scale == compare.Ratio {
		// The middle of all pairs is not the change between two medians.
		if estimate, _, _, ok := h.Interval(); ok && c.near(estimate) {
			h.note(NoteFigures, Finding{Cause: MiddleOfAllPairs, Made: made, Right: estimate, Places: places})
			return nil
		}
	}
	h.wrongChange(made, lo, hi, lower && h.Form.OfSpeed())
	return nil
}

// wrongChange finds out how a change came about that two figures do not make. They
// make one between lo and hi; inverse says that less of the quantity is more of
// what is claimed.
func (h *Held) wrongChange(made Made, lo, hi float64, inverse bool) {
	c, change, percent := h.Change, made.Change, h.Change.percent()
	found := func(kind string, cause Cause) { h.fault(kind, Finding{Cause: cause, Made: made}) }
	switch other := otherBase(h.Form, change/100) * 100; {
	case change < 0 && c.meets(-hi, -lo):
		found(FaultDirection, OtherDirection)
	case change < 0 && percent && c.near(100*otherBase(h.Form.Opposite(), -change/100)):
		found(FaultDirection, SidesSwapped)
	case !percent:
		found(FaultChange, ChangeOfFigures)
	case change > 0 && c.near(other):
		h.fault(FaultBase, Finding{Cause: OtherSide, Right: change, Places: made.Places, Inverse: inverse})
	case h.Form.Falls() && c.near(100-change):
		found(FaultBase, WhatIsLeft)
	case c.near(math.Abs(h.To.Value - h.From.Value)):
		found(FaultBase, NotAPercentage)
	case c.near(200 * math.Abs(h.To.Value-h.From.Value) / (h.To.Value + h.From.Value)):
		found(FaultBase, OfTheMean)
	default:
		found(FaultChange, ChangeOfFigures)
	}
}

// otherBase is the same change as a fraction of the other side: a quarter more
// one way is a fifth less the other.
func otherBase(f Form, x float64) float64 {
	if f.Falls() {
		return x / (1 - x)
	}
	return x / (1 + x)
}

// checkSteps holds a total to the steps that make it. Steps multiply.
func (h *Held) checkSteps() {
	if len(h.Steps) == 0 {
		return
	}
	total, lo, hi, sum := 1.0, 1.0, 1.0, 0.0
	sign := 1.0
	if h.Form.Falls() {
		sign = -1
	}
	for _, s := range h.Steps {
		x := 1 + sign*s.Value/100
		total *= x
		lo *= x - s.Half/100
		hi *= x + s.Half/100
		sum += s.Value
	}
	change := func(v float64) float64 { return 100 * sign * (v - 1) }
	c := *h.Change
	made := Made{Of: OfSteps, Change: change(total), Places: min(c.places()+1, 11), Unit: "%", Form: h.Form, Product: total}
	h.Exact = append(h.Exact, made)
	switch {
	case c.near(made.Change):
	case c.near(sum):
		h.fault(FaultAdded, Finding{Cause: SumOfSteps, Made: made})
	case !c.meets(math.Min(change(lo), change(hi)), math.Max(change(lo), change(hi))):
		h.fault(FaultProduct, Finding{Cause: ProductOfSteps, Made: made})
	}
}

// checkAverage holds a mean to the list that it is of. The geometric mean of
// the ratios is as good an answer, and the right one.
func (h *Held) checkAverage() {
	n := float64(len(h.AverageOf))
	if n == 0 {
		return
	}
	sign := 1.0
	if h.Form.Falls() {
		sign = -1
	}
	sum, log, half := 0.0, 0.0, 0.0
	var values, gains []float64
	for _, p := range h.AverageOf {
		sum += p.Value
		half += p.Half
		log += math.Log1p(sign * p.Value / 100)
		values = append(values, p.Value)
		if p.Value > 0 {
			gains = append(gains, p.Value)
		}
	}
	mean, geometric := sum/n, 100*sign*math.Expm1(log/n)
	c := *h.Change
	made := Made{Of: OfList, Change: geometric, Places: min(max(c.places(), 1)+1, 11), Unit: "%", Form: h.Form, Mean: mean}
	h.Exact = append(h.Exact, made)
	if c.meets(mean-half/n, mean+half/n) || c.near(geometric) {
		h.note(NoteMean, Finding{Cause: MeanOfList, Made: made})
		return
	}
	slices.Sort(values)
	switch {
	case len(gains) > 0 && len(gains) < len(values) && c.near(meanOf(gains)):
		h.fault(FaultAverage, Finding{Cause: MeanOfGains, Made: made, Count: len(gains)})
	case c.near(middle(values)):
		h.fault(FaultAverage, Finding{Cause: MedianOfList, Made: made})
	case c.near(sum):
		h.fault(FaultAverage, Finding{Cause: SumOfList, Made: made})
	default:
		h.fault(FaultAverage, Finding{Cause: MeanOfList, Made: made})
	}
}

func meanOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// middle is the median of ascending values.
func middle(x []float64) float64 { return (x[(len(x)-1)/2] + x[len(x)/2]) / 2 }
