package main

import (
	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/report"
)

func doubtsCommand() *cli.Command {
	return &cli.Command{
		Name:      "doubts",
		Usage:     "list what would make a verdict on these runs unsafe; judges nothing",
		ArgsUsage: "FILES-OR-FOLDERS",
		Description: `Checks every series of runs for too few runs, missing sessions, drift,
dependence, outliers, two modes, coarse readings, sessions far apart, copied
values and copied runs, each with the evidence, why it matters and what to do. Its
statistical checks find anything in at most one call in twenty of clean runs. What
they miss is in the topic doubts: of 20 runs a drift of 2 standard deviations is
found in 39 %, one run 6 off in 35 %, two modes 4 apart in 9 %. No value is left out
because of it.

In a results repository, or profile folders of one, it also reads [conditions]
in each profile's settings.toml, which lies beside the folder runs, and says
what is recorded differently: the room, the driver, the operating system.

Examples:
   tunegate doubts factory.csv boost-lift.csv
   tunegate doubts runs/ --strict
   tunegate doubts results/profiles/factory results/profiles/boost-lift

Exit status: 0 checked; 2 bad input or usage; 3 with --strict, a verdict would
not be safe.`,
		Flags: flags(
			under(groupJudge,
				&cli.BoolFlag{Name: "strict", Usage: "end with exit status 3 where a verdict would not be safe", DisableDefaultText: true},
				&cli.StringFlag{Name: "better", Usage: "the `DIRECTION` that is better, higher or lower, for metrics whose unit does not say"},
				&cli.StringFlag{Name: "policy", Usage: "read a policy from a `FILE` such as tunegate.toml"},
			),
			pickFlags(), readingFlags(), writeFlags(plainAndTableForms), csvFlags(), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runDoubts,
	}
}

func runDoubts(c *cli.Context) error {
	screen, writes, policy, err := policyOptions(c, plainAndTableForms)
	if err != nil {
		return err
	}
	opt, err := lookAt(c)
	if err != nil {
		return err
	}
	if c.NArg() == 0 {
		return &exitError{exitInput, "nothing to check; name files or a folder with runs"}
	}
	waiting := startBar(c)
	defer waiting.stop()
	all, err := readProfiles(c, c.Args().Slice())
	if err != nil {
		return err
	}
	var series []*compare.Series
	for _, s := range all.series {
		if opt.Wants(s.ID()) {
			series = append(series, s)
		}
	}
	opt.Progress = waiting.step
	found, err := doubts.Check(series, policy, opt)
	if err != nil {
		return allDirections(err, policy, opt, series)
	}
	page := report.DoubtsPage{Report: found.With(doubts.Conditions(all.conditions)...), Runs: series, Commands: commands()}
	waiting.stop()
	a := answer{report.DoubtsDocument(page), jsonForm(report.DoubtsJSON, page)}
	if err := deliver(c, screen, writes, a.withTables(c, func() report.Tables { return report.DoubtsTables(page) })); err != nil {
		return err
	}
	if c.Bool("strict") && page.Grade == doubts.GradeStop {
		return exitWith(exitOpen)
	}
	return nil
}
