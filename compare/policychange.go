package compare

import (
	"fmt"
	"strings"
)

// PolicyDifferences lists what changes from one policy to another: its own
// keys, and what is in force for each metric given (its benchmark, metric,
// unit and direction are looked at). Empty where nothing does.
func PolicyDifferences(old, new Policy, metrics []Value) []string {
	var out []string
	say := func(key, a, b string) {
		if a != b {
			out = append(out, fmt.Sprintf("%s: %s before, %s now", key, a, b))
		}
	}
	percent := func(c float64) string {
		if c == 0 {
			c = DefaultConfidence
		}
		return fmt.Sprintf("%.6g %%", 100*c)
	}
	say("confidence", percent(old.Confidence), percent(new.Confidence))
	say("correction", orWord(string(old.Correction), string(Holm)), orWord(string(new.Correction), string(Holm)))
	say("burden", orWord(string(old.Burden), string(Harm)), orWord(string(new.Burden), string(Harm)))
	say("fewest-runs", fmt.Sprint(old.FewestRuns), fmt.Sprint(new.FewestRuns))
	say("fewest-sessions", fmt.Sprint(old.FewestSessions), fmt.Sprint(new.FewestSessions))
	say("set-aside-allowed", fmt.Sprint(old.SetAsideAllowed), fmt.Sprint(new.SetAsideAllowed))
	say("widest-blind-spot", optional(old.WidestBlindSpot), optional(new.WidestBlindSpot))
	same := map[string][]string{}
	var order []string
	for _, v := range metrics {
		a, errA := old.Resolve(v.Benchmark, v.Metric, v.Unit, v.Better)
		b, errB := new.Resolve(v.Benchmark, v.Metric, v.Unit, v.Better)
		if errA != nil || errB != nil {
			continue // reading the runs under either policy says so
		}
		for _, d := range metricDifferences(old, new, a, b) {
			if same[d] == nil {
				order = append(order, d)
			}
			same[d] = append(same[d], a.Name())
		}
	}
	for _, d := range order {
		out = append(out, list(same[d], 4)+": "+d)
	}
	return out
}

func metricDifferences(old, new Policy, a, b Metric) []string {
	var out []string
	say := func(key, x, y string) {
		if x != y {
			out = append(out, fmt.Sprintf("%s %s before, %s now", key, x, y))
		}
	}
	sized := func(m Metric, v *float64) string {
		if v == nil {
			return "none"
		}
		if m.Scale == Ratio {
			return fmt.Sprintf("%.6g %%", 100**v)
		}
		return strings.TrimSpace(fmt.Sprintf("%.6g %s", *v, m.Unit))
	}
	named := map[bool]string{true: "judged", false: "not judged"}
	say("is", named[a.Named], named[b.Named])
	say("unit", orWord(a.Unit, "none"), orWord(b.Unit, "none"))
	say("better", orWord(string(a.Better), "not stated"), orWord(string(b.Better), "not stated"))
	say("scale", string(a.Scale), string(b.Scale))
	say("role", string(a.Role), string(b.Role))
	say("tolerance", sized(a, a.Tolerance), sized(b, b.Tolerance))
	say("cap", optional(a.Cap), optional(b.Cap))
	say("weight", fmt.Sprint(a.Weight), fmt.Sprint(b.Weight))
	say("class", orWord(a.Class, "none"), orWord(b.Class, "none"))
	say("required", fmt.Sprint(a.Required), fmt.Sprint(b.Required))
	const spot = "widest-blind-spot"
	if a.Sources[spot] != old.Source || b.Sources[spot] != new.Source { // else said for the whole
		say(spot, sized(a, a.WidestBlindSpot), sized(b, b.WidestBlindSpot))
	}
	return out
}

func optional(v *float64) string {
	if v == nil {
		return "none"
	}
	return fmt.Sprintf("%.6g", *v)
}
