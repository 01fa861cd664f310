package report

import (
	"bytes"
	"cmp"
	"fmt"
	"strings"

	"tunegate/compare"
	"tunegate/compare/report/doc"
)

// tones are those of verdicts.
var tones = map[compare.Verdict]doc.Tone{
	compare.Uplift:     doc.BigGain,
	compare.SlightGain: doc.SmallGain,
	compare.Level:      doc.Level,
	compare.Noise:      doc.Open,
	compare.SlightLoss: doc.SmallLoss,
	compare.Regression: doc.BigLoss,
}

// toneOf is that of a result's verdict.
func toneOf(r *compare.Result) doc.Tone {
	if r.Verdict == nil {
		return doc.Faint
	}
	return tones[*r.Verdict]
}

// verdictLine is a result's verdict as a word.
func verdictLine(r *compare.Result) doc.Line {
	if r.Verdict == nil {
		return doc.Line{Text: "not judged", Tone: doc.Faint}
	}
	return doc.Line{Text: string(*r.Verdict), Tone: toneOf(r)}
}

// ComparisonDocument is a comparison for people.
func ComparisonDocument(p ComparisonPage, from Origin) doc.Document {
	c := p.Comparison
	about := c.Before + " " + doc.Arrow + " " + c.After
	d := doc.Document{Heading: doc.Line{Text: about, Tone: doc.Strong}, Basis: basis(c), Sections: comparisonSections(p, from),
		Closing: doc.Line{Text: Closing(c), Tone: doc.Strong}, Page: doc.Head{Headline: comparisonHeadline(c), Lead: []string{Closing(c)}}}
	if len(c.Regressions()) > 0 {
		d.Closing.Tone = doc.Bad
	}
	if Hazard(c) {
		d.Caution = Caution
	}
	d.Sections = append(d.Sections, originSection(from, c.Seed, c.Resamples))
	return d
}

// comparisonSections are the sections of a comparison, alone or within a gate.
func comparisonSections(p ComparisonPage, from Origin) []doc.Section {
	c := p.Comparison
	var changes []doc.Block
	for _, b := range changesOf(c) {
		changes = append(changes, b)
	}
	return []doc.Section{
		summarySection(p),
		picturesSection(func() []*Picture { return ComparisonPictures(c) }),
		{Kind: doc.Numbers, Blocks: changes},
		openSection(p),
		notesSection(Notes(p)),
		{Kind: doc.Method, Blocks: []doc.Block{factsOf(methodFacts(c))}},
		p.Commands.dataSection(findings(p.Doubts), Notes(p)),
	}
}

// section is empty where there are no lines.
func listSection(kind doc.Kind, title string, lines []string) doc.Section {
	if len(lines) == 0 {
		return doc.Section{}
	}
	return doc.Section{Kind: kind, Title: title, Blocks: []doc.Block{doc.List{Items: doc.Lines(lines)}}}
}

func notesSection(lines []string) doc.Section { return listSection(doc.Notes, "Notes", lines) }

// picturesSection draws when a form asks.
func picturesSection(pictures func() []*Picture) doc.Section {
	return doc.Section{Kind: doc.Pictures, Blocks: []doc.Block{doc.Figures(func() []doc.Figure {
		var out []doc.Figure
		for _, p := range pictures() {
			out = append(out, p.figure())
		}
		return out
	})}}
}

// figure is the picture for a page, drawn at the widths that a page needs.
func (p *Picture) figure() doc.Figure {
	f := doc.Figure{Title: p.Title, Caption: p.Caption, Numbers: doc.Table{Head: p.Head},
		Grid: p.columns > 1 && len(p.parts) > 1, Single: len(p.parts) == 1}
	for _, row := range p.Rows {
		f.Numbers.Rows = append(f.Numbers.Rows, textCells(row...))
	}
	f.Draw = func(n int) []string {
		var out []string
		for k, part := range p.parts {
			title, desc := p.Title, p.alt()
			if len(p.parts) > 1 {
				title, desc = part.name, part.desc
			}
			draw := func(width float64, class string) {
				var b bytes.Buffer
				part.draw(width).svg(&b, fmt.Sprintf("picture-%d-%d-%s", n, k+1, class), title, desc, class, "")
				out = append(out, b.String())
			}
			if f.Grid {
				draw(halfWidth, "half")
			} else {
				draw(wideWidth, "wide")
				draw(narrowWidth, "narrow")
			}
		}
		return out
	}
	return f
}

// textCells are cells of plain texts.
func textCells(texts ...string) []doc.Cell {
	out := make([]doc.Cell, len(texts))
	for i, t := range texts {
		out[i].Text = t
	}
	return out
}

// changesOf are the tables of a comparison: one a role and unit, and the suite.
func changesOf(c *compare.Comparison) []doc.Changes {
	var out []doc.Changes
	title := ""
	for _, b := range blocksOf(c) {
		if b.title != "" {
			title = b.title
		}
		t := changesTable("benchmark", c.Confidence, b.results)
		t.Title, t.Label = b.title, title
		out = append(out, t)
	}
	return out
}

// changesTable has a row a result; head is that of the names.
func changesTable(head string, confidence float64, results []*compare.Result) doc.Changes {
	t := doc.Changes{Head: head, Interval: level(confidence) + " % interval", Measured: measuredHead(results)}
	for _, r := range results {
		_, t.Factor = percentOr(r)
		t.Rows = append(t.Rows, changeRow(r))
	}
	return t
}

func changeRow(r *compare.Result) doc.Change {
	ends, ranged := endsText(r)
	return doc.Change{Name: r.Name(), Verdict: verdictLine(r), Judged: r.Verdict != nil,
		Change: signed(r, r.Change), Ends: ends, Ranged: ranged, Span: spanOf(r), Detail: testDetail(r),
		Before: median(r, r.Before.Side), After: median(r, r.After.Side), Compared: counts(r), Measured: asMeasured(r)}
}

// spanOf is what is drawn of a result.
func spanOf(r *compare.Result) doc.Span {
	s := doc.Span{At: r.Change, Ends: r.Interval}
	if s.Ends == nil {
		s.Ends, s.Range = r.Range, true
	}
	if r.Tolerance != nil {
		s.Tolerance = *r.Tolerance
	}
	return s
}

// testDetail is what an expert asks for.
func testDetail(r *compare.Result) string {
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
	return fmt.Sprintf("%s: %s (%s) %s, p = %s, verdict p = %s, adjusted %s, smallest reachable %s; "+
		"after is better in %s %% of pairs; %s; interval: %s", r.Name(), r.Test, r.Method, statistic,
		probability(r.P), probability(r.PUsed), probability(r.PAdjusted), probability(r.MinP),
		compare.Decimal(100*r.Superiority, 1), spot, cmp.Or(r.IntervalMethod, noInterval))
}

// basis states what the verdicts rest on, and what else is given.
func basis(c *compare.Comparison, more ...string) string {
	facts := []string{level(c.Confidence) + " % confidence"}
	if c.Looks > 1 {
		facts[0] = fmt.Sprintf("look %d of %d, judged at %s %% so that all looks together keep %s %%",
			c.Look, c.Looks, level(c.Confidence), level(c.Overall))
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
		facts = append(facts, "policy "+c.Policy)
	}
	return strings.Join(facts, "; ")
}

// openSection says what is not settled, and what would settle it.
func openSection(p ComparisonPage) doc.Section {
	cannot, noise, advised := unsettledSentences(p)
	if len(noise.order) == 0 {
		return doc.Section{}
	}
	var lines []string
	for _, s := range cannot.order {
		if len(cannot.order) > 1 {
			s = compare.List(cannot.names[s], 6) + ": " + s
		}
		lines = append(lines, s)
	}
	for _, s := range noise.order {
		lines = append(lines, compare.List(noise.names[s], 6)+": "+s)
	}
	if advised {
		lines = append(lines, Peeking)
	}
	return listSection(doc.NotSettled, "Not settled", lines)
}
