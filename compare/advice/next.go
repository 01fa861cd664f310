package advice

import (
	"cmp"
	"maps"
	"math"
	"slices"

	descriptive "github.com/montanaflynn/stats"
	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/compare"
	"tunegate/stats/plan"
)

// Next is what to run next in a comparison: further sessions or blocks for what
// decides and is open, over all of it at once.
type Next struct {
	Settled int     // of what decides
	Open    []*Open // in the order of the comparison, the suite last
	// Look is for which of two looks the rows to come are: the second where the pilot
	// could settle something, so that it was the first; 0 where both are taken, and
	// nothing is planned.
	Look    int
	Unit    compare.Replication
	Spells  int // sessions of each profile in a block or on a machine, as in the pilot; 1 outside both
	WarmUps int // of a benchmark in a session
	Minutes compare.Minutes
	// Choices are plans for several budgets, or for the one that was asked for.
	Choices []*Choice
	Asked   bool // for one budget

	found, members int
	minWorth       float64
	usualRuns      int
	splits         bool // it is known how sessions and runs differ
	unequal        bool // the pilot has other numbers of values before than after
}

// Open is something that decides and is not settled.
type Open struct {
	*compare.Result
	Planned bool // the pilot shows what further values would do
	// Alone is how many more values a side, or blocks, settle it four times in five, and
	// AloneHours how long they take with nothing else; 0 where none would, or where it
	// is not known.
	Alone      int
	AloneHours float64

	// BlockGain is above 0 where differences within the pilot's blocks settle more than
	// its sessions would by themselves.
	BlockGain float64

	planner compare.Planner
	runs    []string // the benchmarks that it needs
	within  float64  // of the variance of what counts once, with one run, that lies between runs
}

// Choice is the plan for one budget.
type Choice struct {
	Budget   Budget
	Sessions int     // more a side, or blocks
	Runs     int     // counted, of a benchmark in a session
	Hours    float64 // at the bench; 0 where minutes are not known
	// More is in how many of these sessions each benchmark is run.
	More map[string]int
	// Chances are those of each open result to be settled then; of one that is not run 0.
	Chances  []float64
	Expected float64 // how many settle: their sum

	Scant bool // that is less than one in 40 hours

	worth float64
}

// Budget is what may be spent: hours, or sessions a side (blocks) where minutes are not known.
type Budget struct {
	Hours    float64
	Sessions int
}

// What is planned where no budget is given.
var (
	hoursListed    = []float64{6, 12, 24}
	sessionsListed = []int{1, 2, 4, 8}
)

const (
	// minWorth is how many settled scores a further hour has to bring to be spent.
	minWorth = 1.0 / 40
	// minChance is the chance from which on sessions of unknown length are worth it.
	minChance = 0.2
	// maxSessions is the most that is planned a side.
	maxSessions = 300
)

// NextOf plans what to run next. The comparison is judged at the level that two looks
// share; look is the last one that its runs were made for, 0 for none.
//
// The level is the common one even where the pilot, of three runs or so, could settle
// nothing: how much is added hangs on what the pilot showed, and that is worth a look.
func NextOf(c *compare.Comparison, look int, policy compare.Policy, wish Wish) *Next {
	if look++; look == 1 && c.Family.Members() > 0 {
		look = 2
	}
	if look > 2 {
		look = 0
	}
	n := &Next{Look: look, Spells: 1, WarmUps: wish.WarmUps, Minutes: c.Minutes, minWorth: minWorth,
		Asked: wish.Hours > 0 && c.Minutes.Known() || wish.Sessions > 0}
	var deciding []*compare.Result
	for _, r := range c.Judged() {
		if r.Verdict != nil && r.InFamily() {
			deciding = append(deciding, r)
		}
	}
	for _, r := range deciding {
		if n.members++; r.Real {
			n.found++
		}
		if r.Verdict.Settled() {
			n.Settled++
		} else {
			n.Open = append(n.Open, &Open{Result: r})
		}
	}
	if len(n.Open) == 0 {
		return n
	}
	n.Unit = n.Open[0].Replication
	design := plan.Design{Confidence: c.Confidence, CriticalP: c.StrictestFamilyP(max(1, n.members-n.found)), Power: cmp.Or(wish.Power, 0.8)}
	var usual []int
	for _, o := range n.Open {
		o.planner = o.Planner(design, policy)
		o.Planned = o.planner.Pilot.DF >= 1 && o.planner.Pilot.Spread() > 0 && !o.TooCoarse() &&
			(o.Parts == nil || n.Unit != compare.ByRun) // passes: no session of the sheet would be one
		if o.Parts == nil {
			o.runs = []string{o.Benchmark}
			usual = append(usual, int(math.Round(math.Min(o.Before.UsualRuns, o.After.UsualRuns))))
			n.unequal = n.unequal || o.Before.Runs != o.After.Runs && o.Replicates[0] != o.Replicates[1]
			perBefore, perAfter := float64(o.Before.Sessions)/float64(o.Replicates[0]), float64(o.After.Sessions)/float64(o.Replicates[1])
			switch per := math.Min(perBefore, perAfter); {
			case n.Unit == compare.ByMachine:
				n.Spells = max(n.Spells, int(math.Round(per)))
			case o.Blocks != nil && per >= 2:
				n.Spells = 2
			}
		}
		o.BlockGain = blockGain(o)
		for _, p := range o.Parts {
			o.runs = append(o.runs, p.Benchmark)
		}
	}
	n.usualRuns = 1
	if len(usual) > 0 && n.Unit != compare.ByRun {
		slices.Sort(usual)
		n.usualRuns = max(1, usual[len(usual)/2])
	}
	n.shareOfRuns()
	for _, o := range n.Open {
		n.alone(o, design.Power)
	}
	if n.Look == 0 {
		return n
	}
	for _, b := range n.budgets(wish) {
		choice := n.choose(b)
		if choice == nil && n.Asked { // it was asked for: whatever it is worth
			n.minWorth = 0
			choice = n.choose(b)
		}
		if choice != nil && !slices.ContainsFunc(n.Choices, choice.same) {
			n.Choices = append(n.Choices, choice)
		}
	}
	return n
}

// same reports whether another choice is the same work.
func (c *Choice) same(other *Choice) bool {
	return c.Runs == other.Runs && maps.Equal(c.More, other.More)
}

// budgets are those to plan for.
func (n *Next) budgets(wish Wish) (out []Budget) {
	switch {
	case wish.Sessions > 0:
		return []Budget{{Sessions: wish.Sessions}}
	case wish.Hours > 0 && n.Minutes.Known():
		return []Budget{{Hours: wish.Hours}}
	case n.Minutes.Known():
		for _, h := range hoursListed {
			out = append(out, Budget{Hours: h})
		}
		return out
	}
	for _, s := range sessionsListed {
		out = append(out, Budget{Sessions: s})
	}
	return out
}

// shareOfRuns estimates how much of the variance of a session of one run lies between
// its runs: the mean over the family, because few sessions tell it badly. Of a machine,
// whose sessions share its deviation, it says nothing: further machines are measured as
// those of the pilot.
func (n *Next) shareOfRuns() {
	if n.Unit == compare.ByMachine {
		return
	}
	sum, count := 0.0, 0
	for _, o := range n.Open {
		if o.Parts != nil || n.usualRuns < 2 {
			continue
		}
		if between, within := components(o.Measurement); between+within > 0 {
			sum += within / (between + within)
			count++
		}
	}
	if n.splits = count > 0; n.splits {
		for _, o := range n.Open {
			o.within = sum / float64(count)
		}
	}
}

// spread is the standard deviation of sessions of so many runs over that of the
// pilot's.
func (n *Next) spread(o *Open, runs int) float64 {
	variance := func(runs int) float64 { return 1 - o.within + o.within/float64(runs) }
	return math.Sqrt(variance(runs) / variance(n.usualRuns))
}

// runsToTry are numbers of runs in a session. Sides of unequal sessions keep the
// pilot's, so that the sessions of both are made up alike.
func (n *Next) runsToTry() []int {
	if n.usualRuns == 1 || n.unequal || !n.splits {
		return []int{n.usualRuns}
	}
	out := []int{1, 3, n.usualRuns}
	slices.Sort(out)
	return slices.DeleteFunc(slices.Compact(out), func(r int) bool { return r > n.usualRuns })
}

// chance is that of an open result with so many more sessions a side of so many runs.
func (n *Next) chance(o *Open, more, runs int) float64 {
	if !o.Planned || more == 0 || min(o.Replicates[0], o.Replicates[1])+more < o.planner.Wanted {
		return 0
	}
	return o.planner.Settles(more, n.spread(o, runs))
}

// sessionMinutes are those of a session on both sides before its runs, or of all spells of a block,
// and runMinutes those of a benchmark's runs in them.
func (n *Next) sessionMinutes() float64 { return 2 * float64(n.Spells) * n.Minutes.Session }

func (n *Next) runMinutes(benchmark string, runs int) float64 {
	return 2 * float64(n.Spells) * float64(runs+n.WarmUps) * n.Minutes.RunOf(benchmark)
}

// alone works out what it takes to settle one result by itself.
func (n *Next) alone(o *Open, power float64) {
	for _, runs := range n.runsToTry() {
		enough := func(more int) bool { return n.chance(o, more, runs) >= power }
		high := 1
		for !enough(high) && high <= 100_000 {
			high *= 2
		}
		if high > 100_000 {
			continue
		}
		low := high / 2
		for high-low > 1 {
			if m := (low + high) / 2; enough(m) {
				high = m
			} else {
				low = m
			}
		}
		hours := 0.0
		if n.Minutes.Known() {
			hours = n.sessionMinutes()
			for _, b := range o.runs {
				hours += n.runMinutes(b, runs)
			}
			hours *= float64(high) / 60
		}
		if o.Alone == 0 || hours < o.AloneHours || hours == 0 && runs == n.usualRuns {
			o.Alone, o.AloneHours = high, hours
		}
	}
}

// choose plans for a budget; nil where nothing fits it. Of all numbers of sessions, of
// runs in them and of benchmarks it takes those with the largest expected number of
// settled results, where each hour brings at least minWorth.
func (n *Next) choose(b Budget) *Choice {
	if b.Sessions > 0 {
		return n.inSessions(b)
	}
	if !n.Minutes.Known() {
		return nil
	}
	var best *Choice
	for _, runs := range n.runsToTry() {
		limit := maxSessions
		if each := n.sessionMinutes() + n.cheapestRun(runs); each > 0 {
			limit = min(limit, int(60*b.Hours/each))
		}
		if limit < 1 {
			continue
		}
		table := n.tables(limit, runs)
		for sessions := 1; sessions <= limit; sessions++ {
			rest := 60*b.Hours - float64(sessions)*n.sessionMinutes()
			for _, more := range []map[string]int{n.fill(table, sessions, runs, rest), n.allOfSuite(sessions, runs, rest)} {
				if c := n.choice(b, more, runs, table); c != nil && (c.worth > 0 || n.minWorth == 0) && (best == nil || c.worth > best.worth+1e-9) {
					best = c
				}
			}
		}
	}
	return best
}

// cheapestRun are the minutes of the shortest benchmark that an open result needs.
func (n *Next) cheapestRun(runs int) float64 {
	least := math.Inf(1)
	for _, o := range n.Open {
		for _, b := range o.runs {
			least = math.Min(least, n.runMinutes(b, runs))
		}
	}
	return least
}

// tables are the chances of each open result by the number of sessions.
func (n *Next) tables(limit, runs int) [][]float64 {
	out := make([][]float64, len(n.Open))
	for i, o := range n.Open {
		out[i] = make([]float64, limit+1)
		for k := range out[i] {
			out[i][k] = n.chance(o, k, runs)
		}
	}
	return out
}

// fill takes benchmarks for so many sessions, as long as they fit: those first whose
// minutes settle most. All are run in each of the sessions: a number of its own for
// each, chosen by how near it is to a verdict, would be a look that nobody paid for.
func (n *Next) fill(table [][]float64, sessions, runs int, minutes float64) map[string]int {
	gains := map[string]float64{}
	var names []string
	for i, o := range n.Open {
		if o.Parts != nil {
			continue
		}
		if _, met := gains[o.Benchmark]; !met {
			names = append(names, o.Benchmark)
		}
		gains[o.Benchmark] += table[i][sessions]
	}
	cost := func(name string) float64 { return float64(sessions) * n.runMinutes(name, runs) }
	slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(gains[b]/cost(b), gains[a]/cost(a)) })
	more := map[string]int{}
	for _, name := range names {
		if cost(name) <= minutes && gains[name]/cost(name) >= n.minWorth/60 {
			more[name], minutes = sessions, minutes-cost(name)
		}
	}
	return more
}

// allOfSuite runs each benchmark of an open suite in each session; nil where there is
// none, or where they do not fit.
func (n *Next) allOfSuite(sessions, runs int, minutes float64) map[string]int {
	last := n.Open[len(n.Open)-1]
	if last.Parts == nil {
		return nil
	}
	more := map[string]int{}
	for _, b := range last.runs {
		more[b] = sessions
		minutes -= n.runMinutes(b, runs) * float64(sessions)
	}
	if minutes < 0 {
		return nil
	}
	return more
}

// choice works out what a share-out comes to; nil for an empty one.
func (n *Next) choice(b Budget, more map[string]int, runs int, table [][]float64) *Choice {
	c := &Choice{Budget: b, Runs: runs, More: more, Chances: make([]float64, len(n.Open))}
	minutes := 0.0
	for _, name := range slices.Sorted(maps.Keys(more)) { // sums hang on the order
		c.Sessions = max(c.Sessions, more[name])
		minutes += float64(more[name]) * n.runMinutes(name, runs)
	}
	if c.Sessions == 0 {
		return nil
	}
	for i, o := range n.Open {
		least := c.Sessions
		for _, name := range o.runs {
			least = min(least, more[name])
		}
		c.Chances[i] = table[i][least]
		c.Expected += c.Chances[i]
	}
	if n.Minutes.Known() {
		c.Hours = (minutes + float64(c.Sessions)*n.sessionMinutes()) / 60
	}
	c.worth = c.Expected - n.minWorth*c.Hours
	c.Scant = n.Minutes.Known() && c.Expected < minWorth*c.Hours
	return c
}

// inSessions plans so many sessions: of each benchmark that they give a fair chance,
// or, where none has one and the number was asked for, of all that is open.
func (n *Next) inSessions(b Budget) *Choice {
	more := map[string]int{}
	table := n.tables(b.Sessions, n.usualRuns)
	for _, atLeast := range []float64{minChance, 0} {
		for i, o := range n.Open {
			if o.Parts == nil && table[i][b.Sessions] >= atLeast {
				more[o.Benchmark] = b.Sessions
			}
		}
		if len(more) > 0 || !n.Asked {
			break
		}
	}
	return n.choice(b, more, n.usualRuns, table)
}

// blockGain is the logarithm of the half-width of a 95 % interval by Student from the
// sessions by themselves over that from the differences within blocks; 0 outside blocks.
func blockGain(o *Open) float64 {
	b, a := o.Before.Values, o.After.Values
	if o.Blocks == nil || len(b) < 2 || len(a) < 2 || !o.Planned {
		return 0
	}
	half := func(variance float64, df int) float64 {
		return math.Sqrt(variance) * distuv.StudentsT{Sigma: 1, Nu: float64(df)}.Quantile(0.975)
	}
	beforeVariance, _ := descriptive.SampleVariance(b) // it only fails on empty input
	afterVariance, _ := descriptive.SampleVariance(a)
	apart := half(beforeVariance/float64(len(b))+afterVariance/float64(len(a)), len(b)+len(a)-2)
	blocks, sd := o.Replicates[0], o.planner.Pilot.SD[0]
	return math.Log(apart / half(sd*sd/float64(blocks), blocks-1))
}
