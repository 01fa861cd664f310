package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/doubts"
	"tunegate/compare/intake"
	"tunegate/compare/report"
	"tunegate/compare/report/doc"
	"tunegate/compare/report/table"
)

func rerunsCommand() *cli.Command {
	return &cli.Command{
		Name:      "reruns",
		Usage:     "plan what to run next: what is open, in the hours that you have",
		ArgsUsage: "FILES-OR-FOLDER  |  --before NUMBERS --after NUMBERS  |  --spread PERCENT",
		Description: `Judges the pilot runs of two profiles, skips what is settled, and spends the
hours where the expected number of settled scores grows most: so many more
sessions a side of these benchmarks. Chances are those of a verdict, given what
the pilot showed. --write csv=next.csv writes the order of work, which goes on
from the pilot: fill it in, and judge all files together. Without --hours it
lists what 6, 12 and 24 hours would settle. Where the minutes of a run are not
known, --sessions plans instead.

Of one profile, or of a spread alone, it says how many show a change of the
given size four times in five.

The pilot and what is added are two looks, each judged at 97.06 % so that both
keep 95 %; the sheet carries the look. Judging again without a plan raises false
alarms: in simulations of this program's rule from 5 % to about 6 % for 5 and
then 10 runs of one score (7 to 9 among several), to 12 % for every number from
4 to 15 and 24 % up to 40.

Examples:
   tunegate reruns factory.csv boost-lift.csv
   tunegate reruns factory.csv boost-lift.csv --hours 12 --write csv=next.csv
   tunegate reruns --before "412 409 411" --after "402 405 404" --unit s
   tunegate reruns --spread 0.8 --scores 6

Exit status: 0 planned; 2 bad input or usage.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "before", Usage: "the `PROFILE` before the change, or the numbers themselves"},
				&cli.StringFlag{Name: "after", Usage: "the `PROFILE` after the change, or the numbers themselves"},
				&cli.StringFlag{Name: "unit", Usage: "`UNIT` of numbers typed in"},
				&cli.StringFlag{Name: "spread", Usage: "standard deviation from session to session (or run to run) in `PERCENT`, instead of runs"},
			),
			under(groupPlan,
				&cli.Float64Flag{Name: "hours", Usage: "`HOURS` at the bench to spend", DefaultText: "a list of 6, 12 and 24"},
				&cli.IntFlag{Name: "sessions", Usage: "instead of hours: `NUMBER` of sessions more on each side, or of blocks"},
				&cli.IntFlag{Name: "warm-ups", Value: 1, Usage: "`RUNS` of a benchmark in a session before those that count"},
				&cli.StringFlag{Name: "change", DefaultText: "the tolerance",
					Usage: "of one profile or a spread: `SIZE` of the change to be seen, in per cent, in the unit for °C and dB"},
				&cli.StringFlag{Name: "within", Usage: "in detail: wanted `HALF-WIDTH` of the interval", DefaultText: "the change"},
				&cli.StringFlag{Name: "power", Value: "80", Usage: "`CHANCE` in per cent to see the change"},
				&cli.IntFlag{Name: "scores", Usage: "of a spread: `NUMBER` of scores that will be judged together", DefaultText: "those in the pilot"},
				&cli.IntFlag{Name: "looks", Value: 1, Usage: "of a spread: plan this `NUMBER` of looks at the data, 1 or 2"},
			),
			minutesFlags(),
			judgingFlags("what counts as a change"), pickFlags(), readingFlags(),
			writeFlags(rerunsForms, "(csv and xlsx are the order of work, to be filled in, markdown that for paper; figures is the plan as CSV)"),
			csvFlags(),
			detailFlag("a plan score by score: for a change of the tolerance, for a narrow interval, by runs a session"), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runReruns,
	}
}

// rerunsForms are the forms of a plan that can go to files.
var rerunsForms = []string{"text", "json", "csv", "xlsx", "markdown", "figures"}

func runReruns(c *cli.Context) error {
	screen, writes, policy, err := policyOptions(c, rerunsForms)
	if err != nil {
		return err
	}
	wish, err := rerunsWish(c)
	if err != nil {
		return err
	}
	waiting := startBar(c)
	defer waiting.stop()
	plan, pilot, err := planReruns(c, policy, wish, waiting.step)
	if err != nil {
		return err
	}
	waiting.stop()
	page := report.RerunsPage{Reruns: plan, Detail: screen.Detail, Commands: commands()}
	a := answer{others: jsonForm(report.RerunsJSON, page)}
	if err := addSheet(c, &page, pilot, writes); err != nil {
		return err
	}
	a.document = report.RerunsDocument(page)
	a.others["json"] = func(w io.Writer) error { return report.RerunsJSON(w, page) }
	as, err := separationOf(c)
	if err != nil {
		return err
	}
	a.others["figures"] = func(w io.Writer) error { return table.CSV(w, report.RerunsTable(page), as) }
	if page.Sheet != nil {
		a.others["csv"] = func(w io.Writer) error { return report.SheetCSV(w, page.Sheet, as) }
		a.others["xlsx"] = func(w io.Writer) error { return report.RerunsBook(w, page) }
		hours := page.Next.Choices[len(page.Next.Choices)-1].Hours
		paper := report.SheetDocument(page.Sheet, 60*hours)
		a.others["markdown"] = func(w io.Writer) error { return doc.Markdown(w, paper) }
	}
	return deliver(c, screen, writes, a)
}

// addSheet adds the order of work to a plan where one can be made, and the calls that
// write it and judge it. It is an error where one is asked for and cannot be made.
func addSheet(c *cli.Context, page *report.RerunsPage, pilot advice.Pilot, writes []output) error {
	var file string
	for _, w := range writes {
		if w.form == "csv" || (w.form == "xlsx" || w.form == "markdown") && file == "" {
			file = w.path
		}
	}
	next := page.Next
	if next == nil {
		if file != "" {
			return fmt.Errorf("%w; name the runs of both", advice.ErrOneProfile)
		}
		return nil
	}
	choice := enough(next.Choices)
	rows, err := next.Sheet(choice, pilot, 1)
	if err != nil {
		if file != "" {
			return fmt.Errorf("no sheet can be written: %w", err)
		}
		return nil
	}
	if file != "" {
		next.Choices, next.Asked = []*advice.Choice{choice}, true
		page.Sheet, page.SheetFile, page.JudgeIt = rows, file, judgeCommand(c, file, pilot)
		return nil
	}
	budget := []string{"--sessions", strconv.Itoa(choice.Budget.Sessions)}
	if h := choice.Budget.Hours; h > 0 {
		budget = []string{"--hours", strconv.FormatFloat(h, 'f', -1, 64)}
	}
	page.WriteIt = sameFor(c, "reruns", append(budget, "--write", "csv=next.csv")...)
	return nil
}

// enough is the smallest of several choices that settles nearly as much as the largest;
// nil of none.
func enough(choices []*advice.Choice) *advice.Choice {
	for _, c := range choices {
		if c.Expected >= 0.8*choices[len(choices)-1].Expected {
			return c
		}
	}
	return nil
}

// judgeCommand judges a pilot with a sheet that is filled in. Numbers that were typed
// stand in the sheet.
func judgeCommand(c *cli.Context, file string, pilot advice.Pilot) string {
	if pilot.Values {
		return "tunegate compare " + shellWord(file) + " --before before --after after"
	}
	words := strings.SplitN(sameFor(c, "compare"), " --", 2)
	words[0] += " " + shellWord(file)
	return strings.Join(words, " --")
}

func rerunsWish(c *cli.Context) (advice.Wish, error) {
	minutes, err := minutesOf(c)
	if err != nil {
		return advice.Wish{}, err
	}
	w := advice.Wish{Scores: c.Int("scores"), SessionMinutes: minutes.Session, RunMinutes: minutes.Run, Looks: c.Int("looks"),
		Hours: c.Float64("hours"), Sessions: c.Int("sessions"), WarmUps: c.Int("warm-ups")}
	if w.Change, err = positiveOption(c, "change"); err != nil {
		return w, err
	}
	if w.Within, err = positiveOption(c, "within"); err != nil {
		return w, err
	}
	if w.Power, err = intake.ParseConfidence(c.String("power")); err != nil {
		return w, fmt.Errorf("--power: %w", err)
	}
	if err := intake.CheckLooks(w.Looks); err != nil {
		return w, fmt.Errorf("--looks: %w", err)
	}
	switch {
	case w.Scores < 0 || w.Scores > 100_000:
		return w, fmt.Errorf("--scores %d; expected 1 or more", w.Scores)
	case c.IsSet("hours") && !(w.Hours > 0 && w.Hours <= 10_000):
		return w, fmt.Errorf("--hours %v; expected a number above zero, up to 10,000", w.Hours)
	case c.IsSet("sessions") && !(w.Sessions > 0 && w.Sessions <= 1000):
		return w, fmt.Errorf("--sessions %d; expected 1 to 1,000", w.Sessions)
	case c.IsSet("hours") && c.IsSet("sessions"):
		return w, fmt.Errorf("--hours and --sessions both say how much to plan; give one of them")
	case w.WarmUps < 0 || w.WarmUps > 100:
		return w, fmt.Errorf("--warm-ups %d; expected 0 to 100", w.WarmUps)
	}
	return w, nil
}

// positiveOption reads a size above zero, with or without a % sign; nil where
// it is not given.
func positiveOption(c *cli.Context, name string) (*float64, error) {
	s := c.String(name)
	if s == "" {
		return nil, nil
	}
	v, err := parsePositive(name, s)
	return &v, err
}

func parsePositive(option, s string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%")), 64)
	if err != nil || !(v > 0 && v < 1e6) {
		return 0, fmt.Errorf("--%s %q; expected a number above zero, such as 0.5", option, s)
	}
	return v, nil
}

func planReruns(c *cli.Context, policy compare.Policy, wish advice.Wish, tell func(done, total int)) (
	*advice.Reruns, advice.Pilot, error) {
	var none advice.Pilot
	files, before, after := c.Args().Slice(), c.String("before"), c.String("after")
	spread, err := positiveOption(c, "spread")
	if err != nil {
		return nil, none, err
	}
	compares := spread == nil && (len(files) > 1 || before != "")
	if !compares && (wish.Hours > 0 || wish.Sessions > 0) {
		return nil, none, fmt.Errorf("--hours and --sessions plan what is open between two profiles; name the runs of both")
	}
	if spread != nil {
		if len(files) > 0 || before != "" || after != "" {
			return nil, none, fmt.Errorf("--spread stands for the runs; leave the files out")
		}
		if *spread >= 100 {
			return nil, none, fmt.Errorf("--spread %v %%; expected below 100", *spread)
		}
		plan, err := advice.PlanFromSpread(*spread/100, policy, wish)
		return plan, none, err
	}
	opt, err := lookAt(c)
	if err != nil {
		return nil, none, err
	}
	opt.Progress = tell
	if len(files) == 1 && before == "" && after == "" {
		var runs compare.Runs
		if _, err := readInto(c, files, &runs, ""); err != nil {
			return nil, none, err
		}
		if profiles := runs.Profiles(); len(profiles) == 1 {
			s := runs.Series()
			if err := refuseCopies(doubts.CopiesAmong(s)); err != nil {
				return nil, none, err
			}
			plan, err := advice.PlanReruns(s, s, profiles, policy, wish, opt)
			return plan, none, err
		}
	}
	in, err := readSides(c)
	if err != nil {
		return nil, none, err
	}
	if !typed(c) {
		if err := refuseCopies(doubts.CopiesAmong(slices.Concat(in.before, in.after))); err != nil {
			return nil, none, err
		}
	}
	plan, err := advice.PlanReruns(in.before, in.after, in.names[:], policy, wish, opt)
	return plan, advice.Pilot{Before: in.before, After: in.after, Profiles: in.names, Values: typed(c)},
		allDirections(ofTyped(c, err), policy, opt, in.before, in.after)
}
