package report

import (
	"cmp"
	"fmt"
	"strings"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

// ladderNote words a note on a chain; empty where there is nothing to say.
func ladderNote(l *ladder.Ladder, n ladder.Note) string {
	switch n.Kind {
	case ladder.NoteMix:
		return fmt.Sprintf("the mix leaves out %s; its shares are taken to be the whole", compare.List(n.Classes, 6))
	case ladder.NoteProduct:
		return productNote(l)
	case ladder.NoteCostLeftOut:
		return fmt.Sprintf("%s is compared on benchmarks that have it for every profile; left out: %s", n.Metric,
			compare.List(each(n.LeftOut, notMeasured), 6))
	case ladder.NoteChoice:
		return "the fastest profile is picked by the same runs that measure it, so its gain is a little flattered; " +
			"which profile beats which is corrected over all pairs"
	}
	return string(n.Kind)
}

// productNote sets the product of the steps beside the measured total, unless both
// read the same.
func productNote(l *ladder.Ladder) string {
	total := l.Total.Suite
	places := total.Places()
	if compare.Decimal(100*l.Product, places) == compare.Decimal(100*total.Change, places) {
		return ""
	}
	why := "each step has noise of its own, which explains the gap; the measured total counts"
	if !l.Explained {
		why = "that is more than their noise explains: the steps were measured in other sittings or blocks, " +
			"or something changed between them; the measured total counts"
	}
	return fmt.Sprintf("the %d steps multiply to %+.*f %%, measured last against first it is %+.*f %%; %s",
		len(l.Steps), places, 100*l.Product, places, 100*total.Change, why)
}

// withoutRun is a score that is not in the suite, and why.
func withoutRun(u ladder.Unmeasured) string {
	return fmt.Sprintf("%s (no valid run for %s)", u.Name, cmp.Or(strings.Join(u.Profiles, ", "), "some profile that has it"))
}

// notMeasured is a benchmark that is in no column of a cost, and why.
func notMeasured(u ladder.Unmeasured) string {
	return fmt.Sprintf("%s (not measured for %s)", u.Name, strings.Join(u.Profiles, ", "))
}
