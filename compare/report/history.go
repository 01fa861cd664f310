package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/history"
)

// HistoryText writes a history for people: commit by commit, then every metric
// in one line, then where the level changed, and last the line to read first.
func HistoryText(w io.Writer, h HistoryPage, opt TextOptions) error {
	t := newTerminal(opt)
	t.painted(text.Colors{text.Bold}, fmt.Sprintf("%s over %s, to %s", Clean(h.Profile), plural(h.Commits, "commit"), Clean(h.Head)))
	t.paragraph("", "", historyFacts(h))
	shown := h.shownTracks()
	for _, track := range shown {
		t.line("")
		t.painted(text.Colors{text.Bold}, trackTitle(track))
		t.commits(h, track)
	}
	if len(shown) < len(h.Tracks) {
		t.newest(h)
	}
	if found := h.changes(); len(found) > 0 {
		t.line("")
		t.painted(text.Colors{text.Bold}, "Where the level changed")
		for _, f := range found {
			t.paragraph("  ", "    ", f.heading(h))
			for _, l := range f.changes {
				t.changed(l)
			}
		}
	}
	if opt.Detail {
		t.listed("Tests", historyTests(h))
	}
	t.listed("The gate at each commit", gateLines(h))
	t.listed("Notes", historyNotes(h))
	t.line("")
	if historyHazard(h) {
		t.paragraph("", "", Caution)
		t.line("")
	}
	color := text.Colors{text.Bold}
	if len(h.Worse()) > 0 {
		color = append(color, text.FgRed)
	}
	t.painted(color, HistoryClosing(h))
	return t.flush(w)
}

// historyRow is one line of a table of a history.
type historyRow struct {
	sign, name, when, count string
	since                   *compare.Result // nil: none is drawn
	first                   bool            // what the others are beside
	last, below             string
	color                   text.Colors // of sign and last
}

// commits is the table of one track, a row a commit.
func (t *terminal) commits(h HistoryPage, track *history.Track) {
	var rows []historyRow
	first := true
	for i, p := range h.Points {
		row := historyRow{name: fmt.Sprintf("%.7s", p.Commit), when: day(p), count: "-", below: pointWords(p), last: gateWord(p.Gate, t.opt.Plain), color: gateColor(p.Gate)}
		if m := track.Levels[i]; m != nil {
			row.count = fmt.Sprint(sessionsOf(m))
			row.since, row.first, first = m.Since, first, false
		}
		for _, l := range track.Changes {
			if l.First == i {
				row.sign = t.sign(l.Result)
			}
		}
		rows = append(rows, row)
	}
	t.historyTable([2]string{"commit", "gate"}, countHead(h), level(h.Confidence)+" % interval", track.Metric, rows)
}

// newest is every other metric in one line: the newest runs beside the first.
func (t *terminal) newest(h HistoryPage) {
	titles := map[compare.Role]string{
		compare.Score: "Scores, newest runs beside the first: plus means better",
		compare.Cost:  "Costs, newest runs beside the first: plus means more",
		compare.Info:  "Shown, never judged, newest runs beside the first: plus means more",
	}
	var rows []historyRow
	var of compare.Metric
	write := func() {
		if len(rows) == 0 {
			return
		}
		if title := titles[of.Role]; title != "" {
			t.line("")
			t.painted(text.Colors{text.Bold}, title)
		}
		titles[of.Role] = ""
		t.historyTable([2]string{"benchmark", "found"}, countHead(h), level(h.Confidence)+" % interval", of, rows)
		rows = nil
	}
	for _, track := range h.Tracks[1:] {
		if len(rows) > 0 && (track.Role != of.Role || track.Scale != of.Scale || track.Scale != compare.Ratio && track.Unit != of.Unit) {
			write()
		}
		of = track.Metric
		row := historyRow{name: Clean(track.Name()), last: changesFound(track, t.g), first: true}
		m := track.Levels[track.Newest()]
		row.count = fmt.Sprint(sessionsOf(m))
		if m.Since != nil {
			row.since, row.first = m.Since, false
		}
		if n := len(track.Changes); n > 0 {
			row.color = colorOf(track.Changes[n-1].Result)
		}
		rows = append(rows, row)
	}
	write()
}

func (t *terminal) sign(r *compare.Result) string { return t.paint(colorOf(r), signOf(r, t.g)) }

// historyTable writes rows under a head, on a common scale; what is told below
// a row stands beside it where there is room.
func (t *terminal) historyTable(heads [2]string, count, interval string, m compare.Metric, rows []historyRow) {
	var results []*compare.Result
	for _, r := range rows {
		if r.since != nil {
			results = append(results, r.since)
		}
	}
	zero := &compare.Result{Measurement: &compare.Measurement{Pair: &compare.Pair{Metric: m}}}
	if len(results) == 0 {
		results = []*compare.Result{zero}
	}
	scale := reach(results)
	cells := func(r historyRow) []string {
		change, ends := "first", ""
		if r.since != nil {
			var ranged string
			change = signed(r.since, r.since.Change)
			if ends, ranged = endsText(r.since); ranged != "" {
				ends += " *"
			}
		} else if !r.first {
			change = ""
		}
		return []string{r.sign, r.name, r.when, r.count, change, ends}
	}
	head := []string{"", heads[0], "date", count, "change", interval}
	widths := make([]int, len(head))
	for i, h := range head {
		widths[i] = runeWidth(h)
	}
	last := runeWidth(heads[1])
	dated := false
	for k := range rows {
		rows[k].name, rows[k].below = t.plain(rows[k].name), t.plain(rows[k].below)
		for i, c := range cells(rows[k]) {
			widths[i] = max(widths[i], runeWidth(t.plain(c)))
		}
		last = max(last, runeWidth(rows[k].last))
		dated = dated || rows[k].when != ""
	}
	if !dated {
		widths[2] = 0
	}
	used := func() int {
		n := 0
		for _, w := range widths {
			if w > 0 {
				n += w + 2
			}
		}
		return n + last
	}
	room := t.opt.Width - used() - 2
	if room < narrowest && dated { // the date goes below
		widths[2] = 0
		for k := range rows {
			if rows[k].when != "" {
				rows[k].below = strings.TrimSuffix(rows[k].when+": "+rows[k].below, ": ")
			}
		}
		room = t.opt.Width - used() - 2
	}
	if room < narrowest { // names give way, to a point; then the strip
		longest := widths[1]
		if widths[1] = min(longest, max(14, longest-(narrowest-room))); t.opt.Width-used()-2 < narrowest {
			widths[1] = min(longest, max(9, longest+room+2))
		}
		room = t.opt.Width - used() - 2
	}
	beside := 0 // columns for what is else below
	if t.opt.Width >= wide {
		if beside = room - 41 - 2; beside < 24 {
			beside = 0
		} else {
			room = 41
		}
	}
	drawn := min(room, widest)
	drawn -= 1 - drawn&1
	right := []bool{false, false, false, true, true, false}
	line := func(cells []string, color text.Colors, strip, end, beside string) {
		out := ""
		for i, c := range cells {
			if widths[i] == 0 {
				continue
			}
			c = snip(c, widths[i], t.g.dots)
			pad := strings.Repeat(" ", max(0, widths[i]-runeWidth(c)))
			if right[i] {
				c = pad + c
			} else {
				c += pad
			}
			out += c + "  "
		}
		if drawn >= narrowest {
			out += strip + "  "
		}
		out += t.paint(color, end)
		if beside != "" {
			out += strings.Repeat(" ", max(0, last-runeWidth(end))) + "  " + t.paint(text.Colors{text.Faint}, beside)
		}
		t.line("%s", strings.TrimRight(out, " "))
	}
	top := ""
	if drawn >= narrowest {
		top = scaleHead(results[0], scale, drawn)
	}
	line(head, nil, top, heads[1], "")
	for _, r := range rows {
		picture := strings.Repeat(" ", max(drawn, 0))
		if drawn >= narrowest && (r.since != nil || r.first) {
			of, color := zero, text.Colors{text.Faint}
			if r.since != nil {
				of, color = r.since, text.Colors{}
			}
			a, b, c := strip(of, scale, drawn, t.g)
			if len(color) > 0 {
				b = t.paint(color, b)
			}
			picture = a + b + c
		}
		here := cells(r)
		for i := range here {
			here[i] = t.plain(here[i])
		}
		if beside > 0 && runeWidth(r.below) <= beside {
			line(here, r.color, picture, r.last, r.below)
			continue
		}
		line(here, r.color, picture, r.last, "")
		lead := strings.Repeat(" ", 4+widths[0])
		for _, l := range t.wrapped(r.below, t.opt.Width-len(lead)) {
			if l != "" {
				t.line("%s", lead+t.paint(text.Colors{text.Faint}, l))
			}
		}
	}
	if slices.ContainsFunc(rows, func(r historyRow) bool { return r.since != nil && r.since.Interval == nil && r.since.Range != nil }) {
		t.paragraph("  ", "    ", "* too few for an interval: the range of the differences")
	}
}

func gateColor(g *history.PointGate) text.Colors {
	if g == nil {
		return text.Colors{text.Faint}
	}
	return map[gate.Outcome]text.Colors{gate.Passed: {text.FgGreen}, gate.Failed: {text.FgRed}, gate.Undecided: {text.FgYellow}, "": {text.FgRed}}[g.Outcome]
}

// changed is one metric's change as a sentence.
func (t *terminal) changed(l *history.LevelChange) {
	lead := "    " + t.sign(l.Result) + " "
	for _, s := range t.wrapped(changeWords(l, t.g.arrow), t.opt.Width-8) {
		t.line("%s%s", lead, s)
		lead = "        "
	}
}

// HistoryMarkdown is the same for a page.
func HistoryMarkdown(w io.Writer, h HistoryPage) error {
	m := &markdown{}
	m.line("## %s over %s, to %s", escape(h.Profile), plural(h.Commits, "commit"), escape(h.Head))
	m.line("")
	m.line("**%s**", escape(HistoryClosing(h)))
	for _, track := range h.shownTracks() {
		m.line("")
		m.line("%s", escape(trackTitle(track)))
		m.line("")
		m.line("| | commit | date | what | %s | change | %s | gate |", countHead(h), escape(level(h.Confidence)+" % interval"))
		m.line("|---|---|---|---|--:|--:|---|---|")
		first := true
		for i, p := range h.Points {
			sign, count, change, ends := "", "-", "", ""
			for _, l := range track.Changes {
				if l.First == i {
					sign = signOf(l.Result, unicodeGlyphs)
				}
			}
			if s := track.Levels[i]; s != nil {
				count = fmt.Sprint(sessionsOf(s))
				switch {
				case s.Since != nil:
					change, ends = signed(s.Since, s.Since.Change), intervalText(s.Since)
				case first:
					change = "first"
				}
				first = false
			}
			m.line("| %s | %.7s | %s | %s | %s | %s | %s | %s |", escape(sign), p.Commit, day(p), escape(pointWords(p)), count, escape(change), escape(ends), escape(gateWord(p.Gate, false)))
		}
	}
	for _, f := range h.changes() {
		var lines []string
		for _, l := range f.changes {
			lines = append(lines, signOf(l.Result, unicodeGlyphs)+" "+changeWords(l, unicodeGlyphs.arrow))
		}
		m.line("")
		m.line("%s", escape(f.heading(h)))
		m.bullets(lines)
	}
	m.bullets(append(prefixed("gate: ", gateLines(h)), historyNotes(h)...))
	if historyHazard(h) {
		m.line("")
		m.line("> %s", escape(Caution))
	}
	_, err := io.WriteString(w, m.b.String())
	return err
}
