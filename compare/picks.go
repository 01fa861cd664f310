package compare

// Picks are patterns of names that say which metrics to look at. The zero value
// takes all.
type Picks struct {
	Only     []string
	LeaveOut []string
}

// Wants reports whether a metric is to be looked at.
func (p Picks) Wants(id MetricID) bool {
	return (len(p.Only) == 0 || AnyMatches(p.Only, id)) && !AnyMatches(p.LeaveOut, id)
}

// AnyMatches reports whether a pattern matches the benchmark, the metric or both
// as one name.
func AnyMatches(patterns []string, id MetricID) bool {
	for _, p := range patterns {
		for _, name := range []string{id.Benchmark, id.Metric, id.Benchmark + " " + id.Metric} {
			if NameMatches(p, name) {
				return true
			}
		}
	}
	return false
}
