package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"tunegate/compare/advice"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

func passesCommand() *cli.Command {
	return &cli.Command{
		Name:      "passes",
		Usage:     "say what counted stability passes prove, and how many a claim takes",
		ArgsUsage: "[FILES-OR-FOLDER]",
		Description: `Stability is counted, not timed. From numbers of clean and failed passes, or
from runs, where those set aside (valid = no) are the failures: a bound on the
failure rate, the clean passes that a claim takes, and whether two profiles
fail differently. With --hours also failures an hour.

Examples:
   tunegate passes --clean 120 --claim 1
   tunegate passes --clean 118 --failed 2 --clean-before 240 --failed-before 0
   tunegate passes runs/ --before factory --after boost-lift

Exit status: 0 printed; 2 bad input or usage.`,
		Flags: flags(
			under(groupWhat,
				&cli.IntFlag{Name: "clean", Usage: "`NUMBER` of clean passes"},
				&cli.IntFlag{Name: "failed", Usage: "`NUMBER` of failed passes"},
				&cli.Float64Flag{Name: "hours", Usage: "`HOURS` under load in all"},
				&cli.IntFlag{Name: "clean-before", Usage: "`NUMBER` of clean passes of the profile before"},
				&cli.IntFlag{Name: "failed-before", Usage: "`NUMBER` of failed passes of the profile before"},
				&cli.StringFlag{Name: "before", Usage: "the `PROFILE` before, of files"},
				&cli.StringFlag{Name: "after", Usage: "the `PROFILE` after, of files"},
			),
			under(groupJudge,
				&cli.StringSliceFlag{Name: "claim", Usage: "a failure rate to claim, in `PERCENT`; repeatable", DefaultText: "5, 1 and 0.1"},
				&cli.StringFlag{Name: "confidence", Value: "95", Usage: "confidence in `PERCENT`"},
			),
			readingFlags(),
			under(groupFiles,
				&cli.StringSliceFlag{Name: "write", Usage: "also write `FORM=FILE`, form text or json; repeatable"},
			),
			screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runPasses,
	}
}

func runPasses(c *cli.Context) error {
	screen, err := textOptions(c, c.App.Writer)
	if err != nil {
		return err
	}
	writes, err := parseWrites(c, plainForms, c.Args().Slice()...)
	if err != nil {
		return err
	}
	confidence, err := intake.ParseConfidence(c.String("confidence"))
	if err != nil {
		return fmt.Errorf("--confidence: %w", err)
	}
	rates := []float64{0.05, 0.01, 0.001}
	if claims := c.StringSlice("claim"); len(claims) > 0 {
		rates = nil
		for _, s := range claims {
			v, err := parsePositive("claim", s)
			if err != nil {
				return err
			}
			rates = append(rates, v/100)
		}
	}
	waiting := startBar(c)
	defer waiting.stop()
	sides, err := passSides(c)
	if err != nil {
		return err
	}
	result, err := advice.CountPasses(sides, rates, confidence)
	if err != nil {
		return err
	}
	waiting.stop()
	return deliver(c, screen, writes, answer{report.PassesDocument(result), jsonForm(report.PassesJSON, result)})
}

func passSides(c *cli.Context) ([]advice.PassSide, error) {
	typed := c.IsSet("clean") || c.IsSet("failed")
	switch {
	case typed && c.NArg() > 0:
		return nil, fmt.Errorf("either files or --clean and --failed, not both")
	case typed:
		after := advice.PassSide{Name: "passes", Passes: c.Int("clean"), Failures: c.Int("failed"), Hours: c.Float64("hours")}
		if !c.IsSet("clean-before") && !c.IsSet("failed-before") {
			return []advice.PassSide{after}, nil
		}
		after.Name = "after"
		return []advice.PassSide{{Name: "before", Passes: c.Int("clean-before"), Failures: c.Int("failed-before")}, after}, nil
	case c.NArg() == 0:
		return nil, fmt.Errorf("nothing to count; give --clean and --failed, or files with runs")
	}
	all, err := readProfiles(c, c.Args().Slice())
	if err != nil {
		return nil, err
	}
	names := all.profiles
	if before, after := c.String("before"), c.String("after"); before != "" || after != "" {
		names = nil
		for _, name := range []string{before, after} {
			if name != "" {
				names = append(names, name)
			}
		}
	}
	if len(names) > 2 {
		return nil, fmt.Errorf("which profiles? %s", choose(names))
	}
	var sides []advice.PassSide
	for _, name := range names {
		series := all.Profile(all.named(name))
		if len(series) == 0 {
			return nil, fmt.Errorf("there is no profile %q; there are %s", name, quoted(all.profiles))
		}
		side := advice.PassesOf(name, series)
		if len(names) == 1 {
			side.Hours = c.Float64("hours")
		}
		sides = append(sides, side)
	}
	return sides, nil
}
