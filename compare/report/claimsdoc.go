package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/english"
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
	d := doc.Document{Sections: []doc.Section{held}, Closing: doc.Line{Text: claimsClosing(p), Tone: pageTone(p)}}
	if len(c.Held) > 0 {
		d.Basis = claimsFacts(c)
	}
	for _, page := range p.Coverage {
		if len(page.Open) > 0 {
			d.Sections = append(d.Sections, listSection(doc.Findings, coverageTitle(p, page), each(page.Open, openNumberText)))
		}
	}
	d.Sections = append(d.Sections, notesSection(claimsNotes(p)))
	d.Caution = caution(claimsHazard(c))
	return d
}

// pageTone is that of the line to read first.
func pageTone(p ClaimsPage) doc.Tone {
	tone := claimTone(p.Decisive())
	if tone == doc.Good && (p.OpenPercentages() > 0 || len(p.Held) == 0) {
		return doc.Unsettled
	}
	return tone
}

// OpenPercentages counts the percentages of the pages that are in no claim.
func (p ClaimsPage) OpenPercentages() (n int) {
	for _, page := range p.Coverage {
		n += page.Percentages()
	}
	return n
}

func coverageTitle(p ClaimsPage, page *claims.Coverage) string {
	if len(p.Held) == 0 {
		return "Numbers of " + Clean(page.File)
	}
	return "Numbers of " + Clean(page.File) + " that no claim covers"
}

// openNumberText is a number of a page with its place and the words around it.
func openNumberText(o claims.OpenNumber) string {
	text := fmt.Sprintf("%s: %s in “%s”", o.At, o.Text, o.Around)
	if o.Same != "" {
		text += fmt.Sprintf("; the same number is claimed in other words: “%s”", o.Same)
	}
	return Clean(text)
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

// claimsFacts states what the verdicts rest on.
func claimsFacts(c *claims.Page) string {
	if len(c.Pairs) == 0 {
		return "held against arithmetic alone: no claim names runs"
	}
	facts := confidencePercent(c.Confidence) + " % confidence"
	if c.Family.Members() > 1 {
		facts += "; " + claimsFamily(c)
	}
	if c.Policy != "" {
		facts += "; policy " + Clean(c.Policy)
	}
	return facts
}

// claimsFamily says what is corrected together, as compare's header does for one pair.
func claimsFamily(c *claims.Page) string {
	facts := familyText(c.Family)
	if len(c.Pairs) > 1 {
		facts += " of " + andList(each(c.Pairs, func(p *claims.Pair) string { return Clean(p.Before) + " and " + Clean(p.After) }))
	}
	facts += " " + decideWords(c.Correction)
	if c.Correction != compare.NoCorrection {
		facts += ", claimed or not"
	}
	return facts
}

// claimLines are the sentences under a claim.
func claimLines(p ClaimsPage, h *claims.Held) []string {
	c := p.Page
	var lines []string
	for _, f := range h.Differences {
		lines = append(lines, Clean(sentenceText(h, f)))
	}
	for _, f := range h.Faults {
		lines = append(lines, f.Kind+": "+Clean(findingText(h, f)))
	}
	if s := claimWhy(p, h); s != "" {
		lines = append(lines, s)
	}
	for _, n := range h.Notes {
		lines = append(lines, Clean(findingText(h, n)))
	}
	if s := claimSentence(c, h); s != "" {
		lines = append(lines, "may be said: "+s)
	}
	if len(h.Unchecked) > 0 {
		lines = append(lines, "not checked: "+Clean(strings.Join(each(h.Unchecked, uncheckedText), "; ")))
	}
	return lines
}

// claimDetail is the test, for experts; empty where only arithmetic was checked.
func claimDetail(h *claims.Held) string {
	r := h.Result
	if r == nil {
		return ""
	}
	return fmt.Sprintf("%s (%s): p = %s, among %s adjusted to %s; interval: %s; at %s", r.Test, r.Method, probability(r.PUsed),
		english.Count(r.Among, "comparison"), probability(r.PAdjusted), cmp.Or(r.IntervalMethod, noInterval), Clean(h.At.String()))
}

// claimsNotes are the notes of the pairs, and of what the claims are about.
func claimsNotes(p ClaimsPage) []string {
	c := p.Page
	var lines []string
	for i, pair := range c.Pairs {
		lead := ""
		if len(c.Pairs) > 1 {
			lead = Clean(pair.Before) + " and " + Clean(pair.After) + ": "
		}
		for _, a := range pair.SetAside {
			lines = append(lines, lead+excludedRunText(a))
		}
		notes := slices.Concat(each(pair.Notes, ComparisonNote), p.Commands.doubtsNotes(pair.Doubts))
		if i == 0 {
			notes = append(notes, p.Reading...)
		}
		for _, n := range notes {
			lines = append(lines, lead+Clean(n.Text))
		}
	}
	var by sentences
	advised := 0
	seen := map[*compare.Result]bool{}
	for _, h := range c.Held {
		if h.Result == nil {
			continue
		}
		advised = max(advised, advisedFor(p, h))
		if seen[h.Result] {
			continue
		}
		seen[h.Result] = true
		for _, n := range h.Result.Notes {
			if n.Kind == compare.NoteLevel { // the verdict says so
				continue
			}
			by.add(ComparisonNote(n).Text, Clean(h.Result.Name()))
		}
	}
	lines = append(lines, by.lines()...)
	if advised > 0 {
		lines = append(lines, judgeAgain(c.Confidence))
	}
	return lines
}

// claimVerdicts are in the order in which the last line counts them.
var claimVerdicts = []claims.Verdict{
	claims.SentenceDiffers, claims.Contradicted, claims.Overstated, claims.WrongArithmetic, claims.NotSettled,
	claims.Understated, claims.Supported,
}

// claimsClosing is the line to read first.
func claimsClosing(p ClaimsPage) string {
	open, total := 0, 0
	for _, page := range p.Coverage {
		open, total = open+len(page.Open), total+page.Total
	}
	if len(p.Held) == 0 {
		return fmt.Sprintf("Nothing was judged. %s with a unit or per cent; write a claim for each that you publish.",
			english.Count(total, "number"))
	}
	head := "Passed"
	switch v := p.Decisive(); {
	case v.Fails():
		head = "Failed"
	case v == claims.NotSettled || p.OpenPercentages() > 0:
		head = "Not settled"
	}
	tally := p.Tally()
	var parts []string
	for _, v := range claimVerdicts {
		if n := tally[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s: %d", v, n))
		}
	}
	closing := fmt.Sprintf("%s. Of %s: %s.", head, english.Count(len(p.Held), "claim"), strings.Join(parts, ", "))
	if len(p.Coverage) > 0 {
		closing += fmt.Sprintf(" Of %s on %s with a unit or per cent, in no claim: %d.", english.Count(total, "number"),
			andList(each(p.Coverage, func(c *claims.Coverage) string { return Clean(c.File) })), open)
	}
	return closing
}
