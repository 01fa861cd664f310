package advice

import (
	"fmt"
	"math"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/internal/executions"
	"tunegate/stats"
)

// PassSide is one profile's count of stability passes.
type PassSide struct {
	Name     string
	Profile  bool    // Name is that of a profile
	Passes   int     // clean ones
	Failures int     // and those that were not
	Hours    float64 // of load in all; 0 where it is not given
	// Lo and Hi bound the failure rate of a pass from both sides, Below from
	// above alone (Clopper and Pearson 1934).
	Lo, Hi, Below float64
	// PerHourBelow bounds the failures an hour (exponential, chi-square).
	PerHourBelow float64
}

// Passes is what counted passes allow to say.
type Passes struct {
	Confidence float64
	Sides      []PassSide // one, or before and after
	Claims     []PassClaim
	// Fisher and Boschloo are two-sided p values of the difference of two
	// sides. Boschloo is nil above maxBoschloo passes in all.
	Fisher   float64
	Boschloo *float64
}

// maxBoschloo is up to how many passes Boschloo's test is made: its time grows
// with their square, to a minute at 100,000, and the gain over Fisher's test
// fades to a hundredth of p.
const maxBoschloo = 10_000

// PassClaim is how many clean passes a claim takes.
type PassClaim struct {
	Rate   float64 // "fails in fewer than Rate of all passes"
	Needed int     // passes without a failure
	Hours  float64 // hours without a failure, for Rate failures an hour
}

// CountPasses judges counts at a confidence.
func CountPasses(sides []PassSide, rates []float64, confidence float64) (*Passes, error) {
	p := &Passes{Confidence: confidence}
	for _, s := range sides {
		n := s.Passes + s.Failures
		if s.Passes < 0 || s.Failures < 0 || n == 0 {
			return nil, fmt.Errorf("%s: %s and %s; expected whole numbers, at least one of them above zero", s.Name,
				english.Count(s.Passes, "pass"), english.Count(s.Failures, "failure"))
		}
		if s.Hours < 0 {
			return nil, fmt.Errorf("%s: %v hours; expected a number above zero", s.Name, s.Hours)
		}
		s.Lo, s.Hi = stats.ClopperPearson(s.Failures, n, confidence)
		s.Below = stats.UpperBound(s.Failures, n, confidence)
		if s.Hours > 0 {
			s.PerHourBelow = stats.FailuresPerHourBound(s.Failures, s.Hours, confidence)
		}
		p.Sides = append(p.Sides, s)
	}
	for _, rate := range rates {
		if !(rate > 0 && rate < 1) {
			return nil, fmt.Errorf("a claim of %v %% cannot be counted; expected a rate above 0 and below 100 %%", 100*rate)
		}
		p.Claims = append(p.Claims, PassClaim{Rate: rate, Needed: stats.CleanPasses(rate, confidence), Hours: stats.CleanHours(rate, confidence)})
	}
	if len(p.Sides) == 2 {
		a, b := p.Sides[0], p.Sides[1]
		p.Fisher = stats.FisherExact(a.Failures, a.Passes, b.Failures, b.Passes)
		if a.Failures+a.Passes+b.Failures+b.Passes <= maxBoschloo {
			p.Boschloo = finite(stats.Boschloo(a.Failures, a.Passes, b.Failures, b.Passes))
		}
	}
	return p, nil
}

// finite is nil for a number that is not one.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// PassesOf counts the runs of a profile: those set aside are failures. A run is
// known by its label, or by its number within its session and file, and what
// stands in one line is one run: a row of a wide sheet is one pass, however many
// benchmarks it holds. Metrics of one benchmark share their runs.
func PassesOf(name string, series []*compare.Series) PassSide {
	runs := executions.New()
	failed := map[executions.Execution]bool{}
	for _, s := range series {
		runs.Each(s, func(id executions.Execution, o compare.Observation) {
			if o.SetAside {
				failed[id] = true
			} else if _, known := failed[id]; !known && !o.Missing {
				failed[id] = false // a clean pass, unless another metric says else
			}
		})
	}
	side := PassSide{Name: name, Profile: true}
	for _, failure := range failed {
		if failure {
			side.Failures++
		} else {
			side.Passes++
		}
	}
	return side
}
