package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/readings"
	"tunegate/compare/report/doc"
)

// InForce is a policy with the metrics it was resolved for.
type InForce struct {
	Policy   compare.Policy
	Readings *readings.Rules // for monitoring logs; nil where the policy states none
	Stated   map[string]bool // the keys that the policy states, a number at its default too
	Metrics  []compare.Metric
}

// setting is one value in force, and where it comes from.
type setting struct{ Key, Value, From string }

// whole lists what holds for a comparison as a whole.
func (f InForce) whole() []setting {
	from := func(stated bool) string {
		if stated && f.Policy.Source != "" {
			return f.Policy.Source
		}
		return "default"
	}
	p := f.Policy
	confidence, correction, burden, spot := p.Confidence, p.Correction, p.Burden, "no demand"
	if confidence == 0 {
		confidence = compare.DefaultConfidence
	}
	if correction == "" {
		correction = compare.JointCorrection
	}
	if burden == "" {
		burden = compare.Harm
	}
	suite, stated := "0.5 %", p.SuiteTolerance != nil
	if stated {
		suite = compare.Decimal(*p.SuiteTolerance, 12) + " %"
	}
	if p.WidestBlindSpot != nil {
		spot = compare.Decimal(*p.WidestBlindSpot, 12) + " %"
	}
	out := []setting{
		{"confidence", confidencePercent(confidence) + " %", from(p.Confidence != 0)},
		{"correction", string(correction), from(p.Correction != "")},
		{"burden", string(burden), from(p.Burden != "")},
		{"fewest-runs", fmt.Sprint(p.FewestRuns), from(f.Stated["fewest-runs"])},
		{"fewest-sessions", fmt.Sprint(p.FewestSessions), from(f.Stated["fewest-sessions"])},
		{"set-aside-allowed", fmt.Sprint(p.SetAsideAllowed), from(f.Stated["set-aside-allowed"])},
		{"removed", string(cmp.Or(p.Removed, compare.RemovalReview)), from(p.Removed != "")},
		{"widest-blind-spot", spot, from(p.WidestBlindSpot != nil)},
		{"suite-tolerance", suite, from(stated)},
		{"suite-decides", fmt.Sprint(p.DoesSuiteDecide()), from(p.SuiteDecides != nil)},
	}
	for _, m := range []struct {
		key   string
		value float64
	}{{"run-minutes", p.Bench.Run}, {"session-minutes", p.Bench.Session}} {
		if m.value > 0 {
			out = append(out, setting{m.key, compare.Decimal(m.value, 12) + " min", from(true)})
		}
	}
	if f.Readings != nil {
		out = append(out, setting{"readings", "stated, for monitoring logs", from(true)})
	}
	return out
}

// settingsOf lists what is in force for one metric.
func settingsOf(m compare.Metric) []setting {
	sized := func(v *float64, none string) string {
		if v == nil {
			return none
		}
		if m.Scale == compare.Ratio {
			return compare.Decimal(100**v, 6) + " %"
		}
		return withUnit(*v, m.Unit)
	}
	limit := "none"
	if m.Cap != nil {
		limit = withUnit(*m.Cap, m.Unit)
	}
	values := map[string]string{"unit": m.Unit, "better": string(m.Better), "scale": string(m.Scale), "role": string(m.Role),
		"tolerance": sized(m.Tolerance, "none"), "cap": limit, "weight": compare.Decimal(m.Weight, 12), "class": m.Class,
		"required": fmt.Sprint(m.Required), "widest-blind-spot": sized(m.WidestBlindSpot, "no demand")}
	var out []setting
	for _, key := range []string{"role", "unit", "better", "scale", "tolerance", "cap", "weight", "class", "required", "widest-blind-spot"} {
		from := m.Sources[key]
		if from == "" {
			from = "default"
		}
		value := strings.TrimSpace(values[key])
		if value == "" {
			value = "none"
		}
		out = append(out, setting{key, trimZeros(value), from})
	}
	return out
}

// trimZeros writes "0.500000 %" as "0.5 %".
func trimZeros(s string) string {
	number, rest, _ := strings.Cut(s, " ")
	if strings.Contains(number, ".") {
		number = strings.TrimSuffix(strings.TrimRight(number, "0"), ".")
	}
	return strings.TrimSpace(number + " " + rest)
}

// PolicyDocument is the policy in force: what holds for all, then for each metric;
// metrics for which the same holds share a table.
func PolicyDocument(f InForce) doc.Document {
	heading := "In force: no policy: the defaults"
	if f.Policy.Source != "" {
		heading = "In force: " + f.Policy.Source
	}
	whole := settingsTable(f.whole())
	whole.Label = "what holds for a comparison as a whole"
	blocks := []doc.Block{whole}
	for _, same := range groupsOf(f.Metrics, func(m compare.Metric) string { return fmt.Sprint(settingsOf(m), m.Named) }) {
		names := each(same, func(m compare.Metric) string {
			if !m.Named {
				return m.Name() + " (not named by the policy: shown, not judged)"
			}
			return m.Name()
		})
		slices.Sort(names)
		t := settingsTable(settingsOf(same[0]))
		t.Title = strings.Join(names, ", ")
		blocks = append(blocks, t)
	}
	return doc.Document{Heading: doc.Line{Text: heading, Tone: doc.Strong}, Sections: []doc.Section{{Kind: doc.Numbers, Blocks: blocks}},
		Caution: caution(policyHazard(f)), Page: doc.Head{Headline: heading}}
}

func settingsTable(list []setting) doc.Table {
	t := doc.Table{Head: []string{"setting", "value", "stated in"}, Headless: true}
	for _, s := range list {
		row := textCells(s.Key, s.Value, s.From)
		row[2].Tone = doc.Faint
		t.Rows = append(t.Rows, row)
	}
	return t
}
