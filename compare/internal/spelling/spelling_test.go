package spelling

import "testing"

// The pairs are those of UAX 15 (compatibility, composition) and of the case folding
// of the Unicode character database, from memory.
func TestFold(t *testing.T) {
	for _, c := range [][2]string{{"Tile-Render", "tile-render"}, {"Größe", "GRÖSSE"}, {"\u212B", "a\u030A"}, {"ﬁll", "FILL"}} {
		if Fold(c[0]) != Fold(c[1]) {
			t.Errorf("%q and %q are two names: %q, %q", c[0], c[1], Fold(c[0]), Fold(c[1]))
		}
	}
	if Fold("tile-render") == Fold("tile render") {
		t.Error("a space is a hyphen")
	}
}
