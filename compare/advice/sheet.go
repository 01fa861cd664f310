package advice

import (
	"fmt"
	"math/rand/v2"

	"tunegate/compare"
	"tunegate/stats/plan"
)

// SheetPlan says what a run sheet has to hold.
type SheetPlan struct {
	Profiles []string         // two to twelve
	Metrics  []compare.Metric // benchmark, metric, unit and direction of each thing to write down
	Blocks   int              // sittings, each with every profile
	Spells   int              // times each profile is applied in a block; 1, or 2 for A B B A
	Runs     int              // counted runs of a benchmark in a session
	WarmUps  int              // runs before them that are not counted
	Looks    int              // planned looks, 2 or none; the first is after half of the blocks
	Seed     uint64
}

// SheetRow is one value to be written down.
type SheetRow struct {
	Step    int    // number of the run, from 1, in the order of work; 0 of one that was made
	Machine string // empty where none is stated
	Block   string // empty where sessions are not in blocks
	Session string
	Profile string
	Metric  compare.Metric
	Run     string   // compare.WarmUp, or a number from 1
	Look    int      // for which planned look, from 1; 0 where none is planned
	Value   *float64 // of a run that was made
}

// appendRuns appends the runs of one benchmark in a session: a row for each metric.
// runs counts all runs.
func (of SheetRow) appendRuns(rows []SheetRow, runs *int, metrics []compare.Metric, warmUps, counted int) []SheetRow {
	for run := range warmUps + counted {
		row := of
		row.Run = compare.WarmUp
		if run >= warmUps {
			row.Run = fmt.Sprint(run - warmUps + 1)
		}
		*runs++
		row.Step = *runs
		for _, m := range metrics {
			row.Metric = m
			rows = append(rows, row)
		}
	}
	return rows
}

// thereAndBack is an order of profiles, with two spells followed by its reverse.
func thereAndBack(order []int, spells int) []int {
	if spells == 2 {
		for i := len(order) - 1; i >= 0; i-- {
			order = append(order, order[i])
		}
	}
	return order
}

// Sheet plans the order of work: each block holds every profile, so that
// drift, ambient temperature and a new driver meet all of them alike; which
// comes first is balanced over blocks and otherwise drawn. With two spells a
// block runs there and back (A B B A), which takes a steady drift out of each
// block. The order of benchmarks is drawn anew for each block and is the same
// in all its sessions, so that what ran before a benchmark is, too.
func Sheet(p SheetPlan) ([]SheetRow, error) {
	switch {
	case len(p.Profiles) < 2 || len(p.Profiles) > 12:
		return nil, fmt.Errorf("a run sheet needs 2 to 12 profiles, found %d", len(p.Profiles))
	case len(p.Metrics) == 0:
		return nil, fmt.Errorf("a run sheet needs at least one benchmark")
	case p.Blocks < 1 || p.Runs < 1 || p.WarmUps < 0 || p.Spells < 1 || p.Spells > 2:
		return nil, fmt.Errorf("a run sheet needs at least one block and one run, and one or two spells")
	case p.Blocks*p.Spells*len(p.Profiles)*len(p.Metrics)*(p.Runs+p.WarmUps) > 1_000_000:
		return nil, fmt.Errorf("a run sheet of more than a million runs is a mistake; plan fewer blocks or runs")
	}
	if p.Looks == 2 && p.Blocks%2 > 0 {
		return nil, fmt.Errorf("two looks need an even number of blocks, found %d; the first look is after half of them", p.Blocks)
	}
	seen := map[string]bool{}
	for _, name := range p.Profiles {
		if seen[name] {
			return nil, fmt.Errorf("profile %q is named twice", name)
		}
		seen[name] = true
	}
	var benchmarks []string
	metrics := map[string][]compare.Metric{}
	for _, m := range p.Metrics {
		if metrics[m.Benchmark] == nil {
			benchmarks = append(benchmarks, m.Benchmark)
		}
		metrics[m.Benchmark] = append(metrics[m.Benchmark], m)
	}
	g := rand.New(rand.NewPCG(p.Seed, 0))
	step := 0
	var rows []SheetRow
	var square [][]int
	for b := range p.Blocks {
		if b%len(p.Profiles) == 0 {
			square = latinSquare(g, len(p.Profiles))
		}
		order := thereAndBack(square[b%len(p.Profiles)], p.Spells)
		drawn := g.Perm(len(benchmarks))
		look := 0
		if p.Looks == 2 {
			look = 1 + 2*b/p.Blocks
		}
		for i, profile := range order {
			session := SheetRow{Block: fmt.Sprintf("block %d", b+1), Session: fmt.Sprintf("S%d.%d", b+1, i+1), Profile: p.Profiles[profile],
				Look: look}
			for _, k := range drawn {
				rows = session.appendRuns(rows, &step, metrics[benchmarks[k]], p.WarmUps, p.Runs)
			}
		}
	}
	return rows, nil
}

// LookConfidence is what each of two planned looks is judged at so that both together
// keep a confidence.
func LookConfidence(overall float64) float64 { return 1 - plan.TwoLooksLevel(1-overall) }

// SecondLook returns at which level a comparison of a single score by ranks may be
// judged again at so many values a side, after it was judged at these: what the first
// test did not spend. ok is false where nothing is known to be left. Families of
// several have tests of finer steps, which spend all of their level at once.
func SecondLook(c *compare.Comparison, size int) (level float64, ok bool) {
	if c.Family.Members() != 1 || c.Look > 0 {
		return 0, false
	}
	for _, r := range c.Results {
		if n := r.Replicates[0]; r.InFamily() && r.Test == compare.TestMannWhitney && n == r.Replicates[1] {
			if size <= n {
				size = 2 * n
			}
			return plan.SecondLookLevel(1-c.Confidence, n, size)
		}
	}
	return 0, false
}

// BlocksToSettle is the fewest blocks in which the signed-rank test can settle
// something at a confidence, for so many scores judged together by Holm's method.
// Fewer rest on normal noise.
func BlocksToSettle(scores int, confidence float64) int {
	return plan.MinRankBlocks((1 - confidence) / float64(max(1, scores)))
}

// latinSquare returns n orders of n things in which each thing stands at each
// place once, and, for an even n, follows each other thing once (Williams,
// Australian Journal of Scientific Research A 2:149-168, 1949); things and
// orders are shuffled.
func latinSquare(g *rand.Rand, n int) [][]int {
	names, lines := g.Perm(n), g.Perm(n)
	square := make([][]int, n)
	for r := range square {
		square[r] = make([]int, n)
		for c := range square[r] {
			zigzag := c / 2 // 0, n-1, 1, n-2, ...
			if c%2 == 1 {
				zigzag = n - 1 - c/2
			}
			square[r][c] = names[(zigzag+lines[r])%n]
		}
	}
	return square
}
