package report

import (
	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/report/doc"
)

// ClaimsDocument is a page of claims for people.
func ClaimsDocument(p ClaimsPage) doc.Document {
	c := p.Page
	held := doc.Section{Kind: doc.Findings}
	for _, h := range c.Held {
		held.Blocks = append(held.Blocks, doc.Assessment{Verdict: doc.Line{Text: string(h.Verdict), Tone: claimTone(h.Verdict)},
			Quote: h.Text, Points: claimLines(p, h), Detail: claimDetail(h)})
	}
	d := doc.Document{Basis: claimsFacts(c), Sections: []doc.Section{held, notesSection(claimsNotes(p))},
		Closing: doc.Line{Text: ClaimsClosing(c), Tone: claimTone(c.Decisive())}}
	if claimsHazard(c) {
		d.Caution = Caution
	}
	return d
}

// claimTone is that of a claim's verdict.
func claimTone(v claims.Verdict) doc.Tone {
	switch {
	case v.Fails():
		return doc.Bad
	case v == claims.NotSettled:
		return doc.Unsettled
	}
	return doc.Good
}

func claimsHazard(c *claims.Page) bool {
	for _, h := range c.Held {
		if h.Result != nil && compare.ShowsHazard(h.Result.Unit) {
			return true
		}
		for _, f := range []*claims.Figure{h.Change, h.From, h.To} {
			if f != nil && compare.ShowsHazard(f.Unit) {
				return true
			}
		}
	}
	return false
}
