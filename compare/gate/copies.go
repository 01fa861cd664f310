package gate

import (
	"cmp"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// checkCopies looks for new rows that repeat others: each other, old rows of the
// profile, or those of another profile, as they are or scaled.
func (g *judging) checkCopies(j *Judgement, added *compare.Rows, old *Profile) {
	if !added.HasRun() {
		return
	}
	var names []string
	var lists []*compare.Rows
	list := func(name string, rows *compare.Rows) {
		if rows.HasRun() {
			names, lists = append(names, name), append(lists, rows)
		}
	}
	if old != nil {
		list(j.Profile, old.Values)
	}
	was := cmp.Or(j.Before, j.Profile)
	for _, name := range g.base.names() {
		if name != was {
			list(name, g.base.rowsOf(name))
		}
	}
	for _, name := range g.head.names() {
		if name < j.Profile && g.before(name) == nil {
			list(name, g.head.Profiles[name].Values)
		}
	}
	found, at := doubts.CopiesOf(added, lists...)
	if found == nil {
		return
	}
	of := j.Profile
	if at >= 0 {
		of = names[at]
	}
	g.add(j, Reason{Kind: ReasonCopies, Rows: found.Sides[1].Rows, Copies: found.Sides[0].Rows, Chance: found.P, Detail: of,
		Factor: found.Factor, Shift: found.Shift})
}
