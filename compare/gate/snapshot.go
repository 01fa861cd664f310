package gate

import (
	"cmp"
	"maps"
	"slices"
	"sort"

	"tunegate/compare"
	"tunegate/compare/readings"
)

// Snapshot is one state of a results repository.
type Snapshot struct {
	Name       string          // for people: "main (1a2b3c4)", "the working tree"
	Policy     *compare.Policy // nil where it has none
	PolicyFile string          // path of the policy, for people
	// PolicyAt says where the policy's keys stand: "removed", "metric 0" for the first
	// entry, "metric 0.cap" for a key of it.
	PolicyAt map[string]compare.Place
	// ReadingRules are the policy's rules for monitoring logs; nil where it states
	// none.
	ReadingRules *readings.Rules
	// Words are what heads and units of sheets mean, and Trust the readings that need
	// not be near the others of their metric, as the policy states them.
	Words    map[string]string
	Trust    []string
	Profiles map[string]*Profile
	// Anchors are profiles as they first landed, or as they were when a person last
	// agreed that they are slower, by their names; nil where nobody knows. Changed
	// settings are judged against them, too, so that no row of small losses adds up.
	Anchors map[string]*Profile
	// Earlier are profiles as they were before their settings changed, or before they
	// went away, the newest first: new rows may be copies of theirs.
	Earlier []*Profile
	// Unjudged are the rows of profiles that are the same in both states and whose own
	// Values are left empty, since they are not judged: of the base.
	Unjudged   map[string]*compare.Rows
	Overlooked []string // files that look like results, where none are read
	Notes      []Note   // what a reader should know about where the states come from
}

// Profile is one profile of a results repository: what is set, under which
// conditions, and what was measured.
type Profile struct {
	Name string
	// Settings and Conditions are the tables [settings] and [conditions],
	// flattened: "memory.pace" to "5270".
	Settings   map[string]string
	Conditions map[string]string
	Baseline   string // the profile that a new one is judged against
	BaselineAt compare.Place
	Anchor     string // the commit that holds the runs which a person agreed to; empty: the first ones
	AnchorAt   compare.Place
	At         compare.Place // the settings file
	Values     *compare.Rows // every row of every runs file, in order
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

// Difference is a setting, or a recorded condition, that two states hold
// differently.
type Difference struct {
	Key         string
	Before, Now *string // nil where it is not set
}

// Differences lists the keys in which two flattened tables differ, a table's own
// value behind those of the tables in it.
func Differences(before, now map[string]string) []Difference {
	keys := map[string]bool{}
	for k := range before {
		keys[k] = true
	}
	for k := range now {
		keys[k] = true
	}
	order := slices.SortedFunc(maps.Keys(keys), func(a, b string) int { return cmp.Compare(a+":", b+":") })
	var out []Difference
	for _, k := range order {
		d := Difference{Key: k}
		x, was := before[k]
		y, is := now[k]
		if was {
			d.Before = &x
		}
		if is {
			d.Now = &y
		}
		if was != is || x != y {
			out = append(out, d)
		}
	}
	return out
}

// RowsOf are all rows of a profile.
func (s Snapshot) RowsOf(name string) *compare.Rows {
	if p := s.Profiles[name]; p != nil && p.Values.Len() > 0 {
		return p.Values
	}
	return s.Unjudged[name]
}

// measured reports whether any profile has a valid run.
func (s Snapshot) measured() bool {
	return slices.ContainsFunc(s.names(), func(name string) bool { return s.RowsOf(name).HasRun() })
}

// collect files rows under one profile's name.
func collect(profile string, rows *compare.Rows) (*compare.Runs, error) {
	var runs compare.Runs
	if err := runs.AddAll(profile, rows); err != nil {
		return nil, err
	}
	return &runs, nil
}
