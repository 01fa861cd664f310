package report

import (
	"fmt"
	"math"
	"strings"

	"tunegate/compare"
	"tunegate/compare/report/doc"
)

// Caution is shown wherever power, voltage, energy or heat is.
const Caution = "Caution: stay within the maker's limits, back up first, test stability separately (speed says nothing about it), " +
	"and leave mains wiring to licensed people."

// Peeking is said wherever more runs are advised.
const Peeking = "Plan one further look and judge once: adding runs until the answer pleases can raise false alarms from 5 to 12 %."

// Clean removes control and private characters and invisible direction marks,
// so that a name from a file can do nothing to a terminal.
func Clean(name string) string { return doc.Clean(name) }

// percentOr returns the unit in which a metric's changes are shown and the
// factor from the stored change.
func percentOr(r *compare.Result) (unit string, factor float64) {
	if r.Scale == compare.Ratio {
		return "%", 100
	}
	return Clean(r.Unit), 1
}

// changePlaces is to how many places a metric's change is quoted: as its
// interval, or its range, allows.
func changePlaces(r *compare.Result) int {
	_, factor := percentOr(r)
	in := r.Interval
	if in == nil {
		in = r.Range
	}
	if in == nil {
		return 1
	}
	return min(compare.Places((in[1]-in[0])/2*factor), 4)
}

// signed writes a change with its sign and unit: "+2.46 %".
func signed(r *compare.Result, change float64) string {
	unit, factor := percentOr(r)
	return plus(change*factor, changePlaces(r)) + " " + unit
}

func plus(v float64, places int) string {
	s := compare.Decimal(v, places)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// size writes a change without its sign: "2.46 %".
func size(r *compare.Result, change float64) string {
	unit, factor := percentOr(r)
	return compare.Decimal(math.Abs(change)*factor, changePlaces(r)) + " " + unit
}

// intervalText is "+2.25 to +2.90 %", or "+2.50 to +3.19 % (range, 90 %)" where
// there is no interval.
func intervalText(r *compare.Result) string {
	ends, ranged := endsText(r)
	if ranged != "" {
		ends += " (range, " + ranged + ")"
	}
	return ends
}

// endsText is the interval, or the range where there is none, and then the
// range's level.
func endsText(r *compare.Result) (ends, ranged string) {
	unit, factor := percentOr(r)
	in := r.Interval
	if in == nil {
		if in = r.Range; in == nil {
			return "none", ""
		}
		ranged = level(r.RangeLevel) + " %"
	}
	p := changePlaces(r)
	return plus(in[0]*factor, p) + " to " + plus(in[1]*factor, p) + " " + unit, ranged
}

// level writes a confidence in per cent: "95", "97.1", "99.95".
func level(confidence float64) string {
	for places := range 4 { // as somebody typed it
		if s := compare.Decimal(100*confidence, places); math.Abs(100*confidence-atof(s)) < 1e-9 {
			return s
		}
	}
	for places := range 6 {
		s := compare.Decimal(100*confidence, places)
		if math.Abs(100*confidence-atof(s)) < 0.05*(100-100*confidence)+1e-9 {
			return s
		}
	}
	return compare.Decimal(100*confidence, 6)
}

func atof(s string) (v float64) {
	fmt.Sscan(s, &v)
	return v
}

// medians is "412.4 s -> 402.5 s" with the given arrow.
func medians(r *compare.Result, arrow string) string {
	return median(r, r.Before.Side) + " " + arrow + " " + median(r, r.After.Side)
}

func median(r *compare.Result, s compare.Side) string {
	return strings.TrimSpace(compare.Decimal(s.Median, medianPlaces(r)) + " " + Clean(r.Unit))
}

// medianPlaces quotes both medians to the place of the less certain one, their
// uncertainty taken as the spread of the runs over the root of what counts.
func medianPlaces(r *compare.Result) int {
	if r.Parts != nil && r.Interval != nil && r.Unit == "" { // relative to before
		return min(compare.Places((r.Interval[1]-r.Interval[0])/2), 6)
	}
	u := math.Max(r.Before.StdDev/math.Sqrt(float64(r.Replicates[0])), r.After.StdDev/math.Sqrt(float64(r.Replicates[1])))
	if u > 0 {
		return min(compare.Places(u), 6)
	}
	places := 0 // constant: as many as the values have
	for _, v := range []float64{r.Before.Median, r.After.Median} {
		if s := compare.Decimal(v, 12); strings.Contains(s, ".") {
			places = max(places, len(s)-strings.Index(s, ".")-1)
		}
	}
	return min(places, 6)
}

// counts is "6 and 6 sessions", "5 and 5 runs" or "8 blocks".
func counts(r *compare.Result) string {
	b, a := r.Replicates[0], r.Replicates[1]
	switch r.Replication {
	case compare.ByBlock:
		return plural(b, "block")
	case compare.BySession:
		return fmt.Sprintf("%d and %d sessions", b, a)
	}
	if len(r.Parts) > 1 {
		return fmt.Sprintf("%d and %d runs a score", b, a)
	}
	return fmt.Sprintf("%d and %d runs", b, a)
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// perSide is "9 sessions a side", "9 runs a side" or "9 blocks".
func perSide(r *compare.Result, n int) string {
	words := about(n) + " " + string(r.Replication)
	if n != 1 {
		words += "s"
	}
	if r.Replication == compare.ByBlock {
		return words
	}
	if r.Replication == compare.ByRun && len(r.Parts) > 1 {
		return words + " a score and side"
	}
	return words + " a side"
}

// direction words a change: "faster", "slower", "higher", "lower", "more",
// "less", for plus and for minus as it is shown. The change of a score that is
// better low is that of its inverse, as speed is of time: twice as many errors
// are 50 % worse, and not 50 % higher.
func direction(r *compare.Result) (plus, minus string) { return directionOf(r.Measurement) }

func directionOf(r *compare.Measurement) (plus, minus string) {
	switch {
	case r.Parts != nil:
		for _, part := range r.Parts {
			if up, _ := directionOf(part); up != "faster" {
				return "better", "worse"
			}
		}
		return "faster", "slower"
	case r.Role != compare.Score:
		return "more", "less"
	case compare.IsSpeed(r.Unit):
		return "faster", "slower"
	case r.Better == compare.Lower && r.Scale == compare.Ratio:
		return "better", "worse"
	case r.Better == compare.Lower:
		return "better (lower)", "worse (higher)"
	}
	return "higher", "lower"
}

// finding is one metric as a clause: "archive-pack is 1.96 % slower (1.56 to
// 2.36 %)".
func finding(r *compare.Result) string {
	up, down := direction(r)
	unit, factor := percentOr(r)
	word, lo, hi := up, 0.0, 0.0
	if in := r.Interval; in != nil {
		lo, hi = in[0], in[1]
	}
	if r.Change < 0 {
		word, lo, hi = down, -hi, -lo
	}
	text := fmt.Sprintf("%s is %s %s", Clean(r.Name()), size(r, r.Change), word)
	if r.Interval != nil {
		p := changePlaces(r)
		text += fmt.Sprintf(" (%s to %s %s)", compare.Decimal(lo*factor, p), compare.Decimal(hi*factor, p), unit)
	}
	if s := asMeasured(r); s != "" && r.TimeSaved == nil { // of a time it would say the same twice
		text += ", " + strings.TrimSpace(s+" "+Clean(r.Unit))
	}
	return text
}

// asMeasured is how much less or more was measured of a score that is better
// low: "2.4 % less time", and "2.4 % less" of what is no time. It is empty where
// the change says so itself.
func asMeasured(r *compare.Result) string {
	saved, what := 0.0, ""
	switch {
	case r.TimeSaved != nil:
		saved, what = *r.TimeSaved, " time"
	case r.Role == compare.Score && r.Better == compare.Lower && r.Scale == compare.Ratio && !compare.IsTime(r.Unit):
		saved = r.Change / (1 + r.Change)
	default:
		return ""
	}
	word := "less"
	switch {
	case shown(r, saved) == 0:
		return "the same" + what
	case saved < 0:
		word = "more"
	}
	return size(r, saved) + " " + word + what
}

// Unsettled says what could still hide in a metric and what would settle it.
// Empty for a metric that is settled or never judged.
func Unsettled(r *compare.Result) string {
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

// settling says how many would settle something. A plan keeps its word four times
// in five, so as many may be there already.
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

// about writes a planned number to the two digits that a plan is worth, above
// 100 rounded up, with a comma between thousands.
func about(n int) string {
	step := 1
	for n/step >= 100 {
		step *= 10
	}
	s := fmt.Sprint((n + step - 1) / step * step)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
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

// shown is a change as far as it is printed: 0 where only zeros are.
func shown(r *compare.Result, change float64) float64 {
	if strings.Trim(size(r, change), "0. "+Clean(r.Unit)+"%") == "" {
		return 0
	}
	return change
}

// tolerance is "0.5 %" or "1 °C".
func tolerance(r *compare.Result) string {
	if r.Tolerance == nil {
		return "none"
	}
	unit, factor := percentOr(r)
	return compare.Decimal(math.Round(*r.Tolerance*factor*1e9)/1e9, 12) + " " + unit
}

// cannotSettle says of metrics that share sizes and bar why no verdict was
// possible, which number could, and at which confidence these could; of is what
// the family is made of.
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
	if r.Replication != compare.ByBlock && min(r.Replicates[0], r.Replicates[1]) < 2 {
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

// floorLevel writes a confidence in per cent, rounded down so that it can be
// typed back and reached.
func floorLevel(confidence float64) string {
	return compare.Decimal(math.Floor(confidence*1000+1e-6)/10, 12)
}

// probability writes a p value to two digits.
func probability(p float64) string {
	return compare.Decimal(p, min(12, max(2, 1-int(math.Floor(math.Log10(math.Max(p, 1e-11)))))))
}

// Closing is the one line that a person reads first.
func Closing(c *compare.Comparison) string { return scoresClosing(c) + suiteClosing(c) }

func scoresClosing(c *compare.Comparison) string {
	failed := c.Regressions()
	var bad []string
	for _, r := range failed {
		bad = append(bad, finding(r))
	}
	tally := map[compare.Verdict]int{}
	scores, unnamed := 0, 0
	for _, r := range c.Results {
		switch {
		case r.Role != compare.Score || r.Verdict == nil:
		case !r.Named:
			unnamed++
		default:
			tally[*r.Verdict]++
			scores++
		}
	}
	var parts []string
	for _, v := range []compare.Verdict{compare.Uplift, compare.SlightGain, compare.Level, compare.SlightLoss, compare.Regression} {
		if n := tally[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s in %d", v, n))
		}
	}
	if n := tally[compare.Noise]; n > 0 {
		parts = append(parts, fmt.Sprintf("not settled: %d", n))
	}
	of := ""
	if scores > 0 {
		of = fmt.Sprintf("Of %s: %s.", plural(scores, "score"), strings.Join(parts, ", "))
	}
	switch {
	case len(bad) > 0:
		head := strings.Join(bad[:min(3, len(bad))], "; ")
		if len(bad) > 3 {
			head += fmt.Sprintf("; and %d more", len(bad)-3)
		}
		return strings.TrimSpace(fmt.Sprintf("Regression: %s. %s", head, of))
	case scores == 0 && unnamed > 0:
		return "Nothing is judged: the policy names none of these scores."
	case scores == 1:
		for _, r := range c.Results {
			if r.Role == compare.Score && r.Verdict != nil && r.Named {
				return single(r)
			}
		}
	case scores > 0 && tally[compare.Noise] == scores:
		return fmt.Sprintf("No single score is settled: %s, all of them noise. That is not the same as no change.", plural(scores, "score"))
	case scores == 0:
		return "No regression found: no score was compared, and what else was is shown, not judged, unless a tolerance is stated for it."
	}
	return strings.TrimSpace("No regression found. " + of)
}

// suiteClosing is the suite as a sentence, empty where there is none.
func suiteClosing(c *compare.Comparison) string {
	if c.Suite == nil {
		return ""
	}
	r := c.Suite.Result
	switch v := *r.Verdict; {
	case v == compare.Level:
		return fmt.Sprintf(" Suite: level, within %s.", tolerance(r))
	case v.Settled():
		return fmt.Sprintf(" Suite: %s.", strings.TrimPrefix(finding(r), "suite is "))
	case r.Interval == nil && r.Range == nil:
		return " Suite: not settled."
	}
	return fmt.Sprintf(" Suite: not settled, %s.", intervalText(r))
}

func single(r *compare.Result) string {
	if !r.Verdict.Settled() {
		return fmt.Sprintf("Not settled: %s, %s.", Clean(r.Name()), strings.TrimPrefix(Unsettled(r), "noise: "))
	}
	if *r.Verdict == compare.Level {
		return fmt.Sprintf("Level: %s changed by less than the tolerance of %s.", Clean(r.Name()), tolerance(r))
	}
	return fmt.Sprintf("%s%s: %s.", strings.ToUpper(string(*r.Verdict)[:1]), string(*r.Verdict)[1:], finding(r))
}

// Hazard reports whether the caution line has to be shown.
func Hazard(c *compare.Comparison) bool {
	for _, r := range c.Results {
		if compare.ShowsHazard(r.Unit) {
			return true
		}
	}
	return false
}
