package gate

import (
	"cmp"
	"encoding/binary"
	"slices"

	"tunegate/compare"
)

// rowKey is everything that a row says, but not where it stands: a row that
// moved within a file or between files is the same row.
type rowKey struct {
	benchmark, metric, unit, better, machine, session, block, run, time string
	value                                                               float64
	missing, setAside                                                   bool
	reason                                                              string
	reduced                                                             compare.Reduction
}

func keyOf(v compare.Value) rowKey {
	metric := v.Metric
	if metric == "" {
		metric = compare.DefaultMetric
	}
	k := rowKey{benchmark: v.Benchmark, metric: metric, unit: v.Unit, better: string(v.Better), machine: v.Machine, session: v.Session,
		block: v.Block, run: v.Run, value: v.Value, missing: v.Missing, setAside: v.SetAside}
	if v.SetAside {
		k.reason = v.Reason
	}
	if v.Missing {
		k.value = 0
	}
	if v.Reduced != nil {
		k.reduced = *v.Reduced
	}
	if !v.Time.IsZero() {
		k.time = v.Time.UTC().Format("2006-01-02T15:04:05.999999999Z")
	}
	return k
}

// measured is the row without its judgement: a row that is set aside later is
// still the same measurement.
func (k rowKey) measured() rowKey {
	k.setAside, k.reason = false, ""
	return k
}

// RowChange is how the rows of a profile differ between two snapshots. Empty
// cells, runs not made yet, count as no rows.
type RowChange struct {
	Added    []compare.Value
	Gone     []compare.Value     // removed or altered, as the base has them
	SetAside []compare.Value     // in both, set aside since
	Restored []compare.Value     // in both, no longer set aside
	Both     [][2]*compare.Value // what is in both, as the base and as the head have it
}

// ChangeOfRows compares the rows of two states as multisets: a row is known by
// what it says, not by where it stands.
func ChangeOfRows(base, head []compare.Value) RowChange {
	var c RowChange
	m := rowMatch{base: base, head: head, inBase: make([]bool, len(base)), inHead: make([]bool, len(head))}
	c.Both = slices.Concat(m.inOrder(), m.match(keyOf))
	for _, pair := range m.match(func(v compare.Value) rowKey { return keyOf(v).measured() }) {
		c.Both = append(c.Both, pair)
		if pair[1].SetAside {
			c.SetAside = append(c.SetAside, *pair[1])
		} else {
			c.Restored = append(c.Restored, *pair[1])
		}
	}
	// A row of a wide file that is set aside, or no longer, takes its empty
	// cells along: they are neither new nor gone.
	inBase, inHead := map[compare.Place]bool{}, map[compare.Place]bool{}
	if slices.ContainsFunc(base, isMissing) || slices.ContainsFunc(head, isMissing) {
		for _, b := range c.Both {
			inBase[b[0].Line()], inHead[b[1].Line()] = true, true
		}
	}
	for i, v := range base {
		if v.IsRow() && !m.inBase[i] && !(v.Missing && inBase[v.Line()]) {
			c.Gone = append(c.Gone, v)
		}
	}
	for i, v := range head {
		if v.IsRow() && !m.inHead[i] && !(v.Missing && inHead[v.Line()]) {
			c.Added = append(c.Added, v)
		}
	}
	return c
}

func isMissing(v compare.Value) bool { return v.Missing }

// rowMatch finds the values that two states have in common, as multisets.
type rowMatch struct {
	base, head     []compare.Value
	inBase, inHead []bool // matched so far
}

// inOrder pairs the lines that both begin with, and those that both end with, so that
// rows which are there as they were cost no search.
func (m *rowMatch) inOrder() (pairs [][2]*compare.Value) {
	lines := func(rows []compare.Value, at, step int) bool { // whether a line ends before the row, or behind it
		next := at + step
		return next < 0 || next == len(rows) || at < 0 || at == len(rows) || rows[at].At.Line == 0 || rows[next].Line() != rows[at].Line()
	}
	run := func(b, h, step, most int) int { // how many rows are equal from there on, whole lines only
		n, whole := 0, 0
		for n < most {
			x, y := m.base[b+n*step], m.head[h+n*step]
			if !x.IsRow() || !y.IsRow() || keyOf(x) != keyOf(y) {
				break
			}
			n++
			last, other := lines(m.base, b+(n-1)*step, step), lines(m.head, h+(n-1)*step, step)
			if last != other {
				break
			}
			if last {
				whole = n
			}
		}
		return whole
	}
	first := run(0, 0, 1, min(len(m.base), len(m.head)))
	last := run(len(m.base)-1, len(m.head)-1, -1, min(len(m.base), len(m.head))-first)
	for k := range first + last {
		b, h := k, k
		if k >= first {
			b, h = len(m.base)-last+k-first, len(m.head)-last+k-first
		}
		m.inBase[b], m.inHead[h] = true, true
		pairs = append(pairs, [2]*compare.Value{&m.base[b], &m.head[h]})
	}
	return pairs
}

// match pairs what has no partner yet and equal keys, in the order of the head.
// Lines that are equal as a whole come first, so that a wide row is not taken
// apart for the sake of a coarse reading that it shares with others.
func (m *rowMatch) match(key func(compare.Value) rowKey) [][2]*compare.Value {
	partner := map[int]int{} // of the head, in the base
	join := func(h, b int) { m.inHead[h], m.inBase[b], partner[h] = true, true, b }

	ids := map[rowKey]int{}
	_, baseLines := openLines(m.base, m.inBase, key, ids)
	order, headLines := openLines(m.head, m.inHead, key, ids)
	byContent := map[string][]rowLine{}
	for _, l := range baseLines {
		byContent[l.content] = append(byContent[l.content], *l)
	}
	for _, same := range byContent {
		slices.SortFunc(same, func(a, b rowLine) int { return a.values[0] - b.values[0] })
	}
	for _, at := range order {
		l := headLines[at]
		if same := byContent[l.content]; len(same) > 0 {
			for k, h := range l.values {
				join(h, same[0].values[k])
			}
			byContent[l.content] = same[1:]
		}
	}

	open := map[rowKey][]int{}
	for i, v := range m.base {
		if v.IsRow() && !m.inBase[i] {
			open[key(v)] = append(open[key(v)], i)
		}
	}
	for i, v := range m.head {
		if !v.IsRow() || m.inHead[i] {
			continue
		}
		if same := open[key(v)]; len(same) > 0 {
			join(i, same[0])
			open[key(v)] = same[1:]
		}
	}
	var pairs [][2]*compare.Value
	for i := range m.head {
		if b, ok := partner[i]; ok {
			pairs = append(pairs, [2]*compare.Value{&m.base[b], &m.head[i]})
		}
	}
	return pairs
}

// rowLine is the values of one line, and its content: the numbers of their keys.
type rowLine struct {
	values  []int
	content string
}

// openLines groups the values that have no partner yet by the lines that they
// stand in, and numbers their keys. Values without a place have a line each.
func openLines(values []compare.Value, matched []bool, key func(compare.Value) rowKey, ids map[rowKey]int) (
	order []compare.Place, lines map[compare.Place]*rowLine) {
	number := make([]int, len(values))
	lines = map[compare.Place]*rowLine{}
	for i, v := range values {
		if !v.IsRow() || matched[i] {
			continue
		}
		at := v.Line()
		if at.Line == 0 {
			at.Line = -1 - i
		}
		if lines[at] == nil {
			lines[at] = &rowLine{}
			order = append(order, at)
		}
		lines[at].values = append(lines[at].values, i)
		k := key(v)
		if _, known := ids[k]; !known {
			ids[k] = len(ids)
		}
		number[i] = ids[k]
	}
	for _, l := range lines {
		slices.SortFunc(l.values, func(a, b int) int { return cmp.Or(number[a]-number[b], a-b) })
		var content []byte
		for _, i := range l.values {
			content = binary.AppendUvarint(content, uint64(number[i]))
		}
		l.content = string(content)
	}
	return order, lines
}

// StillThere finds the rows that were measured before the settings changed and
// are there afterwards, by whole lines of the base. Two runs may read the same
// by chance, coarse ones often do. So they are old for certain only where the
// new rows have labels of their own, which these lack, or where at least half
// of the old lines are there; else they are taken for new ones, as are single
// equal values in lines that differ.
func (c RowChange) StillThere(base []compare.Value) (old, byChance, single []compare.Value) {
	type label struct{ machine, session, block, run, time string }
	labelOf := func(v compare.Value) label { k := keyOf(v); return label{k.machine, k.session, k.block, k.run, k.time} }
	total, found := map[compare.Place]int{}, map[compare.Place]int{}
	used := map[label]bool{}
	for _, v := range base {
		if v.IsRow() {
			total[v.Line()]++
			used[labelOf(v)] = labelOf(v) != label{}
		}
	}
	for _, b := range c.Both {
		found[b[0].Line()]++
	}
	whole := 0
	for line, n := range found {
		if n == total[line] {
			whole++
		}
	}
	ownLabels := true
	for _, v := range c.Added {
		ownLabels = ownLabels && !used[labelOf(v)]
	}
	for _, b := range c.Both {
		switch {
		case found[b[0].Line()] < total[b[0].Line()]:
			single = append(single, *b[1])
		case ownLabels && labelOf(*b[1]) != label{} || 2*whole >= len(total):
			old = append(old, *b[1])
		default:
			byChance = append(byChance, *b[1])
		}
	}
	return old, byChance, single
}

// rowOf is an observation of a series as the row that it was read from.
func rowOf(s *compare.Series, o compare.Observation) compare.Value {
	return compare.Value{Profile: s.Profile, Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Machine: o.Machine,
		Session: o.Session, Run: o.Run, Value: o.Value, Missing: o.Missing, SetAside: o.SetAside, Reason: o.Reason, At: o.At}
}
