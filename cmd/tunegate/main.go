// Tunegate decides from repeated benchmark runs whether a tuning change really
// changed a machine, and stops a merge that makes it worse.
package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/english"
	"tunegate/compare/intake"
	"tunegate/compare/report"
)

func main() {
	interrupted := make(chan os.Signal, 1)
	signal.Notify(interrupted, os.Interrupt)
	go func() {
		<-interrupted
		message := "tunegate: interrupted, nothing was written"
		if abandonFiles() {
			message = "tunegate: interrupted"
		}
		fmt.Fprintln(os.Stderr, message)
		os.Exit(exitInput)
	}()
	collectLater()
	os.Exit(run(os.Args, os.Stdin, os.Stdout, os.Stderr))
}

// collectLater lets the heap grow to some 32 MB before garbage is collected for
// the first time: most calls end before that, and collecting took a sixth of
// their processor time. From then on all is as usual.
func collectLater() {
	if os.Getenv("GOGC") != "" || os.Getenv("GOMEMLIMIT") != "" {
		return // somebody chose
	}
	usual := debug.SetGCPercent(800)
	runtime.AddCleanup(new([64]byte), func(percent int) { debug.SetGCPercent(percent) }, usual)
}

// run is the whole program with its surroundings as arguments.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	app := newApp(stdin, stdout, stderr)
	app.Metadata = map[string]any{"arguments": args[1:]}
	err := app.Run(optionsFirst(app, args))
	if err == nil {
		return 0
	}
	if msg := messageOf(err); msg != "" {
		if inActions() {
			msg = report.WithoutCommands(msg)
		}
		fmt.Fprintln(stderr, readable(stderr, msg))
	}
	return statusOf(err)
}

// messageOf is what an error says: several faults of a file one below the other.
func messageOf(err error) string {
	var faults *intake.FaultList
	if !errors.As(err, &faults) {
		if err.Error() == "" {
			return ""
		}
		return "tunegate: " + printable(withRemedy(err).Error())
	}
	head := fmt.Sprintf("tunegate: %s, nothing was judged:", english.Count(len(faults.Faults), "fault"))
	if faults.More {
		head = fmt.Sprintf("tunegate: the first %s, nothing was judged:", english.Count(len(faults.Faults), "fault"))
	}
	lines := []string{head}
	for _, fault := range faults.Faults {
		lines = append(lines, "  "+printable(withRemedy(fault).Error()))
	}
	return strings.Join(lines, "\n")
}

func newApp(stdin io.Reader, stdout, stderr io.Writer) *cli.App {
	cli.VersionPrinter = func(c *cli.Context) { fmt.Fprintln(c.App.Writer, "tunegate "+c.App.Version) }
	app := &cli.App{
		Name:  "tunegate",
		Usage: "decide from repeated benchmark runs whether a tuning change is real",
		Description: `It takes the runs of two profiles of a machine and says which differences are
real, which are run-to-run noise, what could still hide, and how many runs would
settle it. "tunegate help" lists the commands by the question they answer.

Examples:
   tunegate compare factory.csv boost-lift.csv
   tunegate help files

Exit status: 0 done, nothing speaks against it; 1 something was judged and does
not hold: a regression, a failed gate, a wrong claim; 2 bad input or usage,
nothing was judged; 3 judged, but it takes more runs to settle it.`,
		Version:                   cmp.Or(thisBuild().Version, "(unversioned build)"),
		Reader:                    stdin,
		Writer:                    stdout,
		ErrWriter:                 stderr,
		HideHelpCommand:           true,
		DisableSliceFlagSeparator: true,
		Suggest:                   true,
		ExitErrHandler:            func(*cli.Context, error) {}, // run sets the status
		OnUsageError:              usageError,
		Action:                    noCommand,
		Flags:                     []cli.Flag{cli.HelpFlag}, // not added by the library where there is a command help
		Commands: withHelp(compareCommand(), ladderCommand(), claimsCommand(), gateCommand(), commentCommand(), historyCommand(), reportCommand(),
			rerunsCommand(), sheetCommand(), queryCommand(), readingsCommand(), showCommand(), doubtsCommand(), passesCommand(), policyCommand(),
			initCommand(), completionCommand(), versionCommand(), candidatesCommand()),
	}
	cli.HelpPrinter = func(w io.Writer, _ string, of any) {
		arguments, _ := app.Metadata["arguments"].([]string)
		width, _ := screenWidth(stdout)
		fmt.Fprint(w, readable(stdout, helpText(app, of, helpWidth(arguments, width))))
	}
	return app
}

// usageError words a wrong option.
func usageError(c *cli.Context, err error, _ bool) error {
	name := "tunegate"
	if c.Command != nil && c.Command.Name != "" && c.Command.Name != c.App.Name {
		name += " " + c.Command.Name
	}
	msg := err.Error()
	if option, unknown := strings.CutPrefix(msg, "flag provided but not defined: "); unknown {
		msg = "there is no option -" + option
	}
	return &exitError{exitInput, fmt.Sprintf("%s; see %s --help", msg, name)}
}

func noCommand(c *cli.Context) error {
	if c.Args().Present() {
		names := ""
		for _, cmd := range c.App.VisibleCommands() {
			names += " " + cmd.Name
		}
		return &exitError{exitInput, fmt.Sprintf("unknown command %q; commands:%s", c.Args().First(), names)}
	}
	return cli.ShowAppHelp(c)
}
