package main

import (
	"fmt"
	"io"
	"os"
	"strconv"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"tunegate/compare/report/doc"
)

// screenFlags are the options of every command that prints tables.
func screenFlags() []cli.Flag {
	return under(groupShow,
		&cli.BoolFlag{Name: "plain", Usage: "no colour, and no characters beyond ASCII", DisableDefaultText: true},
		&cli.StringFlag{Name: "color", Value: "auto", Usage: "`WHEN` to colour: auto (on a terminal, as the environment wants it), always or never"},
		&cli.IntFlag{Name: "width", DefaultText: "the terminal's, else 80", Usage: "`COLUMNS` to use"},
		&cli.BoolFlag{Name: "json", Usage: "print JSON instead of tables", DisableDefaultText: true},
	)
}

// detailFlag is the option of commands that can print more than they do.
func detailFlag(more string) []cli.Flag {
	return under(groupShow, &cli.BoolFlag{Name: "detail", Usage: "also print " + more, DisableDefaultText: true})
}

const testsInDetail = "tests, p values and blind spots"

// narrowest and widest are the least and the most columns of a screen.
const narrowest, widest = 40, 1000

// screenWidth is the number of columns of the terminal that stdout is, else of
// COLUMNS, else 80; and whether it is a terminal.
func screenWidth(stdout io.Writer) (width int, terminal bool) {
	if f, ok := stdout.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			return w, true
		}
		return 80, true
	}
	if w, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && w > 0 {
		return w, false
	}
	return 80, false
}

// textOptions reads screenFlags and detailFlag for a screen.
func textOptions(c *cli.Context, stdout io.Writer) (doc.TextOptions, error) {
	width, terminal := screenWidth(stdout)
	opt := doc.TextOptions{Width: width, Detail: c.Bool("detail"), Plain: c.Bool("plain") || !readsUnicode(stdout)}
	if c.IsSet("width") {
		if opt.Width = c.Int("width"); opt.Width < narrowest || opt.Width > widest {
			return opt, fmt.Errorf("--width %d; expected 40 to 1000 columns", opt.Width)
		}
	}
	switch c.String("color") {
	case "auto":
		opt.Color = wantsColor(terminal, os.Getenv)
	case "always":
		opt.Color = true
	case "never":
	default:
		return opt, fmt.Errorf("--color %q; expected auto, always or never", c.String("color"))
	}
	opt.Color = opt.Color && !c.Bool("plain")
	return opt, nil
}

// wantsColor reports whether the environment wants colour where no option says so.
// NO_COLOR (no-color.org) outranks CLICOLOR_FORCE, that outranks CLICOLOR
// (bixense.com/clicolors), and a terminal called dumb shows none.
func wantsColor(terminal bool, getenv func(string) string) bool {
	switch force := getenv("CLICOLOR_FORCE"); {
	case getenv("NO_COLOR") != "":
		return false
	case force != "" && force != "0":
		return true
	}
	return terminal && getenv("CLICOLOR") != "0" && getenv("TERM") != "dumb"
}
