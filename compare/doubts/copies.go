package doubts

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
)

// Copies are runs of which the values stand in other runs as well, more of them than
// chance explains: as they are, or all times a factor or moved by a shift.
type Copies struct {
	Sides  [2]Sitting // the second repeats the first
	Runs   int        // of the second: readings of a benchmark
	Factor float64    // of the second's values; 0 where they are equal, or shifted
	Shift  float64    // of the second's values; 0 where they are equal, or scaled
	P      float64    // bounds the chance of so many, over all that was looked at
}

// Sitting is one of the two places of copies. Labels that differ among its rows are
// left out.
type Sitting struct {
	Profile, Block, Session, File string
	Lines                         []int           // of the copies, ascending
	Rows                          []compare.Value // the k-th of one side belongs to the k-th of the other
}

func (s Sitting) String() string {
	out := s.Profile
	if s.Session != "" {
		out += " session " + s.Session
	}
	if s.Block != "" {
		out += " block " + s.Block
	}
	if s.File == "" {
		return out
	}
	out += " (" + s.File
	switch n := len(s.Lines); {
	case n == 0 || s.Lines[n-1] == 0:
	case n == 1:
		out += fmt.Sprintf(", line %d", s.Lines[0])
	case s.Lines[n-1]-s.Lines[0] == n-1:
		out += fmt.Sprintf(", lines %d to %d", s.Lines[0], s.Lines[n-1])
	default:
		out += fmt.Sprintf(", %d lines from %d to %d", n, s.Lines[0], s.Lines[n-1])
	}
	return out + ")"
}

// CopiesAmong finds copies among the runs that count of all series: of one profile,
// and of every two.
func CopiesAmong(series []*compare.Series) []Copies {
	var logs []*runLog
	by := map[string]*runLog{}
	for _, s := range series {
		l := by[s.Profile]
		if l == nil {
			l = newRunLog()
			by[s.Profile], logs = l, append(logs, l)
		}
		for i := range s.Len() {
			o := s.At(i)
			l.add(compare.Value{Profile: s.Profile, Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Machine: o.Machine,
				Session: o.Session, Block: o.Block, Run: o.Run, Value: o.Value, Missing: o.Missing, Reduced: o.Reduced, SetAside: o.SetAside, Reason: o.Reason,
				At: o.At})
		}
	}
	var out []Copies
	for k, b := range logs {
		for _, a := range logs[:k+1] {
			if c := copiesIn(a, b, len(logs)*(len(logs)+1)/2); c != nil {
				out = append(out, *c)
			}
		}
	}
	return out
}

// CopiesOf finds copies among rows, or copies in rows of the first of others that has
// any, those that are set aside there included, and says which; nil for none, and -1 where
// they are in rows.
func CopiesOf(rows *compare.Rows, others ...*compare.Rows) (found *Copies, of int) {
	filed := func(rows *compare.Rows, all bool) *runLog {
		l := newRunLog()
		full := map[uint32]bool{} // metrics of which enough is known
		for i := range rows.Len() {
			of := rows.MetricNumber(i)
			if full[of] {
				continue
			}
			v := rows.At(i)
			v.Reduced = nil // medians are not equal by chance either
			v.SetAside = v.SetAside && !all
			l.add(v)
			if len(l.metrics[v.ID()].readings) == maxReadings {
				full[of] = true
			}
		}
		return l
	}
	in, looks := filed(rows, false), 1+len(others)
	if found = copiesIn(in, in, looks); found != nil {
		return found, -1
	}
	for k, list := range others {
		if found = copiesIn(filed(list, true), in, looks); found != nil {
			return found, k
		}
	}
	return nil, -1
}

// copiesLevel is the chance, at most, that a call takes any of its rows for copies where
// all were measured.
const copiesLevel = 1e-4

// maxReadings is how many valid readings of a metric in a log are looked at: a longer
// one has its copies among them, too.
const maxReadings = 1000

// runLog holds the readings of a profile by metric, each with the number of its run.
type runLog struct {
	runs    map[runPlace]int // the number of a run, from 0
	ids     []compare.MetricID
	metrics map[compare.MetricID]*metricLog
}

// runPlace is what tells the runs of a log apart: the label, or its number there.
type runPlace struct {
	machine, block, session, file, label string
	nth                                  int
}

type metricLog struct {
	readings []reading
	runs     []int            // of the readings, ascending; nil where nobody asked
	nth      map[runPlace]int // values without a label so far
}

// order are the runs of the readings, ascending.
func (m *metricLog) order() []int {
	if m.runs == nil {
		for _, r := range m.readings {
			m.runs = append(m.runs, r.run)
		}
		slices.Sort(m.runs)
	}
	return m.runs
}

type reading struct {
	run int
	row compare.Value
}

func newRunLog() *runLog {
	return &runLog{map[runPlace]int{}, nil, map[compare.MetricID]*metricLog{}}
}

func (l *runLog) add(v compare.Value) {
	id := v.ID()
	m := l.metrics[id]
	if m == nil {
		m = &metricLog{nth: map[runPlace]int{}}
		l.metrics[id], l.ids = m, append(l.ids, id)
	}
	if len(m.readings) == maxReadings {
		return
	}
	at := runPlace{machine: v.Machine, block: v.Block, session: v.Session, file: v.At.File, label: v.Run}
	if v.Run == "" {
		m.nth[at]++
		at.nth = m.nth[at]
	}
	if v.Missing || v.SetAside || v.Reduced != nil || strings.EqualFold(v.Run, compare.WarmUp) {
		return
	}
	run, met := l.runs[at]
	if !met {
		run = len(l.runs)
		l.runs[at] = run
	}
	m.readings = append(m.readings, reading{run, v})
}

// sittings are the values of a metric by machine, and there by sitting.
func (m *metricLog) sittings() map[string][][]float64 {
	at, out := map[runPlace]int{}, map[string][][]float64{}
	for _, r := range m.readings {
		v := r.row
		key := runPlace{machine: v.Machine, block: v.Block, session: v.Session, file: v.At.File}
		k, met := at[key]
		if !met {
			k = len(out[v.Machine])
			at[key], out[v.Machine] = k, append(out[v.Machine], nil)
		}
		out[v.Machine][k] = append(out[v.Machine][k], v.Value)
	}
	return out
}

// copiesOfPairs names the rows of both sides.
func copiesOfPairs(pairs []equalReadings, p float64) *Copies {
	slices.SortStableFunc(pairs, func(a, b equalReadings) int { return cmp.Or(a.in.run-b.in.run, a.of.run-b.of.run) })
	out := &Copies{P: math.Min(1, p)}
	seen := map[string]bool{}
	runs := map[string]bool{}
	for _, e := range pairs {
		where := fmt.Sprint(e.id, e.in.run)
		if seen[where] {
			continue
		}
		seen[where], runs[fmt.Sprint(e.id.Benchmark, "\x00", e.in.run)] = true, true
		for k, row := range []compare.Value{e.of.row, e.in.row} {
			out.Sides[k].Rows = append(out.Sides[k].Rows, row)
		}
	}
	out.Runs = len(runs)
	for k := range out.Sides {
		s := &out.Sides[k]
		first := s.Rows[0]
		common := func(label func(compare.Value) string) string {
			if slices.ContainsFunc(s.Rows, func(v compare.Value) bool { return label(v) != label(first) }) {
				return ""
			}
			return label(first)
		}
		s.Profile, s.File = first.Profile, first.At.File
		s.Session = common(func(v compare.Value) string { return v.Session })
		s.Block = common(func(v compare.Value) string { return v.Block })
		for _, v := range s.Rows {
			if v.At.File == s.File {
				s.Lines = append(s.Lines, v.At.Line)
			}
		}
		slices.Sort(s.Lines)
		s.Lines = slices.Compact(s.Lines)
	}
	return out
}
