package gate

import (
	"cmp"
	"maps"
	"slices"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// checkCopies looks for new rows that repeat others: each other, old rows of the
// profile, or those of another profile, now or earlier, as they are or scaled. Rows of
// earlier that were measured with the same settings may come back.
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
			list(name, g.base.RowsOf(name))
		}
	}
	for _, name := range g.head.names() {
		if name < j.Profile && g.before(name) == nil {
			list(name, g.head.Profiles[name].Values)
		}
	}
	settings := g.head.Profiles[j.Profile].Settings
	gone := map[string][]*compare.Rows{}
	for _, p := range g.base.Earlier {
		if len(Differences(p.Settings, settings)) > 0 {
			gone[p.Name] = append(gone[p.Name], p.Values)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(gone)) {
		list(name+" in earlier commits", compare.JoinRows(gone[name]...))
	}
	found, at := doubts.CopiesOf(added, lists...)
	if found == nil {
		return
	}
	of := j.Profile
	if at >= 0 {
		of = names[at]
	}
	g.add(j, Reason{Kind: ReasonCopies, Rows: compare.RowsOf(found.Sides[1].Rows...),
		Copies: compare.RowsOf(found.Sides[0].Rows...), Chance: found.P, Detail: of, Factor: found.Factor, Shift: found.Shift})
}
