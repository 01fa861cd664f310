package report

import (
	"fmt"
	"math"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/readings"
	"tunegate/compare/report/doc"
)

// ReadingsDocument says how many runs monitoring logs have given, what was set
// aside and why, the rules, and what was odd. logNotes are notes of the reader of
// the logs.
func ReadingsDocument(found *readings.Result, logNotes []string) doc.Document {
	text := foundText(found)
	var notes []string
	for _, n := range readingNotes(found, logNotes) {
		notes = append(notes, n.Text)
	}
	d := doc.Document{
		Subject: text, Dense: true,
		Sections: []doc.Section{listSection(doc.Numbers, "Set aside", excludedLines(found)), notesSection(notes)},
		Page:     doc.Head{Title: "Runs from monitoring logs", Headline: text},
	}
	d.Caution = caution(readingsHazard(found))
	return d
}

// foundText counts the runs by benchmark.
func foundText(found *readings.Result) string {
	var parts []string
	for _, runs := range groupsOf(found.Runs, func(r readings.Run) string { return r.Benchmark }) {
		parts = append(parts, fmt.Sprintf("%s %d", runs[0].Benchmark, len(runs)))
	}
	excluded := "none set aside"
	if n := found.ExcludedRuns(); n > 0 {
		excluded = fmt.Sprintf("%d set aside", n)
	}
	return fmt.Sprintf("%s in %s (%s); %s",
		english.Count(len(found.Runs), "run"), english.Count(len(found.Logs), "log"), strings.Join(parts, ", "), excluded)
}

// maxExcludedLines is how many lines of what was set aside a screen takes; the
// CSV and the JSON have all.
const maxExcludedLines = 20

// excludedLines lists what was set aside and why, each line once.
func excludedLines(found *readings.Result) []string {
	var lines []string
	seen := map[string]bool{}
	for _, r := range found.Runs {
		for _, v := range r.Metrics {
			excluded := r.ExcludedAs(v)
			if excluded == nil {
				continue
			}
			where := r.Benchmark
			if r.Machine != "" {
				where += ", machine " + r.Machine
			}
			if r.Session != "" {
				where += ", session " + r.Session
			}
			line := Clean(fmt.Sprintf("%s, run %s, line %d of %s: %s", where, r.LabelOf(v), r.Line, r.Log, exclusionText(excluded)))
			if !seen[line] {
				seen[line] = true
				lines = append(lines, line)
			}
		}
	}
	if n := len(lines) - maxExcludedLines; n > 0 {
		lines = append(lines[:maxExcludedLines:maxExcludedLines], fmt.Sprintf("and %d more, in the CSV under valid = no", n))
	}
	return lines
}

// exclusionText says why a run, or one of its metrics, does not count; empty
// where it does.
func exclusionText(e readings.Exclusion) string {
	seconds := readings.SecondsText
	switch e := e.(type) {
	case nil:
		return ""
	case readings.CutAtStart:
		return "cut off: it began before the log did"
	case readings.CutAtEnd:
		return "cut off: the log ended before it did"
	case readings.CutAfterDip:
		return fmt.Sprintf("cut off: the log ended less than %s behind it, so that it may have gone on", seconds(e.MaxDip))
	case readings.CutByRestart:
		return fmt.Sprintf("cut off: the log was started anew before line %d", e.Line)
	case readings.NoRows:
		return "no row of the log falls into it"
	case readings.TooFewRows:
		return "fewer than two rows of the log fall into it"
	case readings.TooMuchGap:
		return fmt.Sprintf("%s %% of it is a gap in the log (%s of %s); at most %s %% may be",
			compare.Decimal(e.Share, 1), seconds(e.Gap), seconds(e.Run), compare.Decimal(e.MaxShare, 12))
	case readings.OnlyWarmUp:
		return fmt.Sprintf("it lasts %s, no longer than the warm-up of %s", seconds(e.Run), seconds(e.WarmUp))
	case readings.RunAgain:
		return fmt.Sprintf("run %s of %s again, which began on line %d: a run is one unbroken stretch", e.Run, e.Benchmark, e.FirstLine)
	case readings.NoReading:
		return fmt.Sprintf("no reading of %s in this run", e.Column)
	case readings.TooFewReadings:
		return fmt.Sprintf("too few readings of %s in this run", e.Column)
	case readings.MissingReadings:
		return fmt.Sprintf("no reading of %s for %s %% of the run; at most %s %% may be missing",
			e.Column, compare.Decimal(e.Share, 1), compare.Decimal(e.MaxShare, 12))
	case readings.Frozen:
		return fmt.Sprintf("%s stood at %s %s in all %d readings while other sensors moved: does the sensor hang? "+
			"If it may stand still, as a fixed clock does, name it under constant", e.Column, compare.Decimal(e.Value, 12), e.Unit, e.Readings)
	case readings.NotPositive:
		return fmt.Sprintf("%s is %.6g %s; a change in per cent needs a value above zero", e.Metric, e.Value, e.Unit)
	case readings.UnknownEnergy:
		return fmt.Sprintf("%s has no readings for %s of the run, and the energy of a gap is not known", e.Column, seconds(e.Gap))
	case readings.Flagged:
		return fmt.Sprintf("%s = %s in %s, the first on line %d", e.Header, e.Cell, english.Count(e.Rows, "row"), e.Line)
	case readings.NeverUnderLoad:
		return fmt.Sprintf("%s was never above %s in the time that counts", e.Load.Column, compare.Decimal(e.Load.Value, 12))
	}
	return fmt.Sprintf("%T", e)
}

// readingNotes say by which rules runs and metrics came about, and what was odd;
// the notes of the reader of the logs come last.
func readingNotes(found *readings.Result, logNotes []string) []Note {
	var notes []Note
	add := func(kind, format string, args ...any) {
		notes = append(notes, Note{Kind: kind, Text: fmt.Sprintf(format, args...)})
	}
	rules := found.Rules
	if len(found.Silent) > 0 {
		add("silent", "left out, without a reading in any run: %s", compare.List(found.Silent, 8))
	}
	if rules.WarmUp > 0 {
		add("warm-up", "the first %s of each run are warm-up: they count for energy, and for nothing else",
			readings.SecondsText(rules.WarmUp))
	} else {
		add("warm-up", "no warm-up is cut: each run counts from its start")
	}
	steps := func(l readings.Log) [2]float64 {
		if l.UsualStep == nil { // time never moves
			return [2]float64{}
		}
		return [2]float64{*l.UsualStep, *l.MaxStep}
	}
	for _, logs := range groupsOf(found.Logs, steps) {
		if logs[0].UsualStep == nil {
			continue
		}
		gaps := 0
		for _, l := range logs {
			gaps += l.Gaps
		}
		files := each(logs, func(l readings.Log) string { return l.File })
		add("step", "%s: the usual step is %s; longer ones than %s are gaps and not bridged; found: %d", compare.List(files, 3),
			readings.SecondsText(*logs[0].UsualStep), readings.SecondsText(*logs[0].MaxStep), gaps)
	}
	if rules.Duration {
		add("duration", "the score of a run is its length, which the log shows to one step")
	}
	if rules.SessionPerLog {
		add("sessions", "%s. Runs of one sitting share its luck: a comparison of so many a side %s",
			english.Count(len(found.Logs), "log")+", each a session", canSettle(len(found.Logs)))
	}
	if n := found.ShortStretches; n > 0 {
		add("short", "%s with %s above %s lasted less than %s and %s no %s",
			english.Count(n, "stretch"), rules.Threshold.Column, compare.Decimal(rules.Threshold.Value, 12),
			readings.SecondsText(rules.MinRun), english.Verb(n, "is", "are"), english.Noun(n, "run"))
	}
	for _, u := range found.Unmatched {
		add("unmatched", "%s: no column is called %q; there are %s", u.Rule, u.Pattern, readings.ColumnNames(found.Columns))
	}
	for _, k := range found.Frozen {
		text := fmt.Sprintf("%s never moved in %d of %s while other sensors did", k.Name, k.Runs, english.Count(len(found.Runs), "run"))
		if k.Excluded > 0 {
			text += "; set aside there"
		}
		add("still", "%s", text)
	}
	for _, p := range percentilesWithin(found.Runs) {
		add("percentile", "%s is within %.2g of the exact value: there are too many different readings to keep them all", p.metric, p.within)
	}
	for _, n := range logNotes {
		add("log", "%s", n)
	}
	return notes
}

// canSettle says what a verdict from so many sessions a side can be.
func canSettle(sessions int) string {
	switch {
	case sessions < 4:
		return "settles nothing at 95 %; 4 can show a large change"
	case sessions < 6:
		return "can show a large change; 6 are a good number"
	}
	return "can give any verdict"
}

// inexact is by how much a percentile of a metric can be off.
type inexact struct {
	metric string
	within float64
}

// percentilesWithin finds, metric by metric, the percentiles that are not exact,
// each with the largest of its bounds.
func percentilesWithin(runs []readings.Run) []inexact {
	var out []inexact
	at := map[string]int{}
	for _, run := range runs {
		for _, v := range run.Metrics {
			if !(v.Within > 0) {
				continue
			}
			i, known := at[v.Metric]
			if !known {
				i = len(out)
				at[v.Metric] = i
				out = append(out, inexact{metric: v.Metric})
			}
			out[i].within = math.Max(out[i].within, v.Within)
		}
	}
	return out
}
