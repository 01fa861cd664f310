package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
)

func showCommand() *cli.Command {
	return &cli.Command{
		Name:      "show",
		Usage:     "show how files of runs are read, and write them as a clean CSV; judges nothing",
		ArgsUsage: "FILES-OR-FOLDERS",
		Description: `Prints the runs of workbooks, CSV files and JSON Lines as every command
understands them: profile, benchmark, unit, which direction is better, sitting and
values; then what was skipped, and why. --map says what a header or a unit means
that is not known here.

Examples:
   tunegate show runs.xlsx
   tunegate show runs.xlsx#boost --map "Einheit = unit"
   tunegate show runs/ --write csv=clean.csv

Exit status: 0 read; 2 bad input or usage.`,
		Flags: flags(readingFlags(),
			under(groupJudge, &cli.StringFlag{Name: "policy", Usage: "read what words mean, and directions, from a `FILE` such as tunegate.toml"}),
			pickFlags(), writeFlags(runForms), csvFlags(), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runShow,
	}
}

// runForms are the forms of runs that can go to files.
var runForms = []string{"text", "json", "csv"}

func runShow(c *cli.Context) error {
	screen, writes, policy, err := policyOptions(c, runForms)
	if err != nil {
		return err
	}
	opt, err := lookAt(c)
	if err != nil {
		return err
	}
	if c.NArg() == 0 {
		return &exitError{exitInput, "nothing to show; name files or a folder with runs"}
	}
	waiting := startBar(c)
	defer waiting.stop()
	all, err := readProfiles(c, c.Args().Slice())
	if err != nil {
		return err
	}
	page := report.RunsPage{Policy: policy, Reading: all.notes}
	for _, s := range all.series {
		if opt.Wants(s.ID()) {
			page.Series = append(page.Series, s)
		}
	}
	if err := checkPicks(c, all.series); err != nil {
		return err
	}
	waiting.stop()
	as, err := separationOf(c)
	if err != nil {
		return err
	}
	others := map[string]func(io.Writer) error{"json": func(w io.Writer) error { return report.RunsJSON(w, page) }}
	others["csv"] = func(w io.Writer) error { return report.RunsCSV(w, page, as) }
	return deliver(c, screen, writes, answer{report.RunsDocument(page), others})
}
