package main

import (
	"fmt"
	"io"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/english"
	"tunegate/compare/intake"
	"tunegate/compare/report"
	"tunegate/compare/report/doc"
)

func sheetCommand() *cli.Command {
	return &cli.Command{
		Name:      "sheet",
		Usage:     "print a run sheet: which profile when, which benchmark in which order",
		ArgsUsage: "PROFILE PROFILE...",
		Description: `Every block is one sitting that holds each profile, so that drift, ambient
temperature and warm-up meet all of them alike. Which profile comes first is
balanced over blocks; the order of benchmarks is drawn. The sheet is a CSV with
empty values: fill them in and hand it to compare, which judges within blocks.
With --spells 2 each block runs there and back, and three blocks can settle
something; with one spell it takes six. A warm-up run is made, not counted.
With --looks 2 a column says for which look a row is; compare judges by it.

Examples:
   tunegate sheet factory boost-lift --benchmark "tile-render [s]" --benchmark "tile-render power [W]" > runs.csv
   tunegate sheet factory boost-lift --benchmark "mesh-solve [s]" --spells 2 --blocks 4 --write markdown=sheet.md

Exit status: 0 printed; 2 bad usage.`,
		Flags: flags(
			under(groupPlan,
				&cli.StringSliceFlag{Name: "benchmark", Usage: "what to write down, as a `HEADER` such as \"tile-render [s]\"; repeatable"},
				&cli.IntFlag{Name: "blocks", DefaultText: "as few as can settle something at 95 %",
					Usage: "`NUMBER` of sittings, each with every profile"},
				&cli.IntFlag{Name: "spells", Value: 1, Usage: "`NUMBER` of times a profile is applied in a block, 1 or 2"},
				&cli.IntFlag{Name: "runs", Value: 3, Usage: "counted `RUNS` of a benchmark in a session; an odd number"},
				&cli.IntFlag{Name: "looks", Value: 1, Usage: "plan this `NUMBER` of looks, 1 or 2: after half of the blocks, and after all"},
				&cli.IntFlag{Name: "warm-ups", Value: 1, Usage: "`RUNS` before them that do not count"},
				&cli.Float64Flag{Name: "session-minutes", Usage: "`MINUTES` that a session takes before its first run"},
				&cli.Float64Flag{Name: "run-minutes", Usage: "`MINUTES` that a run takes"},
				&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`NUMBER` that starts the draw; the same seed gives the same sheet"},
			),
			under(groupFiles,
				&cli.StringSliceFlag{Name: "write", Usage: "also write `FORM=FILE`, form csv, markdown or xlsx; repeatable"},
			),
			csvFlags(),
		),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runSheet,
	}
}

// sheetForms are the forms of a run sheet that can go to files.
var sheetForms = []string{"csv", "markdown", "xlsx"}

func runSheet(c *cli.Context) error {
	writes, err := parseWrites(c, sheetForms)
	if err != nil {
		return err
	}
	headers := c.StringSlice("benchmark")
	if len(headers) == 0 {
		return fmt.Errorf("--benchmark is missing; name at least one thing to write down, such as --benchmark \"tile-render [s]\"")
	}
	metrics, err := intake.Headings(headers)
	if err != nil {
		return err
	}
	scores := 0
	for i, m := range metrics {
		resolved, err := (compare.Policy{}).Resolve(m.Benchmark, m.Metric, m.Unit, m.Better)
		if err != nil {
			return fmt.Errorf("--benchmark %q: the unit does not say whether more is better; write it as in \"latency [ns, lower]\"", headers[i])
		}
		if resolved.Role == compare.Score {
			scores++
		}
	}
	plan := advice.SheetPlan{Profiles: c.Args().Slice(), Metrics: metrics, Blocks: c.Int("blocks"), Spells: c.Int("spells"),
		Runs: c.Int("runs"), WarmUps: c.Int("warm-ups"), Looks: c.Int("looks"), Seed: c.Uint64("seed")}
	if plan.Spells < 1 || plan.Spells > 2 {
		return fmt.Errorf("--spells %d; expected 1 or 2", plan.Spells)
	}
	if err := intake.CheckLooks(plan.Looks); err != nil {
		return fmt.Errorf("--looks: %w", err)
	}
	confidence := compare.DefaultConfidence
	if plan.Looks == 2 {
		confidence = advice.LookConfidence(confidence)
	}
	floor := plan.Looks * advice.BlocksToSettle(scores, confidence)
	if !c.IsSet("blocks") {
		plan.Blocks = floor
	}
	rows, err := advice.Sheet(plan)
	if err != nil {
		return err
	}
	session, run := c.Float64("session-minutes"), c.Float64("run-minutes")
	if !(session >= 0 && run >= 0) {
		return fmt.Errorf("--session-minutes and --run-minutes cannot be below zero")
	}
	sessions := plan.Blocks * plan.Spells * len(plan.Profiles)
	minutes := float64(sessions)*session + float64(rows[len(rows)-1].Step)*run
	if run == 0 {
		minutes = 0
	}
	as, err := separationOf(c)
	if err != nil {
		return err
	}
	sheet := func(w io.Writer) error { return report.SheetCSV(w, rows, as) }
	a := answer{report.SheetDocument(rows, minutes), map[string]func(io.Writer) error{"csv": sheet}}
	a.others["xlsx"] = func(w io.Writer) error { return report.SheetBook(w, rows) }
	if err := deliverData(c, doc.TextOptions{}, writes, a, sheet); err != nil {
		return err
	}
	hours, about := "", ""
	switch {
	case minutes > 0:
		hours = fmt.Sprintf("about %s hours: ", compare.Decimal(minutes/60, 1))
	case session > 0:
		return fmt.Errorf("--session-minutes needs --run-minutes, too")
	}
	if plan.Looks == 2 {
		about += fmt.Sprintf("; looks after block %d and block %d, each judged at %s %% so that both together keep 95 %%",
			plan.Blocks/2, plan.Blocks, compare.Decimal(100*confidence, 2))
	}
	if plan.Blocks < floor {
		about += fmt.Sprintf("; verdicts on %s rest on normal noise, on %d they do not", english.Count(plan.Blocks, "block"), floor)
	}
	_, err = fmt.Fprintf(c.App.ErrWriter, "tunegate: %s%s in %s, %s%s\n", hours, report.SheetRuns(rows), english.Count(sessions, "session"),
		english.Count(plan.Blocks, "block"), about)
	return err
}
