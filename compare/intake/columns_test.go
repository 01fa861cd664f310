package intake

import (
	"testing"

	"pgregory.net/rapid"
)

// plainEdits is the number of insertions, removals, replacements and swaps of
// neighbours, by trying all of them from the front; a swapped pair is not
// edited again (Damerau 1964).
func plainEdits(a, b string) int {
	if a == "" || b == "" {
		return len(a) + len(b)
	}
	replaced := 1
	if a[0] == b[0] {
		replaced = 0
	}
	best := min(plainEdits(a[1:], b)+1, plainEdits(a, b[1:])+1, plainEdits(a[1:], b[1:])+replaced)
	if len(a) > 1 && len(b) > 1 && a[0] == b[1] && a[1] == b[0] {
		best = min(best, plainEdits(a[2:], b[2:])+1)
	}
	return best
}

func TestColumnEditsAgainstThePlainOnes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.StringMatching("[abc]{0,6}").Draw(t, "a"), rapid.StringMatching("[abc]{0,6}").Draw(t, "b")
		if got, want := columnEdits(a, b, 12), plainEdits(a, b); got != want {
			t.Errorf("columnEdits(%q, %q) = %d, want %d", a, b, got, want)
		}
	})
}

func TestColumnEdits(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		// Two letters replaced and one added; a swap of neighbours counts once.
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
