package intake

import (
	"strings"
	"testing"

	"tunegate/compare"
)

// What is one name, what is refused, and what is neither. The expected forms are
// of the Unicode character database: U+FB01 is a compatibility ligature of fi,
// U+212B composes to U+00C5, U+00DF folds to ss.
func TestNamesAreOneHoweverSpelled(t *testing.T) {
	for _, c := range [][2]string{
		{"Tile-Render", "tile-render"}, {"ﬁbre", "FIBRE"}, {"a\u030Angstrom", "\u212Bngstrom"}, {"straße", "STRASSE"}, {"ＧＰＵ", "gpu"},
		{"a\u00A0b", "a b"}, {"ΔΕΛΤΑ", "δελτα"},
	} {
		n := newNames()
		for _, name := range c {
			if got, err := n.spell(benchmarkName, name); err != nil || got != c[0] {
				t.Errorf("%q: %q %v, want %q", name, got, err, c[0])
			}
		}
		if !SameName(c[0], c[1]) {
			t.Errorf("%q and %q are two names", c[0], c[1])
		}
	}
}

func TestNamesThatLookAlike(t *testing.T) {
	for _, c := range []struct{ first, second, want string }{
		{"tile-render", "tile\u2010render", `looks like the benchmark "tile-render"`},
		{"tile-render", "tile\u2212render", `looks like the benchmark "tile-render"`},
		{"core", "\u0441\u043E\u0433\u0435", `looks like the benchmark "core"`},  // Cyrillic only
		{"HEAT", "\u0397\u0395\u0391\u03A4", `looks like the benchmark "HEAT"`},  // Greek only
		{"\u0441\u043E\u0440\u0435", "cope", `("\u0441\u043e\u0440\u0435")`},     // the other way round
		{"", "ti\u043Be-render", "letters of Latin and Cyrillic in one word"},    // el
		{"", "tile-\u03C1ender", "letters of Latin and Greek in one word"},       // rho
		{"", "\u03C1\u0440", "letters of Greek and Cyrillic in one word"},        //
		{"", "tile\u200Brender", "invisible character U+200B in the benchmark"},  // zero width space
		{"", "tile\u00ADrender", "invisible character U+00AD in the benchmark"},  // soft hyphen
		{"", "\u202Etile-render", "invisible character U+202E in the benchmark"}, // right-to-left override
		{"tile-render", "tile_render", ""},                                       // two names that look apart
		{"Пакет", "рендер", ""},                                                  // one script each
		{"α-blend", "latency μs", ""},                                            // two words, and a unit
		{"resistance kΩ", "µs and \u2126", ""},                                   //
		{"naïve", "naive", ""},                                                   // a letter more
		{"render-1", "render-l", ""},                                             // Latin letters and digits are left alone
		{"描画", "レンダー", ""},                                                       //
	} {
		n := newNames()
		if c.first != "" {
			if _, err := n.spell(benchmarkName, c.first); err != nil {
				t.Errorf("%q: %v", c.first, err)
			}
		}
		_, err := n.spell(benchmarkName, c.second)
		switch {
		case c.want == "" && err != nil, c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%+q after %+q: %v, want %q", c.second, c.first, err, c.want)
		}
		if _, err := n.spell(metricName, c.first); err != nil {
			t.Errorf("%+q as a name of another kind: %v", c.first, err)
		}
		known := lenientNames()
		known.spell(benchmarkName, c.first)
		if _, err := known.spell(benchmarkName, c.second); err != nil {
			t.Errorf("%+q where all is taken: %v", c.second, err)
		}
	}
}

// Rows of one benchmark may spell it in two ways, in one file and in several.
func TestReadSpellsAlike(t *testing.T) {
	var found []string
	add := func(v compare.Value) error {
		found = append(found, v.Profile+" "+v.Benchmark+" "+v.Metric)
		return nil
	}
	const text = "profile,benchmark,metric,unit,value\nFactory,Tile-Render,Power,W,1\nfactory,tile-render,power,W,2\n"
	_, err := Read(strings.NewReader(text), "a.csv", add)
	if err != nil || found[0] != "Factory Tile-Render Power" || found[1] != found[0] {
		t.Errorf("%q %v", found, err)
	}
	_, err = Read(strings.NewReader("benchmark,unit,value\ntile-render,s,1\ntile\u2013render,s,2\n"), "a.csv", add)
	wantError(t, err, "a.csv:3:", `the benchmark "tile–render" ("tile\u2013render") looks like the benchmark "tile-render"`)
}

// The names of the base hold: a request cannot rename by case, nor bring a name
// that looks like one that is there.
func TestLoadSpellsAsTheBase(t *testing.T) {
	r := plain(t)
	r.git("checkout", "-q", "-b", "feature")
	r.write("profiles/factory/runs/more.csv", strings.Replace(runs(413), "tile-render", "Tile-RENDER", 1))
	r.git("mv", "profiles/cool-curve", "profiles/Cool-Curve.tmp")
	r.git("mv", "profiles/Cool-Curve.tmp", "profiles/Cool-Curve")
	r.write("profiles/boost-lift/settings.toml", "baseline = \"FACTORY\"\n[settings]\nlift = \"up\"\n")
	r.write("profiles/boost-lift/runs/a.csv", "profile,benchmark,unit,value\nBoost-Lift,TILE-render,s,399\n")
	r.commit("spelled otherwise")
	before, after := r.mustLoad("main", "feature")
	if len(before.Profiles) != 2 || len(after.Profiles) != 3 || after.Profiles["boost-lift"].Baseline != "factory" {
		t.Errorf("%q %q", described(before), described(after))
	}
	for name, p := range after.Profiles {
		for _, v := range p.Values.All() {
			if v.Benchmark != "tile-render" || v.Profile != name || p.Name != name {
				t.Errorf("%s: %+v", name, v)
			}
		}
	}
	r.write("profiles/factory/runs/third.csv", strings.Replace(runs(413), "tile-render", "tile\u2010render", 1))
	_, _, err := r.load("main", "")
	wantError(t, err, "profiles/factory/runs/third.csv:2:", `looks like the benchmark "tile-render"`)
	r.remove("profiles/factory/runs/third.csv")
	r.profile("fact\u043Ery", "auto", 1)
	_, _, err = r.load("main", "")
	wantError(t, err, "profiles/fact\u043Ery: found letters of Latin and Cyrillic in one word of the profile")
	r.remove("profiles/fact\u043Ery")
	r.profile("fixed\u200Ball", "auto", 1)
	_, _, err = r.load("main", "")
	wantError(t, err, "invisible character U+200B in the profile")
	r.commit("merged before there was this rule")
	r.git("checkout", "-q", "-b", "later")
	r.remove("profiles/fixed\u200Ball")
	r.profile("factory", "auto", 1)
	r.mustLoad("feature", "")
}
