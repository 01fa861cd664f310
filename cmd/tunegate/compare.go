package main

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/intake"
	"tunegate/compare/report"
	"tunegate/compare/report/doc"
)

func compareCommand() *cli.Command {
	return &cli.Command{
		Name:      "compare",
		Usage:     "judge one profile's runs against another's",
		ArgsUsage: "FILES-OR-FOLDER  |  FILES-OR-FOLDER --before PROFILE --after PROFILE  |  --before NUMBERS --after NUMBERS",
		Description: `Two files are the two sides, and so are the two profiles of one workbook, file or
folder; of more profiles --before and --after pick two. Without any file, --before
and --after are the numbers themselves. "-" reads standard input.

Examples:
   tunegate compare studio.xlsx
   tunegate compare factory.csv boost-lift.csv
   tunegate compare runs/ --before factory --after boost-lift
   tunegate compare --before "412 409 415 411" --after "402 405 401 399" --unit s

Exit status: 0 no regression; 1 a score regressed, or a cost rose beyond its
stated tolerance; 2 bad input or usage, nothing was judged; 3 with --strict,
something that decides is not settled or not measured.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "before", Usage: "the `PROFILE` before the change, or the numbers themselves"},
				&cli.StringFlag{Name: "after", Usage: "the `PROFILE` after the change, or the numbers themselves"},
				&cli.StringFlag{Name: "unit", Usage: "`UNIT` of numbers typed in, such as s, fps or points"},
			),
			under(groupJudge,
				&cli.BoolFlag{Name: "strict", Usage: "end with exit status 3 where something that decides is open", DisableDefaultText: true},
				&cli.StringFlag{Name: "look", Usage: "judge look `K/N`, 1/2 or 2/2, of two planned ones (see tunegate reruns --looks)"},
			),
			judgingFlags("largest loss you accept and smallest gain worth having"), minutesFlags(), pickFlags(), readingFlags(), drawingFlags(),
			writeFlags(compareForms), csvFlags(), detailFlag(testsInDetail), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runCompare,
	}
}

func runCompare(c *cli.Context) error {
	screen, writes, policy, opt, err := judgingOptions(c, compareForms...)
	if err != nil {
		return err
	}
	waiting := startBar(c)
	defer waiting.stop()
	opt.Progress = waiting.step
	result, err := judgeSides(c, policy, opt)
	if err != nil {
		return err
	}
	waiting.stop()
	status := comparisonStatus(result.Comparison, c.Bool("strict"))
	others := map[string]func(io.Writer) error{"json": func(w io.Writer) error { return report.JSON(w, result, status) }}
	others["junit"] = func(w io.Writer) error { return report.JUnit(w, result.Comparison) }
	others["badge"] = func(w io.Writer) error { return report.Badge(w, result.Comparison) }
	document := report.ComparisonDocument(result, originOf(c))
	document.Next = nextCommand(c, result)
	a := answer{document, others}
	if err := deliver(c, screen, writes, a.withTables(c, func() report.Tables { return report.ComparisonTables(result) })); err != nil {
		return err
	}
	return exitWith(status)
}

// compareForms are the forms of a comparison that can go to files.
var compareForms = []string{"text", "json", "markdown", "html", "junit", "csv", "xlsx", "badge"}

// judgingOptions reads what a command that judges runs is told: how its screen
// looks, which of these forms go to files, and the rule.
func judgingOptions(c *cli.Context, forms ...string) (
	screen doc.TextOptions, writes []output, policy compare.Policy, opt compare.Options, err error,
) {
	if screen, writes, policy, err = policyOptions(c, forms); err != nil {
		return
	}
	opt, err = compareOptions(c)
	return
}

// policyOptions reads what a command that works under a policy is told: how its
// screen looks, which of these forms go to files, and the policy.
func policyOptions(c *cli.Context, forms []string) (screen doc.TextOptions, writes []output, policy compare.Policy, err error) {
	if screen, err = textOptions(c, c.App.Writer); err != nil {
		return
	}
	if writes, err = parseWrites(c, forms, append(c.Args().Slice(), c.String("policy"))...); err != nil {
		return
	}
	policy, err = policyOf(c)
	return
}

// judgeSides reads the two sides as the arguments say, and compares them.
func judgeSides(c *cli.Context, policy compare.Policy, opt compare.Options) (page report.ComparisonPage, err error) {
	in, err := readSides(c)
	if err != nil {
		return page, err
	}
	if err := checkPicks(c, in.before, in.after); err != nil {
		return page, err
	}
	if opt.Look, err = lookOf(opt.Look, in.before, in.after); err != nil {
		return page, err
	}
	result, err := compare.Compare(in.before, in.after, in.names, policy, opt)
	if err != nil {
		return page, allDirections(ofTyped(c, err), policy, opt, in.before, in.after)
	}
	found, err := doubts.OfComparison(doubts.Compared{Comparison: result, Before: in.before, After: in.after}, policy, compare.Options{Better: opt.Better})
	if err == nil && !typed(c) {
		err = refuseCopies(found.Copies())
	}
	return report.ComparisonPage{Comparison: result, Doubts: found, Reading: in.allNotes(), Typed: typed(c),
		Runs: slices.Concat(in.before, in.after), Commands: commands()}, err
}

// lookOf is the planned look that is judged: the one that the option states, else the
// last one that rows with a value were made for. 0 where none is planned.
func lookOf(stated int, sides ...[]*compare.Series) (int, error) {
	last := 0
	for _, s := range slices.Concat(sides...) {
		for _, o := range s.All() {
			if !o.Missing {
				last = max(last, int(o.Look))
			}
		}
	}
	if stated > 0 && last > stated {
		return 0, fmt.Errorf("--look %d/2, but runs of look %d are there already; leave --look out", stated, last)
	}
	return max(stated, last), nil
}

// policyFileOf is the policy file that the option names; it states nothing
// where none is named.
func policyFileOf(c *cli.Context) (intake.PolicyFile, error) {
	name := c.String("policy")
	if name == "" {
		return intake.PolicyFile{}, nil
	}
	data, err := intake.ReadSmall(name, intake.MaxPolicy)
	if err != nil {
		return intake.PolicyFile{}, fmt.Errorf("cannot read the policy: %w", err)
	}
	return intake.Policy(data, filepath.ToSlash(name))
}

// policyOf is the policy file, with what the options say on top.
func policyOf(c *cli.Context) (compare.Policy, error) {
	file, err := policyFileOf(c)
	p := file.Policy
	if err != nil {
		return p, err
	}
	if s := c.String("confidence"); s != "" {
		v, err := intake.ParseConfidence(s)
		if err != nil {
			return p, fmt.Errorf("--confidence: %w", err)
		}
		p.Confidence = v
	}
	if s := c.String("correction"); s != "" {
		v, err := intake.ParseCorrection(s)
		if err != nil {
			return p, fmt.Errorf("--correction: %w", err)
		}
		p.Correction = v
	}
	p.OverridesFrom = "--tolerance"
	for _, s := range c.StringSlice("tolerance") {
		o, err := intake.ParseTolerance(s)
		if err != nil {
			return p, fmt.Errorf("--tolerance: %w", err)
		}
		p.Overrides = append(p.Overrides, o)
	}
	return p, nil
}

func compareOptions(c *cli.Context) (compare.Options, error) {
	opt, err := lookAt(c)
	if err != nil {
		return opt, err
	}
	if s := c.String("look"); s != "" {
		if opt.Look, err = intake.ParseLook(s); err != nil {
			return opt, fmt.Errorf("--look: %w", err)
		}
	}
	if opt.Minutes, err = minutesOf(c); err != nil {
		return opt, err
	}
	opt.Seed = c.Uint64("seed")
	opt.Resamples, err = resamplesOf(c)
	return opt, err
}

// lookAt reads the options that say which metrics to look at, and how.
func lookAt(c *cli.Context) (compare.Options, error) {
	var opt compare.Options
	switch b := compare.Better(strings.ToLower(c.String("better"))); b {
	case "", compare.Higher, compare.Lower:
		opt.Better = b
	default:
		return opt, fmt.Errorf("--better %q; expected higher or lower", c.String("better"))
	}
	pick := picksOf(c)
	for _, pattern := range slices.Concat(pick.only, pick.leaveOut) {
		if err := compare.ValidGlob(pattern); err != nil {
			return opt, err
		}
	}
	if len(pick.only)+len(pick.leaveOut) > 0 {
		opt.Wanted = pick.wants
	}
	return opt, nil
}

// maxResamples is the largest number of resamples that anybody may ask for.
const maxResamples = 10_000_000

func resamplesOf(c *cli.Context) (int, error) {
	n := c.Int("resamples")
	if n < 1000 || n > maxResamples {
		return 0, fmt.Errorf("--resamples %d; expected 1,000 to 10,000,000 (fewer make the ends of the interval a matter of luck)", n)
	}
	return n, nil
}
