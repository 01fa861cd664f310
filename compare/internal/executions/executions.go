// Package executions tells the runs of a profile apart, whatever each of them
// measured.
package executions

import "tunegate/compare"

// Execution is one run of a profile as it was carried out: where it was met first,
// and its label there. What stands in one line is one execution, whatever it
// measured.
type Execution struct {
	file string
	line int
	id   compare.RunID
}

// Register tells the runs of several series of one profile apart.
type Register struct{ first map[benchmarkRun]Execution }

type benchmarkRun struct {
	benchmark string
	compare.RunID
}

// New has met no run yet.
func New() *Register { return &Register{map[benchmarkRun]Execution{}} }

// Each visits the observations of a series with the run that each is of.
func (c *Register) Each(s *compare.Series, visit func(Execution, compare.Observation)) {
	for i, id := range s.RunIDs() {
		o, k := s.At(i), benchmarkRun{s.Benchmark, id}
		run, met := c.first[k]
		if !met {
			if run = (Execution{o.At.Source(), o.At.Line, compare.RunID{Label: id.Label, Nth: id.Nth}}); o.At.Line == 0 {
				run.file = s.Benchmark + o.Machine + o.Session // typed in, in no line
			}
			c.first[k] = run
		}
		visit(run, o)
	}
}
