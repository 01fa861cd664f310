package english

import "testing"

// A number with its noun is plain English for 1, too.
func TestCount(t *testing.T) {
	for _, c := range []struct {
		n    int
		noun string
		want string
	}{
		{0, "run", "0 runs"},
		{1, "run", "1 run"},
		{2, "run", "2 runs"},
		{1, "clean pass", "1 clean pass"},
		{2, "clean pass", "2 clean passes"},
		{1, "stretch", "1 stretch"},
		{3, "stretch", "3 stretches"},
		{1, "series", "1 series"},
		{2, "series", "2 series"},
	} {
		if got := Count(c.n, c.noun); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if one, many := Verb(1, "is", "are"), Verb(2, "is", "are"); one != "is" || many != "are" {
		t.Errorf("%q and %q", one, many)
	}
}
