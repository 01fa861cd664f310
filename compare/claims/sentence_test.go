package claims

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tunegate/compare"
)

// Numbers with their units as people write them; the expected ones are the plain
// reading of each text.
func TestNumbersIn(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"Renders 46 % faster", "46±0.5 %"},
		{"4,6\u2009% and 4.60%", "4.6±0.05 %; 4.6±0.005 %"},
		{"1,250 points", "1.25±0.0005|1250±0.5 points"},
		{"12\u202f500 MB/s, 1'000 W", "12500±0.5 MB/s; 1000±0.5 W"},
		{"1,234,567.5 points", "1234567.5±0.05 points"},
		{"1.234,5 W", "1234.5±0.05 W"},
		{"version 1.22.3", ""},
		{"scene-2 of H264 in 3D at 30 fps", "30±0.5 fps"},
		{"−7 °C or -7 degrees", "-7±0.5 °C; -7±0.5 °C"},
		{"3 minutes an hour", "3±0.5 min/h"},
		{"2x, 1.5 times, 3-fold", "2±0.5 ×; 1.5±0.05 ×; 3±0.5 ×"},
		{"twice the speed, ten per cent", "100±0.5 %; 10±0.5 %"},
		{"５０ %, ٤٦ ٪, 4\u00ad6 %", "50±0.5 %; 46±0.5 %; 46±0.5 %"},
		{"46 percent, 5 per cent, 7 percentage points", "46±0.5 %; 5±0.5 %; 7±0.5 %"},
		{"between 5 to 6 °C", "5±0.5 °C; 6±0.5 °C"},
		{"5 a day", "5±0.5"},
		{"forty-six per cent of one hundred, twenty two", "46±0.5 %; 100±0.5; 22±0.5"},
		{"16 GB in 90 s", "16±0.5 GB; 90±0.5 s"},
	} {
		var all []string
		for _, n := range NumbersIn(tt.text) {
			var readings []string
			for _, r := range n.readings {
				sign := ""
				if n.negative {
					sign = "-"
				}
				readings = append(readings, fmt.Sprintf("%s%.10g±%.10g", sign, r.value, r.half))
			}
			if readings != nil {
				all = append(all, strings.TrimSpace(strings.Join(readings, "|")+" "+n.Unit))
			}
		}
		if got := strings.Join(all, "; "); got != tt.want {
			t.Errorf("%q: %s, want %s", tt.text, got, tt.want)
		}
	}
}

// A sentence that says something else than its keys fails; what no key covers is
// listed. The runs: tile-render 25 % faster, power 14 % less, heat 8 °C more.
func TestSentences(t *testing.T) {
	runs := map[string][2][]float64{
		"tile-render|score|s": {around(100), around(80)}, "tile-render|power|W": {around(250), around(215)},
		"tile-render|heat|°C": {around(70), around(78)}, "mesh-solve|score|s": {around(100), around(80)},
	}
	render := Claim{Benchmark: "tile-render", Form: Faster, Change: percentage("25")}
	power := Claim{Benchmark: "tile-render", Metric: "power", Form: Less, Change: percentage("14")}
	watts := Claim{Benchmark: "tile-render", Metric: "power", Form: Less, Change: figure("35 W")}
	heat := Claim{Benchmark: "tile-render", Metric: "heat", Form: More, Change: figure("8 °C")}
	suite := Claim{Suite: true, Form: Faster, Change: percentage("25")}
	least := render
	least.AtLeast, least.Change = true, percentage("20")
	decimal := render
	decimal.Change = percentage("25.0")
	figures := Claim{Benchmark: "tile-render", From: figure("100 s"), To: figure("80 s")}
	for _, tt := range []struct {
		Claim
		text      string
		differs   string // what of the text differs
		unchecked string
	}{
		{render, "Tiles render 25 % faster", "", ""},
		{render, "Tiles render 25\u202f% faster with Boost Lift than with factory", "", ""},
		{render, "Tiles render 250 % faster", "250 %", ""},
		{render, "Tiles render 2,5 % faster", "2,5 %", ""},
		{render, "Tiles render 25.0 % faster", "25.0 %", ""}, // to more digits than the key
		{decimal, "Tiles render 25 % faster", "", ""},        // rounded
		{render, "Tiles render 25 W faster", "25 W", ""},
		{render, "Tiles render 25 times faster", "25 times", ""},
		{render, "Tiles render faster by 250", "250", ""},
		{render, "Tiles render faster", "", "faster = 25 %"},
		{render, "Tiles render twice as fast", "twice", ""},
		{render, "Tiles render a quarter faster", "", ""},
		{render, "Tiles render 25 % faster, nearly twice as fast", "", "twice"},
		{render, "Tiles render 25 % faster and 40 % smoother", "40 %", ""},
		{render, "Tiles render 25 % faster and forty per cent smoother", "forty per cent", ""},
		{render, "Tiles render 25 % faster (100 s to 80 s)", "", ""}, // the medians
		{render, "Tiles render 25 % faster (100 s to 60 s)", "60 s", ""},
		{render, "Factory renders tiles 25 % faster", "", "Factory"},
		{render, "Tiles render 25 % faster than with factory", "", ""},
		{render, "Tiles render 25 % faster in every benchmark, and quieter", "", "in every benchmark; and quieter"},
		{render, "Every tile render is 25 % faster", "", "Every"},
		{render, "Tiles render 25 % faster for 12 studios", "", "for 12 studios"},
		{render, "Tiles render 25 % slower", "slower", ""},
		{render, "Tiles render up to 25 % faster", "", "up to"},
		{render, "Tiles render at least 25 % faster", "", "at least"},
		{least, "Tiles render at least 20 % faster", "", ""},
		{least, "Tiles render 20 % faster", "20 %", ""},
		{render, "25 % faster", "", "tile-render"},
		{render, "mesh solve is 25 % faster", "mesh solve (mesh-solve)", "tile-render"},
		{render, "Tiles render 25 % faster with quiet fan", "quiet fan (quiet-fan)", ""},
		{render, "Tiles render 25 % faster with factory than with boost-lift", "boost-lift", ""},
		{render, "tile-render is 25 % faster with boost-lift than with factory (95 % interval 24.6 to 25.4 %; 6 and 6 runs)", "24.6; 25.4 %", ""},
		{render, "Tiles render 25 % faster (99 % confidence)", "99 %", ""},
		{render, "Tiles render 25 % faster (95 % confidence)", "", ""},
		{render, "Tiles render 25 % (±2 %) faster", "", ""},
		{render, "Tiles render 25 % (±0.01 %) faster", "0.01 %", ""},
		{power, "The tile render draws 14 % less", "", ""},
		{power, "The tile render draws 14 % less and less heat", "", "and less heat"},
		{power, "The tile render draws -14 % power", "", ""},
		{watts, "The tile render draws 35 W less", "", ""},
		{watts, "The tile render draws 35 % less", "35 %", ""},
		{heat, "The tile render gets 7 to 9 °C hotter", "7; 9 °C", ""},
		{suite, "All in all 25 % faster", "", ""},
		{suite, "tile-render is 25 % faster", "tile-render", ""},
		{suite, "tile-render and mesh-solve are 25 % faster", "", ""},
		{figures, "A tile renders in 80 s instead of 100 s", "", ""},
		{figures, "A tile renders in 80 s instead of 120 s", "120 s", ""},
		{Claim{Form: Less, Change: percentage("14"), From: figure("250 W"), To: figure("215 W")}, "14 % less (250 W to 215 W)", "", ""},
	} {
		tt.Text = tt.text
		quiet := Claim{Text: "-", Benchmark: "tile-render", Before: "factory", After: "quiet-fan", Form: Faster, Change: percentage("25")}
		held, err := holdTexts(runs, tt.Claim, quiet)
		if err != nil {
			t.Errorf("%q: %v", tt.text, err)
			continue
		}
		h := held.Held[0]
		of := func(all []Finding) string {
			var out []string
			for _, f := range all {
				if f.Cause != NoRunsNamed {
					out = append(out, f.Found)
				}
			}
			return strings.Join(out, "; ")
		}
		if diff := cmp.Diff([]string{tt.differs, tt.unchecked}, []string{of(h.Differences), of(h.Unchecked)}); diff != "" {
			t.Errorf("%q: %s", tt.text, diff)
		}
		if (h.Verdict == SentenceDiffers) != (tt.differs != "") {
			t.Errorf("%q: %s", tt.text, h.Verdict)
		}
	}
}

// holdTexts holds claims against runs of factory and boost-lift; quiet-fan has the
// runs of boost-lift.
func holdTexts(runs map[string][2][]float64, all ...Claim) (*Page, error) {
	var read compare.Runs
	for name, sides := range runs {
		parts := strings.Split(name, "|")
		for k, profile := range []string{"factory", "boost-lift", "quiet-fan"} {
			for i, v := range sides[min(k, 1)] {
				if err := read.Add(compare.Value{Profile: profile, Benchmark: parts[0], Metric: parts[1], Unit: parts[2],
					Session: fmt.Sprint(profile, i), Value: v}); err != nil {
					return nil, err
				}
			}
		}
	}
	for i := range all {
		if all[i].NamesRuns() && all[i].Before == "" {
			all[i].Before, all[i].After = "factory", "boost-lift"
		}
	}
	return Hold(all, &read, compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})
}

// Two claims with one sentence cover each other's numbers.
func TestSentenceOfTwoClaims(t *testing.T) {
	runs := map[string][2][]float64{"tile|score|s": {around(100), around(80)}, "tile|power|W": {around(250), around(215)}}
	text := "The tile renders 25 % faster at 14 % less power"
	held, err := holdTexts(runs, Claim{Text: text, Benchmark: "tile", Form: Faster, Change: percentage("25")},
		Claim{Text: text, Benchmark: "tile", Metric: "power", Form: Less, Change: percentage("14")})
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range held.Held {
		if h.Verdict != Supported || len(h.Unchecked) > 0 {
			t.Errorf("%s: %s %v %v", h.Form, h.Verdict, h.Differences, h.Unchecked)
		}
	}
}

// A number of a page is covered where it stands in the sentence of a claim.
func TestCover(t *testing.T) {
	at := compare.Place{File: "page.md", Line: 3, Column: 5}
	page := []Passage{
		{Text: "Tiles  render 2.5 % FASTER. Meshes solve 12.5 % faster than that.", Marks: []Mark{{At: at}}},
		{Text: "2.5 % faster, 250 W, and 16 cores", Marks: []Mark{{At: at}}},
	}
	got := Cover("page.md", page, []Claim{{Text: "tiles render 2.5 % faster.", Form: Faster, Change: percentage("2.5")},
		{Text: "5 % faster", Form: Faster, Change: percentage("5")}})
	var open []string
	for _, o := range got.Open {
		open = append(open, fmt.Sprint(o.Text, " ", o.At.Column, " ", o.Same))
	}
	want := []string{"12.5 % 46 ", "2.5 % 5 tiles render 2.5 % faster.", "250 W 19 "}
	if diff := cmp.Diff(want, open); diff != "" || got.Total != 4 || got.Percentages() != 2 {
		t.Errorf("%d, %d: %s", got.Total, got.Percentages(), diff)
	}
}

// Any sentence is read without a panic, and what is found in it stands in it.
func TestAnySentence(t *testing.T) {
	pieces := []string{"46 %", "2.5", "2,5 %", "to", "between", "and", "twice", "forty", "-six", " per cent", "boost", "-", " ",
		"lift", "factory", "than", "tile",
		"render", "every", "(", ").", "−7 °C", "3 min/h", "±", "1.2.3", "\u00ad", "é", "\xff", "×", "half", "for all 0 at once", "power"}
	var runs compare.Runs
	for _, profile := range []string{"factory", "boost-lift", "quiet"} {
		for _, metric := range []string{"score", "power"} {
			if err := runs.Add(compare.Value{Profile: profile, Benchmark: "tile-render", Metric: metric, Unit: "s", Value: 1}); err != nil {
				t.Fatal(err)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOf(rapid.SampledFrom(pieces)).Draw(t, "pieces"), rapid.SampledFrom([]string{"", " "}).Draw(t, "between"))
		h := &Held{Claim: Claim{Text: text, Benchmark: "tile-render", Before: "factory", After: "boost-lift", Form: Faster,
			Change: percentage("2.5")}}
		(&Page{Terms: compare.Terms{Confidence: 0.95}, Held: []*Held{h}}).readSentences(&runs)
		for _, f := range append(h.Differences, h.Unchecked...) {
			found, _, _ := strings.Cut(f.Found, " (boost-lift)")
			if f.Cause != KeyNotInText && f.Cause != BenchmarkNotInText && !strings.Contains(text, found) {
				t.Fatalf("%q: %q is not in it", text, f.Found)
			}
		}
		for _, n := range NumbersIn(text) {
			if text[n.Start:n.End] != n.Text {
				t.Fatalf("%q: %+v", text, n)
			}
		}
	})
}
