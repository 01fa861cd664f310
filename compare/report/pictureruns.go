package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
)

// track is one profile's runs of one metric, as a panel draws them.
type track struct {
	profile  string
	sittings []sitting
	median   float64
}

// panelOf is what one panel shows: a metric under two profiles or more.
type panelOf struct {
	result *compare.Result // for its name, unit and digits
	tracks []track
}

// maxPanels is the maximum number of metrics with a panel in one picture.
const maxPanels = 24

func panelsOf(c *compare.Comparison) (out []panelOf, more int) {
	for _, role := range []compare.Role{compare.Score, compare.Cost, compare.Info} {
		for _, r := range c.Results {
			if r.Role != role {
				continue
			}
			if len(out) == maxPanels {
				more++
				continue
			}
			b, a := sittingsOf(r.Pair)
			out = append(out, panelOf{r, []track{{Clean(c.Before), b, r.Before.Median}, {Clean(c.After), a, r.After.Median}}})
		}
	}
	return out, more
}

// runsPicture shows every run, session by session, a panel for each metric.
func runsPicture(name, title string, panels []panelOf, more int) *Picture {
	p := &Picture{Name: name, Title: title, Head: []string{"benchmark", "profile", "session", "runs", "counts with"}}
	inBlocks, perSession, reduced, most := false, false, false, 0
	for _, panel := range panels {
		places := min(6, compare.Places(panel.spread()/10))
		reduced = reduced || panel.reduced()
		for _, t := range panel.tracks {
			run := 0
			for _, s := range t.sittings {
				inBlocks = inBlocks || s.Block != ""
				perSession = perSession || len(s.Runs) > 1
				most = max(most, len(t.sittings))
				var values []string
				for _, v := range s.Runs {
					values = append(values, compare.Decimal(v, places))
				}
				text := strings.Join(values, ", ")
				if len(values) > 12 {
					text = fmt.Sprintf("%s, … (%d runs)", strings.Join(values[:12], ", "), len(values))
				}
				label := Clean(s.Label)
				if s.Block != "" {
					label = strings.TrimSpace(Clean(s.Block) + ", " + label)
				}
				if run++; label == "" {
					label = fmt.Sprintf("run %d", run)
				}
				if run <= 60 {
					p.Rows = append(p.Rows, []string{Clean(panel.result.Name()), t.profile, label, text + unitBehind(panel.result),
						compare.Decimal(s.Value, places) + unitBehind(panel.result)})
				}
			}
			if run > 60 {
				p.Rows = append(p.Rows, []string{Clean(panel.result.Name()), t.profile, fmt.Sprintf("and %d more", run-60), "", ""})
			}
		}
	}
	const everyRun = "Every run is a mark, in the order in which they were made"
	p.Caption = everyRun + "; the long line is the middle of a profile."
	if perSession {
		p.Caption += " The short lines are what a session counts with."
	}
	if inBlocks {
		p.Caption += " Columns with one ground are one block, in it the one profile before the other."
	}
	if reduced {
		p.Caption = strings.Replace(p.Caption, everyRun, "Where rows are reduced a mark stands for all runs of a session", 1)
	} else {
		p.Caption += " Watch for a slope, for single marks far off, and for two groups instead of one: each of them is a reason to measure again."
	}
	if more > 0 {
		p.Caption += fmt.Sprintf(" %s %s no panel here.", english.Count(more, "more metric"), english.Verb(more, "has", "have"))
	}
	p.columns = 2
	for _, panel := range panels {
		if len(panel.tracks) > 2 {
			p.columns = 1 // the runs of many profiles need the width
		}
		p.parts = append(p.parts, panelPart(panel.result, panel.words(), panel.draw))
	}
	return p
}

// reduced reports whether marks stand for several runs.
func (p panelOf) reduced() bool { return p.result.Before.Reduced || p.result.After.Reduced }

// words says what the panel shows.
func (p panelOf) words() string {
	var parts []string
	for _, t := range p.tracks {
		parts = append(parts, t.profile+" "+compare.Decimal(t.median, medianPlaces(p.result))+unitBehind(p.result))
	}
	mark := "run"
	if p.reduced() {
		mark = "session"
	}
	return "Each " + mark + " is a mark. In the middle: " + strings.Join(parts, ", ") + "."
}

func unitBehind(r *compare.Result) string {
	if r.Unit == "" {
		return ""
	}
	return " " + Clean(r.Unit)
}

// spread is how far the values of all tracks lie apart.
func (p panelOf) spread() float64 {
	lo, hi := p.ends()
	return hi - lo
}

func (p panelOf) ends() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, t := range p.tracks {
		for _, s := range t.sittings {
			for _, v := range s.Runs {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	return lo, hi
}

// looks of the profiles of a panel, in their order. None has a colour of verdicts.
var looks = []struct {
	shape  shape
	colour string
	hollow bool
}{
	{disc, "before", true}, {diamond, "after", false}, {triangle, "before", true}, {square, "after", false},
	{triangleDown, "before", true}, {disc, "after", false}, {diamond, "before", true}, {triangle, "after", false},
	{square, "before", true}, {triangleDown, "after", false}, {disc, "after", true}, {diamond, "before", false},
}

func lookOf(i int) (shape, paint) {
	l := looks[i%len(looks)]
	if l.hollow {
		return l.shape, paint{stroke: l.colour, fill: "panel", width: 1.5}
	}
	return l.shape, paint{stroke: "panel", fill: l.colour, width: 0.5}
}

// colour is the one that a marker shows.
func (p paint) colour() string {
	if p.fill == "panel" {
		return p.stroke
	}
	return p.fill
}

// draw draws the panel: a title, what each profile's middle is, and the runs.
func (p panelOf) draw(d *drawing) {
	r := p.result
	d.words(0, 14, 13, "ink", "start", fitted(Clean(r.Name()), d.width, 13, true)).bold = true
	y := 32.0
	x := 0.0
	for i, t := range p.tracks {
		text := t.profile + " " + compare.Decimal(t.median, medianPlaces(r)) + unitBehind(r)
		text = fitted(text, d.width-16, 12, false)
		w := textWidth(text, 12, false) + 30
		if x > 0 && x+w-14 > d.width {
			x, y = 0, y+17
		}
		s, look := lookOf(i)
		d.marks(s, 4, look, point{x + 5, y - 4})
		d.words(x+14, y, 12, "muted", "start", text)
		x += w
	}
	top := y + 12
	lo, hi := p.ends()
	pad := (hi - lo) * 0.08
	if pad == 0 {
		pad = math.Max(math.Abs(lo)*0.01, 1e-9)
	}
	v := axis{lo: lo - pad, hi: hi + pad, a: top + 120, b: top}
	marks := ticks(v.lo, v.hi, 4)
	left := ticksWidth(marks, "") + 8
	d.levels(v, marks, left, d.width, false)
	p.columns(d, axis{a: left + 6, b: d.width - 4}, v)
	d.line(paint{stroke: "edge", width: 1}, point{left, v.a}, point{d.width, v.a})
	foot := "in run order"
	if p.reduced() {
		foot = "by session"
	}
	if r.Unit != "" {
		foot = Clean(r.Unit) + ", " + foot
	}
	foot += "; " + betterWord(r)
	d.words(d.width, v.a+17, 12, "muted", "end", fitted(foot, d.width, 12, false))
	d.height = v.a + 24
}

func betterWord(r *compare.Result) string {
	if r.Better == compare.Lower {
		return "lower is better"
	}
	return "higher is better"
}

// columns draws the runs: profile after profile, or block after block.
func (p panelOf) columns(d *drawing, x, v axis) {
	type column struct {
		track   int
		sitting sitting
	}
	var all []column
	blocks := p.inBlocks()
	for i, t := range p.tracks {
		for _, s := range t.sittings {
			all = append(all, column{i, s})
		}
	}
	if blocks != nil {
		order := indexByName(blocks)
		slices.SortStableFunc(all, func(a, b column) int { return order[a.sitting.Block] - order[b.sitting.Block] })
	}
	runs := 0
	for _, c := range all {
		runs += len(c.sitting.Runs)
	}
	// A run takes one place, the gap between sessions one half, between sides one.
	const between, sides = 0.6, 1.2
	places := float64(runs)
	for k := 1; k < len(all); k++ {
		places += gapBefore(all[k-1].track, all[k].track, between, sides)
	}
	step := (x.b - x.a) / places
	size := math.Max(1.8, math.Min(4, step*0.42))
	at := x.a
	dots := make([][]point, len(p.tracks))
	span := make([][2]float64, len(p.tracks))
	for i := range span {
		span[i] = [2]float64{math.Inf(1), math.Inf(-1)}
	}
	var shorts []item
	ground := &drawing{}
	block, from, shade := "", at, false
	for k, c := range all {
		if k > 0 {
			at += step * gapBefore(all[k-1].track, c.track, between, sides)
		}
		if blocks != nil && c.sitting.Block != block {
			if shade {
				ground.box(paint{fill: "band"}, from-step*0.5, v.b, at-step*0.5, v.a)
			}
			block, from, shade = c.sitting.Block, at, !shade
		}
		start := at
		for _, value := range c.sitting.Runs {
			dots[c.track] = append(dots[c.track], point{at + step/2, v.at(value)})
			at += step
		}
		span[c.track][0], span[c.track][1] = math.Min(span[c.track][0], start), math.Max(span[c.track][1], at)
		if len(c.sitting.Runs) > 1 {
			y := v.at(c.sitting.Value)
			shorts = append(shorts, item{at: []point{{start, y}, {at, y}}, paint: paint{stroke: "ink", width: 1.5}})
		}
	}
	if shade {
		ground.box(paint{fill: "band"}, from-step*0.5, v.b, at+step*0.2, v.a)
	}
	d.items = append(d.items, ground.items...)
	// Many marks cover their lines, so those stand before them.
	crowded := runs > 600
	if crowded {
		for i, t := range p.tracks {
			if len(dots[i]) > 0 {
				_, look := lookOf(i)
				m := d.marks(disc, size, paint{fill: look.colour()}, dots[i]...)
				m.role, m.of = "runs", p.result.Name()+"/"+t.profile
				d.line(paint{stroke: "panel", width: 5}, point{span[i][0], v.at(t.median)}, point{span[i][1], v.at(t.median)})
			}
		}
	}
	for i, t := range p.tracks {
		if len(dots[i]) == 0 {
			continue
		}
		_, look := lookOf(i)
		colour := look.colour()
		line := d.line(paint{stroke: colour, width: 2, dashed: i%2 == 0}, point{span[i][0], v.at(t.median)}, point{span[i][1], v.at(t.median)})
		line.role, line.of = "median", p.result.Name()+"/"+t.profile
	}
	d.items = append(d.items, shorts...)
	for i, t := range p.tracks {
		if len(dots[i]) == 0 || crowded {
			continue
		}
		s, look := lookOf(i)
		if size < 3 { // too small for an outline
			look.width = 1
			if look.fill != "panel" {
				look.stroke = ""
			}
		}
		m := d.marks(s, size, look, dots[i]...)
		m.role, m.of = "runs", p.result.Name()+"/"+t.profile
	}
}

func gapBefore(last, next int, between, sides float64) float64 {
	if last != next {
		return sides
	}
	return between
}

// inBlocks lists the blocks in their order; nil where none are used.
func (p panelOf) inBlocks() []string {
	var out []string
	seen := map[string]bool{}
	for _, t := range p.tracks {
		for _, s := range t.sittings {
			if s.Block == "" {
				return nil
			}
			if !seen[s.Block] {
				seen[s.Block] = true
				out = append(out, s.Block)
			}
		}
	}
	return out
}
