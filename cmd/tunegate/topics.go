package main

import (
	"embed"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/urfave/cli/v2"

	"tunegate/compare/report/doc"
)

// topicFiles are the long texts, one Markdown file a topic.
//
//go:embed help/*.md
var topicFiles embed.FS

// guide maps a question to the command that answers it and the topic that
// explains it; either may be empty. README.md has the same table.
var guide = []struct{ question, command, topic string }{
	{"did this profile change anything, and does the suite gain", "compare", "verdicts"},
	{"in which form do my numbers have to be, and how are they read", "show", "files"},
	{"how do I state tolerances, roles and weights", "policy", "policy"},
	{"what does each step of a chain of profiles bring and cost", "ladder", "ladder"},
	{"may I publish this sentence", "claims", "claims"},
	{"may this change be merged, or does it make a profile worse", "gate", "gate"},
	{"how do I start a repository of profiles and runs", "init", "ci"},
	{"how does CI judge every request, and say so on it", "comment", "ci"},
	{"did a profile get worse over the months", "history", "history"},
	{"can these runs be trusted", "doubts", "doubts"},
	{"how often do I have to run this", "reruns", "planning"},
	{"in which order do I run it", "sheet", "planning"},
	{"what do clean stability passes prove", "passes", "stability"},
	{"how do I get power, heat and clocks from a monitoring log", "readings", "logs"},
	{"my runs lie in a database or in Parquet, and are many", "query", "fleet"},
	{"how do I show the result to others", "report", "report"},
	{"how do I use it in a script: JSON, files, exit statuses", "", "json"},
	{"how do I get completion in my shell", "completion", "json"},
	{"which version is this, and from where", "version", "json"},
	{"how does it decide", "", "statistics"},
	{"how often is it right", "", "study"},
}

// withHelp adds the command help to the others, and to the help of each the line
// that names its topic.
func withHelp(commands ...*cli.Command) []*cli.Command {
	for _, c := range commands {
		for _, g := range guide {
			if g.command == c.Name {
				c.Description += "\n\nMore: tunegate help " + g.topic
			}
		}
	}
	return append(commands, helpCommand())
}

func helpCommand() *cli.Command {
	return &cli.Command{
		Name:      "help",
		Usage:     "list commands and topics by the question they answer, or print one",
		ArgsUsage: "[TOPIC | COMMAND]",
		Description: `Without a name it lists commands and topics. A topic is a longer text with
examples. The name of a command prints the command's --help; where a topic has
the same name, the topic is printed.

Examples:
   tunegate help
   tunegate help files
   tunegate help gate --width 100
   tunegate help gate --man | man -l -

Exit status: 0 printed; 2 unknown name or bad usage.`,
		Flags: append(screenFlags()[:3:3],
			under(groupShow, &cli.BoolFlag{Name: "man", Usage: "print a man page: of a topic, or of the program", DisableDefaultText: true})...),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runHelp,
	}
}

func runHelp(c *cli.Context) error {
	opt, err := textOptions(c, c.App.Writer)
	if err != nil {
		return err
	}
	name, names := c.Args().First(), topics()
	switch {
	case c.NArg() > 1:
		return fmt.Errorf("expected one topic or command, found %d arguments", c.NArg())
	case c.Bool("man"):
		return printManPage(c, name)
	case c.NArg() == 0:
		return printTopic(c.App.Writer, overview(), opt)
	case slices.Contains(names, name):
		source, err := topicFiles.ReadFile("help/" + name + ".md")
		if err != nil {
			return err
		}
		return printTopic(c.App.Writer, string(source)+options(name), opt)
	case c.App.Command(name) != nil:
		return cli.ShowCommandHelp(c, name)
	}
	return fmt.Errorf("no topic or command %q; topics: %s; commands: %s",
		name, strings.Join(names, ", "), strings.Join(commandNames(c.App), ", "))
}

// printManPage prints the man page of a topic, or of the program where the name is
// empty.
func printManPage(c *cli.Context, topic string) error {
	page, err := manPage(c.App, thisBuild()), error(nil)
	switch {
	case slices.Contains(topics(), topic):
		page, err = manTopic(c.App.Name, topic, thisBuild())
	case topic != "":
		err = fmt.Errorf("no topic %q; the man page without a name has all commands; topics: %s", topic, strings.Join(topics(), ", "))
	}
	if err != nil {
		return err
	}
	_, err = io.WriteString(c.App.Writer, page)
	return err
}

// options is a line at the end of a topic that names where to find the options
// of the commands that it explains.
func options(topic string) string {
	var calls []string
	for _, g := range guide {
		if g.topic == topic && g.command != "" {
			calls = append(calls, "`tunegate "+g.command+" --help`")
		}
	}
	if len(calls) == 0 {
		return ""
	}
	return "\nOptions and examples: " + strings.Join(calls, ", ") + "\n"
}

// topics are the names of all topics, in the order of the guide.
func topics() []string {
	var names []string
	for _, g := range guide {
		if !slices.Contains(names, g.topic) {
			names = append(names, g.topic)
		}
	}
	return names
}

func commandNames(app *cli.App) []string {
	var names []string
	for _, c := range app.VisibleCommands() {
		names = append(names, c.Name)
	}
	return names
}

// overview is the guide as Markdown.
func overview() string {
	var b strings.Builder
	b.WriteString("tunegate decides from repeated benchmark runs whether a tuning change is real.\n\n")
	b.WriteString("| you want to know | command | topic |\n|---|---|---|\n")
	for _, g := range guide {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", g.question, g.command, g.topic)
	}
	b.WriteString("\nOptions and examples of a command: `tunegate COMMAND --help`. A topic: `tunegate help TOPIC`.\n")
	return b.String()
}

// printTopic prints the Markdown that topics use: headings, paragraphs, lists,
// code blocks and tables. Text is wrapped to the width, tables are laid out for
// it, code blocks stay as they are. Pictures are left out.
func printTopic(w io.Writer, source string, opt doc.TextOptions) error {
	p := &topicPrinter{width: opt.Width, bold: func(s string) string { return s }}
	if opt.Color {
		p.bold = func(s string) string { return text.Escape(s, text.Bold.EscapeSeq()) }
	}
	if opt.Plain {
		source = topicASCII.Replace(source)
	}
	lines := strings.Split(strings.TrimRight(source, "\n"), "\n")
	for len(lines) > 0 {
		lines = p.block(lines)
	}
	_, err := io.WriteString(w, strings.Join(p.out, "\n")+"\n")
	return err
}

// topicASCII writes the characters of the topics as --plain output has them.
var topicASCII = strings.NewReplacer(
	"▲ ", "  ", "▼ ", "  ", "△ ", "  ", "▽ ", "  ", "◇ ", "  ", "✔ ", "  ", "✘ ", "  ", // before a word that says the same
	"▲", "^", "▼", "v", "△", "^", "▽", "v", "◇", "~", "✔", "+", "✘", "x", "→", "->",
	"×", "x", "°", "deg", "–", "-",
	"·", ".", "│", "|", "━", "=", "╌", "-", "┣", "[", "┫", "]", "╋", "+", "◆", "#", "◀", "<", "▶", ">")

type topicPrinter struct {
	out   []string
	width int
	bold  func(string) string
}

var (
	listItem  = regexp.MustCompile(`^(- |\d+\. )`)
	codeSpan  = regexp.MustCompile("`[^`]+`")
	reference = regexp.MustCompile(`\[([^\]]+)\]\(([^)]+)\)`)
)

// plainReference writes a link of a topic without marks: its text, and behind it
// where it leads, as a path from the top of the sources; a text that is part of
// the path is not repeated.
func plainReference(link string) string {
	parts := reference.FindStringSubmatch(link)
	words, target := parts[1], strings.ReplaceAll(parts[2], "../", "")
	if strings.Contains(target, "/"+words) || strings.HasPrefix(target, words+"/") {
		return target
	}
	return fmt.Sprintf("%s (%s)", words, target)
}

// block prints the block at the start of some lines and returns what follows it.
func (p *topicPrinter) block(lines []string) []string {
	first := lines[0]
	n := 1
	for n < len(lines) && lines[n] != "" {
		n++
	}
	switch {
	case first == "":
		return lines[1:]
	case strings.HasPrefix(first, "```"):
		end := 1 + slices.Index(lines[1:], "```")
		p.add(lines[1:end]...)
		return lines[end+1:]
	case strings.HasPrefix(first, "    "):
		p.add(lines[:n]...)
	case strings.HasPrefix(first, "#"):
		p.heading(first)
		return lines[1:]
	case strings.HasPrefix(first, "|"):
		p.table(lines[:n])
	case strings.HasPrefix(first, "!["):
	case listItem.MatchString(first):
		p.list(lines[:n])
	default:
		p.add(wrapInline(strings.Join(lines[:n], " "), p.width)...)
	}
	return lines[n:]
}

// add prints lines, an empty one before them.
func (p *topicPrinter) add(lines ...string) {
	if len(p.out) > 0 {
		p.out = append(p.out, "")
	}
	p.out = append(p.out, lines...)
}

func (p *topicPrinter) heading(s string) {
	title := strings.TrimLeft(s, "#")
	rule := "="
	if len(s)-len(title) > 1 {
		rule = "-"
	}
	var lines []string
	widest := 0
	for _, l := range wrapInline(strings.TrimSpace(title), p.width) {
		lines = append(lines, p.bold(l))
		widest = max(widest, columns(l))
	}
	p.add(append(lines, strings.Repeat(rule, widest))...)
}

// list prints items; a line that begins none goes on with the item before it.
func (p *topicPrinter) list(lines []string) {
	var items, out []string
	for _, l := range lines {
		if listItem.MatchString(l) {
			items = append(items, l)
			continue
		}
		items[len(items)-1] += " " + strings.TrimSpace(l)
	}
	for _, item := range items {
		sign := listItem.FindString(item)
		indent := strings.Repeat(" ", len(sign))
		for i, l := range wrapInline(item[len(sign):], p.width-len(sign)) {
			if i == 0 {
				out = append(out, sign+l)
			} else {
				out = append(out, indent+l)
			}
		}
	}
	p.add(out...)
}

const columnGap = "  "

// table prints a table, its cells wrapped so that it fits the width.
func (p *topicPrinter) table(lines []string) {
	var rows [][]string
	for _, l := range lines {
		if strings.HasPrefix(l, "|---") {
			continue
		}
		rows = append(rows, tableCells(l))
	}
	widths := tableWidths(rows, p.width)
	var out []string
	for i, cells := range rows {
		row := tableRow(cells, widths)
		if i > 0 {
			out = append(out, row...)
			continue
		}
		for _, l := range row {
			out = append(out, p.bold(l))
		}
		var rules []string
		for _, w := range widths {
			rules = append(rules, strings.Repeat("-", w))
		}
		out = append(out, strings.Join(rules, columnGap))
	}
	p.add(out...)
}

// tableCells are the cells of a row; there is no room for where links lead.
func tableCells(line string) []string {
	const escaped = "\x00"
	line = strings.ReplaceAll(line, `\|`, escaped)
	line = strings.TrimSuffix(strings.TrimPrefix(line, "|"), "|")
	cells := strings.Split(line, "|")
	for i, c := range cells {
		cells[i] = strings.ReplaceAll(reference.ReplaceAllString(strings.TrimSpace(c), "$1"), escaped, "|")
	}
	return cells
}

// tableRow lays the cells of a row side by side, each wrapped to its column.
func tableRow(cells []string, widths []int) []string {
	var out []string
	for i := range widths {
		if i >= len(cells) {
			break
		}
		left := columnGap
		if i == 0 {
			left = ""
		}
		before := 0
		for _, w := range widths[:i] {
			before += w + len(columnGap)
		}
		for n, l := range wrapInline(cells[i], widths[i]) {
			if n == len(out) {
				out = append(out, "")
			}
			pad := max(0, before-len(left)-columns(out[n]))
			out[n] += strings.Repeat(" ", pad) + left + l
		}
	}
	for i, l := range out {
		out[i] = strings.TrimRight(l, " ")
	}
	return out
}

// tableWidths gives every column what its widest cell needs; where that does not
// fit, the widest columns get narrower, none below its longest word.
func tableWidths(rows [][]string, width int) []int {
	var want, least []int
	for _, cells := range rows {
		for i, c := range cells {
			if i == len(want) {
				want, least = append(want, 0), append(least, 0)
			}
			want[i] = max(want[i], columns(strings.Join(wrapInline(c, 1<<20), "")))
			for _, word := range wrapInline(c, 1) {
				least[i] = max(least[i], columns(word))
			}
		}
	}
	room := width - len(columnGap)*(len(want)-1)
	for {
		sum, widest := 0, -1
		for i, w := range want {
			sum += w
			if w > least[i] && (widest < 0 || w > want[widest]) {
				widest = i
			}
		}
		if sum <= room || widest < 0 {
			return want
		}
		want[widest]--
	}
}

// wrapInline takes links and marks out of running text and breaks it into lines.
// Numbers stay with their per cent sign, and short code spans in one piece.
func wrapInline(s string, width int) []string {
	const noBreak = "\uE000"
	s = reference.ReplaceAllStringFunc(s, plainReference)
	s = strings.ReplaceAll(s, " %", noBreak+"%")
	var b strings.Builder
	for {
		at := codeSpan.FindStringIndex(s)
		if at == nil {
			break
		}
		b.WriteString(strings.ReplaceAll(s[:at[0]], "**", ""))
		code := s[at[0]+1 : at[1]-1]
		if columns(code) <= width/2 {
			code = strings.ReplaceAll(code, " ", noBreak)
		}
		b.WriteString(code)
		s = s[at[1]:]
	}
	b.WriteString(strings.ReplaceAll(s, "**", ""))
	lines := []string{""}
	for _, word := range strings.FieldsFunc(b.String(), unicode.IsSpace) {
		last := &lines[len(lines)-1]
		switch {
		case *last == "":
			*last = word
		case columns(*last)+1+columns(word) <= width:
			*last += " " + word
		default:
			lines = append(lines, word)
		}
	}
	for i := range lines {
		lines[i] = strings.ReplaceAll(lines[i], noBreak, " ")
	}
	return lines
}

func columns(s string) int { return text.StringWidthWithoutEscSequences(s) }
