package fleet

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
)

// isInterval is an expression that is 1 for a row of a metric on an interval scale, else
// 0: as the policy says, the strongest entry first, else as the unit says.
func (q Query) isInterval() (string, error) {
	d := q.Dialect
	var scales, units []string
	for _, e := range q.Policy.Strongest() {
		if e.Scale == "" && e.Unit == "" {
			continue
		}
		id := e.ID()
		benchmark, err := d.matches(d.name("benchmark"), id.Benchmark)
		if err != nil {
			return "", err
		}
		if !q.has("metric") && id.Metric != "*" && id.Metric != compare.DefaultMetric {
			continue
		}
		metric, err := d.matches(d.name("metric"), id.Metric)
		if err != nil {
			return "", err
		}
		var both []string
		for _, condition := range []string{benchmark, metric} {
			if condition != "" {
				both = append(both, condition)
			}
		}
		if both == nil {
			both = []string{"1 = 1"}
		}
		when := "when " + strings.Join(both, " and ") + " then "
		if e.Scale != "" {
			scales = append(scales, when+bit(e.Scale))
		}
		if e.Unit != "" {
			units = append(units, when+bit(compare.TraitsOf(e.Unit).Scale))
		}
	}
	if q.has("unit") {
		unit, known := d.name("unit"), compare.IntervalUnits()
		for i := range known {
			known[i] = strings.ReplaceAll(known[i], " ", "")
		}
		units = slices.Insert(units, 0, "when lower(replace("+unit+", ' ', '')) in "+d.literals(known)+" then 1")
		if len(units) > 1 {
			units = slices.Insert(units, 1, "when "+unit+" <> '' then 0")
		}
	}
	if cases := slices.Concat(scales, units); len(cases) > 0 {
		return "case " + strings.Join(cases, " ") + " else 0 end", nil
	}
	return "0", nil
}

func bit(s compare.Scale) string {
	if s == compare.Interval {
		return "1"
	}
	return "0"
}

// matches is a condition that a name fits a pattern of the policy; empty where every
// name does.
func (d Dialect) matches(expression, pattern string) (string, error) {
	switch {
	case pattern == "*":
		return "", nil
	case strings.ContainsAny(pattern, `[\`):
		return "", fmt.Errorf("the pattern %q of the policy cannot be stated in SQL, which knows * and ? only; state the scale of each name "+
			"by itself", pattern)
	case !strings.ContainsAny(pattern, "*?"):
		return expression + " = " + d.literal(pattern), nil
	}
	like := strings.NewReplacer("!", "!!", "%", "!%", "_", "!_", "*", "%", "?", "_").Replace(pattern)
	return expression + " like " + d.literal(like) + " escape '!'", nil
}
