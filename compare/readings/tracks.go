package readings

import (
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/stats"
)

// track follows one column through a log. Between two readings that are no gap
// apart the curve is taken as straight; each reading stands for half the step
// before it and half the step after it.
type track struct {
	Column
	source  int   // which value of a row
	rise    bool  // over the ambient temperature
	maxStep int64 // ns; a longer step is a gap

	seen   bool // the latest reading:
	time   int64
	value  float64
	loaded bool
}

// sums are what a run keeps of a track.
type sums struct {
	readings      int
	lo, hi        float64 // of all readings
	max           float64 // of those that count
	upto, gap     int64
	whole         stats.Trapezoid
	counted, load stats.Trapezoid
	quantiles     *stats.WeightedQuantiles
	percentiles   []float64
	maximum       bool
	shares        []share
}

// share is the time beyond a limit.
type share struct {
	limit  float64
	above  bool
	beyond float64 // s
}

// newSums prepares what is asked of a column.
func newSums(rules Rules, k Column, rise bool) sums {
	s := sums{lo: math.Inf(1), hi: math.Inf(-1), max: math.Inf(-1)}
	if rise {
		return s
	}
	s.maximum = matchesAny(rules.Maximum, k.Name)
	for _, b := range rules.Percentiles {
		if compare.NameMatches(b.Column, k.Name) && !slices.Contains(s.percentiles, b.Value) {
			s.percentiles = append(s.percentiles, b.Value)
		}
	}
	if len(s.percentiles) > 0 {
		s.quantiles = &stats.WeightedQuantiles{}
	}
	for i, limits := range [][]Limit{rules.Above, rules.Below} {
		for _, b := range limits {
			h := share{limit: b.Value, above: i == 0}
			if compare.NameMatches(b.Column, k.Name) && !slices.Contains(s.shares, h) {
				s.shares = append(s.shares, h)
			}
		}
	}
	return s
}

// reading is a track's value in a row, NaN where there is none.
func (l *openLog) reading(t *track, r Reading) float64 {
	v := r.Values[t.source]
	if t.rise && !math.IsNaN(v) {
		return v - l.latest(l.ambient, r)
	}
	return v
}

// latest is a column's reading in a row, or the one before that is no gap
// away; NaN where there is none.
func (l *openLog) latest(column int, r Reading) float64 {
	t := l.tracks[column]
	if v := r.Values[column]; !math.IsNaN(v) {
		return v
	}
	if t.seen && r.Time-t.time <= t.maxStep {
		return t.value
	}
	return math.NaN()
}

// underLoad reports whether the machine is under load at a row.
func (l *openLog) underLoad(r Reading) bool {
	return l.load >= 0 && l.latest(l.load, r) > l.loadAbove
}

// accumulate adds what lies between the readings before and a row to the run
// in hand, as far as it lies within the run.
func (l *openLog) accumulate(r Reading) {
	run := l.run
	if run == nil {
		return
	}
	inside := r.Time >= run.start && r.Time <= run.end
	if inside {
		run.Rows++
		run.LastLine = r.Line
		if r.Flag > 0 {
			if run.flagged.Rows++; run.flagged.Rows == 1 {
				run.flagged.Flag, run.flagged.Line = l.invalid[r.Flag-1], r.Line
			}
		}
	}
	end := min(r.Time, run.end)
	if !l.fresh {
		if from := max(l.last.Time, run.start); r.Time-l.last.Time > l.maxStep && end > from {
			run.gap += end - from
		}
	} else if r.Time-run.start > l.maxStep {
		run.gap += end - run.start
	}
	loaded := l.underLoad(r)
	for i, t := range l.tracks {
		v := l.reading(t, r)
		if math.IsNaN(v) {
			continue
		}
		s := &run.sums[i]
		if inside {
			s.readings++
			s.lo, s.hi = min(s.lo, v), max(s.hi, v)
			if r.Time >= run.warm {
				s.max = max(s.max, v)
			}
		}
		from := max(s.upto, run.start)
		switch {
		case end <= from:
		case t.seen && r.Time-t.time <= t.maxStep:
			s.piece(t, from, end, run.warm, r.Time, v, loaded)
		case t.seen || end-from > t.maxStep:
			s.gap += end - from
		}
		s.upto = max(s.upto, end)
	}
}

// piece adds the straight line from a track's reading before to a value at a
// time, between two times; what lies behind warm counts for more than energy.
func (s *sums) piece(t *track, from, to, warm, time int64, v float64, loaded bool) {
	at := func(when int64) float64 {
		if when >= time {
			return v
		}
		return t.value + (v-t.value)*(float64(when-t.time)/float64(time-t.time))
	}
	a, b := at(from), at(to)
	s.whole.Add(inSeconds(to-from), a, b)
	if warm >= to {
		return
	}
	if warm > from {
		from, a = warm, at(warm)
	}
	width := inSeconds(to - from)
	s.counted.Add(width, a, b)
	s.half(width/2, a, t.loaded)
	s.half(width/2, b, loaded)
}

// half counts half a step for the value at its end.
func (s *sums) half(width, v float64, loaded bool) {
	if s.quantiles != nil {
		s.quantiles.Add(v, width)
	}
	if loaded {
		s.load.Add(width, v, v)
	}
	for i := range s.shares {
		if h := &s.shares[i]; h.above && v > h.limit || !h.above && v < h.limit {
			h.beyond += width
		}
	}
}

// advance makes a row's readings the latest.
func (l *openLog) advance(r Reading) {
	var values [64]float64
	readings := values[:0]
	for _, t := range l.tracks { // before ambient and load move on
		readings = append(readings, l.reading(t, r))
	}
	loaded := l.underLoad(r)
	for i, t := range l.tracks {
		if !math.IsNaN(readings[i]) {
			t.seen, t.time, t.value, t.loaded = true, r.Time, readings[i], loaded
		}
	}
}
