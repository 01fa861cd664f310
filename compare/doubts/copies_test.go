package doubts

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// inSessions are rows of a profile in a file: so many runs of each benchmark in each
// session, with a standard deviation of 1 s, in steps.
func inSessions(g *rand.Rand, shape, profile string, benchmarks, sessions, runs int, step float64) []compare.Value {
	draw := comparetest.Shape(shape)
	var rows []compare.Value
	for s := range sessions {
		for k := range runs {
			for b := range benchmarks {
				v := math.Round((400+draw(g))/step) * step
				rows = append(rows, compare.Value{Profile: profile, Benchmark: fmt.Sprintf("score %d", b+1), Unit: "s",
					Session: fmt.Sprintf("%s%d", profile[:1], s+1), Run: fmt.Sprint(k + 1), Value: v,
					At: compare.Place{File: profile + ".csv", Line: len(rows) + 2, Column: 3}})
			}
		}
	}
	return rows
}

// copied are the values of rows under other labels, in another file.
func copied(rows []compare.Value, session string) []compare.Value {
	out := slices.Clone(rows)
	for i := range out {
		out[i].Session, out[i].At = session, compare.Place{File: "again.csv", Line: i + 2, Column: 3}
	}
	return out
}

// Where all was measured hardly anything passes for a copy: chance is allowed one call in
// 1,000. A copied session of 12 benchmarks is found from 10 steps a standard deviation
// on, whatever the noise.
func TestCopies(t *testing.T) {
	repeats := 100
	if testing.Short() || comparetest.RaceEnabled {
		repeats = 10
	}
	for _, shape := range []string{"normal", "skew", "t5", "bimodal"} {
		for _, c := range []struct{ benchmarks, sessions, runs int }{{12, 12, 3}, {12, 12, 1}, {1, 12, 6}, {12, 4, 2}} {
			for _, step := range []float64{0.01, 0.1, 0.3, 1, 3} {
				g := rand.New(rand.NewPCG(12, 12))
				accused, found := 0, 0
				for range repeats {
					rows := inSessions(g, shape, "factory", c.benchmarks, c.sessions, c.runs, step)
					again := copied(rows[:c.benchmarks*c.runs], "x1")
					accused += len(CopiesBetween(nil, rows))
					found += min(1, len(CopiesBetween(rows, again)))
				}
				t.Logf("%s, %+v, steps of %v: %d of %d accused, %d found", shape, c, step, accused, repeats, found)
				if accused > 0 {
					t.Errorf("%s, %+v, steps of %v: %d of %d accused where all was measured", shape, c, step, accused, repeats)
				}
				if c.benchmarks == 12 && step <= 0.1 && found < repeats {
					t.Errorf("%s, %+v, steps of %v: %d of %d copied sessions found", shape, c, step, found, repeats)
				}
			}
		}
	}
}

// Both places are named with file and lines, and how likely chance is.
func TestCopiesAreNamed(t *testing.T) {
	g := rand.New(rand.NewPCG(13, 13))
	rows := inSessions(g, "normal", "factory", 4, 6, 3, 0.01)
	again := copied(rows[12:24], "x1")
	for i := range again {
		again[i].Profile = "boost-lift"
	}
	want := []Copies{{Runs: 12, Sides: [2]Sitting{
		{Profile: "factory", Session: "f2", File: "factory.csv", Lines: []int{14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25}},
		{Profile: "boost-lift", Session: "x1", File: "again.csv", Lines: []int{2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13}}}}}
	got := CopiesBetween(rows, again)
	if len(got) != 1 || got[0].P > 1e-6 {
		t.Fatalf("found %+v", got)
	}
	got[0].P = 0
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	for k, text := range []string{"factory session f2 (factory.csv, lines 14 to 25)", "boost-lift session x1 (again.csv, lines 2 to 13)"} {
		if got := got[0].Sides[k].String(); got != text {
			t.Errorf("%q, want %q", got, text)
		}
	}
	// Known copies are not the matter of what was added.
	if got := CopiesBetween(slices.Concat(rows, again), nil); got != nil {
		t.Errorf("nothing was added, found %+v", got)
	}
	// A report stops, and names them once.
	var runs compare.Runs
	for _, v := range slices.Concat(rows, again) {
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	v, err := Check(runs.Series(), compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	of := slices.DeleteFunc(v.Findings, func(f Finding) bool { return f.Check != CheckCopies })
	if len(of) != 1 || of[0].Grade != GradeStop || of[0].Profile != "factory and boost-lift" || of[0].Evidence.Count != 12 {
		t.Errorf("findings %+v", of)
	}
	// Set aside, they are no runs that count.
	for i := range again {
		again[i].SetAside = true
	}
	var fewer compare.Runs
	for _, v := range slices.Concat(rows, again) {
		if err := fewer.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	if got := copiesAmong(fewer.Series(), copiesLevel); got != nil {
		t.Errorf("copies that are set aside: %+v", got)
	}
}

// Runs are equal where all of their metrics are: equal scores with other readings
// beside them are no copies.
func TestCopiesOfWideRows(t *testing.T) {
	g := rand.New(rand.NewPCG(14, 14))
	rows := inSessions(g, "normal", "factory", 1, 6, 6, 0.01)
	for _, v := range rows {
		v.Metric, v.Unit, v.Value, v.At.Column = "power", "W", 200+math.Round(100*g.NormFloat64())/100, 4
		rows = append(rows, v)
	}
	again := copied(slices.Concat(rows[:6], rows[36:42]), "x1")
	for i := range again[6:] {
		again[6+i].At = again[i].At
	}
	if got := CopiesBetween(rows, again); len(got) != 1 || got[0].Runs != 6 {
		t.Errorf("six wide rows copied: %+v", got)
	}
	for i := range again[6:] {
		again[6+i].Value += 0.01
	}
	if got := CopiesBetween(rows, again); got != nil {
		t.Errorf("other power beside equal scores: %+v", got)
	}
}

func TestSittingString(t *testing.T) {
	for _, c := range []struct {
		of   Sitting
		want string
	}{
		{Sitting{Profile: "factory"}, "factory"},
		{Sitting{Profile: "factory", Block: "b1", Session: "s1", File: "a.csv", Lines: []int{4}}, "factory session s1 block b1 (a.csv, line 4)"},
		{Sitting{Profile: "factory", File: "a.csv", Lines: []int{4, 6, 9}}, "factory (a.csv, 3 lines from 4 to 9)"},
		{Sitting{Profile: "factory", File: "a.csv", Lines: []int{0}}, "factory (a.csv)"},
	} {
		if got := c.of.String(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
