package gate

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// at puts values on consecutive lines of a file, from line 2.
func at(file string, values ...compare.Value) []compare.Value {
	out := append([]compare.Value(nil), values...)
	for i := range out {
		out[i].At = compare.Place{File: file, Line: i + 2, Column: 3}
	}
	return out
}

// aside sets values aside.
func aside(reason string, values ...compare.Value) []compare.Value {
	out := append([]compare.Value(nil), values...)
	for i := range out {
		out[i].SetAside, out[i].Reason = true, reason
	}
	return out
}

// empty is a cell of a run that was not made yet.
func empty(v compare.Value) compare.Value {
	v.Missing, v.Value = true, 0
	return v
}

// reducedTo lets a row stand for three runs with a spread.
func reducedTo(v compare.Value, spread float64) compare.Value {
	v.Reduced = &compare.Reduction{Runs: 3, Mean: v.Value, Spread: spread, Smallest: v.Value, Largest: v.Value}
	return v
}

// said lists rows as value at line, the mark a for set aside, "" for empty.
func rowTexts(values *compare.Rows) []string {
	out := []string{}
	for _, v := range values.All() {
		s := fmt.Sprintf("%v@%s:%d", v.Value, v.At.File, v.At.Line)
		if v.Missing {
			s = fmt.Sprintf("empty@%s:%d", v.At.File, v.At.Line)
		}
		if v.SetAside {
			s += " aside"
		}
		out = append(out, s)
	}
	return out
}

// kept are the rows that are unchanged in both states, as the head has them.
func kept(c RowChange) *compare.Rows {
	var places []uint32
	for _, b := range c.Both {
		if c.keys.Of(inBase, int(b.Base)) == c.keys.Of(inHead, int(b.Head)) {
			places = append(places, b.Head)
		}
	}
	return c.head.Pick(places)
}

// changeOf is the change between rows that are held apart.
func changeOf(base, head []compare.Value) RowChange {
	return ChangeOfRows(compare.RowsOf(base...), compare.RowsOf(head...))
}

func TestChangeOfRows(t *testing.T) {
	three := comparetest.Numbers("s", 412, 409, 415)
	one := three[0]
	for _, c := range []struct {
		name                                 string
		base, head                           []compare.Value
		kept, added, gone, setAside, wereSet []string
	}{
		{name: "nothing changed", base: at("a.csv", three...), head: at("a.csv", three...),
			kept: []string{"412@a.csv:2", "409@a.csv:3", "415@a.csv:4"}},
		{name: "other order", base: at("a.csv", three...), head: at("a.csv", three[2], three[0], three[1]),
			kept: []string{"415@a.csv:2", "412@a.csv:3", "409@a.csv:4"}},
		{name: "moved to another file", base: at("a.csv", three...), head: append(at("a.csv", three[0]), at("b.csv", three[1:]...)...),
			kept: []string{"412@a.csv:2", "409@b.csv:2", "415@b.csv:3"}},
		{name: "added", base: at("a.csv", one), head: at("a.csv", three...),
			kept: []string{"412@a.csv:2"}, added: []string{"409@a.csv:3", "415@a.csv:4"}},
		{name: "removed", base: at("a.csv", three...), head: at("a.csv", three[0], three[2]),
			kept: []string{"412@a.csv:2", "415@a.csv:3"}, gone: []string{"409@a.csv:3"}},
		{name: "altered", base: at("a.csv", three...), head: at("a.csv", three[0], comparetest.Numbers("s", 399)[0], three[2]),
			kept: []string{"412@a.csv:2", "415@a.csv:4"}, added: []string{"399@a.csv:3"}, gone: []string{"409@a.csv:3"}},
		{name: "of a reduced row the spread altered", base: at("a.csv", reducedTo(one, 0.1)), head: at("a.csv", reducedTo(one, 0.2)),
			added: []string{"412@a.csv:2"}, gone: []string{"412@a.csv:2"}},
		{name: "a reduced row moved", base: at("a.csv", reducedTo(one, 0.1)), head: at("b.csv", reducedTo(one, 0.1)),
			kept: []string{"412@b.csv:2"}},
		{name: "one of two equal rows removed", base: at("a.csv", one, one, three[1]), head: at("a.csv", one, three[1]),
			kept: []string{"412@a.csv:2", "409@a.csv:3"}, gone: []string{"412@a.csv:3"}},
		{name: "an equal row added", base: at("a.csv", one), head: at("a.csv", one, one),
			kept: []string{"412@a.csv:2"}, added: []string{"412@a.csv:3"}},
		{name: "set aside", base: at("a.csv", three...),
			head: append(at("a.csv", three[0]), append(aside("crashed", at("b.csv", three[1])...), at("c.csv", three[2])...)...),
			kept: []string{"412@a.csv:2", "415@c.csv:2"}, setAside: []string{"409@b.csv:2 aside"}},
		{name: "no longer set aside", base: aside("crashed", at("a.csv", one)...), head: at("a.csv", one),
			wereSet: []string{"412@a.csv:2"}},
		{name: "set aside and altered", base: at("a.csv", one), head: aside("crashed", at("a.csv", comparetest.Numbers("s", 499)...)...),
			added: []string{"499@a.csv:2 aside"}, gone: []string{"412@a.csv:2"}},
		{name: "of two equal rows one set aside, one removed", base: at("a.csv", one, one), head: aside("crashed", at("a.csv", one)...),
			setAside: []string{"412@a.csv:2 aside"}, gone: []string{"412@a.csv:3"}},
		{name: "equal rows, one of them set aside, both removed",
			base: append(at("a.csv", one), append(aside("crashed", at("b.csv", one)...), at("c.csv", one)...)...),
			head: at("a.csv", one), kept: []string{"412@a.csv:2"}, gone: []string{"412@b.csv:2 aside", "412@c.csv:2"}},
		{name: "an empty cell filled", base: at("a.csv", one, empty(three[1])), head: at("a.csv", one, three[1]),
			kept: []string{"412@a.csv:2"}, added: []string{"409@a.csv:3"}},
		{name: "an empty cell removed", base: at("a.csv", one, empty(three[1])), head: at("a.csv", one),
			kept: []string{"412@a.csv:2"}},
		{name: "a crashed run without a value", base: at("a.csv", one),
			head: append(at("a.csv", one), aside("crashed", at("b.csv", empty(one))...)...),
			kept: []string{"412@a.csv:2"}, added: []string{"empty@b.csv:2 aside"}},
		{name: "and removed again", base: append(at("a.csv", one), aside("crashed", at("b.csv", empty(one))...)...), head: at("a.csv", one),
			kept: []string{"412@a.csv:2"}, gone: []string{"empty@b.csv:2 aside"}},
	} {
		got := changeOf(c.base, c.head)
		for _, part := range []struct {
			name      string
			got, want []string
		}{{"kept", rowTexts(kept(got)), c.kept}, {"added", rowTexts(got.Added), c.added}, {"gone", rowTexts(got.Gone), c.gone},
			{"set aside", rowTexts(got.SetAside), c.setAside}, {"restored", rowTexts(got.Restored), c.wereSet}} {
			if part.want == nil {
				part.want = []string{}
			}
			if d := cmp.Diff(part.want, part.got); d != "" {
				t.Errorf("%s: %s (-want +got)\n%s", c.name, part.name, d)
			}
		}
	}
}

// Everything that a row says makes it the row that it is; where it stands and
// how its metric or its time is spelled does not.
func TestWhatMakesARow(t *testing.T) {
	noon := time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)
	row := compare.Value{Benchmark: "tile-render", Unit: "s", Session: "A1", Block: "1", Run: "2", Time: noon, Value: 412}
	other := func(change func(*compare.Value)) compare.Value {
		v := row
		change(&v)
		return v
	}
	for name, v := range map[string]compare.Value{
		"benchmark": other(func(v *compare.Value) { v.Benchmark = "mesh-solve" }),
		"metric":    other(func(v *compare.Value) { v.Metric = "power" }),
		"unit":      other(func(v *compare.Value) { v.Unit = "ms" }),
		"better":    other(func(v *compare.Value) { v.Better = compare.Higher }),
		"session":   other(func(v *compare.Value) { v.Session = "A2" }),
		"block":     other(func(v *compare.Value) { v.Block = "" }),
		"run":       other(func(v *compare.Value) { v.Run = "3" }),
		"time":      other(func(v *compare.Value) { v.Time = noon.Add(time.Second) }),
		"value":     other(func(v *compare.Value) { v.Value = 412.0000001 }),
	} {
		if got := changeOf([]compare.Value{row}, []compare.Value{v}); got.Gone.Len() != 1 || got.Added.Len() != 1 {
			t.Errorf("another %s is no other row: %+v", name, got)
		}
	}
	for name, v := range map[string]compare.Value{
		"place":                  other(func(v *compare.Value) { v.At = compare.Place{File: "b.csv", Line: 9, Column: 4} }),
		"the metric's full name": other(func(v *compare.Value) { v.Metric = compare.DefaultMetric }),
		"the time in another zone": other(func(v *compare.Value) {
			v.Time = noon.In(time.FixedZone("", 3600))
		}),
		"a reason without valid = no": other(func(v *compare.Value) { v.Reason = "warm day" }),
	} {
		if got := changeOf([]compare.Value{row}, []compare.Value{v}); kept(got).Len() != 1 {
			t.Errorf("%s makes another row: %+v", name, got)
		}
	}
}

// A row of a wide file is one run: its empty cells go with it, aside and back.
func TestWideRowWithAnEmptyCell(t *testing.T) {
	line := func(file string, values ...compare.Value) []compare.Value {
		for i := range values {
			values[i].At = compare.Place{File: file, Line: 2, Column: i + 2}
		}
		return values
	}
	cells := func() []compare.Value {
		return []compare.Value{comparetest.Numbers("s", 412)[0], empty(comparetest.Named("mesh-solve", comparetest.Numbers("s", 0))[0])}
	}
	valid, crashed := line("a.csv", cells()...), aside("crashed", line("a.csv", cells()...)...)
	got := changeOf(valid, crashed)
	if got.SetAside.Len() != 1 || got.Added.Len()+got.Gone.Len() != 0 {
		t.Errorf("set aside: %+v", got)
	}
	got = changeOf(crashed, valid)
	if got.Restored.Len() != 1 || got.Added.Len()+got.Gone.Len() != 0 {
		t.Errorf("restored: %+v", got)
	}
	// A planned row, all of it empty, that then crashed is a new run.
	planned := line("a.csv", empty(cells()[0]), cells()[1])
	got = changeOf(planned, aside("crashed", line("a.csv", empty(cells()[0]), cells()[1])...))
	if got.Added.Len() != 2 {
		t.Errorf("planned, then crashed: %+v", got)
	}
}

// A coarse reading that several wide rows share does not take a row apart.
func TestWideRowsStayWhole(t *testing.T) {
	row := func(line int, file string, seconds, degrees float64) []compare.Value {
		v := append(comparetest.Numbers("s", seconds), comparetest.Metric("temperature", comparetest.Numbers("°C", degrees))...)
		v[0].At, v[1].At = compare.Place{File: file, Line: line, Column: 1}, compare.Place{File: file, Line: line, Column: 2}
		return v
	}
	base := slices.Concat(row(2, "a.csv", 412, 78), row(3, "a.csv", 409, 78), row(4, "a.csv", 415, 78))
	head := slices.Concat(row(2, "0.csv", 399, 78), row(3, "0.csv", 398, 78), row(2, "b.csv", 409, 78))
	got := changeOf(base, head)
	pairs := map[string]string{}
	for _, b := range got.Both {
		pairs[base[b.Base].At.String()] = head[b.Head].At.String()
	}
	// The line that is still there as a whole, and two equal readings.
	want := map[string]string{"a.csv:3:1": "b.csv:2:1", "a.csv:3:2": "b.csv:2:2", "a.csv:2:2": "0.csv:2:2", "a.csv:4:2": "0.csv:3:2"}
	if d := cmp.Diff(want, pairs); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	if d := cmp.Diff([]string{"412@a.csv:2", "415@a.csv:4"}, rowTexts(got.Gone)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"399@0.csv:2", "398@0.csv:3"}, rowTexts(got.Added)); d != "" {
		t.Error(d)
	}
}
