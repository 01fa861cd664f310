package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

func rerunsCommand() *cli.Command {
	return &cli.Command{
		Name:      "reruns",
		Usage:     "say how many runs or sessions a comparison needs",
		ArgsUsage: "FILES-OR-FOLDER  |  --before NUMBERS --after NUMBERS  |  --spread PERCENT",
		Description: `Plans from pilot runs, three or more a side, of two profiles or of one; or from
a spread alone. For each score: below how many nothing can be settled, how many
show a change of the given size, how many narrow the interval, and what the
pilot could have caught. With the minutes that a session and a run take, also
how to split the work.

Judging again after more runs raises false alarms: in simulations of this
program's rule from 5 % to about 6 % for 5 and then 10 runs of one score (7 to 9
among several), to 12 % for every number from 4 to 15 and 24 % up to 40.
--looks 2 plans two looks that keep 5 %, after half of the runs and after all;
judge them with compare --look.

Examples:
   tunegate reruns factory.csv
   tunegate reruns factory.csv boost-lift.csv --change 1 --session-minutes 12 --run-minutes 7
   tunegate reruns --spread 0.8 --scores 6 --looks 2

Exit status: 0 planned; 2 bad input or usage.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "before", Usage: "the `PROFILE` before the change, or the numbers themselves"},
				&cli.StringFlag{Name: "after", Usage: "the `PROFILE` after the change, or the numbers themselves"},
				&cli.StringFlag{Name: "unit", Usage: "`UNIT` of numbers typed in"},
				&cli.StringFlag{Name: "spread", Usage: "standard deviation from session to session (or run to run) in `PERCENT`, instead of runs"},
			),
			under(groupPlan,
				&cli.StringFlag{Name: "change", Usage: "`SIZE` of the change to be seen, in per cent, in the unit for °C and dB",
					DefaultText: "the tolerance"},
				&cli.StringFlag{Name: "within", Usage: "wanted `HALF-WIDTH` of the interval", DefaultText: "the change"},
				&cli.StringFlag{Name: "power", Value: "80", Usage: "`CHANCE` in per cent to see the change"},
				&cli.IntFlag{Name: "scores", Usage: "`NUMBER` of scores that will be judged together", DefaultText: "those in the pilot"},
				&cli.Float64Flag{Name: "session-minutes", Usage: "`MINUTES` that a session takes before its first run: reboot, warm-up"},
				&cli.Float64Flag{Name: "run-minutes", Usage: "`MINUTES` that a run takes"},
				&cli.IntFlag{Name: "looks", Value: 1, Usage: "plan this `NUMBER` of looks at the data, 1 or 2"},
			),
			judgingFlags("what counts as a change"), pickFlags(), readingFlags(), writeFlags(plainForms),
			detailFlag("the number of runs by Noether's formula, as a cross-check"), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runReruns,
	}
}

func runReruns(c *cli.Context) error {
	screen, writes, policy, err := policyOptions(c, plainForms)
	if err != nil {
		return err
	}
	wish, err := rerunsWish(c)
	if err != nil {
		return err
	}
	waiting := startBar(c)
	defer waiting.stop()
	plan, err := planReruns(c, policy, wish, waiting.step)
	if err != nil {
		return err
	}
	waiting.stop()
	page := report.RerunsPage{Reruns: plan, Typed: typed(c), Commands: commands()}
	return deliver(c, screen, writes, answer{report.RerunsDocument(page), jsonForm(report.RerunsJSON, page)})
}

func rerunsWish(c *cli.Context) (advice.Wish, error) {
	w := advice.Wish{Scores: c.Int("scores"), SessionMinutes: c.Float64("session-minutes"), RunMinutes: c.Float64("run-minutes"),
		Looks: c.Int("looks")}
	var err error
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
	case !(w.SessionMinutes >= 0 && w.RunMinutes >= 0):
		return w, fmt.Errorf("--session-minutes and --run-minutes cannot be below zero")
	case w.SessionMinutes > 0 && w.RunMinutes == 0:
		return w, fmt.Errorf("--session-minutes needs --run-minutes, too")
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

func planReruns(c *cli.Context, policy compare.Policy, wish advice.Wish, tell func(done, total int)) (*advice.Reruns, error) {
	files, before, after := c.Args().Slice(), c.String("before"), c.String("after")
	spread, err := positiveOption(c, "spread")
	if err != nil {
		return nil, err
	}
	if spread != nil {
		if len(files) > 0 || before != "" || after != "" {
			return nil, fmt.Errorf("--spread stands for the runs; leave the files out")
		}
		if *spread >= 100 {
			return nil, fmt.Errorf("--spread %v %%; expected below 100", *spread)
		}
		return advice.PlanFromSpread(*spread/100, policy, wish)
	}
	opt, err := lookAt(c)
	if err != nil {
		return nil, err
	}
	opt.Progress = tell
	if len(files) == 1 && before == "" && after == "" {
		var runs compare.Runs
		if _, err := readInto(c, files, &runs, ""); err != nil {
			return nil, err
		}
		if profiles := runs.Profiles(); len(profiles) == 1 {
			s := runs.Series()
			return advice.PlanReruns(s, s, profiles, policy, wish, opt)
		}
	}
	in, err := readSides(c)
	if err != nil {
		return nil, err
	}
	plan, err := advice.PlanReruns(in.before, in.after, in.names[:], policy, wish, opt)
	return plan, allDirections(ofTyped(c, err), policy, opt, in.before, in.after)
}
