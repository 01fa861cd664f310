package report

import (
	"fmt"
	"math"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// optionalStopping is the warning about judging after every run, where up to n values
// a side are advised. The shares of false alarms were measured at 95 % confidence, from
// 4 a side on.
func optionalStopping(confidence float64, n int) string {
	const every = "Checking after every run raises false alarms "
	if math.Abs(confidence-0.95) > 1e-9 {
		return every + "several times over."
	}
	switch {
	case n <= 15:
		return every + "from 5 to as much as 12 % by 15 a side."
	case n <= 20:
		return every + "from 5 to as much as 18 % by 20 a side."
	}
	return every + "from 5 to as much as 24 % by 40 a side."
}

// judgeOnce is how to judge planned runs that were not looked at before.
func judgeOnce(confidence float64, n int) string {
	return "Add the planned runs, then judge once. " + optionalStopping(confidence, n)
}

// judgeAgain is how to judge planned runs after these were judged among others. The
// shares were measured as those of optionalStopping.
func judgeAgain(confidence float64) string {
	const again = "judge once more, with the planned runs: "
	if math.Abs(confidence-0.95) > 1e-9 {
		return again + "each look raises false alarms"
	}
	return again + "6 to 9 % false alarms instead of 5"
}

// lookPercent writes the confidence of a planned look, to two places.
func lookPercent(confidence float64) string { return compare.Decimal(100*confidence, 2) }

// maxNeeded is the largest number that is advised to settle one of these
// results; 0 where none is.
func maxNeeded(rs ...*compare.Result) int {
	n := 0
	for _, r := range rs {
		if need := r.Need(compare.ToSettle); need != nil {
			n = max(n, need.Size)
		}
	}
	return n
}

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
	places := min(compare.Places((in[1]-in[0])/2*factor), 4)
	if places == 4 && compare.Decimal(in[0]*factor, 4) == compare.Decimal(in[1]*factor, 4) {
		return 2 // ends that are equal do not say how many digits count
	}
	return places
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
// range's confidence.
func endsText(r *compare.Result) (ends, ranged string) {
	unit, factor := percentOr(r)
	in := r.Interval
	if in == nil {
		if in = r.Range; in == nil {
			return "none", ""
		}
		ranged = confidencePercent(r.RangeConfidence) + " %"
	}
	p := changePlaces(r)
	return plus(in[0]*factor, p) + " to " + plus(in[1]*factor, p) + " " + unit, ranged
}

// confidencePercent writes a confidence in per cent: "95", "97.1", "99.95".
func confidencePercent(confidence float64) string {
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

// counts is "6 and 6 sessions", "5 and 5 runs", "8 blocks", "5 and 5 machines", or
// "5 machines" where they are the same on both sides.
func counts(r *compare.Result) string {
	b, a := r.Replicates[0], r.Replicates[1]
	unit := string(r.Replication)
	switch {
	case paired(r):
		return english.Count(b, unit)
	case r.Replication == compare.ByRun && len(r.Parts) > 1:
		return fmt.Sprintf("%d and %s a score", b, english.Count(a, unit))
	}
	return fmt.Sprintf("%d and %s", b, english.Count(a, unit))
}

// paired reports whether one difference counts for both sides: of a block, or of the
// same machine.
func paired(r *compare.Result) bool { return r.Replication == compare.ByBlock || r.Blocks != nil }

// perSide is "9 sessions a side", "9 runs a side" or "9 blocks".
func perSide(r *compare.Result, n int) string {
	return about(n) + " " + english.Noun(n, string(r.Replication)) + eachSide(r)
}

// eachSide is " a side" behind a number, empty for blocks and the same machines.
func eachSide(r *compare.Result) string {
	switch {
	case paired(r):
		return ""
	case r.Replication == compare.ByRun && len(r.Parts) > 1:
		return " a score and side"
	}
	return " a side"
}

// direction words a change: "faster", "slower", "higher", "lower", "better",
// "worse", for plus and for minus as it is shown. The change of a score that is
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
		return "higher", "lower"
	case compare.IsSpeed(r.Unit):
		return "faster", "slower"
	case r.Better == compare.Lower && r.Scale == compare.Ratio:
		return "better", "worse"
	case r.Better == compare.Lower:
		return "better (lower)", "worse (higher)"
	}
	return "higher", "lower"
}

// changeText is "1.96 % slower".
func changeText(r *compare.Result) string {
	up, down := direction(r)
	if r.Change < 0 {
		up = down
	}
	return size(r, r.Change) + " " + up
}

// finding is one metric as a clause: "archive-pack is 1.96 % slower (1.56 to
// 2.36 %)".
func finding(r *compare.Result) string {
	text := Clean(r.Name()) + " is " + changeText(r)
	if in := r.Interval; in != nil {
		lo, hi := in[0], in[1]
		if r.Change < 0 {
			lo, hi = -hi, -lo
		}
		unit, factor := percentOr(r)
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

// tolerance is "0.5 %" or "1 °C".
func tolerance(r *compare.Result) string {
	if r.Tolerance == nil {
		return "none"
	}
	return stated(r, *r.Tolerance)
}

// stated writes a change of a metric as somebody stated it: "0.5 %".
func stated(r *compare.Result, change float64) string {
	unit, factor := percentOr(r)
	return compare.Decimal(math.Round(change*factor*1e9)/1e9, 12) + " " + unit
}

// probability writes a p value to two digits.
func probability(p float64) string {
	return compare.Decimal(p, min(12, max(2, 1-int(math.Floor(math.Log10(math.Max(p, 1e-11)))))))
}
