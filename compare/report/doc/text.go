package doc

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/text"
)

// TextOptions say how the terminal form looks.
type TextOptions struct {
	Width  int  // columns; below 60 counts as 60
	Color  bool // verdicts and intervals in colour, besides sign and word
	Plain  bool // ASCII only
	Detail bool // what an expert asks for
}

// wide is the width from which a row of changes fits on one line.
const wide = 120

// Text prints a document for a terminal: tables first, then what is not settled,
// then notes, and last the line to read first.
func Text(w io.Writer, d Document, opt TextOptions) error {
	t := &terminal{opt: opt, g: unicodeGlyphs, dense: d.Dense}
	if opt.Plain {
		t.g = plainGlyphs
	}
	t.opt.Width = max(opt.Width, 60)
	if d.Heading.Text != "" {
		t.painted(d.Heading.Tone, d.Heading.Text)
	}
	if d.Subject != "" {
		t.paragraph("", "  ", d.Subject)
	}
	if d.Basis != "" {
		t.paragraph("", "", d.Basis)
	}
	t.sections(d.Sections)
	for _, p := range d.Parts {
		t.line("")
		t.line("%s", t.paint(Strong, "== "+t.plain(p.Heading.Text)))
		t.paragraph("", "  ", p.Lead)
		for _, s := range p.Warnings {
			t.paragraph("  ", "    ", "warning: "+s)
		}
		if p.Basis != "" {
			t.paragraph("", "", p.Basis)
		}
		t.sections(p.Sections)
	}
	if d.Caution != "" {
		t.gap()
		t.paragraph("", "", d.Caution)
	}
	if d.Closing.Text != "" {
		t.gap()
		t.painted(d.Closing.Tone, d.Closing.Text)
	}
	if d.Next != "" && d.Next == t.plain(d.Next) { // else it would not be the command; not wrapped, so that it can be copied
		t.line("Next: %s", d.Next)
	}
	_, err := io.WriteString(w, strings.TrimPrefix(t.b.String(), "\n"))
	return err
}

type terminal struct {
	b     strings.Builder
	opt   TextOptions
	g     glyphs
	dense bool

	lay       changesLayout // of the tables of changes being printed
	lastHeads string        // above them; empty where none are printed yet
}

// sections prints those that a terminal shows.
func (t *terminal) sections(all []Section) {
	kinds := []Kind{Reasons, Numbers, NotSettled, Findings, Notes}
	if t.opt.Detail {
		kinds = append(kinds, Tests)
	}
	shown := of(all, kinds...)
	var tables []Changes
	for _, s := range shown {
		for _, b := range s.Blocks {
			if c, ok := b.(Changes); ok {
				tables = append(tables, c)
			}
		}
	}
	t.lay, t.lastHeads = t.layout(tables), ""
	for _, s := range shown {
		_, list := s.Blocks[0].(List)
		if s.Title != "" || s.Apart || list {
			t.gap()
		}
		if s.Title != "" {
			t.line("%s", t.paint(t.titleTone(s), t.plain(s.Title)))
		}
		for _, b := range s.Blocks {
			t.block(b)
		}
	}
}

// gap leaves a line free.
func (t *terminal) gap() {
	if !t.dense {
		t.line("")
	}
}

func (t *terminal) titleTone(s Section) Tone {
	if s.Tone == Plain && !t.dense {
		return Strong
	}
	return s.Tone
}

func (t *terminal) block(b Block) {
	switch b := b.(type) {
	case Paragraph:
		lead := strings.Repeat("  ", b.Indent)
		if b.Tone == Plain && !b.Flush {
			t.paragraph(lead, lead+"  ", b.Text)
			return
		}
		for _, l := range t.wrapped(b.Text, t.opt.Width-len(lead)) {
			t.line("%s%s", lead, t.paint(b.Tone, l))
		}
	case List:
		t.list(b)
	case Assessment:
		t.assessment(b)
	case Changes:
		t.changes(b, t.lay)
	case Grid:
		t.grid(b)
	case Timeline:
		t.timeline(b)
	case Table:
		t.table(b)
	case Facts:
		for _, f := range b {
			t.paragraph("  ", "    ", f.Term+": "+f.Text)
		}
	}
}

func (t *terminal) list(l List) {
	if l.Title != "" {
		t.paragraph("  ", "    ", l.Title)
	}
	items := l.Items
	if !t.opt.Detail {
		items = plain(items)
	}
	for i, item := range items {
		s := item.text()
		switch sign := t.g.mark(item.Tone); {
		case l.Numbered:
			t.paragraph(fmt.Sprintf("%3d. ", i+1), "     ", s)
		case sign != "":
			if t.g.words != nil {
				sign += ":"
			}
			lead := "    " + t.paint(item.Tone, sign) + " "
			for _, line := range t.wrapped(s, t.opt.Width-max(8, 5+width(sign))) {
				t.line("%s%s", lead, line)
				lead = "        "
			}
		default:
			t.paragraph("  ", "    ", s)
		}
	}
}

func (t *terminal) line(format string, args ...any) { fmt.Fprintf(&t.b, format+"\n", args...) }

// plain is a text as it will stand on the screen, so that it can be measured.
func (t *terminal) plain(s string) string {
	s = clean(s, t.g.arrow)
	if t.opt.Plain {
		return ASCII(s)
	}
	return s
}

// ASCII spells what units need and puts a question mark for every other
// character that names may hold.
func ASCII(s string) string {
	s = strings.NewReplacer("°", "deg", "µ", "u", "±", "+-", "–", "-").Replace(s)
	return strings.Map(func(r rune) rune {
		if r > unicode.MaxASCII {
			return '?'
		}
		return r
	}, s)
}

// Clean removes control and private characters and invisible direction marks, so
// that a name that came from a file can do nothing to a terminal.
func Clean(name string) string { return clean(name, "") }

func clean(s, arrow string) string {
	s = strings.ReplaceAll(s, Arrow, arrow)
	return strings.Map(func(r rune) rune {
		breaks := r == '\u2028' || r == '\u2029'
		if breaks || unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Co) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, s)
}

// painted writes wrapped text in colour.
func (t *terminal) painted(tone Tone, s string) {
	for _, l := range t.wrapped(s, t.opt.Width) {
		t.line("%s", t.paint(tone, l))
	}
}

// paragraph writes wrapped text, indented after its first line.
func (t *terminal) paragraph(first, rest, s string) {
	for i, l := range t.wrapped(s, t.opt.Width-width(rest)) {
		lead := rest
		if i == 0 {
			lead = first
		}
		t.line("%s%s", lead, l)
	}
}

// wrapped breaks a text into lines, but no number from its sign of per cent or
// degree.
func (t *terminal) wrapped(s string, columns int) []string {
	const noBreak = "\uE000" // of one column, and in no cleaned text
	s = strings.NewReplacer(" %", noBreak+"%", " °", noBreak+"°", " deg", noBreak+"deg").Replace(t.plain(s))
	lines := strings.Split(text.WrapSoft(s, columns), "\n")
	for i, l := range lines {
		lines[i] = strings.ReplaceAll(strings.TrimRight(l, " "), noBreak, " ")
	}
	return lines
}

// faint is a text behind a lead, in lines that keep to the width.
func (t *terminal) faint(lead, s string) string {
	lines := strings.Split(text.WrapSoft(s, t.opt.Width-width(lead)), "\n")
	for i, l := range lines {
		lines[i] = lead + t.paint(Faint, strings.TrimRight(l, " "))
		lead = "    "
	}
	return strings.Join(lines, "\n")
}

func (t *terminal) paint(tone Tone, s string) string {
	c := tone.terminalColors()
	if !t.opt.Color || s == "" || len(c) == 0 {
		return s
	}
	return text.Escape(s, c.EscapeSeq()) // Sprint would ask the environment once more
}

func width(s string) int { return text.StringWidthWithoutEscSequences(s) }

// snip shortens a name in its middle: its end tells metrics of one benchmark
// apart.
func snip(s string, columns int, dots string) string {
	if width(s) <= columns || columns < 8 {
		return text.Snip(s, columns, dots)
	}
	r := []rune(s)
	head, tail := text.Snip(s, columns/3, ""), ""
	for i := len(r) - 1; i >= 0; i-- {
		next := string(r[i:])
		if width(head+dots+next) > columns {
			break
		}
		tail = next
	}
	return head + dots + tail
}
