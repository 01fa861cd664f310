package compare

import (
	"fmt"
	"math"
	"slices"
)

// noRuns says why there is none.
func (c *SensorCollector) noRuns() error {
	at := Place{}
	if c.log != nil {
		at.File = c.log.File
	}
	switch t := c.rules.Threshold; {
	case c.rules.Marker != "":
		return &PlacedError{at, fmt.Sprintf("found no run: column %q is empty in every row", c.rules.Marker)}
	case t != nil && c.short > 0:
		return &PlacedError{at, fmt.Sprintf("found no run: %d stretches with %s above %v, none of them as long as %s", c.short, t.Column, t.Value, secondsText(c.rules.ShortestRun))}
	case t != nil && c.log != nil && !math.IsInf(c.log.highest, -1):
		return &PlacedError{at, fmt.Sprintf("found no run: %s is never above %v; its highest reading is %v", t.Column, t.Value, c.log.highest)}
	}
	return &PlacedError{at, "found no run"}
}

// dropSilent leaves out columns without any reading in any run, as loggers
// write them for sensors that a machine does not have.
func (c *SensorCollector) dropSilent() {
	var silent []string
	for _, k := range c.columns {
		if c.read[k.Name] == 0 && len(c.read) > 0 {
			silent = append(silent, k.Name)
		}
	}
	if len(silent) == 0 {
		return
	}
	for i := range c.out.Runs {
		c.out.Runs[i].Metrics = slices.DeleteFunc(c.out.Runs[i].Metrics, func(v SensorValue) bool {
			return slices.Contains(silent, v.source)
		})
	}
	c.out.note("silent", "left out, without a reading in any run: %s", List(silent, 8))
}

// addNotes says by which rules runs and figures came about, and what was odd.
func (c *SensorCollector) addNotes() {
	r, s := c.rules, &c.out
	if r.WarmUp > 0 {
		s.note("warm-up", "the first %s of each run are warm-up: they count for energy, and for nothing else", secondsText(r.WarmUp))
	} else {
		s.note("warm-up", "no warm-up is cut: each run counts from its start")
	}
	c.noteSteps()
	if c.short > 0 {
		s.note("short", "%d stretches with %s above %s lasted less than %s and are no runs", c.short, r.Threshold.Column, Decimal(r.Threshold.Value, 12), secondsText(r.ShortestRun))
	}
	for _, asked := range []struct {
		rule     string
		patterns []string
	}{{"maximum", r.Maximum}, {"percentile", barColumns(r.Percentiles)}, {"above", barColumns(r.Above)}, {"below", barColumns(r.Below)}, {"constant", r.Constant}} {
		for _, p := range asked.patterns {
			if !slices.ContainsFunc(c.columns, func(k SensorColumn) bool { return NameMatches(p, k.Name) }) {
				s.note("unmatched", "%s: no column is called %q; there are %s", asked.rule, p, columnList(c.columns))
			}
		}
	}
	for _, name := range c.stillBy {
		k := c.still[name]
		text := fmt.Sprintf("%s never moved in %d of %d runs while other sensors did", name, k.runs, len(s.Runs))
		if k.setAside > 0 {
			text += "; set aside there"
		}
		s.note("still", "%s", text)
	}
	within := map[string]float64{}
	var order []string
	for _, run := range s.Runs {
		for _, v := range run.Metrics {
			if v.Within > 0 {
				if within[v.Metric] == 0 {
					order = append(order, v.Metric)
				}
				within[v.Metric] = math.Max(within[v.Metric], v.Within)
			}
		}
	}
	for _, metric := range order {
		s.note("percentile", "%s is within %.2g of the exact value: there are too many different readings to keep them all", metric, within[metric])
	}
}

// noteSteps says what a gap is, once for logs that are read alike.
func (c *SensorCollector) noteSteps() {
	type steps struct{ usual, longest float64 }
	var order []steps
	files, gaps := map[steps][]string{}, map[steps]int{}
	for _, l := range c.out.Logs {
		if l.Step == nil {
			continue
		}
		k := steps{*l.Step, *l.Longest}
		if files[k] == nil {
			order = append(order, k)
		}
		files[k] = append(files[k], l.File)
		gaps[k] += l.Gaps
	}
	for _, k := range order {
		c.out.note("step", "%s: the usual step is %s; longer ones than %s are gaps and not bridged; found: %d", List(files[k], 3), secondsText(k.usual), secondsText(k.longest), gaps[k])
	}
}

func barColumns(bars []SensorBar) (columns []string) {
	for _, b := range bars {
		columns = append(columns, b.Column)
	}
	return columns
}
