package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

func policyCommand() *cli.Command {
	return &cli.Command{
		Name:      "policy",
		Usage:     "print the policy in force for each metric, and where each value comes from",
		ArgsUsage: "[FILES-OR-FOLDER]",
		Description: `Reads the runs for their metrics, and the policy from tunegate.toml: the nearest
one from the folder upwards, or the one that --policy names. In a folder without
runs it prints what holds for all of them.

Examples:
   tunegate policy results/
   tunegate policy factory.csv --policy tunegate.toml

Exit status: 0 printed; 2 bad input or usage.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "policy", Usage: "the policy `FILE`"},
			),
			screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runPolicy,
	}
}

func runPolicy(c *cli.Context) error {
	screen, err := textOptions(c, c.App.Writer)
	if err != nil {
		return err
	}
	args := c.Args().Slice()
	if len(args) == 0 {
		args = []string{"."}
	}
	name := c.String("policy")
	if name == "" {
		if name, err = nearestPolicy(args[0]); err != nil {
			return err
		}
	}
	var f report.InForce
	if name != "" {
		data, err := intake.ReadSmall(name, intake.MaxPolicy)
		if err != nil {
			return fmt.Errorf("cannot read the policy: %w", err)
		}
		file, err := intake.Policy(data, filepath.ToSlash(name))
		if err != nil {
			return err
		}
		f.Policy, f.Readings, f.Stated = file.Policy, file.Readings, file.Stated
	}
	waiting := startBar(c)
	defer waiting.stop()
	var runs compare.Runs
	// A new repository has a policy before it has runs.
	var none *intake.NoRunsError
	if _, err := readInto(c, args, &runs, ""); err != nil && (name == "" || !errors.As(err, &none)) {
		return err
	}
	seen := map[compare.MetricID]bool{}
	for _, s := range runs.Series() {
		if k := s.ID(); !seen[k] {
			seen[k] = true
			m, err := f.Policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
			if err != nil {
				return err
			}
			f.Metrics = append(f.Metrics, m)
		}
	}
	waiting.stop()
	return deliver(c, screen, nil, answer{report.PolicyDocument(f), jsonForm(report.PolicyJSON, f)})
}

// nearestPolicy finds tunegate.toml in a folder or above it; empty where there
// is none.
func nearestPolicy(from string) (string, error) {
	if info, err := os.Stat(from); err != nil || !info.IsDir() {
		from = filepath.Dir(from)
	}
	here, err := filepath.Abs(from)
	if err != nil {
		return "", err
	}
	for dir, shown := here, from; ; dir, shown = filepath.Dir(dir), filepath.Join(shown, "..") {
		switch _, err := os.Stat(filepath.Join(dir, "tunegate.toml")); {
		case err == nil:
			return filepath.Join(shown, "tunegate.toml"), nil
		case !errors.Is(err, fs.ErrNotExist):
			return "", fmt.Errorf("cannot search for a policy: %w", err)
		}
		if dir == filepath.Dir(dir) {
			return "", nil
		}
	}
}
