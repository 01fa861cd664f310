package report

import (
	"cmp"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/report/doc"
	"tunegate/compare/report/table"
)

var judgedColumns = []table.Column{
	{Name: "profile", Kind: table.Words, Meaning: "the profile that is judged"},
	{Name: "question", Kind: table.Words, Meaning: "why it is judged"},
	{Name: "outcome", Kind: table.Verdict, Meaning: "the gate's outcome for this profile"},
	{Name: "against", Kind: table.Words, Meaning: "change, or anchor: what it is measured against"},
}

// GateTables has the rows of each comparison.
func GateTables(p GatePage) Tables {
	t := p.rows()
	var rows [][]table.Cell
	for _, j := range p.Judged {
		lead := func(against string) []table.Cell {
			return []table.Cell{table.Text(j.Profile), table.Text(string(j.Question)), outcomeCell(j.Outcome), table.Text(against)}
		}
		if j.Comparison != nil {
			rows = append(rows, t.comparison(j.Comparison, lead("change")...)...)
		}
		if j.SinceAnchor != nil {
			rows = append(rows, t.comparison(j.SinceAnchor, lead("anchor")...)...)
		}
	}
	return Tables{Figures: figures(rows, judgedColumns, resultColumns),
		More:     []table.Table{p.reasonsTable(), p.runsTable()},
		Pictures: func() []*Picture { return changesPictures(GatePictures(p.Gate)) }}
}

// rows makes rows of all comparisons of the gate, which are judged together.
func (p GatePage) rows() resultRows {
	var together []*compare.Comparison
	var terms compare.Terms
	for _, j := range p.Judged {
		if j.Comparison != nil {
			together, terms = append(together, j.Comparison), j.Comparison.Terms
		}
		if j.SinceAnchor != nil {
			together = append(together, j.SinceAnchor)
		}
	}
	return rowsOf(terms, together...)
}

func outcomeCell(o gate.Outcome) table.Cell {
	tone := map[gate.Outcome]doc.Tone{gate.Passed: doc.Good, gate.Failed: doc.Bad, gate.Undecided: doc.Undecided}[o]
	return table.Toned(string(o), tone)
}

// reasonsTable lists what speaks against the merge.
func (p GatePage) reasonsTable() table.Table {
	t := table.Table{Name: "Reasons", Columns: []table.Column{
		{Name: "decides", Kind: table.Verdict}, {Name: "profile", Kind: table.Words}, {Name: "metric", Kind: table.Words},
		{Name: "reason", Kind: table.Words}, {Name: "kind", Kind: table.Words}, {Name: "where", Kind: table.Words},
	}}
	for _, r := range p.Reasons {
		t.Rows = append(t.Rows, []table.Cell{outcomeCell(r.Decides), table.Text(r.Profile), table.Text(r.About()),
			table.Text(p.Commands.reasonText(r)), table.Text(r.Kind), table.Lines(linesOf(r.Rows))})
	}
	return t
}

// runsTable lists the runs of the profiles that are judged, in both states.
func (p GatePage) runsTable() table.Table {
	t := table.Table{Name: "Runs", Columns: append([]table.Column{{Name: "state", Kind: table.Words}}, runColumns...)}
	add := func(state string, of gate.Snapshot, name string) {
		profile := of.Profiles[name]
		if profile == nil {
			return
		}
		for _, v := range profile.Values.All() {
			v.Profile = name
			t.Rows = append(t.Rows, append([]table.Cell{table.Text(state)}, runCells(v)...))
		}
	}
	for _, j := range p.Judged {
		add("base", p.Before, cmp.Or(j.Before, j.Profile))
		if j.Against != "" {
			add("base", p.After, j.Against)
		}
		add("head", p.After, j.Profile)
	}
	return t
}
