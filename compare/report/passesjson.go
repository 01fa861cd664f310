package report

import (
	"io"

	"tunegate/compare/advice"
)

// passesFormat names the JSON form of counted passes. Its schema is
// schema/passes.schema.json.
const passesFormat = "tunegate-passes-1"

type passesJSON struct {
	Format     string          `json:"format"`
	Confidence float64         `json:"confidence"`
	Sides      []passSideJSON  `json:"sides"`
	Claims     []passClaimJSON `json:"claims"`
	Fisher     *float64        `json:"p_fisher"`
	Boschloo   *float64        `json:"p_boschloo"`
	Caution    string          `json:"caution"`
}

type passSideJSON struct {
	Name         string  `json:"name"`
	Passes       int     `json:"passes"`
	Failures     int     `json:"failures"`
	Hours        float64 `json:"hours,omitempty"`
	Lo           float64 `json:"rate_lo"`
	Hi           float64 `json:"rate_hi"`
	Below        float64 `json:"rate_below"`
	PerHourBelow float64 `json:"per_hour_below,omitempty"`
}

type passClaimJSON struct {
	Rate   float64 `json:"rate"`
	Needed int     `json:"clean_passes"`
	Hours  float64 `json:"clean_hours"`
}

// PassesJSON writes what counted passes allow to say as JSON.
func PassesJSON(w io.Writer, p *advice.Passes) error {
	out := passesJSON{
		Format: passesFormat, Confidence: p.Confidence, Caution: passesCaution,
		Sides: each(p.Sides, func(s advice.PassSide) passSideJSON {
			return passSideJSON{s.Name, s.Passes, s.Failures, s.Hours, s.Lo, s.Hi, s.Below, s.PerHourBelow}
		}),
		Claims: each(p.Claims, func(c advice.PassClaim) passClaimJSON { return passClaimJSON(c) }),
	}
	if len(p.Sides) == 2 {
		out.Fisher, out.Boschloo = &p.Fisher, p.Boschloo
	}
	return encode(w, out)
}
