package compare

import (
	"fmt"
	"math"
	"slices"

	"tunegate/stats"
)

// track follows one column through a log. Between two readings that are no gap
// apart the curve is taken as straight; each reading stands for half the step
// before it and half the step after it.
type track struct {
	SensorColumn
	source int   // which value of a row
	rise   bool  // over the ambient temperature
	limit  int64 // the longest step, ns, that is no gap

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
func newSums(rules SensorRules, k SensorColumn, rise bool) sums {
	s := sums{lo: math.Inf(1), hi: math.Inf(-1), max: math.Inf(-1)}
	if rise {
		return s
	}
	s.maximum = matchesAny(rules.Maximum, k.Name)
	for _, b := range rules.Percentiles {
		if NameMatches(b.Column, k.Name) && !slices.Contains(s.percentiles, b.Value) {
			s.percentiles = append(s.percentiles, b.Value)
		}
	}
	if len(s.percentiles) > 0 {
		s.quantiles = &stats.WeightedQuantiles{}
	}
	for i, bars := range [][]SensorBar{rules.Above, rules.Below} {
		for _, b := range bars {
			h := share{limit: b.Value, above: i == 0}
			if NameMatches(b.Column, k.Name) && !slices.Contains(s.shares, h) {
				s.shares = append(s.shares, h)
			}
		}
	}
	return s
}

// reading is a track's value in a row, NaN where there is none.
func (l *openLog) reading(t *track, r SensorReading) float64 {
	v := r.Values[t.source]
	if t.rise && !math.IsNaN(v) {
		return v - l.latest(l.ambient, r)
	}
	return v
}

// latest is a column's reading in a row, or the one before that is no gap
// away; NaN where there is none.
func (l *openLog) latest(column int, r SensorReading) float64 {
	t := l.tracks[column]
	if v := r.Values[column]; !math.IsNaN(v) {
		return v
	}
	if t.seen && r.Time-t.time <= t.limit {
		return t.value
	}
	return math.NaN()
}

// underLoad reports whether the machine is under load at a row.
func (l *openLog) underLoad(r SensorReading) bool {
	return l.load >= 0 && l.latest(l.load, r) > l.loadAbove
}

// accumulate adds what lies between the readings before and a row to the run
// in hand, as far as it lies within the run.
func (l *openLog) accumulate(r SensorReading) {
	run := l.run
	if run == nil {
		return
	}
	inside := r.Time >= run.start && r.Time <= run.end
	if inside {
		run.Rows++
		run.LastLine = r.Line
	}
	end := min(r.Time, run.end)
	if !l.fresh {
		if from := max(l.last.Time, run.start); r.Time-l.last.Time > l.limit && end > from {
			run.gap += end - from
		}
	} else if r.Time-run.start > l.limit {
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
		case t.seen && r.Time-t.time <= t.limit:
			s.piece(t, from, end, run.warm, r.Time, v, loaded)
		case t.seen || end-from > t.limit:
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
func (l *openLog) advance(r SensorReading) {
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

// finish ends the run in hand at a time and works out its metrics.
func (c *SensorCollector) finish(end int64, line int) error {
	l := c.log
	run := l.run
	l.run = nil
	run.LastLine = line
	run.Seconds = inSeconds(end - run.start)
	if c.rules.Threshold != nil && run.Seconds < c.rules.ShortestRun {
		c.short++
		return nil
	}
	run.Counted = max(0, inSeconds(end-run.warm))
	run.Gap = inSeconds(run.gap)
	if run.Reason == "" {
		run.Reason = c.unfit(run)
	}
	if err := c.name(run); err != nil {
		return err
	}
	moved := false
	for i := range run.sums {
		s := &run.sums[i]
		if rest := end - s.upto; rest > l.tracks[i].limit {
			s.gap += rest
		}
		moved = moved || !l.tracks[i].rise && s.readings > 0 && s.hi > s.lo
	}
	reasons := make([]string, len(l.tracks))
	for i, t := range l.tracks {
		s := &run.sums[i]
		reason := c.unfitColumn(run, t, s, moved)
		if t.rise && reason == "" {
			reason = reasons[t.source]
		}
		reasons[i] = reason
		values := s.values(c.rules, t.SensorColumn)
		if t.rise {
			values = values[:1]
		}
		if s.readings > 0 {
			c.read[t.Name] += s.readings
		}
		for k := range values {
			values[k].source = l.Columns[t.source].Name
			if reason != "" {
				values[k].Reason = reason
			}
		}
		run.Metrics = append(run.Metrics, values...)
	}
	if c.figures += len(run.Metrics); c.figures > maxFigures {
		return &PlacedError{Place{File: run.Log, Line: run.Line}, fmt.Sprintf("found %d runs so far, which is a mistake: does something else than a benchmark's name stand in the marker column, or does the threshold lie within the noise?", len(c.out.Runs))}
	}
	c.out.Runs = append(c.out.Runs, run.SensorRun)
	return nil
}

// maxFigures bounds what wrong boundaries can make the program hold.
const maxFigures = 1_000_000

// unfit says why a run as a whole does not count; empty where it does.
func (c *SensorCollector) unfit(run *openRun) string {
	switch share := 100 * run.Gap / run.Seconds; {
	case run.Rows < 2 || run.Seconds == 0:
		return "fewer than two rows of the log fall into it"
	case share > c.rules.GapShare:
		return fmt.Sprintf("%s %% of it is a gap in the log (%s of %s); at most %s %% may be", Decimal(share, 1), secondsText(run.Gap), secondsText(run.Seconds), Decimal(c.rules.GapShare, 12))
	case run.Counted <= 0:
		return fmt.Sprintf("it lasts %s, no longer than the warm-up of %s", secondsText(run.Seconds), secondsText(c.rules.WarmUp))
	}
	return ""
}

// fewestStill is how many readings without any change look like a sensor that
// hangs.
const fewestStill = 10

// unfitColumn says why a column does not count in a run; empty where it does.
func (c *SensorCollector) unfitColumn(run *openRun, t *track, s *sums, moved bool) string {
	share := 0.0
	if run.Seconds > 0 {
		share = 100 * inSeconds(s.gap) / run.Seconds
	}
	switch {
	case s.readings == 0:
		return fmt.Sprintf("no reading of %s in this run", t.Name)
	case !(s.counted.Width() > 0):
		return fmt.Sprintf("too few readings of %s in this run", t.Name)
	case share > c.rules.GapShare:
		return fmt.Sprintf("no reading of %s for %s %% of the run; at most %s %% may be missing", t.Name, Decimal(share, 1), Decimal(c.rules.GapShare, 12))
	case t.rise || s.readings < fewestStill || s.hi > s.lo || !moved || matchesAny(c.rules.Constant, t.Name):
		return ""
	}
	suspect := t.suspectWhenStill()
	c.noteStill(t.Name, suspect)
	if !suspect {
		return ""
	}
	return fmt.Sprintf("%s stood at %s %s in all %d readings while other sensors moved: does the sensor hang? If it may stand still, as a fixed clock does, name it under constant",
		t.Name, Decimal(s.lo, 12), t.Unit, s.readings)
}

func (c *SensorCollector) noteStill(column string, setAside bool) {
	k := c.still[column]
	if k == nil {
		k = &stillness{}
		c.still[column] = k
		c.stillBy = append(c.stillBy, column)
	}
	k.runs++
	if setAside {
		k.setAside++
	}
}

// values works out the metrics of a column in a run. The first is the mean.
func (s *sums) values(rules SensorRules, k SensorColumn) []SensorValue {
	var out []SensorValue
	add := func(x SensorValue, v float64) {
		x.Column = OrWord(x.Column, k.Name)
		switch whole := !math.IsNaN(v) && !math.IsInf(v, 0); {
		case whole:
			x.Value = &v
			if x.Reason == "" && TraitsOf(x.Unit).Scale == Ratio && v <= 0 {
				x.Column = x.Metric
				x.Reason = fmt.Sprintf("%s is %.6g %s; a change in per cent needs a value above zero", x.Metric, v, x.Unit)
			}
		case x.Reason == "":
			x.Reason = fmt.Sprintf("too few readings of %s in this run", k.Name)
		}
		out = append(out, x)
	}
	own := SensorValue{Unit: k.Unit, Better: k.Better}
	named := func(metric string) SensorValue { x := own; x.Metric = metric; return x }
	add(named(k.Name), s.counted.Mean())
	if s.maximum {
		add(named(k.Name+" maximum"), s.max)
	}
	for _, p := range s.percentiles {
		x := named(percentileName(k.Name, p))
		var v float64
		v, x.Within = s.quantiles.Quantile(p / 100)
		add(x, v)
	}
	for _, h := range s.shares {
		metric, better := shareOf(k, h.limit, h.above)
		add(SensorValue{Metric: metric, Unit: ShareOfTime, Better: better}, math.Min(100, 100*h.beyond/s.counted.Width()))
	}
	if isPower(k.Unit) {
		joules := s.whole.Integral() * watts(k.Unit)
		if !(s.whole.Width() > 0) {
			joules = math.NaN()
		}
		x := SensorValue{Metric: energyName(k.Name), Unit: "J"}
		if s.gap > 0 {
			x.Column = x.Metric
			x.Reason = fmt.Sprintf("%s has no readings for %s of the run, and the energy of a gap is not known", k.Name, secondsText(inSeconds(s.gap)))
		}
		add(x, joules)
		if rules.WattHours {
			x.Metric, x.Unit = x.Metric+" in watt-hours", "Wh"
			add(x, joules/3600)
		}
	}
	if rules.Load != nil && isClock(k.Unit) {
		x := named(k.Name + " under load")
		if !(s.load.Width() > 0) {
			x.Column = x.Metric
			x.Reason = fmt.Sprintf("%s was never above %s in the time that counts", rules.Load.Column, Decimal(rules.Load.Value, 12))
		}
		add(x, s.load.Mean())
	}
	return out
}

// name gives a run its label: the one it states, else the next number of its
// benchmark, profile and session.
func (c *SensorCollector) name(run *openRun) error {
	key := [3]string{run.Profile, run.Session, run.Benchmark}
	if run.Run == "" {
		for {
			c.used[key]++
			run.Run = fmt.Sprint(c.used[key])
			if _, taken := c.labels[runName{run.Profile, run.Session, run.Benchmark, run.Run}]; !taken {
				break
			}
		}
	}
	n := runName{run.Profile, run.Session, run.Benchmark, run.Run}
	first, taken := c.labels[n]
	if !taken {
		c.labels[n] = runPlace{run.Log, run.Line}
		return nil
	}
	if first.log != run.Log {
		return &PlacedError{Place{File: run.Log, Line: run.Line}, fmt.Sprintf("run %s of %s is in %s, too; say that each log is a session of its own, or read the logs one by one and name the session", run.Run, run.Benchmark, first.log)}
	}
	run.Reason = fmt.Sprintf("run %s of %s again, which began on line %d: a run is one unbroken stretch", run.Run, run.Benchmark, first.line)
	run.Run += fmt.Sprintf(" (again, line %d)", run.Line)
	return nil
}
