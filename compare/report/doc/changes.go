package doc

import (
	"math"
	"slices"
	"strings"
)

// Changes is a table of changes on one scale, each with its interval.
type Changes struct {
	Title    string // empty: it goes on with the table before
	Label    string // for screen readers: the title of what it goes on with
	Head     string // of the names
	Interval string // head of the intervals
	Measured string // head of what was measured; empty where nothing is
	Factor   float64
	Rows     []Change
	Relative bool // medians say nothing by themselves
}

// Change is one row.
type Change struct {
	Name          string
	Verdict       Line
	Judged        bool // else Verdict has no sign
	Change        string
	Ends          string // of the interval, or of the range
	Ranged        string // the confidence of the range; empty for an interval
	Before, After string
	Compared      string
	Measured      string
	Advice        string // what would settle it; on a terminal alone, other forms have a list of them
	Span          Span
	Detail        string // for experts
}

// Span is the change and its interval in numbers, to be drawn.
type Span struct {
	At        float64
	Ends      *[2]float64 // nil for none
	Range     bool        // of no full confidence
	Tolerance float64     // 0 for none
	Places    int         // that At and Ends are quoted to: of per cent where Unit is "%"
	Unit      string
}

func (Changes) isBlock() {}

// interval is the interval, or the range with its confidence.
func (c Change) interval() string {
	if c.Ranged != "" {
		return c.Ends + " (range, " + c.Ranged + ")"
	}
	return c.Ends
}

func (c Changes) reach() float64 {
	spans := make([]Span, len(c.Rows))
	for i, r := range c.Rows {
		spans[i] = r.Span
	}
	return Reach(spans)
}

// Reach is the scale common to a table: from -reach to +reach. It shows every
// interval, unless a few are more than four times as wide as the usual one;
// those are cut and marked.
func Reach(spans []Span) float64 {
	var ends []float64
	least := 0.0
	for _, s := range spans {
		end := math.Abs(s.At)
		if s.Ends != nil {
			end = math.Max(math.Abs(s.Ends[0]), math.Abs(s.Ends[1]))
		}
		if !math.IsInf(end, 0) {
			ends = append(ends, end)
		}
		least = math.Max(least, 1.5*s.Tolerance)
	}
	slices.Sort(ends)
	most := 0.0
	if len(ends) > 0 {
		most = math.Min(ends[len(ends)-1], 4*ends[len(ends)/2])
	}
	return niceAbove(math.Max(most, least))
}

// niceAbove rounds up to 1, 1.5, 2, 3, 4, 5, 6 or 8 times a power of ten.
func niceAbove(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	unit := math.Pow(10, math.Floor(math.Log10(v)))
	for _, step := range []float64{1, 1.5, 2, 3, 4, 5, 6, 8, 10} {
		if v <= step*unit*(1+1e-9) {
			return step * unit
		}
	}
	return 10 * unit
}

// strip draws a span on the scale, width columns wide (odd, so that zero has one
// of its own). It returns what lies left of the interval, the interval and what
// lies right of it, so that only the interval is coloured.
func strip(s Span, reach float64, width int, g glyphs) (left, mid, right string) {
	cells := make([]string, width)
	at := func(v float64) int { // rounded from the middle, so that both sides are alike
		half := (width - 1) / 2
		return half + int(math.Round(v/reach*float64(half)))
	}
	inside := func(i int) bool { return i >= 0 && i < width }
	for i := range cells {
		cells[i] = g.track
	}
	if s.Tolerance > 0 {
		for _, i := range []int{at(-s.Tolerance), at(s.Tolerance)} {
			if inside(i) {
				cells[i] = g.tolerance
			}
		}
	}
	cells[at(0)] = g.zero
	from, to, line := at(s.At), at(s.At), g.line
	if s.Range {
		line = g.dashed
	}
	if s.Ends != nil {
		from, to = at(s.Ends[0]), at(s.Ends[1])
		for i := max(from, 0); i <= min(to, width-1); i++ {
			cells[i] = line
		}
		if from < at(0) && at(0) < to {
			cells[at(0)] = g.crossed
		}
		if inside(from) {
			cells[from] = g.left
		}
		if inside(to) {
			cells[to] = g.right
		}
	}
	if i := at(s.At); inside(i) {
		cells[i] = g.point
	}
	from, to = min(max(from, 0), width-1), min(max(to, 0), width-1)
	if s.Ends != nil {
		if s.Ends[0] < -reach*(1+1e-9) {
			cells[0], from = g.cutLeft, 0
		}
		if s.Ends[1] > reach*(1+1e-9) {
			cells[width-1], to = g.cutRight, width-1
		}
	}
	return strings.Join(cells[:from], ""), strings.Join(cells[from:to+1], ""), strings.Join(cells[to+1:], "")
}

// glyphs is one set of characters for strips, signs and arrows.
type glyphs struct {
	track, zero, crossed, tolerance, line, dashed, left, right, point, cutLeft, cutRight string
	arrow, dots                                                                          string
	signs                                                                                map[Tone]string
	words                                                                                map[Tone]string // in place of signs
}

var unicodeGlyphs = glyphs{
	track: "·", zero: "│", crossed: "╋", tolerance: ":", line: "━", dashed: "╌",
	left: "┣", right: "┫", point: "◆", cutLeft: "◀", cutRight: "▶", arrow: "→", dots: "…",
	signs: map[Tone]string{
		BigGain: "▲", SmallGain: "△", Level: "=", Hint: "◇", Open: "?", SmallLoss: "▽", BigLoss: "▼",
		BigRise: "▲", SmallRise: "△", SmallFall: "▽", BigFall: "▼",
		Good: "✔", Bad: "✘", Undecided: "…", Unsettled: "?", Unjudged: "|",
	},
}

var plainGlyphs = glyphs{
	track: ".", zero: "|", crossed: "+", tolerance: ":", line: "=", dashed: "-",
	left: "[", right: "]", point: "#", cutLeft: "<", cutRight: ">", arrow: "->", dots: "...",
	words: map[Tone]string{
		BigGain: "uplift", SmallGain: "slight gain", Level: "level", Hint: "hint", Open: "noise", SmallLoss: "slight loss", BigLoss: "regression",
		BigRise: "rise", SmallRise: "slight rise", SmallFall: "slight fall", BigFall: "fall",
		Good: "passed", Bad: "FAILED", Undecided: "undecided", Unsettled: "not settled", Unjudged: "not judged",
	},
}

// mark is what says a tone where no other text does: its sign, or a word.
func (g glyphs) mark(t Tone) string {
	if g.words != nil {
		return g.words[t]
	}
	return g.signs[t]
}

// signed puts a tone's sign before a text that says the same; words need none.
func (g glyphs) signed(t Tone, text string) string {
	if sign := g.signs[t]; sign != "" {
		return sign + " " + text
	}
	return text
}

// Sign is the sign of a tone; empty where it has none.
func (t Tone) Sign() string { return unicodeGlyphs.signs[t] }
