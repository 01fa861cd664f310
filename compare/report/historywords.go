package report

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/history"
	"tunegate/compare/report/doc"
)

// shownTracks are those shown commit by commit: the suite alone, unless each is
// asked for.
func (h HistoryPage) shownTracks() []*history.Track {
	if h.Each {
		return h.Tracks
	}
	return h.Tracks[:1]
}

func historyFacts(h HistoryPage) string {
	facts := []string{confidencePercent(h.Confidence) + " % confidence"}
	switch {
	case h.Family > 1 && h.Correction == compare.NoCorrection:
		facts = append(facts, fmt.Sprintf("%d scores, not corrected for their number", h.Family))
	case h.Family > 1:
		facts = append(facts, fmt.Sprintf("false-alarm chance shared by %d scores", h.Family))
	}
	if h.Policy != "" {
		facts = append(facts, "policy "+Clean(h.Policy))
	}
	return strings.Join(facts, "; ")
}

func trackTitle(t *history.Track) string {
	name := Clean(t.Name())
	if t.Parts != nil {
		name = fmt.Sprintf("Suite of %s", english.Count(len(t.Parts), "score"))
	}
	return name + " beside the first runs: " + plusWords(t.Metric)
}

// shiftsFound are the shifts that were found, in order, each as a sign.
func shiftsFound(track *history.Track) (signs []doc.Tone, end doc.Line) {
	for _, l := range track.Shifts {
		signs = append(signs, shiftTone(l.Result))
	}
	switch {
	case len(signs) > 0:
		return signs, doc.Line{Tone: signs[len(signs)-1]}
	case track.CanFind:
		return nil, doc.Line{Text: "none"}
	}
	return nil, doc.Line{Text: "too few"}
}

// shiftTone is that of a shift, which need not have a verdict.
func shiftTone(r *compare.Result) doc.Tone {
	if r.Verdict == nil {
		return doc.Unjudged
	}
	return toneOf(r)
}

// countHead is what the numbers of a history count.
func countHead(h HistoryPage) string {
	for _, track := range h.Tracks {
		for _, m := range track.Measured {
			if m != nil && m.Sessions > 0 {
				return "sessions"
			}
		}
	}
	return "runs"
}

func sessionsOf(m *history.Measured) int {
	if m.Sessions > 0 {
		return m.Sessions
	}
	return m.Runs
}

func day(p *history.Point) string {
	if p.Time.IsZero() {
		return ""
	}
	return p.Time.Format("2006-01-02")
}

// pointWords is the subject of a commit, and what the commit did.
func pointWords(p *history.Point) string {
	var parts []string
	if s := Clean(p.Subject); s != "" {
		parts = append(parts, s)
	}
	switch {
	case p.Removed:
		parts = append(parts, "profile removed")
	case p.Inherited:
		parts = append(parts, "and what is older")
	case p.Added == 0 && p.New:
		parts = append(parts, "no runs yet")
	case p.Added == 0 && len(p.Settings) > 0:
		parts = append(parts, "no new runs")
	}
	if len(p.Settings) > 0 {
		parts = append(parts, "set: "+Clean(compare.List(each(p.Settings, settingText), 3)))
	}
	if len(p.Conditions) > 0 {
		parts = append(parts, "recorded: "+Clean(compare.List(each(p.Conditions, settingText), 3)))
	}
	for _, n := range []struct {
		count int
		what  string
	}{{p.SetAside, "set aside"}, {p.Restored, "no longer set aside"}, {p.Withdrawn, "altered or removed"}} {
		if n.count > 0 {
			parts = append(parts, english.Count(n.count, "value")+" "+n.what)
		}
	}
	return strings.Join(parts, "; ")
}

// gateOutcome is what the gate said of a commit, behind its sign.
func gateOutcome(g *history.PointGate) (signs []doc.Tone, end doc.Line) {
	switch {
	case g == nil:
		return nil, doc.Line{Text: "-", Tone: doc.Faint}
	case g.Outcome == "":
		return nil, doc.Line{Text: "! not judged", Tone: doc.Bad}
	}
	tone := outcomeTones[g.Outcome]
	return []doc.Tone{tone}, doc.Line{Text: string(g.Outcome), Tone: tone}
}

// gateWord is the outcome of the gate as one text, with its sign.
func gateWord(g *history.PointGate) string {
	signs, end := gateOutcome(g)
	for _, s := range signs {
		return s.Sign() + " " + end.Text
	}
	return end.Text
}

// changes are the shifts, in order; those between the same two commits
// together.
func (h HistoryPage) shifts() [][]*history.Shift {
	var all []*history.Shift
	for _, track := range h.Tracks {
		all = append(all, track.Shifts...)
	}
	out := groupsOf(all, func(l *history.Shift) [2]int { return [2]int{l.Last, l.First} })
	slices.SortStableFunc(out, func(a, b []*history.Shift) int { return a[0].First - b[0].First })
	return out
}

// shiftHeading says where a shift is, and what was set differently there.
func shiftHeading(h HistoryPage, l *history.Shift) string {
	last, first := h.Points[l.Last], h.Points[l.First]
	text := commitWords(first) + ", after " + commitWords(last)
	if s := Clean(first.Subject); s != "" {
		text += fmt.Sprintf(" (%q)", s)
	}
	return text + ": " + causeWords(l)
}

func commitWords(p *history.Point) string {
	if d := day(p); d != "" {
		return fmt.Sprintf("%.7s of %s", p.Commit, d)
	}
	return fmt.Sprintf("%.7s", p.Commit)
}

// causeWords names what changed along with it.
func causeWords(l *history.Shift) string {
	causes := Clean(strings.Join(each(slices.Concat(l.Settings, l.Conditions), settingText), "; "))
	switch {
	case len(l.Settings) > 0:
		return "likely cause: " + causes
	case len(l.Conditions) > 0:
		return "no setting changed here, but what is recorded did: " + causes
	}
	return "no setting changed here"
}

func shiftWords(l *history.Shift) string {
	text := finding(l.Result)
	if !l.Real {
		text += ", but by how much is open: " + intervalText(l.Result)
	}
	return text + ", " + medians(l.Result, doc.Arrow) + "; " + counts(l.Result)
}

// gateLines say why commits did not pass.
func gateLines(h HistoryPage) []string {
	var out []string
	for _, p := range h.Points {
		if p.Gate == nil {
			continue
		}
		reasons := each(against(p.Gate.Reasons), Commands{}.reasonText)
		if p.Gate.Wrong != nil {
			reasons = []string{"not judged: " + Clean(h.Commands.Explain(p.Gate.Wrong))}
		}
		if len(reasons) > 0 {
			more := ""
			if len(reasons) > 2 {
				more = fmt.Sprintf("; and %d more", len(reasons)-2)
			}
			out = append(out, fmt.Sprintf("%.7s: %s", p.Commit, strings.Join(reasons[:min(2, len(reasons))], "; ")+more))
		}
	}
	if more := len(out) - maxGates; more > 0 {
		out = append([]string{fmt.Sprintf("and %d before these", more)}, out[more:]...)
	}
	return out
}

// maxGates is the maximum number of commits that gateLines explains, the newest.
const maxGates = 12

// historyTests are the tests with their numbers, for experts.
func historyTests(h HistoryPage) []string {
	var out []string
	for _, track := range h.Tracks {
		if !track.Searched {
			continue
		}
		how := "drawn"
		if track.Exact {
			how = "exact"
		}
		line := fmt.Sprintf("%s: maximally selected rank statistic (%s) Z = %s, p = %s, adjusted %s", Clean(track.Name()), how,
			compare.Decimal(track.Z, 2), probability(track.P), probability(track.PAdjusted))
		for _, l := range track.Shifts {
			line += fmt.Sprintf("; at %.7s p = %s (found from %s)", h.Points[l.First].Commit, probability(l.P), probability(l.MaxP))
		}
		out = append(out, line)
	}
	return out
}

func historyNotes(h HistoryPage) []string {
	var out []string
	if h.Earlier {
		out = append(out, fmt.Sprintf("older commits are folded into the first one shown (%s reads more)",
			h.Commands.CommitsOption))
	}
	if h.Missing != "" {
		out = append(out, h.Missing)
	}
	for _, n := range h.Notes {
		out = append(out, Clean(historyNote(n).Text))
	}
	return out
}

// historyNote words a note. The kinds of notes about the suite are one in JSON.
func historyNote(n history.Note) Note {
	kind, text := string(n.Kind), ""
	switch n.Kind {
	case history.NoteUnread:
		text = fmt.Sprintf("%.7s is left out, since it cannot be read: %v; what it brought counts for the next commit", n.Names[0], n.Err)
	case history.NoteLeftOut:
		text = fmt.Sprintf("%s is left out: %v", n.Names[0], n.Err)
	case history.NoteNotInSuite:
		var scores []string
		for i, name := range n.Names {
			scores = append(scores, fmt.Sprintf("%s (measured at %d of %s)", name, n.Counts[i], english.Count(n.Of, "commit")))
		}
		kind, text = "suite", "not in the suite: "+compare.List(scores, 6)
	case history.NoteIncomplete:
		var commits []string
		for _, hash := range n.Names {
			commits = append(commits, fmt.Sprintf("%.7s", hash))
		}
		kind, text = "suite", fmt.Sprintf("not all scores of the suite were measured at %s; there is no suite there", compare.List(commits, 6))
	case history.NoteNotSearched:
		kind, text = "suite", "the suite is not searched for shifts: "+
			"that needs sessions that hold all of its scores at every commit"
	case history.NoteNoSessions:
		which, there := "no session is recorded, so each run counts by itself", "here"
		if len(n.Names) > 0 {
			which, there = "not all runs have a session: "+compare.List(n.Names, 6), "there"
		}
		text = fmt.Sprintf("%s; runs of one commit share the luck of its sitting, and a shift found %s may be no more than that", which, there)
	case history.NoteCommitLuck:
		text = fmt.Sprintf("with each commit counted once, a shift of these is not settled: %s; sessions of one commit share "+
			"some luck (the day, the room), and the shift may be no more than that", compare.List(n.Names, 6))
	case history.NoteSpread:
		text = fmt.Sprintf("with a shift the spread of these changed as well: %s; the runs changed, but a wider spread at the "+
			"same median can pass for a shift", compare.List(n.Names, 6))
	case history.NoteUnequalRuns:
		text = fmt.Sprintf("with a shift the number of runs a session changed: %s; medians of different numbers of runs differ a "+
			"little by themselves", compare.List(n.Names, 6))
	case history.NoteTooFew:
		text = "too few sessions to find a shift of any size: " + compare.List(n.Names, 6)
	case history.NoteMachines:
		text = "measured on several machines, so that each machine counts once at a commit: " + compare.List(n.Names, 6)
	case history.NoteWithdrawn:
		text = fmt.Sprintf("rows that were altered or removed while the settings stayed do not count; "+
			"what stands in their place does, at the commit that put it there: %d", n.Count)
	case history.NoteFlattered:
		text = "the place of a shift is picked by the same runs that measure it, so its size is a little flattered"
	}
	return Note{Kind: kind, Text: text}
}

// historyClosing is the line to read first; name names a commit.
func historyClosing(h HistoryPage, name func(*history.Point) string) string {
	if worse := h.Worse(); len(worse) > 0 {
		// The suite, else the latest.
		l := worse[0].Shifts[len(worse[0].Shifts)-1]
		for _, t := range worse[1:] {
			if k := t.Shifts[len(t.Shifts)-1]; worse[0].Parts == nil && k.First > l.First {
				l = k
			}
		}
		text := fmt.Sprintf("Worse: %s since %s; %s.", finding(l.Result), name(h.Points[l.First]), causeWords(l))
		var others []string
		for _, t := range worse {
			if k := t.Shifts[len(t.Shifts)-1]; k != l {
				others = append(others, Clean(t.Name()))
			}
		}
		if len(others) > 0 {
			text += fmt.Sprintf(" %s %s worse as well.", compare.List(others, 6), english.Verb(len(others), "is", "are"))
		}
		return text
	}
	main := h.Tracks[0]
	text := ""
	switch n := len(h.shifts()); {
	case n > 0 && len(main.Shifts) > 0:
		l := main.Shifts[len(main.Shifts)-1]
		text = fmt.Sprintf("The last shift is no loss beyond the tolerance: %s since %s; %s.", finding(l.Result),
			name(h.Points[l.First]), causeWords(l))
	case n > 0:
		text = fmt.Sprintf("No score's last shift is a loss beyond the tolerance. There are shifts at %s, see above.", english.Count(n, "commit"))
	case !slices.ContainsFunc(h.Tracks, func(t *history.Track) bool { return t.Newest() > t.First() }):
		return "Only one commit has runs so far."
	case !slices.ContainsFunc(h.Tracks, func(t *history.Track) bool { return t.CanFind }):
		text = "Too few sessions yet to find a shift."
	default:
		text = "No shift found; small ones may be hidden."
	}
	if m := main.Measured[main.Newest()]; m.Since != nil && len(main.Shifts) == 0 {
		text += fmt.Sprintf(" Beside the first runs the newest of %s are at %s: %s.", Clean(main.Name()), signed(m.Since, m.Since.Change),
			intervalText(m.Since))
	}
	return text
}
