package main

import (
	"fmt"
	"io"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/doubts"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

func claimsCommand() *cli.Command {
	return &cli.Command{
		Name:      "claims",
		Usage:     "check a page's numbers against the runs before it is published",
		ArgsUsage: "CLAIMS.toml [FILES-OR-FOLDER] | PAGE.html...",
		Description: `The claims are a TOML file, a [[claim]] table each: the sentence (text), what it
is about (benchmark with metric, class, or suite = true), and the change in the
word that holds its sign: faster, slower, less-time, more-time, more, less, or
level. A bare number is per cent; differences are written with their unit, such
as less = "7 °C". Beside it may stand what the number was made of: from and to,
steps, average-of. A claim that names no benchmark, class or suite is held
against arithmetic alone and needs no runs.

The numbers, units, profiles and benchmarks in text have to be those of the keys.
A sentence with several numbers has a claim for each, with the same text. With
--page, percentages and numbers with a unit that stand on the page and in no claim
are listed; a page alone (.html, .md or .txt) has all of them listed.

   before = "factory"
   after = "boost-lift"

   [[claim]]
   text = "boost-lift renders 2.5 % faster"
   benchmark = "tile-render"
   faster = 2.5

   [[claim]]
   text = "draws 14 % less power (250 W to 215 W)"
   less = 14
   from = "250 W"
   to = "215 W"

Examples:
   tunegate claims page.toml runs/
   tunegate claims page.toml factory.csv boost-lift.csv --write markdown=claims.md
   tunegate claims page.toml runs/ --page site/boost-lift.html
   tunegate claims site/boost-lift.html
   tunegate claims arithmetic.toml

Exit status: 0 every claim is supported or understated, or a page alone was listed
and nothing judged; 1 a claim is contradicted, overstated or wrong arithmetic, or its
sentence differs from its keys; 2 bad input or usage, nothing was judged; 3 none of
these, but a claim is not settled, or a percentage of the page is in no claim.`,
		Flags: flags(under(groupWhat, &cli.StringSliceFlag{Name: "page",
			Usage: "list the numbers of a `FILE` (.html, .md or .txt) that no claim covers; repeatable"}),
			judgingFlags("largest change that level = true allows"), readingFlags(), drawingFlags(), writeFlags(claimsForms), csvFlags(),
			detailFlag("tests and p values"), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runClaims,
	}
}

// claimsForms are the forms of claims that can go to files.
var claimsForms = []string{"text", "json", "markdown", "junit", "csv", "xlsx"}

func runClaims(c *cli.Context) error {
	screen, writes, policy, opt, err := judgingOptions(c, claimsForms...)
	if err != nil {
		return err
	}
	waiting := startBar(c)
	defer waiting.stop()
	result, err := heldClaims(c, policy, opt)
	if err != nil {
		return err
	}
	waiting.stop()
	status := claimsStatus(result)
	others := map[string]func(io.Writer) error{"json": func(w io.Writer) error { return report.ClaimsJSON(w, result, status) }}
	others["junit"] = func(w io.Writer) error { return report.ClaimsJUnit(w, result) }
	a := answer{report.ClaimsDocument(result), others}
	if err := deliver(c, screen, writes, a.withTables(c, func() report.Tables { return report.ClaimsTables(result) })); err != nil {
		return err
	}
	return exitWith(status)
}

// heldClaims reads the claims and, where one of them names any, the runs.
func heldClaims(c *cli.Context, policy compare.Policy, opt compare.Options) (page report.ClaimsPage, err error) {
	if c.NArg() == 0 {
		return page, fmt.Errorf("nothing to hold; name a file with claims, such as page.toml (see tunegate claims --help)")
	}
	name, files := c.Args().First(), c.Args().Tail()
	if intake.IsPage(name) {
		return listedPages(c, policy, opt)
	}
	data, err := intake.ReadSmall(name, intake.MaxClaims)
	if err != nil {
		return page, fmt.Errorf("cannot read the claims: %w", err)
	}
	sentences, err := intake.Claims(data, filepath.ToSlash(name))
	if err != nil {
		return page, err
	}
	var runs profiled
	named := false
	for _, claim := range sentences {
		if !claim.NamesRuns() {
			continue
		}
		if len(files) == 0 {
			return page, &compare.PlacedError{At: claim.At,
				Msg: "this claim is about runs; name their files or folder behind the claims, such as tunegate claims " + shellWord(name) + " runs/"}
		}
		named = true
	}
	if !named && len(files) > 0 {
		return page, fmt.Errorf("no claim in %s names a benchmark, a class or suite = true, so there is nothing to hold against the runs; "+
			"leave them out, or say what the claims are about", name)
	}
	if named {
		if runs, err = readProfiles(c, files); err != nil {
			return page, err
		}
	}
	if opt.Look, err = lookOf(0, runs.series); err != nil {
		return page, err
	}
	if err := refuseCopies(doubts.CopiesAmong(runs.series)); err != nil {
		return page, err
	}
	result, err := claims.Hold(sentences, runs, policy, opt)
	if err != nil {
		return page, err
	}
	page = report.ClaimsPage{Page: result, Reading: readingNotes(runs.notes), Runs: runs.series, Commands: commands()}
	page.Coverage, err = coveredPages(c.StringSlice("page"), sentences)
	return page, err
}

// listedPages lists the numbers of pages, which are all that is named.
func listedPages(c *cli.Context, policy compare.Policy, opt compare.Options) (page report.ClaimsPage, err error) {
	for _, name := range c.Args().Slice() {
		if !intake.IsPage(name) {
			return page, fmt.Errorf("%s is no page (.html, .md or .txt); to hold claims against runs, name the file with the claims first and "+
				"the page behind --page", name)
		}
	}
	page.Page, err = claims.Hold(nil, &compare.Runs{}, policy, opt)
	if err != nil {
		return page, err
	}
	page.Commands = commands()
	page.Coverage, err = coveredPages(append(c.Args().Slice(), c.StringSlice("page")...), nil)
	return page, err
}

// coveredPages reads pages and finds what no claim covers.
func coveredPages(names []string, sentences []claims.Claim) (out []*claims.Coverage, err error) {
	for _, name := range names {
		if !intake.IsPage(name) {
			return nil, fmt.Errorf("%s is no page; --page reads .html, .md and .txt", name)
		}
		data, err := intake.ReadSmall(name, intake.MaxPage)
		if err != nil {
			return nil, fmt.Errorf("cannot read the page: %w", err)
		}
		passages, err := intake.Page(data, filepath.ToSlash(name))
		if err != nil {
			return nil, err
		}
		out = append(out, claims.Cover(filepath.ToSlash(name), passages, sentences))
	}
	return out, nil
}
