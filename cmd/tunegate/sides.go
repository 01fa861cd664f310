package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/english"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

// sides are the runs to compare, and what reading them brought up.
type sides struct {
	before, after []*compare.Series
	names         [2]string
	sideNotes
}

// sideNotes are what reading brought up beside the runs.
type sideNotes struct {
	notes      []string                     // about files and profiles
	conditions map[string]map[string]string // by name, of sides that lie in a results repository
}

// allNotes are what reading brought up, as notes of a comparison.
func (in sideNotes) allNotes() []report.Note {
	return append(readingNotes(in.notes), report.ConditionNotes(doubts.Conditions(in.conditions))...)
}

func readingNotes(texts []string) []report.Note {
	var notes []report.Note
	for _, t := range texts {
		notes = append(notes, report.Note{Kind: "reading", Text: t})
	}
	return notes
}

// readSides reads the runs as the arguments say.
func readSides(c *cli.Context) (sides, error) {
	files, before, after := c.Args().Slice(), c.String("before"), c.String("after")
	switch {
	case len(files) == 0 && before == "" && after == "":
		return sides{}, fmt.Errorf("nothing to compare; give two files, or a file or folder with --before PROFILE --after PROFILE, or "+
			"numbers with --before and --after (see tunegate %s --help)", c.Command.Name)
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
		out, paired, err := fileSides(c, files)
		if paired || err != nil {
			return out, err
		}
	}
	return onlySides(c, files)
}

// onlySides reads everything. The sides are the two profiles that are there.
func onlySides(c *cli.Context, files []string) (sides, error) {
	all, err := readAll(c, files)
	if err != nil {
		return sides{}, err
	}
	switch names := all.profiles; {
	case len(names) == 1:
		words := make([]string, len(files))
		for i, f := range files {
			words[i] = shellWord(f)
		}
		return sides{}, fmt.Errorf("there is only the profile %q, and a comparison needs two; tunegate reruns %s plans from one%s",
			names[0], strings.Join(words, " "), all.perhapsProfiles())
	case len(names) != 2:
		return sides{}, fmt.Errorf("which profiles? %s", choose(names))
	}
	return sidesOf(all, [2]string{all.profiles[0], all.profiles[1]}), nil
}

// sidesOf are two profiles of what was read.
func sidesOf(all profiled, names [2]string) sides {
	out := sides{names: names, before: all.Profile(names[0]), after: all.Profile(names[1])}
	out.notes, out.conditions = all.notes, map[string]map[string]string{}
	for _, name := range names {
		if conditions, known := all.conditions[name]; known {
			out.conditions[name] = conditions
		}
	}
	return out
}

// profiled are the runs that arguments name, by profile.
type profiled struct {
	series   []*compare.Series
	profiles []string
	reading
}

// Profiles lists the profiles, in order of appearance.
func (p profiled) Profiles() []string { return p.profiles }

// Profile returns the series of a profile.
func (p profiled) Profile(name string) []*compare.Series {
	var out []*compare.Series
	for _, s := range p.series {
		if s.Profile == name {
			out = append(out, s)
		}
	}
	return out
}

// named is a profile as it is spelled in the runs, whatever its case.
func (p profiled) named(name string) string {
	for _, known := range p.profiles {
		if intake.SameName(known, name) {
			return known
		}
	}
	return name
}

// perhapsProfiles says what else the runs of a single profile may be: sheets that were
// not read, and columns without a unit, which may be profiles.
func (p profiled) perhapsProfiles() string {
	switch {
	case len(p.tally.Unread) > 0:
		return fmt.Sprintf("; %s %s not read, since no header there names runs or a unit", english.Noun(len(p.tally.Unread), "sheet"),
			compare.List(p.tally.Unread, 4)+" "+english.Verb(len(p.tally.Unread), "was", "were"))
	case len(p.series) < 2:
		return ""
	}
	var names []string
	for _, s := range p.series {
		if s.Unit != "" || s.Metric != compare.DefaultMetric {
			return ""
		}
		names = append(names, fmt.Sprintf("%q", s.Benchmark))
	}
	return fmt.Sprintf("; if %s are profiles, write in a row below them what was measured, as in \"tile-render [s]\"", compare.List(names, 4))
}

// readProfiles reads the runs that arguments name by the rule that all commands share:
// a row belongs to the profile of its column, else to the one named like its file,
// sheet or folder. As the sides of a comparison, two arguments with one profile each
// are two profiles, also where both have the same name.
func readProfiles(c *cli.Context, args []string) (profiled, error) {
	if len(args) == 2 && !slices.Contains(args, "-") {
		in, paired, err := fileSides(c, args)
		if err != nil {
			return profiled{}, err
		}
		if paired {
			out := profiled{profiles: in.names[:], reading: reading{notes: in.notes, conditions: in.conditions}}
			for i, side := range [][]*compare.Series{in.before, in.after} {
				for _, s := range side {
					s.Profile = in.names[i]
				}
				out.series = append(out.series, side...)
			}
			return out, nil
		}
	}
	return readAll(c, args)
}

// readAll is readProfiles without the rule for two arguments. Three folders and more
// that hold one profile each are profiles of their names.
func readAll(c *cli.Context, args []string) (profiled, error) {
	if len(args) > 2 && slices.ContainsFunc(args, isFolder) && !slices.Contains(args, "-") {
		names := map[string]bool{}
		for _, arg := range args {
			var runs compare.Runs
			if _, err := readInto(c, []string{arg}, &runs, intake.ProfileName(arg)); err != nil {
				return profiled{}, err
			}
			if found := runs.Profiles(); len(found) == 1 {
				names[found[0]] = true
			}
		}
		if len(names) == len(args) {
			return readAs(c, args, profileOfArgument(args))
		}
	}
	return readAs(c, args, nil)
}

// readAs reads everything. profileOf is the profile of rows that name none, nil for
// that of their file.
func readAs(c *cli.Context, args []string, profileOf func(string) string) (profiled, error) {
	var runs compare.Runs
	read, err := readNamed(c, args, &runs, profileOf)
	if err != nil {
		return profiled{}, err
	}
	return profiled{runs.Series(), runs.Profiles(), read}, nil
}

// profileOfArgument names files like the argument that they lie in.
func profileOfArgument(args []string) func(string) string {
	of := map[string]string{}
	for _, arg := range args {
		paths, _ := intake.Expand([]string{arg}) // what is wrong with it is told where all are read
		for _, path := range paths {
			of[path] = intake.ProfileName(arg)
		}
	}
	return func(path string) string {
		if name, known := of[path]; known {
			return name
		}
		return intake.ProfileName(path)
	}
}

func isFolder(name string) bool {
	info, err := os.Stat(name)
	return err == nil && info.IsDir()
}

// choose tells which --before and --after there are.
func choose(profiles []string) string {
	if len(profiles) < 2 {
		return fmt.Sprintf("there is only %s; a comparison needs two", quoted(profiles))
	}
	return fmt.Sprintf("there are %s; add for instance --before %s --after %s", quoted(profiles), shellWord(profiles[0]),
		shellWord(profiles[1]))
}

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(out, ", ")
}

// shellWord is a word as it is typed at a shell: as it is where no shell takes any of
// it for more, in double quotes where that will do on every system, else in single
// ones.
func shellWord(s string) string {
	switch {
	case s != "" && !strings.ContainsAny(s, " \t\"'$&|;<>()*?[]{}!`\\^") && !strings.ContainsAny(s[:1], "~#@"):
		return s
	case !strings.ContainsAny(s, "\"$`\\!"):
		return `"` + s + `"`
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

// reading is what was read besides the runs themselves.
type reading struct {
	notes      []string                     // about files
	tally      intake.Tally                 // of the files
	conditions map[string]map[string]string // by profile, see intake.Conditions
}

// readInto reads the files that arguments name. Where rows name no profile,
// the given one is theirs, or, if empty, the one that their file's name says.
func readInto(c *cli.Context, args []string, into *compare.Runs, profile string) (reading, error) {
	if profile == "" {
		return readNamed(c, args, into, nil)
	}
	return readNamed(c, args, into, func(string) string { return profile })
}

// readNamed is readInto with the profile of each file that rows name none in; nil for
// the one that its name says.
func readNamed(c *cli.Context, args []string, into *compare.Runs, profileOf func(string) string) (reading, error) {
	paths, err := intake.Expand(args)
	if err != nil {
		return reading{}, err
	}
	how, trusted, err := readingOptions(c)
	if err != nil {
		return reading{}, err
	}
	how.ProfileOf = profileOf
	tally, err := intake.ReadFiles(paths, c.App.Reader, how, into.Add)
	if err != nil {
		return reading{}, err
	}
	collectSooner(tally.Values, 20)
	if err := intake.CheckSlips(into.Series(), trusted); err != nil {
		return reading{}, err
	}
	conditions, err := intake.Conditions(paths)
	return reading{tally.Notes, tally, conditions}, err
}

// collectSooner keeps little garbage beside many rows: what is worked out from them
// would else be there twice. percent of what is in use may be garbage. Rows hold no
// pointers, so that a collection costs little.
func collectSooner(rows, percent int) {
	const many = 200_000
	if rows > many && os.Getenv("GOGC") == "" && os.Getenv("GOMEMLIMIT") == "" {
		debug.SetGCPercent(percent)
	}
}

// fileSides takes each of two files (or folders) as one side. They are read at
// the same time, but not beside standard input, which both could want and
// which may take its time; what is wrong with the first is said first. It is not
// paired where one of them holds another number of profiles.
func fileSides(c *cli.Context, files []string) (out sides, paired bool, err error) {
	out = sides{sideNotes: sideNotes{conditions: map[string]map[string]string{}}}
	if first, err := os.Stat(files[0]); err == nil {
		if second, err := os.Stat(files[1]); err == nil && os.SameFile(first, second) {
			return out, false, fmt.Errorf("%s and %s are the same; name the runs before and the runs after the change", files[0], files[1])
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
			return out, false, reads[i].err
		}
		profiles := reads[i].runs.Profiles()
		if len(profiles) != 1 && !slices.Contains(files, "-") {
			return out, false, nil
		}
		if len(profiles) != 1 {
			return out, false, fmt.Errorf("%s holds %s: %s; pick two with --before and --after", f, english.Count(len(profiles), "profile"),
				quoted(profiles))
		}
		out.names[i] = profiles[0]
		recorded[i] = reads[i].conditions
	}
	out.notes = intake.JoinNotes(reads[0].tally, reads[1].tally)
	if out.names[0] == out.names[1] {
		out.names = [2]string{out.names[0] + " (" + filepath.ToSlash(files[0]) + ")", out.names[1] + " (" + filepath.ToSlash(files[1]) + ")"}
	}
	for i, side := range recorded {
		for _, conditions := range side {
			if len(side) == 1 { // else its runs lie in several profiles' folders
				out.conditions[out.names[i]] = conditions
			}
		}
	}
	out.before, out.after = both[0], both[1]
	return out, true, intake.SpellAlike(out.before, out.after)
}

// pickedSides reads everything and takes two profiles of it.
func pickedSides(c *cli.Context, files []string, before, after string) (sides, error) {
	all, err := readAll(c, files)
	if err != nil {
		return sides{}, err
	}
	names := [2]string{all.named(before), all.named(after)}
	out := sidesOf(all, names)
	for i, s := range [][]*compare.Series{out.before, out.after} {
		if len(s) == 0 {
			return out, fmt.Errorf("there is no profile %q; there are %s", out.names[i], quoted(all.profiles))
		}
	}
	if names[0] == names[1] {
		return out, fmt.Errorf("--before and --after both name %q; a comparison needs two profiles", names[0])
	}
	return out, nil
}

// refuseCopies is an error where runs that are to be judged stand there twice.
func refuseCopies(found []doubts.Copies) error {
	if len(found) == 0 {
		return nil
	}
	return fmt.Errorf("%s; take one of the two out, or mark its rows valid = no with a reason, and measure again where both were meant to be "+
		"new (tunegate doubts lists all such runs)", report.CopiesText(&found[0]))
}

// typed reports whether the numbers themselves stand on the command line.
func typed(c *cli.Context) bool { return c.NArg() == 0 && c.IsSet("before") }

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
