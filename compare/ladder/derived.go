package ladder

import (
	"cmp"
	"math"
	"strings"

	"tunegate/compare"
)

// Names of the metrics that a ladder weighs as costs.
const (
	MetricPower       = "power"
	MetricEnergy      = "energy"
	MetricTemperature = "temperature"
	MetricRise        = "temperature rise"
	// MetricEfficiency is work per joule: the score as a rate, over power.
	MetricEfficiency = "work per joule"
)

// factor of a unit in the base unit of its kind: watts, joules.
var (
	wattsIn  = map[string]float64{"mw": 1e-3, "w": 1, "kw": 1e3}
	joulesIn = map[string]float64{"j": 1, "kj": 1e3, "wh": 3600, "kwh": 3.6e6}
)

// factorOf finds a unit, whatever the case of its letters.
func factorOf(units map[string]float64, unit string) (float64, bool) {
	f, ok := units[strings.ToLower(unit)]
	return f, ok
}

// derive adds what runs of one profile allow to work out, run by run, so that
// it has an interval of its own: energy of a job (power times time, in J, where
// no energy is measured), the rise of the temperature over ambient (K), and
// work per joule (the score as a rate over power). A score needs no unit
// of time for the last: points a watt are as good as frames a joule. Of reduced rows,
// which no longer hold the runs, nothing is worked out.
func derive(series []*compare.Series, policy compare.Policy) ([]*compare.Series, error) {
	by := map[compare.MetricID]*compare.Series{}
	for _, s := range series {
		by[s.ID()] = s
		if s.IsReduced() {
			return series, nil
		}
	}
	out := append([]*compare.Series(nil), series...)
	for _, score := range series {
		m, err := compare.ResolveAnyway(policy, score)
		if err != nil {
			return nil, compare.ErrorAt(compare.FirstPlace(score), "%w", err)
		}
		if m.Role != compare.Score || m.Scale != compare.Ratio || m.ID().Metric != compare.DefaultMetric {
			continue
		}
		id := func(metric string) compare.MetricID {
			return compare.MetricID{Benchmark: score.Benchmark, Metric: metric}
		}
		of := func(metric string, units map[string]float64) (*compare.Series, float64) {
			s := by[id(metric)]
			if s == nil {
				return nil, 0
			}
			f, ok := factorOf(units, s.Unit)
			if !ok {
				return nil, 0
			}
			return s, f
		}
		power, watts := of(MetricPower, wattsIn)
		seconds, timed := compare.SecondsIn(m.Unit)
		energy, joules := of(MetricEnergy, joulesIn)
		if by[id(MetricEnergy)] == nil && power != nil && timed {
			energy, joules = pairRuns(MetricEnergy, "J", compare.Cost, compare.Ratio, power, score,
				func(p, t float64) float64 { return p * watts * t * seconds }), 1
			out = append(out, energy)
		}
		switch {
		case timed && energy != nil: // one job over what it took
			out = append(out, pairRuns(MetricEfficiency, "1/J", compare.Info, compare.Ratio, energy, energy,
				func(e, _ float64) float64 { return 1 / (e * joules) }))
		case !timed && power != nil && m.Better != "":
			out = append(out, pairRuns(MetricEfficiency, cmp.Or(m.Unit, "1")+"/W", compare.Info, compare.Ratio, score, power,
				func(v, p float64) float64 {
					if m.Better == compare.Lower {
						v = 1 / v
					}
					return v / (p * watts)
				}))
		}
		hot, ambient := by[id(MetricTemperature)], by[id(compare.MetricAmbient)]
		if hot != nil && ambient != nil && hot.Unit == "°C" && ambient.Unit == "°C" && by[id(MetricRise)] == nil {
			out = append(out, pairRuns(MetricRise, "K", compare.Cost, compare.Interval, hot, ambient, func(h, a float64) float64 { return h - a }))
		}
	}
	return out, nil
}

// pairRuns makes a series from two of one benchmark, run by run. A run that one of
// them lacks is left out; one that is set aside in either is set aside.
func pairRuns(metric, unit string, role compare.Role, scale compare.Scale, a, b *compare.Series,
	f func(x, y float64) float64) *compare.Series {
	keyed := func(s *compare.Series) (order []compare.RunID, by map[compare.RunID]compare.Observation) {
		by = map[compare.RunID]compare.Observation{}
		for i, id := range s.RunIDs() {
			if _, twice := by[id]; !twice {
				order = append(order, id)
			}
			by[id] = s.At(i)
		}
		return order, by
	}
	out := &compare.Series{SeriesKey: compare.SeriesKey{Profile: a.Profile, Benchmark: a.Benchmark, Metric: metric}, Unit: unit,
		Derived: &compare.Derived{Role: role, Scale: scale}}
	if role == compare.Info {
		out.Better = compare.Higher
	}
	order, left := keyed(a)
	_, right := keyed(b)
	for _, k := range order {
		x, y := left[k], right[k]
		o := x
		_, both := right[k]
		switch v := f(x.Value, y.Value); {
		case !both || x.Missing || y.Missing: // which its own metric says
			continue
		case x.SetAside || y.SetAside:
			o.SetAside, o.Reason = true, cmp.Or(x.Reason, y.Reason)
		case math.IsNaN(v) || math.IsInf(v, 0): // of a value that its own metric refuses
			continue
		default:
			o.Value = v
		}
		out.Append(o)
	}
	return out
}
