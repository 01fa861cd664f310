package intake

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/readings"
)

// findColumns finds the time, the marker, the mapped columns and those whose
// header states a unit.
func (l *logReader) findColumns() error {
	if err := l.findTime(); err != nil {
		return err
	}
	taken := map[int]bool{}
	for _, i := range l.time {
		taken[i] = true
	}
	if l.rules.Marker != "" {
		i, err := l.columnOf(l.rules.Marker)
		if err != nil {
			return l.failHead(0, "the marker: %w", err)
		}
		l.marker, taken[i] = i, true
	}
	for k, f := range l.rules.Invalid {
		i, err := l.columnOf(f.Header)
		switch {
		case err != nil && f.FromPolicy:
			l.note("column %q makes runs invalid by the policy, and is not there", f.Header)
			continue
		case err != nil:
			return l.failHead(0, "what makes runs invalid: %w", err)
		}
		l.flags, taken[i] = append(l.flags, flagColumn{i, k, foldWord(f.Cell)}), true
	}
	for _, m := range l.rules.Columns {
		i, err := l.columnOf(m.Header)
		switch {
		case err != nil && m.FromPolicy:
			l.note("column %q is mapped by the policy, and not there", m.Header)
			continue
		case err != nil:
			return l.failHead(0, "the mapping to %s: %w", excerpt(m.Name), err)
		case taken[i]:
			return l.failHead(i, "column %q is mapped, but it is used already: as time, as marker or by another mapping", l.head[i])
		}
		taken[i] = true
		if m, err = withUnitOf(m, l.head[i]); err != nil {
			return l.failHead(i, "%w", err)
		}
		l.columns = append(l.columns, logColumn{m, i, true})
	}
	for i, name := range l.head {
		if taken[i] || name == "" {
			continue
		}
		h, err := parseHeading(name)
		traits := compare.TraitsOf(h.unit)
		switch {
		case err != nil || h.unit == "":
			l.unitless = append(l.unitless, i)
		case h.name == "":
			l.note("column %q left out: it has a unit and no name", name)
		case traits.Better == "" && h.better == "":
			l.note("column %q left out: the unit does not say whether more is better; map it, as in %q",
				name, name+" = "+h.name+" ["+h.unit+", lower]")
		case isEnergy(h.unit):
			l.note("column %q left out: energy is worked out from power", name)
		case traits.Role == compare.Score:
			l.note("column %q left out: by its unit it would be a score, which decides; map it if it is to, as in %q",
				name, name+" = "+name)
		default:
			l.columns = append(l.columns, logColumn{readings.Column{Header: name, Name: h.name, Unit: h.unit, Better: h.better}, i, false})
		}
	}
	return l.checkColumns()
}

func (l *logReader) checkColumns() error {
	first := map[string]int{}
	for _, k := range l.columns {
		if other, twice := first[k.Name]; twice {
			return l.failHead(k.index, `columns %d and %d are both named %s; map one of them to another name, as in "column %d = second %s [%s]"`,
				other+1, k.index+1, excerpt(k.Name), k.index+1, k.Name, k.Unit)
		}
		first[k.Name] = k.index
	}
	if len(l.columns) == 0 && !l.rules.Duration {
		return l.failHead(0, "found no column that states a unit in brackets, and none is mapped; "+
			`map what you need, as in "Package power (W) = power [W]"`)
	}
	if len(l.columns) > maxLogColumns {
		return l.failHead(l.columns[maxLogColumns].index,
			"found more than %d columns of readings; map what you need and leave out the units of the others", maxLogColumns)
	}
	return nil
}

// maxLogColumns bounds the columns of readings in a log.
const maxLogColumns = 1000

// columnOf finds a column by its header: as written, else without regard to
// case, else by its number, as in "column 7".
func (l *logReader) columnOf(header string) (int, error) {
	for _, equal := range []func(a, b string) bool{func(a, b string) bool { return a == b }, strings.EqualFold} {
		found := -1
		for i, name := range l.head {
			if !equal(name, header) {
				continue
			}
			if found >= 0 {
				return 0, fmt.Errorf(`columns %d and %d are both headed %s; name one by its number, as in "column %d"`,
					found+1, i+1, excerpt(header), i+1)
			}
			found = i
		}
		if found >= 0 {
			return found, nil
		}
	}
	var n int
	_, err := fmt.Sscanf(header, "column %d", &n)
	if err == nil && n >= 1 && n <= len(l.head) && header == fmt.Sprintf("column %d", n) {
		return n - 1, nil
	}
	var there []string
	for _, name := range l.head {
		if name != "" && len(there) < 12 {
			there = append(there, fmt.Sprintf("%q", name))
		}
	}
	return 0, fmt.Errorf("no column is headed %s; there are %s", excerpt(header), strings.Join(there, ", "))
}

// findTime finds the time column, or a column with the date and one with the
// time.
func (l *logReader) findTime() error {
	unit := ""
	if l.rules.TimeColumn != "" {
		i, err := l.columnOf(l.rules.TimeColumn)
		if err != nil {
			return l.failHead(0, "the time column: %w", err)
		}
		l.time = []int{i}
	} else {
		l.time = timeColumns(l.head, l.rules)
		if l.time == nil {
			return &LogError{NoTimeColumn, l.failHead(0, "found no time column, expected one headed time, timestamp or datetime, or date and time")}
		}
	}
	if h, err := parseHeading(l.head[l.time[len(l.time)-1]]); err == nil {
		unit = h.unit
	}
	scale, known := compare.SecondsIn(cmp.Or(unit, "s"))
	if !known {
		return l.failHead(l.time[0], "found the time column %q, expected its unit to be s, ms, µs, min or h, or none", l.head[l.time[0]])
	}
	var err error
	if l.clock, err = newLogClock(l.rules.TimeForm, scale, l.numbers.comma); err != nil {
		return fmt.Errorf("the form of times: %w", err)
	}
	return nil
}

// timeHeads head the columns of the time of a reading, the likeliest first.
var timeHeads = [][]string{
	{"timestamp"}, {"zeitstempel"}, {"horodatage"}, {"datetime"}, {"date time"}, {"date/time"}, {"date", "time"}, {"datum", "uhrzeit"},
	{"datum", "zeit"}, {"date", "heure"}, {"fecha", "hora"}, {"data", "ora"}, {"data", "hora"}, {"data", "godzina"}, {"data", "czas"},
	{"datum", "tijd"}, {"time"}, {"uhrzeit"}, {"zeit"}, {"heure"}, {"hora"}, {"ora"}, {"godzina"}, {"czas"}, {"tijd"}, {"elapsed"},
}

// timeColumns finds the time column of a header, or that of the date and that of the
// time; nil where there is none.
func timeColumns(head []string, rules readings.Rules) []int {
	byName := map[string]int{}
	for i := len(head) - 1; i >= 0; i-- {
		if rules.TimeColumn != "" && strings.EqualFold(strings.TrimSpace(head[i]), rules.TimeColumn) {
			return []int{i}
		}
		if h, err := parseHeading(strings.TrimSpace(head[i])); err == nil {
			byName[foldWord(h.name)] = i
		}
	}
	if rules.TimeColumn != "" {
		return nil
	}
	for _, names := range timeHeads {
		var at []int
		for _, name := range names {
			if i, ok := byName[name]; ok {
				at = append(at, i)
			}
		}
		if len(at) == len(names) {
			return at
		}
	}
	return nil
}

// isEnergy reports a unit of energy: a column in it is a counter, whose mean
// says nothing.
func isEnergy(unit string) bool {
	return slices.Contains([]string{"j", "kj", "wh", "kwh"}, strings.ToLower(unit))
}

// prefixes are the units that differ from each other by a factor.
var prefixes = []map[string]float64{
	{"mW": 1e-3, "W": 1, "kW": 1e3},
	{"mVA": 1e-3, "VA": 1, "kVA": 1e3},
	{"mvar": 1e-3, "var": 1, "kvar": 1e3},
	{"mV": 1e-3, "V": 1},
	{"mA": 1e-3, "A": 1},
	{"Hz": 1e-6, "kHz": 1e-3, "MHz": 1, "GHz": 1e3},
}

// withUnitOf completes a mapping with the unit that the header states: mW
// become W where the mapping says W.
func withUnitOf(m readings.Column, header string) (readings.Column, error) {
	h, err := parseHeading(header)
	if err != nil {
		h = heading{}
	}
	switch {
	case m.Unit == "" && h.unit == "":
		return m, fmt.Errorf("neither the header %q nor its mapping to %s states a unit; write it as in %q",
			header, excerpt(m.Name), m.Name+" [W]")
	case m.Unit == "":
		m.Unit = h.unit
	case h.unit != "" && h.unit != m.Unit:
		i := slices.IndexFunc(prefixes, func(p map[string]float64) bool { return p[h.unit] != 0 && p[m.Unit] != 0 })
		if i < 0 {
			return m, fmt.Errorf("column %q is in %s, but mapped to %s, and there is no factor between them; map it to its own unit",
				header, h.unit, m.Unit)
		}
		m.Factor = prefixes[i][h.unit] / prefixes[i][m.Unit]
	}
	if isEnergy(m.Unit) {
		return m, fmt.Errorf("column %q counts energy, and the mean of a counter says nothing; "+
			"map a column of power, from which energy is worked out", header)
	}
	if m.Better == "" {
		m.Better = h.better
	}
	if m.Better == "" && compare.TraitsOf(m.Unit).Better == "" {
		return m, fmt.Errorf("the unit %s of %s does not say whether more is better; say so, as in %q",
			excerpt(m.Unit), excerpt(m.Name), m.Name+" ["+m.Unit+", lower]")
	}
	return m, nil
}
