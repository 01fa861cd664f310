package comparetest

import (
	"fmt"
	"math"
	"math/rand/v2"

	"tunegate/compare"
)

// What is promised of verdicts at a nominal 95 and 5 %.
const (
	MinCoverage    = 0.93 // of the true change by the interval
	MaxFalseAlarms = 0.06 // of comparisons without a change that are called real
	MaxFalseLevel  = 0.03 // of true losses of exactly the tolerance that are called level
)

// Repetitions are so many that a promise broken by 2 points shows: at 1,500
// the standard error is 0.66 points of coverage, 0.61 of false alarms and 0.44
// of false levels. The bounds give one of it away, so that 91 %, 8 % and 5 %
// fail in 19 of 20 choices of seeds. Under the race detector there are few,
// which only shows that nothing races.
func Repetitions() int {
	if RaceEnabled {
		return 20
	}
	return 1500
}

// Allowance is how much of a promised share is left to chance over n repetitions.
func Allowance(share float64, n int) float64 {
	errors := 1.0
	if RaceEnabled {
		errors = 3
	}
	return errors * math.Sqrt(share*(1-share)/float64(n))
}

// NoiseShape is a distribution with a standard deviation near 1.
type NoiseShape struct {
	Name string
	Draw func(*rand.Rand) float64
}

// NoiseShapes are what promises are held to; the first is the normal one.
var NoiseShapes = []NoiseShape{
	{"normal", func(g *rand.Rand) float64 { return g.NormFloat64() }},
	{"skew", func(g *rand.Rand) float64 { return g.ExpFloat64() }},
	{"bimodal", func(g *rand.Rand) float64 { // one in five misses a boost state
		if g.Float64() < 0.2 {
			return 0.5*g.NormFloat64() + 2
		}
		return 0.5 * g.NormFloat64()
	}},
	{"outlier", func(g *rand.Rand) float64 { // one in ten is hit by a long slowdown
		if g.Float64() < 0.1 {
			return 0.7*g.NormFloat64() + 3*g.ExpFloat64()
		}
		return 0.7 * g.NormFloat64()
	}},
}

// Shape draws from the noise shape of a name, or from Student's t with 5 degrees of
// freedom (t5), which the checks of doubts are held to; it panics where there is none.
func Shape(name string) func(*rand.Rand) float64 {
	if name == "t5" {
		return func(g *rand.Rand) float64 {
			squares := 0.0
			for range 5 {
				z := g.NormFloat64()
				squares += z * z
			}
			return g.NormFloat64() / math.Sqrt(squares/5)
		}
	}
	for _, s := range NoiseShapes {
		if s.Name == name {
			return s.Draw
		}
	}
	panic("no noise shape " + name)
}

// Sitting is how simulated runs are laid out. Noise is 1 % of the value, half
// of its variance between sessions and half within, both of the shape; in
// blocks have a deviation of their own of another 2 %.
type Sitting struct {
	Blocks     int // 0: none
	Sessions   int // a side, or a side in each block
	Runs       int // a session
	Unlabelled bool
	Step       float64 // readings are rounded to it; 0: not
	Unit       string
	Change     float64 // true, of the logarithm of after
	Noise      float64 // 0: 1 %
}

// Simulated draws n comparisons, a benchmark each.
func (s Sitting) Simulated(n int, draw func(*rand.Rand) float64, seed uint64) (before, after []*compare.Series) {
	g := Generator(seed)
	noise := s.Noise
	if noise == 0 {
		noise = 0.01
	}
	share := math.Sqrt(0.5)
	if s.Runs == 1 {
		share = 0
	}
	for i := range n {
		var sides [2]*compare.Series
		for k := range sides {
			key := compare.SeriesKey{Profile: Names[k], Benchmark: fmt.Sprint("scene-", i), Metric: compare.DefaultMetric}
			sides[k] = &compare.Series{SeriesKey: key, Unit: s.Unit}
		}
		for b := range max(1, s.Blocks) {
			luck := 0.0
			if s.Blocks > 0 {
				luck = 0.02 * g.NormFloat64()
			}
			for k, side := range sides {
				for j := range s.Sessions {
					own := share * draw(g)
					for range s.Runs {
						v := 60 * math.Exp(luck+float64(k)*s.Change+noise*(own+math.Sqrt(1-share*share)*draw(g)))
						if s.Step > 0 {
							v = math.Round(v/s.Step) * s.Step
						}
						o := compare.Observation{Value: v}
						if !s.Unlabelled {
							o.Session = fmt.Sprint(k, ".", b, ".", j)
						}
						if s.Blocks > 0 {
							o.Block = fmt.Sprint(b)
						}
						side.Append(o)
					}
				}
			}
		}
		before, after = append(before, sides[0]), append(after, sides[1])
	}
	return before, after
}

// Uncorrected is a policy that judges each score by itself.
var Uncorrected = compare.Policy{Correction: compare.NoCorrection}

// Verdicts are those of compare.Compare, each benchmark for itself, without an
// outlook and notes: planning changes no verdict and takes most of the time.
func Verdicts(t failer, before, after []*compare.Series, policy compare.Policy) []*compare.Result {
	t.Helper()
	p, err := compare.PairUp(before, after, Names, policy, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	terms := compare.TermsOf(policy, compare.Options{Resamples: 1000, Seed: 1})
	measured := terms.MeasureAll(p.Pairs, nil)
	var out []*compare.Result
	terms.Correction = compare.NoCorrection
	for i, j := range terms.Judge(measured)[0] {
		out = append(out, &compare.Result{Measurement: measured[i], Judgement: j})
	}
	return out
}
