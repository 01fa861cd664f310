package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/intake"
	"tunegate/stats"
)

// The options that several commands share, so that they mean the same
// everywhere.

// judgingFlags say by which rule to judge; the tolerance's usage is the
// command's.
func judgingFlags(tolerance string) []cli.Flag {
	return under(groupJudge,
		&cli.StringFlag{Name: "better", Usage: "the `DIRECTION` that is better, higher or lower, for metrics whose unit does not say"},
		&cli.StringFlag{Name: "confidence", Usage: "confidence in `PERCENT`; 95 and 0.95 are the same",
			DefaultText: "the policy's, else 95"},
		&cli.StringSliceFlag{Name: "tolerance", Usage: tolerance +
			", in per cent, or BENCHMARK=`N`, * and ? allowed; a cost decides only when named, as in \"* power=3\"; repeatable",
			DefaultText: "0.5"},
		&cli.StringFlag{Name: "correction", Usage: "correction `METHOD` for what is judged together: joint, holm, benjamini-hochberg or none",
			DefaultText: "the policy's, else joint"},
		&cli.StringFlag{Name: "policy", Usage: "read metrics, tolerances, roles, weights and classes from a `FILE` such as tunegate.toml"},
	)
}

// minutesFlags say how long work at the bench takes.
func minutesFlags() []cli.Flag {
	const otherwise = "the policy's, else by a column time, else by scores that are run times"
	return under(groupPlan,
		&cli.Float64Flag{Name: "run-minutes", Usage: "`MINUTES` that a run takes, for advice in hours", DefaultText: otherwise},
		&cli.Float64Flag{Name: "session-minutes", Usage: "`MINUTES` that a session takes before its first run: reboot, warm-up",
			DefaultText: "the policy's, else by a column time"},
	)
}

// minutesOf are those that the options state.
func minutesOf(c *cli.Context) (compare.Minutes, error) {
	m := compare.Minutes{Run: c.Float64("run-minutes"), Session: c.Float64("session-minutes")}
	for _, name := range []string{"run-minutes", "session-minutes"} {
		if v := c.Float64(name); c.IsSet(name) && !(v > 0 && v < 1e6) {
			return m, fmt.Errorf("--%s %v; expected a number above zero", name, v)
		}
	}
	return m, nil
}

// pickFlags say what is read.
func pickFlags() []cli.Flag {
	return under(groupWhat,
		&cli.StringSliceFlag{Name: "only", Usage: "only this `NAME`, a benchmark or metric, * and ? allowed; repeatable"},
		&cli.StringSliceFlag{Name: "leave-out", Usage: "leave this `NAME` out, a benchmark or metric, * and ? allowed; repeatable"},
	)
}

// readingFlags say how files of runs are read.
func readingFlags() []cli.Flag {
	return under(groupWhat,
		&cli.StringSliceFlag{Name: "map", Usage: "what a header or a unit of a sheet means, as in `\"Einheit = unit\"`; repeatable"},
		&cli.StringSliceFlag{Name: "trust", Usage: "take a `READING` far from the others for real: its place as printed, or the name of its " +
			"benchmark or metric, * and ? allowed; repeatable"},
	)
}

// readingOptions reads how files of runs are read, and which readings are trusted
// however far they are from the others.
func readingOptions(c *cli.Context) (intake.Reading, []string, error) {
	how := intake.Reading{Words: intake.Words{}}
	for _, text := range c.StringSlice("map") {
		if err := how.Words.Add(text); err != nil {
			return how, nil, fmt.Errorf("--map: %w", err)
		}
	}
	policy, err := policyFileOf(c)
	if err != nil {
		return how, nil, err
	}
	for word, means := range policy.Words {
		if how.Words[word] == "" {
			how.Words[word] = means
		}
	}
	return how, append(c.StringSlice("trust"), policy.Trust...), nil
}

// drawingFlags are about the bootstrap.
func drawingFlags() []cli.Flag {
	return under(groupJudge,
		&cli.IntFlag{Name: "resamples", Value: stats.DefaultResamples, Usage: "`NUMBER` of bootstrap resamples"},
		&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`NUMBER` that starts the bootstrap; the same seed gives the same bytes"},
	)
}

// writeFlags are the forms that can go to files, and what to know about them.
func writeFlags(forms []string, note ...string) []cli.Flag {
	usage := strings.Join(append([]string{"also write `FORM=FILE`, form " + formNames(forms)}, note...), " ") + "; repeatable"
	return under(groupFiles, &cli.StringSliceFlag{Name: "write", Usage: usage})
}

// flags joins lists of options.
func flags(lists ...[]cli.Flag) []cli.Flag { return slices.Concat(lists...) }
