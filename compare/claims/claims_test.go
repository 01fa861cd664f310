package claims

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// figure is a number as a page prints it: "14.0", "250 W".
func figure(text string) *Figure {
	f := &Figure{Text: text}
	number, unit, _ := strings.Cut(text, " ")
	fmt.Sscan(number, &f.Value)
	_, decimals, _ := strings.Cut(number, ".")
	f.Half, f.Unit = 0.5*math.Pow(10, -float64(len(decimals))), unit
	return f
}

func percentage(text string) *Figure {
	f := figure(text)
	f.Unit = "%"
	return f
}

func percentages(texts ...string) (out []Figure) {
	for _, s := range texts {
		out = append(out, *percentage(s))
	}
	return out
}

func heldAlone(t testing.TB, c Claim) *Held {
	t.Helper()
	out, err := Hold([]Claim{c}, &compare.Runs{}, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return out.Held[0]
}

// Worked by hand: 215/250 = 0.86, 250/215 = 1.16279; 1.041 x 1.026 = 1.068066;
// 80/100 = 0.8, 100/80 = 1.25; 1/1.05 = 0.95238.
func TestClaimArithmetic(t *testing.T) {
	for _, tt := range []struct {
		name string
		Claim
		fault string // empty: right
		cause Cause
		made  string // by what the claim lists
	}{
		{"250 W to 215 W", Claim{Form: Less, Change: percentage("14"), From: figure("250 W"), To: figure("215 W")}, "", "", "14.0 % less"},
		{"one decimal", Claim{Form: Less, Change: percentage("14.0"), From: figure("250 W"), To: figure("215 W")}, "", "", "14.0 % less"},
		{"wrong base", Claim{Form: Less, Change: percentage("16.3"), From: figure("250 W"), To: figure("215 W")}, FaultBase, OtherSide,
			"14.0 % less"},
		{"wrong base, upwards", Claim{Form: More, Change: percentage("14.0"), From: figure("215 W"), To: figure("250 W")}, FaultBase, OtherSide,
			"16.3 % more"},
		{"25 % for 20 %", Claim{Form: Less, Change: percentage("25"), From: figure("100.0 J"), To: figure("80.0 J")}, FaultBase, OtherSide,
			"20.0 % less"},
		{"the other way round", Claim{Form: Less, Change: percentage("14.0"), From: figure("215 W"), To: figure("250 W")}, FaultDirection,
			SidesSwapped, "-16.3 % less"},
		{"wrong word", Claim{Form: Less, Change: percentage("16.3"), From: figure("215 W"), To: figure("250 W")}, FaultDirection, OtherDirection,
			"-16.3 % less"},
		{"faster and less time", Claim{Form: Faster, Change: percentage("4.8"), From: figure("105.00 s"), To: figure("100.00 s")}, FaultBase,
			OtherSide, "5.0 % faster"},
		{"faster", Claim{Form: Faster, Change: percentage("5.0"), From: figure("105.00 s"), To: figure("100.00 s")}, "", "", "5.0 % faster"},
		{"less time", Claim{Form: LessTime, Change: percentage("4.76"), From: figure("105.00 s"), To: figure("100.00 s")}, "", "",
			"4.76 % less-time"},
		{"less time and faster", Claim{Form: LessTime, Change: percentage("5.00"), From: figure("105.00 s"), To: figure("100.00 s")}, FaultBase,
			OtherSide, "4.76 % less-time"},
		{"more time and slower", Claim{Form: Slower, Change: percentage("25.0"), From: figure("80.00 s"), To: figure("100.00 s")}, FaultBase,
			OtherSide, "20.0 % slower"},
		{"slower and more time", Claim{Form: MoreTime, Change: percentage("20.0"), From: figure("80.00 s"), To: figure("100.00 s")}, FaultBase,
			OtherSide, "25.0 % more-time"},
		{"a rate", Claim{Form: Faster, Change: percentage("25.0"), From: figure("80.0 fps"), To: figure("100.0 fps")}, "", "", "25.0 % faster"},
		{"a rate, less time", Claim{Form: LessTime, Change: percentage("20.0"), From: figure("80.0 fps"), To: figure("100.0 fps")}, "", "",
			"20.0 % less-time"},
		{"what is left", Claim{Form: Less, Change: percentage("86.0"), From: figure("250 W"), To: figure("215 W")}, FaultBase, WhatIsLeft,
			"14.0 % less"},
		{"a difference", Claim{Form: Less, Change: percentage("35"), From: figure("250 W"), To: figure("215 W")}, FaultBase, NotAPercentage,
			"14.0 % less"},
		{"of the mean", Claim{Form: Less, Change: percentage("15.1"), From: figure("250 W"), To: figure("215 W")}, FaultBase, OfTheMean,
			"14.0 % less"},
		{"simply wrong", Claim{Form: Less, Change: percentage("12.0"), From: figure("250 W"), To: figure("215 W")}, FaultChange, ChangeOfFigures,
			"14.0 % less"},
		{"in the unit", Claim{Form: Less, Change: figure("35 W"), From: figure("250 W"), To: figure("215 W")}, "", "", "35 W less"},
		{"wrong in the unit", Claim{Form: Less, Change: figure("30 W"), From: figure("250 W"), To: figure("215 W")}, FaultChange, ChangeOfFigures,
			"35 W less"},
		{"degrees", Claim{Form: Less, Change: percentage("8"), From: figure("78 °C"), To: figure("72 °C")}, FaultDegrees, NoZero,
			"-6 °C more"},
		// 412/402 = 1.02488, but 412.27/402.42 = 1.02448: a figure may have been rounded after the change was taken.
		{"from figures not yet rounded", Claim{Form: Faster, Change: percentage("2.4"), From: figure("412 s"), To: figure("402 s")}, "", "",
			"2.5 % faster"},
		{"digits", Claim{Form: Less, Change: percentage("14.003"), From: figure("250 W"), To: figure("215 W")}, FaultDigits, DigitsOfFigures,
			"14.00 % less"},
		{"at least", Claim{Form: Less, Change: percentage("10"), AtLeast: true, From: figure("250 W"), To: figure("215 W")}, "", "",
			"14.0 % less"},
		{"at least, and not", Claim{Form: Less, Change: percentage("20"), AtLeast: true, From: figure("250 W"), To: figure("215 W")}, FaultChange,
			ChangeOfFigures, "14.0 % less"},

		{"steps added", Claim{Form: Faster, Change: percentage("6.7"), Steps: percentages("4.1", "2.6")}, FaultAdded, SumOfSteps,
			"6.81 % faster"},
		{"steps", Claim{Form: Faster, Change: percentage("6.8"), Steps: percentages("4.1", "2.6")}, "", "", "6.81 % faster"},
		{"steps down", Claim{Form: Less, Change: percentage("14.5"), Steps: percentages("10.0", "5.0")}, "", "", "14.50 % less"},
		{"steps down, added", Claim{Form: Less, Change: percentage("15.0"), Steps: percentages("10.0", "5.0")}, FaultAdded, SumOfSteps,
			"14.50 % less"},
		{"steps up and down", Claim{Form: Faster, Change: percentage("12.5"), Steps: percentages("25.00", "-10.00")}, "", "", "12.50 % faster"},
		{"steps up and down, added", Claim{Form: Faster, Change: percentage("15"), Steps: percentages("25.00", "-10.00")}, FaultAdded, SumOfSteps,
			"12.5 % faster"},
		{"steps, simply wrong", Claim{Form: Faster, Change: percentage("7.5"), Steps: percentages("4.1", "2.6")}, FaultProduct, ProductOfSteps,
			"6.81 % faster"},
		{"sum and product are the same", Claim{Form: Faster, Change: percentage("7"), Steps: percentages("4.1", "2.6")}, "", "", "6.8 % faster"},

		// (2 + 4 + 6) / 3 = 4; (1.02 x 1.04 x 1.06)^(1/3) = 1.039872.
		{"average", Claim{Form: Faster, Change: percentage("4.0"), AverageOf: percentages("2", "4", "6")}, "", "", "3.99 % faster"},
		{"geometric mean", Claim{Form: Faster, Change: percentage("3.99"), AverageOf: percentages("2.00", "4.00", "6.00")}, "", "",
			"3.987 % faster"},
		{"no average", Claim{Form: Faster, Change: percentage("5.0"), AverageOf: percentages("2.0", "4.0", "6.0")}, FaultAverage, MeanOfList,
			"3.99 % faster"},
		{"of gains only", Claim{Form: Faster, Change: percentage("5.0"), AverageOf: percentages("4.0", "6.0", "-2.0")}, FaultAverage, MeanOfGains,
			"2.61 % faster"},
		{"median", Claim{Form: Faster, Change: percentage("3.0"), AverageOf: percentages("2.0", "3.0", "10.0")}, FaultAverage, MedianOfList,
			"4.94 % faster"},
		{"sum", Claim{Form: Faster, Change: percentage("12.0"), AverageOf: percentages("2.0", "4.0", "6.0")}, FaultAverage, SumOfList,
			"3.99 % faster"},
		// 1 - (0.5 x 0.8)^(1/2) = 0.36754.
		{"of falls", Claim{Form: Less, Change: percentage("36.8"), AverageOf: percentages("50.0", "20.0")}, "", "", "36.75 % less"},
	} {
		h := heldAlone(t, tt.Claim)
		want := Supported
		if tt.fault != "" {
			want = WrongArithmetic
		}
		if h.Verdict != want || tt.fault == "" && len(h.Faults) != 0 || tt.fault != "" && (len(h.Faults) != 1 || h.Faults[0].Kind != tt.fault) {
			t.Errorf("%s: %s, %+v; want %q", tt.name, h.Verdict, h.Faults, tt.fault)
			continue
		}
		m := h.Exact[0]
		if got := fmt.Sprintf("%s %s %s", compare.Decimal(m.Change, m.Places), m.Unit, m.Form); got != tt.made {
			t.Errorf("%s: makes %q, want %q", tt.name, got, tt.made)
		}
		if tt.fault != "" && h.Faults[0].Cause != tt.cause {
			t.Errorf("%s: %s, want %s", tt.name, h.Faults[0].Cause, tt.cause)
		}
	}
}

// What a fault holds besides its cause. By hand: 214.5/250.5 and 215.5/249.5 leave
// 14.37 and 13.63 % less; (4 + 6 - 2) / 3 = 2.667.
func TestWhatFaultsHold(t *testing.T) {
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 0.005 {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	digits := heldAlone(t, Claim{Form: Less, Change: percentage("14.003"), From: figure("250 W"), To: figure("215 W")}).Faults[0]
	near("the least change", digits.Lo, 13.63)
	near("the largest change", digits.Hi, 14.37)
	time := heldAlone(t, Claim{Form: Faster, Change: percentage("4.8"), From: figure("105.00 s"), To: figure("100.00 s")}).Faults[0]
	if near("the speed", time.Right, 5); !time.Inverse || time.Places != 1 {
		t.Errorf("%+v", time)
	}
	if power := heldAlone(t, Claim{Form: Less, Change: percentage("16.3"), From: figure("250 W"),
		To: figure("215 W")}).Faults[0]; power.Inverse {
		t.Errorf("power is not the inverse of itself: %+v", power)
	}
	gains := heldAlone(t, Claim{Form: Faster, Change: percentage("5.0"), AverageOf: percentages("4.0", "6.0", "-2.0")}).Faults[0]
	if near("the mean", gains.Made.Mean, 2.667); gains.Count != 2 {
		t.Errorf("%d gains, want 2", gains.Count)
	}
	steps := heldAlone(t, Claim{Form: Faster, Change: percentage("6.7"), Steps: percentages("4.1", "2.6")}).Faults[0]
	near("100 times the product", 100*steps.Made.Product, 106.8066)
}

// Several faults of one claim are all listed.
func TestClaimListsAllFaults(t *testing.T) {
	h := heldAlone(t, Claim{Form: Less, Change: percentage("16.3"), From: figure("250 W"), To: figure("215 W"),
		Steps: percentages("10.0", "6.3")})
	if len(h.Faults) != 2 || h.Faults[0].Kind != FaultBase || h.Faults[1].Kind != FaultAdded {
		t.Errorf("%+v", h.Faults)
	}
}

// The words are one change: whatever two figures are, each form made from them
// is right, its mirror image is the wrong base, and the other word the wrong
// direction.
func TestClaimFormsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, to := rapid.Float64Range(100, 110).Draw(t, "from"), rapid.Float64Range(115, 160).Draw(t, "to")
		if rapid.Bool().Draw(t, "falls") {
			from, to = to, from
		}
		unit := rapid.SampledFrom([]string{"s", "fps", "MB/s"}).Draw(t, "unit")
		form := rapid.SampledFrom([]Form{Faster, Slower, LessTime, MoreTime, More, Less}).Draw(t, "form")
		h := &Held{Claim: Claim{From: figure(fmt.Sprintf("%.6f %s", from, unit)), To: figure(fmt.Sprintf("%.6f %s", to, unit))}}
		change, lo, hi := h.figuresMake(form, true, unit == "s")
		if !(lo <= change && change <= hi) {
			t.Fatalf("%v outside %v to %v", change, lo, hi)
		}
		if change < 0 {
			form, change = form.Opposite(), -change
		}
		claim := h.Claim
		claim.Form, claim.Change = form, percentage(fmt.Sprintf("%.2f", change))
		if got := heldOnly(t, claim); len(got.Faults) != 0 {
			t.Errorf("%+v: %+v", claim, got.Faults)
		}
		claim.Change = percentage(fmt.Sprintf("%.2f", 100*otherBase(form, change/100)))
		if got := heldOnly(t, claim); len(got.Faults) != 1 || got.Faults[0].Kind != FaultBase {
			t.Errorf("%s %s: %+v", form, claim.Change.Text, got.Faults)
		}
		claim.Form, claim.Change = form.Opposite(), percentage(fmt.Sprintf("%.2f", change))
		if form.OfSpeed() || form == More { // "120 % less" no reader lets through
			if got := heldOnly(t, claim); len(got.Faults) != 1 || got.Faults[0].Kind != FaultDirection {
				t.Errorf("%s %s: %+v", claim.Form, claim.Change.Text, got.Faults)
			}
		}
	})
}

func heldOnly(t *rapid.T, c Claim) *Held {
	out, err := Hold([]Claim{c}, &compare.Runs{}, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return out.Held[0]
}

func TestJudgeClaim(t *testing.T) {
	for _, tt := range []struct {
		real, canSettle bool
		lo, hi, a, b    float64
		atLeast, loss   bool
		want            Verdict
	}{
		{true, true, 2, 3, 2.45, 2.55, false, false, Supported},
		{true, true, 2, 3, 3.05, 3.15, false, false, Overstated},
		{true, true, 2, 3, 2.95, 3.05, false, false, Supported}, // 3.0 is what 3.02 rounds to
		{true, true, 2, 3, 1.85, 1.95, false, false, Understated},
		{true, true, 2, 3, 1.95, 2.05, false, false, Supported},
		{true, true, -3, -2, 1, 1.1, false, false, Contradicted},
		{false, true, -1, 2, 2.5, 3.5, false, false, Contradicted},
		{false, true, -1, 2, 1.5, 2.5, false, false, NotSettled},
		{false, true, 0.1, 2, 0.5, 1.5, false, false, NotSettled}, // real alone, not among the others
		{false, true, -3, -1, 0.5, 1.5, false, false, Contradicted},
		{false, false, -3, -1, 0.5, 1.5, false, false, NotSettled},
		{true, true, 2, 3, 2, 2.1, true, false, Supported},
		{true, true, 2, 3, 2.5, 2.6, true, false, NotSettled},
		{true, true, 2, 3, 3.1, 3.2, true, false, Overstated},
		{true, true, 2, 3, 1, 1.1, true, false, Supported},
		{true, true, 8, 10, 4.5, 5.5, false, true, Overstated}, // "only 5 % more power"
		{true, true, 8, 10, 11.5, 12.5, false, true, Understated},
		{true, true, 8, 10, 8.5, 9.5, false, true, Supported},
	} {
		own := [2]float64{tt.lo, tt.hi}
		if got := judgeClaim(tt.real, tt.canSettle, own, own, tt.a, tt.b, tt.atLeast, tt.loss); got != tt.want {
			t.Errorf("%+v: %s", tt, got)
		}
		// Beyond the interval of the change alone, within that for all at once: nobody is
		// accused, and what would be too favourable is not supported.
		wide := [2]float64{tt.lo - 10, tt.hi + 10}
		got := judgeClaim(tt.real, tt.canSettle, own, wide, tt.a, tt.b, tt.atLeast, tt.loss)
		within := map[Verdict]Verdict{Overstated: NotSettled, Understated: Supported}
		if want, ok := within[tt.want]; ok && got != want {
			t.Errorf("%+v within the interval for all at once: %s", tt, got)
		}
	}
}

// page holds claims against runs of two profiles with the given benchmarks:
// values before and after by "name unit".
func page(t testing.TB, runs map[string][2][]float64, policy compare.Policy, claims ...Claim) (*Page, error) {
	t.Helper()
	var all compare.Runs
	for name, sides := range runs {
		benchmark, rest, _ := strings.Cut(name, "|")
		metric, unit, _ := strings.Cut(rest, "|")
		for k, values := range sides {
			for i, v := range values {
				if err := all.Add(compare.Value{Profile: comparetest.Names[k], Benchmark: benchmark, Metric: metric, Unit: unit,
					Session: fmt.Sprint(k, i), Value: v}); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	for i := range claims {
		claims[i].Before, claims[i].After = comparetest.Factory, comparetest.Boost
	}
	return Hold(claims, &all, policy, compare.Options{Resamples: 1000, Seed: 1})
}

// around is six values that lie so close to v that every interval is narrow.
func around(v float64) []float64 {
	return []float64{0.999 * v, 1.001 * v, 0.9995 * v, 1.0005 * v, v, 1.0002 * v}
}

// The same change in other words gets the same verdict: 100 s to 80 s is 25 %
// faster, 20 % less time, 20 s less.
func TestHeldInEveryForm(t *testing.T) {
	runs := map[string][2][]float64{
		"tile|score|s": {around(100), around(80)}, "view|score|fps": {around(80), around(100)}, "tile|power|W": {around(250), around(215)},
		"tile|heat|°C": {around(70), around(78)}, "tile|clock|MHz": {around(4000), around(4400)}, "pack|score|s": {around(80), around(100)},
	}
	of := func(benchmark, metric string, form Form, change *Figure) Claim {
		return Claim{Benchmark: benchmark, Metric: metric, Form: form, Change: change}
	}
	tests := []struct {
		Claim
		want  Verdict
		fault string
	}{
		{of("tile", "", Faster, percentage("25")), Supported, ""},
		{of("tile", "", LessTime, percentage("20")), Supported, ""},
		{of("tile", "", Less, percentage("20")), Supported, ""},
		{of("tile", "", Less, figure("20 s")), Supported, ""},
		{of("tile", "", LessTime, figure("20 s")), Supported, ""},
		{of("tile", "", Slower, percentage("25")), Contradicted, ""},
		{of("tile", "", MoreTime, figure("20 s")), Contradicted, ""},
		{of("tile", "", Faster, percentage("20")), Understated, ""}, // a note says that this is the time
		{of("tile", "", LessTime, percentage("25")), WrongArithmetic, FaultBase},
		{of("tile", "", Less, percentage("25")), WrongArithmetic, FaultBase},
		{of("tile", "", Less, percentage("26")), Overstated, ""},
		{of("tile", "", Less, figure("22 s")), Overstated, ""},
		{of("tile", "", Faster, percentage("25.0037")), WrongArithmetic, FaultDigits},
		{of("view", "", Faster, percentage("25")), Supported, ""},
		{of("view", "", More, percentage("25")), Supported, ""},
		{of("view", "", LessTime, percentage("20")), Supported, ""},
		{of("view", "", Faster, figure("20 fps")), Supported, ""},
		{of("pack", "", Slower, percentage("20")), Supported, ""},
		{of("pack", "", MoreTime, percentage("25")), Supported, ""},
		{of("pack", "", Slower, percentage("15")), Overstated, ""},  // admits too little
		{of("pack", "", Slower, percentage("22")), Understated, ""}, // admits too much
		{of("tile", "power", Less, percentage("14")), Supported, ""},
		{of("tile", "power", Less, figure("35 W")), Supported, ""},
		{of("tile", "power", Less, percentage("16.3")), WrongArithmetic, FaultBase},
		{of("tile", "power", More, percentage("14")), Contradicted, ""},
		{of("tile", "heat", More, figure("8 °C")), Supported, ""},
		{of("tile", "heat", More, figure("6 °C")), Overstated, ""},
		{of("tile", "heat", Less, figure("8 °C")), Contradicted, ""},
		{of("tile", "heat", More, percentage("11")), WrongArithmetic, FaultDegrees},
		{of("tile", "clock", More, percentage("10")), Supported, ""},
		{of("tile", "", AsLevel, percentage("30")), Supported, ""},
		{of("tile", "", AsLevel, percentage("1")), Contradicted, ""},
		{of("tile", "", AsLevel, nil), Contradicted, ""},
		{of("tile", "power", AsLevel, figure("40 W")), Supported, ""},
		{Claim{Benchmark: "tile", From: figure("100 s"), To: figure("80 s")}, Supported, ""},
		{Claim{Benchmark: "tile", From: figure("100 s"), To: figure("70 s")}, Contradicted, ""}, // no run took 70 s
		{Claim{Benchmark: "tile", From: figure("99.95 s"), To: figure("80.02 s")}, Supported, ""},
		{Claim{Benchmark: "tile", Metric: "heat", From: figure("70 °C"), To: figure("78 °C")}, Supported, ""},
		{Claim{Suite: true, Form: Faster, Change: percentage("7.7")}, Supported, ""}, // (1.25 x 1.25 x 0.8)^(1/3) = 1.0772
		{Claim{Suite: true, Form: LessTime, Change: percentage("7.2")}, Supported, ""},
		{Claim{Suite: true, Form: Faster, Change: percentage("10.0")}, Overstated, ""}, // (25 + 25 - 20) / 3
	}
	var claims []Claim
	for _, tt := range tests {
		claims = append(claims, tt.Claim)
	}
	held, err := page(t, runs, compare.Policy{}, claims...)
	if err != nil {
		t.Fatal(err)
	}
	if held.Family.Members() != 7 { // three scores, and power, heat, clock and suite
		t.Errorf("a family of %d", held.Family)
	}
	for i, tt := range tests {
		h := held.Held[i]
		fault := ""
		for _, f := range h.Faults {
			fault += f.Kind
		}
		if h.Verdict != tt.want || fault != tt.fault {
			_, lo, hi, _ := h.Interval()
			t.Errorf("%s %s %s %+v: %s %q, want %s %q (%v to %v)", h.Benchmark, h.Metric, h.Form, h.Change, h.Verdict, fault, tt.want, tt.fault, lo,
				hi)
		}
	}
}

func TestClaimErrors(t *testing.T) {
	runs := map[string][2][]float64{
		"tile|score|s": {around(100), around(80)}, "tile|power|W": {around(250), around(215)}, "tile|heat|°C": {around(70), around(78)},
		"grade|score|points": {around(100), around(110)},
	}
	for _, tt := range []struct {
		Claim
		says string
	}{
		{Claim{Benchmark: "tyle", Form: Faster, Change: percentage("1")}, `share no benchmark "tyle"; they share "`},
		{Claim{Benchmark: "tile", Metric: "noise", Form: More, Change: percentage("1")}, `share no metric "noise" of tile`},
		{Claim{Class: "rendering", Form: Faster, Change: percentage("1")}, "no score has a workload class"},
		{Claim{Suite: true, Form: Less, Change: percentage("1")}, "could be speed or time"},
		{Claim{Suite: true, Form: Faster, Change: figure("3 s")}, "has no unit"},
		{Claim{Suite: true, Form: LessTime, Change: percentage("3")}, "needs a time or a rate"}, // points are neither
		{Claim{Benchmark: "grade", Form: LessTime, Change: percentage("3")}, "needs a time or a rate"},
		{Claim{Benchmark: "tile", Metric: "power", Form: Faster, Change: percentage("1")}, "tile power is a cost; write more or less"},
		{Claim{Benchmark: "tile", Metric: "power", Form: Less, Change: figure("3 kW")}, `is measured in "W"`},
		{Claim{Benchmark: "tile", Metric: "power", Form: AsLevel}, "no tolerance is stated"},
		{Claim{Benchmark: "tile", Form: Faster, Change: percentage("1"), From: figure("1 min"), To: figure("2 min")}, `is measured in "s"`},
	} {
		tt.At = compare.Place{File: "page.toml", Line: 3, Column: 1}
		_, err := page(t, runs, compare.Policy{}, tt.Claim)
		var placed *compare.PlacedError
		if !errors.As(err, &placed) || placed.At.Line != 3 || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%+v: %v, want %q", tt.Claim, err, tt.says)
		}
	}
	_, err := Hold([]Claim{{Benchmark: "tile", Before: "factory", After: "x", Form: Faster, Change: percentage("1")}}, &compare.Runs{},
		compare.Policy{}, compare.Options{})
	if err == nil || !strings.Contains(err.Error(), `no profile "factory"`) {
		t.Error(err)
	}
	for _, c := range []Claim{
		{Form: Faster, Change: percentage("2"), From: figure("412"), To: figure("402")}, // of what?
		{Form: Less, Change: figure("35 W"), From: figure("250 J"), To: figure("215 J")},
		{Form: Less, Change: percentage("5"), From: figure("0 W"), To: figure("5 W")},
	} {
		if _, err := Hold([]Claim{c}, &compare.Runs{}, compare.Policy{}, compare.Options{}); err == nil {
			t.Errorf("%+v: no error", c)
		}
	}
}
