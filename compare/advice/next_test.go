package advice

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// familyOf are sessions of several benchmarks, of the given numbers of runs, with a
// spread and a true change in per cent each.
func familyOf(t *testing.T, sessions, runs int, spreads, changes []float64) (p Pilot) {
	t.Helper()
	g := rand.New(rand.NewPCG(7, 7))
	for side, letter := range []string{"A", "B"} {
		var all compare.Runs
		for s := range sessions {
			for b, spread := range spreads {
				for range runs {
					v := 100 * (1 + spread/100*g.NormFloat64())
					if side == 1 {
						v *= 1 - changes[b]/100
					}
					err := all.Add(compare.Value{Profile: letter, Benchmark: fmt.Sprint("benchmark ", b), Unit: "s", Session: fmt.Sprint(letter, s+1),
						Value: v})
					if err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		if p.Profiles[side] = letter; side == 0 {
			p.Before = all.Series()
		} else {
			p.After = all.Series()
		}
	}
	return p
}

func nextOf(t *testing.T, p Pilot, wish Wish) *Next {
	t.Helper()
	plan, err := PlanReruns(p.Before, p.After, p.Profiles[:], compare.Policy{}, wish, compare.Options{Resamples: 500})
	if err != nil {
		t.Fatal(err)
	}
	return plan.Next
}

// A plan keeps to its hours, by the minutes of sessions, runs and warm-ups worked out by
// hand; more hours settle at least as much; what is settled is not run again.
func TestNextKeepsToItsHours(t *testing.T) {
	p := familyOf(t, 4, 1, []float64{0.1, 0.5, 0.7, 1, 2}, []float64{3, 1.5, 0, 2, 0.3})
	last := 0.0
	for _, hours := range []float64{3, 6, 12, 24, 48} {
		n := nextOf(t, p, Wish{Hours: hours, SessionMinutes: 12, RunMinutes: 6, WarmUps: 1})
		if n.Settled == 0 || len(n.Open) == 0 || len(n.Choices) != 1 {
			t.Fatalf("%v hours: %+v", hours, n)
		}
		c := n.Choices[0]
		want := float64(c.Sessions) * 2 * 12 / 60
		for name, k := range c.More {
			want += float64(k) * 2 * 6 * float64(c.Runs+1) / 60
			if name == "benchmark 0" {
				t.Errorf("%s is settled, and run again", name)
			}
		}
		if d := c.Hours - want; d > 1e-9 || d < -1e-9 || c.Hours > hours {
			t.Errorf("%v hours: takes %v, by hand %v", hours, c.Hours, want)
		}
		if c.Expected < last-1e-9 {
			t.Errorf("%v hours are said to settle %v, fewer hours %v", hours, c.Expected, last)
		}
		last = c.Expected
	}
}

// Sessions of fewer runs take the place of the pilot's where runs of a session hardly
// differ, and never where the sides have unequal numbers of sessions.
func TestNextRunsASession(t *testing.T) {
	p := familyOf(t, 4, 3, []float64{2, 2}, []float64{2.5, 2.5})
	for _, side := range [][]*compare.Series{p.Before, p.After} {
		for _, s := range side { // all spread lies between sessions, up to a thousandth
			comparetest.EditEach(s, func(i int, o *compare.Observation) { o.Value = s.At(i/3*3).Value * (1 + 1e-5*float64(i%3)) })
		}
	}
	wish := Wish{Hours: 20, SessionMinutes: 5, RunMinutes: 10, WarmUps: 1}
	if c := nextOf(t, p, wish).Choices[0]; c.Runs != 1 {
		t.Errorf("%d runs a session, want 1", c.Runs)
	}
	for _, s := range p.Before {
		comparetest.Edit(s, func(o []compare.Observation) []compare.Observation { return o[:9] })
	}
	if c := nextOf(t, p, wish).Choices[0]; c.Runs != 3 {
		t.Errorf("unequal sides: %d runs a session, want the pilot's 3", c.Runs)
	}
}

// Each pair of sessions holds both profiles, each comes first as often, all sessions
// have as many runs, and no label is used twice or was used before.
func TestNextSheet(t *testing.T) {
	p := familyOf(t, 6, 1, []float64{1, 2}, []float64{2, 0})
	n := nextOf(t, p, Wish{Sessions: 4, WarmUps: 1})
	rows, err := n.Sheet(n.Choices[0], p, 1)
	if err != nil {
		t.Fatal(err)
	}
	var order, labels []string
	counted := map[string]int{}
	for _, r := range rows {
		if r.Look != 2 || r.Block != "" {
			t.Fatalf("%+v: want look 2 and no block", r)
		}
		if len(labels) == 0 || labels[len(labels)-1] != r.Session {
			order, labels = append(order, r.Profile), append(labels, r.Session)
		}
		if r.Run != compare.WarmUp {
			counted[r.Session]++
		}
	}
	first := map[string]int{}
	for i := 0; i < len(order); i += 2 {
		if first[order[i]]++; order[i] == order[i+1] {
			t.Errorf("sessions %s and %s are both of %s", labels[i], labels[i+1], order[i])
		}
	}
	if first["A"] != 2 || first["B"] != 2 || len(order) != 8 {
		t.Errorf("order %v", order)
	}
	seen := map[string]bool{"A1": true, "A6": true, "B1": true, "B6": true}
	for _, l := range labels {
		if seen[l] || counted[l] != counted[labels[0]] {
			t.Errorf("session %s: %d runs, as %v", l, counted[l], labels)
		}
		seen[l] = true
	}
	if !seen["A7"] || !seen["A10"] || !seen["B10"] {
		t.Errorf("labels %v do not go on from A6 and B6", labels)
	}
}

// Labels go on from those in use, unless a spreadsheet would take them for a date or a
// number, or they have nothing in common.
func TestNewLabels(t *testing.T) {
	for _, c := range []struct {
		old  []string
		want string
	}{
		{[]string{"F1", "F2", "F10"}, "F11"}, {[]string{"day 01", "day 02"}, "day 03"}, {[]string{"S-1"}, "S-2"}, {nil, "session 1"},
		{[]string{"1", "2"}, "session 3"}, {[]string{"2026-03-01"}, "session 2"}, {[]string{"Mar 1", "Mar 2"}, "session 3"},
		{[]string{"Dez1"}, "session 2"}, {[]string{"F1", "B2"}, "session 3"}, {[]string{"1E5"}, "session 2"},
		{[]string{"session 1"}, "session 2"},
	} {
		used := map[string]bool{}
		for _, l := range c.old {
			used[l] = true
		}
		next := newLabels(c.old, used, "session")
		if got := next(); got != c.want {
			t.Errorf("after %q: %q, want %q", c.old, got, c.want)
		}
		if again := next(); again == c.want {
			t.Errorf("after %q: %q twice", c.old, again)
		}
	}
}

// Further machines are measured as those of the pilot: with their sessions and runs,
// which the hours hold, by hand.
func TestNextMachines(t *testing.T) {
	g := rand.New(rand.NewPCG(11, 11))
	var sides [2]compare.Runs
	const machines, sessions, runs = 5, 3, 3
	for side, letter := range []string{"A", "B"} {
		for m := range machines {
			own := g.NormFloat64()
			for s := range sessions {
				for range runs {
					v := compare.Value{Profile: letter, Benchmark: "tile-render", Unit: "s", Machine: fmt.Sprint("m", m), Session: fmt.Sprint(letter, s),
						Value: 100 - 0.4*float64(side) + own + 0.1*g.NormFloat64()}
					if err := sides[side].Add(v); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
	}
	p := Pilot{Before: sides[0].Series(), After: sides[1].Series(), Profiles: [2]string{"A", "B"}}
	n := nextOf(t, p, Wish{Hours: 60, SessionMinutes: 12, RunMinutes: 6, WarmUps: 1})
	if n.Unit != compare.ByMachine || n.Spells != sessions || len(n.Choices) != 1 {
		t.Fatalf("%+v", n)
	}
	c := n.Choices[0]
	want := float64(c.Sessions) * 2 * sessions * (12 + (runs+1)*6) / 60
	if d := c.Hours - want; c.Runs != runs || d > 1e-9 || d < -1e-9 {
		t.Errorf("%d machines of %d runs a session take %v h, by hand %v h of %d runs", c.Sessions, c.Runs, c.Hours, want, runs)
	}
}
