package report

import (
	"io"

	"tunegate/compare"
	"tunegate/compare/advice"
)

// rerunsFormat names the JSON form of a plan of further runs. Its schema is
// schema/reruns.schema.json.
const rerunsFormat = "tunegate-reruns-1"

type rerunsJSON struct {
	Format     string             `json:"format"`
	Profiles   []string           `json:"profiles"`
	Confidence float64            `json:"confidence"`
	Correction compare.Correction `json:"correction"`
	Power      float64            `json:"power"`
	Scores     int                `json:"scores"`
	CriticalP  float64            `json:"bar"`
	Metrics    []planJSON         `json:"metrics"`
	Overall    float64            `json:"confidence_of_both_looks,omitempty"`
	Next       *nextJSON          `json:"next"`
	Closing    string             `json:"closing"`
}

// nextJSON is what to run next of what decides and is open.
type nextJSON struct {
	Settled int                 `json:"settled"`
	Look    int                 `json:"look"`
	Unit    compare.Replication `json:"unit_of_replication"`
	Open    []openJSON          `json:"open"`
	Choices []choiceJSON        `json:"choices"`
}

type openJSON struct {
	Benchmark  string          `json:"benchmark"`
	Metric     string          `json:"metric"`
	Verdict    compare.Verdict `json:"verdict"`
	Change     float64         `json:"change"`
	Planned    bool            `json:"planned"`
	Alone      int             `json:"alone"`
	AloneHours float64         `json:"alone_hours,omitempty"`
}

type choiceJSON struct {
	Hours    float64        `json:"hours,omitempty"`
	Sessions int            `json:"sessions"`
	Runs     int            `json:"runs_per_session"`
	Takes    float64        `json:"takes_hours,omitempty"`
	More     map[string]int `json:"sessions_of"`
	Chances  []float64      `json:"chances"`
	Expected float64        `json:"expected"`
}

func newNextJSON(n *advice.Next) *nextJSON {
	if n == nil {
		return nil
	}
	out := &nextJSON{Settled: n.Settled, Look: n.Look, Unit: n.Unit, Open: []openJSON{}, Choices: []choiceJSON{}}
	for _, o := range n.Open {
		out.Open = append(out.Open, openJSON{o.Benchmark, o.Metric.Metric, *o.Verdict, o.Change, o.Planned, o.Alone, o.AloneHours})
	}
	for _, c := range n.Choices {
		out.Choices = append(out.Choices, choiceJSON{c.Budget.Hours, c.Sessions, c.Runs, c.Hours, c.More, c.Chances, c.Expected})
	}
	return out
}

type planJSON struct {
	Benchmark      string              `json:"benchmark"`
	Metric         string              `json:"metric"`
	Unit           string              `json:"unit"`
	Scale          compare.Scale       `json:"scale"`
	Replication    compare.Replication `json:"unit_of_replication"`
	Pilot          [2]int              `json:"pilot"`
	Spread         float64             `json:"spread"`
	MinSize        int                 `json:"floor"`
	WantedRuns     int                 `json:"fewest_runs,omitempty"`
	WantedSessions int                 `json:"fewest_sessions,omitempty"`
	See            *planSizeJSON       `json:"see"`
	SeeFrom        string              `json:"see_from"`
	Precise        *planSizeJSON       `json:"precise"`
	Noether        int                 `json:"noether,omitempty"`
	BlindSpot      *float64            `json:"blind_spot"`
	Between        float64             `json:"between_sessions"`
	Within         float64             `json:"within_sessions"`
	BestRuns       float64             `json:"best_runs_per_session,omitempty"`
	Schedules      []scheduleJSON      `json:"schedules"`
}

type planSizeJSON struct {
	For float64 `json:"for"`
	N   int     `json:"n"`
	Min int     `json:"least"`
	Max int     `json:"most"`
}

type scheduleJSON struct {
	RunsPerSession int     `json:"runs_per_session"`
	Sessions       int     `json:"sessions"`
	Minutes        float64 `json:"minutes,omitempty"`
	Cheapest       bool    `json:"cheapest,omitempty"`
}

// RerunsJSON writes how often to run as JSON.
func RerunsJSON(w io.Writer, p RerunsPage) error {
	closing := rerunsClosing(p)
	if p.Next != nil {
		closing = nextClosing(p)
	}
	return encode(w, rerunsJSON{
		Format: rerunsFormat, Profiles: orEmpty(p.Profiles), Confidence: p.Confidence, Correction: p.Correction, Power: p.Power,
		Scores: p.Scores, CriticalP: p.CriticalP, Closing: closing, Overall: p.Overall, Next: newNextJSON(p.Next),
		Metrics: each(p.Metrics, p.Commands.newPlanJSON),
	})
}

// newPlanJSON names the option where the change to be seen was stated.
func (c Commands) newPlanJSON(m *advice.Plan) planJSON {
	from := string(m.SeeFrom)
	if m.SeeFrom == advice.SeeStated {
		from = c.ChangeOption
	}
	return planJSON{
		Benchmark: m.Benchmark, Metric: m.Metric.Metric, Unit: m.Unit, Scale: m.Scale, Replication: m.Replication, Pilot: m.Replicates,
		Spread: m.Spread, MinSize: m.MinSize, WantedRuns: m.WantedRuns, WantedSessions: m.WantedSessions,
		See: newPlanSizeJSON(m.See), SeeFrom: from, Precise: newPlanSizeJSON(m.Precise), Noether: m.Noether, BlindSpot: m.BlindSpot,
		Between: m.Between, Within: m.WithinSd, BestRuns: m.BestRuns,
		Schedules: each(m.Schedules, func(s advice.Schedule) scheduleJSON { return scheduleJSON(s) }),
	}
}

func newPlanSizeJSON(s *advice.Size) *planSizeJSON {
	if s == nil {
		return nil
	}
	out := planSizeJSON(*s)
	return &out
}
