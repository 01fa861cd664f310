package advice

import (
	"math"
	"testing"

	"tunegate/compare"
)

// Success-run theorem, n = ln(1 - C) / ln(R) rounded up: 59 clean passes for
// 95 % reliability and 299 for 99 %, each at 95 % confidence (Hanley and
// Lippman-Hand 1983, the rule of three).
func TestPassesForAClaim(t *testing.T) {
	p, err := CountPasses([]PassSide{{Name: "factory", Passes: 299}}, []float64{0.05, 0.01}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if p.Claims[0].Needed != 59 || p.Claims[1].Needed != 299 {
		t.Errorf("claims take %d and %d passes, want 59 and 299", p.Claims[0].Needed, p.Claims[1].Needed)
	}
	if below := p.Sides[0].Below; !(below < 0.01 && below > 0.0099) {
		t.Errorf("299 clean passes bound the rate at %v, want just below 1 %%", below)
	}
}

// 682 of 925: the example of R's binom.test; run in R 4.2.2 its two-sided 95 %
// interval is 0.7076682641 to 0.7654065582.
func TestPassesInterval(t *testing.T) {
	p, err := CountPasses([]PassSide{{Name: "x", Passes: 925 - 682, Failures: 682}}, nil, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if s := p.Sides[0]; math.Abs(s.Lo-0.7076682641) > 1e-9 || math.Abs(s.Hi-0.7654065582) > 1e-9 {
		t.Errorf("interval %.10f to %.10f", s.Lo, s.Hi)
	}
}

// A run is counted once, whatever number of metrics it has.
func TestPassesOfRuns(t *testing.T) {
	var runs compare.Runs
	for _, v := range []compare.Value{
		{Benchmark: "x", Session: "1", Run: "1", Value: 1}, {Benchmark: "x", Metric: "power", Session: "1", Run: "1", Value: 1},
		{Benchmark: "x", Session: "1", Run: "2", Value: 1, SetAside: true, Reason: "checksum"},
		{Benchmark: "x", Metric: "power", Session: "1", Run: "2", Value: 1},
		{Benchmark: "y", Run: "1", Value: 1}, {Benchmark: "y", Run: "2", Missing: true},
	} {
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	if s := PassesOf("p", runs.Series()); s.Passes != 2 || s.Failures != 1 {
		t.Errorf("%d passes and %d failures, want 2 and 1", s.Passes, s.Failures)
	}
}

// A row of a wide sheet is one pass, the runs across a row are one each.
func TestPassesByLine(t *testing.T) {
	var wide, across compare.Runs
	for line := 2; line <= 4; line++ {
		for column, benchmark := range []string{"x", "y", "z"} {
			at := compare.Place{File: "a.csv", Line: line, Column: column + 1}
			v := compare.Value{Benchmark: benchmark, Value: 1, SetAside: line == 3, Reason: "crash", At: at}
			if line != 3 {
				v.Reason = ""
			}
			if err := wide.Add(v); err != nil {
				t.Fatal(err)
			}
			at.Line = 2 + column
			if err := across.Add(compare.Value{Benchmark: benchmark, Run: []string{"", "", "1", "2", "3"}[line], Value: 1, At: at}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if s := PassesOf("p", wide.Series()); s.Passes != 2 || s.Failures != 1 {
		t.Errorf("a wide sheet of three rows: %d passes and %d failures, want 2 and 1", s.Passes, s.Failures)
	}
	if s := PassesOf("p", across.Series()); s.Passes != 9 || s.Failures != 0 {
		t.Errorf("three benchmarks of three runs across: %d passes and %d failures, want 9 and 0", s.Passes, s.Failures)
	}
}
