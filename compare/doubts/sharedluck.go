package doubts

import (
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/stats/check"
)

// sharedNoise is how much less readings of one block, or one machine, may vary than
// those of several, at most, where nothing else shows it: the room and the unit move
// both readings, so these lie closer, but not to less than a tenth.
const sharedNoise = 10

// sharedScaledNoise is the same where readings are compared up to a factor or a shift: what
// differs within pairs is then no noise, and cannot show how small that is.
const sharedScaledNoise = 30

// tooCoarseShared is the chance that two such readings are equal from which they say
// nothing.
const tooCoarseShared = 0.3

// sharing lists the pairs of readings of a metric that share the luck of a block, or of a
// machine, where only other blocks, or machines, show the noise: the k-th of one log with
// the k-th of the other, within one log every other with the one behind it.
func (p *logPair) sharing(id compare.MetricID) (pairs []equalReadings) {
	placed := func(r reading) bool { return r.row.Block != "" || r.row.Machine != "" }
	if !slices.ContainsFunc(p.in.metrics[id].readings, placed) || !slices.ContainsFunc(p.of.metrics[id].readings, placed) {
		return nil // without a look at the noise, which takes its time
	}
	noise := p.noise(id)
	if !noise.acrossBlocks && !noise.acrossMachines || math.IsInf(noise.density, 1) {
		return nil
	}
	type place struct {
		machine, block string
		nth            int
	}
	met, at := map[place]int{}, map[place]reading{}
	nth := func(v compare.Value) place {
		label := place{machine: v.Machine, block: v.Block}
		met[label]++
		label.nth = met[label]
		return label
	}
	for _, r := range p.of.metrics[id].readings {
		at[nth(r.row)] = r
	}
	met = map[place]int{}
	for _, r := range p.in.metrics[id].readings {
		label := nth(r.row)
		if p.self {
			if label.nth%2 == 1 {
				continue
			}
			label.nth--
		}
		if o, both := at[label]; both && !noise.comparable(o.row, r.row) {
			pairs = append(pairs, equalReadings{id, o, r})
		}
	}
	return pairs
}

// sharedCopies finds copies under the label of their own block, or machine, where each
// holds so few runs that none but others show the noise.
func (p *logPair) sharedCopies(groups [][]compare.MetricID, tests float64) *Copies {
	pairs, equal := map[compare.MetricID]int{}, map[compare.MetricID][]equalReadings{}
	differ, all := map[compare.MetricID][]float64{}, []float64(nil) // in units of the noise of all
	for _, id := range p.ids {
		for _, e := range p.sharing(id) {
			pairs[id]++
			if d := (e.in.row.Value - e.of.row.Value) * p.noise(id).density; d != 0 {
				differ[id], all = append(differ[id], d), append(all, d)
			} else {
				equal[id] = append(equal[id], e)
			}
		}
	}
	aligned, usual := map[compare.MetricID]check.Aligned{}, check.DensityOfDifferences(all)
	for id, n := range pairs {
		chance := p.noise(id).chance() * max(sharedNoise, usual, check.DensityOfDifferences(differ[id]))
		if chance <= tooCoarseShared {
			aligned[id] = check.Aligned{Pairs: n, Equal: len(equal[id]), Chance: chance}
		}
	}
	together := func(ids []compare.MetricID) float64 {
		var metrics []check.Aligned
		for _, id := range ids {
			if a, ok := aligned[id]; ok {
				metrics = append(metrics, a)
			}
		}
		return check.EqualInPlaceP(metrics) * tests
	}
	best, found := copiesLevel, map[compare.MetricID]bool{}
	for _, ids := range groups {
		q := together(ids)
		if q <= copiesLevel && len(ids) > 1 {
			q = together(p.independent(ids))
		}
		if q <= copiesLevel {
			best = math.Min(best, q)
			for _, id := range ids {
				found[id] = true
			}
		}
	}
	var kept []equalReadings
	for _, id := range p.ids {
		if _, ok := aligned[id]; ok && found[id] {
			kept = append(kept, equal[id]...)
		}
	}
	if len(kept) == 0 {
		return nil
	}
	return copiesOfPairs(kept, best)
}

// shares reports whether there are pairs of that kind.
func (p *logPair) shares() bool {
	return slices.ContainsFunc(p.ids, func(id compare.MetricID) bool { return len(p.sharing(id)) > 0 })
}
