package claims

import (
	"slices"
	"testing"
	"time"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/internal/comparetest"
)

// Claims that were built to be misjudged, each judged rightly or said to be open. All
// runs are worked out by hand.
func TestMisleadingClaims(t *testing.T) {
	slower := func(v, by float64) []float64 { // six runs of which the last is a slowdown
		return []float64{0.998 * v, 1.001 * v, 0.999 * v, 1.002 * v, v, by * v}
	}
	wide := func(v float64) []float64 {
		return []float64{0.97 * v, 1.03 * v, 0.985 * v, 1.015 * v, 0.995 * v, 1.005 * v}
	}
	reading := Claim{Benchmark: "tile", Form: Faster}
	say := func(c Claim, text, change string) Claim {
		c.Text, c.Change = text, percentage(change)
		return c
	}
	for _, c := range []struct {
		name      string
		runs      map[string][2][]float64
		claim     Claim
		want      Verdict
		unchecked string // what no key covers; empty for nothing
	}{
		// Truly 2.44 %: 2 and 2.4 are the same number to fewer digits, though the
		// interval, 2.3 to 2.6, holds no 2.0.
		{"rounded to the nearest", map[string][2][]float64{"tile|score|fps": {around(100), around(102.44)}},
			say(reading, "The tile runs 2 % faster", "2"), Supported, ""},
		{"rounded up where it has to be rounded down", map[string][2][]float64{"tile|score|fps": {around(100), around(102.3)}},
			say(reading, "The tile runs 3 % faster", "3"), Overstated, ""},
		// Three benchmarks, of which one gains. The claim is true of the one.
		{"a claim on the best of three", map[string][2][]float64{"tile|score|fps": {around(100), around(110)},
			"mesh|score|fps": {around(100), around(100.02)}, "pack|score|fps": {around(100), around(99)}},
			say(reading, "The tile runs 10 % faster, as in all other games", "10"), Supported, "in all other games"},
		{"the best of three as the suite's", map[string][2][]float64{"tile|score|fps": {around(100), around(110)},
			"mesh|score|fps": {around(100), around(100.02)}, "pack|score|fps": {around(100), around(99)}},
			say(Claim{Suite: true, Form: Faster}, "The suite runs 10 % faster", "10"), Overstated, ""},
		// The slowest run before against the fastest after make 6 % of nothing.
		{"figures picked from the ends of noise", map[string][2][]float64{"tile|score|fps": {wide(100), wide(100.2)}},
			Claim{Benchmark: "tile", From: figure("97 fps"), To: figure("103 fps"), Text: "From 97 to 103 fps on the tile"}, Contradicted, ""},
		// Means say 1.6 % (one slowdown before), the median ratio 0.0 %.
		{"a change of means that one slowdown makes", map[string][2][]float64{"tile|score|s": {slower(100, 1.1), slower(100, 1.001)}},
			say(reading, "The tile runs 2 % faster", "2"), NotSettled, ""},
		// 10 % less time is 11.1 % more speed.
		{"the time saved as speed", map[string][2][]float64{"tile|score|s": {around(100), around(90)}},
			say(reading, "The tile runs 10.0 % faster", "10.0"), Understated, ""},
		{"the speed gained as time", map[string][2][]float64{"tile|score|s": {around(100), around(90)}},
			say(Claim{Benchmark: "tile", Form: LessTime}, "The tile takes 11.1 % less time", "11.1"), WrongArithmetic, ""},
	} {
		held, err := page(t, c.runs, compare.Policy{}, c.claim)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		h := held.Held[0]
		_, lo, hi, _ := h.Interval()
		if h.Verdict != c.want {
			t.Errorf("%s: %s, want %s (%v to %v; %+v)", c.name, h.Verdict, c.want, lo, hi, h.Differences)
		}
		said := ""
		for _, f := range h.Unchecked {
			said += f.Found
		}
		if said != c.unchecked {
			t.Errorf("%s: unchecked %q, want %q", c.name, said, c.unchecked)
		}
	}
	// True, but the sides were measured in different weeks: nothing in the runs can
	// tell the profile from the weeks, and the page says so.
	var runs compare.Runs
	for k, side := range [2][]float64{around(100), around(110)} {
		for i, v := range side {
			if err := runs.Add(compare.Value{Profile: comparetest.Names[k], Benchmark: "tile", Unit: "fps", Session: string(rune('a' + i)), Value: v,
				Time: time.Date(2026, 3, 2+7*k, 8, i, 0, 0, time.UTC)}); err != nil {
				t.Fatal(err)
			}
		}
	}
	claim := say(reading, "The tile runs 10 % faster", "10")
	claim.Before, claim.After = comparetest.Names[0], comparetest.Names[1]
	held, err := Hold([]Claim{claim}, &runs, compare.Policy{}, compare.Options{Resamples: 1000})
	if err != nil {
		t.Fatal(err)
	}
	if held.Held[0].Verdict != Supported || !slices.ContainsFunc(held.Pairs[0].Doubts.Findings, func(f doubts.Finding) bool {
		return f.Check == doubts.CheckApart
	}) {
		t.Errorf("%s, %+v", held.Held[0].Verdict, held.Pairs[0].Doubts.Findings)
	}
}
