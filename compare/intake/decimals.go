package intake

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"tunegate/compare"
	"tunegate/compare/internal/pattern"
)

// decimals reads the numbers of a file, and holds it to one decimal mark. Where a
// comma may be that mark, one mark before three digits may be either: 1.002 is 1002
// or a little more than one. What the file proves decides, else the number is
// refused.
type decimals struct {
	comma bool // a comma may be the decimal mark
	mark  proof
	group proof // the mark between thousands
	doubt proof // the first number whose mark may be either
	first map[compare.MetricID]*metricMarks
	times times
}

// times counts the times that were read, and how many of them are whole minutes of an
// hour or more: where all are, minutes and seconds were typed, and taken for hours and
// minutes.
type times struct {
	n, whole int
	at       compare.Place
	cell     string
}

func (c *times) add(seconds float64, cell string, at compare.Place) {
	if c.n++; seconds >= 3600 && math.Mod(seconds, 60) == 0 {
		if c.whole++; c.whole == 1 {
			c.at, c.cell = at, strings.Clone(cell)
		}
	}
}

func (c *times) fault() error {
	if c.n < 2 || c.whole < c.n {
		return nil
	}
	return placed(c.at, "found the time %s, and no time here has seconds: spreadsheet programs take 6:52 for 6 hours and 52 minutes; where "+
		"minutes and seconds are meant, divide the cells by 60 and format them as [h]:mm:ss, else write them as numbers, with their unit min",
		excerpt(c.cell))
}

// proof is a mark with the number that shows it.
type proof struct {
	mark byte
	at   compare.Place
	cell string
}

// metricMarks are the first number of a metric without a mark, and the last whose
// mark may be either, each with its value; that of the second is the larger one.
type metricMarks struct {
	plain, doubt   proof
	value, grouped float64
}

// isOpen reports whether the mark may stand between thousands: where the number is so
// large then that it is no slip beside the one without a mark.
func (m *metricMarks) isOpen() bool {
	return m.plain.cell != "" && m.doubt.cell != "" && m.grouped < slipFactor*m.value && m.grouped > m.value/slipFactor
}

var unitBehind = pattern.Lazy(`^([+-]?[0-9.,:'’\x{a0}\x{202f}\x{2009}\x{2007} ]*[0-9.,](?:[eE][+-]?[0-9]+)?)` +
	`[\s\x{a0}\x{202f}]*([\pL%°º].*)$`)

// inMinutes is a time with its units between the numbers: 1 h 6 min 52,3 s, 6m52s.
var inMinutes = pattern.Lazy(`(?i)^(?:([0-9]+) ?h(?:rs?|\.)? ?)?([0-9]+) ?(?:min|mn|m|')\.? ?` +
	`([0-9]+(?:[.,][0-9]+)?) ?(?:sec|sek|s|"|'')\.?$`)

// clockOf writes such a time with colons.
func clockOf(m []string) string {
	seconds := m[3]
	if i := strings.IndexAny(seconds+".", ".,"); i == 1 {
		seconds = "0" + seconds
	}
	if m[1] == "" {
		return m[2] + ":" + seconds
	}
	if len(m[2]) == 1 {
		m[2] = "0" + m[2]
	}
	return m[1] + ":" + m[2] + ":" + seconds
}

// read reads a cell without outer white space: a number, also with a known unit
// behind it and with marks between thousands that are beyond doubt.
func (d *decimals) read(cell string) (number, error) {
	n, err := parseNumber(cell, d.comma)
	if err == nil {
		n.doubt = d.comma && n.mark != 0 && !n.clock && mayGroup(cell, n.mark)
		return n, nil
	}
	if m := inMinutes().FindStringSubmatch(cell); m != nil && d.comma || m != nil && !strings.Contains(cell, ",") {
		if n, err := parseClock(clockOf(m), d.comma); err == nil {
			return n, nil
		}
	}
	if m := unitBehind().FindStringSubmatch(cell); m != nil {
		if unit, known := knownUnit(m[2]); known {
			if n, inner := d.read(m[1]); inner == nil && n.unit == "" {
				n.unit = unit
				return n, nil
			}
		}
		return number{}, err
	}
	plain, mark, group := ungroup(cell)
	if group == 0 {
		return number{}, err
	}
	n, inner := parseNumber(plain, false)
	if inner != nil {
		return number{}, err
	}
	n.mark, n.grouped = mark, group
	if mark == 0 && group == ',' && strings.Count(cell, ",") == 1 {
		n.doubt = true // a comma where it cannot be the decimal mark, or so it seems
	}
	return n, nil
}

// provesComma reports whether a number has a comma that cannot stand between thousands.
func provesComma(cell string) bool {
	n, err := parseNumber(cell, true)
	return err == nil && n.mark == ',' && !n.clock && !mayGroup(cell, ',')
}

// mayGroup reports whether the one mark in a number may stand between thousands: up to
// three digits before it, not beginning with 0, and three behind it.
func mayGroup(cell string, mark byte) bool {
	cell = strings.TrimLeft(cell, "+-")
	i := strings.IndexByte(cell, mark)
	return i >= 1 && i <= 3 && cell[0] != '0' && len(cell) == i+4 && !strings.ContainsAny(cell, "eE")
}

// ungroup takes the marks between thousands out of a number: one to three digits, then
// groups of three with the same mark before each, then perhaps another mark and
// decimals. plain has a decimal point. group is 0 where it is no such number, and ' '
// for any space.
func ungroup(cell string) (plain string, mark, group byte) {
	var b strings.Builder
	if cell != "" && strings.IndexByte("+-", cell[0]) >= 0 {
		b.WriteByte(cell[0])
		cell = cell[1:]
	}
	digits := func() int {
		n := 0
		for n < len(cell) && cell[n] >= '0' && cell[n] <= '9' {
			n++
		}
		b.WriteString(cell[:n])
		cell = cell[n:]
		return n
	}
	if n := digits(); n < 1 || n > 3 {
		return "", 0, 0
	}
	for cell != "" {
		found, size := markAt(cell)
		if found == 0 {
			return "", 0, 0
		}
		cell = cell[size:]
		if group == 0 || found == group {
			group = found
			if digits() != 3 {
				return "", 0, 0
			}
			continue
		}
		if found != '.' && found != ',' {
			return "", 0, 0
		}
		b.WriteByte('.')
		if digits() == 0 || cell != "" {
			return "", 0, 0
		}
		mark = found
	}
	return b.String(), mark, group
}

// markAt is the mark that a text begins with, and its size: ' ' for any space, and
// one for all apostrophes.
func markAt(s string) (mark byte, size int) {
	r, size := utf8.DecodeRuneInString(s)
	switch {
	case r == '.' || r == ',':
		return byte(r), size
	case r == '\'' || r == '’':
		return '\'', size
	case unicode.IsSpace(r) && r != '\n' && r != '\r' || r == '\u2007' || r == '\u202f':
		return ' ', size
	}
	return 0, 0
}

// learn takes what a number proves about marks, where nothing is proven yet.
func (d *decimals) learn(n number, cell string, at compare.Place) {
	if n.doubt {
		return
	}
	if n.mark != 0 && d.mark.mark == 0 {
		d.mark = proof{n.mark, at, strings.Clone(cell)}
	}
	if (n.grouped == '.' || n.grouped == ',') && d.group.mark == 0 {
		d.group = proof{n.grouped, at, strings.Clone(cell)}
	}
}

// plain reads a number that is beyond doubt by itself: one with the mark that is proven,
// or with a point where a comma cannot be the mark.
func (d *decimals) plain(cell string, at compare.Place) (float64, bool) {
	mark := d.mark.mark
	if !d.comma {
		mark = '.'
	} else if mark == 0 {
		return 0, false
	}
	value, decimals, ok := plainDecimal(cell, mark)
	switch {
	case !ok || d.comma && decimals == 3 && mayGroup(cell, mark):
		return 0, false
	case decimals >= 0 && d.mark.mark == 0:
		d.learn(number{mark: mark}, cell, at)
	}
	return value, true
}

// isSettled reports whether a number says nothing new about marks.
func (d *decimals) isSettled(n number) bool {
	return !n.doubt && n.grouped == 0 && (n.mark == 0 && (!d.comma || d.mark.mark != 0) || n.mark != 0 && n.mark == d.mark.mark)
}

// settle holds a number to the marks of the file, and returns its value. id is the
// metric that it is of.
func (d *decimals) settle(n number, cell string, at compare.Place, id compare.MetricID) (float64, error) {
	if n.mark == 0 && n.grouped == 0 {
		if d.comma && d.mark.mark == 0 && d.group.mark == 0 {
			if m := d.of(id); m.plain.cell == "" && n.value >= 1 {
				m.plain, m.value = proof{0, at, strings.Clone(cell)}, n.value
				if m.isOpen() {
					return 0, errEitherMark(m.doubt, fmt.Sprintf("%s at %s has none", excerpt(cell), at))
				}
			}
		}
		return n.value, nil
	}
	if !n.doubt {
		switch {
		case n.mark != 0 && d.mark.mark != 0 && n.mark != d.mark.mark:
			return 0, errOtherMark(at, cell, d.mark)
		case n.mark != 0 && n.mark == d.group.mark:
			return 0, errOtherMark(at, cell, d.group)
		case n.mark != 0 && d.doubt.mark != 0 && n.mark != d.doubt.mark, n.grouped != 0 && n.grouped == d.doubt.mark:
			return 0, errEitherMark(d.doubt, fmt.Sprintf("so says %s at %s", excerpt(cell), at))
		case n.grouped != 0 && n.grouped == d.mark.mark:
			return 0, errOtherMark(at, cell, d.mark)
		}
		d.learn(n, cell, at)
		return n.value, nil
	}
	mark := n.mark | n.grouped
	asGroup, asMark := n.value*1000, n.value
	if n.grouped != 0 {
		asGroup = n.value
	}
	this := proof{mark, at, strings.Clone(cell)}
	switch {
	case d.group.mark == mark, n.grouped != 0 && d.mark.mark == '.':
		return asGroup, nil
	case d.mark.mark == mark:
		return asMark, nil
	case d.mark.mark != 0:
		return 0, errEitherMark(this, fmt.Sprintf("%s at %s has the other mark", excerpt(d.mark.cell), d.mark.at))
	case n.grouped != 0:
		return 0, errEitherMark(this, "nothing before it in the file says which")
	}
	if d.doubt.mark == 0 {
		d.doubt = this
	} else if d.doubt.mark != mark {
		return 0, errOtherMark(at, cell, d.doubt)
	}
	m := d.of(id)
	m.doubt, m.grouped = this, asGroup
	if m.isOpen() {
		return 0, errEitherMark(this, fmt.Sprintf("%s at %s has none", excerpt(m.plain.cell), m.plain.at))
	}
	return asMark, nil
}

// of are the marks of a metric.
func (d *decimals) of(id compare.MetricID) *metricMarks {
	m := d.first[id]
	if m == nil {
		if d.first == nil {
			d.first = map[compare.MetricID]*metricMarks{}
		}
		m = &metricMarks{}
		d.first[id] = m
	}
	return m
}

func errOtherMark(at compare.Place, cell string, other proof) error {
	return placed(at, "found %s, but %s at %s has the other decimal mark, so one of the two may be a thousands separator; write all "+
		"numbers of a file with the same mark and without thousands separators", excerpt(cell), excerpt(other.cell), other.at)
}

// errEitherMark shows both readings of a number.
func errEitherMark(of proof, why string) error {
	name := map[byte]string{'.': "point", ',': "comma"}[of.mark]
	digits := strings.TrimSpace(of.cell)
	return placed(of.at, "found %s, which is %s if the %s stands between thousands, and %s if it is the decimal mark: %s; write it without "+
		"a mark between thousands, and with the decimal mark of the file", excerpt(of.cell), strings.ReplaceAll(digits, string(of.mark), ""),
		name, strings.ReplaceAll(digits, string(of.mark), "."), why)
}
