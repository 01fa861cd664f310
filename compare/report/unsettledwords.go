package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
)

// unsettledText says what could still hide in a metric and what would settle it.
// Empty for a metric that is settled or never judged.
func unsettledText(r *compare.Result) string {
	if r.Verdict == nil || r.Verdict.Settled() {
		return ""
	}
	text := "noise: " + stillPossible(r)
	switch {
	case r.Needed != nil:
		text += "; " + settling(r, tolerance(r))
	case r.TooCoarse():
		text += "; " + tooCoarse(r)
	}
	return text
}

// settling says how many runs would settle something. The plan has a power of
// 80 %, so a result with that many runs can still be unsettled.
func settling(r *compare.Result, what string) string {
	if *r.Needed <= min(r.Replicates[0], r.Replicates[1]) {
		return fmt.Sprintf("as many as these settle %s four times in five, but not this time: run as many again", what)
	}
	return fmt.Sprintf("about %s would settle %s", perSide(r, *r.Needed), what)
}

// tooCoarse says that the readings' steps hide a change of the size that counts.
func tooCoarse(r *compare.Result) string {
	return fmt.Sprintf("no number of runs settles %s while readings come in steps of %s: record more digits, or measure for longer",
		tolerance(r), trimZeros(compare.Decimal(r.Resolution, 6)+" "+Clean(r.Unit)))
}

func stillPossible(r *compare.Result) string {
	lo, hi, ok := r.GainInterval()
	lo, hi = shown(r, lo), shown(r, hi)
	if !ok {
		return "a single value on a side leaves everything possible"
	}
	loss, gain := "loss", "gain"
	if r.Role != compare.Score {
		loss, gain = "rise", "fall"
		if r.Better != compare.Lower {
			loss, gain = gain, loss
		}
	}
	at := ""
	if r.Interval == nil {
		at = fmt.Sprintf(" (at %s %% only)", level(r.RangeLevel))
	}
	switch {
	case lo > 0:
		return fmt.Sprintf("a %s of %s to %s was seen, but is not settled%s", gain, size(r, lo), size(r, hi), at)
	case hi < 0:
		return fmt.Sprintf("a %s of %s to %s was seen, but is not settled%s", loss, size(r, hi), size(r, lo), at)
	case lo == 0 && hi == 0:
		return "the readings do not differ" + at
	case lo == 0:
		return fmt.Sprintf("a %s of up to %s is still possible%s", gain, size(r, hi), at)
	case hi == 0:
		return fmt.Sprintf("a %s of up to %s is still possible%s", loss, size(r, lo), at)
	}
	return fmt.Sprintf("a %s of up to %s or a %s of up to %s is still possible%s", loss, size(r, lo), gain, size(r, hi), at)
}

// shown is a change, or 0 where it is printed as zeros.
func shown(r *compare.Result, change float64) float64 {
	if strings.Trim(size(r, change), "0. "+Clean(r.Unit)+"%") == "" {
		return 0
	}
	return change
}

// cannotSettle says why no verdict was possible with these sample sizes, which size
// could give one, and at which confidence these could. It is empty where one was
// possible. of is the word for a member of the family, such as "score".
func (c Commands) cannotSettle(confidence float64, r *compare.Result, of string) string {
	if r.CanSettle || r.Verdict == nil || r.Verdict.Settled() {
		return ""
	}
	among := ""
	if r.Among > 1 {
		among = fmt.Sprintf(" among %d %ss", r.Among, of)
	}
	never := fmt.Sprintf("%s can never call anything a gain or a loss at %s %%%s", counts(r), level(confidence), among)
	could := perSide(r, r.MinSampleSize) + " could"
	if r.MinP >= 1 || r.Replication != compare.ByBlock && min(r.Replicates[0], r.Replicates[1]) < 2 {
		return never + "; " + could
	}
	text := fmt.Sprintf("%s: even a perfect split gives p = %s; %s", never, probability(r.MinP), could)
	switch alone := 1 - r.MinP; {
	case r.MaxConfidence >= 0.5:
		text += fmt.Sprintf("; these could at %s %% confidence", floorLevel(r.MaxConfidence))
	case among != "" && alone >= 0.5:
		text += fmt.Sprintf("; these could at %s %% confidence, one %s alone (%s)", floorLevel(alone), of, c.Uncorrected)
	}
	return text
}

// floorLevel writes a confidence in per cent. It is rounded down, so that these runs
// can reach the confidence that is printed.
func floorLevel(confidence float64) string {
	return compare.Decimal(math.Floor(confidence*1000+1e-6)/10, 12)
}

// maxUnsettled is the maximum number of unsettled metrics with a sentence each.
const maxUnsettled = 6

// unsettledSentences say what could still hide. Metrics with the same sentence
// share it, and more than maxUnsettled on one scale share a summary. advised is set
// where more runs are advised.
func unsettledSentences(p ComparisonPage) (cannot, noise sentences, advised bool) {
	c := p.Comparison
	byUnit := map[string][]*compare.Result{}
	kind := func(r *compare.Result) string {
		unit, _ := percentOr(r)
		return fmt.Sprint(r.Role, unit, r.Parts != nil)
	}
	for _, r := range c.Judged() {
		if unsettledText(r) != "" {
			byUnit[kind(r)] = append(byUnit[kind(r)], r)
			advised = advised || r.Needed != nil
		}
		if s := p.Commands.cannotSettle(c.Confidence, r, "score"); s != "" {
			cannot.add(s, Clean(r.Name()))
		}
	}
	for _, r := range c.Judged() {
		if unsettledText(r) == "" {
			continue
		}
		if many := byUnit[kind(r)]; len(many) > maxUnsettled {
			noise.add(unsettledSummary(many), Clean(r.Name()))
		} else {
			noise.add(unsettledText(r), Clean(r.Name()))
		}
	}
	return cannot, noise, advised
}

// openLines are those sentences, each with the names that it is about.
func openLines(p ComparisonPage) (lines []string, advised bool) {
	cannot, noise, advised := unsettledSentences(p)
	return slices.Concat(cannot.lines(), noise.lines()), advised
}

// unsettledSummary is one sentence for many metrics on one scale.
func unsettledSummary(rs []*compare.Result) string {
	var loss, gain *compare.Result
	var worst, best float64
	for _, r := range rs {
		if lo, hi, ok := r.GainInterval(); ok {
			if lo < worst {
				worst, loss = lo, r
			}
			if hi > best {
				best, gain = hi, r
			}
		}
	}
	text := "noise; each row's interval says what could still hide"
	if loss != nil {
		text += fmt.Sprintf(", at most a loss of %s (%s)", size(loss, worst), Clean(loss.Name()))
	}
	if gain != nil {
		text += fmt.Sprintf(", at most a gain of %s (%s)", size(gain, best), Clean(gain.Name()))
	}
	switch few, many := neededRange(rs); {
	case few == nil:
	case few == many:
		text += fmt.Sprintf("; about %s would settle the tolerance in %s", perSide(few, *few.Needed), Clean(few.Name()))
	default:
		text += fmt.Sprintf("; from %s to %s would settle the tolerance", neededText(few), neededText(many))
	}
	return text
}

// neededRange are the results that need the fewest and the most runs to settle;
// nil where no number of runs is known to.
func neededRange(rs []*compare.Result) (few, many *compare.Result) {
	for _, r := range rs {
		if r.Needed == nil {
			continue
		}
		if few == nil || *r.Needed < *few.Needed {
			few = r
		}
		if many == nil || *r.Needed > *many.Needed {
			many = r
		}
	}
	return few, many
}

// neededText is "about 9 sessions a side (tile-render)".
func neededText(r *compare.Result) string {
	return fmt.Sprintf("about %s (%s)", perSide(r, *r.Needed), Clean(r.Name()))
}

// sentences groups names under equal sentences, in order of appearance.
type sentences struct {
	order []string
	names map[string][]string
}

func (s *sentences) add(sentence, name string) {
	if s.names == nil {
		s.names = map[string][]string{}
	}
	if s.names[sentence] == nil {
		s.order = append(s.order, sentence)
	}
	s.names[sentence] = append(s.names[sentence], name)
}

// lines are the sentences, each after the names that it is about.
func (s *sentences) lines() []string {
	return each(s.order, func(text string) string { return compare.List(s.names[text], 6) + ": " + Clean(text) })
}

// unsettledLines say what could still hide in some results.
func unsettledLines(rs []*compare.Result) []string {
	var out []string
	for _, r := range rs {
		if s := unsettledText(r); s != "" {
			out = append(out, Clean(r.Name())+": "+s)
		}
	}
	return out
}
