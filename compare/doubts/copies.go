package doubts

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"tunegate/compare"
	"tunegate/stats/check"
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
		for i := range s.Observations {
			o := &s.Observations[i]
			l.add(compare.Value{Profile: s.Profile, Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Machine: o.Machine,
				Session: o.Session, Block: o.Block, Run: o.Run, Value: o.Value, Missing: o.Missing, SetAside: o.SetAside, Reason: o.Reason,
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
// any, and says which; nil for none, and -1 where they are in rows.
func CopiesOf(rows []compare.Value, others ...[]compare.Value) (found *Copies, of int) {
	filed := func(rows []compare.Value) *runLog {
		l := newRunLog()
		for _, v := range rows {
			l.add(v)
		}
		return l
	}
	in, looks := filed(rows), 1+len(others)
	if found = copiesIn(in, in, looks); found != nil {
		return found, -1
	}
	for k, list := range others {
		if found = copiesIn(filed(list), in, looks); found != nil {
			return found, k
		}
	}
	return nil, -1
}

// copiesLevel is the chance, at most, that a call takes any of its rows for copies where
// all were measured.
const copiesLevel = 1e-5

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
	at := runPlace{machine: v.Machine, block: v.Block, session: v.Session, file: v.At.File, label: v.Run}
	if v.Run == "" {
		m.nth[at]++
		at.nth = m.nth[at]
	}
	if v.Missing || v.SetAside || len(m.readings) == maxReadings {
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

// logPair is two logs, or one and itself, under comparison.
type logPair struct {
	of, in *runLog
	self   bool
	ids    []compare.MetricID // that both have
	noises map[compare.MetricID]noise
}

// noise is how densely readings of a metric lie, and what may be compared.
type noise struct {
	density, step float64
	// acrossMachines and acrossBlocks say that no more than these shows the noise: readings
	// that share a machine, or a block, share its luck and may be equal more often.
	acrossMachines, acrossBlocks bool
}

func (p *logPair) noise(id compare.MetricID) noise {
	if n, known := p.noises[id]; known {
		return n
	}
	logs := []map[string][][]float64{p.of.metrics[id].sittings()}
	if !p.self {
		logs = append(logs, p.in.metrics[id].sittings())
	}
	machines := map[string][][][]float64{}
	var whole [][][]float64
	var all []float64
	within := 0
	for _, log := range logs {
		var lists [][]float64
		for _, machine := range slices.Sorted(maps.Keys(log)) {
			machines[machine] = append(machines[machine], log[machine])
			lists = append(lists, log[machine]...)
		}
		for _, x := range lists {
			within += len(x) * (len(x) - 1) / 2
			all = append(all, x...)
		}
		whole = append(whole, lists)
	}
	n := noise{acrossMachines: len(machines) > 1, acrossBlocks: within < 5, step: check.Step(all)}
	if n.acrossMachines {
		for _, lists := range machines {
			if len(slices.Concat(slices.Concat(lists...)...)) >= 4 {
				n.density, n.acrossMachines = math.Max(n.density, check.Density(n.step, lists...)), false
			}
		}
	}
	if n.density == 0 {
		n.density = check.Density(n.step, whole...)
	}
	p.noises[id] = n
	return n
}

func (n noise) chance() float64 { return math.Min(1, n.density*n.step) }

// comparable reports whether two rows may be held against each other.
func (n noise) comparable(a, b compare.Value) bool {
	return (!n.acrossMachines || a.Machine != b.Machine) && (!n.acrossBlocks || a.Block == "" || a.Block != b.Block)
}

// tooCoarse is the chance that two readings are equal from which they say nothing.
const tooCoarse = 0.2

// equalReadings is a pair of equal readings of a metric.
type equalReadings struct {
	id     compare.MetricID
	of, in reading
}

func (e equalReadings) distance() int { return e.in.run - e.of.run }

// copiesIn finds the copies of one log in another, or in itself. pairs is how many
// pairs of logs a call looks at.
//
// Equal readings are counted among all pairs, and among those that are so many runs
// apart, for whatever number: copied rows keep their order. Both by metric, and by all
// benchmarks that measure a metric together. Where nothing is equal, whole lists are
// compared up to a factor, and up to a shift, see scaled.
func copiesIn(of, in *runLog, pairs int) *Copies {
	p := &logPair{of: of, in: in, self: of == in, noises: map[compare.MetricID]noise{}}
	for _, id := range in.ids {
		if of.metrics[id] != nil {
			p.ids = append(p.ids, id)
		}
	}
	equal := p.equal()
	groups := groupsOf(p.ids)
	looks := 2 * float64(pairs*len(groups)) // for equal readings and for scaled ones
	tests := looks * float64(len(of.runs)+len(in.runs)+1)
	byDistance := map[int]map[compare.MetricID]int{}
	anywhere := map[compare.MetricID]int{}
	for _, e := range equal {
		anywhere[e.id]++
		d := e.distance()
		if byDistance[d] == nil {
			byDistance[d] = map[compare.MetricID]int{}
		}
		byDistance[d][e.id]++
	}
	level := copiesLevel / tests
	best := 1.0
	apart := map[int]bool{}
	for d, counts := range byDistance {
		for _, ids := range groups {
			if q := p.inPlace(ids, counts, d, level); q <= level {
				apart[d], best = true, math.Min(best, q)
			}
		}
	}
	loose, bestLoose := map[compare.MetricID]bool{}, level
	for _, ids := range groups {
		if q := p.anywhere(ids, anywhere, level); q <= level {
			bestLoose = math.Min(bestLoose, q)
			for _, id := range ids {
				loose[id] = true
			}
		}
	}
	var kept []equalReadings
	if len(loose) > 0 && bestLoose < best { // in another order
		best = bestLoose
		kept = slices.DeleteFunc(equal, func(e equalReadings) bool { return !loose[e.id] })
	} else {
		for d := range apart {
			kept = append(kept, p.equalAt(d)...)
		}
	}
	if len(kept) == 0 {
		return p.scaled(groups, 2*looks) // a factor and a shift
	}
	return copiesOfPairs(kept, best*tests)
}

// groupsOf are the metrics that are tested: each alone, and those of a name in all
// benchmarks together.
func groupsOf(ids []compare.MetricID) (groups [][]compare.MetricID) {
	named := map[string][]compare.MetricID{}
	var names []string
	for _, id := range ids {
		groups = append(groups, []compare.MetricID{id})
		if named[id.Metric] == nil {
			names = append(names, id.Metric)
		}
		named[id.Metric] = append(named[id.Metric], id)
	}
	for _, name := range names {
		if len(named[name]) > 1 {
			groups = append(groups, named[name])
		}
	}
	return groups
}

// equal lists the pairs of equal readings, of metrics that are fine enough.
func (p *logPair) equal() (out []equalReadings) {
	for _, id := range p.ids {
		theirs := map[float64][]reading{}
		for _, r := range p.of.metrics[id].readings {
			theirs[r.row.Value] = append(theirs[r.row.Value], r)
		}
		for _, r := range p.in.metrics[id].readings {
			for _, o := range theirs[r.row.Value] {
				if p.self && o.run >= r.run {
					continue
				}
				n := p.noise(id)
				if n.chance() > tooCoarse {
					break
				}
				if n.comparable(o.row, r.row) {
					out = append(out, equalReadings{id, o, r})
				}
			}
		}
	}
	return out
}

// equalAt lists all equal readings that are so many runs apart, however coarse.
func (p *logPair) equalAt(distance int) (out []equalReadings) {
	for _, id := range p.ids {
		theirs := map[int]reading{}
		for _, r := range p.of.metrics[id].readings {
			theirs[r.run+distance] = r
		}
		for _, r := range p.in.metrics[id].readings {
			if o, met := theirs[r.run]; met && o.row.Value == r.row.Value {
				out = append(out, equalReadings{id, o, r})
			}
		}
	}
	return out
}

// inPlace is the chance of the equal readings that are so many runs apart.
func (p *logPair) inPlace(ids []compare.MetricID, counts map[compare.MetricID]int, distance int, level float64) float64 {
	test := func(ids []compare.MetricID, pairsOf func(compare.MetricID) int) float64 {
		var metrics []check.Aligned
		for _, id := range ids {
			if n := pairsOf(id); n > 0 {
				metrics = append(metrics, check.Aligned{Pairs: n, Equal: counts[id], Chance: p.noise(id).chance()})
			}
		}
		return check.EqualInPlaceP(metrics)
	}
	if q := test(ids, func(id compare.MetricID) int { return counts[id] }); q > level { // as if no others were compared
		return q
	}
	compared := func(id compare.MetricID) (n int) {
		if p.noise(id).chance() > tooCoarse {
			return 0
		}
		theirs, mine := p.of.metrics[id].order(), p.in.metrics[id].order()
		for i, j := 0, 0; i < len(theirs) && j < len(mine); {
			switch d := theirs[i] + distance - mine[j]; {
			case d < 0:
				i++
			case d > 0:
				j++
			default:
				n, i, j = n+1, i+1, j+1
			}
		}
		return n
	}
	q := test(ids, compared)
	if q > level || len(ids) == 1 {
		return q
	}
	return test(p.independent(ids), compared)
}

// anywhere is the chance of the equal readings wherever they stand.
func (p *logPair) anywhere(ids []compare.MetricID, counts map[compare.MetricID]int, level float64) float64 {
	test := func(ids []compare.MetricID) float64 {
		var metrics []check.Overlap
		for _, id := range ids {
			if n := p.noise(id); n.chance() <= tooCoarse {
				metrics = append(metrics, check.Overlap{N: len(p.of.metrics[id].readings), M: len(p.in.metrics[id].readings), Self: p.self,
					Equal: counts[id], Chance: n.chance()})
			}
		}
		return check.EqualAnywhereP(metrics)
	}
	if !slices.ContainsFunc(ids, func(id compare.MetricID) bool { return counts[id] > 0 }) {
		return 1
	}
	q := test(ids)
	if q > level || len(ids) == 1 {
		return q
	}
	return test(p.independent(ids))
}

// independent leaves out the benchmarks whose readings another one gives: times and
// the rates worked out from them are equal together.
func (p *logPair) independent(ids []compare.MetricID) (out []compare.MetricID) {
	const same = 0.95
	series := func(id compare.MetricID) map[int]float64 {
		x := map[int]float64{}
		for _, r := range p.in.metrics[id].readings {
			x[r.run] = r.row.Value
		}
		return x
	}
	var kept []map[int]float64
	for _, id := range ids {
		x := series(id)
		if slices.ContainsFunc(kept, func(y map[int]float64) bool { return math.Abs(correlation(x, y)) > same }) {
			continue
		}
		out, kept = append(out, id), append(kept, x)
	}
	return out
}

// correlation is Pearson's of what two series have in common; 0 below four values.
func correlation(x, y map[int]float64) float64 {
	var a, b []float64
	for _, run := range slices.Sorted(maps.Keys(x)) {
		if v, both := y[run]; both {
			a, b = append(a, x[run]), append(b, v)
		}
	}
	if len(a) < 4 {
		return 0
	}
	return stat.Correlation(a, b, nil)
}

// Whole lists are compared up to a factor or a shift: of the shorter list at least
// minScaledShare has to agree. maxScaled readings of each are looked at.
const (
	minScaledShare = 0.8
	minScaled      = 4
	maxScaled      = 60
)

// scaled finds lists of a score that are others', all times a factor or moved by a
// shift, in whatever order. Within a log it does not look.
func (p *logPair) scaled(groups [][]compare.MetricID, tests float64) *Copies {
	if p.self {
		return nil
	}
	type list struct {
		p     float64
		by    float64
		pairs []equalReadings
	}
	for _, shift := range []bool{false, true} {
		lists := map[compare.MetricID]list{}
		for _, id := range p.ids {
			lists[id] = list{p: 1}
			x, y := scores(p.of.metrics[id]), scores(p.in.metrics[id])
			if x == nil || y == nil {
				continue
			}
			// What is scaled has been read in the steps of its source.
			a, b := valuesOf(x), valuesOf(y)
			within := check.Step(b)
			if !shift {
				within = math.Max(within, check.Step(a)*b[0]/a[0])
			}
			n := min(len(x), len(y))
			enough := func(k int) bool { return float64(k) >= math.Max(minScaled, minScaledShare*float64(n)) }
			sorted := [2][]reading{ascending(x), ascending(y)}
			c, d := valuesOf(sorted[0]), valuesOf(sorted[1])
			if _, pairs := check.Scaled(c, d, within, shift); !enough(len(pairs)) { // as many as in place, or more
				continue
			}
			noise := p.noise(id)
			within = math.Max(within, noise.step)
			chance := 2 * within * noise.density
			note := func(by, q float64, x, y []reading, pairs [][2]int) {
				if q *= 2; !enough(len(pairs)) || q >= lists[id].p { // in two orders: twice as many tests
					return
				}
				found := list{q, by, nil}
				for _, k := range pairs {
					found.pairs = append(found.pairs, equalReadings{id, x[k[0]], y[k[1]]})
				}
				lists[id] = found
			}
			by, at := check.ScaledInPlace(a[:n], b[:n], within, shift)
			var places [][2]int
			for _, k := range at {
				places = append(places, [2]int{k, k})
			}
			note(by, check.ScaledInPlaceP(len(at), n, chance), x, y, places)
			by, pairs := check.Scaled(c, d, within, shift)
			note(by, check.ScaledP(len(pairs), len(x), len(y), chance), sorted[0], sorted[1], pairs)
		}
		together := func(ids []compare.MetricID) float64 {
			var ps []float64
			for _, id := range ids {
				ps = append(ps, lists[id].p)
			}
			if len(ps) == 1 {
				return ps[0] * tests
			}
			return check.TogetherP(ps) * tests
		}
		for _, ids := range slices.Backward(groups) { // several together first
			q := together(ids)
			if q <= copiesLevel && len(ids) > 1 {
				ids = p.independent(ids)
				q = together(ids)
			}
			if q > copiesLevel {
				continue
			}
			var pairs []equalReadings
			by := 0.0
			for _, id := range ids {
				pairs, by = append(pairs, lists[id].pairs...), cmp.Or(by, lists[id].by)
			}
			c := copiesOfPairs(pairs, q)
			if c.Factor = by; shift {
				c.Factor, c.Shift = 0, by
			}
			return c
		}
	}
	return nil
}

// scores are the readings of a score in the order of runs; nil where there are too few,
// or where a factor means nothing.
func scores(m *metricLog) []reading {
	readings := slices.Clone(m.readings[:min(len(m.readings), maxScaled)])
	if len(readings) < minScaled {
		return nil
	}
	if t := compare.TraitsOf(readings[0].row.Unit); t.Role != compare.Score || t.Scale != compare.Ratio {
		return nil
	}
	if slices.ContainsFunc(readings, func(r reading) bool { return r.row.Value <= 0 }) {
		return nil
	}
	slices.SortStableFunc(readings, func(a, b reading) int { return cmp.Compare(a.run, b.run) })
	return readings
}

func ascending(readings []reading) []reading {
	return slices.SortedStableFunc(slices.Values(readings), func(a, b reading) int { return cmp.Compare(a.row.Value, b.row.Value) })
}

func valuesOf(readings []reading) []float64 {
	out := make([]float64, len(readings))
	for i, r := range readings {
		out[i] = r.row.Value
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
