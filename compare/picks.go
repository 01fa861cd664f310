package compare

// Picks are patterns of names that say which metrics to look at. The zero value
// takes all.
type Picks struct {
	Only     []string `json:"only,omitempty"`
	LeaveOut []string `json:"leave_out,omitempty"`
}

// Wants reports whether a metric is to be looked at.
func (p Picks) Wants(benchmark, metric string) bool {
	return (len(p.Only) == 0 || AnyMatches(p.Only, benchmark, metric)) && !AnyMatches(p.LeaveOut, benchmark, metric)
}

// AnyMatches reports whether a pattern matches the benchmark, the metric or both
// as one name.
func AnyMatches(patterns []string, benchmark, metric string) bool {
	for _, p := range patterns {
		for _, name := range []string{benchmark, metric, benchmark + " " + metric} {
			if NameMatches(p, name) {
				return true
			}
		}
	}
	return false
}
