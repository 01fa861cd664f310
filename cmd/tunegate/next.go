package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/report"
)

// nextCommand is what to type after a comparison, with the arguments of this one;
// empty where nothing is to do, or where it cannot be typed again: standard input is
// read, and planned looks are judged as they were planned.
func nextCommand(c *cli.Context, page report.ComparisonPage) string {
	if slices.Contains(c.Args().Slice(), "-") || page.Look > 0 {
		return ""
	}
	unsafe := page.Doubts != nil && slices.ContainsFunc(page.Doubts.Findings, func(f doubts.Finding) bool {
		return f.Grade == doubts.GradeStop && f.Check != doubts.CheckFewRuns // more runs cure that
	})
	open := slices.ContainsFunc(page.Judged(), func(r *compare.Result) bool {
		return r.Decides && !r.Verdict.Settled() && len(r.Needs) > 0 // else no number of runs is known to settle it
	})
	switch {
	case unsafe && !page.Typed:
		return sameFor(c, "doubts")
	case open && page.Typed: // which no sheet can continue
		return sameFor(c, "reruns", "--hours", "12")
	case open:
		return sameFor(c, "reruns", "--hours", "12", "--write", "csv=next.csv")
	case !page.Typed && comparisonStatus(page.Comparison, true) == 0:
		return sameFor(c, "report")
	}
	return ""
}

// repeated are the options that say what is read and by which rule it is judged, in
// the order of the help.
var repeated = []string{"before", "after", "unit", "better", "confidence", "tolerance", "correction", "policy", "only", "leave-out",
	"run-minutes", "session-minutes"}

// sameFor is the call of another command with the files and options of this one, as far
// as it knows them, and with more options where it knows the first of these.
func sameFor(c *cli.Context, name string, more ...string) string {
	words := []string{"tunegate", name}
	for _, file := range c.Args().Slice() {
		if strings.HasPrefix(file, "-") {
			file = "./" + file
		}
		words = append(words, shellWord(file))
	}
	known := map[string]bool{}
	for _, f := range c.App.Command(name).Flags {
		for _, n := range f.Names() {
			known[n] = true
		}
	}
	for _, option := range repeated {
		if !c.IsSet(option) || !known[option] {
			continue
		}
		values := []string{c.String(option)}
		if list := c.StringSlice(option); list != nil {
			values = list
		}
		for _, v := range values {
			words = append(words, "--"+option, shellWord(v))
		}
	}
	if len(more) > 0 && known[strings.TrimPrefix(more[0], "--")] {
		words = append(words, more...)
	}
	return strings.Join(words, " ")
}
