package doubts

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// inPairs are two profiles measured once each in every block, or on every machine: runs
// have a standard deviation of 1, blocks one of luck.
func inPairs(g *rand.Rand, shape string, benchmarks, pairs int, luck, step float64, machines bool) (before, after []compare.Value) {
	draw := comparetest.Shape(shape)
	for k := range pairs {
		for b := range benchmarks {
			level := 1000 + luck*g.NormFloat64()
			for side, rows := range []*[]compare.Value{&before, &after} {
				profile := []string{"factory", "boost"}[side]
				v := compare.Value{Profile: profile, Benchmark: fmt.Sprintf("score %d", b+1), Unit: "s", Block: fmt.Sprint("B", k+1),
					Value: math.Round((level+draw(g))/step) * step, At: compare.Place{File: profile + ".csv", Line: k + 2, Column: b + 2}}
				if machines {
					v.Machine, v.Block = v.Block, ""
				}
				*rows = append(*rows, v)
			}
		}
	}
	return before, after
}

// Two profiles measured once each in a block, or on a machine, share its luck, and are
// equal more often than those of several: none of some thousand honest pairs of lists may
// be accused while blocks differ by 30 times what runs do, or less.
func TestSharedLuckIsNoCopy(t *testing.T) {
	repeats := 4
	if testing.Short() || comparetest.RaceEnabled {
		repeats = 1
	}
	sets := 0
	for _, shape := range []string{"normal", "skew", "t5", "bimodal"} {
		for _, benchmarks := range []int{1, 4, 12} {
			for _, pairs := range []int{3, 6, 12} {
				for _, luck := range []float64{0, 3, 10, 30} {
					for _, step := range []float64{0.01, 0.1, 0.3, 1, 3, 10} {
						for range repeats {
							g := rand.New(rand.NewPCG(uint64(sets), 21))
							before, after := inPairs(g, shape, benchmarks, pairs, luck, step, sets%2 == 0)
							sets++
							if found, _ := CopiesOf(compare.RowsOf(after...), compare.RowsOf(before...)); found != nil {
								t.Errorf("%s, %d scores in %d pairs, luck %v, steps of %v: %d runs accused, factor %v, shift %v", shape, benchmarks, pairs,
									luck, step, found.Runs, found.Factor, found.Shift)
							}
						}
					}
				}
			}
		}
	}
	t.Logf("%d honest pairs of lists", sets)
}

// Rows copied from one profile into another under the labels of their own blocks, or
// machines, are found where the readings are fine.
func TestCopiesThatShareLuck(t *testing.T) {
	const repeats = 20
	for _, machines := range []bool{false, true} {
		for _, c := range []struct {
			benchmarks, pairs int
			luck, step        float64
			share             float64 // of the rows that are copied
		}{{4, 6, 0, 0.01, 1}, {4, 6, 1, 0.03, 1}, {4, 6, 10, 0.1, 1}, {1, 12, 1, 0.03, 1}, {12, 6, 1, 0.03, 1}, {12, 6, 3, 0.03, 0.5}} {
			found := 0
			for seed := range repeats {
				g := rand.New(rand.NewPCG(uint64(seed), 22))
				before, after := inPairs(g, "normal", c.benchmarks, c.pairs, c.luck, c.step, machines)
				for i := range int(c.share * float64(len(after))) {
					after[i].Value = before[i].Value
				}
				if f, of := CopiesOf(compare.RowsOf(after...), compare.RowsOf(before...)); f != nil {
					found++
					if of != 0 || float64(f.Runs) < 0.6*c.share*float64(c.benchmarks*c.pairs) || f.Sides[0].Profile != "factory" ||
						f.Sides[1].Profile != "boost" {
						t.Errorf("machines %v, %+v: %+v", machines, c, f)
					}
				}
			}
			if found < repeats*8/10 {
				t.Errorf("machines %v, %+v: %d of %d found", machines, c, found, repeats)
			}
		}
	}
	// A spell that is another's of its block and profile.
	g := rand.New(rand.NewPCG(23, 23))
	first, second := inPairs(g, "normal", 4, 6, 1, 0.01, false)
	if found, _ := CopiesOf(compare.RowsOf(slices.Concat(first, second)...)); found != nil {
		t.Errorf("two spells: %+v", found)
	}
	for i := range second {
		second[i].Value = first[i].Value
	}
	if found, of := CopiesOf(compare.RowsOf(slices.Concat(first, second)...)); found == nil || found.Runs != 24 || of != -1 {
		t.Errorf("a spell twice: %+v", found)
	}
}
