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

// seriesOf files rows under their profiles.
func seriesOf(t *testing.T, rows ...[]compare.Value) []*compare.Series {
	t.Helper()
	var runs compare.Runs
	for _, v := range slices.Concat(rows...) {
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	return runs.Series()
}

// Where all was measured hardly anything passes for a copy: chance is allowed one call in
// 10,000. A copied session of 12 benchmarks is found from 10 steps a standard deviation
// on, whatever the noise, under another label of its profile and in another profile's.
func TestCopies(t *testing.T) {
	repeats := 30
	if testing.Short() || comparetest.RaceEnabled {
		repeats = 5
	}
	for _, shape := range []string{"normal", "skew", "t5", "bimodal"} {
		for _, c := range []struct{ benchmarks, sessions, runs int }{{12, 12, 3}, {12, 12, 1}, {1, 12, 6}, {4, 6, 1}, {12, 4, 2}} {
			for _, step := range []float64{0.01, 0.1, 0.3, 1, 3} {
				g := rand.New(rand.NewPCG(12, 12))
				accused, found, others := 0, 0, 0
				for range repeats {
					rows := inSessions(g, shape, "factory", c.benchmarks, c.sessions, c.runs, step)
					own := inSessions(g, shape, "boost", c.benchmarks, c.sessions, c.runs, step)
					again := copied(rows[:c.benchmarks*c.runs], "x1")
					accused += len(CopiesAmong(seriesOf(t, rows, own)))
					found += min(1, len(CopiesAmong(seriesOf(t, rows, again))))
					for i := range again {
						again[i].Profile = "boost"
					}
					others += min(1, len(CopiesAmong(seriesOf(t, rows, again))))
				}
				t.Logf("%s, %+v, steps of %v: %d of %d accused, %d and %d found", shape, c, step, accused, repeats, found, others)
				if accused > 0 {
					t.Errorf("%s, %+v, steps of %v: %d of %d accused where all was measured", shape, c, step, accused, repeats)
				}
				if c.benchmarks == 12 && step <= 0.1 && (found < repeats || others < repeats) {
					t.Errorf("%s, %+v, steps of %v: %d and %d of %d copied sessions found", shape, c, step, found, others, repeats)
				}
			}
		}
	}
}

// Whole lists are copies up to a factor or a shift, whatever their order.
func TestScaledCopies(t *testing.T) {
	g := rand.New(rand.NewPCG(15, 15))
	rows := inSessions(g, "normal", "factory", 4, 6, 1, 0.01)
	for _, c := range []struct {
		name          string
		of            func(float64) float64
		factor, shift float64
	}{
		{"2 % faster", func(v float64) float64 { return v * 0.98 }, 0.98, 0},
		{"slower", func(v float64) float64 { return math.Round(v*1.05*100) / 100 }, 1.05, 0},
		{"five seconds less", func(v float64) float64 { return v - 5 }, 0, -5},
	} {
		again := copied(rows, "")
		g.Shuffle(6, func(i, j int) {
			for b := range 4 {
				again[4*i+b].Value, again[4*j+b].Value = again[4*j+b].Value, again[4*i+b].Value
			}
		})
		for i := range again {
			again[i].Profile, again[i].Session, again[i].Value = "boost", fmt.Sprint("b", i/4), c.of(again[i].Value)
		}
		got := CopiesAmong(seriesOf(t, rows, again))
		if len(got) != 1 || got[0].Runs < 20 || math.Abs(got[0].Factor-c.factor) > 1e-3 || math.Abs(got[0].Shift-c.shift) > 0.03 {
			t.Errorf("%s: %+v", c.name, got)
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
	got := CopiesAmong(seriesOf(t, rows, again))
	if len(got) != 1 || got[0].P > 1e-6 || len(got[0].Sides[0].Rows) != 12 || len(got[0].Sides[1].Rows) != 12 {
		t.Fatalf("found %+v", got)
	}
	got[0].P, got[0].Sides[0].Rows, got[0].Sides[1].Rows = 0, nil, nil
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	for k, text := range []string{"factory session f2 (factory.csv, lines 14 to 25)", "boost-lift session x1 (again.csv, lines 2 to 13)"} {
		if got := got[0].Sides[k].String(); got != text {
			t.Errorf("%q, want %q", got, text)
		}
	}
	// A report stops, and names them once.
	v, err := Check(seriesOf(t, rows, again), compare.Policy{}, compare.Options{})
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
	if got := CopiesAmong(seriesOf(t, rows, again)); got != nil {
		t.Errorf("copies that are set aside: %+v", got)
	}
}

// Scores in the order of others are copies, whatever stands beside them.
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
	for _, want := range []int{12, 6} {
		if got := CopiesAmong(seriesOf(t, rows, again)); len(got) != 1 || got[0].Runs != 6 || len(got[0].Sides[1].Rows) != want {
			t.Errorf("six wide rows copied: %+v", got)
		}
		for i := range again[6:] {
			again[6+i].Value += 0.31
		}
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
