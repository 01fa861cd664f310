package intake

import (
	"math"
	"testing"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

func TestParseConfidence(t *testing.T) {
	for in, want := range map[string]float64{
		"95": 0.95, "0.95": 0.95, "95%": 0.95, " 95 % ": 0.95, "99.9": 0.999, "0.5": 0.5, "50": 0.5, "90": 0.9,
	} {
		if got, err := ParseConfidence(in); err != nil || math.Abs(got-want) > 1e-15 {
			t.Errorf("%q: %v, %v; want %v", in, got, err, want)
		}
	}
	for _, in := range []string{"", "high", "1", "100", "0", "0.49", "49", "-95", "NaN", "Inf", "95,5", "9500", "%"} {
		if got, err := ParseConfidence(in); err == nil {
			t.Errorf("%q is taken as %v", in, got)
		}
	}
}

func TestParseCorrection(t *testing.T) {
	for in, want := range map[string]compare.Correction{"holm": compare.Holm, " Holm ": compare.Holm,
		"benjamini-hochberg": compare.BenjaminiHochberg, "NONE": compare.NoCorrection} {
		if got, err := ParseCorrection(in); err != nil || got != want {
			t.Errorf("%q: %q, %v; want %q", in, got, err, want)
		}
	}
	for _, in := range []string{"", "bh", "bonferroni"} {
		if got, err := ParseCorrection(in); err == nil {
			t.Errorf("%q is taken as %q", in, got)
		}
	}
}

func TestParseTolerance(t *testing.T) {
	for in, want := range map[string]compare.Override{
		"0.5":                 {Name: "", Tolerance: 0.5},
		"0.5%":                {Name: "", Tolerance: 0.5},
		" 0.5 % ":             {Name: "", Tolerance: 0.5},
		"0":                   {Name: "", Tolerance: 0},
		"tile-render=0.3":     {Name: "tile-render", Tolerance: 0.3},
		"tile-render = 0.3 %": {Name: "tile-render", Tolerance: 0.3},
		"tile-* power=5":      {Name: "tile-* power", Tolerance: 5},
		"a=b=2":               {Name: "a=b", Tolerance: 2}, // a name may hold the sign
	} {
		if got, err := ParseTolerance(in); err != nil || got != want {
			t.Errorf("%q: %+v, %v; want %+v", in, got, err, want)
		}
	}
	for _, in := range []string{"", "x", "-1", "tile-render=", "=0.5", "tile-render=x", "[=1", "NaN", "Inf", "1e9", "0,5"} {
		if got, err := ParseTolerance(in); err == nil {
			t.Errorf("%q is taken as %+v", in, got)
		}
	}
}

func TestParseLook(t *testing.T) {
	if look, err := ParseLook("2/2"); err != nil || look != 2 {
		t.Errorf("2/2: %d, %v", look, err)
	}
	for _, bad := range []string{"", "0/2", "3/2", "1", "1/2x", "a/b", "2/3"} {
		if _, err := ParseLook(bad); err == nil {
			t.Errorf("ParseLook(%q) gave no error", bad)
		}
	}
}

func TestParseMix(t *testing.T) {
	got, err := ParseMix("rendering=90, interactive=10 %")
	if want := []ladder.Share{{Class: "rendering", Part: 0.9}, {Class: "interactive", Part: 0.1}}; err != nil || len(got) != 2 ||
		got[0] != want[0] || got[1] != want[1] {
		t.Errorf("%v, %v; want %v", got, err, want)
	}
	for _, bad := range []string{"rendering", "=3", "rendering=0", "rendering=-1", "a=1,a=2", "a=1,,b=2", "a=x"} {
		if got, err := ParseMix(bad); err == nil {
			t.Errorf("%q: %v, want an error", bad, got)
		}
	}
}
