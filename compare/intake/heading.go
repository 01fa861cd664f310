package intake

import (
	"fmt"
	"strings"

	"tunegate/compare"
)

// heading is the header of a column of numbers: tile-render [s], or
// latency [ns, lower].
type heading struct {
	name, unit string
	better     compare.Better
}

// parseHeading takes the unit and the direction off a header. Brackets stand
// at the end and nowhere else.
func parseHeading(cell string) (heading, error) {
	open := strings.IndexByte(cell, '[')
	if open < 0 {
		if strings.IndexByte(cell, ']') >= 0 {
			return heading{}, fmt.Errorf(`found ] without [ in the header %s; write the unit as in "tile-render [s]", and put a header with a `+
				`comma in quotes, as in "latency [ns, lower]"`, excerpt(cell))
		}
		return heading{name: cell}, nil
	}
	inside, after, closed := strings.Cut(cell[open+1:], "]")
	switch {
	case !closed:
		return heading{}, fmt.Errorf(`found [ without ] in the header %s; write the unit as in "tile-render [s]", and put a header with a `+
			`comma in quotes, as in "latency [ns, lower]"`, excerpt(cell))
	case strings.TrimSpace(after) != "" || strings.ContainsAny(inside, "["):
		return heading{}, fmt.Errorf(`found the header %s, expected one unit in brackets at its end, as in "tile-render power [W]"`,
			excerpt(cell))
	}
	h := heading{name: strings.TrimSpace(cell[:open])}
	unit, direction, both := strings.Cut(inside, ",")
	unit = strings.TrimSpace(unit)
	if b, err := parseBetter(unit); !both && err == nil {
		h.better = b
		return h, nil
	}
	h.unit = unitNamed(unit)
	b, err := parseBetter(strings.TrimSpace(direction))
	if err != nil {
		return heading{}, fmt.Errorf(`in the header %s: %w; write it as in "latency [ns, lower]"`, excerpt(cell), err)
	}
	h.better = b
	return h, nil
}

// metricOf splits the header of a wide column, unit removed, into benchmark
// and metric. A colon with a blank behind it forces the split. Else the
// benchmark is the longest of names, the other headers, that the header
// begins with as a whole word; the rest is the metric. Without one the header
// is a benchmark with an unnamed metric.
func metricOf(name string, names map[string]bool) (benchmark, metric string, err error) {
	if b, m, forced := forcedSplit(name); forced {
		if b == "" || m == "" {
			return "", "", fmt.Errorf(`found the header %s, expected a benchmark before the colon and a metric behind it, as in "tile-render: `+
				`power [W]"`, excerpt(name))
		}
		return b, m, nil
	}
	for i := len(name) - 1; i > 0; i-- {
		if name[i] != ' ' && name[i] != '\t' {
			continue
		}
		if prefix := strings.TrimSpace(name[:i]); names[prefix] {
			return prefix, strings.TrimSpace(name[i:]), nil
		}
	}
	return name, "", nil
}

func forcedSplit(name string) (benchmark, metric string, forced bool) {
	i := strings.Index(name+" ", ": ")
	if i < 0 {
		return "", "", false
	}
	return strings.TrimSpace(name[:i]), strings.TrimSpace(name[i+1:]), true
}
