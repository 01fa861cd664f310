package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/intake"
	"tunegate/compare/report"
	"tunegate/compare/report/doc"
)

func gateCommand() *cli.Command {
	return &cli.Command{
		Name:      "gate",
		Usage:     "say whether a change to a results repository may be merged",
		ArgsUsage: "[FOLDER]",
		Description: `Judges every profile that differs between the tip of --base and the merge that
would land: changed settings, new runs, new profiles. The merge is made in
memory, of --base and HEAD (or --head); where the working tree has changes that
are not committed, its files are judged as they lie there. The policy in force
is the one of --base, so that a change cannot loosen its own rules. FOLDER lies
in the results repository; the current one unless given.

In GitHub Actions it also marks runs files and lines and fills the step summary,
and without --base takes the pull request's. --results keeps in a folder what CI
shows of it, also where nothing could be judged: status, gate.md, gate.html,
gate.json, gate.xml; in GitHub Actions the step has these as outputs.

Examples:
   tunegate gate --base main
   tunegate gate --base origin/main --results tuning-gate
   tunegate gate --base origin/main --head feature --write markdown=gate.md --write junit=gate.xml
   tunegate gate --base origin/main --write sarif=gate.sarif --write badge=gate.svg

Exit status: 0 passed; 1 failed; 2 bad input, usage or environment, nothing was
judged; 3 something that decides could not be judged with these runs, or a
person has to agree (--agreed). 1 outranks 3. Agreement covers a looser policy, a
removed profile, and a profile that nothing older stands against; never a loss,
a cap or copied rows.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "base", Usage: "`REVISION` that the change is to be merged into: the tip of its branch"},
				&cli.StringFlag{Name: "head", Usage: "`REVISION` to judge instead of the working tree"},
				&cli.StringFlag{Name: "agreed", Usage: "what a maintainer agrees to: `LIST` of policy, removed, new, with commas between"},
			),
			drawingFlags(), writeFlags(gateForms),
			under(groupFiles, &cli.StringFlag{Name: "results", Usage: "keep status, Markdown, page, JSON, JUnit, SARIF and code quality in this `FOLDER`, for CI"}),
			csvFlags(), detailFlag(testsInDetail), screenFlags()),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runGate,
	}
}

// gateForms are the forms of a gate that can go to files: those of a comparison, and
// those by which a forge marks lines of a request.
var gateForms = slices.Concat(compareForms, []string{"sarif", "code-quality"})

// runGate judges, and keeps what CI shows of it.
func runGate(c *cli.Context) error {
	err := judgeAndTell(c)
	if statusOf(err) == exitInput && inActions() {
		if page, failed := notJudged(messageOf(err)); failed == nil {
			_ = tellSummary(page) // an error of this would hide the first
		}
	}
	return keepResults(c, err)
}

func judgeAndTell(c *cli.Context) error {
	screen, err := textOptions(c, c.App.Writer)
	if err != nil {
		return err
	}
	writes, err := parseWrites(c, gateForms)
	if err != nil {
		return err
	}
	if writes, err = beginResults(c, writes); err != nil {
		return err
	}
	waiting := startBar(c)
	defer waiting.stop()
	page, err := judgeRepository(c, writes, waiting.step)
	if err != nil {
		return err
	}
	waiting.stop()
	status := gateStatus(page.Gate)
	others := map[string]func(io.Writer) error{
		"json": func(w io.Writer) error {
			return report.GateJSON(w, page, status, func(c *compare.Comparison) int { return comparisonStatus(c, false) })
		},
	}
	others["junit"] = func(w io.Writer) error { return report.GateJUnit(w, page) }
	others["sarif"] = func(w io.Writer) error { return report.GateSARIF(w, page, originOf(c), status) }
	others["code-quality"] = func(w io.Writer) error { return report.GateCodeQuality(w, page) }
	others["badge"] = func(w io.Writer) error { return report.GateBadge(w, page) }
	a := answer{report.GateDocument(page, originOf(c)), others}
	if err := deliver(c, screen, writes, a.withTables(c, func() report.Tables { return report.GateTables(page) })); err != nil {
		return err
	}
	if inActions() {
		if err := tellActions(c.App.ErrWriter, page); err != nil {
			return err
		}
	}
	return exitWith(status)
}

// judgeRepository reads both states of the repository as the options say, and
// judges what changed. What is read none of the outputs may replace.
func judgeRepository(c *cli.Context, writes []output, progress func(done, total int)) (page report.GatePage, err error) {
	resamples, err := resamplesOf(c)
	if err != nil {
		return page, err
	}
	agreed, err := agreements(c.String("agreed"))
	if err != nil {
		return page, err
	}
	base := c.String("base")
	if base == "" && inActions() && os.Getenv("GITHUB_BASE_REF") != "" {
		base = "origin/" + os.Getenv("GITHUB_BASE_REF")
	}
	if base == "" {
		return page, fmt.Errorf("--base is missing; name the revision to merge into, for instance tunegate gate --base main")
	}
	ctx := context.Background() // an interrupt ends the program, see main
	repository, err := openResults(ctx, c, writes)
	if err != nil {
		return page, err
	}
	before, after, err := repository.Load(ctx, base, c.String("head"))
	if err != nil {
		return page, err
	}
	rows := 0
	for _, s := range []gate.Snapshot{before, after} {
		for _, p := range s.Profiles {
			rows += p.Values.Len()
		}
	}
	collectSooner(rows, 15) // less than beside a comparison: there is more code, and git, to be held, too
	g, err := gate.Judge(before, after, compare.Options{Resamples: resamples, Seed: c.Uint64("seed"), Progress: progress})
	if err != nil {
		return page, err
	}
	page = report.GatePage{Gate: g.Agree(agreed...), Before: before, After: after, Commands: commandsOfGate()}
	page.Commands.Agree = func(to string) string {
		line := "tunegate gate --base " + base
		if head := c.String("head"); head != "" {
			line += " --head " + head
		}
		return line + " --agreed " + to
	}
	return page, nil
}

// agreements reads what --agreed lists.
func agreements(list string) (out []gate.Agreement, err error) {
	if list == "" {
		return nil, nil
	}
	for word := range strings.SplitSeq(list, ",") {
		a := gate.Agreement(strings.TrimSpace(word))
		if !slices.Contains(gate.Agreements(), a) {
			return nil, fmt.Errorf("--agreed: %q is nothing to agree to; expected policy, removed or new, with commas between", a)
		}
		out = append(out, a)
	}
	return out, nil
}

// openResults opens the results repository that the argument, or the current
// folder, lies in, which no --write may touch.
func openResults(ctx context.Context, c *cli.Context, writes []output) (*intake.Repository, error) {
	folder := "."
	switch c.NArg() {
	case 0:
	case 1:
		folder = c.Args().First()
	default:
		return nil, fmt.Errorf("expected at most one folder, found %d arguments", c.NArg())
	}
	repository, err := intake.OpenRepository(ctx, folder)
	if err != nil {
		return nil, err
	}
	repository.TempFolder = beginFolder
	for _, o := range writes {
		if repository.Reads(o.path) {
			return nil, fmt.Errorf("%s would replace a file of the results, which is read; give the result a file of its own", o.option)
		}
	}
	return repository, nil
}

// maxSummary is how large a step summary may be, in bytes: GitHub drops one of
// more than 1 MiB whole.
const maxSummary = 1<<20 - 1

// cutSummary cuts a page in Markdown behind a line, so that it ends with a line
// that says so, within so many bytes.
func cutSummary(page []byte, room int) []byte {
	if len(page) <= room {
		return page
	}
	const says = "\n\nCut here: a step summary holds at most 1 MiB. --write markdown=FILE writes all of it.\n"
	const folded = "</details>"
	kept := page[:max(0, room-len(says)-len(folded)-1)]
	kept = kept[:bytes.LastIndexByte(kept, '\n')+1]
	end := says
	if bytes.Count(kept, []byte("<details>")) > bytes.Count(kept, []byte(folded)) {
		end = "\n" + folded + says
	}
	return append(bytes.Clone(kept), end...)
}

// tellActions marks the runs files and appends to the step summary.
func tellActions(stderr io.Writer, gate report.GatePage) error {
	if err := report.Annotations(stderr, gate); err != nil {
		return err
	}
	page, err := render(func(w io.Writer) error { return doc.Markdown(w, report.GateDocument(gate, report.Origin{})) })
	if err != nil {
		return err
	}
	return tellSummary(page)
}

// tellSummary appends a page to the step summary, where there is one.
func tellSummary(page []byte) error {
	path := os.Getenv("GITHUB_STEP_SUMMARY")
	if path == "" {
		return nil
	}
	used := int64(0)
	if info, err := os.Stat(path); err == nil {
		used = info.Size()
	}
	if err := appendTo(path, cutSummary(page, maxSummary-int(min(used, maxSummary)))); err != nil {
		return fmt.Errorf("cannot write the step summary: %w", err)
	}
	return nil
}
