package main

import (
	"errors"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/intake"
	"tunegate/compare/readings"
	"tunegate/compare/report"
)

// Packages say what is wrong; which options, commands or lines of the policy
// mend it stands here.

// typedNumbersError is a missing direction of numbers that stand on the command
// line, where no column can be added.
type typedNumbersError struct{ *compare.NoDirectionError }

// Error says what is missing, without the name that the numbers do not have.
func (e *typedNumbersError) Error() string {
	if e.Unit == "" {
		return "the numbers have no unit"
	}
	return fmt.Sprintf("the unit %q does not say whether more is better", e.Unit)
}

// Unwrap is the missing direction itself.
func (e *typedNumbersError) Unwrap() error { return e.NoDirectionError }

// ofTyped is an error of judging the sides that the arguments name: where no
// file was named, a missing direction is one of typed numbers.
func ofTyped(c *cli.Context, err error) error {
	var direction *compare.NoDirectionError
	if c.NArg() == 0 && errors.As(err, &direction) {
		return &typedNumbersError{direction}
	}
	return err
}

// directionsError is a missing direction of several metrics.
type directionsError struct {
	*compare.NoDirectionError
	names []string
}

// Error names them all.
func (e *directionsError) Error() string {
	what := "have no unit"
	if e.Unit != "" {
		what = "have units that do not say whether more is better"
	}
	return compare.List(e.names, 20) + " " + what
}

// Unwrap is the first of them.
func (e *directionsError) Unwrap() error { return e.NoDirectionError }

// allDirections is an error with every metric that lacks a direction, where one does.
func allDirections(err error, policy compare.Policy, opt compare.Options, sides ...[]*compare.Series) error {
	var first *compare.NoDirectionError
	if opt.Better != "" || !errors.As(err, &first) {
		return err
	}
	var names []string
	for _, s := range slices.Concat(sides...) {
		_, resolved := policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		var missing *compare.NoDirectionError
		if name := s.ID().Name(); opt.Wants(s.ID()) && errors.As(resolved, &missing) && (missing.Unit == "") == (first.Unit == "") &&
			!slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if len(names) < 2 {
		return err
	}
	return &directionsError{first, names}
}

// withRemedy is an error with what to do about it, where its kind has a remedy.
func withRemedy(err error) error {
	if remedy := remedyFor(err); remedy != "" {
		return fmt.Errorf("%w%s", err, remedy)
	}
	return err
}

// remedyFor is what to do about an error, to stand behind it; empty where there
// is nothing to add.
func remedyFor(err error) string {
	const boundaries = `; give one of --marker (a column that names the benchmark while it runs), ` +
		`--threshold (such as "power = 120") or --list (a CSV with benchmark, start, end)`
	var typed *typedNumbersError
	var direction *compare.NoDirectionError
	var results *intake.NoResultsError
	var nothing *intake.NothingToMergeError
	var rules readings.RulesError
	var log *intake.LogError
	var slip *intake.SlipError
	var several *directionsError
	var unknown *intake.UnknownColumnError
	switch {
	case errors.As(err, &typed) && typed.Unit == "":
		return ": say --unit, such as --unit s, or --better higher or --better lower"
	case errors.As(err, &typed):
		return ": say --better higher or --better lower"
	case errors.As(err, &direction):
		remedy := ": say --better higher or --better lower, add a column `better`, or state better in the policy"
		if errors.As(err, &several) && several.Unit == "" {
			remedy += `; where these are profiles, write in a row below them what was measured, as in "tile-render [s]"`
		}
		return remedy
	case errors.As(err, &results):
		return ", or start one with tunegate init"
	case errors.As(err, &nothing):
		return fmt.Sprintf(": --base %s --head %s", shellWord(nothing.Instead), shellWord(nothing.Name))
	case errors.As(err, &rules):
		return map[readings.RulesError]string{
			readings.NoBoundaries:      boundaries,
			readings.SeveralBoundaries: boundaries,
			readings.NoBenchmark:       "; name the benchmark",
			readings.SecondBenchmark:   "; a benchmark can be named with a threshold only",
			readings.ListedDuration:    "; leave --duration or --list out",
		}[rules]
	case errors.As(err, &slip):
		return fmt.Sprintf("; if it is real, name the metric under trust in the policy, or say --trust %s, to a command that has it",
			shellWord(slip.At.String()))
	case errors.As(err, &unknown):
		return fmt.Sprintf(" (--map %s)", shellWord(unknown.Header+" = remark"))
	case errors.As(err, &log):
		return map[intake.LogFault]string{
			intake.NoTimeColumn:  "; else say which it is (--time-column, or time-column in [readings])",
			intake.AmbiguousDate: `; state the form of times, as in --time-form "DD.MM.YYYY hh:mm:ss"`,
			intake.UnknownTime:   ", or state the form of times (--time-form)",
		}[log.Fault]
	}
	return ""
}

// commandsOfGate are those of a results repository, whose policy states what the bench
// takes.
func commandsOfGate() report.Commands {
	c := commands()
	c.RunMinutes, c.SessionMinutes = "run-minutes", "session-minutes in [bench] of the policy"
	return c
}

// commands are what the screens advise to type next.
func commands() report.Commands {
	return report.Commands{
		Init:    "tunegate init",
		Compare: "tunegate compare",
		Gate:    "tunegate gate",
		Doubts:  "tunegate doubts",
		Reruns:  "tunegate reruns",
		Sheet: func(blocks, spells int) string {
			s := "tunegate sheet PROFILE PROFILE --benchmark NAME"
			if blocks > 0 {
				s += fmt.Sprintf(" --blocks %d", blocks)
			}
			if spells > 1 {
				s += fmt.Sprintf(" --spells %d", spells)
			}
			return s
		},
		JudgeLook:  func(look int) string { return fmt.Sprintf("compare --look %d/2", look) },
		RunMinutes: "--run-minutes", SessionMinutes: "--session-minutes",
		ChangeOption:  "--change",
		CommitsOption: "--commits",
		Confidence: func(percent string, alone bool) string {
			options := "--confidence " + percent
			if alone {
				options += " --correction none"
			}
			return fmt.Sprintf("%s %% (%s)", percent, options)
		},
		Explain: func(err error) string { return withRemedy(err).Error() },
	}
}
