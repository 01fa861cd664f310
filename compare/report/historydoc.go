package report

import (
	"fmt"
	"slices"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/history"
	"tunegate/compare/report/doc"
)

// HistoryDocument is a history for people: commit by commit, then every metric in
// one line, then the shifts, and the line to read first.
func HistoryDocument(h HistoryPage, from Origin) doc.Document {
	about := fmt.Sprintf("%s over %s, to %s", h.Profile, english.Count(h.Commits, "commit"), h.Head)
	closing := historyClosing(h, commitWords)
	d := doc.Document{Heading: doc.Line{Text: about, Tone: doc.Strong}, Basis: historyFacts(h),
		Closing: doc.Line{Text: closing, Tone: doc.Strong},
		Page:    doc.Head{Title: h.Profile, Headline: historyHeadline(h)}}
	if len(h.Worse()) > 0 {
		d.Closing.Tone = doc.Bad
	}
	d.Caution = caution(historyHazard(h))
	found, short := h.shiftSections()
	pictures, gates, notes := HistoryPictures(h), gateLines(h), historyNotes(h)
	d.Sections = []doc.Section{
		short,
		picturesSection(func() []*Picture { return pictures }),
		historyData(h, pictures),
		{Kind: doc.Findings, Blocks: h.timelines()},
		found,
		listSection(doc.Tests, "Tests", historyTests(h)),
		listSection(doc.Findings, "The gate at each commit", gates),
		notesSection(notes),
		{Kind: doc.Method, Blocks: []doc.Block{doc.Facts{{Term: "Judged", Text: d.Basis}, {Term: "Shifts", Text: shiftMethod}}}},
		h.Commands.dataSection(nil, slices.Concat(gates, notes)),
		originSection(from, h.Seed, h.Resamples),
	}
	return d
}

// shiftMethod is how shifts are found.
const shiftMethod = "the maximally selected rank statistic with its permutation distribution, " +
	"parted again within each part (Lausen and Schumacher 1992)"

// shiftSections list the shifts: found in text and Markdown, short in the summary
// of a page.
func (h HistoryPage) shiftSections() (found, short doc.Section) {
	const title = "Shifts"
	found, short = doc.Section{Kind: doc.Findings, Title: title}, doc.Section{Kind: doc.Summary, Title: title}
	for _, changes := range h.shifts() {
		heading := shiftHeading(h, changes[0])
		list, plain := doc.List{Title: heading}, doc.List{Title: heading}
		for _, l := range changes {
			text := shiftWords(l)
			list.Items = append(list.Items, doc.Item{Line: doc.Line{Text: text, Tone: shiftTone(l.Result)}})
			plain.Items = append(plain.Items, doc.Item{Line: doc.Line{Text: text}})
		}
		found.Blocks, short.Blocks = append(found.Blocks, list), append(short.Blocks, plain)
	}
	if len(short.Blocks) == 0 {
		short.Blocks = []doc.Block{doc.Paragraph{Line: doc.Line{Text: "None found, as far as these runs can tell."}}}
	}
	return found, short
}

// historyData is the table behind the first picture.
func historyData(h HistoryPage, pictures []*Picture) doc.Section {
	if len(pictures) == 0 {
		return doc.Section{}
	}
	t := doc.Table{Title: "Commit by commit", Label: trackTitle(h.Tracks[0]), Head: pictures[0].Head}
	for _, row := range pictures[0].Rows {
		t.Rows = append(t.Rows, textCells(row...))
	}
	return doc.Section{Kind: doc.Data, Title: "All numbers", Blocks: []doc.Block{t}}
}

// timelines are the tables: those commit by commit, then the newest runs of every
// other metric.
func (h HistoryPage) timelines() []doc.Block {
	var out []doc.Block
	shown := h.shownTracks()
	for _, track := range shown {
		out = append(out, h.commits(track))
	}
	if len(shown) < len(h.Tracks) {
		for _, t := range h.newest(h.Tracks[len(shown):]) {
			out = append(out, t)
		}
	}
	return out
}

// timeline is an empty table of changes of a metric, or of metrics on its scale.
func (h HistoryPage) timeline(title, head, end string, m compare.Metric) doc.Timeline {
	t := doc.Timeline{Title: title, Head: head, Count: countHead(h), Interval: confidencePercent(h.Confidence) + " % interval",
		End: end, Factor: 1}
	if m.Scale == compare.Ratio {
		t.Factor = 100
	}
	return t
}

// measured fills in what was measured of a metric. first marks the value that the
// others are compared with.
func measured(row *doc.Moment, of compare.Metric, m *history.Measured, first bool) {
	row.Count = fmt.Sprint(sessionsOf(m))
	switch r := m.Since; {
	case r != nil:
		span := spanOf(r)
		row.Change, row.Span = signed(r, r.Change), &span
		row.Ends, row.Ranged = endsText(r)
	case first:
		row.Change, row.First, row.Tone = "first", true, doc.Faint
		row.Span = &doc.Span{}
		if of.Tolerance != nil {
			row.Span.Tolerance = *of.Tolerance
		}
	}
}

// commits is the table of one track, a row a commit.
func (h HistoryPage) commits(track *history.Track) doc.Timeline {
	t := h.timeline(trackTitle(track), "commit", "gate", track.Metric)
	first := true
	for i, p := range h.Points {
		row := doc.Moment{Name: fmt.Sprintf("%.7s", p.Commit), When: day(p), Count: "-", Below: pointWords(p)}
		row.Signs, row.End = gateOutcome(p.Gate)
		if m := track.Measured[i]; m != nil {
			measured(&row, track.Metric, m, first)
			first = false
		}
		for _, l := range track.Shifts {
			if l.First == i {
				row.Mark = shiftTone(l.Result)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// newest has a row for every track: the newest runs beside the first. Tracks of one
// role and unit share a table.
func (h HistoryPage) newest(tracks []*history.Track) []doc.Timeline {
	titles := map[compare.Role]string{
		compare.Score: "Scores, newest runs beside the first: plus means better",
		compare.Cost:  "Costs, newest runs beside the first: plus means more",
		compare.Info:  "For information, newest runs beside the first: plus means more",
	}
	var out []doc.Timeline
	var of compare.Metric
	for _, track := range tracks {
		if len(out) == 0 || track.Role != of.Role || track.Scale != of.Scale || track.Scale != compare.Ratio && track.Unit != of.Unit {
			out = append(out, h.timeline(titles[track.Role], "benchmark", "found", track.Metric))
			titles[track.Role] = "" // said once
		}
		of = track.Metric
		row := doc.Moment{Name: track.Name()}
		row.Signs, row.End = shiftsFound(track)
		measured(&row, track.Metric, track.Measured[track.Newest()], true)
		t := &out[len(out)-1]
		t.Rows = append(t.Rows, row)
	}
	return out
}
