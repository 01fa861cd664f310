package doc

import "strings"

// Timeline is a table of what was measured at several times beside the first of
// them, or of several quantities beside their first value; what is said below a
// row stands beside it where there is room.
type Timeline struct {
	Title    string
	Head     string // of the names
	Count    string // head of the numbers of values
	Interval string // head of the intervals
	End      string // head of the last column
	Factor   float64
	Rows     []Moment
}

// Moment is one row.
type Moment struct {
	Mark   Tone // a sign before the row; Plain for none
	Name   string
	When   string
	Count  string
	Change string // "first" for what the others are beside
	Ends   string
	Ranged string // the confidence, where Ends are a range
	Span   *Span  // nil: none is drawn
	First  bool   // Span is what the others are beside
	Tone   Tone   // of the span
	Signs  []Tone // drawn before End
	End    Line
	Below  string
}

func (Timeline) isBlock() {}

// end is the last cell: its signs, then its text; in words one of them.
func (m Moment) end(g glyphs) string {
	switch {
	case g.words != nil && m.End.Text != "" && m.End.Tone == Bad:
		return strings.ToUpper(m.End.Text)
	case g.words != nil && m.End.Text != "":
		return m.End.Text
	}
	var parts []string
	for _, s := range m.Signs {
		parts = append(parts, g.mark(s))
	}
	if g.words != nil {
		return strings.Join(parts, ", ")
	}
	if m.End.Text != "" {
		parts = append(parts, m.End.Text)
	}
	return strings.Join(parts, " ")
}

// interval is the interval, or the range with its confidence.
func (m Moment) interval() string { return Change{Ends: m.Ends, Ranged: m.Ranged}.interval() }

// inColumn is a tone with the colour of an outcome but not its weight: a column has
// one a row.
func inColumn(t Tone) Tone {
	switch t {
	case Good:
		return SmallGain
	case Bad:
		return SmallLoss
	case Undecided:
		return Open
	}
	return t
}

// hasRange reports whether some ends are a range and no interval.
func (l Timeline) hasRange() bool {
	for _, m := range l.Rows {
		if m.Ranged != "" {
			return true
		}
	}
	return false
}

// rangeNote explains the star behind a range.
const rangeNote = "* too few for an interval: the range of the differences"

func (t *terminal) timeline(l Timeline) {
	if l.Title != "" {
		t.line("")
		t.painted(Strong, l.Title)
	}
	lay := t.momentLayout(l)
	scale, top := l.reach(), ""
	if lay.strip >= minStrip {
		top = scaleHead(scale*l.Factor, lay.strip)
	}
	t.moment(lay, []string{"", l.Head, "date", l.Count, "change", l.Interval}, Plain, top, l.End, "")
	for _, m := range lay.rows {
		picture := strings.Repeat(" ", max(lay.strip, 0))
		if lay.strip >= minStrip && m.Span != nil {
			a, b, c := strip(*m.Span, scale, lay.strip, t.g)
			picture = a + t.paint(m.Tone, b) + c
		}
		cells := t.momentCells(m)
		if lay.beside > 0 && width(m.Below) <= lay.beside {
			t.moment(lay, cells, inColumn(m.End.Tone), picture, m.End.Text, m.Below)
			continue
		}
		t.moment(lay, cells, inColumn(m.End.Tone), picture, m.End.Text, "")
		lead := strings.Repeat(" ", 4+lay.widths[0])
		for _, s := range t.wrapped(m.Below, t.opt.Width-len(lead)) {
			if s != "" {
				t.line("%s", lead+t.paint(Faint, s))
			}
		}
	}
	if l.hasRange() {
		t.paragraph("  ", "    ", rangeNote)
	}
}

func (l Timeline) reach() float64 {
	var spans []Span
	for _, m := range l.Rows {
		if m.Span != nil && !m.First {
			spans = append(spans, *m.Span)
		}
	}
	if len(spans) == 0 {
		for _, m := range l.Rows {
			if m.Span != nil {
				spans = append(spans, *m.Span)
			}
		}
	}
	return Reach(spans)
}

func (t *terminal) momentCells(m Moment) []string {
	sign, ends := "", m.Ends
	if m.Mark != Plain {
		sign = t.paint(m.Mark, t.g.mark(m.Mark))
	}
	if m.Ranged != "" {
		ends += " *"
	}
	return []string{sign, m.Name, m.When, m.Count, m.Change, ends}
}

// momentLayout is how the columns of a timeline share the width.
type momentLayout struct {
	rows   []Moment
	widths []int // of the cells; 0: left out
	last   int   // of the last column
	strip  int
	beside int // columns for what is else below a row
}

func (t *terminal) momentLayout(l Timeline) momentLayout {
	lay := momentLayout{rows: make([]Moment, len(l.Rows)), last: width(l.End)}
	for _, h := range []string{"", l.Head, "date", l.Count, "change", l.Interval} {
		lay.widths = append(lay.widths, width(h))
	}
	dated := false
	for k, m := range l.Rows {
		m.End.Text = m.end(t.g)
		for _, s := range []*string{&m.Name, &m.When, &m.Count, &m.Change, &m.Ends, &m.End.Text, &m.Below} {
			*s = t.plain(*s)
		}
		lay.rows[k] = m
		for i, c := range t.momentCells(m) {
			lay.widths[i] = max(lay.widths[i], width(c))
		}
		lay.last = max(lay.last, width(m.End.Text))
		dated = dated || m.When != ""
	}
	if !dated {
		lay.widths[2] = 0
	}
	used := func() int {
		n := 0
		for _, w := range lay.widths {
			if w > 0 {
				n += w + 2
			}
		}
		return n + lay.last
	}
	room := t.opt.Width - used() - 2
	if room < minStrip && dated { // the date goes below
		lay.widths[2] = 0
		for k := range lay.rows {
			if m := &lay.rows[k]; m.When != "" {
				m.Below = strings.TrimSuffix(m.When+": "+m.Below, ": ")
			}
		}
		room = t.opt.Width - used() - 2
	}
	if room < minStrip { // names give way, to a point; then the strip
		longest := lay.widths[1]
		if lay.widths[1] = min(longest, max(14, longest-(minStrip-room))); t.opt.Width-used()-2 < minStrip {
			lay.widths[1] = min(longest, max(9, longest+room+2))
		}
		room = t.opt.Width - used() - 2
	}
	if t.opt.Width >= wide {
		if lay.beside = room - 41 - 2; lay.beside < 24 {
			lay.beside = 0
		} else {
			room = 41
		}
	}
	lay.strip = min(room, maxStrip)
	lay.strip -= 1 - lay.strip&1
	return lay
}

// moment writes one line.
func (t *terminal) moment(lay momentLayout, cells []string, tone Tone, strip, end, beside string) {
	right := []bool{false, false, false, true, true, false}
	out := ""
	for i, c := range cells {
		if lay.widths[i] == 0 {
			continue
		}
		c = snip(c, lay.widths[i], t.g.dots)
		pad := strings.Repeat(" ", max(0, lay.widths[i]-width(c)))
		if right[i] {
			c = pad + c
		} else {
			c += pad
		}
		out += c + "  "
	}
	if lay.strip >= minStrip {
		out += strip + "  "
	}
	out += t.paint(tone, end)
	if beside != "" {
		out += strings.Repeat(" ", max(0, lay.last-width(end))) + "  " + t.paint(Faint, beside)
	}
	t.line("%s", strings.TrimRight(out, " "))
}
