package intake

import (
	"fmt"
	"math"
	"slices"

	"tunegate/compare"
)

// slipFactor is how far from its metric's median a reading is no longer believed: no
// change of settings does that, but a lost decimal mark does.
const slipFactor = 30

// CheckSlips refuses readings that are slipFactor times the median of their metric
// under their profile, or the same part of it: slips of a decimal mark or a unit. All
// of them are told, at most 20. Runs that are set aside are not looked at, nor what
// trusted names: a reading by its place as errors write it, or benchmarks or metrics
// by name or pattern. The error is a *compare.PlacedError or a *FaultList.
func CheckSlips(series []*compare.Series, trusted []string) error {
	s := &sink{}
	for _, of := range series {
		if slices.ContainsFunc(trusted, func(name string) bool { return isOf(name, of.SeriesKey) }) {
			continue
		}
		if compare.TraitsOf(of.Unit).Scale != compare.Ratio {
			continue
		}
		middle, n := middleOf(of)
		if n < 3 || middle <= 0 {
			continue
		}
		for i, v := range of.Valid() {
			if v <= 0 || v < slipFactor*middle && v > middle/slipFactor {
				continue
			}
			o := of.At(i)
			if slices.Contains(trusted, o.At.String()) {
				continue
			}
			how := fmt.Sprintf("%.0f times", o.Value/middle)
			if o.Value < middle {
				how = fmt.Sprintf("1/%.0f of", middle/o.Value)
			}
			slip := placed(o.At, "found %s, which is %s the median of %s under %s, %s; correct it, or set the run aside with valid = no and a "+
				"reason", compare.Decimal(o.Value, 12), how, of.ID().Name(), excerpt(of.Profile), compare.Decimal(math.Round(middle*1e3)/1e3, 12))
			if err := s.fault(&SlipError{At: o.At, err: slip}); err != nil {
				return s.result(err)
			}
		}
	}
	return s.result(nil)
}

// SlipError is a reading that is too far from the others to be believed. Who can
// trust it says how. It wraps a *compare.PlacedError.
type SlipError struct {
	At  compare.Place
	err error
}

func (e *SlipError) Error() string { return e.err.Error() }

func (e *SlipError) Unwrap() error { return e.err }

// isOf reports whether a name or pattern is of a series.
func isOf(name string, key compare.SeriesKey) bool {
	for _, of := range []string{key.ID().Name(), key.Benchmark + " " + key.Metric} {
		if SameName(name, of) || compare.NameMatches(name, of) {
			return true
		}
	}
	return false
}

// middleOf is the median of the readings that count, and their number; 0 where all lie
// so close together that none can be a slip.
func middleOf(s *compare.Series) (middle float64, n int) {
	lowest, highest := math.Inf(1), 0.0
	for _, v := range s.Valid() {
		if v > 0 {
			lowest, highest = min(lowest, v), max(highest, v)
		}
	}
	if highest < slipFactor*lowest {
		return 0, 0
	}
	values := make([]float64, 0, s.Len())
	for _, v := range s.Valid() {
		values = append(values, v)
	}
	if n = len(values); n == 0 {
		return 0, 0
	}
	slices.Sort(values)
	return (values[(n-1)/2] + values[n/2]) / 2, n
}
