package report

import "tunegate/compare/gate"

// GateRule is a kind of reason of a gate as a rule: what it says, and what to do.
type GateRule struct{ ID, Says, Do string }

// GateRules are the rules of a gate, in the order in which it lists its reasons. The
// topic about the gate has the same table.
func GateRules() []GateRule {
	return each(gate.ReasonKinds(), func(kind string) GateRule {
		text := gateRules[kind]
		return GateRule{kind, text[0], text[1]}
	})
}

var gateRules = map[string][2]string{
	gate.ReasonCopies: {"new rows repeat other rows, value for value, or whole lists of scores times a factor or moved by a shift",
		"take the rows out and measure"},
	gate.ReasonStale:      {"runs from before the settings changed are still there", "delete them; git keeps them"},
	gate.ReasonAltered:    {"rows of the base are missing or altered", "restore them; mark a bad run valid = no, with a reason"},
	gate.ReasonRegression: {"a score, or all of them together, got worse beyond the tolerance", "do not merge"},
	gate.ReasonRise:       {"a cost rose beyond its stated tolerance", "do not merge, or have the tolerance changed first"},
	gate.ReasonFall: {"a cost of which more is better fell beyond its stated tolerance",
		"do not merge, or have the tolerance changed first"},
	gate.ReasonDrift:    {"new runs differ from old ones, although the settings are the same", "find out what else changed"},
	gate.ReasonCap:      {"a valid run is beyond the policy's cap", "do not merge"},
	gate.ReasonSetAside: {"more runs are set aside than the policy allows", "find out why runs fail, or have set-aside-allowed raised first"},
	gate.ReasonRequired: {"a metric that the policy requires has no valid new run", "measure it"},
	gate.ReasonNoRuns:   {"a profile has no runs that can be judged", "run the profile and add the runs"},
	gate.ReasonBaseline: {"the baseline that a profile names is no profile here", "name one that is"},
	gate.ReasonRemoved:  {"a profile is gone, and what it guarded with it", "put it back, or have a maintainer agree"},
	gate.ReasonFewRuns:  {"a score has fewer runs or sessions than the policy wants", "add as many as the message says"},
	gate.ReasonPolicy: {"the policy got looser, or a profile names another baseline or anchor",
		"take that back, or have a maintainer agree"},
	gate.ReasonUnmeasured: {"a score, or a metric with a cap, was measured before and is not now",
		"measure it, too, or have the policy give it role = \"info\" first"},
	gate.ReasonNew: {"nothing older stands against a profile, or against its new runs", "name a baseline, or have a maintainer agree"},
	gate.ReasonNewBase: {"the baseline of a profile comes with the same request",
		"bring the baseline in by a request of its own, or have a maintainer agree"},
	gate.ReasonLaterRuns: {"a loss shows, or could hide, in runs of a session that do not count, or were not made",
		"make as many runs a session as the old sessions have"},
	gate.ReasonSlowRuns: {"a loss shows in some runs of each session, which the medians of sessions hide",
		"find out what slows those runs, and measure again"},
	gate.ReasonWithheld: {"a loss is real by itself, and open among the other rows",
		"add as many sessions as the message says, or judge it in a request of its own"},
	gate.ReasonBlind: {"these runs could have shown no loss of any size", "add as many as the message says, or use a longer test"},
	gate.ReasonSafety: {"the policy's burden is safety, and a loss beyond the tolerance is still possible",
		"add as many as the message says"},
	gate.ReasonBlindSpot: {"the blind spot is wider than the policy allows", "add as many as the message says"},
}
