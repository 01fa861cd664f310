package report

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/ladder"
)

// costMove is a real change of a cost in one direction, in the benchmarks that
// show it.
type costMove struct {
	what     string // such as "power"
	results  []*compare.Result
	measured int // benchmarks that have this cost
}

// overAmbient stands for a temperature rise in a sentence.
const overAmbient = "temperature over ambient"

// costMoves groups the real changes of costs by quantity and direction, in order
// of appearance.
func costMoves(results []*compare.Result) (rises, falls []costMove) {
	measured := map[[2]string]int{}
	of := func(r *compare.Result) [2]string {
		unit, _ := percentOr(r)
		what := Clean(r.Metric.Metric)
		if what == compare.DefaultMetric {
			what = Clean(r.Benchmark)
		}
		if what == ladder.MetricRise { // else a rise would rise
			what = overAmbient
		}
		return [2]string{what, unit}
	}
	for _, r := range results {
		if r.Role == compare.Cost {
			measured[of(r)]++
		}
	}
	moved := func(up bool) []costMove {
		var out []costMove
		for _, rs := range groupsOf(results, of) {
			var found []*compare.Result
			for _, r := range rs {
				if r.Role == compare.Cost && isChange(r) && r.Change > 0 == up {
					found = append(found, r)
				}
			}
			if len(found) > 0 {
				out = append(out, costMove{of(found[0])[0], found, measured[of(found[0])]})
			}
		}
		return out
	}
	return moved(true), moved(false)
}

// size is how far the cost moved: "9.4 %", or "8.1 to 9.4 %" over several
// benchmarks.
func (m costMove) size() string {
	lo, hi := m.results[0], m.results[0]
	for _, r := range m.results {
		if abs := max(r.Change, -r.Change); abs < max(lo.Change, -lo.Change) {
			lo = r
		} else if abs > max(hi.Change, -hi.Change) {
			hi = r
		}
	}
	least, most := size(lo, lo.Change), size(hi, hi.Change)
	if least == most {
		return most
	}
	unit, _ := percentOr(hi)
	return strings.TrimSuffix(least, " "+unit) + " to " + most
}

// costSentence says which costs rose and fell; empty where none did: "Power rose by
// 9.4 %, temperature by 5.5 °C."
func costSentence(results []*compare.Result) string {
	clause := func(moves []costMove, verb string) string {
		var parts []string
		for i, m := range moves {
			text := m.what + " by " + m.size()
			if i == 0 {
				text = m.what + " " + verb + " by " + m.size()
			}
			if len(m.results) < m.measured {
				text += " (" + compare.List(each(m.results, func(r *compare.Result) string { return Clean(r.Benchmark) }), 2) + ")"
			}
			parts = append(parts, text)
		}
		return strings.Join(parts, ", ")
	}
	rises, falls := costMoves(results)
	up, down := clause(rises, "rose"), clause(falls, "fell")
	if up != "" && down != "" {
		up += "; "
	}
	return sentence(up + down)
}

// joinSentences puts sentences behind each other; empty ones are left out.
func joinSentences(all ...string) string {
	return strings.Join(slices.DeleteFunc(all, func(s string) bool { return s == "" }), " ")
}

// sentence begins with a capital letter and ends with a stop, unless it is empty.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	first := []rune(s)
	return strings.ToUpper(string(first[:1])) + string(first[1:]) + "."
}

// price is what a headline adds about costs. Behind a gain it is " for 9.4 % more
// power and 5.5 °C more heat", and of falls " at 7.2 °C less heat"; what else rose
// stands for itself: "; power rose by 9.4 %". change is above 0 behind a gain, below
// behind a loss, and 0 behind anything else.
func price(results []*compare.Result, change float64) string {
	words := func(moves []costMove, more string) string {
		return andList(each(moves, func(m costMove) string {
			what := m.what
			if what == ladder.MetricTemperature || what == overAmbient {
				what = "heat"
			}
			return m.size() + " " + more + " " + what
		}))
	}
	rises, falls := costMoves(results)
	text, up, down := "", words(rises, "more"), words(falls, "less")
	switch {
	case up == "" && down == "":
		return ""
	case change == 0 || change < 0 && up != "":
		return "; " + lowerFirst(strings.TrimSuffix(costSentence(results), "."))
	}
	if up != "" {
		text = " for " + up
	}
	if down != "" {
		text += " at " + down
	}
	return text
}

func lowerFirst(s string) string {
	first := []rune(s)
	return strings.ToLower(string(first[:1])) + string(first[1:])
}

// tally says how many scores have which verdict: "6 scores: 2 uplift, 4 not
// settled."
func tally(of map[compare.Verdict]int) string {
	total := 0
	var parts []string
	for _, v := range []compare.Verdict{compare.Uplift, compare.SlightGain, compare.Level, compare.SlightLoss, compare.Regression} {
		if n := of[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, v))
		}
		total += of[v]
	}
	if n := of[compare.Hint]; n > 0 {
		parts = append(parts, english.Count(n, "hint"))
		total += n
	}
	if n := of[compare.Noise]; n > 0 {
		parts = append(parts, fmt.Sprintf("%d not settled", n))
		total += n
	}
	if total == 0 {
		return ""
	}
	return english.Count(total, "score") + ": " + strings.Join(parts, ", ") + "."
}
