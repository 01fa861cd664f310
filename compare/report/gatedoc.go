package report

import (
	"tunegate/compare/english"
	"tunegate/compare/gate"
	"tunegate/compare/report/doc"
)

// outcomeTones are those of a gate's outcomes.
var outcomeTones = map[gate.Outcome]doc.Tone{gate.Passed: doc.Good, gate.Failed: doc.Bad, gate.Undecided: doc.Undecided}

// maxReasons is how many reasons a comment lists.
const maxReasons = 50

// GateDocument is a gate for people: the outcome and the reasons first, then each
// judged profile with its comparison.
func GateDocument(p GatePage, from Origin) doc.Document {
	g := p.Gate
	names, policy, closing := g.Base+" "+doc.Arrow+" "+g.Head, policyWords(g), GateClosing(g)
	d := doc.Document{Heading: doc.Line{Text: closing, Tone: outcomeTones[g.Outcome]}, Subject: names + "; policy: " + policy,
		Page: doc.Head{Title: closing, Kicker: "Gate: " + names, Headline: closing, Lead: []string{"Policy: " + policy + "."}}}
	var reasons, spots []doc.Item
	for _, r := range against(g.Reasons) {
		reasons = append(reasons, doc.Item{Name: subject(r), Line: doc.Line{Text: p.Commands.reasonText(r)}})
	}
	seed, resamples := uint64(0), 0
	for _, j := range g.Judged {
		if s := blindSpotText(j); s != "" {
			spots = append(spots, doc.Item{Name: j.Profile, Line: doc.Line{Text: s}})
		}
		if c := j.Comparison; c != nil {
			seed, resamples = c.Seed, c.Resamples
		}
		d.Parts = append(d.Parts, p.part(j))
	}
	notes := gateNotes(p)
	d.Sections = []doc.Section{
		{Kind: doc.Summary, Blocks: []doc.Block{
			doc.List{Title: "What speaks against it", Class: "against", Items: reasons},
			doc.List{Title: "What could have gone unseen", Items: spots},
			doc.List{Title: "Notes", Items: doc.Lines(notes)},
		}},
		itemsSection(doc.Reasons, "", doc.List{Items: reasons, Numbered: true, Max: maxReasons}),
		itemsSection(doc.Reasons, "", doc.List{Items: spots}),
		listSection(doc.Notes, "", notes),
		originSection(from, seed, resamples),
	}
	d.Caution = caution(gateHazard(g))
	return d
}

// part is a judged profile; without a comparison it has no sections.
func (p GatePage) part(j *gate.Judgement) doc.Part {
	out := doc.Part{Name: j.Profile, Heading: doc.Line{Text: j.Profile + ": " + string(j.Outcome), Tone: outcomeTones[j.Outcome]},
		Lead: judgedAs(j), Warnings: p.warnings(j)}
	c := j.Comparison
	if c == nil {
		return out
	}
	out.Basis, out.Folded = basis(c), english.Count(len(c.Results), "metric")
	closing := doc.Section{Kind: doc.Summary, Blocks: []doc.Block{doc.Paragraph{Line: doc.Line{Text: Closing(c)}}}}
	out.Sections = append([]doc.Section{closing}, comparisonSections(p.judged(j))...)
	return out
}
