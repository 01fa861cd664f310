package compare

import (
	"cmp"
	"iter"
	"slices"

	"tunegate/compare/internal/pieces"
)

// Rows is a list of values as they were read. It holds 32 bytes for each, and the names
// and labels once. Times have to lie between the years 1678 and 2262, and lines below
// four thousand million; a column beyond 16 million is not kept. nil and the zero value
// are empty lists. What is picked from a list shares its values, so that a list costs
// nothing twice. Lists that share values or names must not be appended to at the same
// time.
type Rows struct {
	store  *store
	part   bool     // some rows of store, not all:
	picked []uint32 // these, or
	from   uint32   // n of them from this one on
	n      int
}

// RowsOf is a list of these values.
func RowsOf(values ...Value) *Rows {
	r := &Rows{}
	for _, v := range values {
		r.Append(v)
	}
	return r
}

// Alike is an empty list that will hold its names and labels together with those of r,
// so that rows of both are compared without a look at them, see KeysOf. r must be no
// nil.
func (r *Rows) Alike() *Rows {
	if r.store == nil {
		r.store = newStore(newWords())
	}
	return &Rows{store: newStore(r.store.words)}
}

// Append adds a value. What was picked from another list becomes a list of its own.
func (r *Rows) Append(v Value) {
	switch {
	case r.store == nil:
		r.store = newStore(newWords())
	case r.part:
		of := *r
		*r = Rows{store: newStore(of.store.words)}
		for i := range of.Len() {
			r.store.copy(of.store, of.number(i))
		}
	}
	r.store.add(&v)
}

// copy adds a row of a store that shares the words.
func (s *store) copy(from *store, n uint32) uint32 {
	r := *from.row(n)
	if r.extra > 0 {
		r.extra = uint32(s.extras.Append(*from.extras.At(int(r.extra - 1)))) + 1
	}
	return uint32(s.rows.Append(r))
}

// Len is the number of values.
func (r *Rows) Len() int {
	switch {
	case r == nil || r.store == nil:
		return 0
	case r.part:
		return r.n
	}
	return r.store.rows.Len()
}

func (r *Rows) number(i int) uint32 {
	if r.picked != nil {
		return r.picked[i]
	}
	return r.from + uint32(i)
}

func (r *Rows) row(i int) *row { return r.store.row(r.number(i)) }

// At is value i, as it was added.
func (r *Rows) At(i int) Value { return r.store.value(r.number(i)) }

// All goes through the values.
func (r *Rows) All() iter.Seq2[int, Value] {
	return func(yield func(int, Value) bool) {
		for i := range r.Len() {
			if !yield(i, r.At(i)) {
				return
			}
		}
	}
}

// List is the values as a slice, at 240 bytes each; nil for none.
func (r *Rows) List() []Value {
	var out []Value
	for _, v := range r.All() {
		out = append(out, v)
	}
	return out
}

// Pick is the list of the values at these places of r, in that order. It holds on to
// places, which must not be changed.
func (r *Rows) Pick(places []uint32) *Rows {
	if len(places) == 0 {
		return nil
	}
	if r.part {
		numbers := make([]uint32, len(places))
		for i, at := range places {
			numbers[i] = r.number(int(at))
		}
		places = numbers
	}
	return &Rows{store: r.store, part: true, picked: places, n: len(places)}
}

// Tail is the list of the values of r from place from on.
func (r *Rows) Tail(from int) *Rows {
	out := &Rows{part: true, n: r.Len() - from}
	switch {
	case out.n <= 0:
		return nil
	case r.picked != nil:
		out.picked = r.picked[from:]
	default:
		out.from = r.from + uint32(from)
	}
	out.store = r.store
	return out
}

// Under is the list with all values under one profile.
func (r *Rows) Under(profile string) *Rows {
	if r.Len() == 0 {
		return nil
	}
	out := r.Alike()
	for _, v := range r.All() {
		v.Profile = profile
		out.Append(v)
	}
	return out
}

// JoinRows is the values of several lists, one behind the other. Lists that were picked
// from the same one go on sharing its values.
func JoinRows(lists ...*Rows) *Rows {
	lists = slices.DeleteFunc(slices.Clone(lists), func(l *Rows) bool { return l.Len() == 0 })
	switch {
	case len(lists) == 0:
		return nil
	case len(lists) == 1:
		return lists[0]
	case slices.ContainsFunc(lists, func(l *Rows) bool { return l.store != lists[0].store }):
		out := lists[0].Alike()
		for _, l := range lists {
			for i := range l.Len() {
				out.take(l, i)
			}
		}
		return out
	}
	n := 0
	for _, l := range lists {
		n += l.Len()
	}
	out := &Rows{store: lists[0].store, part: true, picked: make([]uint32, 0, n), n: n}
	for _, l := range lists {
		for i := range l.Len() {
			out.picked = append(out.picked, l.number(i))
		}
	}
	return out
}

// AppendTo copies the values behind those of another list, which must hold all of its
// own, and returns the copies.
func (r *Rows) AppendTo(to *Rows) *Rows {
	from := to.Len()
	for i := range r.Len() {
		to.take(r, i)
	}
	return to.Tail(from)
}

// IsSame reports whether value i of a list is one with value k of another: not merely
// equal, but picked from the same list.
func (r *Rows) IsSame(i int, other *Rows, k int) bool {
	return r.store == other.store && r.number(i) == other.number(k)
}

// SameStart is how many values two lists begin with that are the same, see IsSame.
func SameStart(a, b *Rows) int {
	most := min(a.Len(), b.Len())
	if most == 0 || a.store != b.store {
		return 0
	}
	n := 0
	if a.picked != nil && b.picked != nil {
		for n < most && a.picked[n] == b.picked[n] {
			n++
		}
		return n
	}
	for n < most && a.number(n) == b.number(n) {
		n++
	}
	return n
}

// MetricNumber is equal for values of one list that have the profile, the names, the unit
// and the direction in common.
func (r *Rows) MetricNumber(i int) uint32 { return r.row(i).metric }

// IsRow is Value.IsRow of value i.
func (r *Rows) IsRow(i int) bool { return r.row(i).position&(isMissing|isSetAside) != isMissing }

// IsMissing reports whether value i is an empty cell.
func (r *Rows) IsMissing(i int) bool { return r.row(i).missing() }

// IsSetAside reports whether value i is set aside.
func (r *Rows) IsSetAside(i int) bool { return r.row(i).setAside() }

// take appends value i of another list to one that holds all of its store.
func (r *Rows) take(from *Rows, i int) {
	if r.store.words == from.store.words {
		r.store.copy(from.store, from.number(i))
		return
	}
	r.Append(from.At(i))
}

// Lines is the first value of each line that values stand in.
func (r *Rows) Lines() *Rows {
	var places []uint32
	var last RowLine
	var seen *pieces.Numbers[RowLine] // nil as long as lines ascend
	for i := range r.Len() {
		at := r.line(i)
		if i > 0 && at == last {
			continue
		}
		if i > 0 && seen == nil && at.Compare(last) < 0 {
			seen = &pieces.Numbers[RowLine]{}
			for _, k := range places {
				seen.Of(r.line(int(k)))
			}
		}
		if last = at; seen != nil {
			if n := seen.Len(); int(seen.Of(at)) < n {
				continue
			}
		}
		places = append(places, uint32(i))
	}
	if len(places) == r.Len() {
		return r
	}
	return r.Pick(places)
}

// line is the line that value i stands in: equal for those of one line.
func (r *Rows) line(i int) RowLine {
	of := r.row(i)
	return RowLine{r.store.words.sittings.At(int(of.sitting)).source, of.line}
}

// HasRun reports whether a value is a valid run.
func (r *Rows) HasRun() bool {
	for i := range r.Len() {
		if r.row(i).counts() {
			return true
		}
	}
	return false
}

// Blocked reports whether a value is of a block.
func (r *Rows) Blocked() bool {
	for i := range r.Len() {
		if r.store.words.sittings.At(int(r.row(i).sitting)).block > 0 {
			return true
		}
	}
	return false
}

// RowKeys tells which rows of two lists say the same.
type RowKeys struct {
	lists    [2]*Rows
	sittings []uint32 // by the number of a sitting: the first one with its machine, session and block
	metrics  []uint32 // by the number of a metric: the first one that is the same under any profile
}

// RowKey is everything that a row says, but for its profile and where it stands: equal
// for the rows of both lists that say the same. The reason is that of a row that is set
// aside.
type RowKey struct {
	value                    float64
	metric, sitting, run     uint32
	missing, setAside, timed bool
	time                     int64
	reason, reduced          uint32
}

// KeysOf prepares two lists for comparing. Where they do not hold their names together,
// the second one is copied.
func KeysOf(a, b *Rows) *RowKeys {
	k := &RowKeys{lists: [2]*Rows{a, b}}
	if a.Len() > 0 && b.Len() > 0 && a.store.words != b.store.words {
		k.lists[1] = a.Alike()
		for _, v := range b.All() {
			k.lists[1].Append(v)
		}
	}
	return k
}

// number finds out which sittings and metrics are the same, when a key is first asked
// for: lists that differ by new rows alone need none.
func (k *RowKeys) number() {
	of := k.lists[0]
	if of.Len() == 0 {
		of = k.lists[1]
	}
	w := of.store.words
	var sittings pieces.Numbers[sitting]
	k.sittings = make([]uint32, w.sittings.Len())
	for i, at := range w.sittings.All() {
		k.sittings[i] = sittings.Of(sitting{at.machine, at.session, at.block, 0})
	}
	var metrics pieces.Numbers[metricWords]
	k.metrics = make([]uint32, w.metrics.Len())
	for i, m := range w.metrics.All() {
		of := *m
		if of.profile = ""; of.metric == "" {
			of.metric = DefaultMetric
		}
		k.metrics[i] = metrics.Of(of)
	}
}

// Of is the key of row i of the first list, 0, or the second, 1.
func (k *RowKeys) Of(list, i int) RowKey {
	if k.sittings == nil {
		k.number()
	}
	l := k.lists[list]
	r := l.row(i)
	key := RowKey{value: r.value, metric: k.metrics[r.metric], sitting: k.sittings[r.sitting], run: r.run, missing: r.missing(),
		setAside: r.setAside(), timed: r.position&isTimed != 0}
	if key.missing {
		key.value = 0
	}
	if r.extra > 0 {
		e := l.store.extras.At(int(r.extra - 1))
		if key.time, key.reduced = e.time, e.reduced; key.setAside {
			key.reason = e.reason
		}
	}
	return key
}

// Measured is the row without its judgement: a row that is set aside later is still
// the same measurement.
func (k RowKey) Measured() RowKey {
	k.setAside, k.reason = false, 0
	return k
}

// IsMissing reports an empty cell.
func (k RowKey) IsMissing() bool { return k.missing }

// IsSetAside reports a row that is set aside.
func (k RowKey) IsSetAside() bool { return k.setAside }

// IsRow is Value.IsRow.
func (k RowKey) IsRow() bool { return !k.missing || k.setAside }

// Labels is the row without what was measured: machine, session, block, run and time.
func (k RowKey) Labels() RowKey {
	return RowKey{sitting: k.sitting, run: k.run, timed: k.timed, time: k.time}
}

// Line is the line that row i of a list stands in: equal for rows of one line.
func (k *RowKeys) Line(list, i int) RowLine { return k.lists[list].line(i) }

// RowLine is a line of a file, or a row of a sheet.
type RowLine struct{ source, line uint32 }

// Compare orders lines: -1, 0 or 1.
func (l RowLine) Compare(other RowLine) int {
	return cmp.Or(cmp.Compare(l.source, other.source), cmp.Compare(l.line, other.line))
}

// IsKnown is false for the line of values that stand in no file.
func (l RowLine) IsKnown() bool { return l.line > 0 }
