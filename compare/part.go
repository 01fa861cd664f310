package compare

import (
	"encoding/json"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
)

// PartFormat names the JSON form of a part; the number rises when a reader of the
// old form could misread the new one, and when a measurement of the same runs
// comes out differently. Its schema is report/schema/part.schema.json.
const PartFormat = "tunegate-part-1"

// Part is some of a comparison's metrics, measured but not judged: what a
// verdict needs of the others is not known yet. Join judges parts together.
type Part struct {
	Terms Terms `json:"terms"`
	// Share is which of Shares shares of the benchmarks this is, see ShareOf; 0
	// where the runs that were read are the part.
	Share  int `json:"share,omitempty"`
	Shares int `json:"shares,omitempty"`
	Picks
	// Idle are the patterns of options that fit nothing here, as they were
	// given, such as --only "tile-*".
	Idle []string `json:"idle,omitempty"`
	// Readings list the files as they were read: all at once, or by side.
	Readings [][]FileNotes `json:"readings"`
	// Notes are about the profiles that were read.
	Notes      []string                     `json:"notes,omitempty"`
	Conditions map[string]map[string]string `json:"conditions,omitempty"` // by profile
	Metrics    []PartMetric                 `json:"metrics"`

	Name string `json:"-"` // of the file that it was read from
}

// Measured is how many of its metrics are compared.
func (p *Part) Measured() int {
	n := 0
	for i := range p.Metrics {
		if p.Metrics[i].Measured != nil {
			n++
		}
	}
	return n
}

// Terms are what all parts of a comparison have in common.
type Terms struct {
	Program   string `json:"program"` // its version: another one may measure otherwise
	Before    string `json:"before"`
	After     string `json:"after"`
	Resamples int    `json:"resamples"`
	Seed      uint64 `json:"seed"`
	Better    Better `json:"better,omitempty"`
	Look      int    `json:"look,omitempty"`
	Looks     int    `json:"looks,omitempty"`
	Policy    Policy `json:"policy"` // with what options say on top
}

// FileNotes are what reading a file brought up.
type FileNotes struct {
	File  string   `json:"file"`
	Notes []string `json:"notes,omitempty"`
}

// PartMetric is one metric: its runs, and what measuring them gave. A side that
// was not measured is nil; so is the measurement where one side has no valid
// run.
type PartMetric struct {
	Benchmark string       `json:"benchmark"`
	Metric    string       `json:"metric"`
	Before    *PartSeries  `json:"before,omitempty"`
	After     *PartSeries  `json:"after,omitempty"`
	Measured  *Measurement `json:"measured,omitempty"`
	Planned   *Planned     `json:"planned,omitempty"` // of a metric that is judged by itself

	Line int `json:"-"` // where it stands in its file
}

// PartSeries is a Series in columns. Sessions, Blocks and Runs are labels: empty,
// or as many as Values.
type PartSeries struct {
	Profile  string      `json:"profile"` // as its runs name it
	First    Origin      `json:"first"`
	Unit     string      `json:"unit,omitempty"`
	Better   Better      `json:"better,omitempty"`
	WarmUps  int         `json:"warm_ups,omitempty"`
	Values   Readings    `json:"values"` // in run order
	Sessions []string    `json:"sessions,omitempty"`
	Blocks   []string    `json:"blocks,omitempty"`
	Runs     []string    `json:"runs,omitempty"`
	SetAside []PartAside `json:"set_aside,omitempty"`
	Checked  *Checked    `json:"checked,omitempty"` // nil where nothing was compared
}

// PartAside is a run that does not count: Value is its index in the columns.
type PartAside struct {
	Value  int    `json:"value"`
	Run    string `json:"run"`
	Reason string `json:"reason"`
	At     string `json:"at,omitempty"`
}

// Readings are values of which some may be missing: NaN, and null in JSON.
type Readings []float64

// MarshalJSON writes each value in the fewest digits that read back the same.
func (r Readings) MarshalJSON() ([]byte, error) {
	cells := make([]*float64, len(r))
	for i := range r {
		cells[i] = finite(r[i])
	}
	return json.Marshal(cells)
}

// UnmarshalJSON reads what MarshalJSON writes.
func (r *Readings) UnmarshalJSON(data []byte) error {
	var cells []*float64
	if err := json.Unmarshal(data, &cells); err != nil {
		return err
	}
	*r = make(Readings, len(cells))
	for i, v := range cells {
		(*r)[i] = math.NaN()
		if v != nil {
			(*r)[i] = *v
		}
	}
	return nil
}

// Measurement is what measuring a metric gives, whatever it is judged with; see
// Result.
type Measurement struct {
	Change         float64     `json:"change"`
	Shift          float64     `json:"shift"`             // the change, as compared
	Widened        float64     `json:"widened,omitempty"` // by how much coarse readings moved the ends, as compared
	Interval       *[2]float64 `json:"interval,omitempty"`
	IntervalMethod string      `json:"interval_method,omitempty"`
	Range          *[2]float64 `json:"range,omitempty"`
	RangeLevel     float64     `json:"range_level,omitempty"`
	TimeSaved      *float64    `json:"time_saved,omitempty"`
	Test           string      `json:"test"`
	U              *float64    `json:"u,omitempty"`
	W              *float64    `json:"w,omitempty"`
	T              *float64    `json:"t,omitempty"`
	P              float64     `json:"p"`
	PVerdict       float64     `json:"p_verdict"`
	PFloor         float64     `json:"p_floor"`
	Method         string      `json:"method"`
	Superiority    float64     `json:"superiority"`
	Replication    Replication `json:"unit_of_replication"`
	Replicates     [2]int      `json:"replicates"`
	Tick           float64     `json:"tick,omitempty"`
}

// Planned is what planning gave for a metric that is not corrected for others,
// and so needs to know nothing of them; see Result.
type Planned struct {
	BlindSpot *float64 `json:"blind_spot,omitempty"`
	Needed    *int     `json:"needed,omitempty"`
	NeededFor *float64 `json:"needed_for,omitempty"`
}

// judgedAlone reports whether a metric is not corrected for others.
func (c *Comparison) judgedAlone(r *Result) bool {
	return c.Correction == NoCorrection || !r.inFamily()
}

func (r *Result) measurement() *Measurement {
	return &Measurement{r.Change, r.shift, r.widened, r.Interval, r.IntervalMethod, r.Range, r.RangeLevel, r.TimeSaved,
		r.Test, r.U, r.W, r.T, r.P, r.PVerdict, r.PFloor, r.Method, r.Superiority, r.Replication, r.Replicates, r.Tick}
}

// take is measure with what measuring gave elsewhere.
func (r *Result) take(m *Measurement) {
	r.Change, r.shift, r.widened, r.Interval, r.IntervalMethod, r.Range, r.RangeLevel, r.TimeSaved = m.Change, m.Shift, m.Widened, m.Interval, m.IntervalMethod, m.Range, m.RangeLevel, m.TimeSaved
	r.Test, r.U, r.W, r.T, r.P, r.PVerdict, r.PFloor, r.Method = m.Test, m.U, m.W, m.T, m.P, m.PVerdict, m.PFloor, m.Method
	r.Superiority, r.Replication, r.Replicates, r.Tick = m.Superiority, m.Replication, m.Replicates, m.Tick
}

// ShareOf is which of so many shares, counted from 1, a benchmark belongs to. It
// follows from the name alone, so that every machine knows it.
func ShareOf(benchmark string, shares int) int {
	h := fnv.New64a()
	h.Write([]byte(benchmark)) // it cannot fail
	return 1 + int(h.Sum64()%uint64(shares))
}

// Measure does of a comparison what does not depend on the other metrics. The
// arguments are Compare's; the part's share and picks, its readings and its
// notes are the caller's to fill in.
func Measure(before, after []*Series, names [2]string, policy Policy, opt Options) (*Part, error) {
	c := newComparison(names, policy, opt)
	p := &Part{Terms: Terms{Before: c.Before, After: c.After, Resamples: c.Resamples, Seed: c.Seed, Better: opt.Better, Policy: policy}, Metrics: []PartMetric{}, Readings: [][]FileNotes{}}
	t := &p.Terms
	t.Policy.Sensors = nil // they are of logs
	t.Policy.Confidence, t.Policy.Correction = c.Confidence, c.Correction
	if opt.Looks > 1 {
		t.Look, t.Looks, t.Policy.Confidence = c.Look, c.Looks, c.Overall
	}
	for _, o := range policy.Overrides {
		if policy.only(o).CheckOverrides(slices.Concat(before, after)...) != nil {
			p.Idle = append(p.Idle, idleTolerance(o))
		}
	}
	if err := c.pair(before, after, policy, opt); err != nil {
		return nil, err
	}
	var alone []*Result
	for _, r := range c.Results {
		if c.judgedAlone(r) {
			alone = append(alone, r)
		}
	}
	c.progress = newProgress(len(c.Results)+len(alone)+1, opt.Progress)
	c.measure()
	rule{c.Correction, c.Confidence, policy, c.progress}.alone().settle(alone, 0)
	checked, err := c.check(before, after, policy, opt)
	if err != nil {
		return nil, err
	}
	c.progress.step()
	at := map[[2]string]int{}
	metric := func(s *Series) *PartMetric {
		k := [2]string{s.Benchmark, s.Metric}
		i, ok := at[k]
		if !ok {
			i = len(p.Metrics)
			at[k] = i
			p.Metrics = append(p.Metrics, PartMetric{Benchmark: s.Benchmark, Metric: s.Metric})
		}
		return &p.Metrics[i]
	}
	for _, s := range before {
		if opt.wants(s.Benchmark, s.Metric) {
			metric(s).Before = partOf(s)
		}
	}
	for _, s := range after {
		if opt.wants(s.Benchmark, s.Metric) {
			metric(s).After = partOf(s)
		}
	}
	for _, r := range c.Results {
		m := &p.Metrics[at[[2]string{r.Benchmark, r.Metric.Metric}]]
		m.Measured = r.measurement()
		if c.judgedAlone(r) {
			m.Planned = &Planned{r.BlindSpot, r.Needed, r.NeededFor}
		}
	}
	for i := range checked { // those of before, then those of after
		m := p.Metrics[at[[2]string{checked[i].metric.Benchmark, checked[i].metric.Metric}]]
		side := m.Before
		if i >= len(c.Results) {
			side = m.After
		}
		side.Checked = &checked[i]
	}
	return p, nil
}

// partOf puts a series in columns.
func partOf(s *Series) *PartSeries {
	p := &PartSeries{Profile: s.Profile, First: s.first, Unit: s.Unit, Better: s.Better, WarmUps: s.WarmUps, SetAside: s.asides(), Values: make(Readings, len(s.Observations))}
	for i := range s.Observations {
		o := &s.Observations[i]
		p.Values[i] = o.Value
		if o.Missing {
			p.Values[i] = math.NaN()
		}
	}
	column := func(of func(*Observation) string) (labels []string) {
		for i := range s.Observations {
			if label := of(&s.Observations[i]); label != "" {
				if labels == nil {
					labels = make([]string, len(s.Observations))
				}
				labels[i] = label
			}
		}
		return labels
	}
	p.Sessions = column(func(o *Observation) string { return o.Session })
	p.Blocks = column(func(o *Observation) string { return o.Block })
	p.Runs = column(func(o *Observation) string { return o.Run })
	return p
}

func idleTolerance(o Override) string { return fmt.Sprintf("--tolerance %q", o.Name) }

// only is the policy with a single override.
func (p Policy) only(o Override) Policy {
	p.Overrides = []Override{o}
	return p
}
