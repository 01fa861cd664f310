package gate

import (
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
