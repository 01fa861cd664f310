package compare

import (
	"math"
	"strings"
)

// Names of the metrics that a ladder weighs as costs.
const (
	MetricPower       = "power"
	MetricEnergy      = "energy"
	MetricTemperature = "temperature"
	MetricAmbient     = "ambient"
	MetricRise        = "temperature rise"
	// MetricEfficiency is work per joule: the score as a rate, over power.
	MetricEfficiency = "work per joule"
)

// factor of a unit in the base unit of its kind: seconds, watts, joules.
var (
	secondsIn = map[string]float64{"ns": 1e-9, "us": 1e-6, "µs": 1e-6, "ms": 1e-3, "s": 1, "min": 60, "h": 3600, "d": 86400}
	wattsIn   = map[string]float64{"mw": 1e-3, "w": 1, "kw": 1e3}
	joulesIn  = map[string]float64{"j": 1, "kj": 1e3, "wh": 3600, "kwh": 3.6e6}
)

// SecondsIn is how many seconds a unit of time holds; ok is false for others.
func SecondsIn(unit string) (seconds float64, ok bool) { return factorOf(secondsIn, unit) }

func factorOf(units map[string]float64, unit string) (float64, bool) {
	f, ok := units[strings.ToLower(unit)]
	return f, ok
}

// derive adds what runs of one profile allow to work out, run by run, so that
// it has an interval of its own: energy of a job (power times time, in J, where
// no energy is measured), the rise of the temperature over ambient (K), and
// work per joule (the score as a rate over power). A score needs no unit
// of time for the last: points a watt are as good as frames a joule.
func derive(series []*Series, policy Policy) ([]*Series, error) {
	by := map[MetricID]*Series{}
	for _, s := range series {
		by[s.ID()] = s
	}
	out := append([]*Series(nil), series...)
	for _, score := range series {
		m, err := resolveAnyway(policy, score)
		if err != nil {
			return nil, &PlacedError{firstPlace(score), err.Error()}
		}
		if m.Role != Score || m.Scale != Ratio || m.Metric != DefaultMetric {
			continue
		}
		of := func(metric string, units map[string]float64) (*Series, float64) {
			s := by[MetricID{score.Benchmark, metric}]
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
		seconds, timed := SecondsIn(m.Unit)
		energy, joules := of(MetricEnergy, joulesIn)
		if by[MetricID{score.Benchmark, MetricEnergy}] == nil && power != nil && timed {
			energy, joules = pairRuns(MetricEnergy, "J", Cost, Ratio, power, score, func(p, t float64) float64 { return p * watts * t * seconds }), 1
			out = append(out, energy)
		}
		switch {
		case timed && energy != nil: // one job over what it took
			out = append(out, pairRuns(MetricEfficiency, "1/J", Info, Ratio, energy, energy, func(e, _ float64) float64 { return 1 / (e * joules) }))
		case !timed && power != nil && m.Better != "":
			out = append(out, pairRuns(MetricEfficiency, orWord(m.Unit, "1")+"/W", Info, Ratio, score, power, func(v, p float64) float64 {
				if m.Better == Lower {
					v = 1 / v
				}
				return v / (p * watts)
			}))
		}
		hot, ambient := by[MetricID{score.Benchmark, MetricTemperature}], by[MetricID{score.Benchmark, MetricAmbient}]
		if hot != nil && ambient != nil && hot.Unit == "°C" && ambient.Unit == "°C" && by[MetricID{score.Benchmark, MetricRise}] == nil {
			out = append(out, pairRuns(MetricRise, "K", Cost, Interval, hot, ambient, func(h, a float64) float64 { return h - a }))
		}
	}
	return out, nil
}

// pairRuns makes a series from two of one benchmark, run by run. A run that one of
// them lacks is left out; one that is set aside in either is set aside.
func pairRuns(metric, unit string, role Role, scale Scale, a, b *Series, f func(x, y float64) float64) *Series {
	keyed := func(s *Series) (order []RunID, by map[RunID]Observation) {
		by = map[RunID]Observation{}
		for i, id := range s.runs() {
			if _, twice := by[id]; !twice {
				order = append(order, id)
			}
			by[id] = s.Observations[i]
		}
		return order, by
	}
	out := &Series{SeriesKey: SeriesKey{a.Profile, a.Benchmark, metric}, Unit: unit, derived: true, role: role, scale: scale}
	if role == Info {
		out.Better = Higher
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
			o.SetAside, o.Reason = true, orWord(x.Reason, y.Reason)
		case math.IsNaN(v) || math.IsInf(v, 0): // of a value that its own metric refuses
			continue
		default:
			o.Value = v
		}
		out.Observations = append(out.Observations, o)
	}
	return out
}
