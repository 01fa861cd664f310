package compare

import (
	"fmt"
	"iter"
	"math"
	"slices"

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
)

// Side describes the runs of one side of a comparison, in the metric's unit.
type Side struct {
	Runs     int     `json:"runs"`     // valid runs used
	Sessions int     `json:"sessions"` // 0 where none are recorded
	SetAside int     `json:"set_aside"`
	NotRun   int     `json:"not_run"`  // empty cells
	WarmUps  int     `json:"warm_ups"` // runs labelled so, not counted
	Median   float64 `json:"median"`   // of the values that were compared
	Mean     float64 `json:"mean"`     // of all runs used
	StdDev   float64 `json:"std_dev"`
	Min      float64 `json:"min"`
	Max      float64 `json:"max"`
}

// sample is one side, reduced to what is compared.
type sample struct {
	Side
	raw      []float64 // every run used, in run order
	values   []float64 // one per session or run, ascending: logarithms on a ratio scale
	sessions []spell   // how values came about, unless alone says so
	alone    []float64 // in run order, where no run has a session or block
	labelled bool      // at least one run has a session label
	blocked  map[string][]spell
	usualRun float64 // median number of runs a session
}

// spell is one session's runs, or one session's within a block.
type spell struct {
	label string
	block string    // empty outside blocks
	runs  []float64 // logarithms on a ratio scale
	value float64   // their median
}

// spells goes through how values came about. Runs that are a session each are
// not held as such: a spell takes eight times the memory of its value.
func (s sample) spells() iter.Seq[spell] {
	return func(yield func(spell) bool) {
		for i, v := range s.alone {
			if !yield(spell{runs: s.alone[i : i+1 : i+1], value: v}) {
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

// working turns a raw value into the one that is compared.
func (m Metric) working(v float64) float64 {
	if m.Scale == Ratio {
		return math.Log(v)
	}
	return v
}

// natural turns a compared value back into the metric's unit.
func (m Metric) natural(v float64) float64 {
	if m.Scale == Ratio {
		return math.Exp(v)
	}
	return v
}

// sampleOf reduces the observations that keep accepts. It is an error when a
// value is not above zero on a ratio scale.
func sampleOf(m Metric, s *Series, keep func(Observation) bool) (sample, error) {
	out := sample{Side: Side{WarmUps: s.WarmUps}, blocked: map[string][]spell{}}
	bySession := map[string]int{}
	type key struct{ block, session string }
	inBlock := map[key]int{}
	out.raw = make([]float64, 0, len(s.Observations))
	labels := slices.ContainsFunc(s.Observations, func(o Observation) bool { return o.Session != "" || o.Block != "" })
	if !labels {
		out.alone = make([]float64, 0, len(s.Observations))
	}
	for i := range s.Observations {
		o := &s.Observations[i]
		switch {
		case o.SetAside:
			out.SetAside++
			continue
		case o.Missing:
			out.NotRun++
			continue
		case !keep(*o):
			continue
		case m.Scale == Ratio && !(o.Value > 0):
			return out, &PlacedError{o.At, fmt.Sprintf("%s is %v, but a value in %s must be above zero; correct it, set the run aside with valid = no and a reason, or, where 0 is a fair result, state scale = \"interval\" in a policy",
				m.Name(), o.Value, orWord(m.Unit, "a ratio-scale unit"))}
		}
		out.raw = append(out.raw, o.Value)
		v := m.working(o.Value)
		if !labels {
			out.alone = append(out.alone, v)
			continue
		}
		label := o.Session
		if label != "" {
			out.labelled = true
		} else if o.Block == "" {
			out.sessions = append(out.sessions, spell{runs: []float64{v}})
			continue
		}
		if o.Block != "" {
			k := key{o.Block, o.Session}
			i, ok := inBlock[k]
			if !ok {
				i = len(out.blocked[o.Block])
				inBlock[k] = i
				out.blocked[o.Block] = append(out.blocked[o.Block], spell{label: o.Session})
			}
			out.blocked[o.Block][i].runs = append(out.blocked[o.Block][i].runs, v)
			label = "\x00block " + o.Block + "\x00" + o.Session
		}
		i, ok := bySession[label]
		if !ok {
			i = len(out.sessions)
			bySession[label] = i
			out.sessions = append(out.sessions, spell{label: o.Session, block: o.Block})
		}
		out.sessions[i].runs = append(out.sessions[i].runs, v)
	}
	out.Runs = len(out.raw)
	sizes := make([]float64, 0, len(out.sessions))
	out.values = append(make([]float64, 0, len(out.alone)+len(out.sessions)), out.alone...)
	for i := range out.sessions {
		out.sessions[i].value = m.middle(out.sessions[i].runs)
		out.values = append(out.values, out.sessions[i].value)
		sizes = append(sizes, float64(len(out.sessions[i].runs)))
	}
	for _, spells := range out.blocked {
		for i := range spells {
			spells[i].value = m.middle(spells[i].runs)
		}
	}
	if out.Runs == 0 {
		return out, nil
	}
	if out.labelled || len(out.blocked) > 0 {
		out.Sessions = len(out.sessions)
	}
	if out.usualRun = 1; labels {
		out.usualRun = median(sizes)
	}
	// Sorted, so that the order of rows changes no bit of any sum.
	stats.Sort(out.values)
	ordered := append([]float64(nil), out.raw...)
	stats.Sort(ordered)
	n := len(out.values)
	out.Median = (m.natural(out.values[(n-1)/2]) + m.natural(out.values[n/2])) / 2
	// montanaflynn/stats only fails on empty input.
	out.Mean, _ = descriptive.Mean(ordered)
	out.Min, _ = descriptive.Min(ordered)
	out.Max, _ = descriptive.Max(ordered)
	if n%2 == 1 || out.Min == out.Max { // a reading as it was read: exp(log(10)) is not 10
		out.Median = tidied(out.Median, math.Abs(out.Median))
	}
	if out.Runs > 1 {
		out.StdDev, _ = descriptive.StandardDeviationSample(ordered)
	}
	return out, nil
}

// reduced are the compared values in the metric's unit.
func (s sample) reduced(m Metric) []float64 {
	out := make([]float64, len(s.values))
	for i, v := range s.values {
		out[i] = m.natural(v)
	}
	return out
}

// middle is the median of compared values. On an interval scale the mean of two
// decimal readings is rounded as one, so that equal ones tie.
func (m Metric) middle(x []float64) float64 {
	v := median(x)
	if m.Scale == Ratio || len(x)%2 == 1 {
		return v
	}
	return tidied(v, magnitude(x))
}

// magnitude is the largest absolute value.
func magnitude(x ...[]float64) float64 {
	most := 0.0
	for _, values := range x {
		for _, v := range values {
			most = math.Max(most, math.Abs(v))
		}
	}
	return most
}

// tidied takes the noise of binary arithmetic off a sum, difference or mean of
// decimals of the given magnitude: it keeps twelve places, counted from that
// magnitude's first. So 80.3 - 80.1 ties with 60.4 - 60.2, and an end of an
// interval that should be 0 is.
func tidied(v, magnitude float64) float64 {
	if !(magnitude > 0) || math.IsInf(magnitude, 1) {
		return v
	}
	places := 12 - int(math.Ceil(math.Log10(magnitude)))
	if places < 0 || places > 22 { // powers of ten are exact up to 22
		return v
	}
	unit := math.Pow10(places)
	return math.Round(v*unit) / unit
}

func median(x []float64) float64 {
	if len(x) == 1 {
		return x[0]
	}
	s := append([]float64(nil), x...)
	stats.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

func orWord(s, word string) string {
	if s == "" {
		return word
	}
	return s
}
