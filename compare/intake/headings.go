package intake

import (
	"fmt"

	"tunegate/compare"
)

// Headings reads metrics written as the headers of a wide CSV are, such as
// "tile-render [s]" and "tile-render power [W]".
func Headings(texts []string) ([]compare.Metric, error) {
	headings := make([]heading, len(texts))
	names := map[string]bool{}
	for i, text := range texts {
		h, err := parseHeading(text)
		if err != nil {
			return nil, err
		}
		if err := checkName(h.name); err != nil {
			return nil, fmt.Errorf("%q: %w", text, err)
		}
		headings[i] = h
		names[h.name] = true
	}
	var out []compare.Metric
	for i, h := range headings {
		benchmark, metric, err := metricOf(h.name, names)
		if err != nil {
			return nil, err
		}
		if metric == "" {
			metric = compare.DefaultMetric
		}
		m := compare.Metric{Benchmark: benchmark, Metric: metric, Unit: h.unit, Better: h.better}
		for _, other := range out {
			if other.Benchmark == m.Benchmark && other.Metric == m.Metric {
				return nil, fmt.Errorf("%q names the same metric as one before it", texts[i])
			}
		}
		out = append(out, m)
	}
	return out, nil
}
