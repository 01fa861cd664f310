package report

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"tunegate/compare"
	"tunegate/compare/claims"
)

// madeText says what the figures, steps or list of a claim make.
func madeText(h *claims.Held, m claims.Made) string {
	size := sizeWords(m.Change, m.Places, m.Unit, m.Form)
	switch m.Of {
	case claims.OfSteps:
		var steps []string
		for _, s := range h.Steps {
			steps = append(steps, s.Text+" %")
		}
		return fmt.Sprintf("%s: %s in all", strings.Join(steps, ", then "), size)
	case claims.OfList:
		return fmt.Sprintf("on average %s (geometric mean of the ratios)", size)
	}
	return fmt.Sprintf("from %s to %s is %s", withFigureUnit(h, h.From), withFigureUnit(h, h.To), size)
}

// madeTexts are these sentences for everything that a claim lists.
func madeTexts(h *claims.Held) []string {
	return each(h.Exact, func(m claims.Made) string { return madeText(h, m) })
}

// rightWay is the right calculation from what a claim lists, with its result.
func rightWay(h *claims.Held, m claims.Made) string {
	switch m.Of {
	case claims.OfSteps:
		var factors []string
		for _, s := range h.Steps {
			factors = append(factors, compare.Decimal(math.Round(factor(h.Form, s.Value)*1e9)/1e9, 12))
		}
		return fmt.Sprintf("%s = %s, which is %s", strings.Join(factors, " × "), compare.Decimal(m.Product, m.Places+2),
			sizeWords(m.Change, m.Places, m.Unit, m.Form))
	case claims.OfList:
		return fmt.Sprintf("the list's arithmetic mean is %s %%, the geometric mean of its ratios, which is the right one, %s %%",
			compare.Decimal(m.Mean, m.Places), compare.Decimal(m.Change, m.Places))
	}
	return madeText(h, m)
}

// findingText words what arithmetic or the runs say about a figure of a claim.
func findingText(h *claims.Held, f claims.Finding) string {
	stated, from, to := "", "", ""
	if h.Change != nil {
		stated = h.Change.Text
	}
	if h.From != nil {
		from, to = withFigureUnit(h, h.From), withFigureUnit(h, h.To)
	}
	switch f.Cause {
	case claims.NoZero:
		var what, unit string
		if r := h.Result; r != nil {
			unit = cmp.Or(r.Unit, "its unit")
			what = r.Name() + " has no true zero in " + unit
		} else {
			unit = figureUnit(h)
			what = unit + " has no true zero"
		}
		return fmt.Sprintf("%s, so a percentage of it changes with the unit; state the difference in %s", what, unit)
	case claims.OtherDirection:
		return fmt.Sprintf("%s, not %s", rightWay(h, f.Made), formWords(h.Form))
	case claims.SidesSwapped:
		return fmt.Sprintf("%s; %s %% %s is the change from %s to %s", rightWay(h, f.Made), stated, formWords(h.Form), to, from)
	case claims.OtherSide:
		return fmt.Sprintf("%s %% %s", stated, otherBase(h.Form, f, to, from))
	case claims.OtherProfile:
		return fmt.Sprintf("%s %% %s", stated, otherBase(h.Form, f, h.After, h.Before))
	case claims.WhatIsLeft:
		return fmt.Sprintf("%s %% is what is left, not what is gone: %s", stated, rightWay(h, f.Made))
	case claims.NotAPercentage:
		unit := figureUnit(h)
		if unit != "" {
			unit = " in " + unit
		}
		return fmt.Sprintf("%s is the difference%s, not a percentage of %s: %s", stated, unit, from, rightWay(h, f.Made))
	case claims.OfTheMean:
		return fmt.Sprintf("%s %% is of the mean of both figures; of the first, %s", stated, rightWay(h, f.Made))
	case claims.DigitsOfFigures:
		return fmt.Sprintf("%s is written to more digits than %s and %s carry: rounded as they are, they give anything from %s to %s %%",
			stated, from, to, compare.Decimal(f.Lo, f.Places), compare.Decimal(f.Hi, f.Places))
	case claims.DigitsOfRuns:
		return fmt.Sprintf("%s is written to more digits than the runs carry: an interval from %s to %s %s carries %s",
			stated, compare.Decimal(f.Lo, f.Places), compare.Decimal(f.Hi, f.Places), h.Change.Unit, decimals(f.Places))
	case claims.MiddleOfAllPairs:
		return fmt.Sprintf("%s; the middle of all pairs of runs, which the claim states, is %s %% %s", rightWay(h, f.Made),
			compare.Decimal(f.Right, f.Places), formWords(h.Form))
	case claims.SumOfSteps:
		return fmt.Sprintf("%s %% is the sum; percentages that follow each other multiply: %s", stated, rightWay(h, f.Made))
	case claims.MeanOfGains:
		return fmt.Sprintf("%s %% is the mean of the %d that are above zero only; %s", stated, f.Count, rightWay(h, f.Made))
	case claims.MedianOfList:
		return fmt.Sprintf("%s %% is the median; %s", stated, rightWay(h, f.Made))
	case claims.SumOfList:
		return fmt.Sprintf("%s %% is the sum; %s", stated, rightWay(h, f.Made))
	case claims.LargestOfPage:
		return fmt.Sprintf("the largest change of the %d scores: the largest flatters itself, so measure it again before you publish its number",
			f.Count)
	case claims.BeyondRuns:
		figure, side, profile := h.From, h.Result.Before.Side, h.Before
		if f.Side == 1 {
			figure, side, profile = h.To, h.Result.After.Side, h.After
		}
		return fmt.Sprintf("%s is no summary of the runs of %s: they lie between %s and %s %s", figure.Text, profile,
			compare.Decimal(side.Min, 12), compare.Decimal(side.Max, 12), h.Result.Unit)
	}
	return rightWay(h, f.Made)
}

// sentenceText words what a sentence says otherwise than its keys.
func sentenceText(h *claims.Held, f claims.Finding) string {
	at := h.At
	if p, ok := h.Places["text"]; ok {
		at = p
	}
	where := ""
	if at.String() != "" {
		where = at.String() + ": "
	}
	switch f.Cause {
	case claims.OtherNumber:
		if f.Expected == "" {
			return fmt.Sprintf("%sthe text has %s, and the keys have no number", where, f.Found)
		}
		return fmt.Sprintf("%sthe text has %s, the key %s", where, f.Found, f.Expected)
	case claims.OtherBound:
		return fmt.Sprintf("%sthe text has %s without \"at least\", the key %s", where, f.Found, f.Expected)
	case claims.SidesSwappedInText:
		return fmt.Sprintf("%sthe text compares with %s, the keys are %s", where, f.Found, f.Expected)
	case claims.OtherDirectionWord:
		return fmt.Sprintf("%sthe text says %q, the key is %s", where, f.Found, f.Expected)
	}
	keys := "key is"
	if f.Cause == claims.OtherProfileNamed {
		keys = "keys are"
	}
	return fmt.Sprintf("%sthe text names %s, the %s %s", where, f.Found, keys, f.Expected)
}

// uncheckedText words what of a sentence no key covers.
func uncheckedText(f claims.Finding) string {
	switch f.Cause {
	case claims.KeyNotInText:
		return "the text does not state " + f.Found
	case claims.AfterNotInText:
		return "the text names “" + f.Found + "” alone, which is the profile before"
	case claims.BenchmarkNotInText:
		return "the text does not name " + f.Found
	case claims.NoRunsNamed:
		return "whether runs say so, since the claim names none"
	}
	return "“" + f.Found + "”"
}

// factor is the ratio of one step.
func factor(form claims.Form, percent float64) float64 {
	if form.Falls() {
		percent = -percent
	}
	return 1 + percent/100
}

// otherBase explains a percentage that was taken of the other side. after and
// before name the two sides.
func otherBase(form claims.Form, f claims.Finding, after, before string) string {
	right := compare.Decimal(f.Right, f.Places)
	if f.Inverse {
		switch form {
		case claims.Faster:
			return fmt.Sprintf("is the time saved; the speed rises by %s %%", right)
		case claims.Slower:
			return fmt.Sprintf("is the time added; the speed falls by %s %%", right)
		case claims.LessTime:
			return fmt.Sprintf("is the gain in speed; the time falls by %s %%", right)
		case claims.MoreTime:
			return fmt.Sprintf("is the loss of speed; the time rises by %s %%", right)
		}
	}
	return fmt.Sprintf("is the change from %s to %s; the other way it is %s %% %s", after, before, right, formWords(form))
}

// figureUnit is the unit of the two figures of a claim.
func figureUnit(h *claims.Held) string {
	if h.From.Unit == "" && h.Result != nil {
		return h.Result.Unit
	}
	return h.From.Unit
}

// withFigureUnit writes a figure with the unit of both.
func withFigureUnit(h *claims.Held, f *claims.Figure) string {
	unit := figureUnit(h)
	if unit == "" || strings.HasSuffix(f.Text, unit) {
		return f.Text
	}
	return f.Text + " " + unit
}

// formWords is how a form reads behind a number.
func formWords(f claims.Form) string { return strings.ReplaceAll(string(f), "-", " ") }

// sizeWords writes a change in the words of a form, or of the opposite one.
func sizeWords(v float64, places int, unit string, f claims.Form) string {
	if v < 0 {
		v, f = -v, f.Opposite()
	}
	return strings.TrimSpace(compare.Decimal(v, places)+" "+unit) + " " + formWords(f)
}

func decimals(n int) string {
	switch n {
	case 0:
		return "no decimals"
	case 1:
		return "one decimal"
	}
	return fmt.Sprintf("%d decimals", n)
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
			return "real on its own, not after correction for " + familyText(c.Family)
		}
		if s := betweenIntervals(c, h); s != "" {
			return s
		}
		if h.AtLeast && r.Real {
			return fmt.Sprintf("the interval reaches below %s: a smaller change is possible", h.Change.Text)
		}
		if h.Form == claims.AsLevel && h.Change == nil && r.Need(compare.ToSettle) != nil {
			return settling(r)
		}
		if n, ok := sizeToShow(h); ok {
			return fmt.Sprintf("a change of %s %s would take about %s", claimedText(h), claimUnit(h), perSide(r, n))
		}
		return ""
	}
	lo, hi, ok := h.JointInterval()
	if !ok {
		return ""
	}
	_, _, ownHi, _ := h.Interval()
	unit, places := claimUnit(h), claimPlaces(h)
	claimed := claimedText(h)
	switch {
	case h.Form == claims.AsLevel && h.Change == nil && r.Real:
		return "a change was shown"
	case h.Form == claims.AsLevel:
		return fmt.Sprintf("the change is larger than %s %s", claimed, unit)
	case h.Data == claims.Contradicted && ownHi < 0:
		return fmt.Sprintf("the runs show a change the other way, not %s %s %s", claimed, unit, formWords(h.Form))
	case h.Data == claims.Contradicted && r.Real: // by its figures
		return ""
	case h.Data == claims.Contradicted:
		return fmt.Sprintf("no change was shown, and %s %s %s is outside the interval, which ends at %s %s",
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

// advisedFor is the number of values a side that claimWhy advises; 0 for none.
func advisedFor(p ClaimsPage, h *claims.Held) int {
	r := h.Result
	switch {
	case h.Data != claims.NotSettled || r.UncorrectedOnly || betweenIntervals(p.Page, h) != "" || h.AtLeast && r.Real ||
		p.Commands.cannotSettle(p.Page.Confidence, r, "") != "":
		return 0
	case h.Form == claims.AsLevel && h.Change == nil:
		return maxNeeded(r)
	}
	n, _ := sizeToShow(h)
	return n
}

// betweenIntervals says that a claim is beyond its own interval, and not beyond the one
// that holds for all at once; empty where it is not.
func betweenIntervals(c *claims.Page, h *claims.Held) string {
	_, lo, hi, ok := h.Interval()
	if !ok || h.Joint == nil || !h.Result.Real || h.AtLeast || h.Form == claims.AsLevel || lo <= h.Hi && h.Lo <= hi {
		return ""
	}
	jointLo, jointHi, _ := h.JointInterval()
	unit, places := claimUnit(h), claimPlaces(h)
	return fmt.Sprintf("%s %s is outside the interval of this change alone, %s to %s %s; of %d judged together one may be so by luck, "+
		"and the interval that holds for all at once, %s to %s %s, allows it", claimedText(h), unit, compare.Decimal(lo, places),
		compare.Decimal(hi, places), unit, c.Family.Members(), compare.Decimal(jointLo, places), compare.Decimal(jointHi, places), unit)
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

// claimSentence is what may be said instead: what the runs allow, with
// interval and number of runs, else what arithmetic gives.
func claimSentence(c *claims.Page, h *claims.Held) string {
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
	estimate, _, _, ok := h.Interval()
	lo, hi, _ := h.JointInterval()
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
		return fmt.Sprintf("%s changes by less than %s %s (%s)", name, stated(r, *within), sides, restsOn(c, r, intervalText(r)))
	case !r.Real || !ok:
		return fmt.Sprintf("no difference was shown in %s %s: %s (%s %% confidence; %s)",
			name, sides, stillPossible(r), confidencePercent(c.Confidence), counts(r))
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
	case r.Role != compare.Score && form == claims.More:
		word = up
	case r.Role != compare.Score && form == claims.Less:
		word = down
	}
	unit, p := claimUnit(h), claimPlaces(h)
	interval := fmt.Sprintf("%s to %s %s", compare.Decimal(lo, p), compare.Decimal(hi, p), unit)
	if h.Joint != nil {
		interval += fmt.Sprintf(", for all %d at once", c.Family.Members())
	}
	return fmt.Sprintf("%s %s %s %s %s with %s than with %s (%s)",
		name, verb, compare.Decimal(estimate, p), unit, word, Clean(h.After), Clean(h.Before), restsOn(c, r, interval))
}

// restsOn is "95 % interval 2.25 to 2.90 %; 6 and 6 sessions".
func restsOn(c *claims.Page, r *compare.Result, interval string) string {
	return fmt.Sprintf("%s %% interval %s; %s", confidencePercent(c.Confidence), interval, counts(r))
}
