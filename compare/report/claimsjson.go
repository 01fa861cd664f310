package report

import (
	"io"

	"tunegate/compare"
	"tunegate/compare/claims"
)

// claimsFormat names the JSON form of a page of claims. Its schema is
// schema/claims.schema.json.
const claimsFormat = "tunegate-claims-1"

type claimsJSON struct {
	Format     string             `json:"format"`
	Confidence float64            `json:"confidence"`
	Correction compare.Correction `json:"correction"`
	Family     familyJSON         `json:"family"`
	Policy     string             `json:"policy,omitempty"`
	Claims     []claimJSON        `json:"claims"`
	Pages      []coverageJSON     `json:"pages"`
	Notes      []string           `json:"notes"`
	Closing    string             `json:"closing"`
	Caution    string             `json:"caution,omitempty"`
	ExitStatus int                `json:"exit_status"`
}

// coverageJSON is a page that is to be published.
type coverageJSON struct {
	File    string           `json:"file"`
	Numbers int              `json:"numbers"`
	Open    []openNumberJSON `json:"in_no_claim"`
}

type openNumberJSON struct {
	Text   string `json:"text"`
	At     string `json:"at"`
	Around string `json:"around"`
	Same   string `json:"same_number_claimed,omitempty"`
}

type claimJSON struct {
	Text      string             `json:"text"`
	At        string             `json:"at"`
	Before    string             `json:"before,omitempty"`
	After     string             `json:"after,omitempty"`
	About     string             `json:"about,omitempty"`
	Form      claims.Form        `json:"form"`
	Claimed   string             `json:"claimed,omitempty"`
	AtLeast   bool               `json:"at_least,omitempty"`
	Verdict   claims.Verdict     `json:"verdict"`
	Data      claims.Verdict     `json:"runs_say,omitempty"`
	Differs   []noteJSON         `json:"sentence_differs"`
	Unchecked []noteJSON         `json:"not_checked"`
	Faults    []noteJSON         `json:"faults"`
	Exact     []string           `json:"arithmetic"`
	Notes     []noteJSON         `json:"notes"`
	Sentence  string             `json:"may_be_said"`
	Measured  *claimMeasuredJSON `json:"measured"`
	Result    *resultJSON        `json:"metric"`
	LevelWord *float64           `json:"level,omitempty"`
}

type claimMeasuredJSON struct {
	Estimate float64 `json:"estimate"`
	Lo       float64 `json:"lo"`
	Hi       float64 `json:"hi"`
	Unit     string  `json:"unit"`
	JointLo  float64 `json:"joint_lo"`
	JointHi  float64 `json:"joint_hi"`
}

// ClaimsJSON writes everything, and the exit status that follows from it, at full
// precision.
func ClaimsJSON(w io.Writer, p ClaimsPage, status int) error {
	c := p.Page
	out := claimsJSON{Format: claimsFormat, Confidence: c.Confidence, Correction: c.Correction, Policy: c.Policy,
		Family: familyJSON{c.Family.Scores, c.Family.Costs, c.Family.Suites},
		Claims: each(c.Held, func(h *claims.Held) claimJSON { return newClaimJSON(c, h) }),
		Pages:  each(p.Coverage, newCoverageJSON),
		Notes:  append([]string{}, claimsNotes(p)...), Closing: claimsClosing(p), ExitStatus: status}
	out.Caution = caution(claimsHazard(c))
	return encode(w, out)
}

func newCoverageJSON(c *claims.Coverage) coverageJSON {
	return coverageJSON{c.File, c.Total, each(c.Open, func(o claims.OpenNumber) openNumberJSON {
		return openNumberJSON{o.Text, o.At.String(), o.Around, o.Same}
	})}
}

func newClaimJSON(c *claims.Page, h *claims.Held) claimJSON {
	out := claimJSON{Text: h.Text, At: h.At.String(), Form: h.Form, AtLeast: h.AtLeast, Verdict: h.Verdict, Data: h.Data,
		Differs:   each(h.Differences, func(f claims.Finding) noteJSON { return noteJSON{string(f.Cause), sentenceText(h, f)} }),
		Unchecked: each(h.Unchecked, func(f claims.Finding) noteJSON { return noteJSON{string(f.Cause), uncheckedText(f)} }),
		Faults:    findingsJSON(h, h.Faults), Exact: madeTexts(h),
		Notes: findingsJSON(h, h.Notes), Sentence: claimSentence(c, h), LevelWord: h.Level}
	if h.Change != nil {
		out.Claimed = h.Change.Text
	}
	if h.Result == nil {
		return out
	}
	out.Result = forAll{h.Result.Measurement: h.Joint}.result(h.Result)
	out.Before, out.After, out.About = h.Before, h.After, h.Result.Name()
	if e, lo, hi, ok := h.Interval(); ok {
		unit, _ := percentOr(h.Result)
		out.Measured = &claimMeasuredJSON{Estimate: e, Lo: lo, Hi: hi, Unit: unit}
		out.Measured.JointLo, out.Measured.JointHi, _ = h.JointInterval()
	}
	return out
}

func findingsJSON(h *claims.Held, findings []claims.Finding) []noteJSON {
	return each(findings, func(f claims.Finding) noteJSON { return noteJSON{f.Kind, findingText(h, f)} })
}
