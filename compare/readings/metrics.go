package readings

import (
	"cmp"
	"fmt"
	"math"
	"strconv"

	"tunegate/compare"
)

// finish ends the run in hand at a time and works out its metrics.
func (c *Collector) finish(end int64, line int) error {
	l := c.log
	run := l.run
	l.run = nil
	run.LastLine = line
	run.Seconds = inSeconds(end - run.start)
	if c.rules.Threshold != nil && run.Seconds < c.rules.MinRun {
		c.out.ShortStretches++
		return nil
	}
	run.Counted = max(0, inSeconds(end-run.warm))
	run.Gap = inSeconds(run.gap)
	if run.Excluded == nil {
		run.Excluded = c.excludeRun(run)
	}
	if run.Excluded == nil && run.flagged.Rows > 0 {
		run.Excluded = run.flagged
	}
	if c.rules.Duration {
		seconds := run.Seconds
		run.Metrics = append(run.Metrics, Value{Column: "duration", Metric: compare.DefaultMetric, Unit: "s", Value: &seconds})
	}
	if err := c.label(run); err != nil {
		return err
	}
	moved := false
	for i := range run.sums {
		s := &run.sums[i]
		if rest := end - s.upto; rest > l.tracks[i].maxStep {
			s.gap += rest
		}
		moved = moved || !l.tracks[i].rise && s.readings > 0 && s.hi > s.lo
	}
	excluded := make([]Exclusion, len(l.tracks))
	for i, t := range l.tracks {
		s := &run.sums[i]
		excluded[i] = c.excludeColumn(run, t, s, moved)
		if t.rise && excluded[i] == nil {
			excluded[i] = excluded[t.source]
		}
		values := s.values(c.rules, t.Column)
		if t.rise {
			values = values[:1]
		}
		if s.readings > 0 {
			c.readings[t.Name] += s.readings
		}
		for k := range values {
			values[k].source = l.Columns[t.source].Name
			if excluded[i] != nil {
				values[k].Excluded = excluded[i]
			}
		}
		run.Metrics = append(run.Metrics, values...)
	}
	if c.metricCount += len(run.Metrics); c.metricCount > maxMetrics {
		return &RunCountError{At: compare.Place{File: run.Log, Line: run.Line}, Runs: len(c.out.Runs)}
	}
	c.out.Runs = append(c.out.Runs, run.Run)
	return nil
}

// maxMetrics bounds the metrics of all runs that wrong boundaries can make the
// program hold.
const maxMetrics = 1_000_000

// excludeRun says why a run as a whole does not count; nil where it does.
func (c *Collector) excludeRun(run *openRun) Exclusion {
	switch share := 100 * run.Gap / run.Seconds; {
	case run.Rows < 2 || run.Seconds == 0:
		return TooFewRows{}
	case share > c.rules.MaxGapShare:
		return TooMuchGap{Share: share, Gap: run.Gap, Run: run.Seconds, MaxShare: c.rules.MaxGapShare}
	case run.Counted <= 0:
		return OnlyWarmUp{Run: run.Seconds, WarmUp: c.rules.WarmUp}
	}
	return nil
}

// minFrozen is from how many readings on a column without any change counts as
// frozen.
const minFrozen = 10

// excludeColumn says why a column does not count in a run; nil where it does.
// othersMoved says whether any column moved in the run.
func (c *Collector) excludeColumn(run *openRun, t *track, s *sums, othersMoved bool) Exclusion {
	share := 0.0
	if run.Seconds > 0 {
		share = 100 * inSeconds(s.gap) / run.Seconds
	}
	switch {
	case s.readings == 0:
		return NoReading{Column: t.Name}
	case !(s.counted.Width() > 0):
		return TooFewReadings{Column: t.Name}
	case share > c.rules.MaxGapShare:
		return MissingReadings{Column: t.Name, Share: share, MaxShare: c.rules.MaxGapShare}
	case t.rise || s.readings < minFrozen || s.hi > s.lo || !othersMoved || matchesAny(c.rules.Constant, t.Name):
		return nil
	}
	exclude := t.excludeWhenFrozen()
	c.noteFrozen(t.Name, exclude)
	if !exclude {
		return nil
	}
	return Frozen{Column: t.Name, Value: s.lo, Unit: t.Unit, Readings: s.readings}
}

// noteFrozen counts a run in which a column never moved.
func (c *Collector) noteFrozen(column string, excluded bool) {
	i, known := c.frozen[column]
	if !known {
		i = len(c.out.Frozen)
		c.frozen[column] = i
		c.out.Frozen = append(c.out.Frozen, FrozenColumn{Name: column})
	}
	c.out.Frozen[i].Runs++
	if excluded {
		c.out.Frozen[i].Excluded++
	}
}

// values works out the metrics of a column in a run. The first is the mean.
func (s *sums) values(rules Rules, k Column) []Value {
	var out []Value
	add := func(x Value, v float64) {
		x.Column = cmp.Or(x.Column, k.Name)
		switch finite := !math.IsNaN(v) && !math.IsInf(v, 0); {
		case finite:
			x.Value = &v
			if x.Excluded == nil && compare.TraitsOf(x.Unit).Scale == compare.Ratio && v <= 0 {
				x.Column = x.Metric
				x.Excluded = NotPositive{Metric: x.Metric, Value: v, Unit: x.Unit}
			}
		case x.Excluded == nil:
			x.Excluded = TooFewReadings{Column: k.Name}
		}
		out = append(out, x)
	}
	own := Value{Unit: k.Unit, Better: k.Better}
	named := func(metric string) Value { x := own; x.Metric = metric; return x }
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
		add(Value{Metric: metric, Unit: compare.ShareOfTime, Better: better}, math.Min(100, 100*h.beyond/s.counted.Width()))
	}
	if watts(k.Unit) > 0 {
		joules := s.whole.Integral() * watts(k.Unit)
		if !(s.whole.Width() > 0) {
			joules = math.NaN()
		}
		x := Value{Metric: energyName(k.Name), Unit: "J"}
		if s.gap > 0 {
			x.Column = x.Metric
			x.Excluded = UnknownEnergy{Column: k.Name, Gap: inSeconds(s.gap)}
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
			x.Excluded = NeverUnderLoad{Load: *rules.Load}
		}
		add(x, s.load.Mean())
	}
	return out
}

// label gives a run its label: the one it states, else the next number of its
// benchmark, profile, machine and session. A label that an earlier run of the log has
// excludes the run.
func (c *Collector) label(run *openRun) error {
	own := runLabel{run.Profile, run.Machine, run.Session, run.Benchmark, run.Label}
	if run.Label == "" {
		key := own
		for taken := true; taken; _, taken = c.labels[own] {
			c.numbered[key]++
			own.run = strconv.Itoa(c.numbered[key])
		}
		run.Label = own.run
	}
	first, taken := c.labels[own]
	switch {
	case !taken:
		c.labels[own] = runPlace{run.Log, run.Line}
		return nil
	case first.log != run.Log:
		return &RunLabelError{At: compare.Place{File: run.Log, Line: run.Line}, Run: run.Label, Benchmark: run.Benchmark, Log: first.log}
	}
	run.Excluded = RunAgain{Run: run.Label, Benchmark: run.Benchmark, FirstLine: first.line}
	run.Label += fmt.Sprintf(" (again, line %d)", run.Line)
	return nil
}
