package report

import (
	"io"

	"tunegate/compare"
)

// policyFormat names the JSON form of a policy in force. Its schema is
// schema/policy.schema.json.
const policyFormat = "tunegate-policy-1"

type inForceJSON struct {
	Format   string              `json:"format"`
	Source   string              `json:"source"`
	Settings []settingJSON       `json:"settings"`
	Metrics  []inForceMetricJSON `json:"metrics"`
	Caution  string              `json:"caution,omitempty"`
}

type inForceMetricJSON struct {
	Benchmark string        `json:"benchmark"`
	Metric    string        `json:"metric"`
	Named     bool          `json:"named"`
	Settings  []settingJSON `json:"settings"`
}

type settingJSON struct {
	Key   string `json:"key"`
	Value string `json:"value"`
	From  string `json:"from"`
}

// PolicyJSON writes the policy in force as JSON.
func PolicyJSON(w io.Writer, f InForce) error {
	return encode(w, inForceJSON{
		Format: policyFormat, Source: f.Policy.Source, Settings: settingsJSON(f.whole()), Caution: caution(policyHazard(f)),
		Metrics: each(f.Metrics, func(m compare.Metric) inForceMetricJSON {
			return inForceMetricJSON{Benchmark: m.Benchmark, Metric: m.Metric, Named: m.Named, Settings: settingsJSON(settingsOf(m))}
		}),
	})
}

func settingsJSON(list []setting) []settingJSON {
	return each(list, func(s setting) settingJSON { return settingJSON(s) })
}
