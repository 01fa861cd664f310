package gate

import (
	"cmp"
	"slices"

	"tunegate/compare"
)

// renamedProfiles finds the profiles of the head that are new by name only: at least
// half of the rows of a profile that is gone are theirs. It gives their names in the
// base.
func renamedProfiles(base, head Snapshot) map[string]string {
	out, taken := map[string]string{}, map[string]bool{}
	for _, name := range head.names() {
		if base.Profiles[name] != nil {
			continue
		}
		for _, was := range base.names() {
			if head.Profiles[was] != nil || taken[was] {
				continue
			}
			if SameProfile(base.Profiles[was].Values, head.Profiles[name].Values) {
				out[name], taken[was] = was, true
				break
			}
		}
	}
	return out
}

// SameProfile reports whether rows are those of a profile under another name: at least
// half of its rows are there.
func SameProfile(was, now *compare.Rows) bool {
	rows := ChangeOfRows(was, now)
	return len(rows.Both) > 0 && len(rows.Both) >= rows.Gone.Len()
}

// before is a profile of the head as the base has it, nil where it has none.
func (g *judging) before(name string) *Profile {
	return g.base.Profiles[cmp.Or(g.renamed[name], name)]
}

// removed judges the profiles that are gone.
func (g *judging) removed() {
	gone := map[string]bool{}
	for _, name := range g.base.names() {
		gone[name] = g.head.Profiles[name] == nil
	}
	for _, was := range g.renamed {
		gone[was] = false
	}
	for _, name := range g.base.names() {
		if !gone[name] {
			continue
		}
		g.gate.Removed = append(g.gate.Removed, name)
		r := Reason{Kind: ReasonRemoved, Profile: name, Decides: Undecided, Agreement: AgreeRemoved}
		switch {
		case g.policy.Removed == compare.RemovalAllowed || !g.base.RowsOf(name).HasRun():
			continue
		case g.policy.Removed == compare.RemovalFails:
			r.Decides, r.Agreement = Failed, ""
		}
		g.gate.Reasons = append(g.gate.Reasons, r)
	}
}

// profile asks the question that fits how a profile changed, and judges it.
func (g *judging) profile(name string) error {
	now, old := g.head.Profiles[name], g.before(name)
	j := &Judgement{Profile: name, Before: g.renamed[name]}
	if old == nil {
		return g.newProfile(j, now, now.Values)
	}
	rows := ChangeOfRows(old.Values, now.Values)
	j.Settings = Differences(old.Settings, now.Settings)
	conditions := Differences(old.Conditions, now.Conditions)
	if len(j.Settings) == 0 && rows.Added.Len()+rows.Gone.Len()+rows.SetAside.Len()+rows.Restored.Len() == 0 {
		if len(conditions) > 0 {
			g.gate.Notes = append(g.gate.Notes, Note{Kind: NoteConditions, Profile: name, Changed: conditions})
		}
		if j.Before != "" {
			g.gate.Notes = append(g.gate.Notes, Note{Kind: NoteRenamed, Profile: name, Names: []string{j.Before}})
		}
		g.gate.Unchanged++
		return nil
	}
	if !old.Values.HasRun() && rows.Gone.Len() == 0 { // it had none yet: as good as new
		return g.newProfile(j, now, compare.JoinRows(rows.Added, rows.Restored, rows.SetAside))
	}
	g.gate.Judged = append(g.gate.Judged, j)
	if j.Before != "" {
		j.warn(Note{Kind: NoteRenamed, Names: []string{j.Before}})
	}
	for i := range rows.SetAside.Len() {
		j.warn(Note{Kind: NoteSetAside, Rows: rows.SetAside.Pick([]uint32{uint32(i)})})
	}
	if rows.Restored.Len() > 0 {
		j.warn(Note{Kind: NoteRestored, Rows: rows.Restored})
	}
	if len(conditions) > 0 {
		j.warn(Note{Kind: NoteOtherConditions, Changed: conditions})
	}
	if len(j.Settings) > 0 {
		return g.settingsChanged(j, old, now, rows)
	}
	return g.runsChanged(j, old, now, rows)
}

// settingsChanged judges what was measured with the new settings.
func (g *judging) settingsChanged(j *Judgement, old, now *Profile, rows RowChange) error {
	j.Question = AskSettings
	stale, byChance, single := rows.StillThere()
	if stale.Len() > 0 {
		g.add(j, Reason{Kind: ReasonStale, Rows: stale})
	}
	if byChance.Len() > 0 {
		j.warn(Note{Kind: NoteReadsAsBefore, Rows: byChance})
	}
	added := compare.JoinRows(rows.Added, byChance, single)
	g.checkCopies(j, added, old)
	if !added.HasRun() {
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: rowAt(now.At)})
		return g.judgeAlone(j, added)
	}
	if err := g.repeat(j, old, added); err != nil {
		return err
	}
	return g.sinceAnchor(j, old, added)
}

// sinceAnchor measures new rows against the profile as it first landed, where other rows
// landed since.
func (g *judging) sinceAnchor(j *Judgement, old *Profile, added *compare.Rows) error {
	anchor := g.base.Anchors[cmp.Or(j.Before, j.Profile)]
	if anchor == nil || !anchor.Values.HasRun() {
		return nil
	}
	if rows := ChangeOfRows(anchor.Values, old.Values); rows.Added.Len()+rows.Gone.Len()+rows.SetAside.Len()+rows.Restored.Len() == 0 {
		return nil
	}
	return g.measure(j, asSittings(anchor.Values), asSittings(added), [2]string{j.Profile + ", at first", j.Profile + ", now"}, true)
}

// runsChanged judges whether a profile still repeats, its settings being the same.
// Rows that are no longer set aside are held against the others, as new ones are.
func (g *judging) runsChanged(j *Judgement, old, now *Profile, rows RowChange) error {
	j.Question = AskRepeat
	if rows.Gone.Len() > 0 {
		g.add(j, Reason{Kind: ReasonAltered, Rows: rows.Gone, Detail: g.base.Name})
	}
	if rows.Gone.Len() > 0 { // which altered ones repeat, and that is said already
		g.checkCopies(j, rows.Added, nil)
	} else {
		g.checkCopies(j, rows.Added, old)
	}
	if !now.Values.HasRun() && old.Values.HasRun() {
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: rowAt(now.At)})
	}
	added := compare.JoinRows(rows.Added, rows.Restored)
	if !added.HasRun() {
		return g.checkSetAside(j, compare.JoinRows(added, rows.SetAside), now.Values)
	}
	if err := g.repeat(j, old, compare.JoinRows(added, rows.SetAside)); err != nil || !rows.Added.HasRun() {
		return err
	}
	return g.sinceAnchor(j, old, rows.Added)
}

// repeat judges new rows of a profile against its old ones. Old rows that were set
// aside since count among the new, as rows that are set aside.
func (g *judging) repeat(j *Judgement, old *Profile, added *compare.Rows) error {
	return g.measure(j, asSittings(old.Values), asSittings(added), [2]string{j.Profile + ", before", j.Profile + ", now"}, false)
}

// newProfile judges a profile against the baseline that it names. One that nothing
// older stands against cannot be judged, but for the first of a repository. rows are
// those that the base lacks.
func (g *judging) newProfile(j *Judgement, now *Profile, rows *compare.Rows) error {
	j.Question = AskNew
	g.gate.Judged = append(g.gate.Judged, j)
	g.checkCopies(j, rows, nil)
	if now.Baseline == "" {
		switch {
		case !now.Values.HasRun():
			j.warn(Note{Kind: NoteNoBaseline})
		case !g.base.measured() && g.soleRoot(now.Name):
			j.First = true
			j.warn(Note{Kind: NoteFirst})
		default:
			g.add(j, Reason{Kind: ReasonNew, Decides: Undecided, Agreement: AgreeNew, Rows: rowAt(now.At)})
		}
		return g.judgeAlone(j, rows)
	}
	j.Against = now.Baseline
	from := g.head.Profiles[now.Baseline]
	if from == nil || now.Baseline == now.Name {
		g.add(j, Reason{Kind: ReasonBaseline, Detail: now.Baseline, Names: g.head.names(), Rows: rowAt(now.BaselineAt)})
		return nil
	}
	if was := g.before(now.Baseline); (was == nil || !was.Values.HasRun()) && from.Values.HasRun() {
		g.add(j, Reason{Kind: ReasonNewBase, Decides: Undecided, Agreement: AgreeNew, Detail: now.Baseline,
			Rows: rowAt(now.BaselineAt)})
	}
	j.Settings = Differences(from.Settings, now.Settings)
	if d := Differences(from.Conditions, now.Conditions); len(d) > 0 {
		j.warn(Note{Kind: NoteOtherConditions, Changed: d})
	}
	if rows.Len() == 0 {
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: rowAt(now.At)})
		return nil
	}
	against := from.Values
	if against.Len() == 0 { // of a baseline that did not change
		against = g.base.Unjudged[now.Baseline]
	}
	return g.measure(j, against, rows, [2]string{now.Baseline, now.Name}, false)
}

// soleRoot reports whether a profile is the only one with runs that names no baseline.
func (g *judging) soleRoot(name string) bool {
	return !slices.ContainsFunc(g.head.names(), func(other string) bool {
		p := g.head.Profiles[other]
		return other != name && p.Baseline == "" && p.Values.HasRun()
	})
}

// asSittings makes each block one sitting more. A block holds both sides of a
// comparison; rows of one profile from two times share none, though people begin
// at B1 again.
func asSittings(rows *compare.Rows) *compare.Rows {
	if !rows.Blocked() {
		return rows
	}
	out := rows.Alike()
	for _, v := range rows.All() {
		out.Append(AsSitting(v))
	}
	return out
}

// AsSitting is a row whose block is one sitting more.
func AsSitting(v compare.Value) compare.Value {
	switch {
	case v.Block == "":
		return v
	case v.Session == "":
		v.Session = v.Block
	default:
		v.Session = v.Block + " / " + v.Session
	}
	v.Block = ""
	return v
}
