package claims

import (
	"math"

	"tunegate/compare"
)

// hold judges a claim by the runs.
func (h *Held) hold(confidence float64) error {
	r := h.Result
	percentOfDegrees := r.Scale != compare.Ratio && h.Change != nil && h.Change.percent()
	if percentOfDegrees {
		h.fault(FaultDegrees, Finding{Cause: NoZero})
	}
	h.checkRuns()
	if percentOfDegrees {
		return nil
	}
	canSettle := r.Interval != nil && r.Reaches(1-confidence)
	estimate, lo, hi, ok := h.Interval()
	if h.Form == AsLevel {
		h.Data = h.holdLevel(canSettle && r.CanLevel(confidence), lo, hi)
		return nil
	}
	if h.Form == "" {
		h.deriveChange()
		estimate, lo, hi, ok = h.Interval()
	} else {
		h.Lo, h.Hi = h.Change.Value-h.Change.Half, h.Change.Value+h.Change.Half
	}
	jointLo, jointHi, _ := h.JointInterval()
	v := judgeClaim(r.Real, canSettle, [2]float64{lo, hi}, [2]float64{jointLo, jointHi}, h.Lo, h.Hi, h.AtLeast, h.admitsLoss())
	if h.Data != Contradicted { // by a figure that no run reaches
		h.Data = v
	}
	if !ok || h.Change == nil || h.AtLeast {
		return nil
	}
	if h.Change.percent() && r.Real && estimate > 0 && (v == Overstated || v == Understated) &&
		h.Change.near(100*otherBase(h.Form, estimate/100)) {
		found := Finding{Cause: OtherProfile, Right: estimate, Places: h.carried(lo, hi), Inverse: r.IsSpeed()}
		if v == Overstated {
			h.fault(FaultBase, found)
		} else {
			h.note(NoteBase, found)
		}
	}
	if carried := h.carried(lo, hi); h.Change.Half > 0 && 2*h.Change.Half < math.Pow(10, -float64(carried))*(1-1e-9) {
		h.fault(FaultDigits, Finding{Cause: DigitsOfRuns, Lo: lo, Hi: hi, Places: carried})
	}
	return nil
}

// carried is to how many decimals the interval allows the change to be quoted.
func (h *Held) carried(lo, hi float64) int { return min(compare.Places((hi-lo)/2), 4) }

// judgeClaim is the rule. own is the plain interval and joint the one that holds
// for the whole family at once; [a, b] is the claimed change with its rounding, all
// plus in the claimed direction; canSettle says that the runs are enough for a
// verdict at all.
//
//	not enough runs                                      not settled
//	real the other way                                   contradicted
//	not real; claim beyond joint                         contradicted
//	not real otherwise                                   not settled
//	real in the claimed direction; claim beyond joint    overstated
//	                               claim below joint     understated
//	                               claim beyond own      not settled
//	                               otherwise             supported
//
// A claim that admits a loss (slower, more power) overstates the profile where
// it is below, and understates it where it is beyond: "only 5 % more power" is no
// modesty where it is 9 %. Of "at least" the claim is the smallest change: supported
// where own begins at it, beyond as above where joint ends before it, else not
// settled. Beyond and below are told at the digits in which the claim is written.
func judgeClaim(real, canSettle bool, own, joint [2]float64, a, b float64, atLeast, loss bool) Verdict {
	slip := 1e-12 + 1e-9*(b-a)
	beyond := func(in [2]float64) bool { return in[1] < a-slip }
	below := func(in [2]float64) bool { return b+slip < in[0] }
	tooMuch, tooLittle, favourable := Overstated, Understated, beyond
	if loss {
		tooMuch, tooLittle, favourable = tooLittle, tooMuch, below
	}
	switch {
	case !canSettle:
		return NotSettled
	case real && own[1] < 0, !real && beyond(joint):
		return Contradicted
	case !real:
		return NotSettled
	case beyond(joint):
		return tooMuch
	case atLeast && own[0] < a-slip:
		return NotSettled
	case atLeast:
		return Supported
	case below(joint):
		return tooLittle
	case favourable(own):
		return NotSettled
	}
	return Supported
}

// admitsLoss reports whether the claimed change is one for the worse.
func (h *Held) admitsLoss() bool {
	r := h.Result
	switch {
	case r.Role == compare.Info:
		return false
	case h.Form.OfSpeed():
		return h.Form == Slower || h.Form == MoreTime
	}
	return (h.Form == More) == (r.Better == compare.Lower)
}

// holdLevel judges a claim that nothing changes by more than so much: the
// whole interval has to lie within. Without a number of its own the claim is
// "no change": then even a slight change that is real contradicts it.
func (h *Held) holdLevel(canSettle bool, lo, hi float64) Verdict {
	r := h.Result
	t := 0.0
	if h.Change != nil {
		t = h.Change.Value
		h.Level = r.Stored(t)
	} else {
		h.Level = r.Tolerance
		t = *r.Tolerance
		if r.Scale == compare.Ratio {
			t *= 100
		}
	}
	h.Lo, h.Hi = -t, t
	jointLo, jointHi, _ := h.JointInterval()
	switch slip := 1e-12 + 1e-9*t; {
	case !canSettle:
		return NotSettled
	case h.Change == nil && r.Real:
		return Contradicted
	case jointLo > t+slip || jointHi < -t-slip:
		return Contradicted
	case lo >= -t-slip && hi <= t+slip:
		return Supported
	}
	return NotSettled
}

// checkRuns holds the figures that a claim lists against the runs: whatever
// they are, means or medians, they lie between the smallest and the largest.
func (h *Held) checkRuns() {
	r := h.Result
	if r.Parts != nil {
		return
	}
	for k, f := range [2]*Figure{h.From, h.To} {
		side := [2]compare.Side{r.Before.Side, r.After.Side}[k]
		if f == nil || f.meets(side.Min, side.Max) {
			continue
		}
		h.Data = Contradicted
		h.note(NoteFigure, Finding{Cause: BeyondRuns, Side: k})
	}
}

// deriveChange makes a claim of two figures whose change the page does not
// state.
func (h *Held) deriveChange() {
	h.Form = More
	if h.To.Value < h.From.Value {
		h.Form = Less
	}
	_, h.Lo, h.Hi = h.figuresMake(h.Form, h.Result.Scale == compare.Ratio, false)
}

func (h *Held) fault(kind string, f Finding) {
	f.Kind = kind
	h.Faults = append(h.Faults, f)
}

func (h *Held) note(kind string, f Finding) {
	f.Kind = kind
	h.Notes = append(h.Notes, f)
}
