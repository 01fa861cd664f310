package gate_test

import (
	"testing"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/internal/comparetest"
)

func TestProgress(t *testing.T) {
	profile := func(name, baseline string, level float64) *gate.Profile {
		p := &gate.Profile{Name: name, Settings: map[string]string{"lift": baseline}, Baseline: baseline, Values: compare.RowsOf()}
		for _, s := range comparetest.Scattered(t, name, level) {
			for _, o := range s.All() {
				p.Values.Append(compare.Value{Profile: name, Benchmark: s.Benchmark, Unit: s.Unit, Session: o.Session, Value: o.Value, At: o.At})
			}
		}
		return p
	}
	policy, proposed := compare.Policy{Confidence: 0.95}, compare.Policy{Confidence: 0.9}
	base := gate.Snapshot{Name: "base", Policy: &policy}
	head := gate.Snapshot{Name: "head", Policy: &proposed, Profiles: map[string]*gate.Profile{
		comparetest.Factory: profile(comparetest.Factory, "", 400),
		comparetest.Boost:   profile(comparetest.Boost, comparetest.Factory, 403),
	}}
	comparetest.WantRisingProgress(t, func(o compare.Options) error {
		_, err := gate.Judge(base, head, o)
		return err
	})
}
