package report

import (
	"io"
	"time"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/history"
)

// historyFormat names the JSON form of a history. Its schema is
// schema/history.schema.json.
const historyFormat = "tunegate-history-1"

type historyJSON struct {
	Format     string             `json:"format"`
	Profile    string             `json:"profile"`
	Head       string             `json:"head"`
	Commits    int                `json:"commits"`
	Earlier    bool               `json:"earlier"`
	Missing    string             `json:"missing,omitempty"`
	Confidence float64            `json:"confidence"`
	Correction compare.Correction `json:"correction"`
	Resamples  int                `json:"resamples"`
	Seed       uint64             `json:"seed"`
	Policy     string             `json:"policy,omitempty"`
	Family     int                `json:"family"`
	Points     []pointJSON        `json:"points"`
	Tracks     []trackJSON        `json:"tracks"`
	Worse      []string           `json:"worse"`
	Notes      []noteJSON         `json:"notes"`
	Closing    string             `json:"closing"`
	Caution    string             `json:"caution,omitempty"`
}

type pointJSON struct {
	Commit     string         `json:"commit"`
	Time       *time.Time     `json:"time"`
	Subject    string         `json:"subject"`
	Added      int            `json:"added"`
	SetAside   int            `json:"set_aside"`
	Restored   int            `json:"restored"`
	Withdrawn  int            `json:"withdrawn"`
	New        bool           `json:"new"`
	Removed    bool           `json:"removed"`
	Inherited  bool           `json:"inherited"`
	Settings   []string       `json:"settings"`
	Conditions []string       `json:"conditions"`
	Gate       *pointGateJSON `json:"gate"`
}

type pointGateJSON struct {
	Outcome *gate.Outcome `json:"outcome"`
	Reasons []reasonJSON  `json:"reasons"`
	Wrong   string        `json:"wrong,omitempty"`
}

type trackJSON struct {
	metricJSON
	Parts     []string        `json:"parts"`
	Searched  bool            `json:"searched"`
	CanFind   bool            `json:"can_find"`
	Z         float64         `json:"z"`
	P         float64         `json:"p"`
	PAdjusted float64         `json:"p_adjusted"`
	Exact     bool            `json:"exact"`
	Among     int             `json:"among"`
	Measured  []*measuredJSON `json:"measured"`
	Shifts    []shiftJSON     `json:"shifts"`
}

type measuredJSON struct {
	Values   []float64   `json:"values"`
	Median   float64     `json:"median"`
	Runs     int         `json:"runs"`
	Sessions int         `json:"sessions"`
	Since    *changeSize `json:"since_first"`
}

// changeSize is a change with how well it is known.
type changeSize struct {
	Change          float64     `json:"change"`
	Interval        *[2]float64 `json:"interval"`
	Range           *[2]float64 `json:"range"`
	RangeConfidence float64     `json:"range_confidence,omitempty"`
	Replicates      [2]int      `json:"replicates"`
}

type shiftJSON struct {
	Last       int              `json:"last"`
	First      int              `json:"first"`
	From       int              `json:"from"`
	To         int              `json:"to"`
	P          float64          `json:"p"`
	FoundAt    float64          `json:"found_at"`
	Before     float64          `json:"before"`
	After      float64          `json:"after"`
	Verdict    *compare.Verdict `json:"verdict"`
	Settings   []string         `json:"settings"`
	Conditions []string         `json:"conditions"`
	changeSize
}

func sizeOf(r *compare.Result) changeSize {
	return changeSize{r.Change, r.Interval, r.Range, r.RangeConfidence, r.Replicates}
}

// HistoryJSON writes a history at full precision.
func HistoryJSON(w io.Writer, h HistoryPage) error {
	out := historyJSON{Format: historyFormat, Profile: h.Profile, Head: h.Head, Commits: h.Commits, Earlier: h.Earlier, Missing: h.Missing,
		Confidence: h.Confidence, Correction: h.Correction, Resamples: h.Resamples, Seed: h.Seed, Policy: h.Policy, Family: h.Family,
		Points: []pointJSON{}, Tracks: []trackJSON{}, Worse: each(h.Worse(), (*history.Track).Name),
		Notes: notesJSON(each(h.Notes, historyNote)), Closing: historyClosing(h, commitWords)}
	for _, p := range h.Points {
		v := pointJSON{Commit: p.Commit, Subject: p.Subject, New: p.New, Removed: p.Removed, Inherited: p.Inherited,
			Added: p.Added, SetAside: p.SetAside, Restored: p.Restored, Withdrawn: p.Withdrawn,
			Settings: each(p.Settings, settingText), Conditions: each(p.Conditions, settingText)}
		if !p.Time.IsZero() {
			v.Time = &p.Time
		}
		if p.Gate != nil {
			v.Gate = &pointGateJSON{Reasons: each(p.Gate.Reasons, Commands{}.reasonJSON)}
			if p.Gate.Wrong != nil {
				v.Gate.Wrong = h.Commands.Explain(p.Gate.Wrong)
			}
			if p.Gate.Outcome != "" {
				v.Gate.Outcome = &p.Gate.Outcome
			}
		}
		out.Points = append(out.Points, v)
	}
	for _, t := range h.Tracks {
		v := trackJSON{metricJSON: newMetricJSON(t.Metric), Parts: orEmpty(t.Parts), Searched: t.Searched, CanFind: t.CanFind,
			Z: t.Z, P: t.P, PAdjusted: t.PAdjusted, Exact: t.Exact, Among: t.Among, Measured: []*measuredJSON{}, Shifts: []shiftJSON{}}
		for _, m := range t.Measured {
			if m == nil {
				v.Measured = append(v.Measured, nil)
				continue
			}
			l := &measuredJSON{Values: m.Values, Median: m.Median, Runs: m.Runs, Sessions: m.Sessions}
			if l.Values == nil {
				l.Values = []float64{}
			}
			if m.Since != nil {
				size := sizeOf(m.Since)
				l.Since = &size
			}
			v.Measured = append(v.Measured, l)
		}
		for _, c := range t.Shifts {
			v.Shifts = append(v.Shifts, shiftJSON{Last: c.Last, First: c.First, From: c.From, To: c.To, P: c.P, FoundAt: c.MaxP,
				Before: c.Before.Median, After: c.After.Median, Verdict: c.Verdict,
				Settings: each(c.Settings, settingText), Conditions: each(c.Conditions, settingText), changeSize: sizeOf(c.Result)})
		}
		out.Tracks = append(out.Tracks, v)
	}
	out.Caution = caution(historyHazard(h))
	return encode(w, out)
}
