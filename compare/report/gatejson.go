package report

import (
	"io"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// gateFormat names the JSON form of a gate. Its schema is
// schema/gate.schema.json.
const gateFormat = "tunegate-gate-1"

type gateJSON struct {
	Format     string       `json:"format"`
	Base       string       `json:"base"`
	Head       string       `json:"head"`
	Outcome    gate.Outcome `json:"outcome"`
	ExitStatus int          `json:"exit_status"`
	Closing    string       `json:"closing"`
	// Agreed is what a person agreed to, as far as that counted.
	Agreed    []gate.Agreement `json:"agreed"`
	Policy    policyJSON       `json:"policy"`
	Reasons   []reasonJSON     `json:"reasons"`
	Judged    []judgedJSON     `json:"judged"`
	Removed   []string         `json:"removed"`
	Unchanged int              `json:"unchanged"`
	Notes     []string         `json:"notes"`
	Caution   string           `json:"caution,omitempty"`
}

type policyJSON struct {
	Of       string       `json:"of"`
	File     string       `json:"file,omitempty"`
	Changes  []string     `json:"changes"`
	Proposed gate.Outcome `json:"proposed_outcome,omitempty"`
}

type reasonJSON struct {
	Kind      string         `json:"kind"`
	Profile   string         `json:"profile"`
	Metric    string         `json:"metric,omitempty"`
	Text      string         `json:"text"`
	Need      *needJSON      `json:"need,omitempty"`
	Decides   gate.Outcome   `json:"decides"`
	Agreement gate.Agreement `json:"agreement,omitempty"`
	At        []placeJSON    `json:"at"`
}

type placeJSON struct {
	File   string `json:"file"`
	Sheet  string `json:"sheet,omitempty"`
	Line   int    `json:"line,omitempty"`
	Column int    `json:"column,omitempty"`
}

type judgedJSON struct {
	Profile     string          `json:"profile"`
	Before      string          `json:"before,omitempty"`
	Question    gate.Question   `json:"question"`
	Against     string          `json:"against,omitempty"`
	Settings    []string        `json:"settings"`
	Warnings    []string        `json:"warnings"`
	Outcome     gate.Outcome    `json:"outcome"`
	BlindSpot   string          `json:"blind_spot,omitempty"`
	Comparison  *comparisonJSON `json:"comparison"`
	SinceAnchor *comparisonJSON `json:"since_anchor,omitempty"`
}

// GateJSON writes a gate with its comparisons at full precision. status is the
// exit status of the gate, statusOf that of a comparison by itself.
func GateJSON(w io.Writer, p GatePage, status int, statusOf func(*compare.Comparison) int) error {
	g := p.Gate
	out := gateJSON{Format: gateFormat, Base: g.Base, Head: g.Head, Outcome: g.Outcome, ExitStatus: status,
		Closing: GateClosing(g), Agreed: each(g.Agreed, func(a gate.Agreement) gate.Agreement { return a }),
		Policy:    policyJSON{Of: g.PolicyOf, File: g.PolicyFile, Changes: each(g.PolicyChanges, policyChangeText), Proposed: g.Proposed},
		Reasons:   each(g.Reasons, p.Commands.reasonJSON),
		Removed:   orEmpty(g.Removed),
		Unchanged: g.Unchanged,
		Notes:     each(g.Notes, func(n gate.Note) string { return gateNote(p, n) })}
	all := p.rows().all
	out.Judged = each(g.Judged, func(j *gate.Judgement) judgedJSON {
		v := judgedJSON{Profile: j.Profile, Before: j.Before, Question: j.Question, Against: j.Against, Settings: each(j.Settings, settingText),
			Warnings: orEmpty(p.warnings(j)), Outcome: j.Outcome, BlindSpot: blindSpotText(j)}
		if j.Comparison != nil {
			v.Comparison = all.comparison(p.judged(j), statusOf(j.Comparison))
		}
		if c := j.SinceAnchor; c != nil {
			v.SinceAnchor = all.comparison(ComparisonPage{Comparison: c, Commands: p.Commands}, statusOf(c))
		}
		return v
	})
	out.Caution = caution(gateHazard(g))
	return encode(w, out)
}

func (c Commands) reasonJSON(r gate.Reason) reasonJSON {
	out := reasonJSON{Kind: r.Kind, Profile: r.Profile, Metric: r.About(), Text: c.reasonText(r), Decides: r.Decides, Agreement: r.Agreement,
		At: make([]placeJSON, r.Rows.Len())}
	for i, v := range r.Rows.All() {
		out.At[i] = placeJSON(v.At)
	}
	if need := needOf(r); need != nil {
		wire := newNeedJSON(*need)
		out.Need = &wire
	}
	return out
}
