package gate

import (
	"slices"

	"tunegate/compare"
)

// profile asks the question that fits how a profile changed, and judges it.
func (g *judging) profile(name string) error {
	now, old := g.head.Profiles[name], g.base.Profiles[name]
	j := &Judgement{Profile: name, Outcome: Passed}
	if old == nil {
		return g.newProfile(j, now)
	}
	rows := ChangeOfRows(old.Values, now.Values)
	j.Settings = Differences(old.Settings, now.Settings)
	conditions := Differences(old.Conditions, now.Conditions)
	if len(j.Settings) == 0 && len(rows.Added)+len(rows.Gone)+len(rows.SetAside)+len(rows.Restored) == 0 {
		if len(conditions) > 0 {
			g.gate.Notes = append(g.gate.Notes, Note{Kind: NoteConditions, Profile: name, Changed: conditions})
		}
		g.gate.Unchanged++
		return nil
	}
	g.gate.Judged = append(g.gate.Judged, j)
	for _, v := range rows.SetAside {
		j.warn(Note{Kind: NoteSetAside, Rows: []compare.Value{v}})
	}
	if len(rows.Restored) > 0 {
		j.warn(Note{Kind: NoteRestored, Rows: rows.Restored})
	}
	if len(conditions) > 0 {
		j.warn(Note{Kind: NoteOtherConditions, Changed: conditions})
	}
	if len(j.Settings) > 0 {
		return g.settingsChanged(j, old, now, rows)
	}
	return g.runsChanged(j, old, rows)
}

// settingsChanged judges what was measured with the new settings.
func (g *judging) settingsChanged(j *Judgement, old, now *Profile, rows RowChange) error {
	j.Question = AskSettings
	stale, byChance, single := rows.StillThere(old.Values)
	if len(stale) > 0 {
		g.add(j, Reason{Kind: ReasonStale, Rows: stale})
	}
	if len(byChance) > 0 {
		j.warn(Note{Kind: NoteReadsAsBefore, Rows: byChance})
	}
	added := slices.Concat(rows.Added, byChance, single)
	if len(added) == 0 {
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: []compare.Value{{At: now.At}}})
		return nil
	}
	return g.repeat(j, old, added)
}

// runsChanged judges whether a profile still repeats, its settings being the same.
func (g *judging) runsChanged(j *Judgement, old *Profile, rows RowChange) error {
	j.Question = AskRepeat
	if len(rows.Gone) > 0 {
		g.add(j, Reason{Kind: ReasonAltered, Rows: rows.Gone, Detail: g.base.Name})
	}
	restored, err := collect(j.Profile, rows.Restored)
	if err != nil {
		return err
	}
	if err := g.checkCaps(j, restored.Series()); err != nil || len(rows.Added) == 0 {
		return err
	}
	return g.repeat(j, old, rows.Added)
}

// repeat judges new rows of a profile against its old ones.
func (g *judging) repeat(j *Judgement, old *Profile, added []compare.Value) error {
	return g.measure(j, asSittings(old.Values), asSittings(added), [2]string{j.Profile + ", before", j.Profile + ", now"})
}

// newProfile judges a profile against the baseline that it names.
func (g *judging) newProfile(j *Judgement, now *Profile) error {
	j.Question = AskNew
	g.gate.Judged = append(g.gate.Judged, j)
	if now.Baseline == "" {
		j.warn(Note{Kind: NoteNoBaseline})
		return g.judgeAlone(j, now.Values)
	}
	j.Against = now.Baseline
	from := g.head.Profiles[now.Baseline]
	if from == nil || now.Baseline == now.Name {
		g.add(j, Reason{Kind: ReasonBaseline, Detail: now.Baseline, Names: g.head.names(), Rows: []compare.Value{{At: now.BaselineAt}}})
		return nil
	}
	j.Settings = Differences(from.Settings, now.Settings)
	if d := Differences(from.Conditions, now.Conditions); len(d) > 0 {
		j.warn(Note{Kind: NoteOtherConditions, Changed: d})
	}
	if len(now.Values) == 0 {
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: []compare.Value{{At: now.At}}})
		return nil
	}
	return g.measure(j, from.Values, now.Values, [2]string{now.Baseline, now.Name})
}

// asSittings makes each block one sitting more. A block holds both sides of a
// comparison; rows of one profile from two times share none, though people begin
// at B1 again.
func asSittings(rows []compare.Value) []compare.Value {
	out := make([]compare.Value, len(rows))
	for i, v := range rows {
		out[i] = AsSitting(v)
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
