package readings

import (
	"math"
	"testing"

	"tunegate/compare"
)

func TestEnergyName(t *testing.T) {
	for power, want := range map[string]string{
		"power": "energy", "board power": "board energy", "wall": "wall energy", "powerhouse": "powerhouse energy",
	} {
		if got := energyName(power); got != want {
			t.Errorf("%q: %q, want %q", power, got, want)
		}
	}
}

// Less time is better above a limit of what is better low, and below one of
// what is better high; where it is the other way round the row has to say so.
func TestShareOf(t *testing.T) {
	for _, c := range []struct {
		column Column
		limit  float64
		above  bool
		metric string
		better compare.Better
	}{
		{Column{Name: "temperature", Unit: "°C"}, 90, true, "temperature above 90 °C", ""},
		{Column{Name: "temperature", Unit: "°C"}, 60.5, false, "temperature below 60.5 °C", compare.Higher},
		{Column{Name: "clock", Unit: "MHz"}, 4200, false, "clock below 4200 MHz", ""},
		{Column{Name: "clock", Unit: "MHz"}, 4200, true, "clock above 4200 MHz", compare.Higher},
		{Column{Name: "fan", Unit: "%", Better: compare.Lower}, 80, true, "fan above 80 %", ""},
	} {
		metric, better := shareOf(c.column, c.limit, c.above)
		if metric != c.metric || better != c.better {
			t.Errorf("%+v: %q %q, want %q %q", c.column, metric, better, c.metric, c.better)
		}
	}
}

func TestSplitMarker(t *testing.T) {
	for cell, want := range map[string][2]string{
		"tile-render": {"tile-render", ""}, "tile-render #3": {"tile-render", "3"}, "tile-render#12": {"tile-render", "12"},
		"#3": {"#3", ""}, " #3": {" #3", ""}, "a #": {"a #", ""}, "a #3b": {"a #3b", ""}, "c# #2": {"c#", "2"},
	} {
		if b, r := splitMarker(cell); b != want[0] || r != want[1] {
			t.Errorf("%q: %q %q, want %q", cell, b, r, want)
		}
	}
}

// The names and units that the rest of the program looks for.
func TestMetricNames(t *testing.T) {
	rules := DefaultRules()
	rules.Marker = "phase"
	c, err := NewCollector(rules)
	if err != nil {
		t.Fatal(err)
	}
	head := LogHead{File: "log", Columns: []Column{
		{Name: "power", Unit: "W"}, {Name: "temperature", Unit: "°C"}, {Name: "ambient", Unit: "°C"},
	}}
	if err := c.Begin(head); err != nil {
		t.Fatal(err)
	}
	for i := range 6 {
		marker := ""
		if i > 0 && i < 5 {
			marker = "tile-render"
		}
		values := []float64{100 + float64(i), 60 + float64(i), 20}
		if err := c.Row(Reading{Line: i + 2, Time: int64(i) * 1e9, Marker: marker, Values: values}); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.End(); err != nil {
		t.Fatal(err)
	}
	s, err := c.Result()
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]float64{"power W": 102.5, "energy J": 307.5, "temperature °C": 62.5, "ambient °C": 20, "temperature rise K": 42.5}
	if len(s.Runs) != 1 || len(s.Runs[0].Metrics) != len(want) {
		t.Fatalf("%+v", s.Runs)
	}
	for _, v := range s.Runs[0].Metrics {
		if w, ok := want[v.Metric+" "+v.Unit]; !ok || v.Excluded != nil || math.Abs(*v.Value-w) > 1e-9 {
			t.Errorf("%s is %v %s, want %v", v.Metric, *v.Value, v.Unit, w)
		}
	}
}

// Apparent and reactive power are power, whose frozen sensor counts as hanging;
// energy comes from real power alone.
func TestUnitsOfPower(t *testing.T) {
	for unit, want := range map[string]struct {
		power bool
		watts float64
	}{"W": {true, 1}, "mW": {true, 1e-3}, "kW": {true, 1e3}, "VA": {true, 0}, "kVA": {true, 0}, "var": {true, 0}, "kVAr": {true, 0},
		"V": {}, "A": {}, "°C": {}, "": {}} {
		if isPower(unit) != want.power || watts(unit) != want.watts {
			t.Errorf("%q: power is %v and %v W", unit, isPower(unit), watts(unit))
		}
	}
}
