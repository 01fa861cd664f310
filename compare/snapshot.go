package compare

import (
	"fmt"
	"slices"
	"sort"
	"strings"
)

// Snapshot is one state of a results repository.
type Snapshot struct {
	Name       string  // for people: "main (1a2b3c4)", "the working tree"
	Policy     *Policy // nil where it has none
	PolicyFile string  // path of the policy, for people
	Profiles   map[string]*Profile
}

// Profile is one profile of a results repository: what is set, under which
// conditions, and what was measured.
type Profile struct {
	Name string
	// Settings and Conditions are the tables [settings] and [conditions],
	// flattened: "memory.speed" to "6000".
	Settings   map[string]string
	Conditions map[string]string
	Baseline   string // the profile that a new one is judged against
	BaselineAt Place
	At         Place   // the settings file
	Values     []Value // every row of every runs file, in order
}

// names lists the profiles in order.
func (s Snapshot) names() []string {
	var names []string
	for name := range s.Profiles {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}

// rowKey is everything that a row says, but not where it stands: a row that
// moved within a file or between files is the same row.
type rowKey struct {
	benchmark, metric, unit, better, session, block, run, time string
	value                                                      float64
	missing, setAside                                          bool
	reason                                                     string
}

func keyOf(v Value) rowKey {
	metric := v.Metric
	if metric == "" {
		metric = DefaultMetric
	}
	k := rowKey{benchmark: v.Benchmark, metric: metric, unit: v.Unit, better: string(v.Better), session: v.Session,
		block: v.Block, run: v.Run, value: v.Value, missing: v.Missing, setAside: v.SetAside}
	if v.SetAside {
		k.reason = v.Reason
	}
	if v.Missing {
		k.value = 0
	}
	if !v.Time.IsZero() {
		k.time = v.Time.UTC().Format("2006-01-02T15:04:05.999999999Z")
	}
	return k
}

// measured is the row without its judgement: a row that is set aside later is
// still the same measurement.
func (k rowKey) measured() rowKey {
	k.setAside, k.reason = false, ""
	return k
}

// rowChange is how the rows of a profile differ between two snapshots. Empty
// cells, runs not made yet, count as no rows.
type rowChange struct {
	kept     []Value // in both, as the head has them
	added    []Value
	gone     []Value // removed or altered, as the base has them
	setAside []Value // in both, set aside since
	restored []Value // in both, no longer set aside
}

func changeOfRows(base, head []Value) rowChange {
	var c rowChange
	counts := func(v Value) bool { return !v.Missing || v.SetAside }
	line := func(v Value) Place { return Place{File: v.At.File, Line: v.At.Line} }
	// The lines that hold a measurement of both.
	inBase, inHead := map[Place]bool{}, map[Place]bool{}
	found := make([]bool, len(base))
	// take finds a row of the base, the first of equals, by its key.
	take := func(at map[rowKey][]int, k rowKey, now Value) bool {
		if len(at[k]) == 0 {
			return false
		}
		i := at[k][0]
		at[k] = at[k][1:]
		found[i], inBase[line(base[i])], inHead[line(now)] = true, true, true
		return true
	}

	same := map[rowKey][]int{}
	for i, v := range base {
		if counts(v) {
			same[keyOf(v)] = append(same[keyOf(v)], i)
		}
	}
	var unmatched []Value
	for _, v := range head {
		switch {
		case !counts(v):
		case take(same, keyOf(v), v):
			c.kept = append(c.kept, v)
		default:
			unmatched = append(unmatched, v)
		}
	}
	measured := map[rowKey][]int{}
	for i, v := range base {
		if counts(v) && !found[i] {
			measured[keyOf(v).measured()] = append(measured[keyOf(v).measured()], i)
		}
	}
	for _, v := range unmatched {
		switch was := take(measured, keyOf(v).measured(), v); {
		case !was:
			c.added = append(c.added, v)
		case v.SetAside:
			c.setAside = append(c.setAside, v)
		default:
			c.restored = append(c.restored, v)
		}
	}
	for i, v := range base {
		if counts(v) && !found[i] {
			c.gone = append(c.gone, v)
		}
	}
	// A row of a wide file that is set aside, or no longer, takes its empty
	// cells along: they are neither new nor gone.
	c.added = slices.DeleteFunc(c.added, func(v Value) bool { return v.Missing && inHead[line(v)] })
	c.gone = slices.DeleteFunc(c.gone, func(v Value) bool { return v.Missing && inBase[line(v)] })
	return c
}

// differences lists the keys in which two flattened tables differ, as
// "firmware: F11 -> F12".
func differences(a, b map[string]string) []string {
	keys := map[string]bool{}
	for k := range a {
		keys[k] = true
	}
	for k := range b {
		keys[k] = true
	}
	var out []string
	for k := range keys {
		x, inA := a[k]
		y, inB := b[k]
		x, y = orWord(x, "empty"), orWord(y, "empty")
		switch {
		case !inA:
			out = append(out, fmt.Sprintf("%s: not set before, %s now", k, y))
		case !inB:
			out = append(out, fmt.Sprintf("%s: %s before, not set now", k, x))
		case x != y:
			out = append(out, fmt.Sprintf("%s: %s before, %s now", k, x, y))
		}
	}
	sort.Strings(out)
	return out
}

// collect files rows under one profile's name.
func collect(profile string, values []Value) (*Runs, error) {
	var runs Runs
	for _, v := range values {
		v.Profile = profile
		if err := runs.Add(v); err != nil {
			return nil, err
		}
	}
	return &runs, nil
}

// places lists where rows stand, at most n of them.
func places(values []Value, n int) string {
	var out []string
	for _, v := range values {
		at := v.At
		at.Column = 0
		out = append(out, at.String())
	}
	return strings.TrimSpace(list(out, n))
}
