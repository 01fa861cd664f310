package compare

import (
	"math"

	"tunegate/stats"
)

// pilot is what plans rest on: the values of a layout, turned so that plus is
// better.
type pilot interface {
	plan(stats.Design) plan
	precision(halfWidth, confidence float64) (n int, ok bool)
	foresee(loss float64, d stats.Design, sizes []int) (out []stats.Prospect, ok bool)
	spread() float64
	df() float64
	scaled(factor float64) pilot
}

// plan answers for one design.
type plan interface {
	BlindSpot(margin float64) (loss float64, ok bool)
	SizeToCatch(loss, margin float64) (n int, ok bool)
}

func scaled(x []float64, factor float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = factor * v
	}
	return out
}

type samplesPilot struct{ before, after []float64 }

func (l twoSamples) pilot(turn float64, _ estimate) pilot {
	return samplesPilot{scaled(l.before, turn), scaled(l.after, turn)}
}

func (p samplesPilot) plan(d stats.Design) plan { return stats.NewPlan(p.before, p.after, d) }

func (p samplesPilot) precision(halfWidth, confidence float64) (int, bool) {
	return stats.PrecisionSize(p.before, p.after, halfWidth, confidence)
}

func (p samplesPilot) foresee(loss float64, d stats.Design, sizes []int) ([]stats.Prospect, bool) {
	return stats.Foresee(p.before, p.after, loss, d, sizes)
}

func (p samplesPilot) spread() float64 { return stats.Spread(p.before, p.after) }

func (p samplesPilot) df() float64 { return float64(len(p.before) + len(p.after) - 2) }

func (p samplesPilot) scaled(f float64) pilot {
	return samplesPilot{scaled(p.before, f), scaled(p.after, f)}
}

type blocksPilot struct{ differences []float64 }

type blocksPlan struct {
	blocksPilot
	design stats.Design
}

func (l blockDifferences) pilot(turn float64, _ estimate) pilot {
	return blocksPilot{scaled(l.differences, turn)}
}

func (p blocksPilot) plan(d stats.Design) plan { return blocksPlan{p, d} }

func (p blocksPlan) BlindSpot(margin float64) (float64, bool) {
	return stats.BlocksBlindSpot(p.differences, margin, p.design)
}

func (p blocksPlan) SizeToCatch(loss, margin float64) (int, bool) {
	return stats.BlocksToCatch(p.differences, loss, margin, p.design)
}

func (p blocksPilot) precision(halfWidth, confidence float64) (int, bool) {
	return stats.BlocksPrecision(p.differences, halfWidth, confidence)
}

func (p blocksPilot) foresee(loss float64, d stats.Design, sizes []int) ([]stats.Prospect, bool) {
	return stats.BlocksForesee(p.differences, loss, d, sizes)
}

func (p blocksPilot) spread() float64 { return stats.Spread(p.differences, p.differences) }

func (p blocksPilot) df() float64 { return float64(len(p.differences) - 1) }

func (p blocksPilot) scaled(f float64) pilot { return blocksPilot{scaled(p.differences, f)} }

type strataPilot struct{ strata []stats.Stratum }

type strataPlan struct {
	strataPilot
	design stats.Design
}

func (l spelledBlocks) pilot(turn float64, _ estimate) pilot {
	return strataPilot{l.strata}.scaled(turn)
}

func (p strataPilot) plan(d stats.Design) plan { return strataPlan{p, d} }

func (p strataPlan) BlindSpot(margin float64) (float64, bool) {
	return stats.StrataBlindSpot(p.strata, margin, p.design)
}

func (p strataPlan) SizeToCatch(loss, margin float64) (int, bool) {
	return stats.StrataToCatch(p.strata, loss, margin, p.design)
}

func (p strataPilot) precision(halfWidth, confidence float64) (int, bool) {
	return stats.StrataPrecision(p.strata, halfWidth, confidence)
}

func (p strataPilot) foresee(loss float64, d stats.Design, sizes []int) ([]stats.Prospect, bool) {
	return stats.StrataForesee(p.strata, loss, d, sizes)
}

func (p strataPilot) spread() float64 {
	centred := func(x []float64) []float64 {
		out := make([]float64, len(x))
		for i, v := range x {
			out[i] = v - median(x)
		}
		return out
	}
	var before, after []float64
	for _, s := range p.strata {
		before, after = append(before, centred(s.Before)...), append(after, centred(s.After)...)
	}
	return stats.Spread(before, after)
}

func (p strataPilot) df() float64 {
	df := 0
	for _, s := range p.strata {
		df += len(s.Before) + len(s.After) - 2
	}
	return float64(df)
}

func (p strataPilot) scaled(f float64) pilot {
	var out strataPilot
	for _, s := range p.strata {
		out.strata = append(out.strata, stats.Stratum{Before: scaled(s.Before, f), After: scaled(s.After, f)})
	}
	return out
}

// pooledPilot is a suite without a value per session: size is that of the larger
// side, least the fewest that can settle.
type pooledPilot struct {
	closed stats.Closed
	size   int
	least  func(stats.Design) int
}

type pooledPlan struct {
	pooledPilot
	design stats.Design
}

func (p pooledPilot) plan(d stats.Design) plan { return pooledPlan{p, d} }

func (p pooledPlan) BlindSpot(margin float64) (float64, bool) {
	return p.closed.BlindSpot(margin, p.design)
}

func (p pooledPlan) SizeToCatch(loss, margin float64) (int, bool) {
	times, ok := p.closed.TimesToCatch(loss, margin, p.design)
	return max(p.least(p.design), int(math.Ceil(times*float64(p.size)-1e-9))), ok
}

func (p pooledPilot) precision(float64, float64) (int, bool) { return 0, false }

func (p pooledPilot) foresee(loss float64, d stats.Design, sizes []int) ([]stats.Prospect, bool) {
	var out []stats.Prospect
	for _, n := range sizes {
		x, ok := p.closed.Foresee(float64(n)/float64(p.size), loss, d)
		if !ok {
			return nil, false
		}
		out = append(out, x)
	}
	return out, true
}

func (p pooledPilot) spread() float64 { return p.closed.SE }

func (p pooledPilot) df() float64 { return 0 }

func (p pooledPilot) scaled(f float64) pilot {
	p.closed.SE, p.closed.Half = p.closed.SE*f, p.closed.Half*f
	return p
}
