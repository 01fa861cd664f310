package compare

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"tunegate/compare/internal/pieces"
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

// Runs collects values into series. The zero value is ready for use.
type Runs struct {
	store    *store
	borrowed bool      // store is that of a list, see AddAll
	of       []*Series // by the number of a metric: what such a value is filed under
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
	r.own()
	metric := r.store.words.metricOf(&v)
	s, err := r.seriesOf(metric, &v)
	if err != nil {
		return err
	}
	if strings.EqualFold(v.Run, WarmUp) {
		s.WarmUps++
		return nil
	}
	r.file(s, r.store.put(metric, &v))
	return nil
}

// AddAll files the values of a list under a profile, whatever profile they name. The
// series share the list's values.
func (r *Runs) AddAll(profile string, list *Rows) error {
	if r.store == nil && list.Len() > 0 {
		r.store, r.borrowed = list.store, true
	}
	for i := range list.Len() {
		if r.store != list.store {
			v := list.At(i)
			v.Profile = profile
			if err := r.Add(v); err != nil {
				return err
			}
			continue
		}
		n := list.number(i)
		row := r.store.row(n)
		s := r.filedUnder(row.metric)
		if s == nil || s.Profile != profile {
			v := list.At(i)
			v.Profile = profile
			var err error
			if s, err = r.seriesOf(row.metric, &v); err != nil {
				return err
			}
		}
		if strings.EqualFold(r.store.words.text(row.run), WarmUp) {
			s.WarmUps++
			continue
		}
		r.file(s, n)
	}
	return nil
}

// file puts a row into its series.
func (r *Runs) file(s *Series, row uint32) {
	if s.store != r.store { // it was changed since
		row = s.store.copy(r.store, row)
	}
	s.index.Append(row)
	r.sorted = false
}

// own gives the runs a store that they may add to.
func (r *Runs) own() {
	switch {
	case r.store == nil:
		r.store = newStore(newWords())
	case r.borrowed:
		r.store, r.borrowed = newStore(r.store.words), false
		for _, s := range r.order {
			of, rows := s.store, s.index
			s.store, s.index, s.borrowed = r.store, pieces.List[uint32]{}, false
			for _, n := range rows.All() {
				s.index.Append(r.store.copy(of, *n))
			}
		}
	}
}

func (r *Runs) filedUnder(metric uint32) *Series {
	if int(metric) < len(r.of) {
		return r.of[metric]
	}
	return nil
}

// seriesOf is the series of a value of the metric with this number, held to what is
// known of it.
func (r *Runs) seriesOf(metric uint32, v *Value) (*Series, error) {
	key := SeriesKey{v.Profile, v.Benchmark, cmp.Or(v.Metric, DefaultMetric)}
	s := r.filedUnder(metric)
	if s != nil && s.SeriesKey == key {
		return s, nil // the same profile, names, unit and direction as of a value before
	}
	if s = r.series[key]; s == nil {
		if r.series == nil {
			r.series = map[SeriesKey]*Series{}
		}
		s = &Series{SeriesKey: key, store: r.store, borrowed: r.borrowed}
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
			return nil, ErrorAt(v.At, "%s is in %q here but in %q at %s; write all runs of a metric in one unit",
				v.ID().Name(), v.Unit, s.Unit, s.UnitAt)
		}
	}
	if v.Better != "" {
		switch {
		case s.Better == "":
			s.Better, s.BetterAt = v.Better, v.At
		case s.Better != v.Better:
			return nil, ErrorAt(v.At, "%s says better = %s here but %s at %s; state one direction for a metric",
				v.ID().Name(), v.Better, s.Better, s.BetterAt)
		}
	}
	for len(r.of) <= int(metric) {
		r.of = append(r.of, nil)
	}
	r.of[metric] = s
	return s, nil
}

// Profiles lists the profiles in order of first appearance.
func (r *Runs) Profiles() []string { return append([]string(nil), r.profiles...) }

// Series lists all series in order of first appearance. Each is in run order:
// by time where every value of it has one, else as read. A run that is set
// aside under one metric is set aside under all metrics of its benchmark.
func (r *Runs) Series() []*Series {
	if !r.sorted {
		for _, s := range r.order {
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

// IsRow reports whether a value stands for a run: an empty cell of a run that
// was not made does not.
func (v Value) IsRow() bool { return !v.Missing || v.SetAside }

// Line is the place of the value without its column.
func (v Value) Line() Place { return Place{File: v.At.File, Sheet: v.At.Sheet, Line: v.At.Line} }

// ID is the metric that the value belongs to.
func (v Value) ID() MetricID {
	return MetricID{v.Benchmark, cmp.Or(v.Metric, DefaultMetric)}
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
		if !s.AnySetAside() {
			continue
		}
		for i, id := range s.RunIDs() {
			k, o := key{s.Profile, s.Benchmark, id}, s.At(i)
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
			if reason, ok := reasons[key{s.Profile, s.Benchmark, id}]; ok && !s.row(i).setAside() {
				o := s.At(i)
				o.SetAside, o.Reason = true, reason
				s.Set(i, o)
			}
		}
	}
}
