package ladder

import "slices"

// Unmeasured is what some profiles have and others lack.
type Unmeasured struct {
	Name     string   // of a score or a benchmark
	Profiles []string // that lack it; empty where they have runs, but none that is valid on both sides
}

// Note is something that a reader should know about a chain. Which fields are
// filled depends on its kind; package report puts it into words.
type Note struct {
	Kind    NoteKind
	Classes []string     // of work
	Metric  string       // one of the costs
	LeftOut []Unmeasured // benchmarks
}

// NoteKind says what a note is about.
type NoteKind string

// The kinds of notes.
const (
	NoteMix         NoteKind = "mix"           // classes that the mix leaves out
	NoteProduct     NoteKind = "product"       // the product of the steps beside the measured total
	NoteCostLeftOut NoteKind = "cost-left-out" // benchmarks that are in no column of this cost
)

// notes says what a careful reader would ask about the chain.
func (c *climb) notes(l *Ladder, outsideMix []string) []Note {
	var out []Note
	if len(outsideMix) > 0 {
		out = append(out, Note{Kind: NoteMix, Classes: outsideMix})
	}
	if len(l.Steps) > 1 && l.Total.Suite != nil && l.Total.Suite.Interval != nil {
		out = append(out, Note{Kind: NoteProduct})
	}
	for _, metric := range []string{MetricPower, MetricEnergy, MetricTemperature} {
		if left := c.unpriced(metric); len(left) > 0 {
			out = append(out, Note{Kind: NoteCostLeftOut, Metric: metric, LeftOut: left})
		}
	}
	return out
}

// unpriced names the benchmarks that some profiles have this metric for, but
// not all: their costs are in no column.
func (c *climb) unpriced(metric string) []Unmeasured {
	var order []string
	lacking := map[string][]string{}
	type cell struct{ profile, benchmark string }
	has := map[cell]bool{}
	for p, side := range c.sides {
		for _, s := range side {
			if s.Metric == metric && s.Derived == nil && !slices.Contains(order, s.Benchmark) {
				order = append(order, s.Benchmark)
			}
			if s.Metric == metric {
				has[cell{c.profiles[p], s.Benchmark}] = true
			}
		}
	}
	priced := c.priced(metric)
	var out []Unmeasured
	for _, b := range order {
		for _, p := range c.profiles {
			if !has[cell{p, b}] {
				lacking[b] = append(lacking[b], p)
			}
		}
		if !priced[b] && len(lacking[b]) > 0 {
			out = append(out, Unmeasured{b, lacking[b]})
		}
	}
	return out
}
