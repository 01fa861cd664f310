package report

import (
	"math"
	"sort"

	"tunegate/compare"
)

// glyphs is one set of characters for the strip and the verdict signs.
type glyphs struct {
	track, zero, crossed, tolerance, line, dashed, left, right, point, cutLeft, cutRight string
	arrow, dots                                                                          string
	signs                                                                                map[compare.Verdict]string
}

var unicodeGlyphs = glyphs{
	track: "·", zero: "│", crossed: "╋", tolerance: ":", line: "━", dashed: "╌", left: "┣", right: "┫", point: "◆", cutLeft: "◀", cutRight: "▶",
	arrow: "→", dots: "…",
	signs: map[compare.Verdict]string{compare.Uplift: "▲", compare.SlightGain: "△", compare.Level: "=",
		compare.Noise: "?", compare.SlightLoss: "▽", compare.Regression: "▼"},
}

var plainGlyphs = glyphs{
	track: ".", zero: "|", crossed: "+", tolerance: ":", line: "=", dashed: "-", left: "[", right: "]", point: "#", cutLeft: "<", cutRight: ">",
	arrow: "->", dots: "...",
	signs: map[compare.Verdict]string{compare.Uplift: "++", compare.SlightGain: "+", compare.Level: "=",
		compare.Noise: "?", compare.SlightLoss: "-", compare.Regression: "--"},
}

// reach is the scale common to a table: from -reach to +reach. It shows every
// interval, unless a few are more than four times as wide as the usual one;
// those are cut and marked.
func reach(rs []*compare.Result) float64 {
	var ends []float64
	least := 0.0
	for _, r := range rs {
		in := r.Interval
		if in == nil {
			in = r.Range
		}
		end := math.Abs(r.Change)
		if in != nil {
			end = math.Max(math.Abs(in[0]), math.Abs(in[1]))
		}
		if !math.IsInf(end, 0) {
			ends = append(ends, end)
		}
		if r.Tolerance != nil {
			least = math.Max(least, 1.5**r.Tolerance)
		}
	}
	sort.Float64s(ends)
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

// strip draws a metric's interval on the scale, width columns wide (odd, so
// that zero has one of its own). It returns what lies left of the interval, the
// interval and what lies right of it, so that only the interval is coloured.
func strip(r *compare.Result, reach float64, width int, g glyphs) (left, mid, right string) {
	cells := make([]string, width)
	at := func(v float64) int { // rounded from the middle, so that both sides are alike
		half := (width - 1) / 2
		return half + int(math.Round(v/reach*float64(half)))
	}
	inside := func(i int) bool { return i >= 0 && i < width }
	for i := range cells {
		cells[i] = g.track
	}
	if r.Tolerance != nil && *r.Tolerance > 0 {
		for _, i := range []int{at(-*r.Tolerance), at(*r.Tolerance)} {
			if inside(i) {
				cells[i] = g.tolerance
			}
		}
	}
	cells[at(0)] = g.zero
	in, line := r.Interval, g.line
	if in == nil {
		in, line = r.Range, g.dashed
	}
	from, to := at(r.Change), at(r.Change)
	if in != nil {
		from, to = at(in[0]), at(in[1])
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
	if i := at(r.Change); inside(i) {
		cells[i] = g.point
	}
	from, to = min(max(from, 0), width-1), min(max(to, 0), width-1)
	if in != nil {
		if in[0] < -reach*(1+1e-9) {
			cells[0], from = g.cutLeft, 0
		}
		if in[1] > reach*(1+1e-9) {
			cells[width-1], to = g.cutRight, width-1
		}
	}
	join := func(c []string) string {
		s := ""
		for _, x := range c {
			s += x
		}
		return s
	}
	return join(cells[:from]), join(cells[from : to+1]), join(cells[to+1:])
}
