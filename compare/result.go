package compare

import (
	"math"
	"slices"

	"tunegate/compare/internal/work"
	"tunegate/stats/plan"
)

// Result is what became of one metric of a comparison: put together from the
// stages, none of which changes what an earlier one made.
type Result struct {
	*Measurement
	Judgement
	Outlook
	Notes []Note
}

// Results works out what follows for measurements that are judged. Notes are those
// of the measurement and of the verdict. done is called for each; nil for no
// progress.
func (t Terms) Results(all []*Measurement, judged []Judgement, policy Policy, done func()) []*Result {
	out := make([]*Result, len(all))
	work.OnAllCores(len(all), func(i int) {
		out[i] = t.Result(all[i], judged[i], policy)
		if done != nil {
			done()
		}
	})
	return out
}

// Result puts a result together. A suite's notes are made with the suite.
func (t Terms) Result(m *Measurement, j Judgement, policy Policy) *Result {
	r := &Result{m, j, m.Outlook(j, t.Confidence, policy), []Note{}}
	if m.Parts == nil {
		r.Notes = m.notes(j, r.Outlook, t.Confidence)
	}
	return r
}

// Rejudged puts a result together from the same measurement under another
// judgement.
func (t Terms) Rejudged(r *Result, j Judgement, policy Policy) *Result {
	out := t.Result(r.Measurement, j, policy)
	if r.Parts != nil {
		out.Notes = append(slices.Clone(r.Notes), r.verdictNotes(j, t.Confidence)...)
	}
	return out
}

// SizeToCatch returns how many values a side (or blocks) would catch a loss of
// the given size, as BlindSpot states it. ok is false where no number would:
// a loss within the tolerance is none that counts. It is never fewer than the
// policy wants. It is planned as Needs are.
func (r *Result) SizeToCatch(loss float64) (n int, ok bool) {
	p := r.further
	shift := r.LossShift(loss)
	if shift <= p.margin {
		return 0, false
	}
	n, ok = p.SizeToCatch(shift, p.margin)
	return max(n, p.Wanted, r.MinSampleSize), ok
}

// TooCoarse reports whether the readings' steps are why no number of runs can be
// advised: not where every run gave the same value in steps that are finer than
// the tolerance, which some more runs would settle.
func (r *Result) TooCoarse() bool {
	if r.Resolution == 0 || !(r.tolerance() > 0) || r.Need(ToSettle) != nil {
		return false
	}
	return r.planner.Pilot.Spread() > 0 || r.widened >= r.LossShift(r.tolerance())
}

// Prospects foresees comparisons of the given sizes, in values a side (or blocks),
// by the rule and the correction that these runs were judged with: half the
// interval's width, as a change is stated, and the chance to find a change as large
// as the tolerance real. ok is false where they foresee nothing: too few, without
// any spread, without a tolerance, or an info.
func (r *Result) Prospects(sizes []int) (out []plan.Prospect, ok bool) {
	p := r.further
	if r.Role == Info || !(r.tolerance() > 0) || len(sizes) == 0 {
		return nil, false
	}
	out, ok = p.plan.Foresee(p.margin, sizes)
	for i, x := range out {
		if r.Scale == Ratio {
			out[i].Half = math.Expm1(x.Half)
		}
	}
	return out, ok
}
