package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

func joinCommand() *cli.Command {
	return &cli.Command{
		Name:      "join",
		Usage:     "judge parts of a comparison, measured on several machines, together",
		ArgsUsage: "PART.json PART.json...  (files, folders, patterns or -)",
		Description: `Each part is what tunegate compare --part gave on its machine. The result is
what one tunegate compare over all runs gives, to the byte and in any order of
the parts: the correction, the verdicts, the advice and the suite are worked out
over all parts, what was measured is taken from them. Confidence, correction,
tolerances, policy and seed were given to the parts and have to be the same in
all of them, and so has the version of tunegate that made and joins them.

Examples:
   tunegate join part-1.json part-2.json part-3.json part-4.json
   tunegate join parts/ --write html=fleet.html
   tunegate join parts/ --picture changes=fleet.svg

Exit status: that of compare: 0 no regression; 1 a score, or a cost with a
stated tolerance, has regressed; 2 bad input or usage, nothing was judged.`,
		Flags: flags([]cli.Flag{
			&cli.StringSliceFlag{Name: "picture", Usage: "write one picture as `NAME=FILE`, FILE ending in .svg or .png; repeatable (see tunegate report)"},
		}, writeFlags("text, json, markdown, html or junit"), detailFlag(testsInDetail), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runJoin,
	}
}

func runJoin(c *cli.Context) error {
	screen, err := textOptions(c, c.App.Writer)
	if err != nil {
		return err
	}
	writes, err := parseWrites(c, comparisonForms, c.Args().Slice()...)
	if err != nil {
		return err
	}
	pictures, err := parsePictures(c, writes)
	if err != nil {
		return err
	}
	if c.NArg() == 0 {
		return &exitError{exitInput, "nothing to join; name the files that tunegate compare --part gave, or their folder"}
	}
	waiting := startBar(c)
	defer waiting.stop()
	parts, err := intake.Parts(c.Args().Slice(), c.App.Reader)
	if err != nil {
		return err
	}
	result, together, err := compare.Join(parts, waiting.step)
	if err != nil {
		return err
	}
	if made := parts[0].Terms.Program; made != c.App.Version {
		return fmt.Errorf("%s was made with tunegate %s, and this is tunegate %s, which may measure otherwise; join with the same one", parts[0].Name, made, c.App.Version)
	}
	waiting.stop()
	brought{together.Readings, together.Notes, together.Conditions}.addNotes(result)
	return deliverComparison(c, result, screen, writes, pictures)
}

// runPart measures what it is given, and judges nothing.
func runPart(c *cli.Context, screen report.TextOptions, writes []output, policy compare.Policy, opt compare.Options) error {
	share, shares, err := shareOf(c)
	if err != nil {
		return err
	}
	for _, o := range writes {
		if o.form != "json" {
			return fmt.Errorf("%s: a part judges nothing, so there is nothing to show; it takes --json or --write json=FILE, and tunegate join writes %s", o.asked, o.form)
		}
	}
	if !c.Bool("json") && len(writes) == 0 {
		return fmt.Errorf("--part is for tunegate join; keep it with --write json=part.json, or print it with --json")
	}
	waiting := startBar(c)
	defer waiting.stop()
	opt.Progress = waiting.step
	in, err := readSides(c)
	if err != nil {
		return err
	}
	if wanted := opt.Wanted; shares > 0 {
		opt.Wanted = func(benchmark, metric string) bool {
			return compare.ShareOf(benchmark, shares) == share && (wanted == nil || wanted(benchmark, metric))
		}
	}
	part, err := compare.Measure(in.before, in.after, in.names, policy, opt)
	if err != nil {
		return err
	}
	waiting.stop()
	part.Terms.Program = c.App.Version
	part.Share, part.Shares, part.Picks = share, shares, picksOf(c)
	part.Notes, part.Conditions = in.notes, in.conditions
	if in.readings != nil {
		part.Readings = in.readings
	}
	for _, x := range []struct {
		option   string
		patterns []string
	}{{"only", part.Only}, {"leave-out", part.LeaveOut}} {
		for _, pattern := range x.patterns {
			if !slices.ContainsFunc(slices.Concat(in.before, in.after), func(s *compare.Series) bool {
				return compare.AnyMatches([]string{pattern}, s.Benchmark, s.Metric)
			}) {
				part.Idle = append(part.Idle, compare.IdlePattern(x.option, pattern))
			}
		}
	}
	forms := map[string]func(io.Writer) error{"json": func(w io.Writer) error { return report.Part(w, part) }}
	return deliver(c, writes, forms, func(w io.Writer) error { return report.PartText(w, part, screen) })
}

// shareOf reads --share; 0 of 0 where it is not given.
func shareOf(c *cli.Context) (share, shares int, err error) {
	s := strings.TrimSpace(c.String("share"))
	if !c.IsSet("share") {
		return 0, 0, nil
	}
	if n, err := fmt.Sscanf(s, "%d/%d", &share, &shares); err != nil || n != 2 || fmt.Sprintf("%d/%d", share, shares) != s || share < 1 || share > shares || shares > 10_000 {
		return 0, 0, fmt.Errorf("--share %q is none; expected for instance 2/4, the second of four shares", s)
	}
	return share, shares, nil
}

// parsePictures reads --picture beside --write.
func parsePictures(c *cli.Context, writes []output) ([]output, error) {
	refuse := refuseFiles(c.Args().Slice())
	for _, o := range writes {
		if err := refuse(o.asked, o.path, false); err != nil {
			return nil, err
		}
	}
	return eachPicture(c, func(asked, path string) error { return refuse(asked, path, true) })
}
