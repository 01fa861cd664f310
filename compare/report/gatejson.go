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
	Policy     policyJSON   `json:"policy"`
	Reasons    []reasonJSON `json:"reasons"`
	Judged     []judgedJSON `json:"judged"`
	Removed    []string     `json:"removed"`
	Unchanged  int          `json:"unchanged"`
	Notes      []string     `json:"notes"`
	Caution    string       `json:"caution,omitempty"`
}

type policyJSON struct {
	Of       string       `json:"of"`
	File     string       `json:"file,omitempty"`
	Changes  []string     `json:"changes"`
	Proposed gate.Outcome `json:"proposed_outcome,omitempty"`
}

type reasonJSON struct {
	Kind    string       `json:"kind"`
	Profile string       `json:"profile"`
	Metric  string       `json:"metric,omitempty"`
	Text    string       `json:"text"`
	Decides gate.Outcome `json:"decides"`
	At      []placeJSON  `json:"at"`
}

type placeJSON struct {
	File   string `json:"file"`
	Line   int    `json:"line,omitempty"`
	Column int    `json:"column,omitempty"`
}

type judgedJSON struct {
	Profile    string          `json:"profile"`
	Question   gate.Question   `json:"question"`
	Against    string          `json:"against,omitempty"`
	Settings   []string        `json:"settings"`
	Warnings   []string        `json:"warnings"`
	Outcome    gate.Outcome    `json:"outcome"`
	BlindSpot  string          `json:"blind_spot,omitempty"`
	Comparison *comparisonJSON `json:"comparison"`
}

// GateJSON writes a gate with its comparisons at full precision. status is the
// exit status of the gate, statusOf that of a comparison by itself.
func GateJSON(w io.Writer, p GatePage, status int, statusOf func(*compare.Comparison) int) error {
	g := p.Gate
	out := gateJSON{Format: gateFormat, Base: g.Base, Head: g.Head, Outcome: g.Outcome, ExitStatus: status,
		Closing:   GateClosing(g),
		Policy:    policyJSON{Of: g.PolicyOf, File: g.PolicyFile, Changes: each(g.PolicyChanges, policyChangeText), Proposed: g.Proposed},
		Reasons:   each(g.Reasons, newReasonJSON),
		Removed:   orEmpty(g.Removed),
		Unchanged: g.Unchanged,
		Notes:     each(g.Notes, func(n gate.Note) string { return gateNote(p, n) })}
	var together []*compare.Comparison
	var terms compare.Terms
	for _, j := range g.Judged {
		if j.Comparison != nil {
			together, terms = append(together, j.Comparison), j.Comparison.Terms
		}
	}
	all := forAllOf(terms, together...)
	out.Judged = each(g.Judged, func(j *gate.Judgement) judgedJSON {
		v := judgedJSON{Profile: j.Profile, Question: j.Question, Against: j.Against, Settings: each(j.Settings, settingText),
			Warnings: orEmpty(warnings(g, j)), Outcome: j.Outcome, BlindSpot: blindSpotText(j)}
		if j.Comparison != nil {
			v.Comparison = all.comparison(p.judged(j), statusOf(j.Comparison))
		}
		return v
	})
	out.Caution = caution(gateHazard(g))
	return encode(w, out)
}

func newReasonJSON(r gate.Reason) reasonJSON {
	return reasonJSON{Kind: r.Kind, Profile: r.Profile, Metric: r.About(), Text: reasonText(r), Decides: r.Decides,
		At: each(r.Rows, func(v compare.Value) placeJSON { return placeJSON(v.At) })}
}
