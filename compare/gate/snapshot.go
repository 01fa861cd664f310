package gate

import (
	"fmt"
	"sort"

	"tunegate/compare"
	"tunegate/compare/readings"
)

// Snapshot is one state of a results repository.
type Snapshot struct {
	Name       string          // for people: "main (1a2b3c4)", "the working tree"
	Policy     *compare.Policy // nil where it has none
	PolicyFile string          // path of the policy, for people
	// ReadingRules are the policy's rules for monitoring logs; nil where it states
	// none.
	ReadingRules *readings.Rules
	Profiles     map[string]*Profile
	Overlooked   []string // files that look like results, where none are read
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
	BaselineAt compare.Place
	At         compare.Place   // the settings file
	Values     []compare.Value // every row of every runs file, in order
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

// Differences lists the keys in which two flattened tables differ, as
// "firmware: F11 -> F12".
func Differences(a, b map[string]string) []string {
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
		x, y = compare.OrWord(x, "empty"), compare.OrWord(y, "empty")
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
func collect(profile string, values []compare.Value) (*compare.Runs, error) {
	var runs compare.Runs
	for _, v := range values {
		v.Profile = profile
		if err := runs.Add(v); err != nil {
			return nil, err
		}
	}
	return &runs, nil
}
