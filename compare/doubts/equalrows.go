package doubts

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"tunegate/compare"
	"tunegate/stats/check"
)

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
	// possible is the chance that two are equal if they are as coarse as few may be, see
	// check.Steps.
	possible float64
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
	var all [][]float64
	within := 0
	for _, log := range logs {
		var lists [][]float64
		for _, machine := range slices.Sorted(maps.Keys(log)) {
			machines[machine] = append(machines[machine], log[machine])
			lists = append(lists, log[machine]...)
		}
		for _, x := range lists {
			within += len(x) * (len(x) - 1) / 2
		}
		whole, all = append(whole, lists), append(all, slices.Concat(lists...))
	}
	n := noise{acrossMachines: len(machines) > 1, acrossBlocks: within < 5}
	step, possible := check.Steps(all...)
	n.step = step
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
	if n.possible = n.chance(); possible > step {
		n.possible = math.Max(n.possible, math.Min(1, possible*check.SmoothDensity(whole...)))
	}
	p.noises[id] = n
	return n
}

func (n noise) chance() float64 { return math.Min(1, n.density*n.step) }

// possibleLevel is the chance that so many readings are equal above which copies are not
// told from readings that may be coarse. That these look so fine is rare in itself, so it
// holds for one test, where copiesLevel holds for all.
const possibleLevel = 0.01

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
	// A third of the chance each is for rows that follow the others' from the first on, for
	// those elsewhere, and for scaled ones; a quarter where rows share blocks or machines.
	shares := p.shares()
	looks := 3 * float64(pairs*len(groups))
	if shares {
		looks = 4 * float64(pairs*len(groups))
	}
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
	best := 1.0
	apart := map[int]bool{}
	for d, counts := range byDistance {
		times := tests
		if d == 0 {
			times = looks
		}
		for _, ids := range groups {
			if q := p.inPlace(ids, counts, d, copiesLevel/times) * times; q <= copiesLevel {
				apart[d], best = true, math.Min(best, q)
			}
		}
	}
	loose, bestLoose := map[compare.MetricID]bool{}, copiesLevel
	look := func(level float64) {
		for _, ids := range groups {
			if q := p.anywhere(ids, anywhere, level) * tests; q <= copiesLevel {
				bestLoose = math.Min(bestLoose, q)
				for _, id := range ids {
					loose[id] = true
				}
			}
		}
	}
	if look(copiesLevel / tests); len(loose) > 0 || len(apart) > 0 {
		look(0) // beside copies that are certain, those that may be coarse readings are copies, too
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
	if len(kept) == 0 && shares {
		if found := p.sharedCopies(groups, looks); found != nil {
			return found
		}
	}
	if len(kept) == 0 {
		return p.scaled(groups, 2*looks) // a factor and a shift
	}
	return copiesOfPairs(kept, best)
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
		var metrics, coarse []check.Aligned
		for _, id := range ids {
			if n := pairsOf(id); n > 0 {
				equal := min(n, counts[id]) // readings under one label twice make more pairs
				metrics = append(metrics, check.Aligned{Pairs: n, Equal: equal, Chance: p.noise(id).chance()})
				coarse = append(coarse, check.Aligned{Pairs: n, Equal: equal, Chance: p.noise(id).possible})
			}
		}
		return math.Max(check.EqualInPlaceP(metrics), check.EqualInPlaceP(coarse)*level/possibleLevel)
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
		var metrics, coarse []check.Overlap
		for _, id := range ids {
			if n := p.noise(id); n.chance() <= tooCoarse {
				o := check.Overlap{N: len(p.of.metrics[id].readings), M: len(p.in.metrics[id].readings), Self: p.self, Equal: counts[id],
					Chance: n.chance()}
				metrics = append(metrics, o)
				o.Chance = n.possible
				coarse = append(coarse, o)
			}
		}
		return math.Max(check.EqualAnywhereP(metrics), check.EqualAnywhereP(coarse)*level/possibleLevel)
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
