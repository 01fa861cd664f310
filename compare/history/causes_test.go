package history

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// trackOf searches the runs of one score: a list of commits, of sessions, of runs.
func trackOf(t *testing.T, commits [][][]float64) (*History, *Track) {
	t.Helper()
	m, err := compare.Policy{}.Resolve("tile-render", compare.DefaultMetric, "s", "")
	if err != nil {
		t.Fatal(err)
	}
	n := len(commits)
	track := &Track{Metric: m, Measured: make([]*Measured, n), points: make([]*compare.Series, n), values: make([][]float64, n),
		Searched: true}
	h := &History{Terms: compare.TermsOf(compare.Policy{}, compare.Options{}), Points: make([]*Point, n), Tracks: []*Track{track}}
	for i, sessions := range commits {
		s := &compare.Series{SeriesKey: compare.SeriesKey{Profile: comparetest.Boost, Benchmark: m.Benchmark, Metric: m.Metric}, Unit: "s"}
		for k, runs := range sessions {
			for _, v := range runs {
				s.Append(compare.Observation{Value: v, Session: fmt.Sprintf("%d.%d", i, k)})
			}
		}
		side, err := compare.Reduce(m, s)
		if err != nil {
			t.Fatal(err)
		}
		h.Points[i], track.points[i], track.values[i] = &Point{}, s, side.Values
		track.Measured[i] = &Measured{Values: side.InUnit(m), Runs: side.Runs, Sessions: side.Sessions, usualRuns: side.UsualRuns}
	}
	if err := track.search(h, compare.Policy{}); err != nil {
		t.Fatal(err)
	}
	return h, track
}

// What is no change of level may be called a shift: luck that sessions of a commit share,
// a wider spread at the same median, another number of runs a session. 12 commits of 3
// sessions; a note warns of all but a few. The study's page has the table.
func TestShiftsOfOtherCauses(t *testing.T) {
	repeats := 150
	if testing.Short() || comparetest.RaceEnabled {
		repeats = 15
	}
	for _, shape := range []string{"normal", "skew"} {
		draw, median := comparetest.Shape(shape), map[string]float64{"skew": math.Ln2}[shape]
		for _, c := range []struct {
			name   string
			luck   float64 // of a commit, in standard deviations of a session
			last   int     // commits at the end that differ
			sd     float64 // of their sessions
			runs   [2]int  // a session, of the others and of these
			called float64 // shifts in this share at most, in per cent
		}{
			{"nothing changed", 0, 0, 1, [2]int{3, 3}, 5},
			{"commits of luck", 1, 0, 1, [2]int{3, 3}, 34},
			{"spread of 3 in the last 3", 0, 3, 3, [2]int{3, 3}, 15},
			{"7 runs after 2", 0, 6, 1, [2]int{2, 7}, 8},
		} {
			g := rand.New(rand.NewPCG(3, 3))
			called, silent := 0, 0
			for range repeats {
				commits := make([][][]float64, 12)
				for i := range commits {
					luck, sd, n := c.luck*draw(g), 1.0, c.runs[0]
					if i >= len(commits)-c.last {
						sd, n = c.sd, c.runs[1]
					}
					for range 3 {
						session := luck
						if c.runs[0] == c.runs[1] {
							session += sd * (draw(g) - median)
						}
						runs := make([]float64, n)
						for k := range runs {
							own := draw(g) - median
							if c.runs[0] == c.runs[1] {
								own *= 0.3 // sessions differ by more than their runs
							}
							runs[k] = 400 * math.Exp(0.01*(session+own))
						}
						commits[i] = append(commits[i], runs)
					}
				}
				h, track := trackOf(t, commits)
				if len(track.Shifts) == 0 {
					continue
				}
				called++
				if !slices.ContainsFunc(h.notes(), func(n Note) bool {
					return n.Kind == NoteCommitLuck || n.Kind == NoteSpread || n.Kind == NoteUnequalRuns
				}) {
					silent++
				}
			}
			shares := [2]float64{100 * float64(called) / float64(repeats), 100 * float64(silent) / float64(repeats)}
			t.Logf("%s, %s: a shift in %.1f %%, without a note in %.1f %%", shape, c.name, shares[0], shares[1])
			for k, most := range []float64{c.called, 5} {
				if given := 300 * math.Sqrt(most/100*(1-most/100)/float64(repeats)); shares[k] > most+given {
					t.Errorf("%s, %s: a shift in %.1f %%, without a note in %.1f %%; at most %.0f and 5 %% are stated",
						shape, c.name, shares[0], shares[1], c.called)
				}
			}
		}
	}
}
