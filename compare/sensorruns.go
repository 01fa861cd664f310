package compare

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// SensorCollector turns the rows of logs, handed over one by one, into runs.
// It holds one run's sums, the first rows of a log and the rows of one dip, so
// that memory does not grow with a log but for the runs found.
type SensorCollector struct {
	rules   SensorRules
	out     Sensors
	windows []windowState
	columns []SensorColumn // of all logs so far
	labels  map[runName]runPlace
	read    map[string]int    // readings in runs, by column; none is kept for 0
	used    map[[3]string]int // runs numbered so far: profile, session, benchmark
	still   map[string]*stillness
	stillBy []string
	short   int
	figures int
	log     *openLog
}

// stillness counts the runs in which a column never moved.
type stillness struct{ runs, setAside int }

type windowState struct {
	SensorWindow
	done bool
}

type runName struct{ profile, session, benchmark, run string }

type runPlace struct {
	log  string
	line int
}

// openLog is the log in hand.
type openLog struct {
	SensorLogHead
	info      *SensorLog
	tracks    []*track
	load      int // the column that says what load is, -1 for none
	loadAbove float64
	bar       int             // the column of the threshold, -1 for none
	ambient   int             // -1 for none
	early     []SensorReading // kept until the usual step is known
	settled   bool
	limit     int64 // the longest step between rows, ns, that is no gap
	step      int64
	last      SensorReading // values are not kept
	highest   float64
	shift     int64 // of the windows
	window    int   // the next one
	run       *openRun
	fresh     bool // no row of this part of the log has come yet
	label     string
	pending   []SensorReading // below the threshold, within a dip so far
	session   string
}

// openRun is the run in hand.
type openRun struct {
	SensorRun
	start, end, warm int64 // end is math.MaxInt64 where it is not known yet
	lastAbove        int64
	gap              int64
	sums             []sums
}

// settleRows is how many rows of a log tell its usual step.
const settleRows = 1000

// NewSensorCollector starts with no log. A list of windows has to be free of
// overlaps; they are taken in order of their start.
func NewSensorCollector(rules SensorRules) (*SensorCollector, error) {
	c := &SensorCollector{rules: rules, labels: map[runName]runPlace{}, read: map[string]int{}, used: map[[3]string]int{}, still: map[string]*stillness{}}
	c.out.Rules = rules
	for _, w := range rules.Windows {
		c.windows = append(c.windows, windowState{SensorWindow: w})
	}
	sort.SliceStable(c.windows, func(i, j int) bool { return c.windows[i].Start < c.windows[j].Start })
	for i := 1; i < len(c.windows); i++ {
		if a, b := c.windows[i-1], c.windows[i]; b.Start < a.End {
			return nil, &PlacedError{b.At, fmt.Sprintf("this run starts before the one at %s ends; one machine runs one benchmark at a time: correct the start or the end", a.At)}
		}
	}
	return c, nil
}

// Begin starts a log.
func (c *SensorCollector) Begin(head SensorLogHead) error {
	l := &openLog{SensorLogHead: head, load: -1, bar: -1, ambient: -1, fresh: true, highest: math.Inf(-1), session: c.rules.Session}
	if c.rules.SessionPerLog {
		l.session = baseName(head.File)
	}
	c.out.Logs = append(c.out.Logs, SensorLog{File: head.File})
	l.info = &c.out.Logs[len(c.out.Logs)-1]
	find := func(b *SensorBar, what string) (int, error) {
		if b == nil {
			return -1, nil
		}
		i := slices.IndexFunc(head.Columns, func(k SensorColumn) bool { return k.Name == b.Column })
		if i < 0 {
			return -1, &PlacedError{head.At, fmt.Sprintf("the %s is about %q, which is no column here; there are %s", what, b.Column, columnList(head.Columns))}
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
	if l.bar, err = find(c.rules.Threshold, "threshold"); err != nil {
		return err
	}
	for i, k := range head.Columns {
		for _, other := range c.columns {
			if other.Name == k.Name && other.Unit != k.Unit {
				return &PlacedError{head.At, fmt.Sprintf("%s is in %q here but in %q in an earlier log; map both to one unit", k.Name, k.Unit, other.Unit)}
			}
		}
		if k.Name == MetricAmbient && isHeat(k.Unit) {
			l.ambient = i
		}
		l.tracks = append(l.tracks, &track{SensorColumn: k, source: i})
	}
	for i, k := range head.Columns {
		if l.ambient >= 0 && i != l.ambient && isHeat(k.Unit) && k.Unit == head.Columns[l.ambient].Unit {
			rise := SensorColumn{Header: k.Header, Name: k.Name + " rise", Unit: "K"}
			if k.Unit == "°F" {
				rise.Unit = "°F" // a difference; an interval scale as well
			}
			l.tracks = append(l.tracks, &track{SensorColumn: rise, source: i, rise: true})
		}
	}
	from := map[string]string{}
	for _, t := range l.tracks {
		s := newSums(c.rules, t.SensorColumn, t.rise)
		for _, v := range s.values(c.rules, t.SensorColumn) {
			if other, taken := from[v.Metric]; taken {
				return &PlacedError{head.At, fmt.Sprintf("the metric %q would come from %s and from %s; map one of them to another name", v.Metric, other, t.Name)}
			}
			from[v.Metric] = t.Name
		}
	}
	for _, k := range head.Columns {
		if !slices.ContainsFunc(c.columns, func(o SensorColumn) bool { return o.Name == k.Name }) {
			c.columns = append(c.columns, k)
		}
	}
	c.log = l
	return nil
}

func columnList(columns []SensorColumn) string {
	var names []string
	for _, k := range columns {
		names = append(names, fmt.Sprintf("%q", k.Name))
	}
	if len(names) == 0 {
		return "none that could be one: map a header to a name and a unit"
	}
	return List(names, 8)
}

// baseName is a file's name without folders and ending.
func baseName(path string) string {
	name := path[strings.LastIndexAny(path, `/\`)+1:]
	if i := strings.LastIndexByte(name, '.'); i > 0 {
		name = name[:i]
	}
	return name
}

// Row takes the next row; it keeps nothing of r.
func (c *SensorCollector) Row(r SensorReading) error {
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
func (c *SensorCollector) settle() error {
	l := c.log
	l.settled = true
	l.step = usualStep(l.early, func(SensorReading) bool { return true })
	l.limit = c.longestStep(l.step)
	if l.step > 0 {
		step, longest := inSeconds(l.step), inSeconds(l.limit)
		l.info.Step, l.info.Longest = &step, &longest
	}
	for _, t := range l.tracks {
		t.limit = max(l.limit, c.longestStep(usualStep(l.early, func(r SensorReading) bool { return !math.IsNaN(r.Values[t.source]) })))
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

func (c *SensorCollector) longestStep(step int64) int64 {
	return nanoseconds(inSeconds(step) * c.rules.GapSteps)
}

// usualStep is the median of the steps in time, above zero, between the rows
// that count; 0 where there is none.
func usualStep(rows []SensorReading, counts func(SensorReading) bool) int64 {
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
func (c *SensorCollector) take(r SensorReading) (err error) {
	l := c.log
	if !l.fresh && r.Part != l.last.Part {
		if err := c.breakOff(fmt.Sprintf("cut off: the log was started anew before line %d", r.Line)); err != nil {
			return err
		}
		for _, t := range l.tracks {
			t.seen = false
		}
		l.fresh = true
	}
	if !l.fresh && r.Time-l.last.Time > l.limit {
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

func (c *SensorCollector) byMarker(r SensorReading) error {
	l := c.log
	if l.run != nil && r.Marker != l.label {
		if err := c.finish(l.last.Time, l.last.Line); err != nil {
			return err
		}
	}
	if l.run == nil && r.Marker != "" {
		l.label = r.Marker
		w := SensorWindow{Start: r.Time, End: math.MaxInt64, StartText: r.TimeText}
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

func (c *SensorCollector) byThreshold(r SensorReading) error {
	l := c.log
	v := r.Values[l.bar]
	if !math.IsNaN(v) {
		l.highest = math.Max(l.highest, v)
	}
	above := v > c.rules.Threshold.Value
	switch {
	case above && l.run == nil:
		c.open(SensorWindow{Benchmark: c.rules.Benchmark, Start: r.Time, End: math.MaxInt64, StartText: r.TimeText}, r)
	case above:
		l.flush()
	case l.run != nil && r.Time-l.run.lastAbove <= nanoseconds(c.rules.LongestDip):
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

func (c *SensorCollector) byWindow(r SensorReading) error {
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
func (c *SensorCollector) openWindow(r SensorReading) bool {
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
		moved := w.SensorWindow
		moved.Start, moved.End = start, end
		w.done = true
		l.window++
		c.open(moved, r)
		return true
	}
	return false
}

// open starts a run at a row.
func (c *SensorCollector) open(w SensorWindow, r SensorReading) {
	l := c.log
	run := &openRun{start: w.Start, end: w.End, lastAbove: r.Time, warm: w.Start + nanoseconds(c.rules.WarmUp), sums: make([]sums, len(l.tracks))}
	run.SensorRun = SensorRun{Log: l.File, Line: r.Line, LastLine: r.Line, Benchmark: w.Benchmark, Run: w.Run,
		Profile: OrWord(w.Profile, c.rules.Profile), Session: OrWord(w.Session, l.session), Start: w.StartText}
	if l.fresh && !c.rules.KeepCut && (w.End == math.MaxInt64 || r.Time-w.Start > l.step) {
		run.Reason = "cut off: it began before the log did"
	}
	for i, t := range l.tracks {
		run.sums[i] = newSums(c.rules, t.SensorColumn, t.rise)
		run.sums[i].upto = w.Start
	}
	l.run = run
}

// breakOff ends the run in hand because the log ends.
func (c *SensorCollector) breakOff(reason string) error {
	l := c.log
	if l.run == nil {
		return nil
	}
	end, line := l.last.Time, l.last.Line
	if c.rules.Threshold != nil {
		if len(l.pending) > 0 {
			reason = fmt.Sprintf("cut off: the log ended less than %s behind it, so that it may have gone on", secondsText(c.rules.LongestDip))
		}
		end, line, l.pending = l.run.lastAbove, l.run.LastLine, nil
	}
	if l.run.end != math.MaxInt64 && l.run.end-end <= l.step {
		return c.finish(l.run.end, line)
	}
	if l.run.Reason == "" && !c.rules.KeepCut {
		l.run.Reason = reason
	}
	return c.finish(end, line)
}

// End ends a log.
func (c *SensorCollector) End() error {
	l := c.log
	if !l.settled {
		if err := c.settle(); err != nil {
			return err
		}
	}
	return c.breakOff("cut off: the log ended before it did")
}

// Result closes the books. It is an error when no run was found at all.
func (c *SensorCollector) Result() (*Sensors, error) {
	for _, w := range c.windows {
		if w.done {
			continue
		}
		run := &openRun{start: w.Start, end: w.End, SensorRun: SensorRun{Log: w.At.File, Line: w.At.Line, LastLine: w.At.Line,
			Benchmark: w.Benchmark, Profile: OrWord(w.Profile, c.rules.Profile), Session: OrWord(w.Session, c.rules.Session), Run: w.Run,
			Start: w.StartText, Seconds: inSeconds(w.End - w.Start), Reason: "no row of the log falls into it"}}
		if err := c.name(run); err != nil {
			return nil, err
		}
		for _, k := range c.columns {
			s := newSums(c.rules, k, false)
			for _, v := range s.values(c.rules, k) {
				v.source = k.Name
				run.Metrics = append(run.Metrics, v)
			}
		}
		c.out.Runs = append(c.out.Runs, run.SensorRun)
	}
	if len(c.out.Runs) == 0 {
		return nil, c.noRuns()
	}
	c.dropSilent()
	c.addNotes()
	return &c.out, nil
}
