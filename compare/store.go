package compare

import (
	"time"

	"tunegate/compare/internal/pieces"
)

// store holds rows in the order in which they came, each as a record without
// pointers: what rows have in common is held once and has a number.
type store struct {
	words  *words
	rows   pieces.List[row]
	extras pieces.List[extra]
}

func newStore(w *words) *store { return &store{words: w} }

// row is a Value in 32 bytes.
type row struct {
	value    float64
	metric   uint32 // of words.metrics
	sitting  uint32 // of words.sittings
	run      uint32 // of words.texts
	line     uint32
	position uint32 // the column, and flags above it
	extra    uint32 // one more than the number of store.extras; 0 for none
}

// What row.position holds above the column.
const (
	columnBits = 24
	isMissing  = 1 << columnBits
	isSetAside = 2 << columnBits
	isTimed    = 4 << columnBits
	lookShift  = columnBits + 3
	lookMask   = 3
)

func (r *row) missing() bool  { return r.position&isMissing != 0 }
func (r *row) setAside() bool { return r.position&isSetAside != 0 }
func (r *row) counts() bool   { return r.position&(isMissing|isSetAside) == 0 }
func (r *row) look() int      { return int(r.position >> lookShift & lookMask) }

// extra is what few rows have.
type extra struct {
	time    int64  // Unix nanoseconds
	zone    int32  // seconds east of UTC
	reason  uint32 // of words.texts
	reduced uint32 // one more than the number of words.reductions; 0 for none
}

// words are the names and labels of rows, by number. Text 0 is empty.
type words struct {
	texts      pieces.Numbers[string]
	metrics    pieces.Numbers[metricWords]
	sources    pieces.Numbers[source]
	sittings   pieces.Numbers[sitting]
	reductions pieces.Numbers[Reduction]

	next   []uint32 // the metric that stood behind each metric the last time
	metric uint32   // of the row before
	before struct { // its labels
		machine, session, block, run string
		source                       source
		sitting, runNumber           uint32
	}
}

type metricWords struct {
	profile, benchmark, metric, unit string
	better                           Better
}

type source struct{ file, sheet string }

// sitting is where and when a row was measured, by the numbers of texts and sources.
type sitting struct{ machine, session, block, source uint32 }

func newWords() *words {
	w := &words{}
	w.texts.Of("")
	w.sittings.Of(sitting{source: w.sources.Of(source{})})
	return w
}

// metricOf is the number of the metric of a value. Metrics mostly follow each other in
// the same order, row by row or line by line.
func (w *words) metricOf(v *Value) uint32 {
	of := metricWords{v.Profile, v.Benchmark, v.Metric, v.Unit, v.Better}
	if len(w.next) > 0 {
		if guess := w.next[w.metric]; *w.metrics.At(int(guess)) == of {
			w.metric = guess
			return guess
		}
	}
	n := w.metrics.Of(of)
	if int(n) == len(w.next) {
		w.next = append(w.next, n)
	}
	w.next[w.metric], w.metric = n, n
	return n
}

// sittingOf is the number of the sitting of a value.
func (w *words) sittingOf(v *Value) uint32 {
	b := &w.before
	if v.Session == b.session && v.Block == b.block && v.Machine == b.machine && v.At.File == b.source.file && v.At.Sheet == b.source.sheet {
		return b.sitting
	}
	b.machine, b.session, b.block, b.source = v.Machine, v.Session, v.Block, source{v.At.File, v.At.Sheet}
	b.sitting = w.sittings.Of(sitting{w.texts.Of(v.Machine), w.texts.Of(v.Session), w.texts.Of(v.Block), w.sources.Of(b.source)})
	return b.sitting
}

func (w *words) runOf(v *Value) uint32 {
	b := &w.before
	if v.Run != b.run {
		b.run, b.runNumber = v.Run, w.texts.Of(v.Run)
	}
	return b.runNumber
}

func (w *words) text(n uint32) string { return *w.texts.At(int(n)) }

// add holds a value, and returns its number.
func (s *store) add(v *Value) uint32 { return s.put(s.words.metricOf(v), v) }

// put is add for a value of a metric that has its number. v goes nowhere.
func (s *store) put(metric uint32, v *Value) uint32 { return uint32(s.rows.Append(s.pack(metric, v))) }

func (s *store) pack(metric uint32, v *Value) row {
	r := row{value: v.Value, metric: metric, sitting: s.words.sittingOf(v), run: s.words.runOf(v), line: uint32(v.At.Line)}
	if v.At.Column>>columnBits == 0 {
		r.position = uint32(v.At.Column)
	}
	if v.Missing {
		r.position |= isMissing
	}
	if v.SetAside {
		r.position |= isSetAside
	}
	r.position |= uint32(v.Look&lookMask) << lookShift
	if v.Reason == "" && v.Reduced == nil && v.Time.IsZero() {
		return r
	}
	e := extra{reason: s.words.texts.Of(v.Reason)}
	if v.Reduced != nil {
		e.reduced = s.words.reductions.Of(*v.Reduced) + 1
	}
	if !v.Time.IsZero() {
		r.position |= isTimed
		_, zone := v.Time.Zone()
		e.time, e.zone = v.Time.UnixNano(), int32(zone)
	}
	r.extra = uint32(s.extras.Append(e)) + 1
	return r
}

func (s *store) row(n uint32) *row { return s.rows.At(int(n)) }

func (s *store) place(r *row) Place {
	of := s.words.sources.At(int(s.words.sittings.At(int(r.sitting)).source))
	return Place{File: of.file, Sheet: of.sheet, Line: int(r.line), Column: int(r.position & (1<<columnBits - 1))}
}

// nanoseconds is the time of a row, 0 where none is recorded.
func (s *store) nanoseconds(r *row) int64 {
	if r.extra == 0 {
		return 0
	}
	return s.extras.At(int(r.extra - 1)).time
}

func (s *store) reduction(r *row) *Reduction {
	if r.extra == 0 {
		return nil
	}
	if n := s.extras.At(int(r.extra - 1)).reduced; n > 0 {
		return s.words.reductions.At(int(n - 1))
	}
	return nil
}

// value is a row as it was added.
func (s *store) value(n uint32) Value {
	r, w := s.row(n), s.words
	m, at := w.metrics.At(int(r.metric)), w.sittings.At(int(r.sitting))
	v := Value{Profile: m.profile, Benchmark: m.benchmark, Metric: m.metric, Unit: m.unit, Better: m.better, Machine: w.text(at.machine),
		Session: w.text(at.session), Block: w.text(at.block), Run: w.text(r.run), Look: r.look(), Value: r.value, Missing: r.missing(),
		SetAside: r.setAside(), At: s.place(r)}
	if r.extra == 0 {
		return v
	}
	e := s.extras.At(int(r.extra - 1))
	v.Reason, v.Reduced = w.text(e.reason), s.reduction(r)
	if r.position&isTimed != 0 {
		if v.Time = time.Unix(0, e.time).UTC(); e.zone != 0 {
			v.Time = v.Time.In(time.FixedZone("", int(e.zone)))
		}
	}
	return v
}

// observation is a row within its series.
func (s *store) observation(n uint32) Observation {
	r, w := s.row(n), s.words
	at := w.sittings.At(int(r.sitting))
	o := Observation{Value: r.value, Machine: w.text(at.machine), Session: w.text(at.session), Block: w.text(at.block), Run: w.text(r.run),
		Look: int8(r.look()), Missing: r.missing(), SetAside: r.setAside(), At: s.place(r)}
	if r.extra > 0 {
		e := s.extras.At(int(r.extra - 1))
		o.Time, o.Reason, o.Reduced = e.time, w.text(e.reason), s.reduction(r)
	}
	return o
}

// asValue is an observation as a value without names.
func (o *Observation) asValue() Value {
	v := Value{Machine: o.Machine, Session: o.Session, Block: o.Block, Run: o.Run, Look: int(o.Look), Value: o.Value, Missing: o.Missing,
		SetAside: o.SetAside, Reason: o.Reason, Reduced: o.Reduced, At: o.At}
	if o.Time != 0 {
		v.Time = time.Unix(0, o.Time).UTC()
	}
	return v
}
