package compare

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

func TestEnergyName(t *testing.T) {
	for power, want := range map[string]string{"power": "energy", "board power": "board energy", "wall": "wall energy", "powerhouse": "powerhouse energy"} {
		if got := energyName(power); got != want {
			t.Errorf("%q: %q, want %q", power, got, want)
		}
	}
}

// Less time is better above a limit of what is better low, and below one of
// what is better high; where it is the other way round the row has to say so.
func TestShareOf(t *testing.T) {
	for _, c := range []struct {
		column SensorColumn
		limit  float64
		above  bool
		metric string
		better Better
	}{
		{SensorColumn{Name: "temperature", Unit: "°C"}, 90, true, "temperature above 90 °C", ""},
		{SensorColumn{Name: "temperature", Unit: "°C"}, 60.5, false, "temperature below 60.5 °C", Higher},
		{SensorColumn{Name: "clock", Unit: "MHz"}, 4200, false, "clock below 4200 MHz", ""},
		{SensorColumn{Name: "clock", Unit: "MHz"}, 4200, true, "clock above 4200 MHz", Higher},
		{SensorColumn{Name: "fan", Unit: "%", Better: Lower}, 80, true, "fan above 80 %", ""},
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

// The names and units that the rest of the program looks for.
func TestSensorNames(t *testing.T) {
	rules := DefaultSensorRules()
	rules.Marker = "phase"
	c, err := NewSensorCollector(rules)
	if err != nil {
		t.Fatal(err)
	}
	head := SensorLogHead{File: "log", Columns: []SensorColumn{{Name: "power", Unit: "W"}, {Name: "temperature", Unit: "°C"}, {Name: "ambient", Unit: "°C"}}}
	if err := c.Begin(head); err != nil {
		t.Fatal(err)
	}
	for i := range 6 {
		marker := ""
		if i > 0 && i < 5 {
			marker = "tile-render"
		}
		if err := c.Row(SensorReading{Line: i + 2, Time: int64(i) * 1e9, Marker: marker, Values: []float64{100 + float64(i), 60 + float64(i), 20}}); err != nil {
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
	if len(s.Runs) != 1 || len(s.Runs[0].Metrics) != len(want) || !s.Hazard() {
		t.Fatalf("%+v", s.Runs)
	}
	for _, v := range s.Runs[0].Metrics {
		if w, ok := want[v.Metric+" "+v.Unit]; !ok || v.Reason != "" || math.Abs(*v.Value-w) > 1e-9 {
			t.Errorf("%s is %v %s, want %v", v.Metric, *v.Value, v.Unit, w)
		}
	}
}

// A policy whose [sensors] changes says so, and judges as before.
func TestPolicyDifferencesOfSensors(t *testing.T) {
	a, b := DefaultSensorRules(), DefaultSensorRules()
	if got := PolicyDifferences(Policy{Sensors: &a}, Policy{Sensors: &b}, nil); got != nil {
		t.Errorf("%q", got)
	}
	b.WarmUp = 10
	for _, old := range []*SensorRules{&a, nil} {
		if got := PolicyDifferences(Policy{Sensors: old}, Policy{Sensors: &b}, nil); len(got) != 1 || !strings.Contains(got[0], "sensors: other rules") {
			t.Errorf("%q", got)
		}
	}
}

// A share of time that falls from 100 to 0 in every run is settled: the way
// between is no step of the readings.
func TestShareOfTimeIsSettled(t *testing.T) {
	var before, after Runs
	for i := range 5 {
		for side, value := range map[*Runs]float64{&before: 100, &after: 0} {
			v := Value{Benchmark: "tile-render", Metric: "temperature above 90 °C", Unit: ShareOfTime, Run: strconv.Itoa(i + 1), Value: value}
			if err := side.Add(v); err != nil {
				t.Fatal(err)
			}
		}
	}
	c, err := Compare(before.Series(), after.Series(), [2]string{"before", "after"}, Policy{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := c.Results[0]
	if r.Role != Cost || r.Scale != Interval || r.Verdict == nil || *r.Verdict != Uplift || r.Interval == nil || *r.Interval != [2]float64{-100, -99} {
		t.Errorf("%s %s %v, want an uplift from -100 to -99", r.Role, r.Scale, r.Interval)
	}
}

// Three runs a side have a range instead of an interval, of shares all the same.
func TestRangeOfSharesOfTime(t *testing.T) {
	r := only(t, judged(t, numbers(ShareOfTime, 100, 100, 100), numbers(ShareOfTime, 0, 0, 0), Policy{}, Options{}))
	if r.Range == nil || *r.Range != [2]float64{-100, -99} {
		t.Errorf("range %v, want -100 to -99", r.Range)
	}
}
