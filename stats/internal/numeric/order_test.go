package numeric

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

func TestSelectKth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := statstest.AnySample(t, "values", 1, 60, true)
		k := rapid.IntRange(0, len(x)-1).Draw(t, "k")
		if got, want := SelectKth(slices.Clone(x), k), Sorted(x)[k]; got != want {
			t.Fatalf("value %d of %v is %v, want %v", k, x, got, want)
		}
	})
}
