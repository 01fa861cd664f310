package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/english"
)

// evidenceText is what a finding rests on.
func evidenceText(f doubts.Finding) string {
	e, say := f.Evidence, fmt.Sprintf
	switch f.Check {
	case doubts.CheckFewRuns:
		return say("%s; below %d a side nothing can be settled", english.Count(e.Count, string(e.Replication)), e.Of)
	case doubts.CheckNoSessions:
		return "no session recorded: valid for this sitting only"
	case doubts.CheckApart:
		return say("all runs of one were made at least %s before those of the other", gapWords(e.Gap))
	case doubts.CheckCoarse:
		return say("readings in steps of %s %s spread by %s", sixDigits(e.Value), e.Unit,
			compare.Decimal(e.Spread, compare.Places(e.Spread)))
	case doubts.CheckNoSpread:
		return say("all %d readings are %s", e.Count, strings.TrimSpace(sixDigits(e.Value)+" "+e.Unit))
	case doubts.CheckCopied:
		if e.InARow {
			return say("%d readings in a row occur a second time (p = %.2g)", e.Count, e.P)
		}
		return say("%s of equal readings, more than readings this fine repeat by chance (p = %.2g)", english.Count(e.Count, "pair"), e.P)
	case doubts.CheckCopies:
		return CopiesText(e.Copies)
	case doubts.CheckDrift:
		word := "rise"
		if e.Statistic < 0 {
			word = "fall"
		}
		return say("values %s from run to run (Mann-Kendall, tau %.2f, p = %.2g)", word, e.Statistic, e.P)
	case doubts.CheckDependence:
		return say("each run resembles the one before it more than runs in another order would (lag-1 correlation, p = %.2g)", e.P)
	case doubts.CheckOutlier:
		return say("%s %s lies beyond the tail of the others (modified z-score %.1f, p = %.2g)", sixDigits(e.Value), e.Unit,
			e.Statistic, e.P)
	case doubts.CheckModes:
		return say("%d of %d runs form a group of their own (p = %.2g)", e.Count, e.Of, e.P)
	case doubts.CheckSessions:
		return say("sessions differ far more than runs of one session do (F = %.1f, p = %.2g)", e.Statistic, e.P)
	case doubts.CheckConditions:
		return e.Key + ": " + strings.Join(recordedWords(e), "; ")
	case doubts.CheckReduced:
		return notInReduced
	}
	return f.Check
}

const notInReduced = "not seen in reduced data: drift, dependence between runs, outliers, modes, sessions far apart, copies, " +
	"runs that were set aside or not made, warm-up, when runs were made"

// CopiesText names both places of copies, and how likely chance is.
func CopiesText(c *doubts.Copies) string {
	by := movedBy(c.Factor, c.Shift)
	if by != "" {
		by = "," + by + ","
	}
	return fmt.Sprintf("%s of %s %s in %s as well%s, more than chance explains (p = %.2g)", english.Count(c.Runs, "run"),
		c.Sides[1], english.Verb(c.Runs, "stands", "stand"), c.Sides[0], by, c.P)
}

// gapWords is a stretch of time in days, or hours or minutes where it is short.
func gapWords(d time.Duration) string {
	switch {
	case d >= 48*time.Hour:
		return english.Count(int(d.Hours()/24), "day")
	case d >= 2*time.Hour:
		return english.Count(int(d.Hours()), "hour")
	}
	return english.Count(int(d.Minutes()), "minute")
}

// recordedWords says which profiles record which value of a condition.
func recordedWords(e doubts.Evidence) []string {
	out := each(e.Recorded, func(r doubts.Recorded) string {
		return cmp.Or(r.Value, "empty") + " in " + compare.List(r.Profiles, 6)
	})
	if len(e.Without) > 0 {
		out = append(out, "not recorded in "+compare.List(e.Without, 6))
	}
	return out
}

// ConditionNotes say what is recorded differently about the profiles.
func ConditionNotes(found []doubts.Finding) []Note {
	return each(found, func(f doubts.Finding) Note {
		return Note{"doubts", "the recorded conditions differ, so the change may not be the settings' alone: " + evidenceText(f)}
	})
}

// doubtsNotes says in one line what looks unsafe about the data, and in one what reduced
// data do not show.
func (c Commands) doubtsNotes(v *doubts.Report) []Note {
	if v == nil {
		return nil
	}
	var notes []Note
	if s := doubtsSummary(v.Findings); s != "" {
		notes = append(notes, Note{"doubts", fmt.Sprintf("check the data first: %s (%s has the evidence)", s, c.Doubts)})
	}
	if slices.ContainsFunc(v.Findings, func(f doubts.Finding) bool { return f.Check == doubts.CheckReduced }) {
		notes = append(notes, Note{"reduced", notInReduced})
	}
	return notes
}

// doubtsSummary is the findings in one line, such as "drift in factory
// tile-render; two modes in 3 series", without those that a comparison states
// anyway; empty where nothing is left.
func doubtsSummary(found []doubts.Finding) string {
	var parts []string
	for _, fs := range groupsOf(found, func(f doubts.Finding) string { return f.Check }) {
		check, where := fs[0].Check, fs[0].Profile
		switch check {
		case doubts.CheckFewRuns, doubts.CheckNoSessions, doubts.CheckCoarse, doubts.CheckNoSpread, doubts.CheckReduced:
			continue
		}
		if fs[0].Series != doubts.AllSeries {
			where += " " + fs[0].Series
		}
		if len(fs) > 1 {
			where = english.Count(len(fs), "series")
		}
		parts = append(parts, check+" in "+where)
	}
	return strings.Join(parts, "; ")
}

// sixDigits writes a difference of decimal numbers without its rounding noise.
func sixDigits(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
