package compare

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"slices"
	"sort"
	"strings"
	"time"
)

// Place says where a value stood, so that every message can point at it.
// Line and Column count from 1; 0 means unknown (values typed on the command
// line). Sheet is that of a workbook, empty elsewhere.
type Place struct {
	File, Sheet  string
	Line, Column int
}

func (p Place) String() string {
	switch {
	case p.Line == 0:
		return p.Source()
	case p.Sheet != "" && p.Column == 0:
		return fmt.Sprintf("%s, row %d", p.Source(), p.Line)
	case p.Sheet != "":
		return fmt.Sprintf("%s, %s%d", p.Source(), ColumnLetters(p.Column), p.Line)
	case p.Column == 0:
		return fmt.Sprintf("%s:%d", p.File, p.Line)
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Source is the file, or the sheet of a workbook.
func (p Place) Source() string {
	if p.Sheet == "" {
		return p.File
	}
	return p.File + ", sheet " + p.Sheet
}

// ColumnLetters names a column of a workbook, counted from 1: A, B, ..., Z, AA.
func ColumnLetters(column int) string {
	letters := ""
	for ; column > 0; column = (column - 1) / 26 {
		letters = string(rune('A'+(column-1)%26)) + letters
	}
	return letters
}

// Value is one row as it was read: one quantity of one run.
type Value struct {
	Profile   string // empty: the reader's caller decides
	Benchmark string
	Metric    string // empty: DefaultMetric
	Unit      string // as CanonicalUnit spells it; may be empty
	Better    Better // empty: not stated
	Machine   string // empty: not recorded
	Session   string // empty: not recorded
	Block     string // empty: not recorded
	Run       string // empty: the k-th value of its metric is run k
	Look      int    // the planned look that the row was made for, 1 or 2; 0: none
	Time      time.Time
	Value     float64
	Missing   bool       // an empty cell: not yet run
	SetAside  bool       // the row says valid = no
	Reason    string     // why it was set aside
	Reduced   *Reduction // what the row stands for; nil: one run
	At        Place
}

// WarmUp is the run label of a run that is made and not counted.
const WarmUp = "warm-up"

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
// missing ones included.
type Series struct {
	SeriesKey
	Unit         string
	Better       Better
	Observations []Observation
	WarmUps      int             // runs labelled so, which are no observations
	more         [][]Observation // read since, in pieces of observationPiece
	UnitAt       Place           // where Unit was first stated
	BetterAt     Place           // where Better was
	Derived      *Derived        // nil for what was measured
	perMachine   bool            // see ByMachine
}

// Derived is what is known of a series that is worked out from others, whatever
// its unit says.
type Derived struct {
	Role  Role
	Scale Scale
}

// Runs collects values into series. The zero value is ready for use.
type Runs struct {
	series   map[SeriesKey]*Series
	order    []*Series
	profiles []string
	sorted   bool
}

// PlacedError is an error about a value at a place in a file.
type PlacedError struct {
	At    Place
	Msg   string
	cause error // nil for none
}

// ErrorAt is a *PlacedError. The format may wrap an error with %w.
func ErrorAt(at Place, format string, args ...any) error {
	err := fmt.Errorf(format, args...)
	return &PlacedError{at, err.Error(), errors.Unwrap(err)}
}

func (e *PlacedError) Unwrap() error { return e.cause }

func (e *PlacedError) Error() string {
	if e.At.File == "" {
		return e.Msg
	}
	return e.At.String() + ": " + e.Msg
}

// Add files a value under its series. It is an error when the same series is
// stated in two units or in two directions.
func (r *Runs) Add(v Value) error {
	key := SeriesKey{v.Profile, v.Benchmark, cmp.Or(v.Metric, DefaultMetric)}
	s := r.series[key]
	if s == nil {
		if r.series == nil {
			r.series = map[SeriesKey]*Series{}
		}
		s = &Series{SeriesKey: key}
		r.series[key] = s
		r.order = append(r.order, s)
		if !slices.Contains(r.profiles, v.Profile) {
			r.profiles = append(r.profiles, v.Profile)
		}
	}
	if v.Unit != "" {
		switch {
		case s.Unit == "":
			s.Unit, s.UnitAt = v.Unit, v.At
		case s.Unit != v.Unit:
			return ErrorAt(v.At, "%s is in %q here but in %q at %s; write all runs of a metric in one unit",
				v.ID().Name(), v.Unit, s.Unit, s.UnitAt)
		}
	}
	if v.Better != "" {
		switch {
		case s.Better == "":
			s.Better, s.BetterAt = v.Better, v.At
		case s.Better != v.Better:
			return ErrorAt(v.At, "%s says better = %s here but %s at %s; state one direction for a metric",
				v.ID().Name(), v.Better, s.Better, s.BetterAt)
		}
	}
	if strings.EqualFold(v.Run, WarmUp) {
		s.WarmUps++
		return nil
	}
	o := Observation{Value: v.Value, Machine: v.Machine, Session: v.Session, Block: v.Block, Run: v.Run, Look: int8(v.Look),
		Missing: v.Missing, SetAside: v.SetAside, Reason: v.Reason, Reduced: v.Reduced, At: v.At}
	if !v.Time.IsZero() {
		o.Time = v.Time.UnixNano()
	}
	s.add(o)
	r.sorted = false
	return nil
}

// observationPiece is by how many observations a long series grows. Let append
// do it, and what it copies on the way takes three times the memory of what is
// read in the end.
const observationPiece = 512

func (s *Series) add(o Observation) {
	if len(s.Observations) < observationPiece {
		s.Observations = append(s.Observations, o)
		return
	}
	last := len(s.more) - 1
	if last < 0 || len(s.more[last]) == observationPiece {
		s.more = append(s.more, make([]Observation, 0, observationPiece))
		last++
	}
	s.more[last] = append(s.more[last], o)
}

// gather puts the pieces together.
func (s *Series) gather() {
	if s.more != nil {
		s.Observations, s.more = slices.Concat(append([][]Observation{s.Observations}, s.more...)...), nil
	}
}

// Profiles lists the profiles in order of first appearance.
func (r *Runs) Profiles() []string { return append([]string(nil), r.profiles...) }

// Series lists all series in order of first appearance. Each is in run order:
// by time where every value of it has one, else as read. A run that is set
// aside under one metric is set aside under all metrics of its benchmark.
func (r *Runs) Series() []*Series {
	if !r.sorted {
		for _, s := range r.order {
			s.gather()
			s.sortByTime()
		}
		r.spreadSetAside()
		r.sorted = true
	}
	return r.order
}

// Profile returns the series of one profile, in order of first appearance.
func (r *Runs) Profile(name string) []*Series {
	var out []*Series
	for _, s := range r.Series() {
		if s.Profile == name {
			out = append(out, s)
		}
	}
	return out
}

func (s *Series) sortByTime() {
	for _, o := range s.Observations {
		if o.Time == 0 {
			return
		}
	}
	sort.SliceStable(s.Observations, func(i, j int) bool {
		return s.Observations[i].Time < s.Observations[j].Time
	})
}

// IsRow reports whether a value stands for a run: an empty cell of a run that
// was not made does not.
func (v Value) IsRow() bool { return !v.Missing || v.SetAside }

// Line is the place of the value without its column.
func (v Value) Line() Place { return Place{File: v.At.File, Sheet: v.At.Sheet, Line: v.At.Line} }

// ID is the metric that the value belongs to.
func (v Value) ID() MetricID {
	return MetricID{v.Benchmark, cmp.Or(v.Metric, DefaultMetric)}
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
		nth := map[RunID]int{}
		for i := range s.Observations {
			o := &s.Observations[i]
			id := RunID{Machine: o.Machine, Session: o.Session, Block: o.Block, File: o.At.Source()}
			nth[id]++
			switch {
			case o.Run == "":
				id.Nth = nth[id]
			case o.Session != "":
				id.Label, id.File = o.Run, ""
			default:
				id.Label = o.Run
			}
			if !yield(i, id) {
				return
			}
		}
	}
}

// anySetAside reports whether a run of the series is set aside.
func (s *Series) anySetAside() bool {
	return slices.ContainsFunc(s.Observations, func(o Observation) bool { return o.SetAside })
}

// spreadSetAside sets every value of a run aside that one of its metrics sets
// aside.
func (r *Runs) spreadSetAside() {
	type key struct {
		profile, benchmark string
		RunID
	}
	reasons := map[key]string{}
	for _, s := range r.order {
		if !s.anySetAside() {
			continue
		}
		for i, id := range s.RunIDs() {
			k, o := key{s.Profile, s.Benchmark, id}, &s.Observations[i]
			if o.SetAside && (reasons[k] == "" || o.Reason != "") {
				reasons[k] = o.Reason
			}
		}
	}
	if len(reasons) == 0 {
		return
	}
	for _, s := range r.order {
		for i, id := range s.RunIDs() {
			o := &s.Observations[i]
			if reason, ok := reasons[key{s.Profile, s.Benchmark, id}]; ok && !o.SetAside {
				o.SetAside, o.Reason = true, reason
			}
		}
	}
}
