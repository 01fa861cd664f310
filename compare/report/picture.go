package report

import (
	"math"

	"tunegate/compare"
	"tunegate/compare/report/doc"
)

// Picture is one picture of a result: what it shows in words, the numbers behind
// it, and how it is drawn at a given width.
type Picture struct {
	Name    string // such as "changes", or "boost-lift/changes" in a gate
	Title   string // states the finding
	Caption string // says what to see
	Head    []string
	Rows    [][]string
	parts   []part
	columns int // in which parts stand where there is room
}

// part is what is drawn as a whole. A page breaks between the parts of a
// picture, and a file holds all of them.
type part struct {
	name, desc string // where there are several
	draw       func(width float64) *drawing
}

// panelPart is a part about one result.
func panelPart(r *compare.Result, desc string, draw func(*drawing)) part {
	return part{Clean(r.Name()), desc, func(width float64) *drawing {
		d := &drawing{width: width}
		draw(d)
		return d
	}}
}

// The widths at which a page draws a part: for a wide window and for paper, and
// for a telephone. A part that is one of two side by side is drawn once, for
// both.
const (
	wideWidth   = 720
	narrowWidth = 343
	gap         = 24 // between parts side by side
	halfWidth   = (wideWidth - gap) / 2
)

// point is a place in a picture: x to the right, y down, in CSS pixels.
type point struct{ x, y float64 }

// paint says in which colours of the palette something is drawn; an empty name
// draws nothing.
type paint struct {
	stroke, fill string
	width        float64
	dashed       bool
}

// shape is the form of a marker. Shapes differ as colours do, so that a grey
// print says the same.
type shape int

const (
	disc shape = iota
	square
	diamond
	triangle
	triangleDown
)

// item is one thing in a drawing.
type item struct {
	at     []point // of a line or an area; the places of markers; of text the foot
	closed bool    // an area
	mark   *shape  // markers
	r      float64 // of markers
	paint  paint
	text   string
	size   float64
	bold   bool
	anchor string // of text: "start", "middle" or "end"
	role   string // what it is, and of which result, so that a test can read it back
	of     string
}

// drawing is what both the SVG and the PNG are made of.
type drawing struct {
	width, height float64
	items         []item
}

func (d *drawing) line(p paint, at ...point) *item {
	d.items = append(d.items, item{at: at, paint: p})
	return &d.items[len(d.items)-1]
}

func (d *drawing) area(p paint, at ...point) *item {
	i := d.line(p, at...)
	i.closed = true
	return i
}

func (d *drawing) box(p paint, x0, y0, x1, y1 float64) *item {
	return d.area(p, point{x0, y0}, point{x1, y0}, point{x1, y1}, point{x0, y1})
}

func (d *drawing) marks(s shape, r float64, p paint, at ...point) *item {
	i := d.line(p, at...)
	i.mark, i.r = &s, r
	return i
}

// words puts one line of text; colour is that of the palette.
func (d *drawing) words(x, y float64, size float64, colour, anchor, s string) *item {
	d.items = append(d.items, item{at: []point{{x, y}}, paint: paint{fill: colour}, text: s, size: size, anchor: anchor})
	return &d.items[len(d.items)-1]
}

// place puts another drawing into this one.
func (d *drawing) place(other *drawing, dx, dy float64) {
	for _, i := range other.items {
		moved := make([]point, len(i.at))
		for k, p := range i.at {
			moved[k] = point{p.x + dx, p.y + dy}
		}
		i.at = moved
		d.items = append(d.items, i)
	}
}

// legendEntry says what a mark means.
type legendEntry struct {
	word  string
	badge badge
}

// legend puts entries below the drawing, in as many lines as they need.
func (d *drawing) legend(entries []legendEntry) {
	x, y := 14.0, d.height+14
	for _, e := range entries {
		w := textWidth(e.word, 12, false) + 36
		if x+w > d.width && x > 14 {
			x, y = 14, y+20
		}
		d.marks(e.badge.shape, 5, e.badge.paint(), point{x, y - 4})
		d.words(x+12, y, 12, "muted", "start", e.word)
		x += w
	}
	d.height = y + 8
}

// outline lists the corners of a marker around a point; a disc has none.
func (s shape) outline(p point, r float64) []point {
	switch s {
	case square:
		r *= 0.88
		return []point{{p.x - r, p.y - r}, {p.x + r, p.y - r}, {p.x + r, p.y + r}, {p.x - r, p.y + r}}
	case diamond:
		r *= 1.25
		return []point{{p.x, p.y - r}, {p.x + r, p.y}, {p.x, p.y + r}, {p.x - r, p.y}}
	case triangle:
		return []point{{p.x, p.y - 1.2*r}, {p.x + 1.15*r, p.y + 0.8*r}, {p.x - 1.15*r, p.y + 0.8*r}}
	case triangleDown:
		return []point{{p.x, p.y + 1.2*r}, {p.x - 1.15*r, p.y - 0.8*r}, {p.x + 1.15*r, p.y - 0.8*r}}
	}
	return nil
}

// badge is how a verdict is marked: by shape for its direction, by colour for
// harm or benefit, and hollow where it is less than the whole thing.
type badge struct {
	shape  shape
	colour string
	hollow bool
}

func badgeOf(r *compare.Result) badge {
	if r.Verdict == nil {
		return badge{diamond, "muted", true}
	}
	return toneBadges[toneOf(r)]
}

// toneBadges are the marks of the tones of verdicts.
var toneBadges = map[doc.Tone]badge{
	doc.BigGain:   {triangle, "better", false},
	doc.SmallGain: {triangle, "better", true},
	doc.BigRise:   {triangle, "worse", false},
	doc.SmallRise: {triangle, "worse", true},
	doc.Level:     {square, "ink", false},
	doc.Hint:      {diamond, "hint", true},
	doc.Open:      {disc, "open", true},
	doc.SmallFall: {triangleDown, "better", true},
	doc.BigFall:   {triangleDown, "better", false},
	doc.SmallLoss: {triangleDown, "worse", true},
	doc.BigLoss:   {triangleDown, "worse", false},
}

func (s badge) paint() paint {
	if s.hollow {
		return paint{stroke: s.colour, fill: "panel", width: 2}
	}
	return paint{stroke: "panel", fill: s.colour, width: 1}
}

// axis maps values to pixels, from lo at a to hi at b.
type axis struct {
	lo, hi, a, b float64
	log          bool
}

func (x axis) at(v float64) float64 {
	lo, hi := x.lo, x.hi
	if x.log {
		lo, hi, v = math.Log(lo), math.Log(hi), math.Log(v)
	}
	if hi == lo {
		return (x.a + x.b) / 2
	}
	return x.a + (v-lo)/(hi-lo)*(x.b-x.a)
}

// ticks are round values within [lo, hi], at most this many.
func ticks(lo, hi float64, most int) []float64 {
	if !(hi > lo) {
		return []float64{lo}
	}
	unit := math.Pow(10, math.Floor(math.Log10((hi-lo)/float64(most))))
	for _, m := range []float64{1, 2, 5, 10, 20, 50, 100} {
		step := m * unit
		from, to := math.Ceil(lo/step-1e-9), math.Floor(hi/step+1e-9)
		if int(to-from)+1 > most {
			continue
		}
		var out []float64
		for k := from; k <= to; k++ {
			out = append(out, k*step)
		}
		return out
	}
	return nil
}

// tickText writes ticks with as many places as their step needs.
func tickText(v float64, all []float64) string {
	if v == 0 {
		return "0"
	}
	step := math.Abs(v)
	if len(all) > 1 {
		step = all[1] - all[0]
	}
	places := 0
	for places < 9 && math.Abs(math.Round(step*math.Pow10(places))-step*math.Pow10(places)) > 1e-6*step*math.Pow10(places) {
		places++
	}
	return compare.Decimal(v, places)
}

// levels draws a grid line from x0 to x1 at each mark of a vertical axis, with the
// mark's number left of it; signed numbers above zero have a plus.
func (d *drawing) levels(y axis, marks []float64, x0, x1 float64, signed bool) {
	for _, t := range marks {
		d.line(paint{stroke: "grid", width: 1}, point{x0, y.at(t)}, point{x1, y.at(t)})
		s := tickText(t, marks)
		if signed && t > 0 {
			s = "+" + s
		}
		d.words(x0-6, y.at(t)+4, 12, "muted", "end", s).role = "tick-y"
	}
}

// ticksWidth is the width of the widest mark, with a sign before each.
func ticksWidth(marks []float64, sign string) float64 {
	widest := 0.0
	for _, t := range marks {
		widest = math.Max(widest, textWidth(sign+tickText(t, marks), 12, false))
	}
	return widest
}

// logTicks are 1, 2 and 5 times powers of ten within [lo, hi], the whole numbers
// among them.
func logTicks(lo, hi float64, most int) []float64 {
	for _, of := range [][]float64{{1, 2, 3, 4, 5, 6, 8}, {1, 2, 5}, {1}} {
		var out []float64
		for unit := 1.0; unit <= hi; unit *= 10 {
			for _, m := range of {
				if v := m * unit; v >= lo*(1-1e-9) && v <= hi*(1+1e-9) {
					out = append(out, v)
				}
			}
		}
		if len(out) <= most {
			return out
		}
	}
	return []float64{lo, hi}
}
