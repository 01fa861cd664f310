package compare

import "testing"

// The design names these units and what each says.
func TestUnits(t *testing.T) {
	for _, c := range []struct {
		units  []string
		better Better
		scale  Scale
		role   Role
	}{
		{[]string{"s", "ms", "us", "µs", "μs", "ns", "min", "h", "S", " ms "}, Lower, Ratio, Score},
		{[]string{"fps", "FPS", "points", "pts", "MB/s", "GB/s", "frames/s", "frames/min", "passes/h", "iops", "IOPS"}, Higher, Ratio, Score},
		{[]string{"W", "mW", "kW", "VA", "kVA", "var", "VAr", "kvar", "J", "kJ", "Wh", "kWh", "V", "mV", "A", "rpm", "RPM"}, Lower, Ratio, Cost},
		{[]string{"°C", "C", "degC", "deg C", "ºC", "°F", "F", "degF", "dB", "dB(A)"}, Lower, Interval, Cost},
		{[]string{"MHz", "GHz", "mhz"}, Higher, Ratio, Info},
		{[]string{"% of time", "% of Time"}, Lower, Interval, Cost},
		{[]string{"", "MB", "%", "GiB", "nodes", "/s", "s/frame", "meters"}, "", Ratio, Score},
	} {
		for _, unit := range c.units {
			if got, want := TraitsOf(unit), (UnitTraits{c.better, c.scale, c.role}); got != want {
				t.Errorf("%q: %+v, want %+v", unit, got, want)
			}
		}
	}
}

func TestCanonicalUnit(t *testing.T) {
	for in, want := range map[string]string{
		"C": "°C", "degC": "°C", "DEGC": "°C", "deg c": "°C", "°c": "°C", "ºC": "°C",
		"F": "°F", "degF": "°F", "°F": "°F",
		"μs": "µs", "µs": "µs", // Greek mu becomes the micro sign
		" fps ": "fps", "MB/s": "MB/s", "mW": "mW", "MW": "MW", "": "",
	} {
		if got := CanonicalUnit(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestIsTime(t *testing.T) {
	for _, unit := range []string{"s", "ms", "µs", "ns", "min", "h"} {
		if !IsTime(unit) {
			t.Errorf("%q measures a duration", unit)
		}
	}
	for _, unit := range []string{"fps", "MB/s", "W", "Wh", "°C", "MHz", "points", ""} {
		if IsTime(unit) {
			t.Errorf("%q does not measure a duration", unit)
		}
	}
}

func TestMetricName(t *testing.T) {
	for want, m := range map[string]Metric{
		"tile-render":       {Benchmark: "tile-render", Metric: DefaultMetric},
		"mesh-solve":        {Benchmark: "mesh-solve"},
		"tile-render power": {Benchmark: "tile-render", Metric: "power"},
	} {
		if got := m.Name(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// The room's temperature is shown and never judged, unless a policy says so.
func TestAmbientIsNotJudged(t *testing.T) {
	m, err := (Policy{}).Resolve("tile-render", MetricAmbient, "°C", "")
	if err != nil || m.Role != Info {
		t.Errorf("%v, %+v", err, m)
	}
	m, err = Policy{Entries: []Entry{{Benchmark: "*", Metric: MetricAmbient, Role: Cost}}}.Resolve("tile-render", MetricAmbient, "°C", "")
	if err != nil || m.Role != Cost {
		t.Errorf("%v, %+v", err, m)
	}
	if m, _ = (Policy{}).Resolve("tile-render", "temperature", "°C", ""); m.Role != Cost {
		t.Errorf("%+v", m)
	}
}
