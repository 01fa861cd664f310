package report

import (
	"slices"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/claims"
	"tunegate/compare/doubts"
	"tunegate/compare/gate"
	"tunegate/compare/history"
	"tunegate/compare/ladder"
)

// ComparisonPage is a comparison with what else is known about its data. Nil
// Doubts mean that the data were not checked.
type ComparisonPage struct {
	*compare.Comparison
	Doubts   *doubts.Report
	Reading  []Note            // notes from reading the runs
	Typed    bool              // the runs are numbers of the command line, which have no columns
	Runs     []*compare.Series // as read, for a workbook
	Commands Commands
}

func (p ComparisonPage) notes() []Note {
	notes := each(p.Comparison.Notes, ComparisonNote)
	for i, n := range p.Comparison.Notes {
		if p.Typed && n.Kind == compare.NoteNoSessions {
			notes[i].Text = "typed numbers: " + oneSitting + " Sessions need a file with a `session` column."
		}
	}
	return slices.Concat(notes, p.Commands.doubtsNotes(p.Doubts), p.Reading)
}

// LadderPage is a ladder with notes from reading the runs.
type LadderPage struct {
	*ladder.Ladder
	Reading  []Note
	Runs     []*compare.Series // as read, for a workbook
	Commands Commands
}

func (p LadderPage) notes() []Note {
	var notes []Note
	for _, n := range p.Ladder.Notes {
		if text := ladderNote(p.Ladder, n); text != "" {
			notes = append(notes, Note{Kind: string(n.Kind), Text: text})
		}
	}
	for _, s := range p.Measured() {
		for _, n := range each(s.Comparison.Notes, ComparisonNote) {
			if !slices.Contains(notes, n) {
				notes = append(notes, n)
			}
		}
	}
	return slices.Concat(notes, p.Commands.doubtsNotes(p.Doubts), p.Reading)
}

// ClaimsPage is a page of claims with notes from reading the runs. Without a claim it
// lists the numbers of pages alone.
type ClaimsPage struct {
	*claims.Page
	Coverage []*claims.Coverage // of the pages that are to be published
	Reading  []Note
	Runs     []*compare.Series // as read, for a workbook
	Commands Commands
}

// GatePage is a gate, with the two states of the repository for a workbook.
type GatePage struct {
	*gate.Gate
	Before, After gate.Snapshot
	Commands      Commands
}

// judged is the comparison of one profile within a gate.
func (p GatePage) judged(j *gate.Judgement) ComparisonPage {
	return ComparisonPage{Comparison: j.Comparison, Doubts: j.Doubts, Commands: p.Commands}
}

// HistoryPage is a history and how far back it was read.
type HistoryPage struct {
	*history.History
	Head    string // "HEAD (1a2b3c4)"
	Commits int    // read
	Earlier bool   // there are older ones
	Missing string // why there may be older ones that the clone lacks
	Each    bool   // show every metric commit by commit, not the suite alone

	Commands Commands
}

// DoubtsPage is what was found about runs.
type DoubtsPage struct {
	*doubts.Report
	Runs     []*compare.Series // as read, for a workbook
	Commands Commands
}

// RerunsPage is a plan of further runs.
type RerunsPage struct {
	*advice.Reruns
	Detail bool // with a plan score by score
	// Sheet is the order of work, and SheetFile where it was written, empty for nowhere.
	Sheet     []advice.SheetRow
	SheetFile string
	WriteIt   string // the call that writes the sheet; empty where none can be written
	JudgeIt   string // the call that judges it once it is filled in
	Commands  Commands
}

// findings are those of a report; none of nil.
func findings(v *doubts.Report) []doubts.Finding {
	if v == nil {
		return nil
	}
	return v.Findings
}
