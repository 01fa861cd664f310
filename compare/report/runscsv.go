package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"time"
)

// RunsCSV writes runs as a long CSV that reads back as the same runs.
func RunsCSV(w io.Writer, p RunsPage) error {
	c := csv.NewWriter(w)
	err := c.Write([]string{"profile", "machine", "block", "session", "run", "time", "benchmark", "metric", "unit", "better", "value", "valid",
		"reason", "look"})
	if err != nil {
		return err
	}
	for _, s := range p.Series {
		for i, id := range s.RunIDs() {
			o := &s.Observations[i]
			value, valid, at, look := "", "", "", ""
			if !o.Missing {
				value = strconv.FormatFloat(o.Value, 'f', -1, 64)
			}
			if o.SetAside {
				valid = "no"
			}
			if o.Time != 0 {
				at = time.Unix(0, o.Time).UTC().Format(time.RFC3339Nano)
			}
			if o.Look > 0 {
				look = strconv.Itoa(int(o.Look))
			}
			cells := guarded([]string{Clean(s.Profile), Clean(o.Machine), Clean(o.Block), Clean(o.Session), Clean(id.String()), at,
				Clean(s.Benchmark), Clean(s.Metric), Clean(s.Unit), string(p.better(s)), "", valid, Clean(o.Reason), look})
			cells[10] = value
			if err := c.Write(cells); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// runsFormat names the JSON form of runs. Its schema is schema/runs.schema.json.
const runsFormat = "tunegate-runs-1"

type runsJSON struct {
	Format string    `json:"format"`
	Rows   []runJSON `json:"rows"`
	Notes  []string  `json:"notes"`
}

type runJSON struct {
	Profile   string    `json:"profile"`
	Machine   string    `json:"machine,omitempty"`
	Block     string    `json:"block,omitempty"`
	Session   string    `json:"session,omitempty"`
	Run       string    `json:"run"`
	Benchmark string    `json:"benchmark"`
	Metric    string    `json:"metric"`
	Unit      string    `json:"unit,omitempty"`
	Better    string    `json:"better,omitempty"`
	Value     *float64  `json:"value"`
	Reason    string    `json:"reason,omitempty"`
	At        placeJSON `json:"at"`
}

// RunsJSON writes runs as JSON, a row a value, each with its place.
func RunsJSON(w io.Writer, p RunsPage) error {
	out := runsJSON{Format: runsFormat, Rows: []runJSON{}, Notes: orEmpty(p.Reading)}
	for _, s := range p.Series {
		for i, id := range s.RunIDs() {
			o := &s.Observations[i]
			row := runJSON{Profile: s.Profile, Machine: o.Machine, Block: o.Block, Session: o.Session, Run: id.String(), Benchmark: s.Benchmark,
				Metric: s.Metric, Unit: s.Unit, Better: string(p.better(s)), Reason: o.Reason, At: placeJSON(o.At)}
			if !o.Missing {
				row.Value = &o.Value
			}
			out.Rows = append(out.Rows, row)
		}
	}
	return encode(w, out)
}
