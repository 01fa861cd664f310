package stats

// What the tests against reference answers need.
var (
	PercentileInterval = percentileInterval
	RankInterval       = rankInterval
	MannWhitneyExact   = mannWhitneyExact
	MannWhitneyNormal  = mannWhitneyNormal
)

// PooledPercentileInterval and JointPercentileInterval are not widened.
func PooledPercentileInterval(components []Component, confidence float64, resamples int, seed uint64) (lo, hi float64) {
	return pooledBootstrap(components, resamples, seed, (1-confidence)/2)
}

func JointPercentileInterval(before, after Joint, weights []float64, confidence float64, resamples int,
	seed uint64) (lo, hi float64, ok bool) {
	return newJointWalk(before, after, weights).bootstrap(resamples, seed, (1-confidence)/2)
}
