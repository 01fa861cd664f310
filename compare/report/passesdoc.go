package report

import (
	"fmt"
	"math"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// passesCaution is shown with every count of passes.
var passesCaution = "No number of passes proves stability, and data corruption can be silent: check results, not only crashes. " +
	caution(partsHazard)

// PassesDocument says what counted passes allow to say.
func PassesDocument(p *advice.Passes) doc.Document {
	const title = "Counted passes"
	sides := doc.Section{Kind: doc.Numbers}
	for _, s := range p.Sides {
		name := doc.Paragraph{Line: doc.Line{Text: s.Name, Tone: doc.Strong}}
		sides.Blocks = append(sides.Blocks, name, doc.List{Items: doc.Lines(sideLines(p, s))})
	}
	d := doc.Document{Sections: []doc.Section{sides}, Caution: passesCaution, Page: doc.Head{Title: title, Headline: title}}
	if len(p.Sides) == 2 {
		difference := doc.Paragraph{Line: doc.Line{Text: differenceText(p)}}
		d.Sections = append(d.Sections, doc.Section{Kind: doc.Numbers, Apart: true, Blocks: []doc.Block{difference}})
	}
	return d
}

// sideLines say what is known of one side, and what each claim still takes.
func sideLines(p *advice.Passes, s advice.PassSide) []string {
	var lines []string
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	n, confidence := s.Passes+s.Failures, confidencePercent(p.Confidence)
	if s.Failures == 0 {
		add("%d of %s clean: at %s %% confidence fewer than %s of passes fail", s.Passes, english.Count(n, "pass"), confidence,
			outward(s.Below, math.Ceil))
	} else {
		add("%s in %s: %s of passes fail, between %s and %s at %s %% confidence", english.Count(s.Failures, "failure"),
			english.Count(n, "pass"), rate(float64(s.Failures)/float64(n)), outward(s.Lo, math.Floor), outward(s.Hi, math.Ceil), confidence)
		add("one-sided: below %s", outward(s.Below, math.Ceil))
	}
	if s.Hours > 0 {
		add("in %s h: fewer than %s failures an hour at %s %% confidence, which is one in more than %s h", compare.Decimal(s.Hours, 2),
			significant(s.PerHourBelow), confidence, significant(1/s.PerHourBelow))
	}
	open := false
	for _, c := range p.Claims {
		lines = append(lines, claimText(p, s, c))
		open = open || !reached(s, c)
	}
	if open && s.Failures > 0 {
		add("find the cause of the %s, change it, and count from zero", english.Noun(s.Failures, "failure"))
	}
	return lines
}

// claimText says whether passes carry a claim, or what it takes.
func claimText(p *advice.Passes, s advice.PassSide, c advice.PassClaim) string {
	claim := fmt.Sprintf("\"under %s at %s %%\"", rate(c.Rate), confidencePercent(p.Confidence))
	switch {
	case reached(s, c):
		return claim + ": reached"
	case s.Failures == 0:
		return fmt.Sprintf("%s takes %s: %d more", claim, english.Count(c.Needed, "clean pass"), c.Needed-s.Passes)
	}
	return fmt.Sprintf("%s takes %s and no failure", claim, english.Count(c.Needed, "clean pass"))
}

// reached reports whether passes carry a claim.
func reached(s advice.PassSide, c advice.PassClaim) bool {
	return s.Below < c.Rate || s.Failures == 0 && s.Passes >= c.Needed
}

// differenceText says whether the failure rates of two sides differ.
func differenceText(p *advice.Passes) string {
	a, b := p.Sides[0], p.Sides[1]
	finding := "no difference shown"
	if p.Fisher <= 1-p.Confidence {
		finding = "the failure rates differ"
	}
	return fmt.Sprintf("%s %d of %d, %s %d of %d failed: %s (p = %s)", a.Name, a.Failures, a.Passes+a.Failures,
		b.Name, b.Failures, b.Passes+b.Failures, finding, probability(p.Fisher))
}

// outward writes a bound of a share in per cent, rounded so that it stays a bound.
func outward(v float64, round func(float64) float64) string {
	unit := math.Pow(10, -float64(compare.Places(100*v)))
	if !(v > 0) || unit < 1e-11 {
		return rate(v)
	}
	return trimZeros(compare.Decimal(round(100*v/unit-1e-9*sign(round))*unit, compare.Places(100*v))) + " %"
}

// sign is 1 for rounding up and -1 for rounding down. It keeps a number that is
// exact but for binary rounding from moving by a digit.
func sign(round func(float64) float64) float64 { return 2*round(0.5) - 1 }

// rate writes a share in per cent to two significant digits.
func rate(v float64) string { return significant(100*v) + " %" }

func significant(v float64) string {
	return trimZeros(compare.Decimal(v, min(12, max(0, compare.Places(v)))))
}
