package compare

import "math"

// fewest is how many values a side, or blocks, the policy's fewest-runs and
// fewest-sessions come to for a score whose sessions hold so many runs; 0 for
// no demand. Advice below it would be refused. Sessions that are not recorded
// cannot be advised in runs, and count for nothing here.
func (r *Result) fewest(policy Policy, runsPerSession float64) int {
	if r.Role != Score {
		return 0
	}
	up := func(wanted int, each float64) int { return int(math.Ceil(float64(wanted)/math.Max(1, each) - slack)) }
	switch r.Replication {
	case BySession:
		return max(policy.FewestSessions, up(policy.FewestRuns, runsPerSession))
	case ByBlock:
		sessions := float64(min(r.Before.Sessions, r.After.Sessions)) / float64(len(r.blocks))
		return max(up(policy.FewestSessions, sessions), up(policy.FewestRuns, sessions*runsPerSession))
	}
	return policy.FewestRuns
}

// usualRuns is the usual number of runs a session, on the side that has fewer.
func (r *Result) usualRuns() float64 { return math.Min(r.before.usualRun, r.after.usualRun) }
