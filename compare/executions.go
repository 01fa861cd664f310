package compare

// Execution is one run of a profile as it was carried out: where it was met first,
// and its label there. What stands in one line is one execution, whatever it
// measured.
type Execution struct {
	file string
	line int
	id   RunID
}

// Executions tells the runs of several series of one profile apart.
type Executions struct{ first map[benchmarkRun]Execution }

type benchmarkRun struct {
	benchmark string
	RunID
}

// NewExecutions has met no run yet.
func NewExecutions() *Executions { return &Executions{map[benchmarkRun]Execution{}} }

// Each visits the observations of a series with the run that each is of.
func (c *Executions) Each(s *Series, visit func(Execution, Observation)) {
	for i, id := range s.RunIDs() {
		o, k := s.Observations[i], benchmarkRun{s.Benchmark, id}
		run, met := c.first[k]
		if !met {
			if run = (Execution{o.At.File, o.At.Line, RunID{Label: id.Label, Nth: id.Nth}}); o.At.Line == 0 {
				run.file = s.Benchmark + o.Session // typed in, in no line
			}
			c.first[k] = run
		}
		visit(run, o)
	}
}

// Row is an observation as the row that it was read from.
func (s *Series) Row(o Observation) Value {
	return Value{Profile: s.Profile, Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Session: o.Session, Run: o.Run,
		Value: o.Value, Missing: o.Missing, SetAside: o.SetAside, Reason: o.Reason, At: o.At}
}

// IsRow reports whether a value stands for a run: an empty cell of a run that
// was not made does not.
func (v Value) IsRow() bool { return !v.Missing || v.SetAside }

// Line is the place of the value without its column.
func (v Value) Line() Place { return Place{File: v.At.File, Line: v.At.Line} }
