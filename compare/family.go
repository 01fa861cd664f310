package compare

import (
	"cmp"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"tunegate/stats"
)

// Family counts what is corrected together: everything that can change the exit
// status of one call and that its runs could settle.
type Family struct{ Scores, Costs, Suites int }

// Members is how many they are.
func (f Family) Members() int { return f.Scores + f.Costs + f.Suites }

// FamilyOf counts measurements that are judged together.
func (t Terms) FamilyOf(all ...[]*Measurement) (f Family) {
	groups, places := t.groups(all)
	for g, group := range groups {
		for _, at := range places[g][:len(group.Steps)] { // the rest repeats them
			switch m := all[at[0]][at[1]]; {
			case m.Parts != nil:
				f.Suites++
			case m.Role == Score:
				f.Scores++
			default:
				f.Costs++
			}
		}
	}
	return f
}

// takesShare reports whether a measurement could be settled by itself; one that
// cannot costs the others nothing.
func (t Terms) takesShare(m *Measurement) bool { return m.Reaches(1 - t.Confidence) }

// corrected lists the p of the verdicts: of each measurement the larger of its own
// and the one that is corrected for the others. Each list is of one pair of sides.
func (t Terms) corrected(all [][]*Measurement) [][]float64 {
	out := make([][]float64, len(all))
	var own []float64
	for i, list := range all {
		out[i] = make([]float64, len(list))
		for k, m := range list {
			if out[i][k] = m.PUsed; t.takesShare(m) {
				own = append(own, m.PUsed)
			}
		}
	}
	switch t.Correction {
	case NoCorrection:
		return out
	case JointCorrection:
		t.permuted(all, out)
		t.atLeastSidak(all, out)
		return out
	}
	adjust := stats.Holm
	if t.Correction == BenjaminiHochberg {
		adjust = stats.BenjaminiHochberg
	}
	own = adjust(slices.Concat(own, slices.Repeat([]float64{1}, t.passedOver(all))))
	for i, list := range all {
		for k, m := range list {
			if t.takesShare(m) {
				out[i][k], own = own[0], own[1:]
			}
		}
	}
	return out
}

// permuted raises each p to the one that is corrected by exchanging whole sessions.
func (t Terms) permuted(all [][]*Measurement, p [][]float64) {
	groups, places := t.groups(all)
	for g, adjusted := range stats.FamilyP(groups, t.Resamples, t.Seed) {
		for j, at := range places[g] {
			p[at[0]][at[1]] = math.Max(p[at[0]][at[1]], adjusted[j%len(adjusted)])
		}
	}
}

// passedOver counts the measurements that take no share and are corrected for all the
// same, at a planned look: which ones got runs enough may hang then on what the runs
// before showed. The most promising of ten unchanged scores, run again after 3 and 3
// runs, raised 10.5 % false alarms when they were corrected for each other alone.
func (t Terms) passedOver(all [][]*Measurement) (n int) {
	for _, m := range slices.Concat(all...) {
		if t.Look > 0 && !t.takesShare(m) {
			n++
		}
	}
	return n
}

// atLeastSidak raises each p to Welch's, corrected by Holm's and Šidák's method for
// those that are passed over, too: they have too few sessions to be exchanged.
func (t Terms) atLeastSidak(all [][]*Measurement, p [][]float64) {
	others := t.passedOver(all)
	if others == 0 {
		return
	}
	groups, places := t.groups(all)
	type member struct {
		p      float64
		places [][2]int
	}
	var members []member
	for g, group := range groups {
		for j, step := range group.Steps {
			own := member{}
			if group.Differences != nil {
				own.p = stats.StudentP(group.Differences[j], step)
			} else {
				own.p = stats.WelchP(group.Before[j], group.After[j], step)
			}
			for k := j; k < len(places[g]); k += len(group.Steps) {
				own.places = append(own.places, places[g][k])
			}
			members = append(members, own)
		}
	}
	slices.SortStableFunc(members, func(a, b member) int { return cmp.Compare(a.p, b.p) })
	least := 0.0
	for i, m := range members {
		least = math.Max(least, -math.Expm1(float64(len(members)+others-i)*math.Log1p(-m.p)))
		for _, at := range m.places {
			p[at[0]][at[1]] = math.Max(p[at[0]][at[1]], least)
		}
	}
}

// Simultaneous gives intervals of the changes, as Interval states them, that hold for
// all members of the family at once, so that any of them may be picked afterwards: none
// for what takes no share of the family, where nothing is corrected or where there is
// one member. See stats.SimultaneousIntervals. Each is at least as wide as the
// measurement's own, at both ends.
func (t Terms) Simultaneous(all ...[]*Measurement) map[*Measurement]*[2]float64 {
	out := map[*Measurement]*[2]float64{}
	if t.Correction == NoCorrection || t.FamilyOf(all...).Members() < 2 {
		return out
	}
	groups, places := t.groups(all)
	for g, intervals := range stats.SimultaneousIntervals(groups, t.Confidence, t.Resamples, t.Seed) {
		for j, at := range places[g] {
			m, in := all[at[0]][at[1]], intervals[j%len(intervals)]
			if math.IsNaN(in.Lo) || m.Interval == nil {
				out[m] = m.Interval
				continue
			}
			shown := m.displayedRange(in.Lo, in.Hi)
			out[m] = &[2]float64{math.Min(shown[0], m.Interval[0]), math.Max(shown[1], m.Interval[1])}
		}
	}
	return out
}

// groups puts together what was measured in exactly the same sessions of the same two
// sides, whose labels are exchanged together. places are the list and the index in it
// of each member of each group. Groups whose values are all equal, as where a profile's
// baseline is its last state, are one: the places of the second follow the first's.
func (t Terms) groups(all [][]*Measurement) (groups []stats.Group, places [][][2]int) {
	for i, list := range all {
		at := map[string]int{}
		for k, m := range list {
			if !t.takesShare(m) {
				continue
			}
			sessions, values := m.layout.exchangeable(m.Pair)
			g, ok := at[sessions]
			if !ok {
				g = len(groups)
				at[sessions] = g
				groups, places = append(groups, stats.Group{}), append(places, nil)
			}
			groups[g].Steps = append(groups[g].Steps, m.stepCompared())
			if len(values) == 1 {
				groups[g].Differences = append(groups[g].Differences, values[0])
			} else {
				groups[g].Before, groups[g].After = append(groups[g].Before, values[0]), append(groups[g].After, values[1])
			}
			places[g] = append(places[g], [2]int{i, k})
		}
	}
	n := 0
	for g, group := range groups {
		if same := slices.IndexFunc(groups[:n], func(x stats.Group) bool { return reflect.DeepEqual(x, group) }); same >= 0 {
			places[same] = append(places[same], places[g]...)
			continue
		}
		groups[n], places[n] = group, places[g]
		n++
	}
	return groups[:n], places[:n]
}

// normalP is Welch's p of the values that count once, of differences Student's.
func (m *Measurement) normalP() float64 {
	_, values := m.layout.exchangeable(m.Pair)
	if len(values) == 1 {
		return stats.StudentP(values[0], m.stepCompared())
	}
	return stats.WelchP(values[0], values[1], m.stepCompared())
}

// stepCompared is the step of readings in steps, as they are compared.
func (p *Pair) stepCompared() float64 { return p.step() / p.unitAt() }

// bySession lists a side's values that count once in an order that does not hang on
// the order of rows, and the labels in that order. Runs without a label keep their
// order, as do the passes of a suite.
func (s Sample) bySession() (labels string, values []float64) {
	if s.alone != nil && len(s.sessions) == 0 {
		return strconv.Itoa(len(s.alone)), s.alone
	}
	spells := s.Counted()
	order := make([]int32, len(spells)) // of places, which are faster to sort than spells
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(i, j int32) int {
		a, b := &spells[i], &spells[j]
		if a.Block != b.Block {
			return strings.Compare(a.Block, b.Block)
		}
		return cmp.Or(strings.Compare(a.Label, b.Label), cmp.Compare(i, j))
	})
	values = make([]float64, 0, len(spells))
	var names strings.Builder
	for _, i := range order {
		x := &spells[i]
		names.WriteString(x.Block)
		names.WriteByte(0)
		names.WriteString(x.Label)
		names.WriteByte(0)
		values = append(values, x.Value)
	}
	return names.String(), values
}
