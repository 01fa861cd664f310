package gate

import (
	"cmp"
	"encoding/binary"
	"hash/maphash"
	"iter"
	"maps"
	"slices"

	"tunegate/compare"
)

// RowChange is how the rows of a profile differ between two snapshots. Empty
// cells, runs not made yet, count as no rows.
type RowChange struct {
	Added    *compare.Rows
	Gone     *compare.Rows // removed or altered, as the base has them
	SetAside *compare.Rows // in both, set aside since
	Restored *compare.Rows // in both, no longer set aside
	Both     []RowPair     // what is in both
	// GoneAt and AddedAt are the places of Gone in base, and of Added in head.
	GoneAt, AddedAt []uint32

	keys       *compare.RowKeys
	base, head *compare.Rows
}

// RowPair is a row that two states have: its places in the lists of base and head.
type RowPair struct{ Base, Head uint32 }

// The lists of a compare.RowKeys.
const (
	inBase = iota
	inHead
)

// ChangeOfRows compares the rows of two states as multisets: a row is known by
// what it says, not by where it stands, see compare.RowKey.
func ChangeOfRows(base, head *compare.Rows) RowChange {
	m := rowMatch{keys: compare.KeysOf(base, head), rows: [2]*compare.Rows{base, head}, lengths: [2]int{base.Len(), head.Len()}}
	for list, n := range m.lengths {
		m.matched[list] = make([]bool, n)
	}
	c := RowChange{keys: m.keys, base: base, head: head}
	c.Both = append(m.inOrder(), m.match(func(k compare.RowKey) compare.RowKey { return k })...)
	var setAside, restored []uint32
	if m.any((*compare.Rows).IsSetAside) {
		for _, pair := range m.match(compare.RowKey.Measured) {
			c.Both = append(c.Both, pair)
			if m.keys.Of(inHead, int(pair.Head)).IsSetAside() {
				setAside = append(setAside, pair.Head)
			} else {
				restored = append(restored, pair.Head)
			}
		}
	}
	c.SetAside, c.Restored = head.Pick(setAside), head.Pick(restored)
	// A row of a wide file that is set aside, or no longer, takes its empty
	// cells along: they are neither new nor gone.
	var lines [2]map[compare.RowLine]bool
	if m.any((*compare.Rows).IsMissing) {
		for list := range lines {
			lines[list] = map[compare.RowLine]bool{}
			for _, b := range c.Both {
				lines[list][m.keys.Line(list, int([2]uint32{b.Base, b.Head}[list]))] = true
			}
		}
	}
	left := func(list int) (places []uint32) {
		for i := range m.lengths[list] {
			if rows := m.rows[list]; !m.matched[list][i] && rows.IsRow(i) && !(rows.IsMissing(i) && lines[list][m.keys.Line(list, i)]) {
				places = append(places, uint32(i))
			}
		}
		return places
	}
	c.GoneAt, c.AddedAt = left(inBase), left(inHead)
	c.Gone, c.Added = base.Pick(c.GoneAt), head.Pick(c.AddedAt)
	return c
}

// rowMatch finds the values that two states have in common, as multisets.
type rowMatch struct {
	keys    *compare.RowKeys
	rows    [2]*compare.Rows
	lengths [2]int
	matched [2][]bool // so far
}

// any reports whether some value without a partner is so.
func (m *rowMatch) any(is func(*compare.Rows, int) bool) bool {
	for list, rows := range m.rows {
		for i, matched := range m.matched[list] {
			if !matched && is(rows, i) {
				return true
			}
		}
	}
	return false
}

// inOrder pairs the lines that both begin with, and those that both end with, so that
// rows which are there as they were cost no search.
func (m *rowMatch) inOrder() (pairs []RowPair) {
	lines := func(list, at, step int) bool { // whether a line ends before the row, or behind it
		next := at + step
		if next < 0 || next == m.lengths[list] || at < 0 || at == m.lengths[list] {
			return true
		}
		line := m.keys.Line(list, at)
		return !line.IsKnown() || m.keys.Line(list, next) != line
	}
	equal := func(b, h int) bool {
		return m.rows[inBase].IsRow(b) && m.rows[inHead].IsRow(h) && m.keys.Of(inBase, b) == m.keys.Of(inHead, h)
	}
	// What both begin with is mostly the same, and needs no keys.
	same := compare.SameStart(m.rows[inBase], m.rows[inHead])
	for i := range same {
		if !m.rows[inBase].IsRow(i) {
			same = i
			break
		}
	}
	run := func(b, h, step, most, same int) int { // how many rows are equal from there on, whole lines only
		n, whole := max(0, same-1), 0
		for k := n - 1; k >= 0 && whole == 0; k-- { // the last line that ends before
			if lines(inBase, b+k*step, step) {
				whole = k + 1
			}
		}
		for n < most {
			if n >= same && !equal(b+n*step, h+n*step) {
				break
			}
			n++
			last, other := lines(inBase, b+(n-1)*step, step), lines(inHead, h+(n-1)*step, step)
			if last != other {
				break
			}
			if last {
				whole = n
			}
		}
		return whole
	}
	base, head := m.lengths[inBase], m.lengths[inHead]
	first := run(0, 0, 1, min(base, head), same)
	last := run(base-1, head-1, -1, min(base, head)-first, 0)
	pairs = make([]RowPair, 0, first+last)
	for k := range first + last {
		b, h := k, k
		if k >= first {
			b, h = base-last+k-first, head-last+k-first
		}
		m.matched[inBase][b], m.matched[inHead][h] = true, true
		pairs = append(pairs, RowPair{uint32(b), uint32(h)})
	}
	return pairs
}

// match pairs what has no partner yet and equal keys, in the order of the head.
// Lines that are equal as a whole come first, so that a wide row is not taken
// apart for the sake of a coarse reading that it shares with others.
func (m *rowMatch) match(key func(compare.RowKey) compare.RowKey) (pairs []RowPair) {
	open := m.open(key)
	if len(open[inHead]) == 0 {
		return nil
	}
	partner := map[int]int{} // of the head, in the base
	join := func(h, b int) { m.matched[inHead][h], m.matched[inBase][b], partner[h] = true, true, b }

	numbers := map[compare.RowKey]int{}
	_, baseLines := m.lines(inBase, open[inBase], key, numbers)
	order, headLines := m.lines(inHead, open[inHead], key, numbers)
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

	single := map[compare.RowKey][]int{}
	for _, i := range open[inBase] {
		if !m.matched[inBase][i] {
			k := key(m.keys.Of(inBase, i))
			single[k] = append(single[k], i)
		}
	}
	for _, i := range open[inHead] {
		if m.matched[inHead][i] {
			continue
		}
		k := key(m.keys.Of(inHead, i))
		if same := single[k]; len(same) > 0 {
			join(i, same[0])
			single[k] = same[1:]
		}
	}
	for _, h := range open[inHead] {
		if b, ok := partner[h]; ok {
			pairs = append(pairs, RowPair{uint32(b), uint32(h)})
		}
	}
	return pairs
}

// open lists the rows without a partner whose keys the other list may have as well, by
// the hashes of keys: where all runs were measured anew, nothing is left of them.
func (m *rowMatch) open(key func(compare.RowKey) compare.RowKey) (open [2][]int) {
	seed := maphash.MakeSeed()
	var hashes [2][]uint64
	for list := range hashes {
		for _, k := range m.unmatched(list) {
			hashes[list] = append(hashes[list], maphash.Comparable(seed, key(k)))
		}
		if len(hashes[list]) == 0 {
			return open
		}
		slices.Sort(hashes[list])
	}
	for list := range open {
		for i, k := range m.unmatched(list) {
			if _, there := slices.BinarySearch(hashes[1-list], maphash.Comparable(seed, key(k))); there {
				open[list] = append(open[list], i)
			}
		}
	}
	return open
}

// unmatched goes through the rows without a partner.
func (m *rowMatch) unmatched(list int) iter.Seq2[int, compare.RowKey] {
	return func(yield func(int, compare.RowKey) bool) {
		for i, matched := range m.matched[list] {
			if !matched && m.rows[list].IsRow(i) && !yield(i, m.keys.Of(list, i)) {
				return
			}
		}
	}
}

// rowPlace is a line, or a row that stands in none.
type rowPlace struct {
	line compare.RowLine
	row  int
}

func (m *rowMatch) place(list, i int) rowPlace {
	if line := m.keys.Line(list, i); line.IsKnown() {
		return rowPlace{line, 0}
	}
	return rowPlace{compare.RowLine{}, i}
}

// rowLine is the values of one line, and its content: the numbers of their keys.
type rowLine struct {
	values  []int
	content string
}

// lines groups values by the lines that they stand in, and numbers their keys. Values
// without a place have a line each. A line that holds others, too, is left out: no
// line of the other list has those.
func (m *rowMatch) lines(list int, open []int, key func(compare.RowKey) compare.RowKey, numbers map[compare.RowKey]int) (
	order []rowPlace, lines map[rowPlace]*rowLine) {
	lines = map[rowPlace]*rowLine{}
	number := map[int]int{}
	for _, i := range open {
		at := m.place(list, i)
		if lines[at] == nil {
			lines[at] = &rowLine{}
			order = append(order, at)
		}
		lines[at].values = append(lines[at].values, i)
		k := key(m.keys.Of(list, i))
		if _, known := numbers[k]; !known {
			numbers[k] = len(numbers)
		}
		number[i] = numbers[k]
	}
	values := map[rowPlace]int{}
	for i := range m.unmatched(list) {
		if at := m.place(list, i); lines[at] != nil {
			values[at]++
		}
	}
	maps.DeleteFunc(lines, func(at rowPlace, l *rowLine) bool { return len(l.values) < values[at] })
	order = slices.DeleteFunc(order, func(at rowPlace) bool { return lines[at] == nil })
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
func (c RowChange) StillThere() (old, byChance, single *compare.Rows) {
	if len(c.Both) == 0 {
		return nil, nil, nil
	}
	total, found := map[compare.RowLine]int{}, map[compare.RowLine]int{}
	used, none := map[compare.RowKey]bool{}, compare.RowKey{}
	for i := range c.base.Len() {
		if k := c.keys.Of(inBase, i); k.IsRow() {
			total[c.keys.Line(inBase, i)]++
			used[k.Labels()] = k.Labels() != none
		}
	}
	lineOf := func(b RowPair) compare.RowLine { return c.keys.Line(inBase, int(b.Base)) }
	for _, b := range c.Both {
		found[lineOf(b)]++
	}
	whole := 0
	for line, n := range found {
		if n == total[line] {
			whole++
		}
	}
	ownLabels := !slices.ContainsFunc(c.AddedAt, func(at uint32) bool { return used[c.keys.Of(inHead, int(at)).Labels()] })
	var places [3][]uint32
	for _, b := range c.Both {
		kind := 1
		switch {
		case found[lineOf(b)] < total[lineOf(b)]:
			kind = 2
		case ownLabels && c.keys.Of(inHead, int(b.Head)).Labels() != none || 2*whole >= len(total):
			kind = 0
		}
		places[kind] = append(places[kind], b.Head)
	}
	return c.head.Pick(places[0]), c.head.Pick(places[1]), c.head.Pick(places[2])
}
