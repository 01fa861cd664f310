package main

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/cpuguy83/go-md2man/v2/md2man"
	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
)

// manPage is the page of the whole program, tunegate(1), as roff.
func manPage(app *cli.App, b report.Build) string {
	var m strings.Builder
	m.WriteString(manTitle(app.Name, "1", b))
	fmt.Fprintf(&m, "# NAME\n\n%s - %s\n\n", app.Name, markdownEscape(app.Usage))
	fmt.Fprintf(&m, "# SYNOPSIS\n\n**%s** COMMAND [FILES] [OPTIONS]\n\n", app.Name)
	m.WriteString("# DESCRIPTION\n\n" + manDescription(app.Description))
	m.WriteString("# COMMANDS\n\n")
	for _, c := range app.VisibleCommands() {
		fmt.Fprintf(&m, "### %s\n\n%s\n\n", c.Name, markdownEscape(sentence(c.Usage)))
		for _, way := range strings.Split(c.ArgsUsage, "  |  ") {
			fmt.Fprintf(&m, "**%s %s** %s\n\n", app.Name, c.Name, markdownEscape(way))
		}
		m.WriteString(manDescription(c.Description))
		for _, f := range c.VisibleFlags() {
			row := optionRow(f)
			fmt.Fprintf(&m, "**%s**\n: %s\n\n", markdownEscape(row[0]), markdownEscape(row[1]))
		}
	}
	m.WriteString("# TOPICS\n\n")
	for _, name := range topics() {
		fmt.Fprintf(&m, "**%s-%s**(7)\n: %s\n\n", app.Name, name, markdownEscape(topicTitle(name)))
	}
	return string(md2man.Render([]byte(m.String())))
}

// manTopic is a topic as a page, tunegate-TOPIC(7), as roff.
func manTopic(program, topic string, b report.Build) (string, error) {
	source, err := topicFiles.ReadFile("help/" + topic + ".md")
	if err != nil {
		return "", err
	}
	text := string(source)
	title, rest, _ := strings.Cut(text, "\n")
	name := fmt.Sprintf("# NAME\n\n%s-%s - %s\n\n# DESCRIPTION\n", program, topic, markdownEscape(strings.TrimPrefix(title, "# ")))
	rest = picture.ReplaceAllString(rest, "")
	rest = tables.ReplaceAllStringFunc(rest, manTable)
	rest = reference.ReplaceAllStringFunc(rest, plainReference)
	more := options(topic) + "\n# SEE ALSO\n\n**" + program + "**(1)\n"
	return string(md2man.Render([]byte(manTitle(program+"-"+topic, "7", b) + name + rest + more))), nil
}

var (
	picture = regexp.MustCompile(`(?m)^!\[.*$`)      // of a topic
	tables  = regexp.MustCompile(`(?m)(?:^\|.*\n)+`) // of a topic
)

// manWidth is how wide a table of a page may be: what man leaves of 80 columns.
const manWidth = 70

// manTable lays a table out as help does, since man's own tables grow wider than
// the screen.
func manTable(markdown string) string {
	p := &topicPrinter{width: manWidth, bold: func(s string) string { return s }}
	p.table(strings.Split(strings.TrimSpace(markdown), "\n"))
	return "```\n" + strings.Join(p.out, "\n") + "\n```\n"
}

// topicTitle is the heading of a topic.
func topicTitle(name string) string {
	source, err := topicFiles.ReadFile("help/" + name + ".md")
	if err != nil {
		return ""
	}
	title, _, _ := strings.Cut(string(source), "\n")
	return strings.TrimPrefix(title, "# ")
}

// manTitle is the title block of a page. The date is the commit's, so that a build
// can be repeated.
func manTitle(name, section string, b report.Build) string {
	date, _, _ := strings.Cut(b.Time, "T")
	return fmt.Sprintf("%% %q %q %q %q %q\n\n", strings.ToUpper(name), section, date, "tunegate "+b.Version, "tunegate")
}

// manDescription is a description of a command as Markdown: its indented lines
// become code.
func manDescription(text string) string {
	var m strings.Builder
	code := false
	for l := range strings.Lines(strings.TrimSpace(text) + "\n") {
		indented := strings.HasPrefix(l, " ")
		if indented != code {
			m.WriteString("\n")
			code = indented
		}
		if indented {
			m.WriteString("    " + strings.TrimLeft(l, " "))
		} else {
			m.WriteString(markdownEscape(l))
		}
	}
	return m.String() + "\n"
}

// markdownEscape keeps a text from being taken for Markdown.
var markdownEscape = strings.NewReplacer("\\", "\\\\", "*", "\\*", "_", "\\_", "`", "\\`", "[", "\\[", "]", "\\]", "<", "\\<", "#", "\\#").Replace
