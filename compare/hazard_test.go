package compare

import "testing"

// Power, energy, voltage, current and heat need the caution; speed, fan loudness
// and clocks do not. Only W, VA, A and Wh may be measured at the mains.
func TestHazardOf(t *testing.T) {
	for want, units := range map[Hazard][]string{
		MainsHazard: {"W", "mW", "kW", "VA", "kVA", "A", "mA", "Wh", "kWh"},
		PartsHazard: {"J", "kJ", "V", "mV", "var", "kvar", "VAr", "°C", "C", "degC", "°F", "K", "% of time"},
		NoHazard:    {"s", "fps", "points", "MB/s", "dB", "rpm", "MHz", "%", ""},
	} {
		for _, unit := range units {
			if got := HazardOf(unit); got != want {
				t.Errorf("%q: hazard %d, want %d", unit, got, want)
			}
		}
	}
}

func TestHazardOfSetting(t *testing.T) {
	for _, c := range []struct {
		key, value string
		want       Hazard
	}{
		{"draw-limit", "151", PartsHazard},
		{"draw-limit", "151 W", MainsHazard},
		{"cap", "151W", MainsHazard},
		{"cap", "0,5 kVA", MainsHazard},
		{"feed", "1.25 A", MainsHazard},
		{"cap-w", "151", MainsHazard},
		{"capWatts", "151", MainsHazard},
		{"core.voltage", "lower", PartsHazard},
		{"undervolting", "on", PartsHazard},
		{"trim", "-30 mV", PartsHazard},
		{"trim", "1.05V", PartsHazard},
		{"trim", "a curve of its own", PartsHazard},
		{"target", "80 °C", PartsHazard},
		{"target", "80C", PartsHazard},
		{"target", "80 degrees", NoHazard},
		{"powerLimit", "151", PartsHazard},
		{"peak-current", "12", PartsHazard},
		{"temperature", "80", PartsHazard},
		{"heat", "low", PartsHazard},
		{"trim-offset", "3", PartsHazard},
		{"lift", "two notches", PartsHazard},
		{"cooling.fan", "full", PartsHazard},
		{"profile", "fan at full speed", PartsHazard},
		{"amp", "2", MainsHazard},

		{"threads", "16", NoHazard},
		{"concurrent-jobs", "8", NoHazard},
		{"sample", "1", NoHazard},
		{"plan-a", "1", NoHazard},
		{"rev", "A", NoHazard},
		{"batch", "3 k", NoHazard},
		{"shirts", "8 a day", NoHazard},
		{"memory.pace", "5270", NoHazard},
		{"memory.waits", "33, 41, 43", NoHazard},
		{"firmware", "2026-02", NoHazard},
		{"firmware", "v2.1a", NoHazard},
		{"clock", "3.4 GHz", NoHazard},
		{"", "", NoHazard},
	} {
		if got := HazardOfSetting(c.key, c.value); got != c.want {
			t.Errorf("%s = %q: hazard %d, want %d", c.key, c.value, got, c.want)
		}
	}
}

func TestCapHazard(t *testing.T) {
	limit := 95.0
	for name, c := range map[string]struct {
		entry Entry
		want  Hazard
	}{
		"a unit":         {Entry{Metric: "wall", Unit: "W", Cap: &limit}, PartsHazard},
		"a name":         {Entry{Metric: "temperature", Cap: &limit}, PartsHazard},
		"no cap":         {Entry{Metric: "power", Unit: "W"}, NoHazard},
		"a cap on times": {Entry{Benchmark: "tile-render", Unit: "s", Cap: &limit}, NoHazard},
	} {
		if got := (Policy{Entries: []Entry{c.entry}}).CapHazard(); got != c.want {
			t.Errorf("%s: hazard %d, want %d", name, got, c.want)
		}
	}
}
