package main

import (
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
)

// picks are patterns of names that say which metrics to look at. The zero value
// takes all.
type picks struct {
	only     []string
	leaveOut []string
}

// wants reports whether a metric is to be looked at.
func (p picks) wants(id compare.MetricID) bool {
	return (len(p.only) == 0 || anyMatches(p.only, id)) && !anyMatches(p.leaveOut, id)
}

// anyMatches reports whether a pattern matches the benchmark, the metric or both
// as one name.
func anyMatches(patterns []string, id compare.MetricID) bool {
	for _, p := range patterns {
		for _, name := range []string{id.Benchmark, id.Metric, id.Benchmark + " " + id.Metric} {
			if compare.NameMatches(p, name) {
				return true
			}
		}
	}
	return false
}

// picksOf are those of --only and --leave-out.
func picksOf(c *cli.Context) picks {
	return picks{only: c.StringSlice("only"), leaveOut: c.StringSlice("leave-out")}
}

// checkPicks is an error where a pattern of --only or --leave-out picks nothing
// of what was read.
func checkPicks(c *cli.Context, sides ...[]*compare.Series) error {
	for _, option := range []string{"only", "leave-out"} {
		for _, pattern := range c.StringSlice(option) {
			var names []string
			fits := false
			for _, s := range slices.Concat(sides...) {
				fits = fits || anyMatches([]string{pattern}, s.ID())
				if !slices.Contains(names, s.Benchmark) {
					names = append(names, s.Benchmark)
				}
			}
			if !fits {
				return fmt.Errorf("--%s %q fits no benchmark and no metric; there are %s", option, pattern, quoted(names[:min(len(names), 12)]))
			}
		}
	}
	return nil
}
