package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/compare/report/doc"
)

// changesPicture shows the intervals of results on one axis for each unit of
// their changes, by class and then by size. All of them are scores, or none is.
func changesPicture(confidence float64, name, title string, byUnit ...[]*compare.Result) *Picture {
	p := &Picture{Name: name, Title: title, Head: []string{"benchmark", "verdict", "change", level(confidence) + " % interval"}}
	var axes [][]*compare.Result
	for _, rs := range byUnit {
		axes = append(axes, inOrder(rs))
	}
	rs := slices.Concat(axes...)
	for _, r := range rs {
		p.Rows = append(p.Rows, []string{Clean(r.Name()), verdictLine(r).Text, signed(r, r.Change), intervalText(r)})
	}
	p.Caption = fmt.Sprintf("Each line is a %s %% interval: the true change lies in there, as far as these runs can tell. "+
		"The mark is the best single guess.", level(confidence))
	if slices.ContainsFunc(rs, func(r *compare.Result) bool { return r.Interval == nil && r.Range != nil }) {
		p.Caption += " A dashed line is the range of the differences, at less confidence."
	}
	p.Caption += " A line that crosses 0 leaves open whether anything changed."
	if slices.ContainsFunc(rs, func(r *compare.Result) bool { return r.Tolerance != nil && *r.Tolerance > 0 }) {
		p.Caption += " Shaded: the tolerance, changes too small to matter."
	}
	p.parts = []part{{draw: func(width float64) *drawing {
		d := &drawing{width: width}
		for i, rs := range axes {
			if i > 0 {
				d.height += 14
			}
			part := drawChanges(rs, width)
			d.place(part, 0, d.height)
			d.height += part.height
		}
		drawVerdicts(d, rs)
		return d
	}}}
	return p
}

// inOrder sorts results by class and then by size, suites last.
func inOrder(results []*compare.Result) []*compare.Result {
	rs := slices.Clone(results)
	classes := map[string]int{}
	for _, r := range rs {
		if _, met := classes[r.Class]; !met {
			classes[r.Class] = len(classes)
		}
	}
	slices.SortStableFunc(rs, func(a, b *compare.Result) int {
		switch {
		case a.Parts != nil && b.Parts != nil:
			return 0
		case a.Parts != nil: // suites stand below what they pool
			return 1
		case b.Parts != nil:
			return -1
		}
		return cmp.Or(classes[a.Class]-classes[b.Class], cmp.Compare(b.Change, a.Change))
	})
	return rs
}

func drawChanges(rs []*compare.Result, width float64) *drawing {
	d := &drawing{width: width}
	unit, factor := percentOr(rs[0])
	wide := width > 500
	size := 13.0
	left, right := 10.0, 10.0
	heads := classHeads(rs)
	row, names := 48.0, width-20 // a name above its line
	if wide {
		row, names = 30, 0
		most := 0.0
		for _, r := range rs {
			names = math.Max(names, textWidth(Clean(r.Name()), size, false))
			most = math.Max(most, textWidth(signed(r, r.Change), size, true))
		}
		for _, h := range heads {
			names = math.Max(names, textWidth(h, 12, true))
		}
		names = math.Min(names, 200)
		left, right = names+22, most+22
	}
	// The scale holds every end, 0 and the tolerance; a few that reach very far
	// are cut, as in the strip of the tables.
	spans := make([]doc.Span, len(rs))
	for i, r := range rs {
		spans[i] = spanOf(r)
	}
	reach := doc.Reach(spans)
	lo, hi := 0.0, 0.0
	for _, r := range rs {
		in := endsOf(r)
		lo, hi = math.Min(lo, in[0]), math.Max(hi, in[1])
		if r.Tolerance != nil {
			lo, hi = math.Min(lo, -1.3**r.Tolerance), math.Max(hi, 1.3**r.Tolerance)
		}
	}
	lo, hi = math.Max(lo, -reach)*factor, math.Min(hi, reach)*factor
	if hi-lo == 0 {
		lo, hi = -1, 1
	}
	pad := (hi - lo) * 0.04
	x := axis{lo: lo - pad, hi: hi + pad, a: left, b: width - right}
	marks := ticks(x.lo, x.hi, int(math.Max(3, (x.b-x.a)/70)))
	top := 8.0
	// What lies behind the lines first; where names stand above them, it keeps
	// off the names.
	above := 0.0
	if !wide {
		above = 24
	}
	y := top
	for i, r := range rs {
		if heads[i] != "" {
			y += 24
		}
		from, to := y+above, y+row
		if t := r.Tolerance; t != nil && *t > 0 {
			d.box(paint{fill: "band"}, x.at(math.Max(-*t*factor, x.lo)), from, x.at(math.Min(*t*factor, x.hi)), to)
			for _, v := range []float64{-*t * factor, *t * factor} {
				if v >= x.lo && v <= x.hi {
					edge := d.line(paint{stroke: "edge", width: 1, dashed: true}, point{x.at(v), from}, point{x.at(v), to})
					edge.role, edge.of = "tolerance", r.Name()
				}
			}
		}
		for _, v := range marks {
			if v != 0 {
				d.line(paint{stroke: "grid", width: 1}, point{x.at(v), from}, point{x.at(v), to})
			}
		}
		d.line(paint{stroke: "ink", width: 1.5}, point{x.at(0), from}, point{x.at(0), to}).role = "zero"
		y += row
	}
	bottom := y
	y = top
	for i, r := range rs {
		if heads[i] != "" {
			at, anchor := left, "start"
			if wide {
				at, anchor = names+4, "end"
			}
			d.words(at, y+17, 12, "muted", anchor, fitted(heads[i], math.Min(names, width-20), 12, true)).bold = true
			y += 24
		}
		middle := y + row/2
		if wide {
			d.words(names+4, middle+4.5, size, "ink", "end", fitted(Clean(r.Name()), names, size, false))
			d.words(width-4, middle+4.5, size, "ink", "end", signed(r, r.Change)).bold = true
		} else {
			change := signed(r, r.Change)
			d.words(left, y+18, size, "ink", "start", fitted(Clean(r.Name()), names-textWidth(change, size, true)-12, size, false))
			d.words(width-right, y+18, size, "ink", "end", change).bold = true
			middle = y + 34
		}
		drawInterval(d, r, x, factor, middle)
		y += row
	}
	drawTicks(d, x, marks, bottom, axisWords(rs[0], unit))
	d.height = bottom + 42
	return d
}

// endsOf are the ends of the interval, or of what stands for it.
func endsOf(r *compare.Result) [2]float64 {
	switch {
	case r.Interval != nil:
		return *r.Interval
	case r.Range != nil:
		return *r.Range
	}
	return [2]float64{r.Change, r.Change}
}

// drawInterval draws a result's interval and mark at a height; ends beyond the
// axis get an arrow head.
func drawInterval(d *drawing, r *compare.Result, x axis, factor, y float64) {
	b := badgeOf(r)
	in := endsOf(r)
	lo, hi := in[0]*factor, in[1]*factor
	a, z := math.Max(lo, x.lo), math.Min(hi, x.hi)
	if r.Interval != nil || r.Range != nil {
		line := d.line(paint{stroke: b.colour, width: 3, dashed: r.Interval == nil}, point{x.at(a), y}, point{x.at(z), y})
		line.role, line.of = "interval", r.Name()
		for _, end := range []struct{ at, cut, way float64 }{{lo, a, 1}, {hi, z, -1}} {
			if end.at == end.cut {
				d.line(paint{stroke: b.colour, width: 2}, point{x.at(end.at), y - 5}, point{x.at(end.at), y + 5})
			} else {
				tip := x.at(end.cut)
				back := tip + 6*end.way
				d.line(paint{stroke: b.colour, width: 2}, point{back, y - 5}, point{tip, y}, point{back, y + 5})
			}
		}
	}
	if v := r.Change * factor; v >= x.lo && v <= x.hi {
		m := d.marks(b.shape, 5.5, b.paint(), point{x.at(v), y})
		m.role, m.of = "change", r.Name()
	}
}

// drawTicks labels a horizontal axis.
func drawTicks(d *drawing, x axis, marks []float64, y float64, title string) {
	d.line(paint{stroke: "edge", width: 1}, point{x.a, y}, point{x.b, y})
	for _, t := range marks {
		d.line(paint{stroke: "edge", width: 1}, point{x.at(t), y}, point{x.at(t), y + 4})
		s := tickText(t, marks)
		if t > 0 && x.lo < 0 {
			s = "+" + s
		}
		half := textWidth(s, 12, false) / 2 // within the picture, also at its edge
		d.words(math.Max(half, math.Min(x.at(t), d.width-half)), y+17, 12, "muted", "middle", s).role = "tick-x"
	}
	if title != "" {
		d.words((x.a+x.b)/2, y+35, 12, "muted", "middle", fitted(title, d.width-8, 12, false))
	}
}

// axisWords names an axis of changes.
func axisWords(r *compare.Result, unit string) string {
	return "change in " + cmp.Or(unit, "its unit") + "; " + plusWords(r.Metric)
}

// plusWords says what plus means.
func plusWords(m compare.Metric) string {
	if m.Role == compare.Score {
		return "plus means better"
	}
	return "plus means more"
}

// classHeads are the heads of classes, and of the suite, where there are several
// groups: by the index of the first row.
func classHeads(rs []*compare.Result) map[int]string {
	out := map[int]string{}
	group := func(r *compare.Result) string {
		if r.Parts != nil {
			return "together"
		}
		return Clean(r.Class)
	}
	groups := map[string]bool{}
	for _, r := range rs {
		groups[group(r)] = true
	}
	if len(groups) < 2 {
		return out
	}
	for i, r := range rs {
		if i == 0 || group(r) != group(rs[i-1]) {
			out[i] = cmp.Or(group(r), "each alone")
		}
	}
	return out
}

// drawVerdicts says what the marks of verdicts mean, those that occur.
func drawVerdicts(d *drawing, rs []*compare.Result) {
	var entries []legendEntry
	for _, v := range verdicts {
		for _, r := range rs {
			if r.Verdict == nil || *r.Verdict != v {
				continue
			}
			e := legendEntry{string(v), badgeOf(r)}
			if v == compare.Noise {
				e.word = "noise: not settled"
			}
			if !slices.Contains(entries, e) { // a rise may be good or bad
				entries = append(entries, e)
			}
		}
	}
	if slices.ContainsFunc(rs, func(r *compare.Result) bool { return r.Verdict == nil }) {
		entries = append(entries, legendEntry{"never judged", badge{diamond, "muted", true}})
	}
	d.legend(entries)
}
