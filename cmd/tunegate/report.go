package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
	"tunegate/compare/report/doc"
)

// defaultPage is the file of the page where no option names one; an existing one
// is not replaced.
const defaultPage = "report.html"

func reportCommand() *cli.Command {
	return &cli.Command{
		Name:  "report",
		Usage: "write a page with pictures, to show a comparison, a ladder or a gate",
		ArgsUsage: "BEFORE-FILE AFTER-FILE  |  FILE FILE FILE...  |  [FOLDER] --base REVISION  |  " +
			"FILES-OR-FOLDER --before PROFILE --after PROFILE  |  FILES-OR-FOLDER --profile FIRST --profile NEXT...",
		Description: `Writes one HTML file that needs nothing but itself: no network, no script,
light and dark, on paper too. The finding comes first, then pictures, tables,
the method and the command to make it again. What it shows is what the other
commands judge: two files, or --before and --after, are a comparison (see
tunegate compare); more files, or --profile, a ladder (see tunegate ladder);
--base a gate over a results repository (see tunegate gate).

--picture also writes single pictures, as SVG or PNG by the end of the file's
name, for a post or a slide. Their names: changes, costs, shown, runs, pairs,
sessions; of a ladder also front and steps; of a gate with the profile before
them, as in boost-lift/changes. The page is then written only where --out asks
for it.

Examples:
   tunegate report factory.csv boost-lift.csv
   tunegate report factory.csv boost-lift.csv --out offer.html --picture changes=offer.png
   tunegate report factory.csv boost-lift.csv fixed-all.csv --picture front=front.svg
   tunegate report results/ --base main --out gate.html

Exit status: 0 written, whatever it says (a page fails nothing); 2 bad input or
usage, nothing was written.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "before", Usage: "the `PROFILE` before the change, or the numbers themselves"},
				&cli.StringFlag{Name: "after", Usage: "the `PROFILE` after the change, or the numbers themselves"},
				&cli.StringFlag{Name: "unit", Usage: "`UNIT` of numbers typed in, such as s, fps or points"},
				&cli.StringSliceFlag{Name: "profile", Usage: "the next `PROFILE` of a ladder; repeatable"},
				&cli.StringFlag{Name: "base", Usage: "of a gate: the `REVISION` that the change is to be merged into"},
				&cli.StringFlag{Name: "head", Usage: "of a gate: the `REVISION` to judge instead of the working tree"},
			),
			under(groupJudge,
				&cli.StringFlag{Name: "mix", Usage: "of a ladder: the work that counts, as `CLASS=SHARE,CLASS=SHARE`"},
				&cli.StringFlag{Name: "look", Usage: "judge look `K/N`, 1/2 or 2/2, of two planned ones (see tunegate reruns --looks)"},
			),
			under(groupFiles,
				&cli.StringFlag{Name: "out", Usage: "the page's `FILE`", DefaultText: defaultPage + ", unless it is there already"},
				&cli.StringSliceFlag{Name: "picture", Usage: "write one picture as `NAME=FILE`, FILE ending in .svg or .png; repeatable"},
				&cli.StringSliceFlag{Name: "write", Hidden: true},
			),
			under(groupShow,
				&cli.BoolFlag{Name: "json", Hidden: true},
			),
			judgingFlags("smallest change that counts"), minutesFlags(), pickFlags(), readingFlags(), drawingFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runReport,
	}
}

// originOf is the command line as it was given, and the program's version.
func originOf(c *cli.Context) report.Origin {
	words := []string{"tunegate"}
	arguments, _ := c.App.Metadata["arguments"].([]string)
	for _, a := range arguments {
		words = append(words, shellWord(a))
	}
	return report.Origin{Command: strings.Join(words, " "), Version: c.App.Version}
}

// shown is a result as the report shows it.
type shown struct {
	page     doc.Document
	pictures []*report.Picture
	closing  string
}

func runReport(c *cli.Context) error {
	switch {
	case c.Bool("json"):
		return fmt.Errorf("--json is not for report, which writes a page; tunegate compare, ladder and gate print JSON")
	case c.IsSet("write"):
		return fmt.Errorf("--write is not for report; it takes --out FILE for the page and --picture NAME=FILE, and tunegate compare, " +
			"ladder and gate take --write html=FILE")
	}
	page, pictures, err := parseOutputs(c)
	if err != nil {
		return err
	}
	all := pictures
	if page.path != "" {
		all = append([]output{page}, pictures...)
	}
	waiting := startBar(c)
	defer waiting.stop()
	s, err := judgeForReport(c, all, waiting)
	if err != nil {
		return err
	}
	waiting.stop()
	var files []content
	for i, o := range all {
		form := func(w io.Writer) error { return report.Page(w, s.page) }
		if page.path == "" || i > 0 {
			if form, err = pictureForm(s.pictures, o); err != nil {
				return err
			}
		}
		data, err := render(form)
		if err != nil {
			return err
		}
		files = append(files, content{o.path, data})
	}
	if err := writeWhole(files); err != nil {
		return err
	}
	print := func(w io.Writer) error {
		var names []string
		for _, f := range files {
			names = append(names, report.Clean(f.path))
		}
		_, err := io.WriteString(w, readable(c.App.Writer, fmt.Sprintf("%s\nwritten: %s\n", s.closing, strings.Join(names, ", "))))
		return err
	}
	return show(c, print)
}

// parseOutputs reads --out and --picture. The page's path is empty where only
// pictures are asked for.
func parseOutputs(c *cli.Context) (page output, pictures []output, err error) {
	refuse := refuseFiles(append(c.Args().Slice(), c.String("policy")))
	add := func(option, path string) error { return refuse(option, path, c.String("base") == "") } // a repository knows what is read
	if out := c.String("out"); c.IsSet("out") {
		if out == "" {
			return page, nil, fmt.Errorf("--out names no file")
		}
		page = output{"html", out, "--out " + out}
	} else if !c.IsSet("picture") {
		if _, err := os.Lstat(defaultPage); err == nil {
			return page, nil, fmt.Errorf("%s is there already; --out %s replaces it, and another name keeps it", defaultPage, defaultPage)
		}
		page = output{"html", defaultPage, "--out " + defaultPage}
	}
	if page.path != "" {
		if err := add(page.option, page.path); err != nil {
			return page, nil, err
		}
	}
	pictures, err = eachPicture(c, add)
	return page, pictures, err
}

// refuseFiles is an error where a file to be written is named twice, or is one of
// those that are read.
func refuseFiles(reads []string) func(option, path string, readsToo bool) error {
	seen := map[string]bool{}
	return func(option, path string, readsToo bool) error {
		if seen[filepath.Clean(path)] {
			return fmt.Errorf("%s: %s is named twice; give each a file of its own", option, path)
		}
		seen[filepath.Clean(path)] = true
		if !readsToo {
			return nil
		}
		if name := sameFile(path, reads); name != "" {
			return fmt.Errorf("%s would replace %s, which is read; give the result a file of its own", option, name)
		}
		return nil
	}
}

// eachPicture reads --picture; add refuses a file.
func eachPicture(c *cli.Context, add func(option, path string) error) (pictures []output, err error) {
	for _, v := range c.StringSlice("picture") {
		name, path, ok := strings.Cut(v, "=")
		form := strings.ToLower(filepath.Ext(path))
		if !ok || name == "" || form != ".svg" && form != ".png" {
			return nil, fmt.Errorf("--picture %q; expected NAME=FILE with a FILE that ends in .svg or .png", v)
		}
		if err := add("--picture "+v, path); err != nil {
			return nil, err
		}
		pictures = append(pictures, output{name, path, "--picture " + v})
	}
	return pictures, nil
}

// judgeForReport judges what the arguments ask for.
func judgeForReport(c *cli.Context, all []output, waiting *bar) (shown, error) {
	from := originOf(c)
	if c.String("base") != "" {
		for _, name := range []string{"before", "after", "profile", "mix", "unit", "better", "confidence", "tolerance", "correction", "look",
			"policy", "only", "leave-out"} {
			if c.IsSet(name) {
				return shown{}, fmt.Errorf("--%s does not go with --base: a gate takes all of that from the repository and its policy", name)
			}
		}
		g, err := judgeRepository(c, all, waiting.step)
		if err != nil {
			return shown{}, err
		}
		return shown{report.GateDocument(g, from), report.GatePictures(g.Gate), report.GateClosing(g.Gate)}, nil
	}
	if c.IsSet("head") {
		return shown{}, fmt.Errorf("--head needs --base; both are of a gate")
	}
	policy, err := policyOf(c)
	if err != nil {
		return shown{}, err
	}
	opt, err := compareOptions(c)
	if err != nil {
		return shown{}, err
	}
	opt.Progress = waiting.step
	sides := c.IsSet("before") || c.IsSet("after")
	if c.IsSet("profile") || c.IsSet("mix") || c.NArg() > 2 && !sides {
		for _, name := range []string{"before", "after", "unit", "look"} {
			if c.IsSet(name) {
				return shown{}, fmt.Errorf("--%s is of a comparison, and more than two files, --profile and --mix are of a ladder; give one or "+
					"the other", name)
			}
		}
		l, err := climb(c, policy, opt)
		if err != nil {
			return shown{}, err
		}
		return shown{report.LadderDocument(l, from), report.LadderPictures(l.Ladder), report.LadderClosing(l.Ladder)}, nil
	}
	result, err := judgeSides(c, policy, opt)
	if err != nil {
		return shown{}, err
	}
	return shown{report.ComparisonDocument(result, from), report.ComparisonPictures(result.Comparison),
		report.Closing(result.Comparison)}, nil
}

// pictureForm is the picture that an option names, in the form that its file
// asks for.
func pictureForm(pictures []*report.Picture, o output) (func(io.Writer) error, error) {
	var names []string
	for _, p := range pictures {
		if p.Name != o.form {
			names = append(names, p.Name)
			continue
		}
		if strings.EqualFold(filepath.Ext(o.path), ".png") {
			return p.PNG, nil
		}
		return p.SVG, nil
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("%s: there is no picture, since nothing was compared", o.option)
	}
	return nil, fmt.Errorf("%s: there is no picture %q here; there are %s", o.option, o.form, strings.Join(names, ", "))
}
