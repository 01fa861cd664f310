package doubts

import (
	"maps"
	"slices"
	"sort"
	"time"

	"tunegate/compare"
)

// apart finds profiles whose times do not overlap although no block ties them.
func (v *Report) apart(all []checked) {
	type span struct {
		profile     string
		first, last int64
	}
	by := map[string]*span{}
	for _, c := range all {
		if c.first == 0 {
			continue
		}
		x := by[c.profile]
		if x == nil {
			x = &span{c.profile, c.first, c.last}
			by[c.profile] = x
		}
		x.first, x.last = min(x.first, c.first), max(x.last, c.last)
	}
	var spans []*span
	for _, x := range by {
		spans = append(spans, x)
	}
	sort.Slice(spans, func(a, b int) bool { return spans[a].first < spans[b].first })
	for i := 1; i < len(spans); i++ {
		if a, b := spans[i-1], spans[i]; a.last < b.first {
			v.add(Finding{GradeCheck, CheckApart, a.profile + " and " + b.profile, AllSeries, Evidence{Gap: time.Duration(b.first - a.last)}})
		}
	}
}

// Conditions finds what is recorded differently about profiles that will be
// compared, such as the room's temperature. Profiles without a record, and
// those that the map leaves out, say nothing.
func Conditions(recorded map[string]map[string]string) []Finding {
	var out []Finding
	var profiles []string
	keys := map[string]bool{}
	for name, conditions := range recorded {
		if len(conditions) > 0 {
			profiles = append(profiles, name)
		}
		for key := range conditions {
			keys[key] = true
		}
	}
	sort.Strings(profiles)
	for _, key := range slices.Sorted(maps.Keys(keys)) {
		found := Evidence{Key: key}
		at := map[string]int{} // of a value
		for _, name := range profiles {
			value, stated := recorded[name][key]
			if !stated {
				found.Without = append(found.Without, name)
				continue
			}
			if _, met := at[value]; !met {
				at[value] = len(found.Recorded)
				found.Recorded = append(found.Recorded, Recorded{Value: value})
			}
			to := &found.Recorded[at[value]]
			to.Profiles = append(to.Profiles, name)
		}
		if len(found.Recorded) > 1 || len(found.Without) > 0 {
			out = append(out, Finding{GradeCheck, CheckConditions, compare.List(profiles, 6), AllSeries, found})
		}
	}
	return out
}
