package claims

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// pageShares are shares of simulated pages, but for supported, which is of claims.
type pageShares struct {
	accused, supported float64
	// The interval of the largest change covers the true one: that which is
	// published, and that of the change alone.
	covered, coveredAlone float64
}

// truePages simulates pages of true claims, rounded to so many decimals, in single
// runs of so many sessions a side.
func truePages(t *testing.T, sessions, pages int, noise float64, changes []float64, decimals int, seed uint64) (out pageShares) {
	t.Helper()
	is := func(yes bool) float64 {
		if yes {
			return 1 / float64(pages)
		}
		return 0
	}
	for page := range pages {
		var before, after []*compare.Series
		var all []Claim
		for i, change := range changes {
			s := comparetest.Sitting{Sessions: sessions, Runs: 1, Unit: "fps", Noise: noise, Change: math.Log1p(change)}
			b, a := s.Simulated(1, comparetest.NoiseShapes[0].Draw, seed+uint64(page*len(changes)+i))
			name := fmt.Sprint("scene-", i)
			b[0].Benchmark, a[0].Benchmark = name, name
			before, after = append(before, b[0]), append(after, a[0])
			form := Faster
			if change < 0 {
				form = Slower
			}
			all = append(all, Claim{Text: "", Before: comparetest.Factory, After: comparetest.Boost, Benchmark: name, Form: form,
				Change: percentage(strconv.FormatFloat(100*math.Abs(change), 'f', decimals, 64))})
		}
		held, err := Hold(all, runsOf(before, after), compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		tally := held.Tally()
		fine := tally[Supported] + tally[NotSettled]
		out.accused += is(fine < len(all))
		out.supported += float64(tally[Supported]) / float64(pages*len(all))
		best := held.Held[0]
		for _, h := range held.Held {
			if h.Result.Change > best.Result.Change {
				best = h
			}
		}
		_, lo, hi, _ := best.Interval()
		jointLo, jointHi, _ := best.JointInterval()
		truth := 100 * changes[slices.Index(held.Held, best)]
		out.covered += is(jointLo <= truth && truth <= jointHi)
		out.coveredAlone += is(lo <= truth && truth <= hi)
	}
	return out
}

// Of pages of true claims, at most one in twenty accuses any; and the interval that
// may be published beside the largest change of a page covers the true one.
func TestTruePagesAreNotAccused(t *testing.T) {
	t.Parallel()
	pages, cells := 25, 2
	if !testing.Short() && !comparetest.RaceEnabled {
		pages, cells = 120, 4
	}
	alike, mixed := make([]float64, 12), make([]float64, 12)
	for i := range alike {
		alike[i], mixed[i] = 0.02, []float64{0.02, 0.03, -0.01, 0.005}[i%4]
	}
	for i, c := range []struct {
		sessions int
		noise    float64
		changes  []float64
		decimals int
	}{{6, 0.01, alike, 0}, {8, 0.005, mixed, 1}, {6, 0.003, alike, 1}, {8, 0.01, alike, 0}}[:cells] {
		got := truePages(t, c.sessions, pages, c.noise, c.changes, c.decimals, uint64(5000+100000*i))
		name := fmt.Sprintf("%d sessions, noise of %v %%, %d decimals", c.sessions, 100*c.noise, c.decimals)
		t.Logf("%s: %.1f %% of pages accused, %.0f %% of claims supported; the largest is covered in %.1f %%, by its own interval in %.1f %%",
			name, 100*got.accused, 100*got.supported, 100*got.covered, 100*got.coveredAlone)
		if allowed := 0.05 + 2*comparetest.Allowance(0.05, pages); got.accused > allowed {
			t.Errorf("%s: %.1f %% of pages accused", name, 100*got.accused)
		}
		if allowed := 0.93 - 2*comparetest.Allowance(0.07, pages); got.covered < allowed {
			t.Errorf("%s: the largest is covered in %.1f %%", name, 100*got.covered)
		}
	}
}
