package numeric

import "math"

// MeanSquares are the mean squares of a one-way analysis of variance, with their
// degrees of freedom and n0, the sessions' effective number of runs. A mean
// square without degrees of freedom is NaN.
type MeanSquares struct {
	Between, Within     float64
	BetweenDF, WithinDF float64
	EffectiveSize       float64
}

// OneWay is the one-way analysis of variance of runs in sessions; sessions
// without values are ignored.
func OneWay(sessions [][]float64) MeanSquares {
	var all []float64
	count, sizes := 0, 0.0
	for _, s := range sessions {
		if len(s) > 0 {
			all = append(all, s...)
			count++
			sizes += float64(len(s)) * float64(len(s))
		}
	}
	if count == 0 {
		return MeanSquares{Between: math.NaN(), Within: math.NaN(), EffectiveSize: math.NaN()}
	}
	n, grand := float64(len(all)), Mean(all)
	m := MeanSquares{BetweenDF: float64(count - 1), WithinDF: n - float64(count)}
	m.EffectiveSize = (n - sizes/n) / m.BetweenDF
	for _, s := range sessions {
		if len(s) == 0 {
			continue
		}
		own := Mean(s)
		m.Between += float64(len(s)) * (own - grand) * (own - grand)
		for _, v := range s {
			m.Within += (v - own) * (v - own)
		}
	}
	m.Between /= m.BetweenDF
	m.Within /= m.WithinDF
	if m.BetweenDF == 0 {
		m.Between = math.NaN()
	}
	if m.WithinDF == 0 {
		m.Within = math.NaN()
	}
	return m
}
