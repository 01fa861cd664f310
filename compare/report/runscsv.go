package report

import (
	"io"
	"strconv"
	"time"

	"tunegate/compare/report/table"
)

// RunsCSV writes runs as a long CSV that reads back as the same runs.
func RunsCSV(w io.Writer, p RunsPage, as table.Separation) error {
	out := table.NewWriter(w, as)
	out.Texts("profile", "machine", "block", "session", "run", "time", "benchmark", "metric", "unit", "better", "value", "valid", "reason", "look")
	for _, s := range p.Series {
		for i, id := range s.RunIDs() {
			o := s.At(i)
			var value table.Cell
			valid, at, look := "", "", ""
			if !o.Missing {
				value = table.Num(o.Value, table.Format{Exact: true})
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
			var row []table.Cell
			for _, text := range []string{s.Profile, o.Machine, o.Block, o.Session, id.String(), at, s.Benchmark, s.Metric, s.Unit,
				string(p.better(s))} {
				row = append(row, table.Text(text))
			}
			out.Row(append(row, value, table.Text(valid), table.Text(o.Reason), table.Text(look))...)
		}
	}
	return out.Close()
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
			o := s.At(i)
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
