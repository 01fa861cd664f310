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
	return []cli.Flag{
		&cli.BoolFlag{Name: "plain", Usage: "no colour, and no characters beyond ASCII", DisableDefaultText: true},
		&cli.StringFlag{Name: "color", Value: "auto", Usage: "`WHEN`: auto, always or never; auto is colour on a terminal without NO_COLOR"},
		&cli.IntFlag{Name: "width", DefaultText: "the terminal's, else 80", Usage: "`COLUMNS` to use"},
		&cli.BoolFlag{Name: "json", Usage: "print JSON instead of tables", DisableDefaultText: true},
	}
}

// detailFlag is the option of commands that can print more than they do.
func detailFlag(more string) []cli.Flag {
	return []cli.Flag{&cli.BoolFlag{Name: "detail", Usage: "also print " + more, DisableDefaultText: true}}
}

const testsInDetail = "tests, p values and blind spots"

// textOptions reads screenFlags and detailFlag for a screen.
func textOptions(c *cli.Context, stdout io.Writer) (doc.TextOptions, error) {
	opt := doc.TextOptions{Width: 80, Detail: c.Bool("detail"), Plain: c.Bool("plain")}
	terminal := false
	if f, ok := stdout.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		terminal = true
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			opt.Width = w
		}
	} else if w, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && w > 0 {
		opt.Width = w
	}
	if c.IsSet("width") {
		if opt.Width = c.Int("width"); opt.Width < 40 || opt.Width > 1000 {
			return opt, fmt.Errorf("--width %d; expected 40 to 1000 columns", opt.Width)
		}
	}
	switch c.String("color") {
	case "auto":
		opt.Color = terminal && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
	case "always":
		opt.Color = true
	case "never":
	default:
		return opt, fmt.Errorf("--color %q; expected auto, always or never", c.String("color"))
	}
	opt.Color = opt.Color && !opt.Plain
	return opt, nil
}
