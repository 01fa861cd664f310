package comparetest

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"tunegate/compare"
	"tunegate/stats"
)

// reduction is what an engine would find in runs: the row that stands for them.
func reduction(runs []compare.Value, ratio bool) compare.Value {
	v := runs[0]
	var values, compared []float64
	for _, r := range runs {
		values = append(values, r.Value)
		compared = append(compared, math.Log(r.Value))
	}
	mean, spread := math.Exp(stat.Mean(compared, nil)), 0.0
	if v.Value = math.Exp(stats.Median(compared)); !ratio || len(runs)%2 == 1 {
		v.Value = stats.Median(values)
	}
	if !ratio {
		mean, compared = stat.Mean(values, nil), values
	}
	if len(runs) > 1 {
		spread = stat.StdDev(compared, nil)
	}
	v.Run, v.Reduced = "", &compare.Reduction{Runs: len(runs), Mean: mean, Spread: spread, Smallest: slices.Min(values),
		Largest: slices.Max(values)}
	return v
}

// Reduced are the rows that an engine would make of runs, one a session.
func Reduced(values []compare.Value, ratio bool) (out []compare.Value) {
	for from := 0; from < len(values); {
		to := from
		for to < len(values) && values[to].Session == values[from].Session && values[to].Benchmark == values[from].Benchmark {
			to++
		}
		out, from = append(out, reduction(values[from:to], ratio)), to
	}
	return out
}
