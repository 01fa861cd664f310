package readings

// Exclusion says why a run, or one metric of a run, does not count: one of the
// types of this file, with the values behind it.
type Exclusion interface{ exclusion() }

// CutAtStart: the run began before the log did.
type CutAtStart struct{}

// CutAtEnd: the log ended before the run did.
type CutAtEnd struct{}

// CutAfterDip: the log ended in a dip below the threshold, so that the run may
// have gone on. MaxDip is how long a dip may be, in s.
type CutAfterDip struct{ MaxDip float64 }

// CutByRestart: the log was started anew before a line.
type CutByRestart struct{ Line int }

// NoRows: no row of a log falls into the window of a list.
type NoRows struct{}

// TooFewRows: fewer than two rows of the log fall into the run.
type TooFewRows struct{}

// TooMuchGap: more of the run than MaxShare is gap. Shares in per cent, times
// in s.
type TooMuchGap struct{ Share, Gap, Run, MaxShare float64 }

// OnlyWarmUp: the run lasts no longer than its warm-up, both in s.
type OnlyWarmUp struct{ Run, WarmUp float64 }

// RunAgain: a run of the same label began on an earlier line of the same log.
type RunAgain struct {
	Run, Benchmark string
	FirstLine      int
}

// NoReading: the column has no reading in the run.
type NoReading struct{ Column string }

// TooFewReadings: the column has readings in the run, but none that counts for
// any time.
type TooFewReadings struct{ Column string }

// MissingReadings: the column has no reading for more of the run than MaxShare,
// in per cent.
type MissingReadings struct {
	Column          string
	Share, MaxShare float64
}

// Frozen: the column read the same value each time while other columns moved.
type Frozen struct {
	Column   string
	Value    float64
	Unit     string
	Readings int
}

// NotPositive: the value is not above zero, which a ratio scale needs.
type NotPositive struct {
	Metric string
	Value  float64
	Unit   string
}

// UnknownEnergy: the column of power has no readings for some seconds of the
// run, so that its energy is not known.
type UnknownEnergy struct {
	Column string
	Gap    float64 // s
}

// NeverUnderLoad: the column that says what load is was never above its limit
// in the time that counts.
type NeverUnderLoad struct{ Load Limit }

// Flagged: a column holds a cell in the run that makes it invalid, in so many rows, the
// first of them on a line.
type Flagged struct {
	Flag
	Rows, Line int
}

func (Flagged) exclusion()         {}
func (CutAtStart) exclusion()      {}
func (CutAtEnd) exclusion()        {}
func (CutAfterDip) exclusion()     {}
func (CutByRestart) exclusion()    {}
func (NoRows) exclusion()          {}
func (TooFewRows) exclusion()      {}
func (TooMuchGap) exclusion()      {}
func (OnlyWarmUp) exclusion()      {}
func (RunAgain) exclusion()        {}
func (NoReading) exclusion()       {}
func (TooFewReadings) exclusion()  {}
func (MissingReadings) exclusion() {}
func (Frozen) exclusion()          {}
func (NotPositive) exclusion()     {}
func (UnknownEnergy) exclusion()   {}
func (NeverUnderLoad) exclusion()  {}
