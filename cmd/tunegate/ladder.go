package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/english"
	"tunegate/compare/intake"
	"tunegate/compare/ladder"
	"tunegate/compare/report"
)

func ladderCommand() *cli.Command {
	return &cli.Command{
		Name:      "ladder",
		Usage:     "judge a chain of profiles: each step, the total, the cost, and which is best for what",
		ArgsUsage: "FILE FILE...  |  FILES-OR-FOLDER --profile FIRST --profile NEXT...",
		Description: `Two to twelve profiles, each tried on top of the one before, in the order in
which the arguments name them; where there are more profiles than arguments, such
as in a folder or a workbook, --profile says the order. Steps multiply, they do not add: the total is measured last
against first. What each profile costs (metrics power, energy, temperature and,
for its rise, ambient) is shown beside the first, worked out run by run.
All steps, and all pairs of profiles where the best is sought, share the
correction. A mix weighs the classes of work that a policy states.

Examples:
   tunegate ladder factory.csv boost-lift.csv fixed-all.csv
   tunegate ladder studio.xlsx#factory studio.xlsx#boost-lift studio.xlsx#fixed-all
   tunegate ladder runs/ --profile factory --profile boost-lift --profile fixed-all
   tunegate ladder runs/ --profile factory --profile boost-lift --policy tunegate.toml --mix rendering=70,interactive=30

Exit status: 0 judged (a ladder shows a choice, it fails nothing); 2 bad input
or usage, or a link of the chain that is not measured.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringSliceFlag{Name: "profile", Usage: "the next `PROFILE` of the chain; repeatable"},
			),
			under(groupJudge,
				&cli.StringFlag{Name: "mix", Usage: "the work that counts, as `CLASS=SHARE,CLASS=SHARE`"},
			),
			judgingFlags("smallest change worth having"), pickFlags(), readingFlags(), drawingFlags(),
			writeFlags(ladderForms), csvFlags(), detailFlag(testsInDetail), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runLadder,
	}
}

// ladderForms are the forms of a ladder that can go to files.
var ladderForms = []string{"text", "json", "markdown", "html", "csv", "xlsx"}

func runLadder(c *cli.Context) error {
	screen, writes, policy, opt, err := judgingOptions(c, ladderForms...)
	if err != nil {
		return err
	}
	waiting := startBar(c)
	defer waiting.stop()
	opt.Progress = waiting.step
	l, err := climb(c, policy, opt)
	if err != nil {
		return err
	}
	waiting.stop()
	a := answer{report.LadderDocument(l, originOf(c)), jsonForm(report.LadderJSON, l)}
	return deliver(c, screen, writes, a.withTables(c, func() report.Tables { return report.LadderTables(l) }))
}

// climb reads the profiles as the arguments say, and judges the chain.
func climb(c *cli.Context, policy compare.Policy, opt compare.Options) (page report.LadderPage, err error) {
	var mix []ladder.Share
	if s := c.String("mix"); s != "" {
		if mix, err = intake.ParseMix(s); err != nil {
			return page, fmt.Errorf("--mix: %w", err)
		}
	}
	profiles, sides, notes, err := readRungs(c)
	if err != nil {
		return page, err
	}
	if err := checkPicks(c, sides...); err != nil {
		return page, err
	}
	if opt.Look, err = lookOf(0, sides...); err != nil {
		return page, err
	}
	if err := refuseCopies(doubts.CopiesAmong(slices.Concat(sides...))); err != nil {
		return page, err
	}
	l, err := ladder.Climb(profiles, sides, mix, policy, opt)
	if err != nil {
		return page, allDirections(err, policy, opt, sides...)
	}
	return report.LadderPage{Ladder: l, Reading: readingNotes(notes), Runs: slices.Concat(sides...), Commands: commands()}, nil
}

// readRungs reads the profiles in the order in which they appear, or that of --profile.
func readRungs(c *cli.Context) (profiles []string, sides [][]*compare.Series, notes []string, err error) {
	if c.NArg() == 0 {
		return nil, nil, nil, fmt.Errorf("nothing to climb; name the profiles' files in their order, or a folder and --profile for each " +
			"(see tunegate ladder --help)")
	}
	all, err := readProfiles(c, c.Args().Slice())
	if err != nil {
		return nil, nil, nil, err
	}
	profiles = c.StringSlice("profile")
	switch n := len(all.profiles); {
	case len(profiles) > 0:
	case n > c.NArg() && n > 2:
		words := ""
		for _, p := range all.profiles {
			words += " --profile " + shellWord(p)
		}
		return nil, nil, nil, fmt.Errorf("%s %s several profiles: %s; say which, and in which order, for instance%s", listOfFiles(c),
			english.Verb(c.NArg(), "holds", "hold"), quoted(all.profiles), words)
	case n > 1 && n < c.NArg():
		return nil, nil, nil, fmt.Errorf("%s hold %s, %s; name each profile's file once, or say the order with --profile",
			english.Count(c.NArg(), "file"), english.Count(n, "profile"), quoted(all.profiles))
	default:
		profiles = all.profiles
	}
	seen := map[string]bool{}
	for i, p := range profiles {
		p = all.named(p)
		side := all.Profile(p)
		if len(side) == 0 {
			return nil, nil, nil, fmt.Errorf("there is no profile %q; there are %s", p, quoted(all.profiles))
		}
		if seen[p] {
			return nil, nil, nil, fmt.Errorf("--profile names %q twice; a chain has each profile once", strings.TrimSpace(p))
		}
		seen[p], profiles[i] = true, p
		sides = append(sides, side)
	}
	return profiles, sides, all.notes, nil
}

// listOfFiles are the arguments, as a person would say them.
func listOfFiles(c *cli.Context) string {
	if c.NArg() == 1 {
		return c.Args().First()
	}
	return english.Count(c.NArg(), "file")
}
