package gate

import (
	"cmp"
	"encoding/binary"
	"hash/maphash"
	"iter"
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/compare/internal/pieces"
)

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
// apart for the sake of a coarse reading that it shares with others. What is looked
// for is sorted, since maps of many rows take more memory than the rows.
func (m *rowMatch) match(key func(compare.RowKey) compare.RowKey) (pairs []RowPair) {
	open := m.open(key)
	if len(open[inHead]) == 0 {
		return nil
	}
	const none = math.MaxUint32
	partner := slices.Repeat([]uint32{none}, len(open[inHead])) // rows of the base
	join := func(b, h uint32) {                                 // places in open
		partner[h] = open[inBase][b]
		m.matched[inBase][open[inBase][b]], m.matched[inHead][open[inHead][h]] = true, true
	}
	var keys pieces.Numbers[compare.RowKey]
	var contents pieces.Numbers[string]
	var numbers [2][]uint32
	var lines [2][]openLine
	var values [2][]uint32
	for list := range lines {
		numbers[list] = make([]uint32, len(open[list]))
		for k, i := range open[list] {
			numbers[list][k] = keys.Of(key(m.keys.Of(list, int(i))))
		}
		values[list], lines[list] = m.lines(list, open[list], numbers[list], &contents)
	}
	inStep(lines[inBase], lines[inHead], func(_ int, l openLine) uint64 { return l.content }, func(b, h openLine) {
		for k := range b.n {
			join(values[inBase][b.from+k], values[inHead][h.from+k])
		}
	})

	var single [2][]uint32
	for list := range single {
		for k, i := range open[list] {
			if !m.matched[list][i] {
				single[list] = append(single[list], uint32(k))
			}
		}
		sortBy(single[list], numbers[list])
	}
	inStep(single[inBase], single[inHead], func(list int, k uint32) uint64 { return uint64(numbers[list][k]) }, join)
	for k, b := range partner {
		if b != none {
			pairs = append(pairs, RowPair{b, open[inHead][k]})
		}
	}
	return pairs
}

// inStep visits pairs of two lists that ascend by a number: the k-th with a number in
// the one and the k-th with it in the other.
func inStep[T any](base, head []T, number func(list int, x T) uint64, visit func(b, h T)) {
	for len(base) > 0 && len(head) > 0 {
		switch c := cmp.Compare(number(inBase, base[0]), number(inHead, head[0])); {
		case c < 0:
			base = base[1:]
		case c > 0:
			head = head[1:]
		default:
			visit(base[0], head[0])
			base, head = base[1:], head[1:]
		}
	}
}

// open lists the rows without a partner whose keys the other list may have as well, by
// the hashes of keys: where all runs were measured anew, nothing is left of them.
func (m *rowMatch) open(key func(compare.RowKey) compare.RowKey) (open [2][]uint32) {
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
				open[list] = append(open[list], uint32(i))
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

// sortBy sorts places by their numbers, and those of one number by themselves.
func sortBy(places, numbers []uint32) {
	slices.SortFunc(places, func(a, b uint32) int { return cmp.Or(cmp.Compare(numbers[a], numbers[b]), cmp.Compare(a, b)) })
}

// openLine is the open values of one line, n of a list from one place on, and what the
// line holds.
type openLine struct {
	from, n uint32
	first   uint32 // of the values, as they are listed
	content uint64 // equal for equal numbers
}

// lines groups the open values by the lines that they stand in, and there by their
// numbers, and sorts the lines by content, those of one content in the order of the list.
// Values without a place have a line each. A line that holds others, too, is left out: no
// line of the other list has those.
func (m *rowMatch) lines(list int, open, numbers []uint32, contents *pieces.Numbers[string]) (values []uint32, lines []openLine) {
	lineOf := func(k uint32) compare.RowLine { return m.keys.Line(list, int(open[k])) }
	values = make([]uint32, len(open))
	for k := range values {
		values[k] = uint32(k)
	}
	slices.SortFunc(values, func(a, b uint32) int { return cmp.Or(lineOf(a).Compare(lineOf(b)), cmp.Compare(a, b)) })
	more := m.withOthers(list, open)
	for from, to := 0, 0; from < len(values); from = to {
		line := lineOf(values[from])
		for to = from + 1; to < len(values) && line.IsKnown() && lineOf(values[to]) == line; {
			to++
		}
		if _, others := slices.BinarySearchFunc(more, line, compare.RowLine.Compare); others {
			continue
		}
		first := values[from]
		l := openLine{uint32(from), uint32(to - from), first, uint64(numbers[first])}
		if l.n > 1 {
			sortBy(values[from:to], numbers)
			var text []byte
			for _, k := range values[from:to] {
				text = binary.AppendUvarint(text, uint64(numbers[k]))
			}
			l.content = 1<<32 | uint64(contents.Of(string(text)))
		}
		lines = append(lines, l)
	}
	slices.SortFunc(lines, func(a, b openLine) int {
		return cmp.Or(cmp.Compare(a.content, b.content), cmp.Compare(a.first, b.first))
	})
	return values, lines
}

// withOthers lists the lines of rows without a partner that are not open, ascending.
func (m *rowMatch) withOthers(list int, open []uint32) (lines []compare.RowLine) {
	for i := range m.unmatched(list) {
		if len(open) > 0 && int(open[0]) == i {
			open = open[1:]
		} else if line := m.keys.Line(list, i); line.IsKnown() {
			lines = append(lines, line)
		}
	}
	slices.SortFunc(lines, compare.RowLine.Compare)
	return lines
}
