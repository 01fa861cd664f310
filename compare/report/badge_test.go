package report

import (
	"io"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/report/doc"
)

// badgeOfGate holds a badge to what every badge is: a whole picture whose title is the
// first line of the gate, with that word and the shape of its state.
func badgeOfGate(t *testing.T, g *gate.Gate) []element {
	t.Helper()
	svg := rendered(t, func(w io.Writer) error { return GateBadge(w, GatePage{Gate: g, Commands: typed}) })
	return wholeSVG(t, svg, GateClosing(g), "What the gate says of a change to a results repository.")
}

func textsOf(all []element) (texts []string) {
	for _, e := range all {
		if e.kind == "text" {
			texts = append(texts, e.text)
		}
	}
	return texts
}

func has(all []element, role, of string) bool {
	for _, e := range all {
		if e.attr["data-is"] == role && e.attr["data-of"] == of {
			return true
		}
	}
	return false
}

func TestGateBadge(t *testing.T) {
	for _, c := range []struct {
		g    *gate.Gate
		want []string
		of   string // whose change is drawn
	}{
		{lift(t, compare.Policy{}, 424), []string{"Failed", "tile-render is 2.83 % slower with boost-lift (2.64 to 3.02 %)"}, "tile-render"},
		{lift(t, compare.Policy{}, 402), []string{"Passed", "boost-lift"}, "tile-render"},
		{
			lift(t, compare.Policy{WidestBlindSpot: number(0.01)}, 402),
			[]string{"Undecided", "with boost-lift, tile-render: losses under"}, "tile-render",
		},
		{&gate.Gate{Outcome: gate.Passed}, []string{"Passed", "nothing that is judged changed"}, ""},
		{
			&gate.Gate{Outcome: gate.Passed, Agreed: []gate.Agreement{gate.AgreePolicy}},
			[]string{"Passed (agreed: policy)", "nothing that is judged changed"}, "",
		},
	} {
		all := badgeOfGate(t, c.g)
		texts := textsOf(all)
		if texts[0] != c.want[0] || !strings.Contains(strings.Join(texts[1:], " "), c.want[1]) {
			t.Errorf("%q, want %q", texts, c.want)
		}
		if has(all, "interval", c.of) != (c.of != "") || has(all, "change", c.of) != (c.of != "") {
			t.Errorf("%q: the change of %q is drawn: %v", texts, c.of, all)
		}
	}
}

// The state is told by a shape, too, and every text is in the ink, whose contrast is
// held to WCAG 2.2 in package doc.
func TestBadgesTellStatesApart(t *testing.T) {
	shapes := map[badge]bool{}
	for _, b := range outcomeBadges {
		shapes[badge{shape: b.shape}] = true
	}
	if len(shapes) != 3 {
		t.Errorf("%d shapes of 3 outcomes", len(shapes))
	}
	for _, e := range badgeOfGate(t, lift(t, compare.Policy{}, 424)) {
		if e.kind == "text" && !strings.HasPrefix(e.attr["class"], "f-ink") {
			t.Errorf("%q has the class %s", e.text, e.attr["class"])
		}
	}
	css := badgeCSS()
	for _, name := range []string{"ink", "panel", "worse"} {
		checkOrder(t, css, ".f-"+name+"{fill:"+doc.Palette[name].Light+"}", "prefers-color-scheme:dark",
			".f-"+name+"{fill:"+doc.Palette[name].Dark+"}")
	}
	if strings.Contains(css, "var(") {
		t.Error("a program without custom properties sees no colour")
	}
}

// Names of any length and kind stay text within the picture.
func TestBadgesAreHarmless(t *testing.T) {
	for _, name := range []string{hostileName, strings.Repeat("a", 500), strings.Repeat("名前 ", 80), "a\uffff\ufffe\xff\x01b"} {
		all := badgeOfGate(t, hostileGate(t, name))
		texts := textsOf(all)
		if len(texts) > 1+maxBadgeLines || all[0].num(t, "width") > maxBadge+30 {
			t.Errorf("%d lines, %s wide", len(texts)-1, all[0].attr["width"])
		}
		for _, text := range texts {
			checkPrintable(t, "the badge", text)
		}
		c := hostileGate(t, name).Judged[0].Comparison
		svg := rendered(t, func(w io.Writer) error { return Badge(w, c) })
		s := comparisonStanding(c)
		wholeSVG(t, svg, s.word+": "+s.finding, "What a comparison of "+Clean(c.After)+" with "+Clean(c.Before)+" says.")
	}
}

// A comparison is called by its worst failure, else by what changed, else by what is
// level, else as not settled.
func TestBadgeOfAComparison(t *testing.T) {
	result := func(name string, v compare.Verdict, change float64) *compare.Result {
		r := fields{Metric: compare.Metric{Benchmark: name, Metric: "score", Unit: "s", Better: compare.Lower, Scale: compare.Ratio,
			Role: compare.Score, Tolerance: number(0.005), Named: true}, Change: change, Interval: &[2]float64{change - 0.01, change + 0.01},
			Verdict: &v, Decides: true}.result()
		return r
	}
	info := result("clock", compare.Noise, 0)
	info.Role, info.Verdict = compare.Info, nil
	for _, c := range []struct {
		results    []*compare.Result
		word, want string
	}{
		{[]*compare.Result{result("a", compare.Regression, -0.02), result("b", compare.Regression, -0.03), result("c", compare.Uplift, 0.2)},
			"Regression", "b is 3.0 % slower with boost-lift (2.0 to 4.0 %), and 1 more"},
		{[]*compare.Result{result("a", compare.Uplift, 0.02), result("b", compare.SlightLoss, -0.004)}, "Slight loss", "but b is"},
		{[]*compare.Result{result("a", compare.Uplift, 0.02), result("b", compare.Uplift, 0.03)}, "Uplift", "b is 3.0 % faster"},
		{[]*compare.Result{result("a", compare.Level, 0), result("b", compare.Level, 0)}, "Level", "changes no score beyond the tolerance"},
		{[]*compare.Result{result("a", compare.Level, 0), result("b", compare.Noise, 0)}, "Not settled", "1 of 2 are level"},
		{[]*compare.Result{info}, "Not judged", "Nothing is judged here"},
	} {
		got := comparisonStanding(&compare.Comparison{Before: "factory", After: "boost-lift", Results: c.results})
		if got.word != c.word || !strings.Contains(got.finding, c.want) {
			t.Errorf("%q: %q, want %q: %q", got.word, got.finding, c.word, c.want)
		}
	}
}
