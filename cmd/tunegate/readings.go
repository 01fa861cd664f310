package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/intake"
	"tunegate/compare/readings"
	"tunegate/compare/report"
	"tunegate/compare/report/doc"
)

func readingsCommand() *cli.Command {
	rule := func(name, usage string, standard ...string) cli.Flag {
		return &cli.StringFlag{Name: name, Usage: usage, DefaultText: strings.Join(standard, "")}
	}
	rules := func(name, usage string) cli.Flag {
		return &cli.StringSliceFlag{Name: name, Usage: usage + "; repeatable"}
	}
	return &cli.Command{
		Name:      "readings",
		Usage:     "turn monitoring logs into runs with power, energy, heat and clocks",
		ArgsUsage: "LOG...",
		Description: `A log is a CSV with a time column and a row each time the sensors were read.
Each run in it becomes rows of a runs file that compare reads: the mean of each
column, energy for power, temperature rise where a column is called ambient;
maximum, percentiles and shares of time where asked for. A column becomes a
metric where its header states a unit in brackets, as in "power [W]", or where
--column maps it; other options call columns by their metrics' names. Runs go to
standard output (in PowerShell take --write csv=FILE: its > does not write
UTF-8), what was set aside and by which rules to standard error.

Where runs begin and end, say in one way, with --marker, --list or --threshold.

Times are RFC 3339, 2026-11-02 09:00:00.25, times of day alone (a step back of
more than 12 hours is midnight) or a number, in seconds unless the header says
otherwise; for any other form see --time-form. Any other step back is an error.

Between two readings the curve is taken as straight: means and percentiles
weigh by time, not by the number of readings. A step of more than five usual
ones is a gap and never bridged: a run that is gap for more than 10 % is set
aside, and the energy of a run with any gap is, too. So are runs that the log's
start or end cuts off, and power, heat and clocks that never moved while other
sensors did. Set aside means valid = no with the reason, never left out.

Examples:
   tunegate readings factory-log.csv --marker phase --warm-up 10 > factory.csv
   tunegate readings log.csv --threshold "power = 120" --benchmark tile-render
   tunegate readings log.csv --list runs-done.csv --column "Package power (W) = power [W]"
   tunegate readings mon.csv tue.csv --session-per-log --policy tunegate.toml

Exit status: 0 printed; 2 bad input or usage, or no run found.`,
		Flags: flags(
			under(groupRuns,
				rule("marker", "a run is an unbroken stretch of rows with the same cell in this column, by its `HEADER`: a benchmark, or "+
					"a benchmark and its run as in \"tile-render #3\"; it lasts from its first row to its last"),
				&cli.StringFlag{Name: "list",
					Usage: "runs are listed in this `FILE`, a CSV with benchmark, start, end, and perhaps run, session, profile, machine"},
				rule("threshold", "a run is a stretch where a column is above a value, `NAME=VALUE` such as \"power = 120\""),
				rule("longest-dip", "`SECONDS` below the threshold that still belong to the same run", "2"),
				rule("shortest-run", "`SECONDS` above the threshold that make a run; shorter stretches are none", "10"),
				rules("invalid", "a run in which a column holds a cell is invalid, `HEADER=CELL` such as \"Throttling = Yes\""),
				&cli.BoolFlag{Name: "keep-cut-runs", Usage: "count runs that touch the log's start or end, too", DisableDefaultText: true},
			),
			under(groupLog,
				rules("column", "map a header to a name and a unit, `HEADER=NAME` such as \"Package power (W) = power [W]\""),
				rule("time-column", "the time column's `HEADER`, where it is not called time or timestamp"),
				rule("time-form", "how times are written, a `FORM` such as \"DD.MM.YYYY hh:mm:ss\""),
				&cli.StringFlag{Name: "policy", Usage: "read the [readings] part of a `FILE` such as tunegate.toml; options come on top"},
			),
			under(groupWork,
				&cli.BoolFlag{
					Name: "duration", Usage: "the length of a run is its score, in s, with --marker or --threshold", DisableDefaultText: true,
				},
				rule("warm-up", "`SECONDS` at the start of each run that count for energy only"),
				rule("gap-steps", "a step longer than this `NUMBER` of usual steps is a gap", "5"),
				rule("gap-share", "`PERCENT` of a run that may be gap", "10"),
				rules("maximum", "also the maximum of a column, by `NAME`, * and ? allowed"),
				rules("percentile", "also a percentile over time, `NAME=PERCENT` such as \"power = 95\""),
				rules("above", "also the share of time above a limit, `NAME=LIMIT` such as \"temperature = 90\""),
				rules("below", "also the share of time below a limit, `NAME=LIMIT` such as \"clock = 4200\""),
				rule("load", "also the clocks while a column is above a value, `NAME=VALUE` such as \"power = 100\""),
				rules("constant", "a column, by `NAME`, that may rightly stand still, such as a fixed clock"),
				&cli.BoolFlag{Name: "watt-hours", Usage: "also energy in Wh", DisableDefaultText: true},
			),
			under(groupNames,
				&cli.StringFlag{Name: "benchmark", Usage: "the `NAME` of what ran, with --threshold"},
				&cli.StringFlag{
					Name: "profile", Usage: "the `NAME` of the profile, for runs that do not say",
					DefaultText: "none; compare takes the file's name",
				},
				&cli.StringFlag{Name: "session", Usage: "the `LABEL` of the session, for runs that do not say"},
				&cli.BoolFlag{Name: "session-per-log", Usage: "each log is a session named after its file", DisableDefaultText: true},
			),
			under(groupShow,
				&cli.BoolFlag{Name: "json", Usage: "print a summary as JSON instead of the runs", DisableDefaultText: true},
			),
			under(groupFiles,
				&cli.StringSliceFlag{Name: "write", Usage: "also write `FORM=FILE`, form csv or json; repeatable"},
			),
			csvFlags(), screenFlags()[:3]),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runReadings,
	}
}

func runReadings(c *cli.Context) error {
	screen, err := textOptions(c, c.App.ErrWriter)
	if err != nil {
		return err
	}
	writes, err := parseWrites(c, []string{"csv", "json"}, append(c.Args().Slice(), c.String("policy"), c.String("list"))...)
	if err != nil {
		return err
	}
	rules, err := readingRules(c)
	if err != nil {
		return err
	}
	if c.NArg() == 0 {
		return fmt.Errorf("no log to read; name one or more, or - for standard input")
	}
	logs, err := intake.Expand(c.Args().Slice())
	if err != nil {
		return err
	}
	waiting := startBar(c)
	defer waiting.stop()
	found, notes, err := intake.ReadLogs(logs, c.App.Reader, rules, filepath.ToSlash(c.String("list")))
	if err != nil {
		return err
	}
	waiting.stop()
	as, err := separationOf(c)
	if err != nil {
		return err
	}
	runs := func(w io.Writer) error { return report.ReadingsCSV(w, found, as) }
	others := map[string]func(io.Writer) error{"json": func(w io.Writer) error { return report.ReadingsJSON(w, found, notes) }}
	others["csv"] = runs
	if err := deliverData(c, screen, writes, answer{others: others}, runs); err != nil {
		return err
	}
	summary := func(w io.Writer) error { return doc.Text(w, report.ReadingsDocument(found, notes), screen) }
	if inActions() {
		summary = harmlessInActions(summary, false)
	}
	return summary(c.App.ErrWriter)
}

// readingRules are the policy's, with the options on top. An option that says
// where runs begin and end replaces what the policy says about it.
func readingRules(c *cli.Context) (readings.Rules, error) {
	rules := readings.DefaultRules()
	file, err := policyFileOf(c)
	if err != nil {
		return rules, err
	}
	if file.Readings != nil {
		rules = *file.Readings
	}
	if c.IsSet("marker") || c.IsSet("list") || c.IsSet("threshold") {
		rules.Marker, rules.Threshold = "", nil
	}
	for _, f := range c.Command.Flags {
		name := f.Names()[0]
		if !c.IsSet(name) || !intake.IsReadingRule(name) {
			continue
		}
		values := []string{c.String(name)}
		switch f.(type) {
		case *cli.StringSliceFlag:
			values = c.StringSlice(name)
		case *cli.BoolFlag:
			values[0] = strconv.FormatBool(c.Bool(name))
		}
		for _, v := range values {
			if err := intake.ReadingRule(&rules, name, v); err != nil {
				return rules, fmt.Errorf("--%s: %w", name, err)
			}
		}
	}
	rules.Benchmark, rules.Profile, rules.Session = c.String("benchmark"), c.String("profile"), c.String("session")
	rules.SessionPerLog = c.Bool("session-per-log")
	return rules, nil
}
