package doc

import (
	"cmp"
	"fmt"
	"io"
	"strings"
)

// maxMarkdown is how many bytes a comment on a merge request takes.
const maxMarkdown = 60_000

// Markdown prints a document for a comment or a page of notes: the finding first,
// then the numbers, then everything else as points. Where a document has no
// heading, its finding or its title is the heading, and its basis follows.
func Markdown(w io.Writer, d Document) error {
	m := &markdown{}
	m.head(d)
	m.sections(d.Sections)
	for _, p := range d.Parts {
		m.line("")
		m.line("### %s", Escape(p.Heading.Text))
		m.line("")
		m.line("%s", Escape(p.Lead))
		m.points("", Lines(prefixed("warning: ", p.Warnings)))
		if len(p.Sections) == 0 {
			continue
		}
		m.line("")
		m.line("<details><summary>%s</summary>", html(p.Folded))
		m.sections(p.Sections)
		m.line("")
		m.line("</details>")
	}
	out, tail := m.b.String(), ""
	if d.Caution != "" {
		tail = "\n> " + Escape(d.Caution) + "\n"
	}
	if len(out) > maxMarkdown && !d.Whole {
		cut := strings.LastIndex(out[:maxMarkdown], "\n### ")
		if cut < 0 {
			cut = strings.LastIndex(out[:maxMarkdown], "\n")
		}
		out = out[:cut] + "\n\nThe rest is too long for this page; the text and JSON forms have all of it.\n"
	}
	_, err := io.WriteString(w, out+tail)
	return err
}

type markdown struct{ b strings.Builder }

// head is what a document begins with.
func (m *markdown) head(d Document) {
	heading, below := m.signed(d.Heading), []string{"", Escape(d.Subject)}
	if d.Closing.Text != "" {
		below[0] = "**" + Escape(d.Closing.Text) + "**"
	}
	if d.Heading.Text == "" {
		heading, below[0] = Escape(cmp.Or(d.Closing.Text, d.Page.Title)), Escape(d.Basis)
	}
	m.line("## %s", strings.TrimPrefix(heading, " "))
	for _, s := range below {
		if s != "" {
			m.line("")
			m.line("%s", s)
		}
	}
}

func (m *markdown) line(format string, args ...any) { fmt.Fprintf(&m.b, format+"\n", args...) }

func (m *markdown) signed(l Line) string {
	if sign := unicodeGlyphs.signs[l.Tone]; sign != "" {
		return Escape(sign) + " " + Escape(l.Text)
	}
	return Escape(l.Text)
}

func prefixed(prefix string, lines []string) []string {
	out := make([]string, len(lines))
	for i, l := range lines {
		out[i] = prefix + l
	}
	return out
}

// sections prints those that Markdown shows: what stands below the numbers without
// a heading is one list of points. What follows a heading, or assessments, has one,
// too, so that it is not taken for a part of them.
func (m *markdown) sections(all []Section) {
	headed := false
	for _, s := range of(all, Reasons, Numbers, NotSettled, Findings, Notes) {
		if s.Title != "" && (s.Kind == Numbers || s.Kind == Findings || headed) {
			headed = true
			m.line("")
			m.line("### %s", Escape(s.Title))
		}
		for _, b := range s.Blocks {
			m.block(b)
			_, assessed := b.(Assessment)
			headed = headed || assessed
		}
	}
}

func (m *markdown) block(b Block) {
	switch b := b.(type) {
	case Paragraph:
		m.line("")
		if b.Tone == Strong {
			m.line("**%s**", Escape(b.Text))
			return
		}
		m.line("%s", Escape(b.Text))
	case List:
		m.list(b)
	case Assessment:
		m.assessment(b)
	case Changes:
		m.changes(b)
	case Grid:
		m.grid(b)
	case Timeline:
		m.timeline(b)
	case Table:
		m.titled(b.Title)
		m.table(b.Head, b.Right, b.Rows)
	case Facts:
		for _, f := range b {
			m.line("- %s: %s", Escape(f.Term), Escape(f.Text))
		}
	}
}

func (m *markdown) list(l List) {
	l.Items = plain(l.Items)
	if !l.Numbered {
		m.points(l.Title, l.Items)
		return
	}
	m.line("")
	for i, item := range l.Items {
		if l.Max > 0 && i == l.Max {
			m.line("1. and %d more", len(l.Items)-i)
			break
		}
		m.line("1. **%s**: %s", Escape(item.Name), Escape(item.Text))
	}
}

// points prints a list; one that follows another without a title goes on with it.
func (m *markdown) points(title string, items []Item) {
	if len(items) == 0 {
		return
	}
	m.titled(title)
	if title != "" || !strings.HasPrefix(lastLine(m.b.String()), "- ") {
		m.line("")
	}
	for _, item := range items {
		m.line("- %s", m.signed(Line{item.text(), item.Tone}))
	}
}

func lastLine(s string) string {
	s = strings.TrimSuffix(s, "\n")
	return s[strings.LastIndex(s, "\n")+1:]
}

func (m *markdown) titled(title string) {
	if title != "" {
		m.line("")
		m.line("%s", Escape(title))
	}
}

func (m *markdown) changes(c Changes) {
	m.titled(c.Title)
	head, right := []string{c.Head, "verdict", "change", c.Interval, "before", "after", "compared"}, []int{3, 5, 6}
	if c.Relative {
		head, right = []string{c.Head, "verdict", "change", c.Interval, "compared"}, []int{3}
	}
	var rows [][]Cell
	for _, r := range c.Rows {
		change := r.Change
		if r.Measured != "" {
			change += ", " + r.Measured
		}
		cells := []Cell{{Line: Line{Text: r.Name}}, {Line: r.Verdict, Sign: r.Judged},
			{Line: Line{Text: change}}, {Line: Line{Text: r.interval()}}}
		if !c.Relative {
			cells = append(cells, Cell{Line: Line{Text: r.Before}}, Cell{Line: Line{Text: r.After}})
		}
		rows = append(rows, append(cells, Cell{Line: Line{Text: r.Compared}}))
	}
	m.table(head, right, rows)
}

func (m *markdown) grid(g Grid) {
	if len(g.Columns) == 0 {
		return
	}
	m.titled(g.Title)
	rows := make([][]Cell, len(g.Rows))
	for i, r := range g.Rows {
		rows[i] = append([]Cell{{Line: Line{Text: r.Name}}}, r.Cells...)
	}
	m.table(append([]string{g.Head}, g.Columns...), nil, rows)
}

// timeline prints the columns that hold something.
func (m *markdown) timeline(l Timeline) {
	m.titled(l.Title)
	marked, dated, told := false, false, false
	for _, r := range l.Rows {
		marked, dated, told = marked || r.Mark != Plain, dated || r.When != "", told || r.Below != ""
	}
	shown := []bool{marked, true, dated, told, true, true, true, true}
	pick := func(texts ...string) []string {
		var out []string
		for i, s := range texts {
			if shown[i] {
				out = append(out, s)
			}
		}
		return out
	}
	head := pick("", l.Head, "date", "what", l.Count, "change", l.Interval, l.End)
	var rows [][]Cell
	for _, r := range l.Rows {
		var cells []Cell
		for _, s := range pick(unicodeGlyphs.signs[r.Mark], r.Name, r.When, r.Below, r.Count, r.Change, r.interval(), r.end(unicodeGlyphs)) {
			cells = append(cells, Cell{Line: Line{Text: s}})
		}
		rows = append(rows, cells)
	}
	m.table(head, []int{len(head) - 3, len(head) - 2}, rows)
}

func (m *markdown) table(head []string, right []int, rows [][]Cell) {
	m.line("")
	line, rule := "|", "|"
	for i, h := range head {
		line += " " + Escape(h) + " |"
		mark := "---"
		for _, n := range right {
			if n == i+1 {
				mark = "--:"
			}
		}
		rule += mark + "|"
	}
	m.line("%s", strings.Replace(line, "|  |", "| |", 1))
	m.line("%s", rule)
	for _, row := range rows {
		line := "|"
		for _, c := range row {
			s := Escape(c.Text)
			if sign := unicodeGlyphs.signs[c.Tone]; c.Sign && !c.Unsigned && sign != "" {
				s = Escape(sign) + " " + s
			}
			if c.Below != "" {
				s += " (" + Escape(strings.TrimSpace(c.Below)) + ")"
			}
			line += " " + s + " |"
		}
		m.line("%s", line)
	}
}

// Escape makes any text harmless in the middle of a Markdown line: what could
// begin markup, a tag, an entity, a link or a mention.
func Escape(s string) string { return markdownEscapes.Replace(clean(s, "→")) }

var markdownEscapes = strings.NewReplacer(
	`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "|", `\|`, "~", `\~`, "$", `\$`, "#", `\#`,
	"<", "&lt;", ">", "&gt;", "&", "&amp;", "://", `\://`, "www.", `www\.`,
	"@", "＠") // no backslash keeps a page from calling somebody

// html escapes text that stands inside a tag.
func html(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(clean(s, "→"))
}
