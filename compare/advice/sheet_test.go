package advice

import (
	"testing"

	"tunegate/compare"
)

func sheetOf(t *testing.T, p SheetPlan) []SheetRow {
	t.Helper()
	rows, err := Sheet(p)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// Every block holds every profile as often, and over as many blocks as there
// are profiles each stands at each place once: a Latin square.
func TestSheetIsBalanced(t *testing.T) {
	profiles := []string{"factory", "cool-curve", "boost-lift", "fixed-all"}
	metrics := []compare.Metric{{Benchmark: "tile-render", Metric: "score", Unit: "s"}, {Benchmark: "tile-render", Metric: "power", Unit: "W"},
		{Benchmark: "mesh-solve", Metric: "score", Unit: "s"}}
	for _, n := range []int{2, 3, 4} {
		rows := sheetOf(t, SheetPlan{Profiles: profiles[:n], Metrics: metrics, Blocks: 2 * n, Spells: 1, Runs: 3, WarmUps: 1, Seed: 5})
		first := map[string]int{}
		perBlock := map[[2]string]int{}
		sessions := map[string]string{}
		seen := map[string]bool{}
		for _, r := range rows {
			if !seen[r.Block] {
				seen[r.Block] = true
				first[r.Profile]++
			}
			if r.Run != compare.WarmUp {
				perBlock[[2]string{r.Block, r.Profile}]++
			}
			if p, ok := sessions[r.Session]; ok && p != r.Profile {
				t.Fatalf("session %s holds %s and %s", r.Session, p, r.Profile)
			}
			sessions[r.Session] = r.Profile
		}
		for _, p := range profiles[:n] {
			if first[p] != 2 {
				t.Errorf("%d profiles: %s comes first in %d of %d blocks, want 2", n, p, first[p], 2*n)
			}
		}
		for k, count := range perBlock {
			if count != 9 { // three metrics, three runs
				t.Errorf("%v has %d values, want 9", k, count)
			}
		}
		if len(perBlock) != 2*n*n {
			t.Errorf("%d profile-blocks, want %d", len(perBlock), 2*n*n)
		}
	}
}

// With two spells a block runs there and back, and a warm-up opens every
// benchmark of a session.
func TestSheetThereAndBack(t *testing.T) {
	rows := sheetOf(t, SheetPlan{Profiles: []string{"a", "b"}, Metrics: []compare.Metric{{Benchmark: "x", Metric: "score"}}, Blocks: 3,
		Spells: 2, Runs: 1, WarmUps: 1, Seed: 1})
	byBlock := map[string]string{}
	for i, r := range rows {
		if i%2 == 0 && r.Run != compare.WarmUp || i%2 == 1 && r.Run != "1" {
			t.Fatalf("row %d is run %q", i, r.Run)
		}
		if r.Run != compare.WarmUp {
			byBlock[r.Block] += r.Profile
		}
	}
	for block, order := range byBlock {
		if order != "abba" && order != "baab" {
			t.Errorf("%s runs %s", block, order)
		}
	}
}

func TestSheetIsSeeded(t *testing.T) {
	p := SheetPlan{Profiles: []string{"a", "b", "c"}, Metrics: []compare.Metric{{Benchmark: "x"}, {Benchmark: "y"}, {Benchmark: "z"}},
		Blocks: 4, Spells: 1, Runs: 1, Seed: 3}
	a, b := sheetOf(t, p), sheetOf(t, p)
	p.Seed = 4
	c := sheetOf(t, p)
	differs := false
	for i := range a {
		if a[i].Profile != b[i].Profile || a[i].Metric.Benchmark != b[i].Metric.Benchmark {
			t.Fatal("the same seed gave another sheet")
		}
		differs = differs || a[i].Profile != c[i].Profile || a[i].Metric.Benchmark != c[i].Metric.Benchmark
	}
	if !differs {
		t.Error("another seed gave the same sheet")
	}
}

func TestSheetRefuses(t *testing.T) {
	x := []compare.Metric{{Benchmark: "x"}}
	for name, p := range map[string]SheetPlan{
		"one profile":    {Profiles: []string{"a"}, Metrics: x, Blocks: 1, Spells: 1, Runs: 1},
		"twice the same": {Profiles: []string{"a", "a"}, Metrics: x, Blocks: 1, Spells: 1, Runs: 1},
		"no benchmark":   {Profiles: []string{"a", "b"}, Blocks: 1, Spells: 1, Runs: 1},
		"no run":         {Profiles: []string{"a", "b"}, Metrics: x, Blocks: 1, Spells: 1},
		"three spells":   {Profiles: []string{"a", "b"}, Metrics: x, Blocks: 1, Spells: 3, Runs: 1},
		"endless":        {Profiles: []string{"a", "b"}, Metrics: x, Blocks: 1_000_000, Spells: 1, Runs: 1},
	} {
		if _, err := Sheet(p); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// One difference a block: 2/2^6 is the first below 0.05, 2/2^7 below 0.05/2. Counting.
func TestBlocksToSettle(t *testing.T) {
	for _, c := range []struct{ scores, want int }{{1, 6}, {2, 7}, {6, 8}} {
		if got := BlocksToSettle(c.scores, 0.95); got != c.want {
			t.Errorf("%d scores: %d blocks, want %d", c.scores, got, c.want)
		}
	}
}
