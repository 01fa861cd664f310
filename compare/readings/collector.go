package readings

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"tunegate/compare"
)

// Collector turns the rows of logs, handed over one by one, into runs. It holds
// one run's sums, the first rows of a log and the rows of one dip, so that
// memory does not grow with a log but for the runs found. NewCollector makes
// one; each log is a Begin, a Row a row, and an End; Result comes last.
type Collector struct {
	rules       Rules
	out         Result
	windows     []windowState
	labels      map[runLabel]runPlace
	readings    map[string]int   // in runs, by column; none is kept for 0
	numbered    map[runLabel]int // runs numbered so far; its run is empty
	frozen      map[string]int   // index in out.Frozen, by column
	metricCount int
	log         *openLog
}

type windowState struct {
	Window
	done bool
}

type runLabel struct{ profile, machine, session, benchmark, run string }

type runPlace struct {
	log  string
	line int
}

// openLog is the log in hand.
type openLog struct {
	LogHead
	info      *Log
	invalid   []Flag
	tracks    []*track
	load      int // the column that says what load is, -1 for none
	loadAbove float64
	threshold int       // its column, -1 for none
	ambient   int       // -1 for none
	early     []Reading // kept until the usual step is known
	settled   bool
	maxStep   int64   // ns; a longer step between rows is a gap
	usualStep int64   // ns
	last      Reading // values are not kept
	highest   float64
	shift     int64 // of the windows
	window    int   // the next one
	run       *openRun
	fresh     bool // no row of this part of the log has come yet
	marker    string
	pending   []Reading // below the threshold, within a dip so far
	session   string
}

// openRun is the run in hand.
type openRun struct {
	Run
	start, end, warm int64 // ns; end is math.MaxInt64 where it is not known yet
	lastAbove        int64
	gap              int64
	flagged          Flagged
	sums             []sums
}

// settleRows is how many rows of a log tell its usual step.
const settleRows = 1000

// NewCollector starts with no log. Windows that overlap are an *OverlapError;
// they are taken in order of their start.
func NewCollector(rules Rules) (*Collector, error) {
	c := &Collector{rules: rules, labels: map[runLabel]runPlace{}, readings: map[string]int{}, numbered: map[runLabel]int{},
		frozen: map[string]int{}}
	c.out.Rules = rules
	for _, w := range rules.Windows {
		c.windows = append(c.windows, windowState{Window: w})
	}
	sort.SliceStable(c.windows, func(i, j int) bool { return c.windows[i].Start < c.windows[j].Start })
	for i := 1; i < len(c.windows); i++ {
		if a, b := c.windows[i-1], c.windows[i]; b.Start < a.End {
			return nil, &OverlapError{At: b.At, Earlier: a.At}
		}
	}
	return c, nil
}

// Begin starts a log. Its columns can be at odds with the rules, with those of
// an earlier log or with each other: a *ColumnError, *UnitError or
// *MetricError.
func (c *Collector) Begin(head LogHead) error {
	l := &openLog{LogHead: head, load: -1, threshold: -1, ambient: -1, fresh: true, highest: math.Inf(-1), session: c.rules.Session,
		invalid: c.rules.Invalid}
	if c.rules.SessionPerLog {
		if l.session = head.Sheet; l.session == "" {
			l.session = baseName(head.File)
		}
	}
	c.out.Logs = append(c.out.Logs, Log{File: head.File})
	l.info = &c.out.Logs[len(c.out.Logs)-1]
	find := func(limit *Limit, rule string) (int, error) {
		if limit == nil {
			return -1, nil
		}
		i := slices.IndexFunc(head.Columns, func(k Column) bool { return k.Name == limit.Column })
		if i < 0 {
			return -1, &ColumnError{At: head.At, Rule: rule, Column: limit.Column, Columns: head.Columns}
		}
		return i, nil
	}
	var err error
	if l.load, err = find(c.rules.Load, "load"); err != nil {
		return err
	}
	if c.rules.Load != nil {
		l.loadAbove = c.rules.Load.Value
	}
	if l.threshold, err = find(c.rules.Threshold, "threshold"); err != nil {
		return err
	}
	for i, k := range head.Columns {
		for _, earlier := range c.out.Columns {
			if earlier.Name == k.Name && earlier.Unit != k.Unit {
				return &UnitError{At: head.At, Column: k.Name, Unit: k.Unit, Earlier: earlier.Unit}
			}
		}
		if k.Name == compare.MetricAmbient && isHeat(k.Unit) {
			l.ambient = i
		}
		l.tracks = append(l.tracks, &track{Column: k, source: i})
	}
	l.addRises()
	from := map[string]string{}
	if c.rules.Duration {
		from[compare.DefaultMetric] = "the length of the run"
	}
	for _, t := range l.tracks {
		s := newSums(c.rules, t.Column, t.rise)
		for _, v := range s.values(c.rules, t.Column) {
			if first, taken := from[v.Metric]; taken {
				return &MetricError{At: head.At, Metric: v.Metric, Column: first, Second: t.Name}
			}
			from[v.Metric] = t.Name
		}
	}
	for _, k := range head.Columns {
		if !slices.ContainsFunc(c.out.Columns, func(o Column) bool { return o.Name == k.Name }) {
			c.out.Columns = append(c.out.Columns, k)
		}
	}
	c.log = l
	return nil
}

// addRises adds a track for each temperature over the ambient one.
func (l *openLog) addRises() {
	for i, k := range l.Columns {
		if l.ambient < 0 || i == l.ambient || !isHeat(k.Unit) || k.Unit != l.Columns[l.ambient].Unit {
			continue
		}
		rise := Column{Header: k.Header, Name: k.Name + " rise", Unit: "K"}
		if k.Unit == "°F" {
			rise.Unit = "°F" // a difference; an interval scale as well
		}
		l.tracks = append(l.tracks, &track{Column: rise, source: i, rise: true})
	}
}

// Row takes the next row; it keeps nothing of r. A *RunCountError or a
// *RunLabelError is about the run that ends with it.
func (c *Collector) Row(r Reading) error {
	l := c.log
	l.info.Rows++
	if l.settled {
		return c.take(r)
	}
	r.Values = slices.Clone(r.Values)
	l.early = append(l.early, r)
	if len(l.early) < settleRows {
		return nil
	}
	return c.settle()
}

// settle finds the usual steps and catches up on the first rows.
func (c *Collector) settle() error {
	l := c.log
	l.settled = true
	l.usualStep = usualStep(l.early, func(Reading) bool { return true })
	l.maxStep = c.maxStep(l.usualStep)
	if l.usualStep > 0 {
		usual, longest := inSeconds(l.usualStep), inSeconds(l.maxStep)
		l.info.UsualStep, l.info.MaxStep = &usual, &longest
	}
	for _, t := range l.tracks {
		t.maxStep = max(l.maxStep, c.maxStep(usualStep(l.early, func(r Reading) bool { return !math.IsNaN(r.Values[t.source]) })))
	}
	if l.Clock && len(c.windows) > 0 && len(l.early) > 0 && c.windows[0].Start < l.early[0].Time-12*hour {
		l.shift = 24 * hour // a list that begins after midnight
	}
	early := l.early
	l.early = nil
	for _, r := range early {
		if err := c.take(r); err != nil {
			return err
		}
	}
	return nil
}

const hour = int64(3600e9)

func (c *Collector) maxStep(step int64) int64 {
	return nanoseconds(inSeconds(step) * c.rules.GapSteps)
}

// usualStep is the median of the steps in time, above zero, between the rows
// that count; 0 where there is none.
func usualStep(rows []Reading, counts func(Reading) bool) int64 {
	var steps []int64
	last := -1
	for i, r := range rows {
		if !counts(r) {
			continue
		}
		if last >= 0 && r.Part == rows[last].Part && r.Time > rows[last].Time {
			steps = append(steps, r.Time-rows[last].Time)
		}
		last = i
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// take handles a row once the usual steps are known.
func (c *Collector) take(r Reading) (err error) {
	l := c.log
	if !l.fresh && r.Part != l.last.Part {
		if err := c.breakOff(CutByRestart{Line: r.Line}); err != nil {
			return err
		}
		for _, t := range l.tracks {
			t.seen = false
		}
		l.fresh = true
	}
	if !l.fresh && r.Time-l.last.Time > l.maxStep {
		l.info.Gaps++
	}
	switch {
	case c.rules.Marker != "":
		err = c.byMarker(r)
	case c.rules.Threshold != nil:
		err = c.byThreshold(r)
	default:
		err = c.byWindow(r)
	}
	l.last = r
	l.last.Values = nil
	l.fresh = false
	return err
}

// End ends a log, and with it a run in hand; errors are Row's.
func (c *Collector) End() error {
	l := c.log
	if !l.settled {
		if err := c.settle(); err != nil {
			return err
		}
	}
	return c.breakOff(CutAtEnd{})
}

// Result closes the books. Without any run it is a *NoRunError; a
// *RunLabelError is about a window that no log has rows for.
func (c *Collector) Result() (*Result, error) {
	for _, w := range c.windows {
		if w.done {
			continue
		}
		run := &openRun{start: w.Start, end: w.End, Run: Run{
			Log: w.At.File, Line: w.At.Line, LastLine: w.At.Line, Benchmark: w.Benchmark,
			Profile: cmp.Or(w.Profile, c.rules.Profile), Machine: w.Machine, Session: cmp.Or(w.Session, c.rules.Session), Label: w.Run,
			Start: w.StartText, Seconds: inSeconds(w.End - w.Start), Excluded: NoRows{},
		}}
		if err := c.label(run); err != nil {
			return nil, err
		}
		for _, k := range c.out.Columns {
			s := newSums(c.rules, k, false)
			for _, v := range s.values(c.rules, k) {
				v.source = k.Name
				run.Metrics = append(run.Metrics, v)
			}
		}
		c.out.Runs = append(c.out.Runs, run.Run)
	}
	if len(c.out.Runs) == 0 {
		return nil, c.noRun()
	}
	c.dropSilent()
	c.out.Unmatched = c.rules.unmatched(c.out.Columns)
	return &c.out, nil
}

// noRun says why there is none.
func (c *Collector) noRun() error {
	e := &NoRunError{Marker: c.rules.Marker, Threshold: c.rules.Threshold, ShortStretches: c.out.ShortStretches, MinRun: c.rules.MinRun}
	if c.log != nil {
		e.Log = c.log.File
		if !math.IsInf(c.log.highest, -1) {
			e.Highest = &c.log.highest
		}
	}
	return e
}

// dropSilent leaves out columns without any reading in any run, as loggers
// write them for sensors that a machine does not have.
func (c *Collector) dropSilent() {
	if len(c.readings) == 0 {
		return
	}
	for _, k := range c.out.Columns {
		if c.readings[k.Name] == 0 {
			c.out.Silent = append(c.out.Silent, k.Name)
		}
	}
	if len(c.out.Silent) == 0 {
		return
	}
	for i := range c.out.Runs {
		c.out.Runs[i].Metrics = slices.DeleteFunc(c.out.Runs[i].Metrics, func(v Value) bool {
			return slices.Contains(c.out.Silent, v.source)
		})
	}
}
