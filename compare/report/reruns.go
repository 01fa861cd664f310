package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
	"tunegate/compare/advice"
)

// RerunsFormat names the JSON form of a plan of further runs. Its schema is
// schema/reruns.schema.json.
const RerunsFormat = "tunegate-reruns-1"

// RerunsText writes how often to run, metric by metric.
func RerunsText(w io.Writer, p RerunsPage, opt TextOptions) error {
	t := newTerminal(opt)
	about := "a stated spread"
	switch len(p.Profiles) {
	case 1:
		about = "pilot runs of " + Clean(p.Profiles[0]) + ", taken for both sides"
	case 2:
		about = "pilot runs of " + Clean(p.Profiles[0]) + " and " + Clean(p.Profiles[1])
	}
	t.line("%s", t.paint(text.Colors{text.Bold}, "How often to run, from "+about))
	facts := fmt.Sprintf("%s %% confidence; chance to see a change %s %%", level(p.Confidence), level(p.Power))
	if p.Scores > 1 && p.Correction != compare.NoCorrection {
		facts += fmt.Sprintf("; %d scores judged together, so the p of one has to reach %s", p.Scores, probability(p.CriticalP))
	}
	t.paragraph("", "", facts)
	for _, m := range p.Metrics {
		t.rerun(p, m)
	}
	t.looks(p)
	t.line("")
	pilot := ""
	if p.Profiles != nil {
		pilot = "All numbers are totals; runs of the pilot count, too, where nothing has changed since. " +
			"In brackets: what the pilot's uncertain spread leaves possible four times in five. " +
			"Noise that the pilot does not show, such as a slowdown of one run in ten, leaves two chances in three. "
	}
	if p.Scores > 1 && p.Correction != compare.NoCorrection {
		pilot += "Each score is planned as if no other had shown a change yet; " + p.Commands.Compare + " knows which have, and may ask for fewer. "
	}
	t.paragraph("", "", pilot+"Keep what is measured between reboots in sessions of equal odd numbers of runs. "+Peeking)
	t.line("")
	t.painted(text.Colors{text.Bold}, RerunsClosing(p))
	return t.flush(w)
}

// RerunsClosing is the line to act on: what to run next.
func RerunsClosing(p RerunsPage) string {
	var planned []*advice.Plan
	var blind []string
	for _, m := range p.Metrics {
		if m.See == nil {
			blind = append(blind, Clean(m.Name()))
			continue
		}
		planned = append(planned, m)
	}
	if len(planned) == 0 {
		return "Next: three runs or more a side, with more digits if readings are equal; then ask again."
	}
	slices.SortStableFunc(planned, func(a, b *advice.Plan) int { return a.See.N - b.See.N })
	// A benchmark that takes many times what most take is no reason to run all
	// of them so often.
	bar := 4 * planned[(len(planned)-1)/2].See.N
	enough := len(planned)
	for enough > 1 && planned[enough-1].See.N > bar {
		enough--
	}
	most := planned[enough-1]
	out := "Next: about " + perSide(most.Result, most.See.N)
	switch {
	case enough < len(p.Metrics):
		out += fmt.Sprintf(", for %d of %s", enough, plural(len(p.Metrics), "score"))
	case enough > 1:
		out += fmt.Sprintf(", for all %d scores", enough)
	}
	if enough < len(planned) {
		var costly []string
		for _, m := range planned[enough:] {
			costly = append(costly, fmt.Sprintf("%s (about %s)", Clean(m.Name()), about(m.See.N)))
		}
		out += fmt.Sprintf("; %s would take many more: run %s more steadily, settle for a larger %s, or leave %s out", join(costly, 4), them(costly),
			p.Commands.ChangeOption, them(costly))
	}
	if len(blind) > 0 {
		out += fmt.Sprintf("; %s cannot be planned yet", join(blind, 4))
	}
	if most.Replication == compare.ByRun && p.Profiles != nil {
		out += ". Label each sitting in a column session, and make several: runs of one sitting share its luck"
	}
	return out + ". " + sheetFor(p, most)
}

// sheetFor names the command that plans so many sessions a side, or blocks: a
// block holds one of each side, and it takes more blocks than sessions to settle
// anything.
func sheetFor(p RerunsPage, m *advice.Plan) string {
	const writes = " writes the order of work"
	if m.See.N > 100 {
		return p.Commands.Sheet(0, 1) + writes + "."
	}
	scores, spells := p.Scores, 1
	if p.Correction == compare.NoCorrection {
		scores = 1
	}
	if m.Test == "van-elteren" {
		spells = 2
	}
	text := ""
	blocks := advice.BlocksToSettle(scores, spells, p.Confidence)
	if blocks > m.See.N {
		text = fmt.Sprintf("; fewer than %d blocks settle nothing", blocks)
	}
	return p.Commands.Sheet(max(m.See.N, blocks), spells) + writes + text + "."
}

func them(names []string) string {
	if len(names) == 1 {
		return "it"
	}
	return "them"
}

func (t *terminal) rerun(p RerunsPage, m *advice.Plan) {
	r := m.Result
	t.line("")
	each := map[compare.Replication]string{compare.ByRun: "from run to run", compare.BySession: "from session to session", compare.ByBlock: "from block to block"}[r.Replication]
	spread := fmt.Sprintf("spread %s %s", twoDigits(r, m.Spread), each)
	switch len(p.Profiles) {
	case 1:
		spread += "; the pilot has " + plural(r.Replicates[0], string(r.Replication))
	case 2:
		spread += "; the pilot has " + counts(r)
	}
	if p.Profiles != nil {
		t.line("%s", t.paint(text.Colors{text.Bold}, Clean(r.Name())))
	}
	t.paragraph("  ", "    ", spread)
	t.paragraph("  ", "    ", fmt.Sprintf("floor: below %s nothing can be settled, whatever the runs say", perSide(r, m.MinSize)))
	if wants := policyWants(m); wants != "" {
		t.paragraph("  ", "    ", wants)
	}
	if m.See == nil {
		t.paragraph("  ", "    ", "no advice: "+noAdvice(r))
		return
	}
	from := ""
	if m.SeeFrom != advice.SeeStated {
		from = " (the " + string(m.SeeFrom) + ")"
	}
	t.paragraph("  ", "    ", fmt.Sprintf("to see a change of %s%s: about %s%s", exactly(r, m.See.For), from, perSide(r, m.See.N), between(m.See)))
	if m.Precise != nil {
		t.paragraph("  ", "    ", fmt.Sprintf("for an interval within plus and minus %s: about %s%s", exactly(r, m.Precise.For), perSide(r, m.Precise.N), between(m.Precise)))
	}
	if p.Profiles != nil {
		seen := "the pilot could not have caught a loss of any size"
		if r.BlindSpot != nil {
			seen = fmt.Sprintf("the pilot would have caught a loss of %s or more four times in five", twoDigits(r, *r.BlindSpot))
		}
		t.paragraph("  ", "    ", seen)
	}
	if t.opt.Detail && m.Noether > 0 {
		t.paragraph("  ", "    ", fmt.Sprintf("cross-check by Noether's formula, for normal noise and the test alone: %s", perSide(r, m.Noether)))
	}
	switch {
	case m.Between > 0 && m.WithinSd > 0:
		t.paragraph("  ", "    ", fmt.Sprintf("sessions differ by %s, runs of one session by %s", twoDigits(r, m.Between), twoDigits(r, m.WithinSd)))
	case m.Between > 0:
		t.paragraph("  ", "    ", fmt.Sprintf("sessions differ by %s, runs of one session not at all", twoDigits(r, m.Between)))
	case m.WithinSd > 0:
		t.paragraph("  ", "    ", fmt.Sprintf("runs of one session differ by %s, and sessions by no more than that explains", twoDigits(r, m.WithinSd)))
	}
	t.schedules(m)
}

// policyWants says what the policy wants a side, whatever a plan says.
func policyWants(m *advice.Plan) string {
	var parts []string
	if m.WantedSessions > 0 {
		parts = append(parts, plural(m.WantedSessions, "session"))
	}
	if m.WantedRuns > 0 {
		parts = append(parts, plural(m.WantedRuns, "run"))
	}
	if len(parts) == 0 {
		return ""
	}
	text := "the policy wants at least " + strings.Join(parts, " and ") + " a side"
	if m.WantedSessions > 0 && m.Replication == compare.ByRun {
		text += ", and no sessions are recorded here: label each sitting in a column session"
	}
	return text
}

// noAdvice says why no number of runs can be advised.
func noAdvice(r *compare.Result) string {
	if r.TooCoarse() {
		return tooCoarse(r)
	}
	return "the pilot shows no spread, or has a single value on a side; make at least three runs first"
}

func (t *terminal) schedules(m *advice.Plan) {
	if len(m.Schedules) == 0 {
		return
	}
	timed := m.Schedules[0].Minutes > 0
	if timed && m.BestRuns > 0 {
		t.paragraph("  ", "    ", fmt.Sprintf("for these times Cochran's rule gives %s runs a session", compare.Decimal(m.BestRuns, 1)))
	}
	head := "    runs a session  sessions a side"
	if timed {
		head += "  hours at the bench"
	}
	t.line("%s", t.paint(text.Colors{text.Faint}, head))
	for _, s := range m.Schedules {
		line := fmt.Sprintf("    %14d  %15s", s.RunsPerSession, about(s.Sessions))
		if timed {
			line += fmt.Sprintf("  %18s", compare.Decimal(s.Minutes/60, 1))
		}
		if s.Cheapest {
			line += "  least time"
		}
		t.line("%s", line)
	}
}

func (t *terminal) looks(p RerunsPage) {
	if len(p.Looks) == 0 {
		return
	}
	t.line("")
	t.paragraph("", "  ", fmt.Sprintf("%d looks, planned before the first run, keep the false alarms of all of them together at %s %%. "+
		"Judge each with %s, and stop at the first that settles:", len(p.Looks), level(1-p.Confidence), p.Commands.LookOption))
	for i, l := range p.Looks {
		t.line("  after %3.0f %% of the runs: %s, at %s %% confidence", 100*l.Share, p.Commands.JudgeLook(i+1, len(p.Looks)), level(l.Confidence))
	}
}

// between is " (7 to 14)", empty where there is no range.
func between(a *advice.Size) string {
	if a.Min == a.Max {
		return ""
	}
	return fmt.Sprintf(" (%s to %s)", about(a.Min), about(a.Max))
}

// twoDigits writes a size to at most two significant digits, with its unit.
func twoDigits(r *compare.Result, v float64) string {
	unit, factor := percentOr(r)
	return compare.Decimal(v*factor, min(compare.Places(v*factor), 6)) + " " + unit
}

// exactly writes a size as somebody stated it.
func exactly(r *compare.Result, v float64) string {
	unit, factor := percentOr(r)
	return trimZeros(compare.Decimal(v*factor, 4) + " " + unit)
}

// RerunsJSON writes the same as JSON.
func RerunsJSON(w io.Writer, p RerunsPage) error {
	type size struct {
		For   float64 `json:"for"`
		N     int     `json:"n"`
		Least int     `json:"least"`
		Most  int     `json:"most"`
	}
	type schedule struct {
		RunsPerSession int     `json:"runs_per_session"`
		Sessions       int     `json:"sessions"`
		Minutes        float64 `json:"minutes,omitempty"`
		Cheapest       bool    `json:"cheapest,omitempty"`
	}
	type metric struct {
		Benchmark   string              `json:"benchmark"`
		Metric      string              `json:"metric"`
		Unit        string              `json:"unit"`
		Scale       compare.Scale       `json:"scale"`
		Replication compare.Replication `json:"unit_of_replication"`
		Pilot       [2]int              `json:"pilot"`
		Spread      float64             `json:"spread"`
		Floor       int                 `json:"floor"`
		WantedRuns  int                 `json:"fewest_runs,omitempty"`
		WantedIn    int                 `json:"fewest_sessions,omitempty"`
		See         *size               `json:"see"`
		SeeFrom     string              `json:"see_from"`
		Precise     *size               `json:"precise"`
		Noether     int                 `json:"noether,omitempty"`
		BlindSpot   *float64            `json:"blind_spot"`
		Between     float64             `json:"between_sessions"`
		Within      float64             `json:"within_sessions"`
		BestRuns    float64             `json:"best_runs_per_session,omitempty"`
		Schedules   []schedule          `json:"schedules"`
	}
	type look struct {
		Share      float64 `json:"share"`
		Confidence float64 `json:"confidence"`
	}
	out := struct {
		Format     string             `json:"format"`
		Profiles   []string           `json:"profiles"`
		Confidence float64            `json:"confidence"`
		Correction compare.Correction `json:"correction"`
		Power      float64            `json:"power"`
		Scores     int                `json:"scores"`
		Bar        float64            `json:"bar"`
		Metrics    []metric           `json:"metrics"`
		Looks      []look             `json:"looks"`
		Closing    string             `json:"closing"`
	}{RerunsFormat, orEmpty(p.Profiles), p.Confidence, p.Correction, p.Power, p.Scores, p.CriticalP, []metric{}, []look{}, RerunsClosing(p)}
	sized := func(s *advice.Size) *size {
		if s == nil {
			return nil
		}
		return &size{s.For, s.N, s.Min, s.Max}
	}
	for _, m := range p.Metrics {
		v := metric{Benchmark: m.Benchmark, Metric: m.Metric.Metric, Unit: m.Unit, Scale: m.Scale, Replication: m.Replication,
			Pilot: m.Replicates, Spread: m.Spread, Floor: m.MinSize, WantedRuns: m.WantedRuns, WantedIn: m.WantedSessions, See: sized(m.See), SeeFrom: string(m.SeeFrom), Precise: sized(m.Precise),
			Noether: m.Noether, BlindSpot: m.BlindSpot, Between: m.Between, Within: m.WithinSd, BestRuns: m.BestRuns, Schedules: []schedule{}}
		if m.SeeFrom == advice.SeeStated {
			v.SeeFrom = p.Commands.ChangeOption
		}
		for _, s := range m.Schedules {
			v.Schedules = append(v.Schedules, schedule(s))
		}
		out.Metrics = append(out.Metrics, v)
	}
	for _, l := range p.Looks {
		out.Looks = append(out.Looks, look(l))
	}
	return encode(w, out)
}
