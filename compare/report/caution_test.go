package report

import (
	"io"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/gate"
	"tunegate/compare/history"
	"tunegate/compare/report/doc"
)

// hazardShown is the hazard whose caution stands in a form, its lines and spaces
// aside.
func hazardShown(form string) hazard {
	switch text := strings.Join(strings.Fields(form), " "); {
	case strings.Contains(text, "eave mains wiring to licensed people"):
		return mainsHazard
	case strings.Contains(text, "within the maker's limits"), strings.Contains(text, "within the maker&#39;s limits"):
		return partsHazard
	}
	return noHazard
}

func TestComparisonCaution(t *testing.T) {
	for unit, want := range map[string]hazard{
		"s": noHazard, "dB": noHazard, "°C": partsHazard, "V": partsHazard, "J": partsHazard,
		"kvar": partsHazard, "W": mainsHazard, "kVA": mainsHazard, "A": mainsHazard,
		"Wh": mainsHazard,
	} {
		c := together(timeScore(compare.Uplift, 0.0246, 0.0225, 0.029),
			of(unit, compare.Lower, compare.Ratio, compare.Cost, compare.Noise, 0, -0.01, 0.01))
		d := ComparisonDocument(ComparisonPage{Comparison: c, Commands: typed}, Origin{})
		if got := hazardShown(textOf(t, d, doc.TextOptions{Width: 80})); got != want {
			t.Errorf("%s: hazard %d, want %d", unit, got, want)
		}
	}
	c := together(timeScore(compare.Uplift, 0.0246, 0.0225, 0.029))
	c.Caps = capOn("temperature")
	if d := ComparisonDocument(ComparisonPage{Comparison: c, Commands: typed}, Origin{}); d.Caution != caution(partsHazard) {
		t.Errorf("times under a policy with caps: %q", d.Caution)
	}
}

// setTo is a profile of times with one setting.
func setTo(name, key, value string, seconds float64) *gate.Profile {
	p := gateProfile(name, "auto", gateRows(name, "tile-render", "score", "s", seconds))
	p.Settings = map[string]string{key: value}
	return p
}

// The caution of a gate stands for what was measured, what is set differently, and
// what is capped.
func TestGateCaution(t *testing.T) {
	capped := func(metric, unit string, limit float64) *compare.Policy {
		return &compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Metric: metric, Unit: unit, Cap: number(limit)}}}
	}
	changed := func(key, before, now string) *gate.Gate {
		head := setTo("factory", key, now, 402)
		again := head.Values.List()
		for i := range again {
			again[i].Session += " again"
		}
		head.Values = compare.RowsOf(again...)
		return gateOf(t, gateState("main", nil, setTo("factory", key, before, 412)), gateState("head", nil, head))
	}
	times := func(base, head *compare.Policy) *gate.Gate {
		return gateOf(t, gateState("main", base), gateState("head", head, setTo("factory", "threads", "16", 412)))
	}
	degrees := gateProfile("factory", "auto", gateRows("factory", "tile-render", "temperature", "°C", 80))
	hot := capped("temperature", "°C", 70)
	for _, c := range []struct {
		name string
		g    *gate.Gate
		want hazard
	}{
		{"times alone", times(nil, nil), noHazard},
		{"threads are set, times measured", changed("threads", "16", "12"), noHazard},
		{"a limit is set, times measured", changed("draw-limit", "151", "140"), partsHazard},
		{"a voltage is set, times measured", changed("trim", "even", "-30 mV"), partsHazard},
		{"watts are set, times measured", changed("draw-limit", "151 W", "140 W"), mainsHazard},
		{"power measured", lift(t, compare.Policy{}, 402), mainsHazard},
		{"beyond a cap", gateOf(t, gateState("main", hot), gateState("head", hot, degrees)), partsHazard},
		{"a cap on power, times measured", times(capped("power", "W", 151), capped("power", "W", 151)), partsHazard},
		{"a cap on times", times(capped("", "s", 500), capped("", "s", 500)), noHazard},
		{"nothing changed under a cap", gateOf(t, gateState("main", hot), gateState("head", hot)), noHazard},
		{"the head's policy brings a cap", times(&compare.Policy{}, capped("temperature", "", 90)), partsHazard},
	} {
		for form, write := range map[string]func(io.Writer) error{
			"text": func(w io.Writer) error {
				return doc.Text(w, GateDocument(GatePage{Gate: c.g, Commands: typed}, Origin{}), doc.TextOptions{Width: 60})
			},
			"markdown": func(w io.Writer) error {
				return doc.Markdown(w, GateDocument(GatePage{Gate: c.g, Commands: typed}, Origin{}))
			},
			"html": func(w io.Writer) error { return Page(w, GateDocument(GatePage{Gate: c.g, Commands: typed}, Origin{})) },
			"json": func(w io.Writer) error { return gateJSONOf(w, c.g, 0) },
		} {
			if got := hazardShown(rendered(t, write)); got != c.want {
				t.Errorf("%s: hazard %d in %s, want %d", c.name, got, form, c.want)
			}
		}
	}
}

// capOn is a policy's cap on a metric.
func capOn(metric string) []compare.Entry {
	limit := 95.0
	return []compare.Entry{{Metric: metric, Cap: &limit}}
}

func TestHistoryCaution(t *testing.T) {
	limit := func(v string) *string { return &v }
	for name, c := range map[string]struct {
		set  []gate.Difference
		caps []compare.Entry
		want hazard
	}{
		"times alone":   {nil, nil, noHazard},
		"threads":       {[]gate.Difference{{Key: "threads", Before: limit("16"), Now: limit("12")}}, nil, noHazard},
		"a limit":       {[]gate.Difference{{Key: "draw-limit", Now: limit("151")}}, nil, partsHazard},
		"watts removed": {[]gate.Difference{{Key: "draw-limit", Before: limit("151 W")}}, nil, mainsHazard},
		"a cap":         {nil, capOn("temperature"), partsHazard},
	} {
		h := HistoryPage{History: &history.History{Caps: c.caps, Points: []*history.Point{{Settings: c.set}},
			Tracks: []*history.Track{{Metric: compare.Metric{Unit: "s"}}}}}
		if got := historyHazard(h); got != c.want {
			t.Errorf("%s: hazard %d, want %d", name, got, c.want)
		}
	}
}

// A run sheet and counted passes always carry the caution; the mains stand in it
// only where what is written down may be measured there.
func TestSheetAndPassesCaution(t *testing.T) {
	for unit, want := range map[string]hazard{"s": partsHazard, "°C": partsHazard, "W": mainsHazard} {
		rows := []advice.SheetRow{{Step: 1, Block: "B1", Session: "1", Run: "1", Metric: compare.Metric{Benchmark: "tile-render", Unit: unit}}}
		if got := hazardShown(markdownOf(t, SheetDocument(rows, 0))); got != want {
			t.Errorf("a sheet of %s: hazard %d, want %d", unit, got, want)
		}
	}
	if got := hazardShown(passesCaution); got != partsHazard {
		t.Errorf("passes: hazard %d", got)
	}
}

func TestPolicyCaution(t *testing.T) {
	for unit, want := range map[string]hazard{"s": noHazard, "°C": partsHazard, "W": mainsHazard} {
		f := InForce{Metrics: []compare.Metric{{Benchmark: "tile-render", Unit: unit, Cap: number(90)}, {Benchmark: "ray-preview", Unit: "W"}}}
		if d := PolicyDocument(f); d.Caution != caution(want) {
			t.Errorf("a cap in %s: %q", unit, d.Caution)
		}
	}
}
