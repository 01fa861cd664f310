package report

import (
	"fmt"
	"slices"

	"tunegate/compare"
	"tunegate/compare/report/doc"
)

// verdicts are all of them, in the order of legends: those of scores, then of costs.
var verdicts = []compare.Verdict{compare.Uplift, compare.SlightGain, compare.Level, compare.Hint, compare.Noise,
	compare.SlightLoss, compare.Regression,
	compare.Rise, compare.SlightRise, compare.SlightFall, compare.Fall}

// tones are those of verdicts of scores, and of costs that are better high.
var tones = map[compare.Verdict]doc.Tone{
	compare.Uplift:     doc.BigGain,
	compare.SlightGain: doc.SmallGain,
	compare.Level:      doc.Level,
	compare.Hint:       doc.Hint,
	compare.Noise:      doc.Open,
	compare.SlightLoss: doc.SmallLoss,
	compare.Regression: doc.BigLoss,
	compare.Rise:       doc.BigGain,
	compare.SlightRise: doc.SmallGain,
	compare.SlightFall: doc.SmallLoss,
	compare.Fall:       doc.BigLoss,
}

// lowCostTones are those of costs that are better low, where they differ.
var lowCostTones = map[compare.Verdict]doc.Tone{
	compare.Rise:       doc.BigRise,
	compare.SlightRise: doc.SmallRise,
	compare.SlightFall: doc.SmallFall,
	compare.Fall:       doc.BigFall,
}

// toneOf is that of a result's verdict: its sign says the direction, its colour
// whether that is better or worse.
func toneOf(r *compare.Result) doc.Tone {
	if r.Verdict == nil {
		return doc.Faint
	}
	if tone, ok := lowCostTones[*r.Verdict]; ok && r.Better == compare.Lower {
		return tone
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
	d := doc.Document{Heading: doc.Line{Text: about, Tone: doc.Strong}, Basis: basis(c), Sections: comparisonSections(p),
		Closing: doc.Line{Text: Closing(c), Tone: doc.Strong},
		Page:    doc.Head{Headline: comparisonHeadline(c, c.Before, c.After), Lead: []string{Closing(c)}}}
	if len(c.Failures()) > 0 {
		d.Closing.Tone = doc.Bad
	}
	d.Caution = caution(comparisonHazard(c))
	d.Sections = append(d.Sections, originSection(from, c.Seed, c.Resamples))
	return d
}

// comparisonSections are the sections of a comparison, alone or within a gate.
func comparisonSections(p ComparisonPage) []doc.Section {
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
		methodSection(c.Correction, c.Family.Members(), c.Judged(), levelNote(c)...),
		notesSection(append(adviceNotes(p), comparisonNotes(p)...)),
		{Kind: doc.Method, Blocks: []doc.Block{factsOf(methodFacts(c))}},
		p.Commands.dataSection(findings(p.Doubts), comparisonNotes(p)),
	}
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
		for i, r := range b.results {
			if adviceInRow(r) {
				t.Rows[i].Advice = settling(r)
			}
		}
		t.Title, t.Label = b.title, title
		out = append(out, t)
	}
	return out
}

// changesTable has a row a result; head is that of the names.
func changesTable(head string, confidence float64, results []*compare.Result) doc.Changes {
	t := doc.Changes{Head: head, Interval: confidencePercent(confidence) + " % interval", Measured: measuredHead(results)}
	for _, r := range results {
		_, t.Factor = percentOr(r)
		t.Rows = append(t.Rows, changeRow(r))
	}
	// Where every row has a range of one confidence, the head says so.
	ranged := t.Rows[0].Ranged
	if ranged != "" && !slices.ContainsFunc(t.Rows, func(r doc.Change) bool { return r.Ranged != ranged }) {
		t.Interval = ranged + " range"
		for i := range t.Rows {
			t.Rows[i].Ranged = ""
		}
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
	s := doc.Span{At: r.Change, Ends: r.Interval, Places: changePlaces(r)}
	s.Unit, _ = percentOr(r)
	if s.Ends == nil {
		s.Ends, s.Range = r.Range, true
	}
	if r.Tolerance != nil {
		s.Tolerance = *r.Tolerance
	}
	return s
}

// openSection says what is not settled, and what would settle it, unless the rows
// of the tables do.
func openSection(p ComparisonPage) doc.Section {
	return listSection(doc.NotSettled, "Not settled", openLines(p, func(r *compare.Result) bool { return !adviceInRow(r) }))
}

// adviceInRow reports whether a row of a table says what would settle it; its
// interval says what is possible until then.
func adviceInRow(r *compare.Result) bool {
	return settling(r) != ""
}

// block is a table with one scale: results of one role whose changes have one
// unit.
type block struct {
	title   string
	results []*compare.Result
}

func blocksOf(c *compare.Comparison) []block {
	titles := map[compare.Role]string{
		compare.Score: "Scores: plus means better",
		compare.Cost:  "Costs: plus means more",
		compare.Info:  "For information: plus means more",
	}
	if costsFailNothing(c) {
		titles[compare.Cost] += "; without a tolerance none fails"
	}
	groups := groupsOf(c.Results, func(r *compare.Result) [2]string {
		unit, _ := percentOr(r)
		return [2]string{string(r.Role), unit}
	})
	var out []block
	for _, role := range []compare.Role{compare.Score, compare.Cost, compare.Info} {
		for _, results := range groups {
			if results[0].Role == role {
				out = append(out, block{titles[role], results})
				titles[role] = "" // said once
			}
		}
	}
	if c.Suite != nil {
		b := block{title: "Suite: " + meanText(c.Suite.Weights), results: []*compare.Result{c.Suite.Result}}
		for _, s := range c.Classes {
			b.results = append(b.results, s.Result)
		}
		out = append(out, b)
	}
	return out
}

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

// summarySection says of every score and cost what is known, what is open, and
// what would settle it.
func summarySection(p ComparisonPage) doc.Section {
	c := p.Comparison
	var sure, costs []string
	for _, r := range c.Results {
		if r.Verdict == nil {
			continue
		}
		switch {
		case *r.Verdict == compare.Level:
			sure = append(sure, fmt.Sprintf("%s is level: it changed by less than %s", Clean(r.Name()), tolerance(r)))
		case r.Verdict.Settled() && r.Role == compare.Score:
			sure = append(sure, fmt.Sprintf("%s: %s", finding(r), *r.Verdict))
		case r.Verdict.Settled():
			costs = append(costs, finding(r))
		}
	}
	return doc.Section{Kind: doc.Summary, Blocks: addLists(nil,
		doc.List{Title: "What is settled", Items: doc.Lines(sure)},
		doc.List{Title: "Costs", Items: doc.Lines(costs)},
		doc.List{Title: "Not settled", Items: doc.Lines(append(openLines(p, everyResult), adviceNotes(p)...))})}
}
