package ladder

import "tunegate/compare"

// Rung is what a profile costs and brings beside the first one. Fields are nil
// where nothing is recorded, and for the first profile, but Front.
type Rung struct {
	Profile    string
	Speed      *compare.Suite
	Power      *compare.Suite
	Heat       *compare.Suite // temperature rise where ambient is recorded, else temperature
	Energy     *compare.Suite // of a job
	Efficiency *compare.Suite // work per joule
	Front      Front
	BeatenBy   []string // profiles that beat it, or may
}

// rungs works out what each profile costs and brings beside the first, each
// quantity judged by itself.
func (c *climb) rungs() []*Rung {
	heat := c.firstPriced(MetricRise, MetricTemperature)
	rungs := []*Rung{{Profile: c.profiles[0]}}
	for j := 1; j < len(c.profiles); j++ {
		p := c.pairs[[2]int{0, j}]
		alone := func(pool *compare.Pool) *compare.Suite {
			if pool == nil {
				return nil
			}
			terms := c.Terms
			terms.Correction = compare.NoCorrection
			judged := terms.Judge([]*compare.Measurement{pool.Measured})[0]
			return terms.Suites([]*compare.Pool{pool}, judged, c.policy, nil)[0]
		}
		rungs = append(rungs, &Rung{Profile: c.profiles[j],
			Speed: alone(c.pool(p, compare.PoolOf{Name: "speed"}, c.scores(p))),
			Power: alone(c.costs(p, MetricPower)), Heat: alone(c.costs(p, heat)),
			Energy: alone(c.costs(p, MetricEnergy)), Efficiency: alone(c.costs(p, MetricEfficiency))})
	}
	return rungs
}

// costs pools a metric over the benchmarks whose scores every profile has. All
// of them have to have it on both sides: else the profiles would be weighed on
// different work.
func (c *climb) costs(p *pair, metric string) *compare.Pool {
	var parts []*compare.Measurement
	priced := c.priced(metric)
	for _, m := range p.metrics {
		if id := m.ID(); id.Metric == metric && m.Role != compare.Score && priced[id.Benchmark] {
			parts = append(parts, m)
		}
	}
	return c.pool(p, compare.PoolOf{Name: metric}, parts)
}

// priced are the benchmarks with a score and this metric for every profile.
func (c *climb) priced(metric string) map[string]bool {
	count := map[string]int{}
	for i := range len(c.profiles) - 1 {
		for _, m := range c.pairs[[2]int{i, i + 1}].metrics {
			if id := m.ID(); id.Metric == metric && c.common[compare.MetricID{Benchmark: id.Benchmark, Metric: compare.DefaultMetric}] {
				count[id.Benchmark]++
			}
		}
	}
	out := map[string]bool{}
	for b, n := range count {
		if n == len(c.profiles)-1 {
			out[b] = true
		}
	}
	return out
}

// firstPriced is the first metric that some benchmark has for every profile;
// empty where none has any.
func (c *climb) firstPriced(metrics ...string) string {
	for _, m := range metrics {
		if len(c.priced(m)) > 0 {
			return m
		}
	}
	return ""
}
