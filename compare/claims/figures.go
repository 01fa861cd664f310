package claims

import (
	"fmt"
	"math"
	"slices"
	"strings"

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
			h.fault(FaultDegrees, "%s has no true zero, so a percentage of it changes with the unit; state the difference in %s", unit, unit)
		}
		d, _, _ := h.figuresMake(More, false, false)
		h.Exact = append(h.Exact, fmt.Sprintf("from %s to %s is %s", h.withUnit(h.From), h.withUnit(h.To), sizeWords(d, c.places(), unit, More)))
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
	between := fmt.Sprintf("from %s to %s is", h.withUnit(h.From), h.withUnit(h.To))
	right := fmt.Sprintf("%s %s", between, sizeWords(change, places, c.Unit, h.Form))
	h.Exact = append(h.Exact, right)
	if h.AtLeast && c.Value <= hi {
		return nil
	}
	if c.meets(lo, hi) {
		if percent && 2*c.Half < math.Pow(10, -float64(carried))*(1-1e-9) {
			h.fault(FaultDigits, "%s is written to more digits than %s and %s carry: rounded as they are, they give anything from %s to %s %%", c.Text,
				h.withUnit(h.From), h.withUnit(h.To), compare.Decimal(lo, carried), compare.Decimal(hi, carried))
		}
		return nil
	}
	if percent && h.Result != nil && h.Result.Scale == compare.Ratio {
		// The middle of all pairs is not the change between two medians.
		if estimate, _, _, ok := h.Interval(); ok && c.near(estimate) {
			h.note("figures", "%s; the middle of all pairs of runs, which the claim states, is %s %% %s", right, compare.Decimal(estimate, places), h.Form.Words())
			return nil
		}
	}
	switch other := otherBase(h.Form, change/100) * 100; {
	case change < 0 && c.meets(-hi, -lo):
		h.fault(FaultDirection, "%s, not %s", right, h.Form.Words())
	case change < 0 && percent && c.near(100*otherBase(h.Form.Opposite(), -change/100)):
		h.fault(FaultDirection, "%s; %s %% %s is the change from %s to %s", right, c.Text, h.Form.Words(), h.withUnit(h.To), h.withUnit(h.From))
	case !percent:
		h.fault(FaultChange, "%s", right)
	case change > 0 && c.near(other):
		h.fault(FaultBase, "%s %% %s", c.Text, h.otherBaseWords(h.withUnit(h.To), h.withUnit(h.From), lower && h.Form.OfSpeed(), change, places))
	case h.Form.falls() && c.near(100-change):
		h.fault(FaultBase, "%s %% is what is left, not what is gone: %s", c.Text, right)
	case c.near(math.Abs(h.To.Value - h.From.Value)):
		h.fault(FaultBase, "%s is the difference%s, not a percentage of %s: %s", c.Text, in(unit), h.withUnit(h.From), right)
	case c.near(200 * math.Abs(h.To.Value-h.From.Value) / (h.To.Value + h.From.Value)):
		h.fault(FaultBase, "%s %% is of the mean of both figures; of the first, %s", c.Text, right)
	default:
		h.fault(FaultChange, "%s", right)
	}
	return nil
}

// otherBase is the same change as a fraction of the other side: a quarter more
// one way is a fifth less the other.
func otherBase(f Form, x float64) float64 {
	if f.falls() {
		return x / (1 - x)
	}
	return x / (1 + x)
}

// otherBaseWords explains a percentage that was taken of the other side. after
// and before name the two sides; right is the change that the claim should
// state.
func (h *Held) otherBaseWords(after, before string, inverse bool, right float64, places int) string {
	x := compare.Decimal(right, places)
	if inverse {
		switch h.Form {
		case Faster:
			return fmt.Sprintf("is the time saved; the speed rises by %s %%", x)
		case Slower:
			return fmt.Sprintf("is the time added; the speed falls by %s %%", x)
		case LessTime:
			return fmt.Sprintf("is the gain in speed; the time falls by %s %%", x)
		case MoreTime:
			return fmt.Sprintf("is the loss of speed; the time rises by %s %%", x)
		}
	}
	return fmt.Sprintf("is the change from %s to %s; the other way it is %s %% %s", after, before, x, h.Form.Words())
}

func in(unit string) string {
	if unit == "" {
		return ""
	}
	return " in " + unit
}

// withUnit writes a figure with the unit of both.
func (h *Held) withUnit(f *Figure) string {
	unit := h.From.Unit
	if unit == "" && h.Result != nil {
		unit = h.Result.Unit
	}
	if unit == "" || strings.HasSuffix(f.Text, unit) {
		return f.Text
	}
	return f.Text + " " + unit
}

// Words is how a form reads behind a number.
func (f Form) Words() string { return strings.Replace(string(f), "-", " ", 1) }

// sizeWords writes a change in the words of a form, or of the opposite one.
func sizeWords(v float64, places int, unit string, f Form) string {
	if v < 0 {
		v, f = -v, f.Opposite()
	}
	return strings.TrimSpace(compare.Decimal(v, places)+" "+unit) + " " + f.Words()
}

// checkSteps holds a total to the steps that make it. Steps multiply.
func (h *Held) checkSteps() {
	if len(h.Steps) == 0 {
		return
	}
	total, lo, hi, sum := 1.0, 1.0, 1.0, 0.0
	var factors, texts []string
	sign := 1.0
	if h.Form.falls() {
		sign = -1
	}
	for _, s := range h.Steps {
		x := 1 + sign*s.Value/100
		total *= x
		lo *= x - s.Half/100
		hi *= x + s.Half/100
		sum += s.Value
		texts = append(texts, s.Text+" %")
		factors = append(factors, compare.Decimal(math.Round(x*1e9)/1e9, 12))
	}
	change := func(v float64) float64 { return 100 * sign * (v - 1) }
	c, made := *h.Change, change(total)
	places := min(c.places()+1, 11)
	right := fmt.Sprintf("%s = %s, which is %s", strings.Join(factors, " × "), compare.Decimal(total, places+2), sizeWords(made, places, "%", h.Form))
	h.Exact = append(h.Exact, fmt.Sprintf("%s: %s in all", strings.Join(texts, ", then "), sizeWords(made, places, "%", h.Form)))
	switch {
	case c.near(made):
	case c.near(sum):
		h.fault(FaultAdded, "%s %% is the sum; percentages that follow each other multiply: %s", c.Text, right)
	case !c.meets(math.Min(change(lo), change(hi)), math.Max(change(lo), change(hi))):
		h.fault(FaultProduct, "%s", right)
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
	if h.Form.falls() {
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
	places := min(max(c.places(), 1)+1, 11)
	right := fmt.Sprintf("the list's arithmetic mean is %s %%, the geometric mean of its ratios, which is the right one, %s %%", compare.Decimal(mean, places), compare.Decimal(geometric, places))
	h.Exact = append(h.Exact, fmt.Sprintf("on average %s (geometric mean of the ratios)", sizeWords(geometric, places, "%", h.Form)))
	if c.meets(mean-half/n, mean+half/n) || c.near(geometric) {
		h.note("mean", "%s", right)
		return
	}
	slices.Sort(values)
	switch {
	case len(gains) > 0 && len(gains) < len(values) && c.near(meanOf(gains)):
		h.fault(FaultAverage, "%s %% is the mean of the %d that are above zero only; %s", c.Text, len(gains), right)
	case c.near(middle(values)):
		h.fault(FaultAverage, "%s %% is the median; %s", c.Text, right)
	case c.near(sum):
		h.fault(FaultAverage, "%s %% is the sum; %s", c.Text, right)
	default:
		h.fault(FaultAverage, "%s", right)
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
