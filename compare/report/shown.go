package report

import (
	"fmt"
	"slices"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/doubts"
	"tunegate/compare/gate"
	"tunegate/compare/ladder"
)

// ComparisonPage is a comparison with what else is known about its data. Nil
// Doubts mean that nobody looked.
type ComparisonPage struct {
	*compare.Comparison
	Doubts  *doubts.Report
	Reading []compare.Note // what reading the runs brought up
}

func (p ComparisonPage) notes() []compare.Note {
	return slices.Concat(p.Comparison.Notes, doubtsNotes(p.Doubts), p.Reading)
}

// LadderPage is a ladder with what reading the runs brought up.
type LadderPage struct {
	*ladder.Ladder
	Reading []compare.Note
}

func (p LadderPage) notes() []compare.Note {
	return slices.Concat(p.Ladder.Notes, doubtsNotes(p.Doubts), p.Reading)
}

// ClaimsPage is a page of claims with what reading the runs brought up.
type ClaimsPage struct {
	*claims.Page
	Reading []compare.Note
}

// judgedPage is the comparison of one profile within a gate.
func judgedPage(j *gate.Judgement) ComparisonPage {
	return ComparisonPage{Comparison: j.Comparison, Doubts: j.Doubts}
}

// doubtsNotes says in one line what looks unsafe about the data.
func doubtsNotes(v *doubts.Report) []compare.Note {
	if v == nil {
		return nil
	}
	s := v.Summary()
	if s == "" {
		return nil
	}
	return []compare.Note{{Kind: "vet", Text: fmt.Sprintf("look at the data first: %s (tunegate vet has the evidence)", s)}}
}

// findings are those of a report; none of nil.
func findings(v *doubts.Report) []doubts.Finding {
	if v == nil {
		return nil
	}
	return v.Findings
}
