package report

import (
	"testing"

	"tunegate/compare"
)

// Power, energy, voltage, current and heat need the caution; speed, fan loudness
// and clocks do not. Only W, VA, A and Wh may be measured at the mains.
func TestHazardOf(t *testing.T) {
	for want, units := range map[hazard][]string{
		mainsHazard: {"W", "mW", "kW", "VA", "kVA", "A", "mA", "Wh", "kWh"},
		partsHazard: {"J", "kJ", "V", "mV", "var", "kvar", "VAr", "°C", "C", "degC", "°F", "K", "% of time"},
		noHazard:    {"s", "fps", "points", "MB/s", "dB", "rpm", "MHz", "%", ""},
	} {
		for _, unit := range units {
			if got := hazardOf(unit); got != want {
				t.Errorf("%q: hazard %d, want %d", unit, got, want)
			}
		}
	}
}

func TestHazardOfSetting(t *testing.T) {
	for _, c := range []struct {
		key, value string
		want       hazard
	}{
		{"draw-limit", "151", partsHazard},
		{"draw-limit", "151 W", mainsHazard},
		{"cap", "151W", mainsHazard},
		{"cap", "0,5 kVA", mainsHazard},
		{"feed", "1.25 A", mainsHazard},
		{"cap-w", "151", mainsHazard},
		{"capWatts", "151", mainsHazard},
		{"core.voltage", "lower", partsHazard},
		{"undervolting", "on", partsHazard},
		{"trim", "-30 mV", partsHazard},
		{"trim", "1.05V", partsHazard},
		{"trim", "a curve of its own", partsHazard},
		{"target", "80 °C", partsHazard},
		{"target", "80C", partsHazard},
		{"target", "80 degrees", noHazard},
		{"powerLimit", "151", partsHazard},
		{"peak-current", "12", partsHazard},
		{"temperature", "80", partsHazard},
		{"heat", "low", partsHazard},
		{"trim-offset", "3", partsHazard},
		{"lift", "two notches", partsHazard},
		{"cooling.fan", "full", partsHazard},
		{"profile", "fan at full speed", partsHazard},
		{"amp", "2", mainsHazard},

		{"threads", "16", noHazard},
		{"concurrent-jobs", "8", noHazard},
		{"sample", "1", noHazard},
		{"plan-a", "1", noHazard},
		{"rev", "A", noHazard},
		{"batch", "3 k", noHazard},
		{"shirts", "8 a day", noHazard},
		{"memory.pace", "5270", noHazard},
		{"memory.waits", "33, 41, 43", noHazard},
		{"firmware", "2026-02", noHazard},
		{"firmware", "v2.1a", noHazard},
		{"clock", "3.4 GHz", noHazard},
		{"", "", noHazard},
	} {
		if got := hazardOfSetting(c.key, c.value); got != c.want {
			t.Errorf("%s = %q: hazard %d, want %d", c.key, c.value, got, c.want)
		}
	}
}

func TestCapsHazard(t *testing.T) {
	limit := 95.0
	for name, c := range map[string]struct {
		entry compare.Entry
		want  hazard
	}{
		"a unit":         {compare.Entry{Metric: "wall", Unit: "W", Cap: &limit}, partsHazard},
		"a name":         {compare.Entry{Metric: "temperature", Cap: &limit}, partsHazard},
		"no cap":         {compare.Entry{Metric: "power", Unit: "W"}, noHazard},
		"a cap on times": {compare.Entry{Benchmark: "tile-render", Unit: "s", Cap: &limit}, noHazard},
	} {
		if got := capsHazard(compare.Policy{Entries: []compare.Entry{c.entry}}.Caps()); got != c.want {
			t.Errorf("%s: hazard %d, want %d", name, got, c.want)
		}
	}
}
