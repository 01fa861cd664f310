package compare

import (
	"fmt"
	"iter"
	"sort"

	"tunegate/compare/internal/pieces"
)

// Observation is a Value within its series.
type Observation struct {
	Value    float64
	Machine  string
	Session  string
	Block    string
	Run      string
	Time     int64 // Unix nanoseconds; 0 when not recorded
	Look     int8  // planned, 1 or 2; 0: none
	Missing  bool
	SetAside bool
	Reason   string
	Reduced  *Reduction // nil: one run
	At       Place
}

// SeriesKey names one metric of one benchmark under one profile.
type SeriesKey struct{ Profile, Benchmark, Metric string }

// Series holds all values of one key in run order, the set-aside and the
// missing ones included, as Rows holds them. Those of one Runs must not be changed at
// the same time; a copy shares its observations, as that of a slice does.
type Series struct {
	SeriesKey
	Unit       string
	Better     Better
	WarmUps    int      // runs labelled so, which are no observations
	UnitAt     Place    // where Unit was first stated
	BetterAt   Place    // where Better was
	Derived    *Derived // nil for what was measured
	perMachine bool     // see ByMachine

	store    *store
	index    pieces.List[uint32] // the rows of store that are the observations
	borrowed bool                // store is somebody else's: copied before it is changed
}

// Derived is what is known of a series that is worked out from others, whatever
// its unit says.
type Derived struct {
	Role  Role
	Scale Scale
}

// Len is the number of observations.
func (s *Series) Len() int { return s.index.Len() }

// At is observation i.
func (s *Series) At(i int) Observation { return s.store.observation(*s.index.At(i)) }

// All goes through the observations.
func (s *Series) All() iter.Seq2[int, Observation] {
	return func(yield func(int, Observation) bool) {
		for i := range s.Len() {
			if !yield(i, s.At(i)) {
				return
			}
		}
	}
}

// Pick is the list of the observations at these places, in that order.
func (s *Series) Pick(places ...int) *Rows {
	if len(places) == 0 {
		return nil
	}
	out := &Rows{store: s.store, part: true, picked: make([]uint32, len(places)), n: len(places)}
	for k, i := range places {
		out.picked[k] = *s.index.At(i)
	}
	return out
}

// With is the same series with other observations.
func (s *Series) With(observations ...Observation) *Series {
	out := *s
	out.store, out.index, out.borrowed = nil, pieces.List[uint32]{}, false
	out.Append(observations...)
	return &out
}

// Append adds observations.
func (s *Series) Append(observations ...Observation) {
	s.own()
	metric := s.store.words.metricOf(&Value{Profile: s.Profile, Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Better: s.Better})
	for i := range observations {
		v := observations[i].asValue()
		s.index.Append(s.store.put(metric, &v))
	}
}

// Set replaces observation i.
func (s *Series) Set(i int, o Observation) {
	s.own()
	v := o.asValue()
	r := s.row(i)
	*r = s.store.pack(r.metric, &v)
}

// own gives the series a store that it may change.
func (s *Series) own() {
	switch {
	case s.store == nil:
		s.store = newStore(newWords())
	case s.borrowed:
		of, rows := s.store, s.index
		s.store, s.index, s.borrowed = newStore(of.words), pieces.List[uint32]{}, false
		for _, n := range rows.All() {
			s.index.Append(s.store.copy(of, *n))
		}
	}
}

func (s *Series) row(i int) *row { return s.store.row(*s.index.At(i)) }

// rows goes through the records of the observations.
func (s *Series) rows() iter.Seq2[int, *row] {
	return func(yield func(int, *row) bool) {
		of := s.store // Set may take another one
		for i, n := range s.index.All() {
			if !yield(i, of.row(*n)) {
				return
			}
		}
	}
}

// Valid goes through the readings of the runs that count.
func (s *Series) Valid() iter.Seq2[int, float64] {
	return func(yield func(int, float64) bool) {
		for i, r := range s.rows() {
			if r.counts() && !yield(i, r.value) {
				return
			}
		}
	}
}

// sortByTime sorts the observations by time, where each has one.
func (s *Series) sortByTime() {
	inOrder, last := true, int64(0)
	for _, r := range s.rows() {
		at := s.store.nanoseconds(r)
		if at == 0 {
			return
		}
		inOrder, last = inOrder && last <= at, at
	}
	if inOrder {
		return
	}
	type timed struct {
		time int64
		row  uint32
	}
	order := make([]timed, 0, s.Len())
	for _, n := range s.index.All() {
		order = append(order, timed{s.store.nanoseconds(s.store.row(*n)), *n})
	}
	sort.SliceStable(order, func(i, j int) bool { return order[i].time < order[j].time })
	for i, n := range s.index.All() {
		*n = order[i].row
	}
}

// ID is the metric that the series holds values of.
func (k SeriesKey) ID() MetricID { return MetricID{k.Benchmark, k.Metric} }

// RunID says which run of a profile and a benchmark a value belongs to: the
// metrics of one run share it. A run is known by its label within its machine,
// session and block. One without a label is the Nth value of its metric there and in its
// file; labels without a session are those of their file.
type RunID struct {
	Machine, Session, Block, File string

	Label string
	Nth   int // 0 where there is a label
}

// String is the label, or the number.
func (id RunID) String() string {
	if id.Nth > 0 {
		return fmt.Sprint(id.Nth)
	}
	return id.Label
}

// RunIDs goes through the observations with the run that each belongs to.
func (s *Series) RunIDs() iter.Seq2[int, RunID] {
	return func(yield func(int, RunID) bool) {
		nth := map[uint32]int{} // by sitting
		for i, r := range s.rows() {
			at := s.store.words.sittings.At(int(r.sitting))
			text := s.store.words.text
			id := RunID{Machine: text(at.machine), Session: text(at.session), Block: text(at.block), Label: text(r.run)}
			if nth[r.sitting]++; id.Label == "" {
				id.Nth = nth[r.sitting]
			}
			if id.Label == "" || id.Session == "" {
				id.File = s.store.place(r).Source()
			}
			if !yield(i, id) {
				return
			}
		}
	}
}

// AnySetAside reports whether a run of the series is set aside.
func (s *Series) AnySetAside() bool {
	for _, r := range s.rows() {
		if r.setAside() {
			return true
		}
	}
	return false
}
