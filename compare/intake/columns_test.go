package intake

import "testing"

func TestColumnEdits(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		// Levenshtein's textbook pair, and a swap of neighbours counted once
		// (Damerau 1964); values from memory.
		{"kitten", "sitting", 3}, {"ca", "ac", 1},
		{"session", "session", 0}, {"sesion", "session", 1}, {"sesison", "session", 1}, {"", "run", 3},
	} {
		if got := columnEdits(c.a, c.b, 9); got != c.want {
			t.Errorf("columnEdits(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
		if got := columnEdits(c.b, c.a, 9); got != c.want {
			t.Errorf("columnEdits(%q, %q) = %d, want %d", c.b, c.a, got, c.want)
		}
	}
}

func TestMistypedColumn(t *testing.T) {
	none := func(column) bool { return false }
	for name, want := range map[string]string{
		"sesion": "session", "Sessions": "session", "benchmarks": "benchmark", "bencmark": "benchmark", "valu": "value",
		"untis": "", "units": "unit", "rn": "run", "tiem": "time", "reasn": "reason", "profil": "profile", "metrik": "metric",
		"ession":  "session",
		"version": "", "name": "", "date": "", "remarks": "", "driver": "", "ram": "", "": "",
	} {
		c, ok := mistypedColumn(name, none)
		if got := map[bool]string{true: columnNames[c%columnCount]}[ok]; got != want {
			t.Errorf("mistypedColumn(%q) = %q, want %q", name, got, want)
		}
	}
	if c, ok := mistypedColumn("sesion", func(c column) bool { return c == colSession }); ok {
		t.Errorf("session is there, and still sesion is taken for %q", c)
	}
}
