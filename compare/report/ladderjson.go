package report

import (
	"io"
	"maps"
	"math"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

// ladderFormat names the JSON form of a ladder. Its schema is
// schema/ladder.schema.json.
const ladderFormat = "tunegate-ladder-1"

type ladderJSON struct {
	Format     string             `json:"format"`
	Profiles   []string           `json:"profiles"`
	Confidence float64            `json:"confidence"`
	Correction compare.Correction `json:"correction"`
	Resamples  int                `json:"resamples"`
	Seed       uint64             `json:"seed"`
	Policy     string             `json:"policy,omitempty"`
	Scores     []string           `json:"scores"`
	LeftOut    []string           `json:"left_out"`
	Steps      []stepJSON         `json:"steps"`
	Total      stepJSON           `json:"total"`
	Product    float64            `json:"product"`
	Gap        *gapJSON           `json:"product_gap"`
	FrontCost  string             `json:"front_cost,omitempty"`
	FrontOf    []string           `json:"front_of"`
	Rungs      []rungJSON         `json:"rungs"`
	Works      []workJSON         `json:"works"`
	SetAside   []excludedRunJSON  `json:"set_aside"`
	Notes      []noteJSON         `json:"notes"`
	Closing    string             `json:"closing"`
	Caution    string             `json:"caution,omitempty"`
}

type gapJSON struct {
	Change    float64    `json:"change"`
	Interval  [2]float64 `json:"interval"`
	Explained bool       `json:"explained"`
}

func newGapJSON(g *ladder.Gap) *gapJSON {
	if g == nil {
		return nil
	}
	return &gapJSON{g.Change, g.Interval, g.Explained()}
}

type stepJSON struct {
	From    string        `json:"from"`
	To      string        `json:"to"`
	Suite   *suiteJSON    `json:"suite"`
	Metrics []*resultJSON `json:"metrics"`
}

type rungJSON struct {
	Profile      string        `json:"profile"`
	Speed        *suiteJSON    `json:"speed"`
	MinutesSaved *float64      `json:"minutes_saved_an_hour"`
	Power        *suiteJSON    `json:"power"`
	Heat         *suiteJSON    `json:"heat"`
	Energy       *suiteJSON    `json:"energy_a_job"`
	Efficiency   *suiteJSON    `json:"work_per_joule"`
	Front        *ladder.Front `json:"front"`
	BeatenBy     []string      `json:"beaten_by"`
}

type workJSON struct {
	Name     string      `json:"name"`
	Mix      bool        `json:"mix"`
	Scores   []string    `json:"scores"`
	Leader   string      `json:"leader"`
	Change   *float64    `json:"change"`
	Interval *[2]float64 `json:"interval"`
	Rivals   []string    `json:"rivals"`
	Settled  bool        `json:"settled"`
	TooFew   int         `json:"takes_at_least,omitempty"`
}

// stepsForAll are the intervals that hold for the metrics of all steps at once, and
// those for their suites, which are a family of their own.
func stepsForAll(l *ladder.Ladder) forAll {
	var steps []*compare.Comparison
	var suites [][]*compare.Measurement
	for _, s := range l.Measured() {
		steps = append(steps, s.Comparison)
		if s.Suite != nil {
			suites = append(suites, []*compare.Measurement{s.Suite.Measurement})
		}
	}
	all := forAllOf(l.Terms, steps...)
	maps.Copy(all, l.Simultaneous(suites...))
	return all
}

// LadderJSON writes a ladder as JSON, with every comparison whole.
func LadderJSON(w io.Writer, p LadderPage) error {
	l := p.Ladder
	all := stepsForAll(l)
	out := ladderJSON{Format: ladderFormat, Profiles: l.Profiles, Confidence: l.Confidence, Correction: l.Correction, Resamples: l.Resamples,
		Seed: l.Seed, Policy: l.Policy, Scores: l.Scores, LeftOut: each(l.LeftOut, withoutRun),
		Steps: each(l.Steps, all.step), Total: all.step(l.Total), Product: l.Product, Gap: newGapJSON(l.Gap),
		FrontCost: l.FrontCost, FrontOf: orEmpty(l.FrontOf), Rungs: each(l.Rungs, newRungJSON), Works: each(l.Works, newWorkJSON),
		SetAside: excludedRunsJSON(l.SetAside), Notes: notesJSON(p.notes()), Closing: LadderClosing(l)}
	out.Caution = caution(ladderHazard(l))
	return encode(w, out)
}

func (all forAll) step(s *ladder.Step) stepJSON {
	return stepJSON{From: s.From, To: s.To, Suite: all.suite(s.Suite), Metrics: each(s.Comparison.Results, all.result)}
}

func newRungJSON(r *ladder.Rung) rungJSON {
	var none forAll // each is judged alone
	out := rungJSON{Profile: r.Profile, Speed: none.suite(r.Speed), Power: none.suite(r.Power), Heat: none.suite(r.Heat),
		Energy: none.suite(r.Energy), Efficiency: none.suite(r.Efficiency), BeatenBy: orEmpty(r.BeatenBy)}
	if r.Front != ladder.NoFront {
		out.Front = &r.Front
	}
	if r.Speed != nil {
		if saved, _ := minutesSaved(r.Speed); !math.IsNaN(saved) {
			out.MinutesSaved = &saved
		}
	}
	return out
}

func newWorkJSON(k *ladder.Work) workJSON {
	out := workJSON{Name: k.Name, Mix: k.Mix, Scores: orEmpty(k.Scores), Leader: k.Leader, Rivals: orEmpty(k.Rivals),
		Settled: k.Settled, TooFew: k.TooFew}
	if k.Gain != nil {
		out.Change, out.Interval = &k.Gain.Change, k.Gain.Interval
	}
	return out
}
