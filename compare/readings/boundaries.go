package readings

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

func (c *Collector) byMarker(r Reading) error {
	l := c.log
	if l.run != nil && r.Marker != l.marker {
		if err := c.finish(l.last.Time, l.last.Line); err != nil {
			return err
		}
	}
	if l.run == nil && r.Marker != "" {
		l.marker = r.Marker
		w := Window{Start: r.Time, End: math.MaxInt64, StartText: r.TimeText}
		w.Benchmark, w.Run = splitMarker(r.Marker)
		c.open(w, r)
	}
	l.accumulate(r)
	l.advance(r)
	return nil
}

// splitMarker reads "tile-render #3" as run 3 of tile-render.
func splitMarker(cell string) (benchmark, run string) {
	i := strings.LastIndexByte(cell, '#')
	if i <= 0 || i == len(cell)-1 || strings.Trim(cell[i+1:], "0123456789") != "" {
		return cell, ""
	}
	if benchmark = strings.TrimSpace(cell[:i]); benchmark == "" {
		return cell, ""
	}
	return benchmark, cell[i+1:]
}

func (c *Collector) byThreshold(r Reading) error {
	l := c.log
	v := r.Values[l.threshold]
	if !math.IsNaN(v) {
		l.highest = math.Max(l.highest, v)
	}
	above := v > c.rules.Threshold.Value
	switch {
	case above && l.run == nil:
		c.open(Window{Benchmark: c.rules.Benchmark, Start: r.Time, End: math.MaxInt64, StartText: r.TimeText}, r)
	case above:
		l.flush()
	case l.run != nil && r.Time-l.run.lastAbove <= nanoseconds(c.rules.MaxDip):
		r.Values = slices.Clone(r.Values)
		l.pending = append(l.pending, r)
		return nil
	case l.run != nil:
		if err := c.finish(l.run.lastAbove, l.run.LastLine); err != nil {
			return err
		}
		l.flush()
	}
	l.accumulate(r)
	l.advance(r)
	if above {
		l.run.lastAbove = r.Time
	}
	return nil
}

// flush feeds the rows of a dip, to the run if it is still there.
func (l *openLog) flush() {
	for _, p := range l.pending {
		l.accumulate(p)
		l.advance(p)
	}
	l.pending = l.pending[:0]
}

func (c *Collector) byWindow(r Reading) error {
	l := c.log
	for l.run != nil || c.openWindow(r) {
		l.accumulate(r)
		if r.Time < l.run.end {
			break
		}
		if err := c.finish(l.run.end, l.run.LastLine); err != nil {
			return err
		}
	}
	l.advance(r)
	return nil
}

// openWindow opens the next window that has begun at a row. One that was over
// before the log began may be in another log.
func (c *Collector) openWindow(r Reading) bool {
	l := c.log
	for ; l.window < len(c.windows); l.window++ {
		w := &c.windows[l.window]
		start, end := w.Start+l.shift, w.End+l.shift
		if w.done || l.fresh && r.Time > end {
			continue
		}
		if r.Time < start {
			return false
		}
		moved := w.Window
		moved.Start, moved.End = start, end
		w.done = true
		l.window++
		c.open(moved, r)
		return true
	}
	return false
}

// open starts a run at a row.
func (c *Collector) open(w Window, r Reading) {
	l := c.log
	run := &openRun{
		start: w.Start, end: w.End, lastAbove: r.Time, warm: w.Start + nanoseconds(c.rules.WarmUp), sums: make([]sums, len(l.tracks)),
		Run: Run{
			Log: l.File, Line: r.Line, LastLine: r.Line, Benchmark: w.Benchmark, Label: w.Run,
			Profile: cmp.Or(w.Profile, c.rules.Profile), Machine: w.Machine, Session: cmp.Or(w.Session, l.session), Start: w.StartText,
		},
	}
	if l.fresh && !c.rules.KeepCutRuns && (w.End == math.MaxInt64 || r.Time-w.Start > l.usualStep) {
		run.Excluded = CutAtStart{}
	}
	for i, t := range l.tracks {
		run.sums[i] = newSums(c.rules, t.Column, t.rise)
		run.sums[i].upto = w.Start
	}
	l.run = run
}

// breakOff ends the run in hand because the log ends; why is what excludes it.
func (c *Collector) breakOff(why Exclusion) error {
	l := c.log
	if l.run == nil {
		return nil
	}
	end, line := l.last.Time, l.last.Line
	if c.rules.Threshold != nil {
		if len(l.pending) > 0 {
			why = CutAfterDip{MaxDip: c.rules.MaxDip}
		}
		end, line, l.pending = l.run.lastAbove, l.run.LastLine, nil
	}
	if l.run.end != math.MaxInt64 && l.run.end-end <= l.usualStep {
		return c.finish(l.run.end, line)
	}
	if l.run.Excluded == nil && !c.rules.KeepCutRuns {
		l.run.Excluded = why
	}
	return c.finish(end, line)
}
