package gate

import (
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/stats"
)

// checkSlowRuns finds losses in some runs of each session, a third of them say, which the
// medians of sessions pass over: by the mean of its runs each session is slower. They are
// judged by themselves, so that nothing else is corrected for them; the whole interval has
// to lie beyond the tolerance. p is a change that was judged.
func (g *judging) checkSlowRuns(p pending) error {
	slow := pending{of: p.of, names: p.names}
	for _, x := range p.measured.Pairs {
		judged := x.Role == compare.Score && x.Tolerance != nil && x.Scale == compare.Ratio
		if !judged || x.RunsMatched || max(x.Before.UsualRuns, x.After.UsualRuns) < 3 { // of two runs the median is the mean
			continue
		}
		before, after := byID(p.before, x.ID()), byID(p.after, x.ID())
		if before == nil || after == nil {
			continue
		}
		b, a := sessionMeans(before), sessionMeans(after)
		loss := 100 * math.Log(middle(a)/middle(b))
		if x.Better == compare.Higher {
			loss = -loss
		}
		if loss > *x.Tolerance { // else nothing can lie beyond it
			slow.before, slow.after = append(slow.before, b), append(slow.after, a)
		}
	}
	if len(slow.before) == 0 {
		return nil
	}
	opt := g.opt
	opt.Progress = nil
	measured, err := compare.Measure(slow.before, slow.after, slow.names, g.policy, opt)
	if err != nil {
		return err
	}
	shown := g.failures(p.of)
	about := Reason{Kind: ReasonSlowRuns, Decides: Undecided}
	for _, r := range compare.JudgeTogether(nil, measured)[0].Results {
		if _, hi, ok := r.GainInterval(); shown[r.ID()] || !r.Decides || !r.Harmful() || !ok || hi >= -*r.Tolerance {
			continue
		}
		if about.Names = append(about.Names, r.Name()); about.Result == nil || math.Abs(r.Change) > math.Abs(about.Result.Change) {
			about.Result, about.Rows = r, firstRowOf(p.after, r)
		}
	}
	if about.Result != nil {
		g.add(p.of, about)
	}
	return nil
}

func byID(series []*compare.Series, id compare.MetricID) *compare.Series {
	if at := slices.IndexFunc(series, func(s *compare.Series) bool { return s.ID() == id }); at >= 0 {
		return series[at]
	}
	return nil
}

// sessionMeans is a series with one run a session, the mean of those that count, or what a
// row that stands for several runs says is theirs.
func sessionMeans(s *compare.Series) *compare.Series {
	out := onceASession(s, geometricMean)
	for i := range out.Len() {
		if o := out.At(i); o.Reduced != nil && o.Reduced.Mean > 0 {
			o.Value, o.Reduced = o.Reduced.Mean, nil
			out.Set(i, o)
		}
	}
	return out
}

func geometricMean(runs []float64) float64 {
	sum := 0.0
	for _, v := range runs {
		sum += math.Log(v)
	}
	return math.Exp(sum / float64(len(runs)))
}

// middle is the median of the runs that count.
func middle(s *compare.Series) float64 {
	var values []float64
	for _, v := range s.Valid() {
		values = append(values, v)
	}
	return stats.Median(values)
}
