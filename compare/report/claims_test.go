package report

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/claims"

	"tunegate/compare/report/doc"
)

// The worst claim decides: one that fails before one that is not settled.
func TestClaimsClosing(t *testing.T) {
	for _, tt := range []struct {
		verdicts []claims.Verdict
		closing  string
	}{
		{[]claims.Verdict{claims.Supported, claims.Understated}, "Passed. Of 2 claims: understated: 1, supported: 1."},
		{[]claims.Verdict{claims.NotSettled, claims.Supported}, "Not settled. Of 2 claims: not settled: 1, supported: 1."},
		{[]claims.Verdict{claims.Overstated, claims.NotSettled}, "Failed. Of 2 claims: overstated: 1, not settled: 1."},
		{[]claims.Verdict{claims.NotSettled, claims.Contradicted}, "Failed. Of 2 claims: contradicted: 1, not settled: 1."},
		{[]claims.Verdict{claims.WrongArithmetic}, "Failed. Of 1 claim: wrong arithmetic: 1."},
	} {
		c := &claims.Page{}
		for _, v := range tt.verdicts {
			c.Held = append(c.Held, &claims.Held{Verdict: v})
		}
		if got := claimsClosing(ClaimsPage{Page: c}); got != tt.closing {
			t.Errorf("%v: %q", tt.verdicts, got)
		}
	}
}

// For any claim about any runs: every claim has a verdict and a sentence, no line
// is wider than the width asked for, plain text is ASCII, and the estimate lies
// within its interval.
func TestClaimsOnAnyRuns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		unit := rapid.SampledFrom([]string{"s", "fps", "points", "W", "°C", "MHz"}).Draw(t, "unit")
		n := rapid.SampledFrom([]int{1, 3, 5, 6}).Draw(t, "runs")
		spread := rapid.SampledFrom([]float64{0, 0.001, 0.05}).Draw(t, "spread")
		change := rapid.SampledFrom([]float64{0, 0.02, -0.3}).Draw(t, "change")
		var runs compare.Runs
		for k, profile := range []string{"factory", "boost-lift"} {
			for i := range n {
				v := compare.Value{Profile: profile, Benchmark: longName, Unit: unit, Session: fmt.Sprint(k, i),
					Value: 60 * math.Exp(float64(k)*change+spread*g.NormFloat64())}
				if unit == "points" {
					v.Better = compare.Higher
				}
				add(t, &runs, v)
			}
		}
		form := rapid.SampledFrom([]claims.Form{
			claims.Faster, claims.Slower, claims.LessTime, claims.MoreTime, claims.More, claims.Less, claims.AsLevel,
		}).Draw(t, "form")
		figure := claims.Figure{
			Value: rapid.SampledFrom([]float64{0.1, 2, 26, 35}).Draw(t, "claimed"), Half: 0.05,
			Unit: rapid.SampledFrom([]string{"%", unit}).Draw(t, "in"),
		}
		figure.Text = strings.TrimSuffix(fmt.Sprintf("%.1f %s", figure.Value, figure.Unit), " %")
		claim := claims.Claim{Text: "\x1b[31mbig \u202e words", Before: "factory", After: "boost-lift", Benchmark: longName,
			Form: form, Change: &figure, AtLeast: form != claims.AsLevel && rapid.Bool().Draw(t, "at least")}
		c, err := claims.Hold([]claims.Claim{claim}, &runs, compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})
		if err != nil {
			return // an invalid claim: the speed of a cost, the time of points
		}
		h := c.Held[0]
		if h.Verdict == "" || claimSentence(c, h) == "" || (h.Verdict == claims.WrongArithmetic) != (len(h.Faults) > 0) {
			t.Errorf("%+v", h)
		}
		if e, lo, hi, ok := h.Interval(); ok && !(lo <= e && e <= hi) {
			t.Errorf("%v outside %v to %v", e, lo, hi)
		}
		if n < 4 && h.Data != claims.NotSettled && h.Data != "" {
			t.Errorf("%d and %d runs: %s", n, n, h.Data)
		}
		width := rapid.SampledFrom([]int{60, 80, 140}).Draw(t, "width")
		var out bytes.Buffer
		opt := doc.TextOptions{Width: width, Plain: true, Detail: true}
		if err := doc.Text(&out, ClaimsDocument(ClaimsPage{Page: c, Commands: typed}), opt); err != nil {
			t.Fatal(err)
		}
		checkWidth(t, out.String(), width)
		notPlain := func(r rune) bool { return r != '\n' && (r < ' ' || r > '~') }
		if s := out.String(); strings.ContainsFunc(s, notPlain) || strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
			t.Errorf("%q", out.String())
		}
	})
}
