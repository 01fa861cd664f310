package compare

import (
	"fmt"
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
	left := map[rowKey][]Value{}
	for _, v := range base {
		if !v.Missing || v.SetAside {
			left[keyOf(v)] = append(left[keyOf(v)], v)
		}
	}
	var unmatched []Value
	for _, v := range head {
		if v.Missing && !v.SetAside {
			continue
		}
		if k := keyOf(v); len(left[k]) > 0 {
			left[k] = left[k][1:]
			c.kept = append(c.kept, v)
			continue
		}
		unmatched = append(unmatched, v)
	}
	measured := map[rowKey][]Value{}
	for _, v := range base {
		k := keyOf(v)
		if n := len(left[k]); n > 0 && (!v.Missing || v.SetAside) {
			left[k] = left[k][1:]
			measured[k.measured()] = append(measured[k.measured()], v)
		}
	}
	for _, v := range unmatched {
		k := keyOf(v).measured()
		if n := len(measured[k]); n > 0 {
			measured[k] = measured[k][1:]
			if v.SetAside {
				c.setAside = append(c.setAside, v)
			} else {
				c.restored = append(c.restored, v)
			}
			continue
		}
		c.added = append(c.added, v)
	}
	for _, v := range base {
		k := keyOf(v).measured()
		if len(measured[k]) > 0 && (!v.Missing || v.SetAside) && keyOf(measured[k][0]) == keyOf(v) {
			measured[k] = measured[k][1:]
			c.gone = append(c.gone, v)
		}
	}
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
