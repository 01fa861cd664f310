package compare

import (
	"cmp"
	"iter"
	"maps"
	"math"
	"slices"
	"sort"

	descriptive "github.com/montanaflynn/stats"

	"tunegate/stats"
)

// Replication is what counts as one independent observation.
type Replication string

// The units of replication.
const (
	ByRun     Replication = "run"
	BySession Replication = "session"
	ByBlock   Replication = "block"
	ByMachine Replication = "machine"
)

// Side describes the runs of one side of a comparison, in the metric's unit.
type Side struct {
	Runs     int     // valid runs used
	Sessions int     // 0 where none are recorded
	SetAside int     // runs that do not count
	NotRun   int     // empty cells
	WarmUps  int     // runs labelled so, not counted
	Median   float64 // of the values that were compared
	Mean     float64 // of all runs used
	StdDev   float64
	Min      float64
	Max      float64
}

// Sample is one side of a metric, reduced to what counts once: a machine, a session,
// or a spell within a block. Without labels every run does.
type Sample struct {
	Side
	Raw       []float64 // every run used, in the metric's unit and in run order
	Values    []float64 // what counts once, ascending: logarithms on a ratio scale
	Labelled  bool      // at least one run has a session label
	UsualRuns float64   // median number of runs a session that are recorded
	Reduced   bool      // some rows stand for several runs: of those Raw has the readings that are known

	sessions []Spell          // how Values came about, unless unlabelled says so
	machines []Spell          // of sessions, where each machine counts once
	alone    []float64        // in run order, where no run has a session or block
	blocked  map[string][]int // which of Counted lie in a block
	skipped  []int            // how many of Raw lie before each run that does not count
}

// place is the place of Raw[k] among all runs, those that do not count included.
func (s Sample) place(k int) int { return k + sort.SearchInts(s.skipped, k+1) }

// Spell is the runs of one session, or of one session within a block, as they
// are compared: logarithms on a ratio scale.
type Spell struct {
	Label string // empty where no session is recorded
	Block string // empty outside blocks
	Runs  []float64
	Value float64 // the median of those that count

	Reduced *Reduction // of one row that stands for all runs, whose value Runs then has
}

// Blocked reports whether any run lies in a block.
func (s Sample) Blocked() bool { return len(s.blocked) > 0 }

// Spells goes through how Values came about, in the order of the runs. A run
// without a label is a spell of its own.
func (s Sample) Spells() iter.Seq[Spell] {
	// Runs that are a session each are not held as spells: one takes eight times
	// the memory of its value.
	return func(yield func(Spell) bool) {
		for i, v := range s.alone {
			if !yield(Spell{Runs: s.alone[i : i+1 : i+1], Value: v}) {
				return
			}
		}
		for _, x := range s.sessions {
			if !yield(x) {
				return
			}
		}
	}
}

// InUnit returns the values that count once in the metric's unit, ascending.
func (s Sample) InUnit(m Metric) []float64 {
	out := make([]float64, len(s.Values))
	for i, v := range s.Values {
		out[i] = m.InUnit(v)
	}
	return out
}

// partlyLabelled reports whether some runs have a session label and some have
// none.
func (s Sample) partlyLabelled() bool {
	return s.Labelled && s.machines == nil && slices.ContainsFunc(s.sessions, func(x Spell) bool { return x.Label == "" })
}

// working turns a raw value into the one that is compared.
func (m Metric) working(v float64) float64 {
	if m.Scale == Ratio {
		return math.Log(v)
	}
	return v
}

// InUnit turns a compared value back into the metric's unit.
func (m Metric) InUnit(v float64) float64 {
	if m.Scale == Ratio {
		return math.Exp(v)
	}
	return v
}

// Counted lists what counts once where any run has a label: the sessions or spells,
// or one Spell a machine, which is its Block, with the values of its sessions as Runs.
func (s Sample) Counted() []Spell {
	if s.machines != nil {
		return s.machines
	}
	return s.sessions
}

// Reduce reduces all runs of a series to what counts once: each machine where there
// are several. It is an error, a *PlacedError, where a value is not above zero on a
// ratio scale.
func Reduce(m Metric, s *Series) (Sample, error) {
	if len(s.Machines()) > 1 {
		s = s.ByMachine()
	}
	return reduce(m, s, nil)
}

// Machines lists the machines of the runs that count, in order; those that state
// none are of one more, "".
func (s *Series) Machines() []string {
	found, last := map[string]bool{}, uint32(0)
	for _, r := range s.rows() {
		if r.counts() && (len(found) == 0 || r.sitting != last) {
			last = r.sitting
			found[s.store.words.text(s.store.words.sittings.At(int(last)).machine)] = true
		}
	}
	return slices.Sorted(maps.Keys(found))
}

// ByMachine is the series with each machine as a block, in which spells of blocks are
// sessions: each counts once, even where there is one.
func (s *Series) ByMachine() *Series {
	out := *s
	out.perMachine = true
	return &out
}

// countMachines lets each machine count by the median of its sessions.
func (s *Sample) countMachines(m Metric) {
	s.machines, s.blocked = []Spell{}, map[string][]int{}
	for _, x := range s.sessions {
		if s.blocked[x.Block] == nil {
			s.blocked[x.Block], s.machines = []int{len(s.machines)}, append(s.machines, Spell{Block: x.Block})
		}
		of := &s.machines[s.blocked[x.Block][0]]
		of.Runs = append(of.Runs, x.Value)
	}
	for i := range s.machines {
		s.machines[i].Value = m.middle(s.machines[i].Runs)
	}
}

// reduce does so for the observations of the blocks that keep accepts, nil for all.
func reduce(m Metric, s *Series, keep func(block string) bool) (Sample, error) {
	out := Sample{Side: Side{WarmUps: s.WarmUps}, blocked: map[string][]int{}}
	var all stats.Moments
	out.Raw = make([]float64, 0, s.Len())
	compared := make([]float64, 0, s.Len()) // as Raw
	find := s.findSpells()
	out.sessions = make([]Spell, 0, find.most)
	for _, o := range s.rows() {
		session, block := find.labels(o)
		reduced, least := s.store.reduction(o), o.value
		if reduced != nil {
			least = reduced.Smallest
		}
		switch {
		case o.setAside():
			out.SetAside++
			out.skipped = append(out.skipped, len(out.Raw))
			continue
		case o.missing():
			out.NotRun++
			out.skipped = append(out.skipped, len(out.Raw))
			continue
		case keep != nil && !keep(block):
			continue
		case m.Scale == Ratio && !(least > 0):
			return out, ErrorAt(s.store.place(o), "%s is %v, but a value in %s must be above zero; correct it, "+
				"set the run aside with valid = no and a reason, or, where 0 is a fair result, state scale = \"interval\" in a policy",
				m.Name(), least, cmp.Or(m.Unit, "a ratio-scale unit"))
		}
		all = all.Join(m.moments(o.value, reduced))
		v := m.working(o.value)
		switch {
		case reduced == nil:
			out.Raw = append(out.Raw, o.value)
		case session == "" && block == "" && reduced.Runs > 1:
			return out, ErrorAt(s.store.place(o), "%s stands for %d runs of no session; reduce the runs of one machine to sessions, not further, "+
				"and those without a session label not at all", m.Name(), reduced.Runs)
		default:
			out.Reduced, out.Raw = true, append(out.Raw, reduced.readings(o.value)...)
			if m.Scale != Ratio {
				v = stats.RoundDecimal(v, math.Max(math.Abs(reduced.Smallest), math.Abs(reduced.Largest)))
			}
		}
		compared = append(compared, v)
		if !find.labelled {
			continue
		}
		out.Labelled = out.Labelled || session != ""
		k, met := find.spell(len(out.sessions))
		if !met {
			out.sessions = append(out.sessions, Spell{Label: session, Block: block})
			if block != "" {
				out.blocked[block] = append(out.blocked[block], k)
			}
			if session != "" || block != "" {
				out.sessions[k].Reduced = reduced
			}
		}
		x := &out.sessions[k]
		if x.add(compared); len(x.Runs) > 1 && (reduced != nil || x.Reduced != nil) {
			return out, ErrorAt(s.store.place(o), "%s has several rows of session %q, one of which stands for all its runs", m.Name(), session)
		}
	}
	if !find.labelled {
		out.alone = compared
	}
	out.Runs = int(all.N)
	sizes := make([]float64, 0, len(out.sessions))
	for i := range out.sessions {
		out.sessions[i].Value = m.middle(out.sessions[i].Runs)
		for _, n := range out.sessions[i].sizes() {
			sizes = append(sizes, float64(n))
		}
	}
	if out.Runs == 0 {
		return out, nil
	}
	if out.Labelled || len(out.blocked) > 0 {
		out.Sessions = len(sizes)
	}
	if out.UsualRuns = 1; find.labelled {
		out.UsualRuns = stats.Median(sizes)
	}
	if s.perMachine {
		out.countMachines(m)
	}
	out.takeValues()
	if out.describe(m); out.Reduced {
		out.Mean, out.StdDev = all.Mean, all.StdDev()
	}
	return out, nil
}

// add takes the last value of a list. Runs that follow each other there stay there.
func (x *Spell) add(list []float64) {
	n, last := len(x.Runs), len(list)-1
	if n == 0 || n <= last && &x.Runs[n-1] == &list[last-1] {
		x.Runs = list[last-n : last+1 : last+1]
		return
	}
	x.Runs = append(x.Runs, list[last])
}

// spellFinder finds the spell of each row of a series.
type spellFinder struct {
	series         *Series
	labelled       bool              // a row has a session or block; else each is alone
	most           int               // as many spells at most where one has
	known          map[[3]uint32]int // by machine, where those count, block and session
	now            uint32            // the sitting of the row in hand
	begun          bool
	session, block string // its labels
	last           int    // its spell, -1 where nobody asked yet
}

func (s *Series) findSpells() *spellFinder {
	f := &spellFinder{series: s, known: map[[3]uint32]int{}, labelled: s.perMachine}
	turns, unlabelled, last := 0, 0, uint32(0)
	for _, r := range s.rows() {
		at := s.store.words.sittings.At(int(r.sitting))
		if at.session > 0 || at.block > 0 {
			f.labelled = true
		} else if !s.perMachine {
			unlabelled++
		}
		if turns == 0 || r.sitting != last {
			turns, last = turns+1, r.sitting
		}
	}
	if f.labelled && turns > 0 {
		f.most = unlabelled + min(turns, s.store.words.sittings.Len())
	}
	return f
}

// labels are the session and block of a row.
func (f *spellFinder) labels(r *row) (session, block string) {
	if f.begun && r.sitting == f.now {
		return f.session, f.block
	}
	w := f.series.store.words
	at := w.sittings.At(int(r.sitting))
	f.begun, f.now, f.last, f.session, f.block = true, r.sitting, -1, w.text(at.session), w.text(at.block)
	if f.series.perMachine {
		if f.block != "" {
			f.session = f.block + " / " + f.session
		}
		f.block = cmp.Or(w.text(at.machine), "machine not stated")
	}
	return f.session, f.block
}

// spell is the number of the spell of the row in hand; the next one where it is the
// first there, or has no labels.
func (f *spellFinder) spell(next int) (n int, met bool) {
	if f.session == "" && f.block == "" {
		return next, false
	}
	if f.last >= 0 {
		return f.last, true
	}
	at := f.series.store.words.sittings.At(int(f.now))
	key := [3]uint32{0, at.block, at.session}
	if f.series.perMachine {
		key[0] = at.machine
	}
	if f.last, met = f.known[key]; !met {
		f.known[key], f.last = next, next
	}
	return f.last, met
}

// takeValues lists what counts once: sorted, so that the order of rows changes no
// bit of any sum.
func (s *Sample) takeValues() {
	s.Values = append(make([]float64, 0, len(s.alone)+len(s.sessions)), s.alone...)
	for _, x := range s.Counted() {
		s.Values = append(s.Values, x.Value)
	}
	stats.Sort(s.Values)
}

// describe fills in median, mean, spread, smallest and largest value.
func (s *Sample) describe(m Metric) {
	ordered := slices.Clone(s.Raw)
	stats.Sort(ordered)
	n := len(s.Values)
	s.Median = (m.InUnit(s.Values[(n-1)/2]) + m.InUnit(s.Values[n/2])) / 2
	// montanaflynn/stats only fails on empty input.
	s.Mean, _ = descriptive.Mean(ordered)
	s.Min, _ = descriptive.Min(ordered)
	s.Max, _ = descriptive.Max(ordered)
	if n%2 == 1 || s.Min == s.Max { // a reading as it was read: exp(log(10)) is not 10
		s.Median = stats.RoundDecimal(s.Median, math.Abs(s.Median))
	}
	if s.Runs > 1 {
		s.StdDev, _ = descriptive.StandardDeviationSample(ordered)
	}
}

// middle is the median of compared values. On an interval scale the mean of two
// decimal readings is rounded as one, so that equal ones tie.
func (m Metric) middle(x []float64) float64 {
	v := stats.Median(x)
	if m.Scale == Ratio || len(x)%2 == 1 {
		return v
	}
	return stats.RoundDecimal(v, stats.MaxAbs(x))
}
