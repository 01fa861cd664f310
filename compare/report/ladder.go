package report

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

// LadderText writes a ladder of profiles: the suite step by step, every
// benchmark, what each profile costs, the front, and which profile is best for
// which work.
func LadderText(w io.Writer, shown LadderPage, opt TextOptions) error {
	l := shown.Ladder
	t := newTerminal(opt)
	names := make([]string, len(l.Profiles))
	for i, p := range l.Profiles {
		names[i] = Clean(p)
	}
	t.painted(text.Colors{text.Bold}, strings.Join(names, " "+t.g.arrow+" "))
	t.facts(l.Total.Comparison, ladderFamily(l))
	t.ladderSuite(l)
	t.grid("Every benchmark, step by step", "benchmark", benchmarkGrid(l, t.g))
	if rows := costGrid(l); len(rows.rows) > 0 {
		t.grid("What each profile costs and brings, beside "+Clean(l.Profiles[0]), "profile", rows)
	}
	t.listed("", frontLines(l))
	t.listed("Which profile for which work", workLines(l))
	t.listed("Not settled", ladderUnsettled(shown))
	t.listed("Notes", ladderNotes(shown))
	t.line("")
	if ladderHazard(l) {
		t.paragraph("", "", Caution)
		t.line("")
	}
	t.painted(text.Colors{text.Bold}, LadderClosing(l))
	return t.flush(w)
}

// ladderFamily says which tests share a correction.
func ladderFamily(l *ladder.Ladder) string {
	tests := 0
	for _, s := range l.Measured() {
		for _, r := range s.Comparison.Results {
			if r.Role == compare.Score && r.Named {
				tests++
			}
		}
	}
	how := correctionName(l.Correction)
	if how == "" {
		return fmt.Sprintf("%d tests of single scores, not corrected for their number", tests)
	}
	if len(l.Steps) == 1 {
		return fmt.Sprintf("%s corrected together (%s)", plural(tests, "score"), how)
	}
	return fmt.Sprintf("%d steps and the total corrected together, and so are their %d tests of single scores (%s)", len(l.Steps), tests, how)
}

// ladderSuite is the table of the steps.
func (t *terminal) ladderSuite(l *ladder.Ladder) {
	b := block{title: ladderTitle(l), head: "step"}
	b.results = ladderSuites(l)
	if len(b.results) > 0 {
		t.block(l.Total.Comparison, b)
	}
	if len(l.Steps) > 1 {
		t.paragraph("  ", "    ", "steps multiplied: "+productText(l))
	}
}

func ladderTitle(l *ladder.Ladder) string {
	if len(l.Scores) == 1 {
		return "Step by step: " + Clean(l.Scores[0]) + "; plus means better"
	}
	mean := "geometric mean"
	for _, w := range l.Weights {
		if w != l.Weights[0] {
			mean = "weighted geometric mean"
		}
	}
	return fmt.Sprintf("Suite, step by step: %s of %s; plus means better", mean, plural(len(l.Scores), "score"))
}

// ladderSuites are the suites of the steps and of the total, named as steps.
func ladderSuites(l *ladder.Ladder) []*compare.Result {
	var out []*compare.Result
	for i, s := range l.Measured() {
		if s.Suite == nil {
			continue
		}
		out = append(out, renamed(s.Suite.Result, compare.MetricID{Benchmark: stepName(l, i), Metric: compare.DefaultMetric}, s.Suite.Unit))
	}
	return out
}

// stepWords is a step in a sentence.
func stepWords(l *ladder.Ladder, i int) string {
	if i == len(l.Steps) {
		return "the total"
	}
	return fmt.Sprintf("step %d (%s)", i+1, Clean(l.Steps[i].To))
}

// stepName is "2 boost-lift" for the step to it, or "total".
func stepName(l *ladder.Ladder, i int) string {
	if i == len(l.Steps) {
		return "total"
	}
	return fmt.Sprintf("%d %s", i+1, Clean(l.Steps[i].To))
}

func productText(l *ladder.Ladder) string {
	places := 2
	if s := l.Total.Suite; s != nil {
		places = changePlaces(s.Result)
	}
	text := plus(100*l.Product, places) + " %"
	if s := l.Total.Suite; s != nil {
		text += fmt.Sprintf(" (measured last against first: %s)", signed(s.Result, s.Change))
	}
	return text
}

// gridTable is a table that is cut into several side by side where it is too
// wide: a name, then columns of cells; each cell may have a second line.
type gridTable struct {
	columns []string
	rows    []gridRow
}

type gridRow struct {
	name  string
	cells []gridCell
}

type gridCell struct {
	text, below string
	color       text.Colors
}

// benchmarkGrid has a row a metric that decides, a column a step.
func benchmarkGrid(l *ladder.Ladder, g glyphs) gridTable {
	var out gridTable
	at := map[string]int{}
	steps := l.Measured()
	for i := range steps {
		out.columns = append(out.columns, stepName(l, i))
	}
	for i, s := range steps {
		for _, r := range s.Comparison.Results {
			if r.Role != compare.Score {
				continue
			}
			k, ok := at[r.Name()]
			if !ok {
				k = len(out.rows)
				at[r.Name()] = k
				out.rows = append(out.rows, gridRow{Clean(r.Name()), make([]gridCell, len(steps))})
			}
			sign := "  "
			if r.Verdict != nil && r.Named {
				sign = g.signs[*r.Verdict] + " "
			}
			out.rows[k].cells[i] = gridCell{text: sign + signed(r, r.Change), below: "  " + intervalText(r), color: colorOf(r)}
		}
	}
	return out
}

// costGrid has a row a profile but the first, a column a quantity that is
// recorded.
func costGrid(l *ladder.Ladder) gridTable {
	var out gridTable
	for _, r := range l.Rungs[1:] {
		out.rows = append(out.rows, gridRow{name: Clean(r.Profile)})
	}
	add := func(head string, cell func(*ladder.Rung) (gridCell, bool)) {
		cells := make([]gridCell, len(out.rows))
		any := false
		for i, r := range l.Rungs[1:] {
			c, ok := cell(r)
			cells[i], any = c, any || ok
		}
		if !any {
			return
		}
		out.columns = append(out.columns, head)
		for i := range out.rows {
			out.rows[i].cells = append(out.rows[i].cells, cells[i])
		}
	}
	of := func(pick func(*ladder.Rung) *compare.Suite) func(*ladder.Rung) (gridCell, bool) {
		return func(r *ladder.Rung) (gridCell, bool) {
			s := pick(r)
			if s == nil {
				return gridCell{text: "-"}, false
			}
			return gridCell{text: signed(s.Result, s.Change), below: intervalText(s.Result)}, true
		}
	}
	add("speed", of(func(r *ladder.Rung) *compare.Suite { return r.Speed }))
	add("minutes saved an hour", func(r *ladder.Rung) (gridCell, bool) {
		if r.Speed == nil {
			return gridCell{text: "-"}, false
		}
		saved, in := MinutesSaved(r.Speed)
		if in == nil {
			return gridCell{text: plus(saved, 1)}, true
		}
		p := compare.Places((in[1] - in[0]) / 2)
		return gridCell{text: plus(saved, p), below: plus(in[0], p) + " to " + plus(in[1], p)}, true
	})
	heat := "temperature"
	for _, r := range l.Rungs {
		if r.Heat != nil {
			heat = r.Heat.Benchmark
		}
	}
	add("power", of(func(r *ladder.Rung) *compare.Suite { return r.Power }))
	add(Clean(heat), of(func(r *ladder.Rung) *compare.Suite { return r.Heat }))
	add("energy a job", of(func(r *ladder.Rung) *compare.Suite { return r.Energy }))
	add("work per joule", of(func(r *ladder.Rung) *compare.Suite { return r.Efficiency }))
	return out
}

// MinutesSaved is how many minutes of an hour's work a speed saves, and the
// interval; negative where it costs time.
func MinutesSaved(s *compare.Suite) (saved float64, interval *[2]float64) {
	minutes := func(change float64) float64 { return 60 * (1 - 1/(1+change)) }
	if s.Interval != nil {
		interval = &[2]float64{minutes(s.Interval[0]), minutes(s.Interval[1])}
	}
	return minutes(s.Change), interval
}

// grid writes a table in as many pieces as the width asks for.
func (t *terminal) grid(title, head string, g gridTable) {
	if len(g.columns) == 0 {
		return
	}
	t.line("")
	t.painted(text.Colors{text.Bold}, title)
	names := runeWidth(head)
	for _, r := range g.rows {
		names = max(names, runeWidth(t.plain(r.name)))
	}
	names = min(names, 24)
	// A head is wrapped to what its cells need, or 11 columns.
	widths, heads := make([]int, len(g.columns)), make([][]string, len(g.columns))
	for c := range g.columns {
		for _, r := range g.rows {
			widths[c] = max(widths[c], runeWidth(t.plain(r.cells[c].text)), runeWidth(t.plain(r.cells[c].below)))
		}
		heads[c] = wrapHead(snip(t.plain(g.columns[c]), 40, t.g.dots), max(widths[c], 11))
		for _, h := range heads[c] {
			widths[c] = max(widths[c], runeWidth(h))
		}
	}
	for from := 0; from < len(g.columns); {
		to, used := from, names
		for to < len(g.columns) && (to == from || used+2+widths[to] <= t.opt.Width) {
			used += 2 + widths[to]
			to++
		}
		t.gridPiece(head, g, names, heads, from, to)
		from = to
	}
}

// wrapHead breaks a head behind spaces and hyphens.
func wrapHead(head string, width int) []string {
	var lines []string
	line := ""
	for _, word := range headWord.FindAllString(head, -1) {
		if line != "" && runeWidth(strings.TrimRight(line+word, " ")) > width {
			lines = append(lines, strings.TrimRight(line, " "))
			line = ""
		}
		line += word
	}
	return append(lines, strings.TrimRight(line, " "))
}

var headWord = regexp.MustCompile(`[^ -]*[ -]*`)

func (t *terminal) gridPiece(head string, g gridTable, names int, heads [][]string, from, to int) {
	tw := table.NewWriter()
	tw.SetStyle(table.Style{Name: "house", Box: table.BoxStyle{PaddingLeft: "", PaddingRight: "  "}, Options: table.OptionsNoBordersAndSeparators})
	row := table.Row{t.paint(text.Colors{text.Faint}, head)}
	for c := from; c < to; c++ {
		lines := make([]string, len(heads[c]))
		for i, h := range heads[c] {
			lines[i] = t.paint(text.Colors{text.Faint}, h)
		}
		row = append(row, strings.Join(lines, "\n"))
	}
	tw.AppendRow(row)
	for _, r := range g.rows {
		row, below, any := table.Row{snip(t.plain(r.name), names, t.g.dots)}, table.Row{""}, false
		for _, c := range r.cells[from:to] {
			row = append(row, t.paint(c.color, t.plain(c.text)))
			below = append(below, t.paint(text.Colors{text.Faint}, t.plain(c.below)))
			any = any || c.below != ""
		}
		tw.AppendRow(row)
		if any {
			tw.AppendRow(below)
		}
	}
	for _, l := range strings.Split(tw.Render(), "\n") {
		t.line("%s", strings.TrimRight(l, " "))
	}
}

// listed writes lines under a heading, if there are any.
func (t *terminal) listed(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	t.line("")
	if title != "" {
		t.line("%s", t.paint(text.Colors{text.Bold}, title))
	}
	for _, l := range lines {
		t.paragraph("  ", "    ", l)
	}
}

// frontLines say which profiles nothing beats on both speed and cost.
func frontLines(l *ladder.Ladder) []string {
	if l.FrontCost == "" {
		return nil
	}
	cost := fmt.Sprintf("%s (of %s)", l.FrontCost, Clean(join(l.FrontOf, 4)))
	var front, out []string
	for _, r := range l.Rungs {
		switch r.Front {
		case ladder.OnFront:
			front = append(front, Clean(r.Profile))
		case ladder.Beaten:
			out = append(out, fmt.Sprintf("%s is beaten on speed and %s by %s", Clean(r.Profile), l.FrontCost, Clean(join(r.BeatenBy, 4))))
		case ladder.FrontUnsure:
			out = append(out, fmt.Sprintf("%s may be beaten by %s: not settled", Clean(r.Profile), Clean(join(r.BeatenBy, 4))))
		}
	}
	if len(front) > 0 {
		out = append([]string{fmt.Sprintf("nothing beats on both speed and %s: %s", cost, join(front, 12))}, out...)
	}
	return out
}

// workLines say which profile is best for which work.
func workLines(l *ladder.Ladder) []string {
	var out []string
	for _, w := range l.Works {
		out = append(out, workLine(l, w))
	}
	return out
}

func workLine(l *ladder.Ladder, w *ladder.Work) string {
	name := Clean(w.Name)
	if w.Mix {
		name = "the mix (" + name + ")"
	}
	gain := ""
	if w.Gain != nil {
		up, _ := direction(w.Gain)
		gain = fmt.Sprintf(", %s %s than %s", size(w.Gain, w.Gain.Change), up, Clean(l.Profiles[0]))
		if w.Gain.Interval != nil {
			gain += " (" + intervalText(w.Gain) + ")"
		}
	}
	if w.Settled {
		return fmt.Sprintf("%s: %s%s", name, Clean(w.Leader), gain)
	}
	text := fmt.Sprintf("%s: not settled; %s leads%s, but does not really beat %s", name, Clean(w.Leader), gain, Clean(join(w.Rivals, 12)))
	if w.TooFew > 0 {
		text += fmt.Sprintf("; to tell %s apart takes %d sessions or runs of each", plural(len(l.Profiles), "profile"), w.TooFew)
	}
	return text
}

// ladderUnsettled says what could still hide: in the suites, and step by step in
// the scores.
func ladderUnsettled(p LadderPage) []string {
	l := p.Ladder
	var lines []string
	var cannot sentences
	var alone []string
	advised := false
	for i, r := range ladderSuites(l) {
		if s := p.Commands.cannotSettle(l.Total.Comparison.Confidence, r, "score"); s != "" {
			cannot.add(s, "suite")
		}
		if s := Unsettled(r); s != "" {
			lines = append(lines, stepWords(l, i)+": "+s)
			advised = advised || r.Needed != nil
		}
	}
	for i, step := range l.Measured() {
		var noise []*compare.Result
		var names []string
		for _, r := range step.Comparison.Results {
			if r.Role == compare.Score && Unsettled(r) != "" {
				noise, names = append(noise, r), append(names, Clean(r.Name()))
				advised = advised || r.Needed != nil
			}
			if r.UncorrectedOnly {
				alone = append(alone, fmt.Sprintf("%s in %s", Clean(r.Name()), stepWords(l, i)))
			}
			if s := p.Commands.cannotSettle(step.Comparison.Confidence, r, "score"); s != "" && r.Role == compare.Score {
				cannot.add(s, "score")
			}
		}
		switch {
		case len(noise) == 1:
			lines = append(lines, fmt.Sprintf("%s, %s: %s", stepWords(l, i), names[0], Unsettled(noise[0])))
		case len(noise) > 1:
			lines = append(lines, fmt.Sprintf("%s, %s: %s", stepWords(l, i), join(names, 6), unsettledSummary(noise)))
		}
	}
	if len(alone) > 0 {
		lines = append(lines, "real alone, but not among so many tests: "+join(alone, 6))
	}
	if advised {
		lines = append(lines, Peeking)
	}
	return append(cannot.order, lines...)
}

// ladderNotes lists what a reader should know besides.
func ladderNotes(p LadderPage) []string {
	l := p.Ladder
	var lines []string
	if len(l.LeftOut) > 0 {
		lines = append(lines, "not in the suite: "+Clean(join(each(l.LeftOut, withoutRun), 12)))
	}
	for _, a := range l.SetAside {
		lines = append(lines, asideText(a))
	}
	for _, n := range p.notes() {
		lines = append(lines, Clean(n.Text))
	}
	return lines
}

func ladderHazard(l *ladder.Ladder) bool {
	for _, s := range l.Measured() {
		if Hazard(s.Comparison) {
			return true
		}
	}
	return false
}

// LadderClosing is the line to read first.
func LadderClosing(l *ladder.Ladder) string {
	first, last := Clean(l.Profiles[0]), Clean(l.Profiles[len(l.Profiles)-1])
	s := l.Total.Suite
	if s == nil {
		return fmt.Sprintf("From %s to %s nothing could be pooled: see the notes.", first, last)
	}
	text := ""
	switch v := *s.Verdict; {
	case v == compare.Level:
		text = fmt.Sprintf("%s is level with %s, within %s.", last, first, tolerance(s.Result))
	case v.Settled():
		up, down := direction(s.Result)
		if s.Change < 0 {
			up = down
		}
		text = fmt.Sprintf("%s is %s %s than %s (%s).", last, size(s.Result, s.Change), up, first, intervalText(s.Result))
	default:
		text = fmt.Sprintf("Whether %s differs from %s is not settled: %s.", last, first, intervalText(s.Result))
	}
	if w := l.Works[0]; w.Settled && w.Leader != l.Profiles[len(l.Profiles)-1] {
		text += fmt.Sprintf(" %s is the fastest.", Clean(w.Leader))
	}
	return text
}

// LadderMarkdown is the same for a page.
func LadderMarkdown(w io.Writer, shown LadderPage) error {
	l := shown.Ladder
	m := &markdown{}
	var names []string
	for _, p := range l.Profiles {
		names = append(names, escape(p))
	}
	m.line("## %s", strings.Join(names, " → "))
	m.line("")
	m.line("**%s**", escape(LadderClosing(l)))
	m.line("")
	m.line("%s", escape(ladderTitle(l)))
	m.line("")
	m.line("| step | verdict | change | %s | compared |", escape(intervalHead(l.Total.Comparison)))
	m.line("|---|---|--:|---|---|")
	for _, r := range ladderSuites(l) {
		m.line("| %s | %s | %s | %s | %s |", escape(r.Name()), escape(unicodeGlyphs.signs[*r.Verdict]+" "+string(*r.Verdict)), escape(signed(r, r.Change)), escape(intervalText(r)), escape(counts(r)))
	}
	if len(l.Steps) > 1 {
		m.bullets([]string{"steps multiplied: " + productText(l)})
	}
	m.grid("benchmark", benchmarkGrid(l, unicodeGlyphs))
	m.grid("beside "+l.Profiles[0], costGrid(l))
	for _, part := range []struct {
		title string
		lines []string
	}{{"Speed and cost", frontLines(l)}, {"Which profile for which work", workLines(l)}, {"Not settled", ladderUnsettled(shown)}, {"Notes", ladderNotes(shown)}} {
		if len(part.lines) > 0 {
			m.line("")
			m.line("### %s", part.title)
			m.bullets(part.lines)
		}
	}
	if ladderHazard(l) {
		m.line("")
		m.line("> %s", escape(Caution))
	}
	_, err := io.WriteString(w, m.b.String())
	return err
}

func (m *markdown) grid(head string, g gridTable) {
	if len(g.columns) == 0 {
		return
	}
	row := func(cells []string) {
		for i, c := range cells {
			cells[i] = escape(c)
		}
		m.line("| %s |", strings.Join(cells, " | "))
	}
	m.line("")
	row(append([]string{head}, g.columns...))
	m.line("|---%s|", strings.Repeat("|---", len(g.columns)))
	for _, r := range g.rows {
		cells := []string{r.name}
		for _, c := range r.cells {
			if c.below != "" {
				c.text += " (" + strings.TrimSpace(c.below) + ")"
			}
			cells = append(cells, c.text)
		}
		row(cells)
	}
}

// LadderFormat names the JSON form of a ladder. Its schema is
// schema/ladder.schema.json.
const LadderFormat = "tunegate-ladder-1"

// LadderJSON writes the same as JSON, with every comparison whole.
func LadderJSON(w io.Writer, p LadderPage) error {
	l := p.Ladder
	type step struct {
		From    string        `json:"from"`
		To      string        `json:"to"`
		Suite   *suiteJSON    `json:"suite"`
		Metrics []*resultJSON `json:"metrics"`
	}
	type rung struct {
		Profile      string        `json:"profile"`
		Speed        *suiteJSON    `json:"speed"`
		MinutesSaved *float64      `json:"minutes_saved_an_hour"`
		Power        *suiteJSON    `json:"power"`
		Heat         *suiteJSON    `json:"heat"`
		Energy       *suiteJSON    `json:"energy_a_job"`
		Efficiency   *suiteJSON    `json:"work_per_joule"`
		Front        *ladder.Front `json:"front"`
		BeatenBy     []string      `json:"beaten_by"`
	}
	type work struct {
		Name     string      `json:"name"`
		Mix      bool        `json:"mix"`
		Scores   []string    `json:"scores"`
		Leader   string      `json:"leader"`
		Change   *float64    `json:"change"`
		Interval *[2]float64 `json:"interval"`
		Rivals   []string    `json:"rivals"`
		Settled  bool        `json:"settled"`
		TooFew   int         `json:"takes_at_least,omitempty"`
	}
	steps := func(s *ladder.Step) step {
		return step{s.From, s.To, newSuiteJSON(s.Suite), each(s.Comparison.Results, newResultJSON)}
	}
	out := struct {
		Format     string             `json:"format"`
		Profiles   []string           `json:"profiles"`
		Confidence float64            `json:"confidence"`
		Correction compare.Correction `json:"correction"`
		Resamples  int                `json:"resamples"`
		Seed       uint64             `json:"seed"`
		Policy     string             `json:"policy,omitempty"`
		Scores     []string           `json:"scores"`
		LeftOut    []string           `json:"left_out"`
		Steps      []step             `json:"steps"`
		Total      step               `json:"total"`
		Product    float64            `json:"product"`
		Explained  bool               `json:"product_explained"`
		FrontCost  string             `json:"front_cost,omitempty"`
		FrontOf    []string           `json:"front_of"`
		Rungs      []rung             `json:"rungs"`
		Works      []work             `json:"works"`
		SetAside   []excludedRunJSON  `json:"set_aside"`
		Notes      []noteJSON         `json:"notes"`
		Closing    string             `json:"closing"`
		Caution    string             `json:"caution,omitempty"`
	}{Format: LadderFormat, Profiles: l.Profiles, Confidence: l.Confidence, Correction: l.Correction, Resamples: l.Resamples, Seed: l.Seed, Policy: l.Policy,
		Scores: l.Scores, LeftOut: each(l.LeftOut, withoutRun), Total: steps(l.Total), Product: l.Product, Explained: l.Explained, FrontCost: l.FrontCost, FrontOf: orEmpty(l.FrontOf),
		SetAside: excludedRunsJSON(l.SetAside), Notes: notesJSON(p.notes()), Closing: LadderClosing(l)}
	for _, s := range l.Steps {
		out.Steps = append(out.Steps, steps(s))
	}
	for _, r := range l.Rungs {
		v := rung{Profile: r.Profile, Speed: newSuiteJSON(r.Speed), Power: newSuiteJSON(r.Power), Heat: newSuiteJSON(r.Heat), Energy: newSuiteJSON(r.Energy),
			Efficiency: newSuiteJSON(r.Efficiency), BeatenBy: orEmpty(r.BeatenBy)}
		if r.Front != ladder.NoFront {
			v.Front = &r.Front
		}
		if r.Speed != nil {
			if saved, _ := MinutesSaved(r.Speed); !math.IsNaN(saved) {
				v.MinutesSaved = &saved
			}
		}
		out.Rungs = append(out.Rungs, v)
	}
	for _, k := range l.Works {
		v := work{Name: k.Name, Mix: k.Mix, Scores: orEmpty(k.Scores), Leader: k.Leader, Rivals: orEmpty(k.Rivals), Settled: k.Settled, TooFew: k.TooFew}
		if k.Gain != nil {
			v.Change, v.Interval = &k.Gain.Change, k.Gain.Interval
		}
		out.Works = append(out.Works, v)
	}
	if ladderHazard(l) {
		out.Caution = Caution
	}
	return encode(w, out)
}
