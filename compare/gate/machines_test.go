package gate

import (
	"strings"
	"testing"

	"tunegate/compare"
)

// on gives rows a machine.
func on(machine string, rows []compare.Value) []compare.Value {
	for i := range rows {
		rows[i].Machine = machine
	}
	return rows
}

// New runs of another machine than the old ones say nothing of the settings, and a
// difference is no drift: a person has to agree. A machine that one side does not state
// is not known to be another.
func TestOtherMachine(t *testing.T) {
	old := func(machine string) *Profile { return tuned(factory, "auto", on(machine, tiles("F", 412))) }
	undecided := func(of string) []string { return []string{of + " new-without-baseline (undecided)"} }
	for _, c := range []struct {
		name    string
		base    *Profile
		head    profiles
		outcome Outcome
		want    []string
	}{
		{"a new profile", old("heron"), profiles{old("heron"), tuned(boost, raised, on("plover", tiles("B", 402))).from(factory)}, Undecided,
			undecided(boost)},
		{"and slower", old("heron"), profiles{old("heron"), tuned(boost, raised, on("plover", tiles("B", 430))).from(factory)}, Failed,
			append([]string{"boost-lift regression tile-render"}, undecided(boost)...)},
		{"other settings", old("heron"), profiles{tuned(factory, "up", on("plover", tiles("B", 402)))}, Undecided, undecided(factory)},
		{"more runs", old("heron"), profiles{tuned(factory, "auto", on("heron", tiles("F", 412)), on("plover", tiles("B", 450)))}, Undecided,
			undecided(factory)},
		{"the same machine", old("heron"), profiles{old("heron"), tuned(boost, raised, on("Heron", tiles("B", 402))).from(factory)}, Passed, nil},
		{"not stated before", old(""), profiles{old(""), tuned(boost, raised, on("plover", tiles("B", 402))).from(factory)}, Passed, nil},
	} {
		g := between(t, compare.Policy{}, profiles{c.base}, c.head)
		wantReasons(t, c.name, g, c.outcome, c.want...)
		if c.outcome == Undecided {
			if !strings.Contains(g.Reasons[0].Detail, "machine plover, and the old ones of heron") {
				t.Errorf("%s: %s", c.name, g.Reasons[0].Detail)
			}
			wantReasons(t, c.name+", agreed", g.Agree(AgreeNew), Passed, strings.Replace(c.want[0], "undecided", "passed", 1))
		}
	}
}

// A label that is corrected alters rows; nobody copied them.
func TestAlteredRowsAreNoCopies(t *testing.T) {
	four := []string{"tile-render", "mesh-solve", "archive-pack", "shader-build"}
	was := sittings(31, "F", 6, 412, 2, four...)
	now := sittings(31, "F", 6, 412, 2, four...)
	for i := range now {
		if now[i].Session == "F3" {
			now[i].Session = "F03"
		}
	}
	g := between(t, compare.Policy{}, profiles{tuned(factory, "auto", was)}, profiles{tuned(factory, "auto", now)})
	if g.Outcome != Failed || g.Reasons[0].Kind != ReasonAltered || strings.Contains(strings.Join(reasons(g), " "), ReasonCopies) {
		t.Errorf("%s, %q", g.Outcome, reasons(g))
	}
}
