package doc

import (
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

// columnsAt stand to the right.
func columnsAt(right []int) []table.ColumnConfig {
	var out []table.ColumnConfig
	for _, n := range right {
		out = append(out, table.ColumnConfig{Number: n, Align: text.AlignRight, AlignHeader: text.AlignRight})
	}
	return out
}

// changes prints a table of changes with a strip for each. A row takes one line
// where the terminal is wide, else two.
func (t *terminal) changes(c Changes) {
	if c.Title != "" {
		t.line("")
		t.painted(Strong, c.Title)
	}
	rows := make([]Change, len(c.Rows))
	for i, r := range c.Rows {
		for _, s := range []*string{&r.Name, &r.Verdict.Text, &r.Change, &r.Ends, &r.Ranged, &r.Before, &r.After, &r.Compared, &r.Measured} {
			*s = t.plain(*s)
		}
		rows[i] = r
	}
	names, stripWidth, oneLine, verdictBelow := t.layout(c, rows)
	scale := c.reach()
	tw := table.NewWriter()
	tw.SetStyle(houseStyle())
	drawnHead := scaleHead(scale*c.Factor, stripWidth)
	head, right := table.Row{c.Head, "verdict", "change", c.Interval, drawnHead}, []int{3}
	switch {
	case oneLine:
		head, right = table.Row{c.Head, "before", "after", "compared", "verdict", "change", c.Interval, drawnHead, c.Measured}, []int{2, 3, 6}
	case verdictBelow:
		head, right = table.Row{c.Head, "change", c.Interval, drawnHead}, []int{2}
	}
	tw.AppendHeader(head)
	tw.SetColumnConfigs(columnsAt(right))
	var below []string
	for _, r := range rows {
		name := snip(r.Name, names, t.g.dots)
		l, m, rest := strip(r.Span, scale, stripWidth, t.g)
		drawn := l + t.paint(r.Verdict.Tone, m) + rest
		verdict := t.paint(r.Verdict.Tone, t.verdict(r))
		second := r.Before + " " + t.g.arrow + " " + r.After
		if r.Measured != "" {
			second += ", " + r.Measured
		}
		second += "; " + r.Compared
		if r.Ranged != "" {
			second += "; range, " + r.Ranged
		}
		switch {
		case oneLine:
			tw.AppendRow(table.Row{name, r.Before, r.After, r.Compared, verdict, r.Change, r.interval(), drawn, r.Measured})
		case verdictBelow:
			tw.AppendRow(table.Row{name, r.Change, r.Ends, drawn})
			below = append(below, t.faint("  "+verdict+"  ", second))
		default:
			tw.AppendRow(table.Row{name, verdict, r.Change, r.Ends, drawn})
			below = append(below, t.faint("  ", second))
		}
	}
	for i, l := range strings.Split(tw.Render(), "\n") {
		l = strings.TrimRight(l, " ")
		if i == 0 {
			l = t.paint(Faint, l)
		}
		t.line("%s", l)
		if i > 0 && !oneLine && i-1 < len(below) {
			t.line("%s", below[i-1])
		}
	}
	if t.opt.Detail {
		for _, r := range rows {
			if r.Detail != "" {
				t.paragraph("  ", "    ", r.Detail)
			}
		}
	}
}

func (t *terminal) verdict(r Change) string {
	if !r.Judged {
		return r.Verdict.Text
	}
	return t.g.signs[r.Verdict.Tone] + " " + r.Verdict.Text
}

// Columns of a strip: more than widest shows nothing more, and below narrowest
// names give way first.
const (
	widest    = 61
	narrowest = 13
)

// layout shares out the width: how much of the names is shown, the width of
// the strips, whether a metric takes one line, and, where it takes two, whether
// long names leave no room for the verdict, so that it opens the second.
func (t *terminal) layout(c Changes, rows []Change) (names, strip int, oneLine, verdictBelow bool) {
	column := func(head string, cell func(Change) string) int {
		n := width(head)
		for _, r := range rows {
			n = max(n, width(cell(r)))
		}
		return n
	}
	share := func(longest, least, others int) (names, strip int) {
		names = min(longest, max(t.opt.Width-others-narrowest, least))
		strip = min(t.opt.Width-others-names, widest)
		return names, strip - (1 - strip&1) // odd, so that zero has a column of its own
	}
	longest := column("benchmark", func(r Change) string { return r.Name })
	change := column("change", func(r Change) string { return r.Change }) + 2
	verdict := column("verdict", t.verdict) + 2
	if t.opt.Width >= wide {
		others := change + verdict + column(c.Interval, Change.interval) + 4
		others += column("before", func(r Change) string { return r.Before }) + 2
		others += column("after", func(r Change) string { return r.After }) + 2
		others += column("compared", func(r Change) string { return r.Compared }) + 2
		others += column(c.Measured, func(r Change) string { return r.Measured }) + 2
		if names, strip = share(min(longest, 40), 14, others); strip >= narrowest {
			return names, strip, true, false
		}
	}
	others := change + column(c.Interval, func(r Change) string { return r.Ends }) + 4
	if longest+others+verdict+narrowest <= t.opt.Width {
		names, strip = share(longest, 14, others+verdict)
		return names, strip, false, false
	}
	if names, strip = share(longest, 14, others); strip < narrowest {
		names, strip = share(longest, len("benchmark"), others)
	}
	return names, max(strip, 5), false, true
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
