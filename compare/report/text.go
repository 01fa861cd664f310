package report

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
	"tunegate/compare/report/doc"
)

// TextOptions say how the terminal form looks.
type TextOptions struct {
	Width  int  // columns; below 60 counts as 60
	Color  bool // verdicts and intervals in colour, besides sign and word
	Plain  bool // ASCII only
	Detail bool // test, p values, superiority, blind spots
}

// wide is the width from which a metric fits on one line.
const wide = 120

// Text writes a comparison for people: tables first, then what is not settled,
// then notes, and last the line to read first.
func Text(w io.Writer, c ComparisonPage, opt TextOptions) error {
	return doc.Text(w, ComparisonDocument(c, Origin{}), doc.TextOptions(opt))
}

// comparison writes everything but the heading and the last line.
func (t *terminal) comparison(p ComparisonPage) {
	c := p.Comparison
	t.facts(c)
	for _, block := range blocksOf(c) {
		t.block(c, block)
	}
	t.unsettled(p)
	t.notes(p)
}

func newTerminal(opt TextOptions) *terminal {
	t := &terminal{opt: opt, g: unicodeGlyphs}
	if opt.Plain {
		t.g = plainGlyphs
	}
	t.opt.Width = max(opt.Width, 60)
	return t
}

// flush writes what was collected, in ASCII where that is wanted.
func (t *terminal) flush(w io.Writer) error {
	out := t.b.String()
	if t.opt.Plain {
		out = ascii(out)
	}
	_, err := io.WriteString(w, out)
	return err
}

type terminal struct {
	b   strings.Builder
	opt TextOptions
	g   glyphs
}

// ascii spells what units need and puts a question mark for every other
// character that names may hold.
func ascii(s string) string {
	s = strings.NewReplacer("°", "deg", "µ", "u", "±", "+-").Replace(s)
	return strings.Map(func(r rune) rune {
		if r > unicode.MaxASCII {
			return '?'
		}
		return r
	}, s)
}

func (t *terminal) line(format string, args ...any) { fmt.Fprintf(&t.b, format+"\n", args...) }

// plain is a text as it will stand on the screen, so that it can be measured.
func (t *terminal) plain(s string) string {
	if t.opt.Plain {
		return ascii(s)
	}
	return s
}

// painted writes wrapped text in colour.
func (t *terminal) painted(c text.Colors, s string) {
	for _, l := range t.wrapped(s, t.opt.Width) {
		t.line("%s", t.paint(c, l))
	}
}

// paragraph writes wrapped text, indented after its first line.
func (t *terminal) paragraph(first, rest, s string) {
	for i, l := range t.wrapped(s, t.opt.Width-text.StringWidthWithoutEscSequences(rest)) {
		lead := rest
		if i == 0 {
			lead = first
		}
		t.line("%s%s", lead, l)
	}
}

// wrapped breaks a text into lines, but no number from its per cent sign.
func (t *terminal) wrapped(s string, width int) []string {
	const noBreak = "\uE000" // of one column, and in no name (Clean)
	s = strings.ReplaceAll(t.plain(s), " %", noBreak+"%")
	lines := strings.Split(text.WrapSoft(s, width), "\n")
	for i, l := range lines {
		lines[i] = strings.ReplaceAll(strings.TrimRight(l, " "), noBreak, " ")
	}
	return lines
}

func (t *terminal) paint(c text.Colors, s string) string {
	if !t.opt.Color || s == "" {
		return s
	}
	return text.Escape(s, c.EscapeSeq()) // Sprint would ask the environment once more
}

// correctionName is what a correction is called after; empty for none.
func correctionName(c compare.Correction) string {
	return map[compare.Correction]string{compare.Holm: "Holm", compare.BenjaminiHochberg: "Benjamini-Hochberg"}[c]
}

// facts states what the verdicts rest on, and what else is given.
func (t *terminal) facts(c *compare.Comparison, more ...string) {
	facts := []string{level(c.Confidence) + " % confidence"}
	if c.Looks > 1 {
		facts[0] = fmt.Sprintf("look %d of %d, judged at %s %% so that all looks together keep %s %%", c.Look, c.Looks, level(c.Confidence), level(c.Overall))
	}
	if c.Family > 1 {
		how := correctionName(c.Correction)
		if how == "" {
			facts = append(facts, fmt.Sprintf("%d scores, not corrected for their number", c.Family))
		} else {
			facts = append(facts, fmt.Sprintf("%d scores corrected together (%s)", c.Family, how))
		}
	}
	facts = append(append(facts, more...), toleranceFacts(c)...)
	if c.Policy != "" {
		facts = append(facts, "policy "+Clean(c.Policy))
	}
	t.paragraph("", "", strings.Join(facts, "; "))
}

// toleranceFacts states the tolerance of all scores where it is one, else that
// it differs.
func toleranceFacts(c *compare.Comparison) []string {
	seen := map[string]bool{}
	var out []string
	for _, r := range c.Results {
		if r.Role != compare.Score || r.Tolerance == nil {
			continue
		}
		s := "tolerance " + tolerance(r)
		if r.ToleranceFrom == "default" {
			s += " (default)"
		}
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	if len(out) > 2 {
		return []string{"tolerances by benchmark"}
	}
	return out
}

// block is a table with one scale: results of one role whose changes have one
// unit.
type block struct {
	title   string
	head    string // of the names; empty for "benchmark"
	results []*compare.Result
}

func blocksOf(c *compare.Comparison) []block {
	titles := map[compare.Role]string{
		compare.Score: "Scores: plus means better",
		compare.Cost:  "Costs: plus means more",
		compare.Info:  "Shown, never judged: plus means more",
	}
	var out []block
	for _, role := range []compare.Role{compare.Score, compare.Cost, compare.Info} {
		var units []string
		by := map[string][]*compare.Result{}
		for _, r := range c.Results {
			if r.Role != role {
				continue
			}
			unit, _ := percentOr(r)
			if by[unit] == nil {
				units = append(units, unit)
			}
			by[unit] = append(by[unit], r)
		}
		for i, unit := range units {
			b := block{results: by[unit]}
			if i == 0 {
				b.title = titles[role]
			}
			out = append(out, b)
		}
	}
	if c.Suite != nil {
		b := block{title: suiteTitle(c.Suite), results: []*compare.Result{c.Suite.Result}}
		for _, s := range c.Classes {
			b.results = append(b.results, s.Result)
		}
		out = append(out, b)
	}
	return out
}

// suiteTitle says what the suite is the mean of.
func suiteTitle(s *compare.Suite) string {
	mean := "geometric mean"
	for _, w := range s.Weights {
		if w != s.Weights[0] {
			mean = "weighted geometric mean"
		}
	}
	return fmt.Sprintf("Suite: %s of %s; plus means better", mean, plural(len(s.Scores), "score"))
}

func (t *terminal) block(c *compare.Comparison, b block) {
	if b.title != "" {
		t.line("")
		t.painted(text.Colors{text.Bold}, b.title)
	}
	if b.head == "" {
		b.head = "benchmark"
	}
	if t.opt.Plain {
		spelled := make([]*compare.Result, len(b.results))
		for i, r := range b.results {
			spelled[i] = renamed(r, compare.MetricID{Benchmark: ascii(r.Benchmark), Metric: ascii(r.Metric.Metric)}, ascii(r.Unit))
		}
		b.results = spelled
	}
	names, stripWidth, oneLine, verdictBelow := t.layout(c, b.results)
	scale := reach(b.results)

	tw := table.NewWriter()
	style := table.Style{Name: "house", Box: table.BoxStyle{PaddingLeft: "", PaddingRight: "  "}, Options: table.OptionsNoBordersAndSeparators}
	style.Format.Header = text.FormatDefault
	tw.SetStyle(style)
	head := table.Row{b.head, "verdict", "change", intervalHead(c), scaleHead(b.results[0], scale, stripWidth)}
	if verdictBelow {
		head = append(head[:1], head[2:]...)
	}
	if oneLine {
		head = table.Row{b.head, "before", "after", "compared", "verdict", "change", intervalHead(c), scaleHead(b.results[0], scale, stripWidth), measuredHead(b.results)}
	}
	tw.AppendHeader(head)
	right := []int{3}
	switch {
	case oneLine:
		right = []int{2, 3, 6}
	case verdictBelow:
		right = []int{2}
	}
	var configs []table.ColumnConfig
	for _, n := range right {
		configs = append(configs, table.ColumnConfig{Number: n, Align: text.AlignRight, AlignHeader: text.AlignRight})
	}
	tw.SetColumnConfigs(configs)
	var below []string
	for _, r := range b.results {
		name := snip(Clean(r.Name()), names, t.g.dots)
		l, m, rest := strip(r, scale, stripWidth, t.g)
		color := colorOf(r)
		drawn := l + t.paint(color, m) + rest
		verdict := t.paint(color, t.verdict(r))
		if oneLine {
			tw.AppendRow(table.Row{name, median(r, r.Before.Side), median(r, r.After.Side), counts(r), verdict, signed(r, r.Change), intervalText(r), drawn, asMeasured(r)})
			continue
		}
		ends, ranged := endsText(r)
		second := medians(r, t.g.arrow)
		if s := asMeasured(r); s != "" {
			second += ", " + s
		}
		second += "; " + counts(r)
		if ranged != "" {
			second += "; range, " + ranged
		}
		if verdictBelow {
			tw.AppendRow(table.Row{name, signed(r, r.Change), ends, drawn})
			below = append(below, t.faint("  "+verdict+"  ", second))
			continue
		}
		tw.AppendRow(table.Row{name, verdict, signed(r, r.Change), ends, drawn})
		below = append(below, t.faint("  ", second))
	}
	lines := strings.Split(tw.Render(), "\n")
	for i, l := range lines {
		l = strings.TrimRight(l, " ")
		if i == 0 {
			l = t.paint(text.Colors{text.Faint}, l)
		}
		t.line("%s", l)
		if i > 0 && !oneLine && i-1 < len(below) {
			t.line("%s", below[i-1])
		}
	}
	if t.opt.Detail {
		t.detail(b)
	}
}

// renamed is a result under another name and unit.
func renamed(r *compare.Result, id compare.MetricID, unit string) *compare.Result {
	result, m, pair := *r, *r.Measurement, *r.Pair
	pair.Benchmark, pair.Metric.Metric, pair.Unit = id.Benchmark, id.Metric, unit
	m.Pair, result.Measurement = &pair, &m
	return &result
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
func (t *terminal) layout(c *compare.Comparison, rs []*compare.Result) (names, strip int, oneLine, verdictBelow bool) {
	column := func(head string, cell func(*compare.Result) string) int {
		n := runeWidth(head)
		for _, r := range rs {
			n = max(n, runeWidth(cell(r)))
		}
		return n
	}
	share := func(longest, least, others int) (names, strip int) {
		names = min(longest, max(t.opt.Width-others-narrowest, least))
		strip = min(t.opt.Width-others-names, widest)
		return names, strip - (1 - strip&1) // odd, so that zero has a column of its own
	}
	longest := column("benchmark", func(r *compare.Result) string { return Clean(r.Name()) })
	change := column("change", func(r *compare.Result) string { return signed(r, r.Change) }) + 2
	verdict := column("verdict", t.verdict) + 2
	if t.opt.Width >= wide {
		others := change + verdict + column(intervalHead(c), intervalText) + 4
		for head, cell := range map[string]func(*compare.Result) string{
			"before":         func(r *compare.Result) string { return median(r, r.Before.Side) },
			"after":          func(r *compare.Result) string { return median(r, r.After.Side) },
			"compared":       counts,
			measuredHead(rs): asMeasured,
		} {
			others += column(head, cell) + 2
		}
		if names, strip = share(min(longest, 40), 14, others); strip >= narrowest {
			return names, strip, true, false
		}
	}
	others := change + column(intervalHead(c), func(r *compare.Result) string { ends, _ := endsText(r); return ends }) + 4
	if longest+others+verdict+narrowest <= t.opt.Width {
		names, strip = share(longest, 14, others+verdict)
		return names, strip, false, false
	}
	if names, strip = share(longest, 14, others); strip < narrowest {
		names, strip = share(longest, len("benchmark"), others)
	}
	return names, max(strip, 5), false, true
}

// faint is a text behind a lead, in lines that keep to the width.
func (t *terminal) faint(lead, s string) string {
	lines := strings.Split(text.WrapSoft(s, t.opt.Width-runeWidth(lead)), "\n")
	for i, l := range lines {
		lines[i] = lead + t.paint(text.Colors{text.Faint}, strings.TrimRight(l, " "))
		lead = "    "
	}
	return strings.Join(lines, "\n")
}

func intervalHead(c *compare.Comparison) string { return level(c.Confidence) + " % interval" }

// measuredHead is empty where no score is better low.
func measuredHead(rs []*compare.Result) string {
	head := ""
	for _, r := range rs {
		switch {
		case r.TimeSaved != nil:
			return "time"
		case asMeasured(r) != "":
			head = "measured"
		}
	}
	return head
}

// scaleHead labels the ends and the zero of the strips.
func scaleHead(r *compare.Result, scale float64, width int) string {
	_, factor := percentOr(r)
	end := compare.Decimal(scale*factor, compare.Places(scale*factor/10))
	end = strings.TrimSuffix(strings.TrimRight(end, "0"), ".")
	if !strings.Contains(compare.Decimal(scale*factor, compare.Places(scale*factor/10)), ".") {
		end = compare.Decimal(scale*factor, 0)
	}
	left, right := "-"+end, "+"+end
	half := (width - 1) / 2
	if len(left)+len(right)+3 > width {
		return strings.Repeat(" ", half) + "0"
	}
	return left + strings.Repeat(" ", half-len(left)) + "0" + strings.Repeat(" ", half-len(right)) + right
}

func (t *terminal) verdict(r *compare.Result) string {
	if r.Verdict == nil {
		return "not judged"
	}
	return t.g.signs[*r.Verdict] + " " + string(*r.Verdict)
}

func colorOf(r *compare.Result) text.Colors {
	if r.Verdict == nil {
		return text.Colors{text.Faint}
	}
	return map[compare.Verdict]text.Colors{
		compare.Uplift:     {text.Bold, text.FgGreen},
		compare.SlightGain: {text.FgGreen},
		compare.Level:      {text.FgCyan},
		compare.Noise:      {text.FgYellow},
		compare.SlightLoss: {text.FgRed},
		compare.Regression: {text.Bold, text.FgRed},
	}[*r.Verdict]
}

func runeWidth(s string) int { return text.StringWidthWithoutEscSequences(s) }

// snip shortens a name in its middle: its end tells metrics of one benchmark
// apart.
func snip(s string, width int, dots string) string {
	if runeWidth(s) <= width || width < 8 {
		return text.Snip(s, width, dots)
	}
	r := []rune(s)
	head, tail := text.Snip(s, width/3, ""), ""
	for i := len(r) - 1; i >= 0; i-- {
		if next := string(r[i:]); runeWidth(head+dots+next) <= width {
			tail = next
			continue
		}
		break
	}
	return head + dots + tail
}

// detail lists what an expert asks for.
func (t *terminal) detail(b block) {
	for _, r := range b.results {
		statistic := ""
		switch r.Test {
		case compare.TestMannWhitney:
			statistic = "U = " + compare.Decimal(r.Statistic, 12)
		case compare.TestSignedRank:
			statistic = "W = " + compare.Decimal(r.Statistic, 12)
		case compare.TestVanElteren:
			statistic = "T = " + compare.Decimal(r.Statistic, 4)
		}
		spot := "no loss of any size could be caught"
		if r.BlindSpot != nil {
			spot = "blind spot " + size(r, *r.BlindSpot)
		}
		t.paragraph("  ", "    ", fmt.Sprintf("%s: %s %s, p = %s, verdict p = %s, adjusted %s, smallest reachable %s; after is better in %s %% of pairs; %s; interval: %s",
			Clean(r.Name()), r.Test+" ("+r.Method+")", statistic, probability(r.P), probability(r.PVerdict), probability(r.PAdjusted), probability(r.MinP),
			compare.Decimal(100*r.Superiority, 1), spot, orNone(r.IntervalMethod)))
	}
}

func orNone(s string) string {
	if s == "" {
		return "none exists at this confidence"
	}
	return s
}

// mostNoise is up to how many unsettled metrics get a sentence each.
const mostNoise = 6

// unsettledSentences collects what could still hide; metrics with the same
// sentence share it, and many on one scale share a summary. advised is set
// where more runs are.
func unsettledSentences(p ComparisonPage) (cannot, noise sentences, advised bool) {
	c := p.Comparison
	byUnit := map[string][]*compare.Result{}
	kind := func(r *compare.Result) string {
		unit, _ := percentOr(r)
		return fmt.Sprint(r.Role, unit, r.Parts != nil)
	}
	for _, r := range c.Judged() {
		if Unsettled(r) != "" {
			byUnit[kind(r)] = append(byUnit[kind(r)], r)
			advised = advised || r.Needed != nil
		}
		if s := p.Commands.cannotSettle(c.Confidence, r, "score"); s != "" {
			cannot.add(s, Clean(r.Name()))
		}
	}
	for _, r := range c.Judged() {
		if Unsettled(r) == "" {
			continue
		}
		if many := byUnit[kind(r)]; len(many) > mostNoise {
			noise.add(unsettledSummary(many), Clean(r.Name()))
		} else {
			noise.add(Unsettled(r), Clean(r.Name()))
		}
	}
	return cannot, noise, advised
}

// openLines are those sentences, each with the names that it is about.
func openLines(p ComparisonPage) (lines []string, advised bool) {
	cannot, noise, advised := unsettledSentences(p)
	for _, list := range []sentences{cannot, noise} {
		for _, s := range list.order {
			lines = append(lines, join(list.names[s], 6)+": "+s)
		}
	}
	return lines, advised
}

// unsettledSummary is one sentence for many metrics on one scale.
func unsettledSummary(rs []*compare.Result) string {
	var loss, gain, few, many *compare.Result
	var worst, best float64
	for _, r := range rs {
		if lo, hi, ok := r.GainInterval(); ok {
			if lo < worst {
				worst, loss = lo, r
			}
			if hi > best {
				best, gain = hi, r
			}
		}
		if r.Needed != nil {
			if few == nil || *r.Needed < *few.Needed {
				few = r
			}
			if many == nil || *r.Needed > *many.Needed {
				many = r
			}
		}
	}
	text := "noise; each row's interval says what could still hide"
	if loss != nil {
		text += fmt.Sprintf(", at most a loss of %s (%s)", size(loss, worst), Clean(loss.Name()))
	}
	if gain != nil {
		text += fmt.Sprintf(", at most a gain of %s (%s)", size(gain, best), Clean(gain.Name()))
	}
	switch {
	case few != nil && few == many:
		text += fmt.Sprintf("; about %s would settle the tolerance in %s", perSide(few, *few.Needed), Clean(few.Name()))
	case few != nil:
		text += fmt.Sprintf("; from about %s (%s) to about %s (%s) would settle the tolerance", perSide(few, *few.Needed), Clean(few.Name()), perSide(many, *many.Needed), Clean(many.Name()))
	}
	return text
}

func (t *terminal) unsettled(p ComparisonPage) {
	cannot, noise, advised := unsettledSentences(p)
	if len(noise.order) == 0 {
		return
	}
	t.line("")
	t.line("%s", t.paint(text.Colors{text.Bold}, "Not settled"))
	for _, s := range cannot.order {
		names := ""
		if len(cannot.order) > 1 {
			names = join(cannot.names[s], 6) + ": "
		}
		t.paragraph("  ", "    ", names+s)
	}
	for _, s := range noise.order {
		t.paragraph("  ", "    ", join(noise.names[s], 6)+": "+s)
	}
	if advised {
		t.paragraph("  ", "    ", Peeking)
	}
}

// sentences groups names under equal sentences, in order of appearance.
type sentences struct {
	order []string
	names map[string][]string
}

func (s *sentences) add(sentence, name string) {
	if s.names == nil {
		s.names = map[string][]string{}
	}
	if s.names[sentence] == nil {
		s.order = append(s.order, sentence)
	}
	s.names[sentence] = append(s.names[sentence], name)
}

func join(names []string, most int) string {
	if len(names) > most {
		return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
	}
	return strings.Join(names, ", ")
}

func (t *terminal) notes(p ComparisonPage) {
	lines := Notes(p)
	if len(lines) == 0 {
		return
	}
	t.line("")
	t.line("%s", t.paint(text.Colors{text.Bold}, "Notes"))
	for _, l := range lines {
		t.paragraph("  ", "    ", l)
	}
}

// Notes lists everything a reader should know besides verdicts: metrics
// without a partner, runs set aside, notes of the comparison and of its
// metrics, the same sentence once.
func Notes(p ComparisonPage) []string {
	c := p.Comparison
	var lines []string
	for _, side := range []string{"before", "after"} {
		if names := onlyOn(side, c.Unpaired); len(names) > 0 {
			lines = append(lines, "only "+side+": "+Clean(join(names, 12)))
		}
	}
	for _, a := range c.SetAside {
		lines = append(lines, asideText(a))
	}
	for _, n := range p.notes() {
		lines = append(lines, Clean(n.Text))
	}
	if c.Suite != nil && len(c.Suite.LeftOut) > 0 {
		lines = append(lines, "not in the suite: "+Clean(join(each(c.Suite.LeftOut, omissionText), 12)))
	}
	var by sentences
	judgedCosts := true
	for _, r := range c.Judged() {
		for _, n := range r.Notes {
			by.add(ComparisonNote(n).Text, Clean(r.Name()))
		}
		judgedCosts = judgedCosts && (r.Role != compare.Cost || r.Decides)
	}
	for _, s := range by.order {
		lines = append(lines, join(by.names[s], 6)+": "+Clean(s))
	}
	if !judgedCosts {
		lines = append(lines, "a cost without a stated tolerance never changes the exit status")
	}
	return lines
}

// asideText is a run that does not count, and why.
func asideText(a compare.ExcludedRun) string {
	where := ""
	if a.Session != "" {
		where += ", session " + a.Session
	}
	if a.Run != "" {
		where += ", run " + a.Run
	}
	return Clean(fmt.Sprintf("set aside: %s, %s%s: %s", a.Profile, a.Benchmark, where, a.Reason))
}

func (t *terminal) closing(c *compare.Comparison) {
	t.line("")
	if Hazard(c) {
		t.paragraph("", "", Caution)
		t.line("")
	}
	color := text.Colors{text.Bold}
	if len(c.Regressions()) > 0 {
		color = append(color, text.FgRed)
	}
	t.painted(color, Closing(c))
}
