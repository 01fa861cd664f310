package report

import (
	"fmt"
	"io"
	"math"

	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
	"tunegate/compare/advice"
)

// PassesFormat names the JSON form of counted passes. Its schema is
// schema/passes.schema.json.
const PassesFormat = "tunegate-passes-1"

// PassesCaution is shown with every count of passes.
const PassesCaution = "No number of passes proves stability, and data corruption can be silent: check results, not only crashes. " + Caution

// PassesText writes what counted passes allow to say.
func PassesText(w io.Writer, p *advice.Passes, opt TextOptions) error {
	t := newTerminal(opt)
	for _, s := range p.Sides {
		t.line("%s", t.paint(text.Colors{text.Bold}, Clean(s.Name)))
		n := s.Passes + s.Failures
		if s.Failures == 0 {
			t.paragraph("  ", "    ", fmt.Sprintf("%d of %d passes clean: at %s %% confidence fewer than %s of passes fail", s.Passes, n, level(p.Confidence), outward(s.Below, math.Ceil)))
		} else {
			t.paragraph("  ", "    ", fmt.Sprintf("%s in %s: %s of passes fail, between %s and %s at %s %% confidence", plural(s.Failures, "failure"),
				fmt.Sprintf("%d passes", n), rate(float64(s.Failures)/float64(n)), outward(s.Lo, math.Floor), outward(s.Hi, math.Ceil), level(p.Confidence)))
			t.paragraph("  ", "    ", fmt.Sprintf("from above alone: fewer than %s", outward(s.Below, math.Ceil)))
		}
		if s.Hours > 0 {
			t.paragraph("  ", "    ", fmt.Sprintf("in %s hours: fewer than %s failures an hour at %s %% confidence, which is one in more than %s hours", compare.Decimal(s.Hours, 2),
				significant(s.PerHourBelow), level(p.Confidence), significant(1/s.PerHourBelow)))
		}
		for _, c := range p.Claims {
			t.paragraph("  ", "    ", claimText(p, s, c))
		}
	}
	if len(p.Sides) == 2 {
		t.line("")
		t.paragraph("", "  ", differenceText(p))
	}
	t.line("")
	t.paragraph("", "", PassesCaution)
	return t.flush(w)
}

func claimText(p *advice.Passes, s advice.PassSide, c advice.PassClaim) string {
	claim := fmt.Sprintf("\"under %s at %s %%\"", rate(c.Rate), level(p.Confidence))
	switch {
	case s.Below < c.Rate || s.Failures == 0 && s.Passes >= c.Needed:
		return claim + ": these passes carry it"
	case s.Failures == 0:
		return fmt.Sprintf("%s takes %d clean passes: %d more", claim, c.Needed, c.Needed-s.Passes)
	}
	return fmt.Sprintf("%s takes %d clean passes without any failure: find the cause, change it, and count from zero", claim, c.Needed)
}

func differenceText(p *advice.Passes) string {
	a, b := p.Sides[0], p.Sides[1]
	settled := "not settled: this difference comes by luck often enough"
	if p.Fisher <= 1-p.Confidence {
		settled = "the failure rates differ"
	}
	return fmt.Sprintf("%s %d of %d, %s %d of %d failed: %s (Fisher's exact test p = %s)", Clean(a.Name), a.Failures, a.Passes+a.Failures,
		Clean(b.Name), b.Failures, b.Passes+b.Failures, settled, probability(p.Fisher))
}

// outward writes a bound of a share in per cent, rounded so that it stays one.
func outward(v float64, round func(float64) float64) string {
	unit := math.Pow(10, -float64(compare.Places(100*v)))
	if !(v > 0) || unit < 1e-11 {
		return rate(v)
	}
	return trimZeros(compare.Decimal(round(100*v/unit-1e-9*sign(round))*unit, compare.Places(100*v))) + " %"
}

// sign is 1 for rounding up and -1 for rounding down: what is exact but for
// the noise of binary numbers stays where it is.
func sign(round func(float64) float64) float64 { return 2*round(0.5) - 1 }

// rate writes a share in per cent to two significant digits.
func rate(v float64) string { return significant(100*v) + " %" }

func significant(v float64) string {
	return trimZeros(compare.Decimal(v, min(12, max(0, compare.Places(v)))))
}

// PassesJSON writes the same as JSON.
func PassesJSON(w io.Writer, p *advice.Passes) error {
	type side struct {
		Name         string  `json:"name"`
		Passes       int     `json:"passes"`
		Failures     int     `json:"failures"`
		Hours        float64 `json:"hours,omitempty"`
		Lo           float64 `json:"rate_lo"`
		Hi           float64 `json:"rate_hi"`
		Below        float64 `json:"rate_below"`
		PerHourBelow float64 `json:"per_hour_below,omitempty"`
	}
	type claim struct {
		Rate   float64 `json:"rate"`
		Needed int     `json:"clean_passes"`
		Hours  float64 `json:"clean_hours"`
	}
	out := struct {
		Format     string   `json:"format"`
		Confidence float64  `json:"confidence"`
		Sides      []side   `json:"sides"`
		Claims     []claim  `json:"claims"`
		Fisher     *float64 `json:"p_fisher"`
		Boschloo   *float64 `json:"p_boschloo"`
		Caution    string   `json:"caution"`
	}{Format: PassesFormat, Confidence: p.Confidence, Sides: []side{}, Claims: []claim{}, Caution: PassesCaution}
	for _, s := range p.Sides {
		out.Sides = append(out.Sides, side(s))
	}
	for _, c := range p.Claims {
		out.Claims = append(out.Claims, claim(c))
	}
	if len(p.Sides) == 2 {
		out.Fisher, out.Boschloo = &p.Fisher, p.Boschloo
	}
	return encode(w, out)
}
