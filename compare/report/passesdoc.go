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
	basis := title
	if len(p.Sides) == 1 && p.Sides[0].Profile {
		basis += " of " + p.Sides[0].Name
	}
	var sides []doc.Item
	for _, s := range p.Sides {
		for i, line := range sideLines(s) {
			item := doc.Item{Line: doc.Line{Text: line}}
			if i == 0 && len(p.Sides) > 1 {
				item.Name = s.Name
			}
			sides = append(sides, item)
		}
	}
	blocks := []doc.Block{doc.List{Items: sides}}
	if len(p.Claims) > 0 {
		blocks = append(blocks, claimsTable(p))
	}
	if cause := causeText(p); cause != "" {
		blocks = append(blocks, doc.Paragraph{Line: doc.Line{Text: cause}, Indent: 1})
	}
	d := doc.Document{Basis: basis + ", at " + confidencePercent(p.Confidence) + " % confidence",
		Sections: []doc.Section{{Kind: doc.Numbers, Blocks: blocks}}, Caution: passesCaution, Page: doc.Head{Title: title, Headline: title}}
	if len(p.Sides) == 2 {
		d.Closing = doc.Line{Text: differenceText(p), Tone: doc.Strong}
	}
	return d
}

// sideLines say what is known of one side.
func sideLines(s advice.PassSide) []string {
	n := s.Passes + s.Failures
	lines := []string{fmt.Sprintf("%s, no failure: fewer than %s fail", english.Count(n, "pass"), outward(s.Below, math.Ceil))}
	if s.Failures > 0 {
		lines[0] = fmt.Sprintf("%s in %s: %s fail, between %s and %s; one-sided, below %s", english.Count(s.Failures, "failure"),
			english.Count(n, "pass"), rate(float64(s.Failures)/float64(n)), outward(s.Lo, math.Floor), outward(s.Hi, math.Ceil),
			outward(s.Below, math.Ceil))
	}
	if s.Hours > 0 {
		lines = append(lines, fmt.Sprintf("in %s h: fewer than %s failures an hour, one in more than %s h",
			trimZeros(compare.Decimal(s.Hours, 2)), significant(s.PerHourBelow), significant(1/s.PerHourBelow)))
	}
	return lines
}

// claimsTable says how many clean passes each claim takes, and how far each side is.
func claimsTable(p *advice.Passes) doc.Table {
	t := doc.Table{Head: []string{"to claim that so many fail", "clean passes"}, Right: []int{2}, Indent: 1,
		Label: "what it takes to claim a failure rate"}
	for i, s := range p.Sides {
		head := Clean(s.Name)
		if len(p.Sides) == 1 {
			head = "so far"
		}
		t.Head, t.Right = append(t.Head, head), append(t.Right, 3+i)
	}
	for _, c := range p.Claims {
		row := textCells("fewer than "+rate(c.Rate), fmt.Sprint(c.Needed))
		for _, s := range p.Sides {
			row = append(row, textCells(claimText(s, c))...)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// claimText says whether passes carry a claim, or what is missing.
func claimText(s advice.PassSide, c advice.PassClaim) string {
	switch {
	case reached(s, c):
		return "reached"
	case s.Failures == 0:
		return fmt.Sprintf("%d more", c.Needed-s.Passes)
	}
	return "from zero"
}

// causeText says what to do about failures that stand against a claim; empty for none.
func causeText(p *advice.Passes) string {
	failures := 0
	for _, s := range p.Sides {
		for _, c := range p.Claims {
			if s.Failures > 0 && !reached(s, c) {
				failures += s.Failures
				break
			}
		}
	}
	if failures == 0 {
		return ""
	}
	return fmt.Sprintf("from zero: once the cause of the %s is found and changed", english.Noun(failures, "failure"))
}

// reached reports whether passes carry a claim.
func reached(s advice.PassSide, c advice.PassClaim) bool {
	return s.Below < c.Rate || s.Failures == 0 && s.Passes >= c.Needed
}

// differenceText says whether the failure rates of two sides differ.
func differenceText(p *advice.Passes) string {
	a, b := p.Sides[0], p.Sides[1]
	finding := "No difference shown"
	switch {
	case a.Failures+b.Failures == 0:
		return finding + ": no pass failed on either side."
	case p.Fisher <= 1-p.Confidence:
		finding = "The failure rates differ"
	}
	return fmt.Sprintf("%s: %d of %d failed for %s, %d of %d for %s (p = %s).", finding, a.Failures, a.Passes+a.Failures, Clean(a.Name),
		b.Failures, b.Passes+b.Failures, Clean(b.Name), probability(p.Fisher))
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
