package main

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

func compareCommand() *cli.Command {
	return &cli.Command{
		Name:      "compare",
		Usage:     "judge one profile's runs against another's",
		ArgsUsage: "BEFORE-FILE AFTER-FILE  |  FILES-OR-FOLDER --before PROFILE --after PROFILE  |  --before NUMBERS --after NUMBERS",
		Description: `Two files are the two sides. One file or folder that holds several profiles
needs --before and --after to pick two of them. Without any file, --before and
--after are the numbers themselves. "-" reads standard input.

Examples:
   tunegate compare factory.csv boost-lift.csv
   tunegate compare runs/ --before factory --after boost-lift
   tunegate compare --before "412 409 415 411" --after "402 405 401 399" --unit s

More than one machine can share the work: --part measures what it is given and
judges nothing, and tunegate join judges all parts together, with the same
result as one compare over all runs. Each machine has the benchmarks that lie
there, or takes its --share of what all of them can read:
   tunegate compare runs/ --before factory --after boost-lift --part --share 1/4 --write json=1.json

Exit status: 0 no regression; 1 a score, or a cost with a stated tolerance,
has regressed; 2 bad input or usage, nothing was judged.`,
		Flags: flags([]cli.Flag{
			&cli.StringFlag{Name: "before", Usage: "the `PROFILE` before the change, or the numbers themselves"},
			&cli.StringFlag{Name: "after", Usage: "the `PROFILE` after the change, or the numbers themselves"},
			&cli.StringFlag{Name: "unit", Usage: "`UNIT` of numbers typed in, such as s, fps or points"},
			&cli.StringFlag{Name: "look", Usage: "judge look `K/N` of several planned ones (see tunegate reruns --looks)"},
			&cli.BoolFlag{Name: "part", Usage: "judge nothing; with --json or --write json=FILE give what tunegate join needs to judge these runs with others", DisableDefaultText: true},
			&cli.StringFlag{Name: "share", Usage: "with --part: take share `K/N` of the benchmarks, told by their names"},
		}, judgingFlags("largest loss you accept and smallest gain worth having"), pickFlags(), drawingFlags(), writeFlags("text, json, markdown, html or junit"), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runCompare,
	}
}

func runCompare(c *cli.Context) error {
	screen, writes, policy, opt, err := judgingOptions(c, comparisonForms...)
	if err != nil {
		return err
	}
	if c.Bool("part") {
		return runPart(c, screen, writes, policy, opt)
	}
	if c.IsSet("share") {
		return fmt.Errorf("--share needs --part: a verdict on a share of the benchmarks would be corrected for too few")
	}
	waiting := startBar(c)
	defer waiting.stop()
	opt.Progress = waiting.step
	result, err := judgeSides(c, policy, opt)
	if err != nil {
		return err
	}
	waiting.stop()
	return deliverComparison(c, result, screen, writes, nil)
}

// comparisonForms are the forms of a comparison that can go to files.
var comparisonForms = []string{"text", "json", "markdown", "html", "junit"}

// deliverComparison writes and prints a comparison, with pictures of it by name,
// and gives its exit status.
func deliverComparison(c *cli.Context, result *compare.Comparison, screen report.TextOptions, writes, pictures []output) error {
	forms := map[string]func(io.Writer) error{
		"text": func(w io.Writer) error {
			return report.Text(w, result, report.TextOptions{Width: 100, Detail: screen.Detail, Plain: screen.Plain})
		},
		"json":     func(w io.Writer) error { return report.JSON(w, result) },
		"markdown": func(w io.Writer) error { return report.Markdown(w, result) },
		"html":     func(w io.Writer) error { return report.HTML(w, result, originOf(c)) },
		"junit":    func(w io.Writer) error { return report.JUnit(w, result) },
	}
	for _, o := range pictures {
		form, err := pictureForm(report.ComparisonPictures(result), o)
		if err != nil {
			return err
		}
		forms[o.asked] = form
		writes = append(writes, output{o.asked, o.path, o.asked})
	}
	print := func(w io.Writer) error { return report.Text(w, result, screen) }
	if err := deliver(c, writes, forms, print); err != nil {
		return err
	}
	return exitWith(report.ExitStatus(result))
}

// judgingOptions reads what a command that judges runs is told: how its screen
// looks, which of these forms go to files, and the rule.
func judgingOptions(c *cli.Context, forms ...string) (screen report.TextOptions, writes []output, policy compare.Policy, opt compare.Options, err error) {
	if screen, err = textOptions(c, c.App.Writer); err != nil {
		return
	}
	if writes, err = parseWrites(c, forms, append(c.Args().Slice(), c.String("policy"))...); err != nil {
		return
	}
	if policy, err = policyOf(c); err != nil {
		return
	}
	opt, err = compareOptions(c)
	return
}

// judgeSides reads the two sides as the arguments say, and compares them.
func judgeSides(c *cli.Context, policy compare.Policy, opt compare.Options) (*compare.Comparison, error) {
	in, err := readSides(c)
	if err != nil {
		return nil, err
	}
	if err := checkPicks(c, in.before, in.after); err != nil {
		return nil, err
	}
	result, err := compare.Compare(in.before, in.after, in.names, policy, opt)
	if err != nil {
		return nil, err
	}
	in.addNotes(result)
	return result, nil
}

// addNotes states in a comparison what reading brought up.
func (in brought) addNotes(result *compare.Comparison) {
	var notes []string
	for _, reading := range in.readings {
		notes = append(notes, intake.JoinNotes(reading)...)
	}
	for _, n := range append(notes, in.notes...) {
		result.Notes = append(result.Notes, compare.Note{Kind: "reading", Text: n})
	}
	var apart compare.Vetting
	apart.Conditions(in.conditions)
	for _, f := range apart.Findings {
		result.Notes = append(result.Notes, compare.Note{Kind: "vet", Text: "the recorded conditions differ, so the change may not be the settings' alone: " + f.Evidence})
	}
}

// policyOf is the policy file, with what the options say on top.
func policyOf(c *cli.Context) (compare.Policy, error) {
	var p compare.Policy
	if name := c.String("policy"); name != "" {
		data, err := os.ReadFile(name)
		if err != nil {
			return p, fmt.Errorf("cannot read the policy: %w", err)
		}
		if p, err = intake.Policy(data, name); err != nil {
			return p, err
		}
	}
	if s := c.String("confidence"); s != "" {
		v, err := compare.ParseConfidenceText(s)
		if err != nil {
			return p, fmt.Errorf("--confidence: %w", err)
		}
		p.Confidence = v
	}
	if s := c.String("correction"); s != "" {
		v, err := compare.ParseCorrection(s)
		if err != nil {
			return p, fmt.Errorf("--correction: %w", err)
		}
		p.Correction = v
	}
	for _, s := range c.StringSlice("tolerance") {
		o, err := compare.ParseTolerance(s)
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
		if opt.Look, opt.Looks, err = compare.ParseLook(s); err != nil {
			return opt, fmt.Errorf("--look: %w", err)
		}
	}
	opt.Seed, opt.Vet = c.Uint64("seed"), true
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
	picks := picksOf(c)
	for _, pattern := range slices.Concat(picks.Only, picks.LeaveOut) {
		if err := compare.ValidGlob(pattern); err != nil {
			return opt, err
		}
	}
	if len(picks.Only)+len(picks.LeaveOut) > 0 {
		opt.Wanted = picks.Wants
	}
	return opt, nil
}

func picksOf(c *cli.Context) compare.Picks {
	return compare.Picks{Only: c.StringSlice("only"), LeaveOut: c.StringSlice("leave-out")}
}

// checkPicks is an error where a pattern of --only or --leave-out picks nothing
// of what was read.
func checkPicks(c *cli.Context, sides ...[]*compare.Series) error {
	for _, option := range []string{"only", "leave-out"} {
		for _, pattern := range c.StringSlice(option) {
			var names []string
			picks := false
			for _, s := range slices.Concat(sides...) {
				picks = picks || compare.AnyMatches([]string{pattern}, s.Benchmark, s.Metric)
				if !slices.Contains(names, s.Benchmark) {
					names = append(names, s.Benchmark)
				}
			}
			if !picks {
				return fmt.Errorf("--%s %q fits no benchmark and no metric; there are %s", option, pattern, quoted(names[:min(len(names), 12)]))
			}
		}
	}
	return nil
}

func resamplesOf(c *cli.Context) (int, error) {
	n := c.Int("resamples")
	if n < 1000 || n > compare.MostResamples {
		return 0, fmt.Errorf("--resamples %d; expected 1,000 to 10,000,000 (fewer make the ends of the interval a matter of luck)", n)
	}
	return n, nil
}

// sides are the runs to compare, and what reading them brought up.
type sides struct {
	before, after []*compare.Series
	names         [2]string
	brought
}

// brought is what reading brought up beside the runs.
type brought struct {
	readings   [][]compare.FileNotes        // all files at once, or by side
	notes      []string                     // about profiles
	conditions map[string]map[string]string // by name, of sides that lie in a results repository
}

// readSides reads the runs as the arguments say.
func readSides(c *cli.Context) (sides, error) {
	files, before, after := c.Args().Slice(), c.String("before"), c.String("after")
	switch {
	case len(files) == 0 && before == "" && after == "":
		return sides{}, fmt.Errorf("nothing to compare; give two files, or a file or folder with --before PROFILE --after PROFILE, or numbers with --before and --after (see tunegate compare --help)")
	case (before == "") != (after == ""):
		missing := "--after"
		if before == "" {
			missing = "--before"
		}
		return sides{}, fmt.Errorf("%s is missing; --before and --after go together", missing)
	case len(files) == 0:
		return typedSides(before, after, compare.CanonicalUnit(c.String("unit")))
	case c.IsSet("unit"):
		return sides{}, fmt.Errorf("--unit is for numbers typed in; in files the unit stands in a column or in the header")
	case before != "":
		return pickedSides(c, files, before, after)
	case len(files) == 2:
		return fileSides(c, files)
	}
	var all compare.Runs
	if _, err := readInto(c, files, &all, ""); err != nil {
		return sides{}, err
	}
	return sides{}, fmt.Errorf("which profiles? %s", choose(all.Profiles()))
}

// choose tells which --before and --after there are.
func choose(profiles []string) string {
	if len(profiles) < 2 {
		return fmt.Sprintf("there is only %s; a comparison needs two", quoted(profiles))
	}
	return fmt.Sprintf("there are %s; add for instance --before %s --after %s", quoted(profiles), shellWord(profiles[0]), shellWord(profiles[1]))
}

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(out, ", ")
}

func shellWord(s string) string {
	if strings.ContainsAny(s, " \t\"'$&|;<>()*?") {
		return fmt.Sprintf("%q", s)
	}
	return s
}

// reading is what was read besides the runs themselves.
type reading struct {
	files      []compare.FileNotes
	notes      []string                     // theirs, joined
	conditions map[string]map[string]string // by profile, see intake.Conditions
}

// readInto reads the files that arguments name. Where rows name no profile,
// the given one is theirs, or, if empty, the one that their file's name says.
func readInto(c *cli.Context, args []string, into *compare.Runs, profile string) (reading, error) {
	paths, err := intake.Expand(args)
	if err != nil {
		return reading{}, err
	}
	profileOf := intake.ProfileName
	if profile != "" {
		profileOf = func(string) string { return profile }
	}
	tally, err := intake.ReadFiles(paths, c.App.Reader, profileOf, into.Add)
	if err != nil {
		return reading{}, err
	}
	conditions, err := intake.Conditions(paths)
	return reading{tally.Files, tally.Notes, conditions}, err
}

// fileSides takes each of two files (or folders) as one side. They are read at
// the same time, but not beside standard input, which both could want and
// which may take its time; what is wrong with the first is said first.
func fileSides(c *cli.Context, files []string) (sides, error) {
	out := sides{brought: brought{conditions: map[string]map[string]string{}}}
	if first, err := os.Stat(files[0]); err == nil {
		if second, err := os.Stat(files[1]); err == nil && os.SameFile(first, second) {
			return out, fmt.Errorf("%s and %s are the same; name the runs before and the runs after the change", files[0], files[1])
		}
	}
	var both [2][]*compare.Series
	var recorded [2]map[string]map[string]string
	var reads [2]struct {
		runs compare.Runs
		reading
		err error
	}
	var wg sync.WaitGroup
	for i, f := range files {
		wg.Go(func() {
			side := &reads[i]
			side.reading, side.err = readInto(c, []string{f}, &side.runs, intake.ProfileName(f))
			both[i] = side.runs.Series()
		})
		if slices.Contains(files, "-") {
			if wg.Wait(); reads[i].err != nil {
				break
			}
		}
	}
	wg.Wait()
	for i, f := range files {
		if reads[i].err != nil {
			return out, reads[i].err
		}
		profiles := reads[i].runs.Profiles()
		if len(profiles) != 1 {
			return out, fmt.Errorf("%s holds %d profiles: %s; pick two with --before and --after", f, len(profiles), quoted(profiles))
		}
		out.names[i] = profiles[0]
		out.readings = append(out.readings, reads[i].files)
		recorded[i] = reads[i].conditions
	}
	if out.names[0] == out.names[1] {
		out.names = [2]string{out.names[0] + " (" + files[0] + ")", out.names[1] + " (" + files[1] + ")"}
	}
	for i, side := range recorded {
		for _, conditions := range side {
			if len(side) == 1 { // else its runs lie in several profiles' folders
				out.conditions[out.names[i]] = conditions
			}
		}
	}
	out.before, out.after = both[0], both[1]
	return out, nil
}

// pickedSides reads everything and takes two profiles of it.
func pickedSides(c *cli.Context, files []string, before, after string) (sides, error) {
	out := sides{names: [2]string{before, after}}
	var runs compare.Runs
	read, err := readInto(c, files, &runs, "")
	if err != nil {
		return out, err
	}
	out.readings, out.conditions = [][]compare.FileNotes{read.files}, map[string]map[string]string{}
	for _, name := range out.names {
		if conditions, known := read.conditions[name]; known {
			out.conditions[name] = conditions
		}
	}
	out.before, out.after = runs.Profile(before), runs.Profile(after)
	for i, s := range [][]*compare.Series{out.before, out.after} {
		if len(s) == 0 && !(c.Bool("part") && len(out.before)+len(out.after) > 0) { // another part may hold it
			return out, fmt.Errorf("there is no profile %q; there are %s", out.names[i], quoted(runs.Profiles()))
		}
	}
	for _, p := range runs.Profiles() {
		for _, name := range out.names {
			if p != name && strings.EqualFold(p, name) {
				out.notes = append(out.notes, fmt.Sprintf("profile %q is not %q: only the case of letters differs, and its runs are left out; spell it one way", p, name))
			}
		}
	}
	if before == after {
		return out, fmt.Errorf("--before and --after both name %q; a comparison needs two profiles", before)
	}
	return out, nil
}

// typedSides takes the numbers on the command line.
func typedSides(before, after, unit string) (sides, error) {
	out := sides{names: [2]string{"before", "after"}}
	if strings.Contains(before+after, ":") {
		if unit != "" && unit != "s" {
			return out, fmt.Errorf("times such as 6:52.3 are read as seconds, but --unit says %q; give --unit s", unit)
		}
		unit = "s"
	}
	var both [2]compare.Runs
	for i, text := range []string{before, after} {
		option := "--" + out.names[i]
		numbers, err := intake.ParseNumbers(text, option)
		if err != nil {
			return out, fmt.Errorf("%w (without a file, --before and --after are the numbers themselves)", err)
		}
		for k, v := range numbers {
			at := compare.Place{File: fmt.Sprintf("%s, number %d", option, k+1)}
			if err := both[i].Add(compare.Value{Profile: out.names[i], Benchmark: "the benchmark", Unit: unit, Value: v, At: at}); err != nil {
				return out, err
			}
		}
	}
	out.before, out.after = both[0].Series(), both[1].Series()
	return out, nil
}
