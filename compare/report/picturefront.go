package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

// frontPlace is the speed and the cost of a profile, both relative to the first.
type frontPlace struct {
	name          string
	front         ladder.Front
	speed, cost   *compare.Suite // nil for the first
	x, y          float64        // cost and speed as they are shown
	xs, ys        [2]float64     // the intervals
	dashedX, dash bool
}

// frontPicture sets speed against what it costs; nil where no cost is recorded.
func frontPicture(l *ladder.Ladder) *Picture {
	places, unit, word := frontPlaces(l)
	if len(places) < 2 {
		return nil
	}
	p := &Picture{Name: "front", Head: []string{"profile", "speed", "interval", word, "interval", "place"}}
	for _, f := range places {
		row := []string{f.name, "0", "", "0", "", frontWord(f.front)}
		if f.speed != nil {
			row[1], row[2] = signed(f.speed.Result, f.speed.Change), intervalText(f.speed.Result)
			row[3], row[4] = signed(f.cost.Result, f.cost.Change), intervalText(f.cost.Result)
		}
		p.Rows = append(p.Rows, row)
	}
	var front []string
	for _, f := range places {
		if f.front == ladder.OnFront {
			front = append(front, f.name)
		}
	}
	p.Title = fmt.Sprintf("Which profile is best on both speed and %s is not settled", word)
	if len(front) > 0 {
		p.Title = fmt.Sprintf("Nothing beats %s on both speed and %s", andList(front), word)
	}
	first := Clean(l.Profiles[0])
	p.Caption = fmt.Sprintf("Up is faster, left is less %s, both beside %s, so the upper left is where a profile should be. "+
		"The crosses are the intervals at %s %%. "+
		"The dashed line is the front: a profile below and right of it is beaten on both counts.", word, first, level(l.Confidence))
	costs := fmt.Sprintf("%s beside %s, %s; left is less", word, first, unit)
	speeds := fmt.Sprintf("speed beside %s, %%; up is faster", first)
	p.parts = []part{{draw: func(width float64) *drawing { return drawFront(places, width, costs, speeds) }}}
	return p
}

func frontWord(f ladder.Front) string {
	switch f {
	case ladder.OnFront:
		return "on the front"
	case ladder.FrontUnsure:
		return "not settled"
	}
	return string(f)
}

// andList is "a, b and c".
func andList(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// frontPlaces are the profiles that have a speed and the cost of the front.
func frontPlaces(l *ladder.Ladder) (places []frontPlace, unit, word string) {
	pick := map[string]func(*ladder.Rung) *compare.Suite{
		ladder.MetricPower:       func(r *ladder.Rung) *compare.Suite { return r.Power },
		ladder.MetricEnergy:      func(r *ladder.Rung) *compare.Suite { return r.Energy },
		ladder.MetricRise:        func(r *ladder.Rung) *compare.Suite { return r.Heat },
		ladder.MetricTemperature: func(r *ladder.Rung) *compare.Suite { return r.Heat },
	}[l.FrontCost]
	if pick == nil {
		return nil, "", ""
	}
	word = l.FrontCost
	for i, rung := range l.Rungs {
		f := frontPlace{name: Clean(rung.Profile), front: rung.Front}
		if i > 0 {
			if f.speed, f.cost = rung.Speed, pick(rung); f.speed == nil || f.cost == nil {
				continue
			}
			_, fy := percentOr(f.speed.Result)
			var fx float64
			unit, fx = percentOr(f.cost.Result)
			f.x, f.y = f.cost.Change*fx, f.speed.Change*fy
			x, y := endsOf(f.cost.Result), endsOf(f.speed.Result)
			f.xs, f.ys = [2]float64{x[0] * fx, x[1] * fx}, [2]float64{y[0] * fy, y[1] * fy}
			f.dashedX, f.dash = f.cost.Interval == nil, f.speed.Interval == nil
		}
		places = append(places, f)
	}
	return places, unit, word
}

var frontBadges = map[ladder.Front]badge{
	ladder.OnFront:     {diamond, "better", false},
	ladder.Beaten:      {triangleDown, "worse", false},
	ladder.FrontUnsure: {disc, "open", true},
	ladder.NoFront:     {disc, "open", true},
}

func drawFront(places []frontPlace, width float64, xTitle, yTitle string) *drawing {
	d := &drawing{width: width}
	const top = 26.0
	height := math.Min(380, width*0.85)
	lox, hix, loy, hiy := 0.0, 0.0, 0.0, 0.0
	for _, f := range places {
		lox, hix = math.Min(lox, f.xs[0]), math.Max(hix, f.xs[1])
		loy, hiy = math.Min(loy, f.ys[0]), math.Max(hiy, f.ys[1])
	}
	px, py := math.Max(0.12*(hix-lox), 1e-9), math.Max(0.14*(hiy-loy), 1e-9)
	y := axis{lo: loy - py, hi: hiy + py, a: top + height, b: top}
	yMarks := ticks(y.lo, y.hi, 6)
	x := axis{lo: lox - px, hi: hix + px, a: ticksWidth(yMarks, "+") + 10, b: width - 10}
	xMarks := ticks(x.lo, x.hi, int(math.Max(4, (x.b-x.a)/70)))
	d.words(0, 14, 12, "muted", "start", fitted(yTitle, width, 12, false))
	for _, t := range xMarks {
		d.line(paint{stroke: "grid", width: 1}, point{x.at(t), y.b}, point{x.at(t), y.a})
	}
	d.levels(y, yMarks, x.a, x.b, y.lo < 0)
	d.line(paint{stroke: "edge", width: 1.2}, point{x.at(0), y.b}, point{x.at(0), y.a})
	d.line(paint{stroke: "edge", width: 1.2}, point{x.a, y.at(0)}, point{x.b, y.at(0)})
	drawTicks(d, x, xMarks, y.a, xTitle)
	// The front as a stair: at a given cost no profile is faster.
	var front []frontPlace
	for _, f := range places {
		if f.front == ladder.OnFront {
			front = append(front, f)
		}
	}
	slices.SortFunc(front, func(a, b frontPlace) int { return cmp.Compare(a.x, b.x) })
	var stair []point
	for k, f := range front {
		if k == 0 {
			stair = append(stair, point{x.at(f.x), y.a})
		} else {
			stair = append(stair, point{x.at(f.x), y.at(front[k-1].y)})
		}
		stair = append(stair, point{x.at(f.x), y.at(f.y)})
	}
	if len(front) > 0 {
		stair = append(stair, point{x.b, y.at(front[len(front)-1].y)})
		d.line(paint{stroke: "edge", width: 1.5, dashed: true}, stair...).role = "front"
	}
	var marks []point
	var keep []rect // what labels stay off
	for k := 1; k < len(stair); k++ {
		a, b := stair[k-1], stair[k]
		keep = append(keep, rect{math.Min(a.x, b.x) - 1, math.Min(a.y, b.y) - 1, math.Max(a.x, b.x) + 1, math.Max(a.y, b.y) + 1})
	}
	for _, f := range places {
		at := point{x.at(f.x), y.at(f.y)}
		marks = append(marks, at)
		keep = append(keep, rect{at.x - 8, at.y - 8, at.x + 8, at.y + 8})
		b := frontBadges[f.front]
		if f.speed != nil {
			left, right, bottom, top := x.at(f.xs[0]), x.at(f.xs[1]), y.at(f.ys[0]), y.at(f.ys[1])
			v := d.line(paint{stroke: b.colour, width: 1.8, dashed: f.dash}, point{at.x, bottom}, point{at.x, top})
			v.role, v.of = "interval-y", f.name
			h := d.line(paint{stroke: b.colour, width: 1.8, dashed: f.dashedX}, point{left, at.y}, point{right, at.y})
			h.role, h.of = "interval-x", f.name
			keep = append(keep, rect{at.x - 2, top - 1, at.x + 2, bottom + 1}, rect{left - 1, at.y - 2, right + 1, at.y + 2})
		}
	}
	for i, f := range places {
		b := frontBadges[f.front]
		m := d.marks(b.shape, 6.5, b.paint(), marks[i])
		m.role, m.of = "place", f.name
	}
	names := make([]string, len(places))
	for i, f := range places {
		names[i] = fitted(f.name, math.Min(200, width*0.5), 12.5, true)
	}
	for i, l := range placeLabels(names, marks, keep, rect{x.a + 2, y.b + 2, x.b - 2, y.a - 2}, 12.5) {
		if l.far {
			nearest := point{math.Max(l.box.x0, math.Min(marks[i].x, l.box.x1)), math.Max(l.box.y0, math.Min(marks[i].y, l.box.y1))}
			d.line(paint{stroke: "edge", width: 1}, marks[i], nearest)
		}
		w := d.words(l.box.x0, l.box.y1-4, 12.5, "ink", "start", names[i])
		w.bold, w.role = true, "label"
	}
	d.height = y.a + 42
	drawFrontLegend(d, places)
	return d
}

func drawFrontLegend(d *drawing, places []frontPlace) {
	var entries []legendEntry
	for _, f := range []ladder.Front{ladder.OnFront, ladder.Beaten, ladder.FrontUnsure} {
		if slices.ContainsFunc(places, func(p frontPlace) bool { return p.front == f }) {
			entries = append(entries, legendEntry{frontWord(f), frontBadges[f]})
		}
	}
	d.legend(entries)
}

// rect is a box in a picture.
type rect struct{ x0, y0, x1, y1 float64 }

func (a rect) meets(b rect) bool { return a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1 }

func (a rect) within(b rect) bool {
	return a.x0 >= b.x0 && a.x1 <= b.x1 && a.y0 >= b.y0 && a.y1 <= b.y1
}

// label is where a name goes; far ones are tied to their mark by a line.
type label struct {
	box rect
	far bool
}

// placeLabels finds a place for each name near its mark, so that no two names
// overlap and none leaves the area: the nearest place that is free of marks and
// of intervals, else the nearest that is free of names. Where that leaves a name
// without a place, all stand in a column of their own.
func placeLabels(names []string, marks []point, keep []rect, area rect, size float64) []label {
	out := make([]label, len(names))
	height := size + 5
	for i, name := range names {
		w := textWidth(name, size, true) + 4
		fits := func(b rect, strict bool) bool {
			if !b.within(area) {
				return false
			}
			for k := range i {
				if b.meets(out[k].box) {
					return false
				}
			}
			return !strict || !slices.ContainsFunc(keep, b.meets)
		}
		at, best := marks[i], math.Inf(1)
		consider := func(b rect, strict bool) {
			dx := math.Max(0, math.Max(b.x0-at.x, at.x-b.x1))
			dy := math.Max(0, math.Max(b.y0-at.y, at.y-b.y1))
			if far := math.Hypot(dx, dy); far < best-1e-9 && fits(b, strict) {
				best, out[i].box = far, b
			}
		}
		for _, strict := range []bool{true, false} {
			for _, b := range []rect{ // beside the mark, above and below first
				{at.x + 10, at.y - height - 2, at.x + 10 + w, at.y - 2}, {at.x - 10 - w, at.y - height - 2, at.x - 10, at.y - 2},
				{at.x + 10, at.y + 2, at.x + 10 + w, at.y + 2 + height}, {at.x - 10 - w, at.y + 2, at.x - 10, at.y + 2 + height},
			} {
				consider(b, strict)
			}
			for y := area.y0; y+height <= area.y1; y += 4 {
				for x := area.x0; x+w <= area.x1; x += 8 {
					consider(rect{x, y, x + w, y + height}, strict)
				}
			}
			if !math.IsInf(best, 1) {
				break
			}
		}
		if math.IsInf(best, 1) {
			return stackLabels(names, marks, area, size)
		}
		out[i].far = best > 16
	}
	return out
}

// stackLabels sets names below each other, in the order of their marks.
func stackLabels(names []string, marks []point, area rect, size float64) []label {
	order := make([]int, len(names))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(marks[a].y, marks[b].y)
	})
	out := make([]label, len(names))
	height := (area.y1 - area.y0) / float64(len(names))
	for row, i := range order {
		y := area.y0 + float64(row)*height
		w := textWidth(names[i], size, true) + 4
		out[i] = label{rect{area.x1 - w, y, area.x1, y + math.Min(height, size+5)}, true}
	}
	return out
}
