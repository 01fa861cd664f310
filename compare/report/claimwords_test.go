package report

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/claims"
)

// figure is a number as a page prints it: "14.0", "250 W".
func figure(text string) *claims.Figure {
	f := &claims.Figure{Text: text}
	number, unit, _ := strings.Cut(text, " ")
	fmt.Sscan(number, &f.Value)
	_, decimals, _ := strings.Cut(number, ".")
	f.Half, f.Unit = 0.5*math.Pow(10, -float64(len(decimals))), unit
	return f
}

func percentage(text string) *claims.Figure {
	f := figure(text)
	f.Unit = "%"
	return f
}

func percentages(texts ...string) (out []claims.Figure) {
	for _, s := range texts {
		out = append(out, *percentage(s))
	}
	return out
}

// heldAlone checks the arithmetic of a claim, without runs.
func heldAlone(t *testing.T, c claims.Claim) *claims.Held {
	t.Helper()
	page, err := claims.Hold([]claims.Claim{c}, &compare.Runs{}, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return page.Held[0]
}

// The derived figures or the fault of claims that name no runs.
// Worked by hand: 215/250 = 0.86, 250/215 = 1.16279; 1.041 x 1.026 = 1.068066;
// 80/100 = 0.8, 100/80 = 1.25; 1/1.05 = 0.95238.
func TestClaimWords(t *testing.T) {
	for _, tt := range []struct {
		name string
		claims.Claim
		says string
	}{
		{"250 W to 215 W", claims.Claim{Form: claims.Less, Change: percentage("14"), From: figure("250 W"), To: figure("215 W")},
			"from 250 W to 215 W is 14.0 % less"},
		{"one decimal", claims.Claim{Form: claims.Less, Change: percentage("14.0"), From: figure("250 W"), To: figure("215 W")}, "14.0 % less"},
		{"wrong base", claims.Claim{Form: claims.Less, Change: percentage("16.3"), From: figure("250 W"), To: figure("215 W")},
			"16.3 % is the change from 215 W to 250 W; the other way it is 14.0 % less"},
		{"wrong base, upwards", claims.Claim{Form: claims.More, Change: percentage("14.0"), From: figure("215 W"), To: figure("250 W")},
			"14.0 % is the change from 250 W to 215 W; the other way it is 16.3 % more"},
		{"25 % for 20 %", claims.Claim{Form: claims.Less, Change: percentage("25"), From: figure("100.0 J"), To: figure("80.0 J")},
			"25 % is the change from 80.0 J to 100.0 J; the other way it is 20.0 % less"},
		{"the other way round", claims.Claim{Form: claims.Less, Change: percentage("14.0"), From: figure("215 W"), To: figure("250 W")},
			"from 215 W to 250 W is 16.3 % more; 14.0 % less is the change from 250 W to 215 W"},
		{"wrong word", claims.Claim{Form: claims.Less, Change: percentage("16.3"), From: figure("215 W"), To: figure("250 W")},
			"from 215 W to 250 W is 16.3 % more, not less"},
		{"faster and less time", claims.Claim{Form: claims.Faster, Change: percentage("4.8"), From: figure("105.00 s"), To: figure("100.00 s")},
			"4.8 % is the time saved; the speed rises by 5.0 %"},
		{"faster", claims.Claim{Form: claims.Faster, Change: percentage("5.0"), From: figure("105.00 s"), To: figure("100.00 s")},
			"from 105.00 s to 100.00 s is 5.0 % faster"},
		{"less time", claims.Claim{Form: claims.LessTime, Change: percentage("4.76"), From: figure("105.00 s"), To: figure("100.00 s")},
			"4.76 % less time"},
		{"less time and faster", claims.Claim{Form: claims.LessTime, Change: percentage("5.00"), From: figure("105.00 s"),
			To: figure("100.00 s")}, "5.00 % is the gain in speed; the time falls by 4.76 %"},
		{"more time and slower", claims.Claim{Form: claims.Slower, Change: percentage("25.0"), From: figure("80.00 s"), To: figure("100.00 s")},
			"25.0 % is the time added; the speed falls by 20.0 %"},
		{"slower and more time", claims.Claim{Form: claims.MoreTime, Change: percentage("20.0"), From: figure("80.00 s"), To: figure("100.00 s")},
			"20.0 % is the loss of speed; the time rises by 25.0 %"},
		{"a rate", claims.Claim{Form: claims.Faster, Change: percentage("25.0"), From: figure("80.0 fps"), To: figure("100.0 fps")},
			"25.0 % faster"},
		{"a rate, less time", claims.Claim{Form: claims.LessTime, Change: percentage("20.0"), From: figure("80.0 fps"), To: figure("100.0 fps")},
			"20.0 % less time"},
		{"what is left", claims.Claim{Form: claims.Less, Change: percentage("86.0"), From: figure("250 W"), To: figure("215 W")},
			"86.0 % is what is left, not what is gone"},
		{"a difference", claims.Claim{Form: claims.Less, Change: percentage("35"), From: figure("250 W"), To: figure("215 W")},
			"35 is the difference in W, not a percentage of 250 W"},
		{"of the mean", claims.Claim{Form: claims.Less, Change: percentage("15.1"), From: figure("250 W"), To: figure("215 W")},
			"15.1 % is of the mean of both figures"},
		{"simply wrong", claims.Claim{Form: claims.Less, Change: percentage("12.0"), From: figure("250 W"), To: figure("215 W")},
			"from 250 W to 215 W is 14.0 % less"},
		{"in the unit", claims.Claim{Form: claims.Less, Change: figure("35 W"), From: figure("250 W"), To: figure("215 W")},
			"from 250 W to 215 W is 35 W less"},
		{"wrong in the unit", claims.Claim{Form: claims.Less, Change: figure("30 W"), From: figure("250 W"), To: figure("215 W")},
			"is 35 W less"},
		{"degrees", claims.Claim{Form: claims.Less, Change: percentage("8"), From: figure("78 °C"), To: figure("72 °C")}, "°C has no true zero"},
		// 412/402 = 1.02488, but 412.27/402.42 = 1.02448: a figure may have been rounded after the change was taken.
		{"from figures not yet rounded", claims.Claim{Form: claims.Faster, Change: percentage("2.4"), From: figure("412 s"), To: figure("402 s")},
			"from 412 s to 402 s is 2.5 % faster"},
		{"digits", claims.Claim{Form: claims.Less, Change: percentage("14.003"), From: figure("250 W"), To: figure("215 W")},
			"anything from 13.63 to 14.37 %"},
		{"at least, and not", claims.Claim{Form: claims.Less, Change: percentage("20"), AtLeast: true, From: figure("250 W"),
			To: figure("215 W")}, "is 14.0 % less"},

		{"steps added", claims.Claim{Form: claims.Faster, Change: percentage("6.7"), Steps: percentages("4.1", "2.6")},
			"6.7 % is the sum; percentages that follow each other multiply: 1.041 × 1.026 = 1.0681, which is 6.81 % faster"},
		{"steps", claims.Claim{Form: claims.Faster, Change: percentage("6.8"), Steps: percentages("4.1", "2.6")}, "6.81 % faster"},
		{"steps down", claims.Claim{Form: claims.Less, Change: percentage("14.5"), Steps: percentages("10.0", "5.0")},
			"10.0 %, then 5.0 %: 14.50 % less in all"},
		{"steps down, added", claims.Claim{Form: claims.Less, Change: percentage("15.0"), Steps: percentages("10.0", "5.0")}, "14.50 % less"},
		{"steps up and down", claims.Claim{Form: claims.Faster, Change: percentage("12.5"), Steps: percentages("25.00", "-10.00")},
			"25.00 %, then -10.00 %: 12.50 % faster in all"},
		{"steps up and down, added", claims.Claim{Form: claims.Faster, Change: percentage("15"), Steps: percentages("25.00", "-10.00")},
			"12.5 % faster"},
		{"steps, simply wrong", claims.Claim{Form: claims.Faster, Change: percentage("7.5"), Steps: percentages("4.1", "2.6")}, "6.81 % faster"},
		{"sum and product are the same", claims.Claim{Form: claims.Faster, Change: percentage("7"), Steps: percentages("4.1", "2.6")},
			"6.8 % faster"},

		// (2 + 4 + 6) / 3 = 4; (1.02 x 1.04 x 1.06)^(1/3) = 1.039872.
		{"average", claims.Claim{Form: claims.Faster, Change: percentage("4.0"), AverageOf: percentages("2", "4", "6")},
			"on average 3.99 % faster (geometric mean of the ratios)"},
		{"geometric mean", claims.Claim{Form: claims.Faster, Change: percentage("3.99"), AverageOf: percentages("2.00", "4.00", "6.00")},
			"3.987 %"},
		{"no average", claims.Claim{Form: claims.Faster, Change: percentage("5.0"), AverageOf: percentages("2.0", "4.0", "6.0")}, "4.00 %"},
		{"of gains only", claims.Claim{Form: claims.Faster, Change: percentage("5.0"), AverageOf: percentages("4.0", "6.0", "-2.0")},
			"5.0 % is the mean of the 2 that are above zero only"},
		{"median", claims.Claim{Form: claims.Faster, Change: percentage("3.0"), AverageOf: percentages("2.0", "3.0", "10.0")},
			"3.0 % is the median"},
		{"sum", claims.Claim{Form: claims.Faster, Change: percentage("12.0"), AverageOf: percentages("2.0", "4.0", "6.0")}, "12.0 % is the sum"},
		// 1 - (0.5 x 0.8)^(1/2) = 0.36754.
		{"of falls", claims.Claim{Form: claims.Less, Change: percentage("36.8"), AverageOf: percentages("50.0", "20.0")},
			"on average 36.75 % less"},
	} {
		h := heldAlone(t, tt.Claim)
		text := strings.Join(madeTexts(h), "; ")
		if len(h.Faults) > 0 {
			text = findingText(h, h.Faults[0])
		}
		if !strings.Contains(text, tt.says) {
			t.Errorf("%s: says %q, want %q", tt.name, text, tt.says)
		}
	}
}

// The faults that only the runs show.
func TestClaimWordsOfRuns(t *testing.T) {
	held := func(c claims.Claim, m compare.Metric, before, after compare.Side) *claims.Held {
		pair := &compare.Pair{Metric: m, Before: compare.Sample{Side: before}, After: compare.Sample{Side: after}}
		c.Before, c.After = "factory", "cool-curve"
		return &claims.Held{Claim: c, Result: &compare.Result{Measurement: &compare.Measurement{Pair: pair}}}
	}
	watts := compare.Metric{Benchmark: "tile-render", Metric: "power", Unit: "W"}
	degrees := compare.Metric{Benchmark: "tile-render", Metric: "temperature", Unit: "°C"}
	side := func(lo, hi float64) compare.Side { return compare.Side{Min: lo, Max: hi} }
	for _, c := range []struct {
		held    *claims.Held
		finding claims.Finding
		want    string
	}{
		{held(claims.Claim{Form: claims.Less, Change: percentage("8")}, degrees, compare.Side{}, compare.Side{}),
			claims.Finding{Cause: claims.NoZero},
			"tile-render temperature has no true zero in °C, so a percentage of it changes with the unit; state the difference in °C"},
		{held(claims.Claim{Form: claims.Less, Change: percentage("8")}, compare.Metric{Benchmark: "b", Metric: "m"}, compare.Side{},
			compare.Side{}),
			claims.Finding{Cause: claims.NoZero},
			"b m has no true zero in its unit, so a percentage of it changes with the unit; state the difference in its unit"},
		{held(claims.Claim{Form: claims.Less, Change: percentage("16.3")}, watts, compare.Side{}, compare.Side{}),
			claims.Finding{Cause: claims.OtherProfile, Right: 14.04, Places: 1},
			"16.3 % is the change from cool-curve to factory; the other way it is 14.0 % less"},
		{held(claims.Claim{Form: claims.LessTime, Change: percentage("25")}, watts, compare.Side{}, compare.Side{}),
			claims.Finding{Cause: claims.OtherProfile, Right: 20, Places: 0, Inverse: true},
			"25 % is the gain in speed; the time falls by 20 %"},
		{held(claims.Claim{Form: claims.Less, Change: percentage("14.003")}, watts, compare.Side{}, compare.Side{}),
			claims.Finding{Cause: claims.DigitsOfRuns, Lo: 13.42, Hi: 14.68, Places: 1},
			"14.003 is written to more digits than the runs carry: an interval from 13.4 to 14.7 % carries one decimal"},
		{held(claims.Claim{Form: claims.Less, Change: figure("35.02 W")}, watts, compare.Side{}, compare.Side{}),
			claims.Finding{Cause: claims.DigitsOfRuns, Lo: 31.2, Hi: 39.1, Places: 0},
			"35.02 W is written to more digits than the runs carry: an interval from 31 to 39 W carries no decimals"},
		{held(claims.Claim{From: figure("250"), To: figure("215")}, watts, side(255, 261.5), side(210, 220)),
			claims.Finding{Cause: claims.BeyondRuns}, "250 is no summary of the runs of factory: they lie between 255 and 261.5 W"},
		{held(claims.Claim{From: figure("250"), To: figure("215")}, watts, side(245, 255), side(205, 209.25)),
			claims.Finding{Cause: claims.BeyondRuns, Side: 1}, "215 is no summary of the runs of cool-curve: they lie between 205 and 209.25 W"},
		{held(claims.Claim{Form: claims.Less, Change: percentage("14.3"), From: figure("250"), To: figure("215")}, watts, side(0, 0), side(0, 0)),
			claims.Finding{Cause: claims.MiddleOfAllPairs, Right: 14.31, Places: 1,
				Made: claims.Made{Of: claims.OfFigures, Change: 14, Places: 1, Unit: "%", Form: claims.Less}},
			"from 250 W to 215 W is 14.0 % less; the middle of all pairs of runs, which the claim states, is 14.3 % less"},
	} {
		if got := findingText(c.held, c.finding); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.finding.Cause, got, c.want)
		}
	}
}
