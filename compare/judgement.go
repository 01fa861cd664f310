package compare

import (
	"math"
	"slices"

	"tunegate/stats"
	"tunegate/stats/plan"
)

// Verdict is what the runs say about a change.
type Verdict string

// The verdicts: those of both roles, of scores, and of costs. An info has none.
const (
	Level      Verdict = "level"
	Hint       Verdict = "hint" // its own p is at most maxHintP, and nothing is settled
	Noise      Verdict = "noise"
	Uplift     Verdict = "uplift"
	SlightGain Verdict = "slight gain"
	SlightLoss Verdict = "slight loss"
	Regression Verdict = "regression"
	Rise       Verdict = "rise"
	SlightRise Verdict = "slight rise"
	SlightFall Verdict = "slight fall"
	Fall       Verdict = "fall"
)

// Settled reports whether the verdict is anything but noise or a hint.
func (v Verdict) Settled() bool { return v != Noise && v != Hint && v != "" }

// A hint has an own p of at most maxHintP, from 3 and 3 values on: up to one
// unchanged score in ten shows one.
const (
	maxHintP    = 0.10
	minHintSize = 3
)

func (m *Measurement) hints() bool {
	return m.PUsed <= maxHintP+slack && min(m.Replicates[0], m.Replicates[1]) >= minHintSize
}

// Judgement is what becomes of a measurement among others that are judged with
// it.
type Judgement struct {
	PAdjusted float64 // the p of the verdict, corrected for the others
	Among     int     // tests that share the correction
	CriticalP float64 // what the own p has to reach, given what else was found
	FamilyP   float64 // what Welch's p has to reach for it, where nothing is coarse
	// Next is what a comparison of more values has to satisfy: the second of two looks.
	Next plan.Design
	Real bool
	// UncorrectedOnly is set where the change is real before the correction only.
	UncorrectedOnly bool
	// NormalOnly is set where the change is real before the joint correction, and after
	// Sidak's of Welch's p: normal noise would not show it so, but what the other rows
	// reach when sessions are exchanged keeps it open.
	NormalOnly bool
	Verdict    *Verdict // nil for an info
	Decides    bool     // a verdict that is Harmful changes the exit status
}

// slack absorbs rounding where a p equals its critical value.
const slack = 1e-12

// Judge corrects measurements for each other and gives each its verdict. Each list
// is of one pair of sides.
func (t Terms) Judge(all ...[]*Measurement) [][]Judgement {
	p, alpha, members := t.corrected(all), 1-t.Confidence, t.FamilyOf(all...).Members()
	family := members + t.passedOver(all)
	next := t.nextLook()
	familyNext := members + next.passedOver(all) // which will have enough then
	found, foundNext := 0, 0                     // by this look's level, and by the next one's
	for _, x := range slices.Concat(p...) {
		if x <= alpha+slack {
			found++
		}
		if x <= 1-next.Confidence+slack {
			foundNext++
		}
	}
	among := family
	if t.Correction == NoCorrection {
		among = 1
	}
	out := make([][]Judgement, len(all))
	for i, list := range all {
		out[i] = make([]Judgement, len(list))
		for k, m := range list {
			others, othersNext := found, foundNext
			if p[i][k] <= alpha+slack {
				others--
			}
			if p[i][k] <= 1-next.Confidence+slack {
				othersNext--
			}
			j := m.judge(p[i][k], t.Confidence)
			j.Among, j.CriticalP, j.FamilyP = among, t.criticalP(family, others), t.familyP(family, others)
			j.NormalOnly = j.UncorrectedOnly && t.Correction == JointCorrection && m.normalP() <= j.FamilyP
			j.Next = plan.Design{Confidence: next.Confidence, CriticalP: next.familyP(familyNext, othersNext), Power: power}
			out[i][k] = j
		}
	}
	return out
}

// nextLook are the terms of a look at more values. It is the second of two even where
// this one could settle nothing: how much is added hangs on what this one showed.
func (t Terms) nextLook() Terms {
	if t.Look == 0 {
		t.Look, t.Confidence = 2, 1-plan.TwoLooksLevel(1-t.Confidence)
	}
	return t
}

// criticalP is what the own p of one of so many has to reach, given how many of the
// others are found.
func (t Terms) criticalP(family, found int) float64 {
	alpha := 1 - t.Confidence
	switch t.Correction {
	case BenjaminiHochberg:
		return alpha * float64(found+1) / float64(max(1, family))
	case Holm:
		return alpha / float64(max(1, family-found))
	}
	return alpha
}

// familyP is what a p that can take any value has to reach, such as Welch's:
// under the joint correction that of independent members, which is where it lies
// in normal noise.
func (t Terms) familyP(family, found int) float64 {
	if t.Correction == JointCorrection {
		return stats.SidakLevel(1-t.Confidence, max(1, family-found))
	}
	return t.criticalP(family, found)
}

// StrictestP is what the own p of one of so many has to reach where nothing else is
// found, and StrictestFamilyP what Welch's p has to.
func (t Terms) StrictestP(family int) float64 { return t.criticalP(family, 0) }

// StrictestFamilyP is described at StrictestP.
func (t Terms) StrictestFamilyP(family int) float64 { return t.familyP(family, 0) }

// JudgeAs gives a measurement its verdict by a p that is corrected already, among
// so many.
func (t Terms) JudgeAs(m *Measurement, p float64, among int) Judgement {
	j := m.judge(p, t.Confidence)
	j.Among, j.CriticalP, j.FamilyP = among, 1-t.Confidence, 1-t.Confidence
	next := t.nextLook()
	j.Next = plan.Design{Confidence: next.Confidence, CriticalP: 1 - next.Confidence, Power: power}
	return j
}

// judge gives the verdict for a corrected p.
func (m *Measurement) judge(p, confidence float64) Judgement {
	alpha := 1 - confidence
	outside := m.Interval != nil && (m.Interval[0] > 0 || m.Interval[1] < 0)
	j := Judgement{PAdjusted: p, Real: outside && p <= alpha+slack}
	j.UncorrectedOnly = outside && !j.Real && m.PUsed <= alpha+slack
	if m.Role == Info {
		return j
	}
	v := m.VerdictOf(j.Real, m.CanLevel(confidence))
	j.Verdict = &v
	j.Decides = m.InFamily()
	return j
}

// InFamily reports whether a regression of it changes the exit status, so that it
// is corrected together with everything else that does.
func (p *Pair) InFamily() bool {
	if p.Parts != nil {
		return p.decides
	}
	return p.Named && (p.Role == Score || p.Role == Cost && p.Tolerance != nil)
}

// Harmful reports whether the verdict is a change for the worse beyond the
// tolerance: a regression, or a rise (or fall) of a cost that is better low (high).
func (r *Result) Harmful() bool {
	v := r.Verdict
	return v != nil && (*v == Regression || *v == Rise && r.Better == Lower || *v == Fall && r.Better == Higher)
}

// HarmWithheld reports whether a change for the worse beyond the tolerance is open for
// the sake of the other rows alone: see NormalOnly.
func (r *Result) HarmWithheld() bool {
	return r.NormalOnly && r.Decides && math.Abs(r.Change) > r.tolerance() && (r.Change < 0) == (r.Role == Score || r.Better == Higher)
}

// VerdictOf applies the table of verdicts to a change that is real or not;
// canLevel says that the runs are enough for "level".
func (m *Measurement) VerdictOf(real, canLevel bool) Verdict {
	in := [2]float64{math.Inf(-1), math.Inf(1)}
	if m.Interval != nil {
		in = *m.Interval
	}
	v := verdictOf(m.Role, real, m.Change, in, m.tolerance(), canLevel)
	if v == Noise && m.hints() {
		return Hint
	}
	return v
}

// verdictOf applies the rule. tolerance is 0 where none is stated; canLevel says
// that the smallest reachable p of untied values is at most 1 - confidence.
func verdictOf(role Role, real bool, change float64, in [2]float64, tolerance float64, canLevel bool) Verdict {
	words := [4]Verdict{Uplift, SlightGain, SlightLoss, Regression}
	if role == Cost {
		words = [4]Verdict{Rise, SlightRise, SlightFall, Fall}
	}
	switch {
	case real && change > tolerance:
		return words[0]
	case real && change > 0:
		return words[1]
	case real && change < -tolerance:
		return words[3]
	case real && change < 0:
		return words[2]
	case tolerance > 0 && canLevel && -tolerance <= in[0] && in[1] <= tolerance:
		return Level
	}
	return Noise
}

// tolerance is the tolerance in force, 0 where there is none.
func (m Metric) tolerance() float64 {
	if m.Tolerance == nil {
		return 0
	}
	return *m.Tolerance
}
