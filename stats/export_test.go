package stats

// What the tests against reference answers need.
var (
	PercentileInterval = percentileInterval
	RankInterval       = rankInterval
	MannWhitneyExact   = mannWhitneyExact
	MannWhitneyNormal  = mannWhitneyNormal
)
