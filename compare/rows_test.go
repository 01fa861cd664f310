package compare

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// drawnValue is a value with any of its fields.
func drawnValue(t *rapid.T) Value {
	word := func(name string) string { return rapid.SampledFrom([]string{"", "a", "b", "a b"}).Draw(t, name) }
	v := Value{Profile: word("profile"), Benchmark: word("benchmark"), Metric: word("metric"), Unit: word("unit"), Better: Better(word("better")),
		Machine: word("machine"), Session: word("session"), Block: word("block"), Run: word("run"), Reason: word("reason"),
		Look: rapid.IntRange(0, 2).Draw(t, "look"), Value: rapid.Float64Range(-1e9, 1e9).Draw(t, "value"),
		Missing: rapid.Bool().Draw(t, "missing"), SetAside: rapid.Bool().Draw(t, "aside"),
		At: Place{word("file"), word("sheet"), rapid.IntRange(0, 1<<32-1).Draw(t, "line"), rapid.IntRange(0, 1<<24-1).Draw(t, "column")}}
	if rapid.Bool().Draw(t, "reduced") {
		v.Reduced = &Reduction{Runs: rapid.IntRange(1, 3).Draw(t, "runs"), Smallest: v.Value, Largest: v.Value}
	}
	if rapid.Bool().Draw(t, "timed") {
		zone := time.FixedZone("", 60*rapid.IntRange(-720, 720).Draw(t, "zone"))
		v.Time = time.Unix(0, rapid.Int64Range(1, 1<<62).Draw(t, "time")).In(zone)
	}
	return v
}

// What a list gives back is what was added, in whatever way it got there.
func TestRowsHoldWhatWasAdded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Custom(drawnValue), 1, 20).Draw(t, "values")
		rows := RowsOf(values...)
		half := len(values) / 2
		first, last := []uint32{}, rows.Tail(half)
		for i := range half {
			first = append(first, uint32(i))
		}
		for name, got := range map[string]*Rows{"list": rows, "joined": JoinRows(rows.Pick(first), last),
			"joined from two": JoinRows(RowsOf(values[:half]...), RowsOf(values[half:]...))} {
			if d := cmp.Diff(values, got.List()); d != "" {
				t.Fatalf("%s (-added +got)\n%s", name, d)
			}
		}
		for i, v := range values {
			if i > 0 && v.Time.Format(time.RFC3339Nano) != rows.At(i).Time.Format(time.RFC3339Nano) {
				t.Errorf("time %v, want %v", rows.At(i).Time, v.Time)
			}
		}
		own := rows.Pick(first)
		if own == nil {
			return
		}
		if own.Append(values[0]); rows.Len() != len(values) || own.Len() != half+1 {
			t.Errorf("%d and %d values after one was added to a part", rows.Len(), own.Len())
		}
	})
}

// A series that shares the values of a list leaves them as they are when one of its
// runs is set aside, and says what series of its own say.
func TestSeriesOfAListAreAsOfValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Custom(drawnValue), 1, 12).Draw(t, "values")
		for i := range values {
			values[i].Unit, values[i].Better = "s", ""
		}
		list := RowsOf(values...)
		var shared, own Runs
		if err := shared.AddAll("factory", list); err != nil {
			t.Fatal(err)
		}
		for _, v := range values {
			v.Profile = "factory"
			if err := own.Add(v); err != nil {
				t.Fatal(err)
			}
		}
		want := own.Series()
		for k, s := range shared.Series() {
			if s.SeriesKey != want[k].SeriesKey || s.Len() != want[k].Len() {
				t.Fatalf("%v of %d, want %v of %d", s.SeriesKey, s.Len(), want[k].SeriesKey, want[k].Len())
			}
			for i, o := range s.All() {
				if d := cmp.Diff(want[k].At(i), o); d != "" {
					t.Fatal(d)
				}
			}
		}
		if d := cmp.Diff(values, list.List()); d != "" {
			t.Errorf("the list changed: %s", d)
		}
	})
}

// Lines has the first value of each line, in whatever order they stand.
func TestLinesOfRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, seen := &Rows{}, map[Place]bool{}
		var want []Place
		for range rapid.IntRange(0, 30).Draw(t, "values") {
			v := Value{At: Place{File: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "file"), Line: rapid.IntRange(0, 6).Draw(t, "line"),
				Column: rapid.IntRange(1, 3).Draw(t, "column")}}
			if rows.Append(v); !seen[v.Line()] {
				seen[v.Line()], want = true, append(want, v.At)
			}
		}
		for name, r := range map[string]*Rows{"list": rows, "part": rows.Tail(0)} {
			var got []Place
			for _, v := range r.Lines().All() {
				got = append(got, v.At)
			}
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("%s (-want +got)\n%s", name, d)
			}
		}
	})
}

// The rows of a series say what its observations say, also those that were added to it.
func TestRowsOfSeries(t *testing.T) {
	var runs Runs
	rows := RowsOf(Value{Benchmark: "mesh-solve", Unit: "s", Value: 1}, Value{Benchmark: "tile-render", Unit: "s", Session: "1", Value: 2},
		Value{Benchmark: "tile-render", Unit: "s", Session: "2", Value: 3})
	if err := runs.AddAll("factory", rows); err != nil {
		t.Fatal(err)
	}
	s := runs.Series()[1]
	s.Append(Observation{Value: 4, Session: "3"})
	got := s.Pick(2, 0).List()
	if len(got) != 2 || got[0].Value != 4 || got[0].Session != "3" || got[1].Value != 2 || got[0].ID() != s.ID() || got[1].ID() != s.ID() {
		t.Errorf("%+v", got)
	}
	if s.Pick().Len() != 0 {
		t.Error("rows where none were asked for")
	}
}
