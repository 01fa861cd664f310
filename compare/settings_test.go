package compare

import (
	"math"
	"testing"
)

func TestParseConfidence(t *testing.T) {
	for in, want := range map[string]float64{
		"95": 0.95, "0.95": 0.95, "95%": 0.95, " 95 % ": 0.95, "99.9": 0.999, "0.5": 0.5, "50": 0.5, "90": 0.9,
	} {
		if got, err := ParseConfidenceText(in); err != nil || math.Abs(got-want) > 1e-15 {
			t.Errorf("%q: %v, %v; want %v", in, got, err, want)
		}
	}
	for _, in := range []string{"", "high", "1", "100", "0", "0.49", "49", "-95", "NaN", "Inf", "95,5", "9500", "%"} {
		if got, err := ParseConfidenceText(in); err == nil {
			t.Errorf("%q is taken as %v", in, got)
		}
	}
}

func TestParseCorrection(t *testing.T) {
	for in, want := range map[string]Correction{"holm": Holm, " Holm ": Holm, "benjamini-hochberg": BenjaminiHochberg, "NONE": NoCorrection} {
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
	for in, want := range map[string]Override{
		"0.5":                 {"", 0.5},
		"0.5%":                {"", 0.5},
		" 0.5 % ":             {"", 0.5},
		"0":                   {"", 0},
		"tile-render=0.3":     {"tile-render", 0.3},
		"tile-render = 0.3 %": {"tile-render", 0.3},
		"tile-* power=5":      {"tile-* power", 5},
		"a=b=2":               {"a=b", 2}, // a name may hold the sign
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

func TestLookConfidence(t *testing.T) {
	// O'Brien-Fleming type spending, two looks at 5 %: z = 2.963 and 1.969
	// (widely printed table, from memory); 2 (1 - Phi(z)) = 0.00305 and 0.0490.
	if c := LookConfidence(0.95, 1, 2); math.Abs(1-c-0.00305) > 2e-5 {
		t.Errorf("first of two looks needs p of %.5f", 1-c)
	}
	if c := LookConfidence(0.95, 2, 2); math.Abs(1-c-0.0490) > 2e-4 {
		t.Errorf("second of two looks needs p of %.5f", 1-c)
	}
	for _, bad := range []string{"", "0/3", "4/3", "1", "1/3x", "a/b", "1/99"} {
		if _, _, err := ParseLook(bad); err == nil {
			t.Errorf("ParseLook(%q) gave no error", bad)
		}
	}
}
