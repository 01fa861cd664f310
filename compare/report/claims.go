package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/claims"
)

// claimVerdicts are in the order in which the last line counts them.
var claimVerdicts = []claims.Verdict{
	claims.Contradicted, claims.Overstated, claims.WrongArithmetic, claims.NotSettled, claims.Understated, claims.Supported,
}

// claimsFacts states what the verdicts rest on.
func claimsFacts(c *claims.Page) string {
	if len(c.Pairs) == 0 {
		return "held against arithmetic alone: no claim names runs"
	}
	facts := level(c.Confidence) + " % confidence"
	if c.Family > 1 {
		how := correctionName(c.Correction)
		if how == "" {
			facts += fmt.Sprintf("; %d comparisons, not corrected for their number", c.Family)
		} else {
			facts += fmt.Sprintf("; %d comparisons corrected together (%s): all scores of the runs, claimed or not, and what else is claimed",
				c.Family, how)
		}
	}
	if c.Policy != "" {
		facts += "; policy " + Clean(c.Policy)
	}
	return facts
}

// claimLines are the sentences under a claim.
func claimLines(p ClaimsPage, h *claims.Held) []string {
	c := p.Page
	var lines []string
	for _, f := range h.Faults {
		lines = append(lines, f.Kind+": "+Clean(findingText(h, f)))
	}
	if s := claimWhy(p, h); s != "" {
		lines = append(lines, s)
	}
	for _, n := range h.Notes {
		lines = append(lines, Clean(findingText(h, n)))
	}
	if s := ClaimSentence(c, h); s != "" {
		lines = append(lines, "may be said: "+s)
	}
	return lines
}

// claimDetail is what an expert asks for; empty of arithmetic alone.
func claimDetail(h *claims.Held) string {
	r := h.Result
	if r == nil {
		return ""
	}
	return fmt.Sprintf("%s (%s): p = %s, among %s adjusted to %s; interval: %s; at %s", r.Test, r.Method, probability(r.PUsed),
		plural(r.Among, "comparison"), probability(r.PAdjusted), cmp.Or(r.IntervalMethod, noInterval), Clean(h.At.String()))
}

// claimWhy says in which way the runs do not say what is claimed.
func claimWhy(p ClaimsPage, h *claims.Held) string {
	c := p.Page
	r := h.Result
	if r == nil || h.Data == "" || h.Data == claims.Supported {
		return ""
	}
	if h.Data == claims.NotSettled {
		if s := p.Commands.cannotSettle(c.Confidence, r, "comparison"); s != "" {
			return s
		}
		if r.UncorrectedOnly {
			return fmt.Sprintf("real alone, but not among the %s of this page", plural(c.Family, "comparison"))
		}
		if h.AtLeast && r.Real {
			return fmt.Sprintf("the interval reaches below %s: a smaller change is not ruled out", h.Change.Text)
		}
		if h.Form == claims.AsLevel && h.Change == nil && r.Needed != nil {
			return settling(r, tolerance(r))
		}
		if n, ok := sizeToShow(h); ok {
			return fmt.Sprintf("about %s would show a change of %s %s four times in five", perSide(r, n), claimedText(h), claimUnit(h))
		}
		return ""
	}
	_, lo, hi, ok := h.Interval()
	if !ok {
		return ""
	}
	unit, places := claimUnit(h), claimPlaces(h)
	claimed := claimedText(h)
	switch {
	case h.Form == claims.AsLevel && h.Change == nil && r.Real:
		return "a change was shown"
	case h.Form == claims.AsLevel:
		return fmt.Sprintf("the change is larger than %s %s", claimed, unit)
	case h.Data == claims.Contradicted && hi < 0:
		return fmt.Sprintf("the runs show a change the other way, not %s %s %s", claimed, unit, formWords(h.Form))
	case h.Data == claims.Contradicted && r.Real: // by its figures
		return ""
	case h.Data == claims.Contradicted:
		return fmt.Sprintf("no change was shown, and %s %s %s is ruled out: the interval ends at %s %s",
			claimed, unit, formWords(h.Form), compare.Decimal(hi, places), unit)
	}
	end := fmt.Sprintf("the interval ends at %s %s", compare.Decimal(hi, places), unit)
	if h.Lo < lo {
		end = fmt.Sprintf("the interval begins at %s %s", compare.Decimal(lo, places), unit)
	}
	than := "more favourable"
	if h.Data == claims.Understated {
		than = "less favourable"
	}
	return fmt.Sprintf("%s %s %s is %s than the runs show: %s", claimed, unit, formWords(h.Form), than, end)
}

// sizeToShow is the number of values a side that would show what is claimed. ok
// is false where none would, and of a claim that nothing changes.
func sizeToShow(h *claims.Held) (int, bool) {
	if h.Form == claims.AsLevel || h.Result.Verdict == nil {
		return 0, false
	}
	_, factor := percentOr(h.Result)
	return h.Result.SizeToCatch((h.Lo + h.Hi) / 2 / factor)
}

func claimUnit(h *claims.Held) string {
	unit, _ := percentOr(h.Result)
	return unit
}

// claimedText is the claimed number without its unit.
func claimedText(h *claims.Held) string {
	if h.Change != nil && (h.Change.Unit == "%" || h.Change.Unit == h.Result.Unit) {
		if n := strings.Fields(h.Change.Text); len(n) > 0 && (len(n) == 1 || n[1] == h.Change.Unit) {
			return n[0] // with the digits in which it is written
		}
		return compare.Decimal(h.Change.Value, 1) // 3 min/h
	}
	return compare.Decimal((h.Lo+h.Hi)/2, claimPlaces(h))
}

func claimPlaces(h *claims.Held) int {
	_, lo, hi, _ := h.Interval()
	return min(compare.Places((hi-lo)/2), 4)
}

// ClaimSentence is what may be said instead: what the runs allow, with
// interval and number of runs, else what arithmetic gives.
func ClaimSentence(c *claims.Page, h *claims.Held) string {
	r := h.Result
	if r == nil {
		return Clean(strings.Join(madeTexts(h), "; "))
	}
	name := Clean(r.Name())
	if r.Parts != nil && !(len(r.Parts) == 1 && r.Parts[0].Name() == r.Name()) {
		if name = "the suite"; r.Benchmark != compare.WholeSuite {
			name = "the class " + Clean(r.Benchmark)
		}
	}
	sides := fmt.Sprintf("between %s and %s", Clean(h.Before), Clean(h.After))
	estimate, lo, hi, ok := h.Interval()
	within := h.Level
	if within == nil && r.Verdict != nil && *r.Verdict == compare.Level {
		within = r.Tolerance
	}
	supportsLevel := r.Verdict != nil && *r.Verdict == compare.Level
	if h.Form == claims.AsLevel {
		supportsLevel = h.Data == claims.Supported
	}
	switch {
	case supportsLevel && within != nil:
		unit, factor := percentOr(r)
		return fmt.Sprintf("%s changes by less than %s %s %s (%s)", name, compare.Decimal(math.Round(*within*factor*1e9)/1e9, 12), unit, sides,
			restsOn(c, r, intervalText(r)))
	case !r.Real || !ok:
		return fmt.Sprintf("no difference was shown in %s %s: %s (%s %% confidence; %s)",
			name, sides, stillPossible(r), level(c.Confidence), counts(r))
	}
	form := h.Form
	if form == claims.AsLevel { // in the words of a comparison
		form = claims.More
		if r.Role == compare.Score {
			form = claims.Faster
		}
	}
	if estimate < 0 {
		estimate, lo, hi = -estimate, -hi, -lo
		form = form.Opposite()
	}
	verb, word := "is", formWords(form)
	up, down := direction(r)
	switch {
	case form == claims.LessTime || form == claims.MoreTime:
		verb = "takes"
	case !form.OfSpeed() && compare.IsTime(r.Unit) && r.Scale == compare.Ratio:
		verb, word = "takes", word+" time"
	case form == claims.Faster:
		word = up
	case form == claims.Slower:
		word = down
	}
	unit, p := claimUnit(h), claimPlaces(h)
	return fmt.Sprintf("%s %s %s %s %s with %s than with %s (%s)",
		name, verb, compare.Decimal(estimate, p), unit, word, Clean(h.After), Clean(h.Before),
		restsOn(c, r, fmt.Sprintf("%s to %s %s", compare.Decimal(lo, p), compare.Decimal(hi, p), unit)))
}

// restsOn is "95 % interval 2.25 to 2.90 %; 6 and 6 sessions".
func restsOn(c *claims.Page, r *compare.Result, interval string) string {
	return fmt.Sprintf("%s %% interval %s; %s", level(c.Confidence), interval, counts(r))
}

// ClaimsClosing is the line to read first.
func ClaimsClosing(c *claims.Page) string {
	head := "Passed"
	switch v := c.Decisive(); {
	case v.Fails():
		head = "Failed"
	case v == claims.NotSettled:
		head = "Not settled"
	}
	tally := c.Tally()
	var parts []string
	for _, v := range claimVerdicts {
		if n := tally[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s: %d", v, n))
		}
	}
	return fmt.Sprintf("%s. Of %s: %s.", head, plural(len(c.Held), "claim"), strings.Join(parts, ", "))
}

// claimsNotes are the notes of the pairs, and of what the claims are about.
func claimsNotes(p ClaimsPage) []string {
	c := p.Page
	var lines []string
	for i, pair := range c.Pairs {
		lead := ""
		if len(c.Pairs) > 1 {
			lead = Clean(pair.Before) + " and " + Clean(pair.After) + ": "
		}
		for _, a := range pair.SetAside {
			lines = append(lines, lead+asideText(a))
		}
		notes := slices.Concat(each(pair.Notes, ComparisonNote), p.Commands.doubtsNotes(pair.Doubts))
		if i == 0 {
			notes = append(notes, p.Reading...)
		}
		for _, n := range notes {
			lines = append(lines, lead+Clean(n.Text))
		}
	}
	var by sentences
	advised := false
	seen := map[*compare.Result]bool{}
	for _, h := range c.Held {
		if h.Result == nil {
			continue
		}
		if h.Data == claims.NotSettled {
			advised = advised || strings.HasPrefix(claimWhy(p, h), "about ")
		}
		if seen[h.Result] {
			continue
		}
		seen[h.Result] = true
		for _, n := range h.Result.Notes {
			by.add(ComparisonNote(n).Text, Clean(h.Result.Name()))
		}
	}
	for _, s := range by.order {
		lines = append(lines, compare.List(by.names[s], 6)+": "+Clean(s))
	}
	if advised {
		lines = append(lines, Peeking)
	}
	return lines
}
