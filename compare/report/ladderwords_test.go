package report

import (
	"testing"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

// Every kind of note has a sentence with the values of its fields.
func TestLadderNotes(t *testing.T) {
	climbed := func(product, total float64, gap *ladder.Gap) *ladder.Ladder {
		m := &compare.Measurement{Pair: &compare.Pair{Metric: compare.Metric{Scale: compare.Ratio}}, Change: total,
			Interval: &[2]float64{total - 0.01, total + 0.01}}
		return &ladder.Ladder{Steps: make([]*ladder.Step, 3), Product: product, Gap: gap,
			Total: &ladder.Step{Suite: &compare.Suite{Pool: &compare.Pool{Measured: m}, Result: &compare.Result{Measurement: m}}}}
	}
	product := ladder.Note{Kind: ladder.NoteProduct}
	unmeasured := []ladder.Unmeasured{{Name: "tile-render", Profiles: []string{"b", "c"}}, {Name: "mesh-solve", Profiles: []string{"b"}}}
	for _, c := range []struct {
		name   string
		ladder *ladder.Ladder
		note   ladder.Note
		want   string
	}{
		{"mix", nil, ladder.Note{Kind: ladder.NoteMix, Classes: []string{"cad", "games"}},
			"shares were scaled to 100 %; not in the mix: cad, games"},
		{"explained", climbed(0.0687, 0.0612, &ladder.Gap{Change: 0.007, Interval: [2]float64{-0.001, 0.015}}), product,
			"the 3 steps multiply to +6.9 %, measured last against first it is +6.1 %; the gap's interval, from sessions drawn for all of " +
				"them at once, is -0.10 to +1.50 % and holds 0: chance explains it; the measured total counts"},
		{"not explained", climbed(-0.02, 0.0612, &ladder.Gap{Change: -0.08, Interval: [2]float64{-0.09, -0.07}}), product,
			"the 3 steps multiply to -2.0 %, measured last against first it is +6.1 %; the gap's interval, from sessions drawn for all of " +
				"them at once, is -9.00 to -7.00 % and does not hold 0: chance does not explain it; the measured total counts"},
		{"not judged", climbed(0.0687, 0.0612, nil), product,
			"the 3 steps multiply to +6.9 %, measured last against first it is +6.1 %; the measured total counts"},
		{"the same figure", climbed(0.0613, 0.0612, nil), product, ""},
		{"cost", nil, ladder.Note{Kind: ladder.NoteCostLeftOut, Metric: "power", LeftOut: unmeasured},
			"power is compared on benchmarks that have it for every profile; left out: " +
				"tile-render (not measured for b, c), mesh-solve (not measured for b)"},
	} {
		if got := ladderNote(c.ladder, c.note); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
	for want, u := range map[string]ladder.Unmeasured{
		"mesh-solve (no valid run for b)":                        {Name: "mesh-solve", Profiles: []string{"b"}},
		"mesh-solve (no valid run for some profile that has it)": {Name: "mesh-solve"},
	} {
		if got := withoutRun(u); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}
