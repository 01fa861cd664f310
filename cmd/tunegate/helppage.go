package main

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/urfave/cli/v2"
)

// This is the page that --help prints. The library keeps the texts of commands
// and options; order, headings and line breaks are decided here.

// The headings under which commands group their options, in the order of the
// page.
const (
	groupWhat  = "What to read"
	groupPlan  = "What to plan"
	groupRuns  = "Where runs begin and end"
	groupLog   = "How to read the log"
	groupWork  = "What to work out"
	groupNames = "What the runs are called"
	groupJudge = "How to judge"
	groupShow  = "What to show"
	groupFiles = "Files to write"
	groupHelp  = "Help"
)

// under puts options under a heading of the help page.
func under(heading string, options ...cli.Flag) []cli.Flag {
	for _, f := range options {
		switch f := f.(type) {
		case *cli.StringFlag:
			f.Category = heading
		case *cli.StringSliceFlag:
			f.Category = heading
		case *cli.BoolFlag:
			f.Category = heading
		case *cli.IntFlag:
			f.Category = heading
		case *cli.Uint64Flag:
			f.Category = heading
		case *cli.Float64Flag:
			f.Category = heading
		default:
			panic(fmt.Sprintf("option %s is of a kind that has no heading", f.Names()[0]))
		}
	}
	return options
}

// helpPage is a page in the making; lines are at most width columns wide where
// their words allow it.
type helpPage struct {
	strings.Builder
	width int
}

// helpText is the help of the program (*cli.App) or of one of its commands
// (*cli.Command).
func helpText(app *cli.App, of any, width int) string {
	p := &helpPage{width: width}
	if c, ok := of.(*cli.Command); ok {
		p.command(app.Name, c)
	} else {
		p.program(app)
	}
	return p.String()
}

// helpWidth is the width of a help page: what --width says among the arguments,
// else the screen's. A width that no screen takes counts as not given.
func helpWidth(arguments []string, screen int) int {
	for i, a := range arguments {
		name, value, joined := strings.Cut(strings.TrimLeft(a, "-"), "=")
		if !strings.HasPrefix(a, "-") || name != "width" {
			continue
		}
		if !joined && i+1 < len(arguments) {
			value = arguments[i+1]
		}
		if n, err := strconv.Atoi(value); err == nil && n >= narrowest && n <= widest {
			return n
		}
	}
	return max(screen, narrowest)
}

func (p *helpPage) program(app *cli.App) {
	p.wrap("", "", sentence(app.Name+" decides"+strings.TrimPrefix(app.Usage, "decide")))
	p.heading("How to call it")
	p.typed(app.Name + " COMMAND [FILES] [OPTIONS]")
	p.typed(app.Name + " COMMAND --help")
	p.described(app.Description, func() {
		p.heading("Commands")
		var rows [][2]string
		for _, c := range app.VisibleCommands() {
			rows = append(rows, [2]string{c.Name, c.Usage})
		}
		p.rows(rows)
		p.options(app.VisibleFlags())
	})
}

func (p *helpPage) command(program string, c *cli.Command) {
	p.wrap("", "", sentence(c.Usage))
	p.heading("How to call it")
	options := c.VisibleFlags()
	for _, way := range strings.Split(c.ArgsUsage, "  |  ") {
		call := program + " " + c.Name + " " + way
		if slices.ContainsFunc(options, func(f cli.Flag) bool { return headingOf(f) != groupHelp }) {
			call += " [OPTIONS]"
		}
		p.wrap("  ", "      ", call)
	}
	p.described(c.Description, func() { p.options(options) })
}

// described prints a description, and between its explanation and its examples
// what is listed.
func (p *helpPage) described(text string, list func()) {
	after := ""
	if at := sections.FindStringIndex(text); at != nil {
		text, after = text[:at[0]], text[at[0]:]
	}
	if text = strings.TrimSpace(text); text != "" {
		p.WriteByte('\n')
		p.description(text)
	}
	list()
	if after != "" {
		p.WriteByte('\n')
		p.description(after)
	}
}

// sections matches where the examples of a description begin, which stand behind
// the options.
var sections = regexp.MustCompile(`(?m)^Examples?:$`)

// description prints paragraphs. Indented lines at the end of one are typed and
// keep their breaks. Exit statuses become a list.
func (p *helpPage) description(text string) {
	for i, paragraph := range strings.Split(strings.TrimSpace(text), "\n\n") {
		if i > 0 {
			p.WriteByte('\n')
		}
		if statuses, ok := strings.CutPrefix(paragraph, "Exit status: "); ok {
			p.statuses(strings.Join(strings.Fields(statuses), " "))
			continue
		}
		lines := strings.Split(paragraph, "\n")
		n := 0
		for n < len(lines) && !strings.HasPrefix(lines[n], " ") {
			n++
		}
		if n > 0 {
			p.wrap("", "", strings.Join(lines[:n], " "))
		}
		for _, l := range lines[n:] {
			p.typed(strings.TrimSpace(l))
		}
	}
}

// nextStatus matches the separator before each exit status but the first.
var nextStatus = regexp.MustCompile(`; ([0-9]) `)

func (p *helpPage) statuses(text string) {
	p.wrap("", "", "Exit statuses:")
	for _, s := range strings.Split(nextStatus.ReplaceAllString(strings.TrimSuffix(text, "."), "\n$1 "), "\n") {
		number, meaning, _ := strings.Cut(s, " ")
		p.wrap("  "+number+"  ", "     ", meaning)
	}
}

// options prints the options, heading by heading.
func (p *helpPage) options(all []cli.Flag) {
	groups := map[string][][2]string{}
	for _, f := range all {
		groups[headingOf(f)] = append(groups[headingOf(f)], optionRow(f))
	}
	for _, h := range []string{groupWhat, groupPlan, groupRuns, groupLog, groupWork, groupNames, groupJudge, groupShow, groupFiles,
		groupHelp} {
		if len(groups[h]) > 0 {
			p.heading(h)
			p.rows(groups[h])
		}
	}
}

// headingOf is the heading under which an option stands.
func headingOf(f cli.Flag) string {
	if c, ok := f.(cli.CategorizableFlag); ok {
		return cmp.Or(c.GetCategory(), groupHelp)
	}
	return groupHelp
}

// placeholder matches the word of an option's text that stands for its value.
var placeholder = regexp.MustCompile("`([^`]*)`")

// optionRow is how an option is typed, and what it does, with its default.
func optionRow(f cli.Flag) [2]string {
	option, ok := f.(cli.DocGenerationFlag)
	if !ok {
		return [2]string{"--" + f.Names()[0], ""}
	}
	var names []string
	for _, n := range f.Names() {
		dashes := "--"
		if utf8.RuneCountInString(n) == 1 {
			dashes = "-"
		}
		names = append(names, dashes+n)
	}
	typed, usage := strings.Join(names, ", "), option.GetUsage()
	if m := placeholder.FindStringSubmatch(usage); m != nil && option.TakesValue() {
		typed += " " + m[1]
	}
	usage = placeholder.ReplaceAllString(usage, "$1")
	if d := strings.Trim(option.GetDefaultText(), `"`); option.TakesValue() && d != "" && d != "0" {
		usage += " (default: " + d + ")"
	}
	return [2]string{typed, usage}
}

// besideFrom is the width from which texts stand beside what they explain;
// narrower pages have them below.
const besideFrom = 72

// rows prints terms and what they mean.
func (p *helpPage) rows(rows [][2]string) {
	const indent, gap, longest = 2, 2, 25
	column := 0
	for _, r := range rows {
		if n := columns(r[0]); n <= longest {
			column = max(column, n)
		}
	}
	if column == 0 {
		column = longest
	}
	column += indent + gap
	if p.width < besideFrom && column > 16 {
		column = 6
	}
	next := strings.Repeat(" ", column)
	for _, r := range rows {
		first := strings.Repeat(" ", indent) + r[0]
		if space := column - columns(first); space >= gap {
			first += strings.Repeat(" ", space)
		} else {
			p.WriteString(first + "\n")
			first = next
		}
		p.wrap(first, next, r[1])
	}
}

func (p *helpPage) heading(text string) { p.WriteString("\n" + text + ":\n") }

// typed prints what is typed as it is, in one line.
func (p *helpPage) typed(line string) { p.WriteString("  " + line + "\n") }

// shortQuotation matches a short quotation, which stays in one line.
var shortQuotation = regexp.MustCompile(`"[^"]{1,30}"`)

// wrap prints running text behind first; further lines begin with next. Numbers
// stay with their per cent sign.
func (p *helpPage) wrap(first, next, text string) {
	const noBreak = "\uE000"
	text = strings.ReplaceAll(text, " %", noBreak+"%")
	text = shortQuotation.ReplaceAllStringFunc(text, func(q string) string { return strings.ReplaceAll(q, " ", noBreak) })
	line := first
	for i, word := range strings.Fields(text) {
		switch {
		case i == 0:
			line += word
		case columns(line)+1+columns(word) <= p.width:
			line += " " + word
		default:
			p.WriteString(strings.ReplaceAll(line, noBreak, " ") + "\n")
			line = next + word
		}
	}
	p.WriteString(strings.ReplaceAll(line, noBreak, " ") + "\n")
}

// sentence is a text with a capital and a full stop.
func sentence(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:] + "."
}
