package pieces

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// A list says what a slice says, over several pieces.
func TestListIsASlice(t *testing.T) {
	var l List[int]
	var want []int
	for i := range 2*Size + 3 {
		if n := l.Append(7 * i); n != i {
			t.Fatalf("element %d is number %d", i, n)
		}
		want = append(want, 7*i)
	}
	var got []int
	for i, x := range l.All() {
		if *l.At(i) != *x {
			t.Fatalf("element %d: %d and %d", i, *l.At(i), *x)
		}
		got = append(got, *x)
	}
	if l.Len() != len(want) || !slices.Equal(got, want) {
		t.Errorf("%d elements, want %d", l.Len(), len(want))
	}
}

// Numbers say what a map says, whatever repeats.
func TestNumbersAreAMap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var n Numbers[string]
		want := map[string]uint32{}
		for _, x := range rapid.SliceOfN(rapid.StringMatching(`[a-c]{0,4}`), 0, 300).Draw(t, "texts") {
			if _, met := want[x]; !met {
				want[x] = uint32(len(want))
			}
			if got := n.Of(x); got != want[x] || *n.At(int(got)) != x {
				t.Fatalf("%q: %d, want %d", x, got, want[x])
			}
			if kept := n.Kept(x, func(string) string { t.Fatal("kept twice"); return "" }); kept != x {
				t.Fatalf("%q is kept as %q", x, kept)
			}
		}
		if n.Len() != len(want) {
			t.Errorf("%d texts, want %d", n.Len(), len(want))
		}
	})
	var n Numbers[string]
	if kept := n.Kept("a", func(x string) string { return x }); kept != "a" || n.Len() != 1 {
		t.Errorf("%q, %d texts", kept, n.Len())
	}
}
