package compare

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"tunegate/stats"
)

// Minutes is how long work at the bench takes.
type Minutes struct {
	Session float64 // of a session before its first run: reboot, warm-up; 0 where not known
	Run     float64 // of a run, on average over the benchmarks; 0 where not known

	SessionFrom, RunFrom MinutesFrom // empty where not known

	ByBenchmark map[string]float64 // minutes of a run of those whose score is its time
}

// MinutesFrom is where minutes come from.
type MinutesFrom string

// The sources of minutes, the strongest first.
const (
	MinutesStated MinutesFrom = "stated"
	MinutesPolicy MinutesFrom = "policy"
	MinutesTimes  MinutesFrom = "times"  // of the runs
	MinutesScores MinutesFrom = "scores" // that are run times; a run takes at least as long
)

// MinutesOf is how long a run and a session take: as stated for the call, else by the
// policy, else by the times of the runs, else by the scores.
//
// By times a run takes the median gap from one run of a session to the next, and a
// session the shortest gap from the last run of one to the first of the next, less a
// run; an hour or more is a break and says nothing. By scores a run takes the median
// of what counts once, of those in a unit of time, from one second on.
func MinutesOf(stated Minutes, policy Policy, pairs []*Pair, series ...[]*Series) Minutes {
	m := stated.from(MinutesStated).or(policy.Bench.from(MinutesPolicy))
	if m.RunFrom == "" || m.SessionFrom == "" {
		m = m.or(minutesByTimes(slices.Concat(series...)))
	}
	if m.RunFrom == "" {
		m = m.or(minutesByScores(pairs, slices.Concat(series...)))
	}
	return m
}

func (m Minutes) from(source MinutesFrom) Minutes {
	if m.Run > 0 {
		m.RunFrom = source
	}
	if m.Session > 0 {
		m.SessionFrom = source
	}
	return m
}

// or takes from the other what is not known.
func (m Minutes) or(other Minutes) Minutes {
	if m.RunFrom == "" {
		m.Run, m.RunFrom, m.ByBenchmark = other.Run, other.RunFrom, other.ByBenchmark
	}
	if m.SessionFrom == "" {
		m.Session, m.SessionFrom = other.Session, other.SessionFrom
	}
	return m
}

// Known reports whether it is known how long a run takes.
func (m Minutes) Known() bool { return m.Run > 0 }

// RunOf is how long a run of a benchmark takes; 0 where not known.
func (m Minutes) RunOf(benchmark string) float64 {
	if own, ok := m.ByBenchmark[benchmark]; ok {
		return own
	}
	return m.Run
}

// Hours is what is missing to so many values that count once on each side, or to so
// many blocks, made as those that there are; 0 where not known. Of a suite each score
// is run.
func (m Minutes) Hours(of *Measurement, size int) float64 {
	if !m.Known() {
		return 0
	}
	parts := []*Measurement{of}
	if of.Parts != nil {
		parts = of.Parts
	}
	minutes := 0.0
	for i, have := range of.Replicates {
		more := float64(max(0, size-have))
		runs, sessions := 0.0, 0.0 // of a session in minutes; how many are in what counts once
		for _, p := range parts {
			side := p.sides()[i]
			runs += side.UsualRuns * m.RunOf(p.Benchmark)
			sessions = math.Max(sessions, float64(side.Sessions)/float64(p.layout.sizes()[i]))
		}
		switch {
		case sessions > 0:
			minutes += more * sessions * (m.Session + runs)
		case more > 0: // none are recorded: all runs of a side are made in one
			minutes += m.Session + more*runs
		}
	}
	return minutes / 60
}

// minutesByTimes reads the gaps between the times of runs. Values of one time are one
// run of each of their benchmarks.
func minutesByTimes(series []*Series) Minutes {
	type group struct{ profile, machine, block, session string }
	type stamp struct {
		time      int64
		benchmark int // its first series
	}
	stamps, first := map[group][]stamp{}, map[string]int{}
	for k, s := range series {
		if _, met := first[s.Benchmark]; !met {
			first[s.Benchmark] = k
		}
		for _, r := range s.rows() {
			if at := s.store.nanoseconds(r); at != 0 && !r.missing() {
				of := s.store.words.sittings.At(int(r.sitting))
				text := s.store.words.text
				key := group{s.Profile, text(of.machine), text(of.block), text(of.session)}
				stamps[key] = append(stamps[key], stamp{at, first[s.Benchmark]})
			}
		}
	}
	type span struct {
		machine    string
		start, end int64
		runs       int // begun at its end
	}
	const minute = float64(time.Minute)
	var gaps []float64
	var spans []span
	for at, runs := range stamps {
		slices.SortFunc(runs, func(a, b stamp) int { return cmp.Or(cmp.Compare(a.time, b.time), a.benchmark-b.benchmark) })
		runs = slices.Compact(runs)
		began := 0 // where the runs of one time begin
		for i := range runs {
			if runs[i].time != runs[began].time {
				gaps = append(gaps, float64(runs[i].time-runs[began].time)/minute/float64(i-began))
				began = i
			}
		}
		spans = append(spans, span{at.machine, runs[0].time, runs[began].time, len(runs) - began})
	}
	if len(gaps) == 0 {
		return Minutes{}
	}
	m := Minutes{Run: stats.Median(gaps), RunFrom: MinutesTimes}
	slices.SortFunc(spans, func(a, b span) int { return cmp.Or(cmp.Compare(a.machine, b.machine), cmp.Compare(a.start, b.start)) })
	const pause = 60.0
	shortest := pause
	for i := 1; i < len(spans); i++ {
		if a, b := spans[i-1], spans[i]; a.machine == b.machine && b.start > a.end {
			shortest = math.Min(shortest, math.Max(0, float64(b.start-a.end)/minute-float64(a.runs)*m.Run))
		}
	}
	if shortest < pause {
		m.Session, m.SessionFrom = shortest, MinutesTimes
	}
	return m
}

// minutesByScores takes scores in a unit of time for the time that a run takes. Where
// rows are reduced, what counts once is all that is known of runs. Scores that are not
// compared tell it, too.
func minutesByScores(pairs []*Pair, series []*Series) Minutes {
	values, paired := map[string][]float64{}, map[MetricID]bool{}
	add := func(m Metric, seconds float64, of Sample) {
		for _, v := range of.InUnit(m) {
			values[m.Benchmark] = append(values[m.Benchmark], seconds*v)
		}
	}
	for _, p := range pairs {
		if seconds, ok := SecondsIn(p.Unit); ok && p.Metric.Metric == DefaultMetric {
			paired[p.ID()] = true
			add(p.Metric, seconds, p.Before)
			add(p.Metric, seconds, p.After)
		}
	}
	for _, s := range series {
		m := Metric{Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Scale: Ratio}
		if seconds, ok := SecondsIn(s.Unit); ok && s.Metric == DefaultMetric && !paired[m.ID()] {
			if of, err := Reduce(m, s); err == nil { // else a value is at fault, of what is not compared
				add(m, seconds, of)
			}
		}
	}
	m := Minutes{ByBenchmark: map[string]float64{}}
	for _, name := range slices.Sorted(maps.Keys(values)) { // sums hang on the order
		if len(values[name]) == 0 {
			continue
		}
		usual := stats.Median(values[name])
		if usual = stats.RoundDecimal(usual, usual); usual >= 1 { // 420 as it was read, not exp(log(420))
			m.ByBenchmark[name], m.Run, m.RunFrom = usual/60, m.Run+usual/60, MinutesScores
		}
	}
	if m.RunFrom != "" {
		m.Run /= float64(len(m.ByBenchmark))
	}
	return m
}
