package report

import (
	"tunegate/compare/claims"
	"tunegate/compare/report/table"
)

var claimColumns = []table.Column{
	{Name: "verdict", Kind: table.Verdict, Meaning: "the verdict on the claim"},
	{Name: "text", Kind: table.Words, Meaning: "the sentence"},
	{Name: "at", Kind: table.Words, Meaning: "where it stands"},
	{Name: "before", Kind: table.Words, Meaning: "the profile before; empty for arithmetic alone"},
	{Name: "after", Kind: table.Words, Meaning: "the profile after"},
	{Name: "about", Kind: table.Words, Meaning: "what it is held against"},
	{Name: "form", Kind: table.Words, Meaning: "the word that holds the sign: faster, less and so on"},
	{Name: "claimed", Kind: table.Number, Meaning: "the change as it is claimed"},
	{Name: "claimed_unit", Kind: table.Words, Meaning: "its unit; empty for per cent"},
	{Name: "estimate", Kind: table.Number, Meaning: "what the runs say, plus in the claimed direction"},
	{Name: "interval_low", Kind: table.Number, Meaning: "lower end of the interval"},
	{Name: "interval_high", Kind: table.Number, Meaning: "upper end"},
	{Name: "for_all_low", Kind: table.Number, Meaning: "lower end of the interval that holds for all claims at once"},
	{Name: "for_all_high", Kind: table.Number, Meaning: "upper end"},
	{Name: "unit", Kind: table.Words, Meaning: "unit of estimate and intervals"},
	{Name: "may_be_said", Kind: table.Words, Meaning: "a sentence that the runs support"},
	{Name: "why", Kind: table.Words, Meaning: "why the verdict is so, and what was not checked"},
}

// ClaimsTables has a row for each claim. A workbook has the figures of all that was
// compared on a sheet of its own.
func ClaimsTables(p ClaimsPage) Tables {
	c := p.Page
	compared := table.Table{Name: "Compared", Columns: resultColumns}
	joint := forAll{}
	var rows [][]table.Cell
	for _, h := range c.Held {
		rows = append(rows, p.claimCells(h))
		if h.Result != nil && h.Joint != nil {
			joint[h.Result.Measurement] = h.Joint
		}
	}
	for _, pair := range c.Pairs {
		compared.Rows = append(compared.Rows, resultRows{joint, c.Confidence}.comparison(pair.Comparison)...)
	}
	open := table.Table{Name: "In no claim", Columns: []table.Column{
		{Name: "page", Kind: table.Words}, {Name: "where", Kind: table.Words}, {Name: "number", Kind: table.Words},
		{Name: "around", Kind: table.Words}, {Name: "same number claimed", Kind: table.Words},
	}}
	for _, page := range p.Coverage {
		for _, o := range page.Open {
			open.Rows = append(open.Rows, []table.Cell{table.Text(page.File), table.Text(o.At.String()), table.Text(o.Text),
				table.Text(o.Around), table.Text(o.Same)})
		}
	}
	return Tables{Figures: table.Table{Name: "Claims", Columns: claimColumns, Rows: rows},
		More: []table.Table{compared, open, runsTable(p.Runs)}}
}

func (p ClaimsPage) claimCells(h *claims.Held) []table.Cell {
	var claimed, claimedUnit table.Cell
	if h.Change != nil {
		claimed, claimedUnit = table.Num(h.Change.Value, table.General), table.Text(h.Change.Unit)
	}
	before, after, about, unit := "", "", "", ""
	var estimate, lo, hi, allLo, allHi table.Cell
	if h.Result != nil {
		before, after, about = h.Before, h.After, h.Result.Name()
		if e, l, u, ok := h.Interval(); ok {
			unit, _ = percentOr(h.Result)
			f := table.Format{Places: changePlaces(h.Result), Unit: unit} // in per cent already
			estimate, lo, hi = table.Num(e, f), table.Num(l, f), table.Num(u, f)
			jl, ju, _ := h.JointInterval()
			allLo, allHi = table.Num(jl, f), table.Num(ju, f)
		}
	}
	return []table.Cell{table.Toned(string(h.Verdict), claimTone(h.Verdict)), table.Text(h.Text), table.Text(h.At.String()),
		table.Text(before), table.Text(after), table.Text(about), table.Text(string(h.Form)), claimed, claimedUnit,
		estimate, lo, hi, allLo, allHi, table.Text(unit), table.Text(claimSentence(p.Page, h)), table.Lines(claimLines(p, h))}
}
