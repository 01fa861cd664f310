package history

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/internal/comparetest"
)

// Lifts of boost-lift, as the demo sets them.
const (
	raised = "two notches"
	higher = "three notches"
)

// tuned is a state of boost-lift with one setting.
func tuned(lift string, values ...[]compare.Value) *gate.Profile {
	return &gate.Profile{Name: comparetest.Boost, Settings: map[string]string{"lift": lift},
		Values: compare.RowsOf(comparetest.InRunFiles(comparetest.Boost, values...)...)}
}

func tiles(letter string, level float64) []compare.Value { return comparetest.Tiles(letter, level) }

func meshes(letter string, level float64) []compare.Value { return comparetest.Meshes(letter, level) }

// pastOf takes in states of boost-lift, one commit each.
func pastOf(t *testing.T, opt compare.Options, states ...*gate.Profile) *Past {
	t.Helper()
	if opt.Resamples == 0 {
		opt.Resamples = 1000
	}
	p := NewPast("boost-lift", opt)
	for i, s := range states {
		c := Commit{Hash: fmt.Sprintf("%040d", i), Index: i, Of: len(states), First: i == 0, Subject: fmt.Sprint("commit ", i),
			Time:  time.Date(2026, time.Month(1+i), 1, 0, 0, 0, 0, time.UTC),
			State: gate.Snapshot{Name: fmt.Sprint(i), Profiles: map[string]*gate.Profile{}}}
		if s != nil {
			c.State.Profiles["boost-lift"] = s
		}
		if err := p.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	return p
}

func historyOf(t *testing.T, states ...*gate.Profile) *History {
	t.Helper()
	h, err := pastOf(t, compare.Options{Seed: 1}, states...).History()
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// told is what each point measured of a track: how many sessions, and their
// median; and what it did to the rows.
func (h *History) summary(track int) []string {
	var out []string
	for i, p := range h.Points {
		s := fmt.Sprintf("%d:", i)
		if m := h.Tracks[track].Measured[i]; m != nil {
			s += fmt.Sprintf(" %d at %.1f", m.Sessions, m.Median)
		}
		for _, n := range []struct {
			n    int
			what string
		}{{p.Added, "added"}, {p.SetAside, "set aside"}, {p.Restored, "restored"}, {p.Withdrawn, "withdrawn"}, {len(p.Settings), "set"}} {
			if n.n > 0 {
				s += fmt.Sprintf(" %d %s", n.n, n.what)
			}
		}
		if p.Removed {
			s += " removed"
		}
		out = append(out, s)
	}
	return out
}

// Rows count once, at the commit that brought them, as they are known now.
func TestHistoryFollowsRows(t *testing.T) {
	a, b := tiles("A", 400), tiles("B", 404)
	aside := tiles("A", 400)
	aside[0].SetAside, aside[0].Reason = true, "throttled"
	altered := tiles("B", 404)
	altered[5].Value = 500
	for name, c := range map[string]struct {
		states []*gate.Profile
		want   []string
	}{
		"runs of two commits with the same labels": {
			[]*gate.Profile{tuned(raised, a), tuned(raised, a, moreTiles("A", 404))},
			[]string{"0: 6 at 400.0 6 added", "1: 6 at 404.0 6 added"}},
		"one is set aside later": {
			[]*gate.Profile{tuned(raised, a), tuned(raised, a, b), tuned(raised, aside, b)},
			[]string{"0: 5 at 400.2 6 added", "1: 6 at 404.0 6 added", "2: 1 set aside"}},
		"and no longer": {
			[]*gate.Profile{tuned(raised, aside), tuned(raised, a)},
			[]string{"0: 6 at 400.0 6 added", "1: 1 restored"}},
		"one is altered": {
			[]*gate.Profile{tuned(raised, a, b), tuned(raised, a, altered)},
			[]string{"0: 11 at 401.0 12 added", "1: 1 at 500.0 1 added 1 withdrawn"}},
		"measured anew with other settings": {
			[]*gate.Profile{tuned(raised, a), tuned(higher, b)},
			[]string{"0: 6 at 400.0 6 added", "1: 6 at 404.0 6 added 1 set"}},
		"set differently, and old rows still there": {
			[]*gate.Profile{tuned(raised, a), tuned(higher, a, b)},
			[]string{"0: 6 at 400.0 6 added", "1: 6 at 404.0 6 added 1 set"}},
		"gone, and there again": {
			[]*gate.Profile{tuned(raised, a), nil, nil, tuned(raised, b)},
			[]string{"0: 6 at 400.0 6 added", "1: removed", "2: 6 at 404.0 6 added"}},
		"nothing happens": {
			[]*gate.Profile{nil, tuned(raised, a), tuned(raised, a)},
			[]string{"0: 6 at 400.0 6 added"}},
	} {
		if d := cmp.Diff(c.want, historyOf(t, c.states...).summary(0)); d != "" {
			t.Errorf("%s: -want +got\n%s", name, d)
		}
	}
}

// moreTiles are tiles of a file of their own, whatever their labels.
func moreTiles(letter string, level float64) []compare.Value {
	out := tiles(letter, level)
	for i := range out {
		out[i].At = compare.Place{File: "profiles/boost-lift/runs/more.csv", Line: i + 2, Column: 2}
	}
	return out
}

// blocked puts each session into a block of its own.
func blocked(values []compare.Value) []compare.Value {
	for i := range values {
		values[i].Block = fmt.Sprint("block ", i%6)
	}
	return values
}

// What stands beside a point is what compare says of the same runs; equal block
// labels of two commits are no blocks.
func TestHistoryIsWhatCompareSays(t *testing.T) {
	a, b := slices.Concat(tiles("A", 400), meshes("A", 260)), slices.Concat(tiles("B", 404), meshes("B", 259))
	h, err := pastOf(t, compare.Options{Resamples: 2000, Seed: 3}, tuned(raised, blocked(a)), tuned(raised, blocked(a), blocked(b))).History()
	if err != nil {
		t.Fatal(err)
	}
	side := func(values []compare.Value) []*compare.Series {
		for i := range values {
			values[i].Block = ""
		}
		return comparetest.SeriesOf(t, comparetest.Boost, values)
	}
	c, err := compare.Compare(side(a), side(b), [2]string{"before", "after"}, compare.Policy{}, compare.Options{Resamples: 2000, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Tracks) != 3 || h.Tracks[0].Benchmark != compare.WholeSuite {
		t.Fatalf("%d tracks, first %s", len(h.Tracks), h.Tracks[0].Name())
	}
	for i, want := range []*compare.Result{c.Suite.Result, c.Results[0], c.Results[1]} {
		got := h.Tracks[i].Measured[1].Since
		if got.Change != want.Change || *got.Interval != *want.Interval || got.Replicates != want.Replicates {
			t.Errorf("%s: %v %v of %v, want %v %v of %v", want.Name(), got.Change, *got.Interval, got.Replicates, want.Change, *want.Interval,
				want.Replicates)
		}
	}
}

// sessionsAround are n sessions of three benchmarks, each with noise of 0.3 %,
// and changed by per cent.
func sessionsAround(g *rand.Rand, label string, n int, faster ...float64) []compare.Value {
	var out []compare.Value
	for k, benchmark := range []string{"tile-render", "mesh-solve", "archive-pack"} {
		for s := range n {
			out = append(out, compare.Value{Benchmark: benchmark, Unit: "s", Session: fmt.Sprint(label, s),
				Value: 400 / (1 + faster[k]/100) * (1 + 0.003*g.NormFloat64()), At: compare.Place{File: "runs/" + label + ".csv", Line: s + 2,
					Column: k + 2}})
		}
	}
	return out
}

// causes lists what was set or recorded differently where a level changed.
func causes(l *Shift) string {
	var out []string
	for _, d := range slices.Concat(l.Settings, l.Conditions) {
		out = append(out, fmt.Sprintf("%s: %s, %s", d.Key, *d.Before, *d.Now))
	}
	return strings.Join(out, "; ")
}

// A gain with its cause and a loss without one; scores share alpha, the suite
// has its own; the gate is gate.Judge's.
func TestHistoryFindsChanges(t *testing.T) {
	g := rand.New(rand.NewPCG(1, 1))
	first := sessionsAround(g, "a", 5, 0, 0, 0)
	second := slices.Concat(first, sessionsAround(g, "b", 5, 0, 0, 0))
	tunedFurther := sessionsAround(g, "c", 6, 3, 3, 0)
	steady := slices.Concat(tunedFurther, sessionsAround(g, "d", 6, 3, 3, 0))
	worse := slices.Concat(steady, sessionsAround(g, "e", 6, 3, 0.5, 0))
	worst := slices.Concat(worse, sessionsAround(g, "f", 6, 3, 0.5, 0))
	profile := func(lift string, values []compare.Value) *gate.Profile {
		return &gate.Profile{Name: "boost-lift", Settings: map[string]string{"lift": lift}, Values: compare.RowsOf(values...)}
	}
	states := []*gate.Profile{profile(raised, first), profile(raised, second), profile(higher, tunedFurther), profile(higher, steady),
		profile(higher, worse), profile(higher, worst)}
	h := historyOf(t, states...)
	var got []string
	for _, track := range h.Tracks {
		for _, l := range track.Shifts {
			got = append(got, fmt.Sprintf("%s %d-%d|%d-%d %s, %.1f %% (%s)", track.Name(), l.From, l.Last, l.First, l.To, *l.Verdict, 100*l.Change,
				causes(l)))
			if level := 0.05 / float64(track.Among); l.P > l.MaxP || l.MaxP > level+1e-12 {
				t.Errorf("%s: p = %v, found from %v, of %v", track.Name(), l.P, l.MaxP, level)
			}
		}
	}
	want := []string{
		"suite 0-1|2-3 uplift, 1.9 % (lift: two notches, three notches)",
		"suite 2-3|4-5 regression, -0.8 % ()",
		"tile-render 0-1|2-5 uplift, 3.2 % (lift: two notches, three notches)",
		"mesh-solve 0-1|2-3 uplift, 2.9 % (lift: two notches, three notches)",
		"mesh-solve 2-3|4-5 regression, -2.4 % ()",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	if h.Tracks[0].Among != 1 || h.Tracks[1].Among != 3 || h.Family != 3 {
		t.Errorf("suite among %d, scores among %d, family %d", h.Tracks[0].Among, h.Tracks[1].Among, h.Family)
	}
	var names []string
	for _, track := range h.Worse() {
		names = append(names, track.Name())
	}
	if d := cmp.Diff([]string{"suite", "mesh-solve"}, names); d != "" {
		t.Errorf("worse: -want +got\n%s", d)
	}
	for i := 1; i < len(states); i++ {
		at := func(i int) gate.Snapshot {
			return gate.Snapshot{Name: fmt.Sprint(i), Profiles: map[string]*gate.Profile{"boost-lift": states[i]}}
		}
		g, err := gate.Judge(at(i-1), at(i), compare.Options{Resamples: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if got := h.Points[i].Gate.Outcome; got != g.Outcome {
			t.Errorf("commit %d: %s, the gate says %s", i, got, g.Outcome)
		}
	}
	if h.Points[4].Gate.Outcome != gate.Failed {
		t.Errorf("the loss: %s", h.Points[4].Gate.Outcome)
	}
}

func TestHistoryNotes(t *testing.T) {
	wants := func(name string, h *History, kinds ...string) {
		t.Helper()
		var got []string
		for _, n := range h.Notes {
			got = append(got, string(n.Kind))
		}
		if d := cmp.Diff(kinds, got, cmp.Transformer("empty", func(s []string) []string { return append([]string{}, s...) })); d != "" {
			t.Errorf("%s: -want +got\n%s", name, d)
		}
	}
	unlabelled := func(values []compare.Value) []compare.Value {
		for i := range values {
			values[i].Session = ""
		}
		return values
	}
	a, b := tuned(raised, tiles("A", 400)), tuned(raised, tiles("A", 400), tiles("B", 400))
	wants("nothing to say", historyOf(t, a, b))
	wants("too few", historyOf(t, tuned(raised, tiles("A", 400)[:3]), tuned(raised, tiles("A", 400)[:3], tiles("B", 400)[:3])), "too-few")
	loose := unlabelled(tiles("A", 400))
	for i := range loose {
		loose[i].At = compare.Place{File: "a.csv", Line: i + 2, Column: 1}
	}
	wants("no sessions", historyOf(t, tuned(raised, loose), tuned(raised, loose, unlabelled(moreTiles("B", 400)))), "no-sessions")

	// Each commit has luck of its own, ten times as large as a session's.
	var states []*gate.Profile
	var all []compare.Value
	for i, level := range []float64{400, 410, 391, 404, 415, 396, 388, 407} {
		all = slices.Concat(all, tiles(fmt.Sprint(i), level))
		states = append(states, tuned(raised, all))
	}
	h := historyOf(t, states...)
	apart := []Note{{Kind: NoteCommitLuck, Names: []string{"tile-render"}},
		{Kind: NoteSpread, Names: []string{"tile-render"}}, {Kind: NoteFlattered}}
	if d := cmp.Diff(apart, h.Notes); d != "" {
		t.Errorf("-want +got\n%s", d)
	}

	metres := tiles("B", 400)
	for i := range metres {
		metres[i].Unit = "fps"
	}
	h = historyOf(t, tuned(raised, tiles("A", 400), meshes("A", 260)), tuned(raised, tiles("A", 400), meshes("A", 260), metres))
	wants("two units", h, "left-out")
	if len(h.Tracks) != 1 || h.Tracks[0].Benchmark != "mesh-solve" {
		t.Errorf("%d tracks", len(h.Tracks))
	}
}

// What the suite leaves out is said with names and numbers.
func TestHistoryNotesOnTheSuite(t *testing.T) {
	state := func(values ...[]compare.Value) *gate.Profile { return tuned(raised, values...) }
	packs := func(letter string) []compare.Value { return comparetest.SixSessions("archive-pack", "s", letter, 90) }
	one := slices.Concat(tiles("A", 400), meshes("A", 260), packs("A"))
	two := slices.Concat(one, tiles("B", 400), meshes("B", 260))
	three := slices.Concat(two, tiles("C", 400))
	four := slices.Concat(three, tiles("D", 400), meshes("D", 260))
	want := []Note{
		{Kind: NoteNotInSuite, Names: []string{"archive-pack"}, Counts: []int{1}, Of: 4},
		{Kind: NoteIncomplete, Names: []string{fmt.Sprintf("%040d", 2)}},
	}
	if d := cmp.Diff(want, historyOf(t, state(one), state(two), state(three), state(four)).Notes); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	// Rows altered while the settings stay the same are withdrawn.
	altered := slices.Clone(one)
	altered[0].Value, altered[1].Value = 500, 501
	h := historyOf(t, state(one), state(altered))
	if last := h.Notes[len(h.Notes)-1]; last.Kind != NoteWithdrawn || last.Count != 2 {
		t.Errorf("%+v", h.Notes)
	}
	// No session holds both scores.
	apart := slices.Concat(tiles("A", 400), meshes("M", 260))
	h = historyOf(t, state(apart), state(apart, tiles("B", 400), meshes("N", 260)))
	if h.Tracks[0].Searched || h.Notes[0].Kind != NoteNotSearched {
		t.Errorf("no complete sessions: searched %v, %+v", h.Tracks[0].Searched, h.Notes)
	}
}

func TestHistoryErrors(t *testing.T) {
	nobody := tiles("A", 400)
	for i := range nobody {
		nobody[i].Unit = "laps"
	}
	for want, p := range map[string]*Past{
		"no commit that was read has runs or settings of a profile \"boost-lift\"": pastOf(t, compare.Options{}, nil, nil),
		"nothing was measured of what is followed":                                 pastOf(t, compare.Options{}, tuned(raised)),
		"does not say whether more is better":                                      pastOf(t, compare.Options{}, tuned(raised, nobody)),
	} {
		if _, err := p.History(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if h, err := pastOf(t, compare.Options{Better: compare.Higher}, tuned(raised, nobody)).History(); err != nil ||
		h.Tracks[0].Better != compare.Higher {
		t.Errorf("%v", err)
	}
	// A state that cannot be read is passed over, and said.
	p := NewPast("boost-lift", compare.Options{Resamples: 1000})
	for i, c := range []Commit{
		{First: true, State: gate.Snapshot{Profiles: map[string]*gate.Profile{"boost-lift": tuned(raised, tiles("A", 400))}}},
		{Wrong: fmt.Errorf("a.csv:3: no number")},
		{State: gate.Snapshot{Profiles: map[string]*gate.Profile{"boost-lift": tuned(raised, tiles("A", 400), tiles("B", 400))}}},
	} {
		c.Hash, c.Index, c.Of = fmt.Sprintf("%040d", i+1), i, 3
		if err := p.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	h, err := p.History()
	if err != nil || len(h.Points) != 2 || h.Points[1].Added != 6 || h.Notes[0].Kind != NoteUnread ||
		h.Notes[0].Names[0] != fmt.Sprintf("%040d", 2) || h.Notes[0].Err.Error() != "a.csv:3: no number" {
		t.Errorf("%+v, %v", h, err)
	}
}

// Progress only grows, and ends complete.
func TestHistoryProgress(t *testing.T) {
	last, calls := 0.0, 0
	opt := compare.Options{Resamples: 1000, Progress: func(done, total int) {
		calls++
		if share := float64(done) / float64(total); share < last-1e-12 {
			t.Errorf("from %v back to %v", last, share)
		} else {
			last = share
		}
	}}
	a := tuned(raised, tiles("A", 400), meshes("A", 260))
	if _, err := pastOf(t, opt, a, tuned(raised, tiles("A", 400), meshes("A", 260), tiles("B", 400),
		meshes("B", 260))).History(); err != nil || last != 1 || calls < 5 {
		t.Errorf("%v after %d calls, %v", last, calls, err)
	}
}

// A machine counts once at a commit: three commits on one machine and three on another
// show no shift, though all sessions of the one are slower.
func TestHistoryCountsMachinesOnce(t *testing.T) {
	on := func(machine string, values []compare.Value) []compare.Value {
		for i := range values {
			values[i].Machine = machine
		}
		return values
	}
	commits := func(machines ...string) *History {
		var states []*gate.Profile
		var all []compare.Value
		for i, machine := range machines {
			level := 400.0
			if i >= 3 {
				level = 420
			}
			all = slices.Concat(all, on(machine, tiles(fmt.Sprint(i), level)))
			states = append(states, tuned(raised, all))
		}
		return historyOf(t, states...)
	}
	for _, c := range []struct {
		name     string
		machines []string
		values   int // of a commit
		shifts   int
	}{
		{"one machine", []string{"heron", "heron", "heron", "heron", "heron", "heron"}, 6, 1},
		{"a machine that is stated from the third commit on", []string{"", "", "heron", "heron", "heron", "heron"}, 6, 1},
		{"another machine", []string{"heron", "heron", "heron", "plover", "plover", "plover"}, 1, 0},
	} {
		h := commits(c.machines...)
		track := h.Tracks[0]
		said := slices.ContainsFunc(h.Notes, func(n Note) bool { return n.Kind == NoteMachines })
		if len(track.Shifts) != c.shifts || len(track.Measured[0].Values) != c.values || said != (c.values == 1) {
			t.Errorf("%s: %d shifts, %d values a commit, note %v; want %d, %d", c.name, len(track.Shifts), len(track.Measured[0].Values), said,
				c.shifts, c.values)
		}
	}
}
