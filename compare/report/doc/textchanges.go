package doc

import (
	"cmp"
	"math"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
)

// houseStyle is a table without rules, two columns between cells.
func houseStyle() table.Style {
	s := table.Style{Name: "house", Box: table.BoxStyle{PaddingLeft: "", PaddingRight: "  "}, Options: table.OptionsNoBordersAndSeparators}
	s.Format.Header = text.FormatDefault
	return s
}

// columnsAt aligns these columns to the right.
func columnsAt(right []int) []table.ColumnConfig {
	var out []table.ColumnConfig
	for _, n := range right {
		out = append(out, table.ColumnConfig{Number: n, Align: text.AlignRight, AlignHeader: text.AlignRight})
	}
	return out
}

// changesLayout is how the tables of changes of one screen share the width, so
// that their columns stand below each other.
type changesLayout struct {
	names, strip int  // columns of the names and of the strips
	oneLine      bool // a row takes one line; else two
	verdictBelow bool // long names leave no room for the verdict: it opens the second line
	widths       map[string]int
	differ       bool   // some rows have compared something else
	measured     string // head of what was measured; empty where no table has it
	compared     string // what most rows have compared; empty where they differ
}

// columns of the table, in order.
func (l changesLayout) columns() []string {
	switch {
	case l.oneLine:
		return []string{"name", "before", "after", "compared", "verdict", "change", "interval", "strip", "measured"}
	case l.verdictBelow:
		return []string{"name", "change", "interval", "strip"}
	}
	return []string{"name", "verdict", "change", "interval", "strip"}
}

// changes prints a table of changes with a strip for each. A row takes one line
// where the terminal is wide, else two. The heads stand above the first table and
// serve those that follow; the scale of a table's strips stands beside its title,
// or on a line of its own where the table goes on with the one before.
func (t *terminal) changes(c Changes, l changesLayout) {
	var configs []table.ColumnConfig
	for i, k := range l.columns() {
		config := table.ColumnConfig{Number: i + 1, WidthMin: l.widths[k]}
		if k == "strip" {
			config.WidthMin = l.strip
		}
		if k == "change" || k == "before" || k == "after" {
			config.Align, config.AlignHeader = text.AlignRight, text.AlignRight
		}
		configs = append(configs, config)
	}
	writer := func() table.Writer {
		tw := table.NewWriter()
		tw.SetStyle(houseStyle())
		tw.SetColumnConfigs(configs)
		return tw
	}
	row := func(cells map[string]string) table.Row {
		var out table.Row
		for _, k := range l.columns() {
			out = append(out, cells[k])
		}
		return out
	}
	if c.Title != "" {
		tw := writer()
		tw.AppendRow(row(map[string]string{"name": c.Head, "before": "before", "after": "after", "compared": "compared",
			"verdict": "verdict", "change": "change", "interval": c.Interval, "measured": l.measured}))
		t.heads(l, strings.TrimRight(tw.Render(), " "))
	}
	scale := c.reach()
	t.titleAndScale(l, c.Title, scaleHead(scale*c.Factor, l.strip))
	tw := writer()
	var below []string
	for _, r := range t.plainRows(c.Rows) {
		left, mid, right := strip(r.Span, scale, l.strip, t.g)
		verdict := t.paint(r.Verdict.Tone, t.verdict(r))
		cells := map[string]string{"name": snip(r.Name, l.names, t.g.dots), "before": r.Before, "after": r.After, "compared": r.Compared,
			"verdict": verdict, "change": r.Change, "interval": r.Ends, "strip": left + t.paint(r.Verdict.Tone, mid) + right, "measured": r.Measured}
		if l.oneLine {
			cells["interval"] = r.interval()
		}
		tw.AppendRow(row(cells))
		lead, second := "  ", t.secondLine(r, l.compared)
		switch {
		case l.oneLine:
			second = r.Advice
		case r.Advice != "":
			second += "; " + r.Advice
		}
		if l.verdictBelow {
			lead += verdict + "  "
		}
		if second != "" {
			second = t.faint(lead, second)
		}
		below = append(below, second)
	}
	for i, line := range strings.Split(tw.Render(), "\n") {
		t.line("%s", strings.TrimRight(line, " "))
		if below[i] != "" {
			t.line("%s", below[i])
		}
	}
	if t.opt.Detail {
		for _, r := range c.Rows {
			if r.Detail != "" {
				t.paragraph("  ", "    ", r.Detail)
			}
		}
	}
}

// heads prints the heads of a table of changes, unless they stand above already.
func (t *terminal) heads(l changesLayout, heads string) {
	if heads == t.lastHeads {
		return
	}
	t.lastHeads = heads
	t.line("")
	t.line("%s", t.paint(Faint, heads))
	if l.oneLine {
		return
	}
	below := "before " + t.g.arrow + " after"
	if l.compared != "" {
		below += "; " + l.compared + map[bool]string{false: " each", true: ", unless stated"}[l.differ]
	}
	t.line("%s", t.faint("  ", below))
}

// titleAndScale prints the title of a table and the scale of its strips: on one
// line where the title leaves room.
func (t *terminal) titleAndScale(l changesLayout, title, scale string) {
	at := 0
	for _, k := range l.columns() {
		if k == "strip" {
			break
		}
		at += l.widths[k] + 2
	}
	title = t.plain(title)
	if title != "" && width(title)+2 > at {
		t.painted(Strong, title)
		title = ""
	}
	pad := strings.Repeat(" ", at-width(title))
	t.line("%s", strings.TrimRight(t.paint(Strong, title)+pad+t.paint(Faint, scale), " "))
}

// secondLine is what stands below a row; what most rows have in common is said in
// the heads.
func (t *terminal) secondLine(r Change, common string) string {
	s := r.Before + " " + t.g.arrow + " " + r.After
	if r.Measured != "" {
		s += ", " + r.Measured
	}
	if r.Compared != common {
		s += "; " + r.Compared
	}
	if r.Ranged != "" {
		s += "; range, " + r.Ranged
	}
	return s
}

// plainRows are rows as they will stand on the screen.
func (t *terminal) plainRows(rows []Change) []Change {
	out := make([]Change, len(rows))
	for i, r := range rows {
		for _, s := range []*string{&r.Name, &r.Verdict.Text, &r.Change, &r.Ends, &r.Ranged, &r.Before, &r.After, &r.Compared,
			&r.Measured, &r.Advice} {
			*s = t.plain(*s)
		}
		out[i] = r
	}
	return out
}

func (t *terminal) verdict(r Change) string {
	if !r.Judged {
		return r.Verdict.Text
	}
	return t.g.signed(r.Verdict.Tone, r.Verdict.Text)
}

// Columns of a strip: more than maxStrip shows nothing more, and below minStrip
// names give way first.
const (
	maxStrip = 61
	minStrip = 13
)

// layout shares out the width among all tables of changes of a screen: how much of
// the names is shown, the width of the strips, whether a row takes one line, and,
// where it takes two, whether long names leave no room for the verdict.
func (t *terminal) layout(tables []Changes) changesLayout {
	l := changesLayout{widths: map[string]int{}}
	var rows []Change
	heads := map[string]string{"name": "benchmark"}
	for _, h := range []string{"before", "after", "compared", "verdict", "change"} {
		heads[h] = h
	}
	for _, c := range tables {
		rows = append(rows, t.plainRows(c.Rows)...)
		heads["interval"], l.measured = c.Interval, cmp.Or(l.measured, c.Measured)
	}
	heads["measured"], heads["ends"] = l.measured, heads["interval"]
	column := func(key string, cell func(Change) string) {
		l.widths[key] = width(heads[key])
		for _, r := range rows {
			l.widths[key] = max(l.widths[key], width(cell(r)))
		}
	}
	column("name", func(r Change) string { return r.Name })
	column("before", func(r Change) string { return r.Before })
	column("after", func(r Change) string { return r.After })
	column("compared", func(r Change) string { return r.Compared })
	column("verdict", t.verdict)
	column("change", func(r Change) string { return r.Change })
	column("interval", Change.interval)
	column("ends", func(r Change) string { return r.Ends })
	column("measured", func(r Change) string { return r.Measured })
	times := map[string]int{}
	for _, r := range rows {
		if times[r.Compared]++; len(rows) > 1 && 2*times[r.Compared] > len(rows) {
			l.compared = r.Compared
		}
	}
	l.differ = len(times) > 1
	longest := l.widths["name"]
	t.shareWidth(&l)
	l.widths["name"], l.widths["strip"] = min(longest, l.names), 0
	if !l.oneLine {
		l.widths["interval"] = l.widths["ends"]
	}
	return l
}

// shareWidth gives names and strips what the other columns leave.
func (t *terminal) shareWidth(l *changesLayout) {
	share := func(longest, least, others int) {
		l.names = min(longest, max(t.opt.Width-others-minStrip, least))
		l.strip = min(t.opt.Width-others-l.names, maxStrip)
		l.strip -= 1 - l.strip&1 // odd, so that zero has a column of its own
	}
	w := l.widths
	longest, change, verdict := w["name"], w["change"]+2, w["verdict"]+2
	if t.opt.Width >= wide {
		others := change + verdict + w["interval"] + 4
		for _, k := range []string{"before", "after", "compared", "measured"} {
			others += w[k] + 2
		}
		if share(min(longest, 40), 14, others); l.strip >= minStrip {
			l.oneLine = true
			return
		}
	}
	others := change + w["ends"] + 4
	if longest+others+verdict+minStrip <= t.opt.Width {
		share(longest, 14, others+verdict)
		return
	}
	if share(longest, 14, others); l.strip < minStrip {
		share(longest, len("benchmark"), others)
	}
	l.strip, l.verdictBelow = max(l.strip, 5), true
}

// scaleHead labels the ends and the zero of the strips.
func scaleHead(scale float64, width int) string {
	end := "0"
	if scale > 0 {
		places := -int(math.Floor(math.Log10(scale) + 1e-9))
		end = strconv.FormatFloat(scale, 'f', max(0, places+1), 64)
		if strings.Contains(end, ".") {
			end = strings.TrimSuffix(strings.TrimRight(end, "0"), ".")
		}
	}
	left, right := "-"+end, "+"+end
	half := (width - 1) / 2
	if len(left)+len(right)+3 > width {
		return strings.Repeat(" ", half) + "0"
	}
	return left + strings.Repeat(" ", half-len(left)) + "0" + strings.Repeat(" ", half-len(right)) + right
}
