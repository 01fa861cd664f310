package report

import (
	"testing"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

// Every kind of note has a sentence with the values of its fields.
func TestLadderNotes(t *testing.T) {
	climbed := func(product, total float64, explained bool) *ladder.Ladder {
		m := &compare.Measurement{Pair: &compare.Pair{Metric: compare.Metric{Scale: compare.Ratio}}, Change: total,
			Interval: &[2]float64{total - 0.01, total + 0.01}}
		return &ladder.Ladder{Steps: make([]*ladder.Step, 3), Product: product, Explained: explained,
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
		{"explained", climbed(0.0687, 0.0612, true), product, "the 3 steps multiply to +6.9 %, measured last against first it is +6.1 %; " +
			"each step has noise of its own, which explains the gap; the measured total counts"},
		{"not explained", climbed(-0.02, 0.0612, false), product, "the 3 steps multiply to -2.0 %, measured last against first it is +6.1 %; " +
			"that is more than their noise explains: the steps were measured in other sittings or blocks, " +
			"or something changed between them; the measured total counts"},
		{"the same figure", climbed(0.0613, 0.0612, true), product, ""},
		{"cost", nil, ladder.Note{Kind: ladder.NoteCostLeftOut, Metric: "power", LeftOut: unmeasured},
			"power is compared on benchmarks that have it for every profile; left out: " +
				"tile-render (not measured for b, c), mesh-solve (not measured for b)"},
		{"choice", nil, ladder.Note{Kind: ladder.NoteChoice},
			"the fastest profile is picked by the same runs that measure it, so its gain is a little flattered; " +
				"which profile beats which is corrected over all pairs"},
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
