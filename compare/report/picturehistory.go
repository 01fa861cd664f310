package report

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/gate"
	"tunegate/compare/history"
)

// HistoryPictures are one picture a track: the suite first, where there is one.
func HistoryPictures(h HistoryPage) []*Picture {
	var out []*Picture
	for i, track := range h.Tracks {
		if p := trackPicture(h, track, fmt.Sprintf("history-%d", i+1)); p != nil {
			out = append(out, p)
		}
	}
	return out
}

// trackPicture shows a track commit by commit: the change since the first runs
// with its interval, its shifts, and what the gate said. nil where
// nothing was measured twice.
func trackPicture(h HistoryPage, track *history.Track, name string) *Picture {
	p := &Picture{Name: name, Title: trackFinding(h, track),
		Head: []string{"commit", "date", "what it did", countHead(h),
			"change since the first", confidencePercent(h.Confidence) + " % interval", "gate"}}
	var points []trackPoint
	for i, at := range h.Points {
		m := track.Measured[i]
		if m == nil {
			continue
		}
		row := []string{fmt.Sprintf("%.7s", at.Commit), day(at), pointWords(at), fmt.Sprint(sessionsOf(m)), "first", "", gateWord(at.Gate)}
		if m.Since != nil {
			row[4], row[5] = signed(m.Since, m.Since.Change), intervalText(m.Since)
		}
		p.Rows = append(p.Rows, row)
		x := trackPoint{commit: row[0], day: row[1], since: m.Since, gate: at.Gate}
		for _, l := range track.Shifts {
			if l.First == i {
				x.changed = l.Result
			}
		}
		points = append(points, x)
	}
	if len(points) < 2 {
		return nil
	}
	p.Caption = fmt.Sprintf("Each mark is what one commit measured, beside the first runs; the upright line is its %s %% interval. "+
		"The dashed line marks a shift between two commits. "+
		"Below each commit: what the gate said of it (√ passed, × failed, … undecided).", confidencePercent(h.Confidence))
	p.parts = []part{{draw: func(width float64) *drawing { return drawTrack(track, points, width) }}}
	return p
}

// trackFinding is the title: the changes of a track.
func trackFinding(h HistoryPage, track *history.Track) string {
	name := Clean(track.Name())
	if len(track.Shifts) == 0 {
		return fmt.Sprintf("No shift of %s was found over %s", name, english.Count(len(h.Points), "commit"))
	}
	var parts []string
	for _, l := range track.Shifts {
		parts = append(parts, fmt.Sprintf("%s from %.7s", changeText(l.Result), h.Points[l.First].Commit))
	}
	return name + ": " + strings.Join(parts, ", ")
}

// trackPoint is one commit in a picture of a track.
type trackPoint struct {
	commit, day string
	since       *compare.Result // nil: the first
	changed     *compare.Result // the level changed here
	gate        *history.PointGate
}

// pointBadge marks what a commit measured beside the first runs: open where the
// interval reaches 0.
func pointBadge(r *compare.Result) badge {
	if r.Interval == nil || r.Interval[0] <= 0 && r.Interval[1] >= 0 {
		return badge{disc, "open", true}
	}
	b := badge{triangle, "better", false}
	if r.Change < 0 {
		b.shape = triangleDown
	}
	switch {
	case r.Role == compare.Info:
		b.colour = "muted"
	case r.Gain(r.Change) < 0:
		b.colour = "worse"
	}
	return b
}

func drawTrack(track *history.Track, points []trackPoint, width float64) *drawing {
	d := &drawing{width: width, height: 330}
	unit, factor := track.Unit, 1.0
	if track.Scale == compare.Ratio {
		unit, factor = "%", 100
	}
	lo, hi := 0.0, 0.0
	for _, p := range points {
		if p.since != nil {
			in := endsOf(p.since)
			lo, hi = math.Min(lo, in[0]*factor), math.Max(hi, in[1]*factor)
		}
	}
	if hi == lo {
		lo, hi = -1, 1
	}
	pad := (hi - lo) * 0.06
	v := axis{lo: lo - pad, hi: hi + pad, a: 250, b: 30}
	title := "change since the first runs, in " + cmp.Or(Clean(unit), "its unit") + "; " + plusWords(track.Metric)
	d.words(4, 16, 12, "muted", "start", fitted(title, width-8, 12, false))
	marks := ticks(v.lo, v.hi, 6)
	x := axis{lo: 0, hi: float64(len(points) - 1), a: math.Max(70, ticksWidth(marks, "+")+20), b: width - 28}
	for _, t := range marks {
		colour := "grid"
		if t == 0 {
			colour = "edge"
		}
		d.line(paint{stroke: colour, width: 1}, point{x.a - 12, v.at(t)}, point{x.b + 12, v.at(t)})
		s := tickText(t, marks)
		if t > 0 && v.lo < 0 {
			s = "+" + s
		}
		d.words(x.a-18, v.at(t)+4, 12, "muted", "end", s).role = "tick-y"
	}
	for i, p := range points {
		if p.changed != nil {
			at := (x.at(float64(i-1)) + x.at(float64(i))) / 2
			line := d.line(paint{stroke: badgeOf(p.changed).colour, width: 2, dashed: true}, point{at, v.b}, point{at, v.a})
			line.role, line.of = "shift", p.commit
		}
	}
	every := max(1, int(math.Ceil(float64(len(points))*58/(x.b-x.a))))
	for i, p := range points {
		at := x.at(float64(i))
		y, b := v.at(0), badge{diamond, "muted", false}
		if r := p.since; r != nil {
			y, b = v.at(r.Change*factor), pointBadge(r)
			if r.Interval != nil || r.Range != nil {
				in := endsOf(r)
				look := paint{stroke: b.colour, width: 3, dashed: r.Interval == nil}
				line := d.line(look, point{at, v.at(in[0] * factor)}, point{at, v.at(in[1] * factor)})
				line.role, line.of = "interval", p.commit
			}
		}
		m := d.marks(b.shape, 5.5, b.paint(), point{at, y})
		m.role, m.of = "change", p.commit
		if p.gate != nil && p.gate.Outcome != "" {
			sign := map[gate.Outcome]string{gate.Passed: "√", gate.Failed: "×", gate.Undecided: "…"}[p.gate.Outcome] // that a PNG's fonts have
			colour := map[gate.Outcome]string{gate.Passed: "muted", gate.Failed: "worse", gate.Undecided: "open"}[p.gate.Outcome]
			d.words(at, 270, 13, colour, "middle", sign).role = "gate"
		}
		if (len(points)-1-i)%every == 0 {
			d.words(at, 290, 11, "muted", "middle", p.commit)
			d.words(at, 304, 11, "muted", "middle", strings.TrimPrefix(p.day, "20"))
		}
	}
	d.words(4, 270, 12, "muted", "start", "gate")
	d.words((x.a+x.b)/2, 324, 12, "muted", "middle", fitted("commits, oldest first; day as YY-MM-DD", width-8, 12, false))
	return d
}
