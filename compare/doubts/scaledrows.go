package doubts

import (
	"cmp"
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/stats/check"
)

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
	type side struct {
		readings       []reading
		values, sorted []float64
		step           float64
	}
	sides := map[compare.MetricID][2]side{}
	for _, id := range p.ids {
		var of [2]side
		for k, m := range []*metricLog{p.of.metrics[id], p.in.metrics[id]} {
			if readings := scores(m); readings != nil {
				values := valuesOf(readings)
				of[k] = side{readings, values, ascending(values), check.Step(values)}
			}
		}
		sides[id] = of
	}
	for _, shift := range []bool{false, true} {
		lists := map[compare.MetricID]list{}
		for _, id := range p.ids {
			lists[id] = list{p: 1}
			of, in := sides[id][0], sides[id][1]
			if of.readings == nil || in.readings == nil {
				continue
			}
			// What is scaled has been read in the steps of its source.
			x, y, a, b, c, d := of.readings, in.readings, of.values, in.values, of.sorted, in.sorted
			within := in.step
			if !shift {
				within = math.Max(within, of.step*b[0]/a[0])
			}
			n := min(len(x), len(y))
			enough := int(math.Ceil(math.Max(minScaled, minScaledShare*float64(n))))
			if _, pairs := check.Scaled(c, d, within, shift, enough); pairs == nil { // as many as in place, or more
				continue
			}
			noise := p.noise(id)
			within = math.Max(within, noise.step)
			chance := within * noise.density
			if len(p.sharing(id)) > 0 {
				if chance *= sharedScaledNoise; chance > tooCoarseShared {
					continue
				}
			}
			note := func(by, q float64, x, y []reading, pairs [][2]int) {
				if q *= 2; len(pairs) < enough || q >= lists[id].p { // in two orders: twice as many tests
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
			by, pairs := check.Scaled(c, d, within, shift, enough)
			note(by, check.ScaledP(len(pairs), len(x), len(y), chance), byValue(x), byValue(y), pairs)
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

func ascending(values []float64) []float64 { return slices.Sorted(slices.Values(values)) }

func byValue(readings []reading) []reading {
	return slices.SortedStableFunc(slices.Values(readings), func(a, b reading) int { return cmp.Compare(a.row.Value, b.row.Value) })
}

func valuesOf(readings []reading) []float64 {
	out := make([]float64, len(readings))
	for i, r := range readings {
		out[i] = r.row.Value
	}
	return out
}
