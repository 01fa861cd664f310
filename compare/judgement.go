package compare

import (
	"math"

	"tunegate/stats"
)

// Verdict is what the runs say about a change.
type Verdict string

// The verdicts. A metric whose role is info has none.
const (
	Uplift     Verdict = "uplift"
	SlightGain Verdict = "slight gain"
	Level      Verdict = "level"
	Noise      Verdict = "noise"
	SlightLoss Verdict = "slight loss"
	Regression Verdict = "regression"
)

// Settled reports whether the verdict is anything but noise.
func (v Verdict) Settled() bool { return v != Noise && v != "" }

// Judgement is what becomes of a measurement among others that are judged with
// it.
type Judgement struct {
	PAdjusted float64 // the p of the verdict, corrected for the others
	Among     int     // tests that share the correction, this one included
	CriticalP float64 // what the uncorrected p has to reach, given what else was found
	Real      bool
	// UncorrectedOnly is set where the change is real before the correction only.
	UncorrectedOnly bool
	Verdict         *Verdict // nil for an info
	Decides         bool     // a regression here changes the exit status
}

// slack absorbs rounding where a p equals its critical value.
const slack = 1e-12

// Judge corrects measurements for each other, and for so many others that are
// absent, and gives each its verdict.
func (t Terms) Judge(all []*Measurement, absent int) []Judgement {
	p := make([]float64, len(all)+absent)
	for i := range p {
		p[i] = 1
		if i < len(all) {
			p[i] = all[i].PUsed
		}
	}
	adjusted := t.Correction.adjust(p)
	alpha, among, found := 1-t.Confidence, len(p), 0
	if t.Correction == NoCorrection {
		among = 1
	}
	for i := range all {
		if adjusted[i] <= alpha+slack {
			found++
		}
	}
	out := make([]Judgement, len(all))
	for i, m := range all {
		others := found
		if adjusted[i] <= alpha+slack {
			others--
		}
		out[i] = m.judge(adjusted[i], t.Confidence)
		out[i].Among, out[i].CriticalP = among, t.Correction.criticalP(alpha, len(p), others)
	}
	return out
}

func (c Correction) adjust(p []float64) []float64 {
	switch c {
	case BenjaminiHochberg:
		return stats.BenjaminiHochberg(p)
	case NoCorrection:
		return p
	}
	return stats.Holm(p)
}

// criticalP is what the uncorrected p of one of so many has to reach, given how
// many of the others are found.
func (c Correction) criticalP(alpha float64, family, found int) float64 {
	switch c {
	case BenjaminiHochberg:
		return alpha * float64(found+1) / float64(family)
	case NoCorrection:
		return alpha
	}
	return alpha / float64(max(1, family-found))
}

// StrictestP is what the uncorrected p of one of so many has to reach where
// nothing else is found.
func (t Terms) StrictestP(family int) float64 {
	return t.Correction.criticalP(1-t.Confidence, family, 0)
}

// JudgeAs gives a measurement its verdict by a p that is corrected already, among
// so many.
func (t Terms) JudgeAs(m *Measurement, p float64, among int) Judgement {
	j := m.judge(p, t.Confidence)
	j.Among, j.CriticalP = among, 1-t.Confidence
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
	j.Decides = m.Named && (m.Role == Score || m.Tolerance != nil)
	if m.Parts != nil {
		j.Decides = m.decides
	}
	return j
}

// VerdictOf applies the table of verdicts to a change that is real or not;
// canLevel says that the runs are enough for "level".
func (m *Measurement) VerdictOf(real, canLevel bool) Verdict {
	lo, hi := math.Inf(-1), math.Inf(1)
	if m.Interval != nil {
		lo, hi, _ = m.GainInterval()
	}
	return verdictOf(real, m.Gain(m.Change), lo, hi, m.tolerance(), canLevel)
}

// verdictOf applies the rule. gain and its interval are turned so that plus is
// better; tolerance is 0 where none is stated; canLevel says that the smallest
// reachable p of untied values is at most 1 - confidence.
func verdictOf(real bool, gain, lo, hi, tolerance float64, canLevel bool) Verdict {
	switch {
	case real && gain > tolerance:
		return Uplift
	case real && gain > 0:
		return SlightGain
	case real && gain < -tolerance:
		return Regression
	case real && gain < 0:
		return SlightLoss
	case tolerance > 0 && canLevel && -tolerance <= lo && hi <= tolerance:
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
