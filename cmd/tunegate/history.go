package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"tunegate/compare/history"
	"tunegate/compare/report"
)

func historyCommand() *cli.Command {
	return &cli.Command{
		Name:      "history",
		Usage:     "follow a profile through the commits of a results repository",
		ArgsUsage: "[FOLDER]",
		Description: `Follows one profile along the first parents of HEAD (or --head), so that a merged
branch is one commit: what each commit added to the runs or set differently, how
fast it was beside the first, what the gate says of it, and where it shifted.
Only commits are read, not the working tree. FOLDER lies in the results
repository; the current one unless given.

Shown commit by commit is the suite, or what --only names; shifts are searched in
every metric. A shift can only lie between commits. For scores together the
chance of a false alarm is that of the policy's confidence, for the suite and for
every cost by itself, too.

Examples:
   tunegate history
   tunegate history results --profile boost-lift --only tile-render
   tunegate history --profile boost-lift --strict --write markdown=history.md

Exit status: 0 printed; 1 with --strict, where the latest shift of the suite or
of a score was a loss beyond the tolerance; 2 bad input, usage or environment.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "profile", Usage: "`NAME` of the profile to follow", DefaultText: "the only one there is"},
				&cli.StringFlag{Name: "head", Usage: "`REVISION` to follow instead of HEAD"},
				&cli.IntFlag{Name: "commits", Value: 200, Usage: "`NUMBER` of commits to read at most, of those that touch the profile or the policy"},
			),
			under(groupJudge,
				&cli.BoolFlag{Name: "strict", Usage: "end with 1 if the latest shift was a loss", DisableDefaultText: true},
				&cli.StringFlag{Name: "better", Usage: "the `DIRECTION` that is better, higher or lower, for metrics whose unit does not say"},
			),
			pickFlags(), drawingFlags(), writeFlags(historyForms, "(svg and png: the picture of the first metric shown)"), csvFlags(),
			detailFlag("tests and p values"), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runHistory,
	}
}

// historyForms are the forms of a history that can go to files.
var historyForms = []string{"text", "json", "markdown", "html", "svg", "png", "csv", "xlsx"}

func runHistory(c *cli.Context) error {
	screen, err := textOptions(c, c.App.Writer)
	if err != nil {
		return err
	}
	writes, err := parseWrites(c, historyForms)
	if err != nil {
		return err
	}
	opt, err := compareOptions(c)
	if err != nil {
		return err
	}
	most := c.Int("commits")
	if most < 1 || most > 100_000 {
		return fmt.Errorf("--commits %d; expected 1 to 100,000", most)
	}
	ctx := context.Background() // an interrupt ends the program, see main
	waiting := startBar(c)
	defer waiting.stop()
	repository, err := openResults(ctx, c, writes)
	if err != nil {
		return err
	}
	profiles, err := repository.Profiles(ctx, c.String("head"))
	if err != nil {
		return err
	}
	profile, err := profileToFollow(profiles, c.String("profile"), repository.Root)
	if err != nil {
		return err
	}
	opt.Progress = waiting.step
	past := history.NewPast(profile, opt)
	span, err := repository.History(ctx, c.String("head"), profile, most, past.Add)
	if err != nil {
		return err
	}
	h, err := past.History()
	switch {
	case err != nil && !slices.Contains(profiles, profile):
		return fmt.Errorf("%w; there are %s", err, quoted(profiles))
	case err != nil:
		return err
	}
	waiting.stop()
	page := report.HistoryPage{History: h, Head: span.Head, Commits: span.Commits, Earlier: span.Earlier, Missing: span.Missing,
		Each:     len(c.StringSlice("only")) > 0,
		Commands: commands()}
	others := jsonForm(report.HistoryJSON, page)
	others["svg"] = func(w io.Writer) error { return firstPicture(page, w, (*report.Picture).SVG) }
	others["png"] = func(w io.Writer) error { return firstPicture(page, w, (*report.Picture).PNG) }
	a := answer{report.HistoryDocument(page, originOf(c)), others}
	if err := deliver(c, screen, writes, a.withTables(c, func() report.Tables { return report.HistoryTables(page) })); err != nil {
		return err
	}
	if c.Bool("strict") && len(h.Worse()) > 0 {
		return exitWith(exitFailed)
	}
	return nil
}

// firstPicture writes the picture of the suite, or of the first metric that is
// shown.
func firstPicture(page report.HistoryPage, w io.Writer, form func(*report.Picture, io.Writer) error) error {
	pictures := report.HistoryPictures(page)
	if len(pictures) == 0 {
		return fmt.Errorf("there is no picture: nothing was measured at two commits")
	}
	return form(pictures[0], w)
}

// profileToFollow is the one that is named, else the only one there is. One
// that is no longer there can be named, too.
func profileToFollow(profiles []string, name, root string) (string, error) {
	switch {
	case name != "":
		return name, nil
	case len(profiles) == 1:
		return profiles[0], nil
	case len(profiles) == 0:
		return "", fmt.Errorf("there is no profile in %s yet; write profiles/NAME/settings.toml, and runs beside it (tunegate init starts "+
			"a results repository)", root)
	}
	return "", fmt.Errorf("which profile? there are %s; add for instance --profile %s", quoted(profiles), shellWord(profiles[0]))
}
