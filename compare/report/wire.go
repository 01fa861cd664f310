package report

import "tunegate/compare"

// The JSON forms of what all commands share. They are apart from the domain's
// types, so that a field there can be renamed without breaking a reader.

type noteJSON struct {
	Kind string `json:"kind"`
	Text string `json:"text"`
}

func notesJSON(notes []Note) []noteJSON {
	return each(notes, func(n Note) noteJSON { return noteJSON(n) })
}

type excludedRunJSON struct {
	Profile   string `json:"profile"`
	Benchmark string `json:"benchmark"`
	Machine   string `json:"machine,omitempty"`
	Session   string `json:"session,omitempty"`
	Run       string `json:"run,omitempty"`
	Reason    string `json:"reason"`
	At        string `json:"at,omitempty"`
}

func excludedRunsJSON(runs []compare.ExcludedRun) []excludedRunJSON {
	return each(runs, func(r compare.ExcludedRun) excludedRunJSON { return excludedRunJSON(r) })
}

type metricJSON struct {
	Benchmark       string         `json:"benchmark"`
	Metric          string         `json:"metric"`
	Unit            string         `json:"unit"`
	Better          compare.Better `json:"better,omitempty"`
	Scale           compare.Scale  `json:"scale"`
	Role            compare.Role   `json:"role"`
	Tolerance       *float64       `json:"tolerance"`
	ToleranceFrom   string         `json:"tolerance_from,omitempty"`
	Weight          float64        `json:"weight"`
	Cap             *float64       `json:"cap,omitempty"`
	Class           string         `json:"class,omitempty"`
	Required        bool           `json:"required,omitempty"`
	WidestBlindSpot *float64       `json:"widest_blind_spot,omitempty"`
	Named           bool           `json:"named"`
}

func newMetricJSON(m compare.Metric) metricJSON {
	return metricJSON{Benchmark: m.Benchmark, Metric: m.Metric, Unit: m.Unit, Better: m.Better, Scale: m.Scale, Role: m.Role,
		Tolerance: m.Tolerance, ToleranceFrom: m.ToleranceFrom, Weight: m.Weight, Cap: m.Cap, Class: m.Class, Required: m.Required,
		WidestBlindSpot: m.WidestBlindSpot, Named: m.Named}
}

type sideJSON struct {
	Runs     int     `json:"runs"`
	Sessions int     `json:"sessions"`
	SetAside int     `json:"set_aside"`
	NotRun   int     `json:"not_run"`
	WarmUps  int     `json:"warm_ups"`
	Median   float64 `json:"median"`
	Mean     float64 `json:"mean"`
	StdDev   float64 `json:"std_dev"`
	Min      float64 `json:"min"`
	Max      float64 `json:"max"`
}

type resultJSON struct {
	metricJSON
	Before          sideJSON            `json:"before"`
	After           sideJSON            `json:"after"`
	Change          float64             `json:"change"`
	Interval        *[2]float64         `json:"interval"`
	IntervalMethod  string              `json:"interval_method,omitempty"`
	IntervalForAll  *[2]float64         `json:"interval_for_all"`
	Range           *[2]float64         `json:"range"`
	RangeConfidence float64             `json:"range_confidence,omitempty"`
	TimeSaved       *float64            `json:"time_saved"`
	Test            string              `json:"test"`
	U               *float64            `json:"u"`
	W               *float64            `json:"w"`
	T               *float64            `json:"t"`
	P               float64             `json:"p"`
	PUsed           float64             `json:"p_verdict"`
	PAdjusted       float64             `json:"p_adjusted"`
	MinP            float64             `json:"p_floor"`
	Method          string              `json:"method"`
	Superiority     float64             `json:"superiority"`
	Replication     compare.Replication `json:"unit_of_replication"`
	Replicates      [2]int              `json:"replicates"`
	Real            bool                `json:"real"`
	Verdict         *compare.Verdict    `json:"verdict"`
	Decides         bool                `json:"decides"`
	CanSettle       bool                `json:"can_settle"`
	MinSampleSize   int                 `json:"floor_size"`
	MaxConfidence   float64             `json:"settles_at_confidence"`
	BlindSpot       *float64            `json:"blind_spot"`
	Needs           []needJSON          `json:"needs"`
	Resolution      float64             `json:"tick,omitempty"`
	UncorrectedOnly bool                `json:"real_alone_only,omitempty"`
	Notes           []noteJSON          `json:"notes"`
}

// needJSON is how many values it takes to answer a question.
type needJSON struct {
	Question compare.Question `json:"question"`
	For      float64          `json:"for"`
	Size     int              `json:"size"`
	Hours    float64          `json:"hours,omitempty"`
}

func newNeedJSON(n compare.Need) needJSON { return needJSON{n.Question, n.Change, n.Size, n.Hours} }

// minutesJSON is what a run and a session take.
type minutesJSON struct {
	Run         float64             `json:"run,omitempty"`
	RunFrom     compare.MinutesFrom `json:"run_from,omitempty"`
	Session     float64             `json:"session,omitempty"`
	SessionFrom compare.MinutesFrom `json:"session_from,omitempty"`
}

func newMinutesJSON(m compare.Minutes) minutesJSON {
	return minutesJSON{m.Run, m.RunFrom, m.Session, m.SessionFrom}
}

// forAll are intervals that hold for a whole family at once, see
// compare.Terms.Simultaneous.
type forAll map[*compare.Measurement]*[2]float64

// forAllOf are those of comparisons that are judged together.
func forAllOf(terms compare.Terms, together ...*compare.Comparison) forAll {
	families := make([][]*compare.Measurement, len(together))
	for i, c := range together {
		for _, r := range c.Judged() {
			if r.InFamily() {
				families[i] = append(families[i], r.Measurement)
			}
		}
	}
	return terms.Simultaneous(families...)
}

func (all forAll) result(r *compare.Result) *resultJSON {
	if r == nil {
		return nil
	}
	out := &resultJSON{metricJSON: newMetricJSON(r.Metric), Before: sideJSON(r.Before.Side), After: sideJSON(r.After.Side),
		Change: r.Change, TimeSaved: r.TimeSaved,
		Interval: r.Interval, IntervalMethod: r.IntervalMethod, IntervalForAll: all[r.Measurement],
		Range: r.Range, RangeConfidence: r.RangeConfidence,
		Test: r.Test, P: r.P, PUsed: r.PUsed, PAdjusted: r.PAdjusted, MinP: r.MinP, Method: r.Method, Superiority: r.Superiority,
		Replication: r.Replication, Replicates: r.Replicates, Real: r.Real, Verdict: r.Verdict, Decides: r.Decides,
		CanSettle: r.CanSettle, MinSampleSize: r.MinSampleSize, MaxConfidence: r.MaxConfidence, BlindSpot: r.BlindSpot,
		Needs: each(r.Needs, newNeedJSON), Resolution: r.Resolution, UncorrectedOnly: r.UncorrectedOnly,
		Notes: notesJSON(each(r.Notes, ComparisonNote))}
	switch r.Test {
	case compare.TestMannWhitney:
		out.U = &r.Statistic
	case compare.TestSignedRank:
		out.W = &r.Statistic
	case compare.TestStudent:
		out.T = &r.Statistic
	}
	return out
}

type suiteJSON struct {
	Scores     []string        `json:"scores"`
	Weights    []float64       `json:"weights"`
	LeftOut    []string        `json:"left_out"`
	Pooling    compare.Pooling `json:"basis"`
	Arithmetic float64         `json:"arithmetic_mean"`
	*resultJSON
}

func (all forAll) suite(s *compare.Suite) *suiteJSON {
	if s == nil {
		return nil
	}
	return &suiteJSON{s.Scores, s.Weights, each(s.LeftOut, omissionText), s.Pooling, s.Arithmetic, all.result(s.Result)}
}

type comparisonJSON struct {
	Format     string             `json:"format"`
	Before     string             `json:"before"`
	After      string             `json:"after"`
	Confidence float64            `json:"confidence"`
	Correction compare.Correction `json:"correction"`
	Resamples  int                `json:"resamples"`
	Seed       uint64             `json:"seed"`
	Policy     string             `json:"policy,omitempty"`
	Look       int                `json:"look,omitempty"`
	Overall    float64            `json:"overall_confidence,omitempty"`
	Family     familyJSON         `json:"family"`
	Absent     []string           `json:"absent"`
	OnlyBefore []string           `json:"only_before"`
	OnlyAfter  []string           `json:"only_after"`
	SetAside   []excludedRunJSON  `json:"set_aside"`
	Minutes    minutesJSON        `json:"minutes"`
	Results    []*resultJSON      `json:"metrics"`
	Suite      *suiteJSON         `json:"suite"`
	Classes    []*suiteJSON       `json:"classes"`
	Notes      []noteJSON         `json:"notes"`
	Closing    string             `json:"closing"`
	Caution    string             `json:"caution,omitempty"`
	ExitStatus int                `json:"exit_status"`
}

func (all forAll) comparison(p ComparisonPage, status int) *comparisonJSON {
	c := p.Comparison
	out := &comparisonJSON{Format: comparisonFormat, Before: c.Before, After: c.After, Confidence: c.Confidence, Correction: c.Correction,
		Resamples: c.Resamples, Seed: c.Seed, Policy: c.Policy, Look: c.Look, Overall: c.Overall, Family: familyJSON{c.Family.Scores,
			c.Family.Costs, c.Family.Suites},
		Absent: orEmpty(c.Absent), OnlyBefore: onlyOn("before", c.Unpaired), OnlyAfter: onlyOn("after", c.Unpaired),
		SetAside: excludedRunsJSON(c.SetAside), Minutes: newMinutesJSON(c.Minutes),
		Results: each(c.Results, all.result), Suite: all.suite(c.Suite), Classes: each(c.Classes, all.suite),
		Notes: notesJSON(p.notes()), Closing: Closing(c), ExitStatus: status}
	out.Caution = caution(comparisonHazard(c))
	return out
}

// familyJSON counts what is corrected together.
type familyJSON struct {
	Scores int `json:"scores"`
	Costs  int `json:"costs"`
	Suites int `json:"suites"`
}
