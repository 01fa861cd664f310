package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/compare/english"
)

// maxPlans is the maximum number of results in the picture of plans.
const maxPlans = 6

// planPicture shows, for results that are not settled, or else for the least
// certain score, what more sessions would bring; nil where that is not known.
func planPicture(name string, results []*compare.Result) *Picture {
	var open, scores []*compare.Result
	settled := true
	for _, r := range results {
		if r.Role != compare.Score || r.Verdict == nil {
			continue
		}
		settled = settled && r.Verdict.Settled()
		if !r.Verdict.Settled() && r.Interval != nil {
			open = append(open, r)
		}
		if r.Interval != nil {
			scores = append(scores, r)
		}
	}
	width := func(r *compare.Result) float64 { return r.Interval[1] - r.Interval[0] }
	slices.SortStableFunc(scores, func(a, b *compare.Result) int { return cmp.Compare(width(b), width(a)) })
	which := open
	if len(open) == 0 && len(scores) > 0 {
		which = scores[:1]
	}
	var plans []plan
	more := 0
	for _, r := range which {
		pl, ok := newPlan(r)
		switch {
		case !ok:
		case len(plans) == maxPlans:
			more++
		default:
			plans = append(plans, pl)
		}
	}
	if len(plans) == 0 {
		return nil
	}
	p := &Picture{Name: name, Title: planTitle(plans, len(open) > 0, settled),
		Head: []string{"benchmark", "a side", "half the interval's width", "chance to see the tolerance"}}
	for _, pl := range plans {
		for _, x := range pl.prospects {
			half := "no interval"
			if !math.IsInf(x.halfWidth, 1) {
				half = size(pl.result, x.halfWidth)
			}
			here := ""
			if x.n == pl.here {
				here = " (you are here)"
			}
			p.Rows = append(p.Rows, []string{Clean(pl.result.Name()), unitsOf(pl.result, x.n) + here, half,
				compare.Decimal(100*x.chance, 0) + " %"})
		}
	}
	p.Caption = "Left, how narrow the interval becomes with more of what counts once (sessions, runs or blocks): half its width. " +
		"Right, the chance that a true change as large as the tolerance is found real, by the rule and correction used here. " +
		"The filled mark is where you are, the upright line where the chance reaches 80 %. " +
		"Planned from these runs, so good to two digits at best."
	if more > 0 {
		p.Caption += fmt.Sprintf(" %d more %s not settled.", more, english.Verb(more, "is", "are"))
	}
	for _, pl := range plans {
		p.parts = append(p.parts, panelPart(pl.result, pl.advice()+".", pl.draw))
	}
	return p
}

// unitsOf is "9 sessions", "9 runs" or "9 blocks".
func unitsOf(r *compare.Result, n int) string { return english.Count(n, string(r.Replication)) }

func planTitle(plans []plan, open, settled bool) string {
	if !open {
		r := plans[0].result
		half := (r.Interval[1] - r.Interval[0]) / 2
		text := fmt.Sprintf("The widest interval, of %s, reaches about %s to each side", Clean(r.Name()), size(r, half))
		if settled {
			text = "Everything is settled. " + text
		}
		return text
	}
	few, many := neededRange(each(plans, func(p plan) *compare.Result { return p.result }))
	switch {
	case few == nil:
		return "No number of runs would settle what is open: the readings are too coarse"
	case few == many:
		return Clean(few.Name()) + ": " + settling(few)
	}
	return "Settling the rest takes " + neededText(few, many)
}

// plan is what more runs of the same kind would bring a result.
type plan struct {
	result    *compare.Result
	here      int
	prospects []prospect
}

// prospect is what a comparison of n values a side (or blocks) would usually bring.
type prospect struct {
	n         int
	halfWidth float64 // of the interval, as a change is stated; +Inf where n is too few for one
	chance    float64 // to find a change as large as the tolerance real
}

func newPlan(r *compare.Result) (plan, bool) {
	here := min(r.Replicates[0], r.Replicates[1])
	least := min(here, max(2, r.MinSampleSize))
	most := max(2*here, 3*r.MinSampleSize)
	sizes := []int{here}
	if need := r.Need(compare.ToSettle); need != nil {
		most, sizes = max(most, need.Size+need.Size/2), append(sizes, need.Size)
	}
	const steps = 14
	for k := range steps + 1 {
		n := float64(least) * math.Pow(float64(most)/float64(least), float64(k)/steps)
		sizes = append(sizes, int(math.Round(n)))
	}
	slices.Sort(sizes)
	sizes = slices.Compact(sizes)
	found, ok := r.Prospects(sizes)
	out := plan{result: r, here: here}
	for i, x := range found {
		out.prospects = append(out.prospects, prospect{sizes[i], x.Half, x.Chance})
	}
	return out, ok
}

// advice says how many runs would settle the result.
func (p plan) advice() string {
	r := p.result
	switch {
	case r.Verdict.Settled():
		return "settled with " + counts(r)
	case settling(r) != "":
		return counts(r) + " now; " + settling(r)
	}
	if r.TooCoarse() {
		return tooCoarse(r)
	}
	return counts(r) + " now; it is not known how many a change of " + tolerance(r) + " takes"
}

func (p plan) draw(d *drawing) {
	wide := d.width > 500
	r := p.result
	d.words(0, 14, 13, "ink", "start", fitted(Clean(r.Name()), d.width, 13, true)).bold = true
	y := 15.0
	for _, l := range wrappedTo(p.advice(), d.width, 12, false) {
		y += 17
		d.words(0, y, 12, "muted", "start", l)
	}
	y += 8
	each := d.width
	if wide {
		each = (d.width - gap) / 2
	}
	width, chance := &drawing{width: each}, &drawing{width: each}
	p.curve(width, true)
	p.curve(chance, false)
	d.place(width, 0, y)
	if wide {
		d.place(chance, each+gap, y)
		d.height = y + width.height
	} else {
		d.place(chance, 0, y+6+width.height)
		d.height = y + 6 + width.height + chance.height
	}
}

// curve draws the width of the interval, or the chance, against the size.
func (p plan) curve(d *drawing, width bool) {
	r := p.result
	unit, factor := percentOr(r)
	value := func(x prospect) float64 { return 100 * x.chance }
	title, goal, goalWord := "chance to see "+tolerance(r)+", in %", 80.0, "80 %"
	hi := 100.0
	if width {
		value = func(x prospect) float64 { return x.halfWidth * factor }
		title, goal, goalWord = "half the interval's width, in "+unit, *r.Tolerance*factor, "tolerance"
		hi = goal * 1.25
		for _, x := range p.prospects {
			if v := value(x); !math.IsInf(v, 1) {
				hi = math.Max(hi, v*1.25)
			}
		}
	}
	const top, height = 26.0, 108.0
	y := axis{lo: 0, hi: hi, a: top + height, b: top}
	marks := ticks(0, hi, 4)
	first, last := p.prospects[0], p.prospects[len(p.prospects)-1]
	x := axis{lo: float64(first.n), hi: float64(max(last.n, first.n+1)), a: ticksWidth(marks, "") + 10, b: d.width - 10, log: true}
	d.words(0, 12, 12, "ink", "start", fitted(title, d.width, 12, false))
	d.levels(y, marks, x.a, x.b, false)
	d.line(paint{stroke: "edge", width: 1.2, dashed: true}, point{x.a, y.at(goal)}, point{x.b, y.at(goal)})
	d.words(x.a+4, y.at(goal)-4, 11, "muted", "start", goalWord)
	var curve []point
	for _, v := range p.prospects {
		if w := value(v); !math.IsInf(w, 1) {
			curve = append(curve, point{x.at(float64(v.n)), y.at(w)})
		}
	}
	if len(curve) > 1 {
		d.line(paint{stroke: "ink", width: 2.5}, curve...)
	}
	if need := r.Need(compare.ToSettle); need != nil {
		d.line(paint{stroke: "ink", width: 1.2}, point{x.at(float64(need.Size)), y.b}, point{x.at(float64(need.Size)), y.a})
	}
	for _, v := range p.prospects {
		if w := value(v); v.n == p.here && !math.IsInf(w, 1) {
			m := d.marks(diamond, 5.5, paint{stroke: "panel", fill: "ink", width: 1}, point{x.at(float64(v.n)), y.at(w)})
			m.role, m.of = "here", r.Name()
			// A width falls to the right and a chance rises, so the place above
			// the mark is free.
			at := point{x.at(float64(v.n)), y.at(w)}
			foot := at.y - 12
			switch {
			case !width && at.y-26 < top: // at the top, below the mark
				foot = at.y + 20
			case !width:
				foot = at.y - 26
				d.line(paint{stroke: "ink", width: 1}, point{at.x, at.y - 7}, point{at.x, foot + 2})
			}
			left := math.Max(x.a+2, math.Min(at.x-4, x.b-textWidth("you are here", 11, false)))
			d.words(left, foot, 11, "ink", "start", "you are here")
		}
	}
	drawTicks(d, x, logTicks(x.lo, x.hi, int(math.Max(3, (x.b-x.a)/48))), y.a, sizesWord(r))
	d.height = y.a + 42
}

// sizesWord names the axis of sizes.
func sizesWord(r *compare.Result) string {
	if paired(r) {
		return string(r.Replication) + "s"
	}
	return string(r.Replication) + "s on each side"
}
