package check

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"tunegate/stats/internal/numeric"
)

const (
	// enoughBeyond draws at or beyond the observed value end a simulated test:
	// p is then known to 14 % of itself.
	enoughBeyond = 50
	// fewBeyond are enough for a p above clearP, at which nothing is called.
	fewBeyond = 10
	clearP    = 0.02
	// maxDraws bounds a simulated test; its smallest p is 1 in 10,000.
	maxDraws = 9999
	// minDraws are made however large the sample: its smallest p is 1 in 400.
	minDraws = 399
	// drawnValues is how many values a simulated test may draw in all before it
	// uses fewer samples: some tenths of a second.
	drawnValues = 1e7
	nullSeed    = 1991
)

// drawsFor is how many samples of n values a simulated test draws at most.
func drawsFor(n int) int { return min(maxDraws, max(minDraws, drawnValues/max(n, 1))) }

// simulatedP is the p value of an observed statistic from draws of it under the
// null hypothesis, as many as it needs: a clear case of "nothing there" ends
// early (Besag and Clifford, Biometrika 78:301-304, 1991). It holds its level
// whatever the number of draws, up to clearP. A caller that takes the larger of this p and
// another one passes the other as enough, and gets 0 where this p cannot be
// larger.
func simulatedP(observed float64, most int, enough float64, draw func() float64) float64 {
	beyond := 0
	for made := 1; made <= most; made++ {
		if missing := enoughBeyond - beyond; enough > 0 { // were all other draws beyond
			could := float64(enoughBeyond) / float64(made-1+missing)
			if made-1+missing > most {
				could = float64(beyond+most-made+2) / float64(most+1)
			}
			missing = max(0, fewBeyond-beyond)
			if soon := float64(beyond+missing) / float64(made-1+missing); soon > clearP {
				could = soon
			}
			if could <= enough {
				return 0
			}
		}
		if draw() >= observed {
			beyond++
			if p := float64(beyond) / float64(made); beyond == enoughBeyond || beyond >= fewBeyond && p > clearP {
				return p
			}
		}
	}
	return float64(beyond+1) / float64(most+1)
}

// noise draws one value of a noise shape; level and scale do not matter.
type noise func(*rand.Rand) float64

var (
	normalNoise noise = (*rand.Rand).NormFloat64
	skewedNoise noise = (*rand.Rand).ExpFloat64
	flatNoise   noise = (*rand.Rand).Float64
	heavyNoise  noise = studentNoise
)

// heavyDF are the degrees of freedom of the heavy-tailed noise.
const heavyDF = 5

// studentNoise draws from Student's t with heavyDF degrees of freedom: a normal value
// over the root of the mean of five squared ones, two of which are twice an exponential
// one.
func studentNoise(g *rand.Rand) float64 {
	z := g.NormFloat64()
	return g.NormFloat64() / math.Sqrt((z*z+2*(g.ExpFloat64()+g.ExpFloat64()))/heavyDF)
}

// deviations are runs less the median of their session; sessions of fewer than
// three runs are left out, since theirs say nothing. A single session is left
// as it is.
type deviations struct {
	value []float64
	at    []int // where each stands, counted through all sessions
	sizes []int // of the sessions in it
}

func newDeviations(sessions [][]float64) deviations {
	var d deviations
	start := 0
	for _, s := range sessions {
		if len(s) >= 3 {
			d.value = append(d.value, s...)
			d.sizes = append(d.sizes, len(s))
			for i := range s {
				d.at = append(d.at, start+i)
			}
		}
		start += len(s)
	}
	d.centre(d.value, make([]float64, len(d.value)))
	return d
}

// centre takes the median of each session off its values.
func (d deviations) centre(x, spare []float64) {
	if len(d.sizes) == 1 {
		return
	}
	for _, n := range d.sizes {
		copy(spare, x[:n])
		numeric.Sort(spare[:n])
		m := numeric.Middle(spare[:n])
		for i := range x[:n] {
			x[i] -= m
		}
		x = x[n:]
	}
}

// p is the largest p of a statistic's score, among values of each of its
// noises in sessions of the same sizes; one above clearP is the first of those.
func (d deviations) p(observed float64, s *statistic) float64 {
	p := 0.0
	for _, null := range nullsOf.Get(nullKey{s, numeric.SizesKey(d.sizes)}, func() []*simulatedNull { return d.nulls(s) }) {
		if p = math.Max(p, null.p(observed, drawsFor(len(d.value)), p)); p > clearP {
			break
		}
	}
	return p
}

// longSession is from how many runs on a session's median is known so well
// that the deviations from it are noise like any other.
const longSession = 100

// long says that the limits of the scores serve.
func (d deviations) long() bool {
	return len(d.value) >= limitFrom && (len(d.sizes) == 1 || slices.Min(d.sizes) >= longSession)
}

// limited is a p from a limit: no smaller than a drawn one can be.
func limited(p float64) float64 { return math.Max(p, 1.0/(maxDraws+1)) }

// statistic is a score of deviations that is judged by simulation, with the
// noise shapes that it is held against.
type statistic struct {
	noises []noise
	// score may reorder the values; spare is as long.
	score func(x, spare []float64) float64
}

// nullKey says what scores under the null hypothesis depend on. The seed is
// fixed, so series of the same sizes have the very same ones.
type nullKey struct {
	statistic *statistic
	sizes     string
}

var nullsOf = numeric.Memo[nullKey, []*simulatedNull]{Max: 64}

func (d deviations) nulls(s *statistic) []*simulatedNull {
	var out []*simulatedNull
	for _, draw := range s.noises {
		out = append(out, &simulatedNull{sessions: deviations{sizes: d.sizes}, n: len(d.value), noise: draw,
			score: s.score, g: rand.New(rand.NewPCG(nullSeed, 0))})
	}
	return out
}

// simulatedNull holds the scores drawn so far under a null hypothesis, and
// draws more when an observed one needs them.
type simulatedNull struct {
	sessions deviations
	n        int
	noise    noise
	score    func(x, spare []float64) float64

	mu     sync.Mutex
	g      *rand.Rand
	scores []float64
}

// p is simulatedP of all the draws, those made for others first. The seed is
// fixed, so the same input gives the same p.
func (s *simulatedNull) p(observed float64, most int, enough float64) float64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	var x, spare []float64
	made := 0
	return simulatedP(observed, most, enough, func() float64 {
		if made == len(s.scores) {
			if x == nil {
				x, spare = make([]float64, s.n), make([]float64, s.n)
			}
			for i := range x {
				x[i] = s.noise(s.g)
			}
			s.sessions.centre(x, spare)
			s.scores = append(s.scores, s.score(x, spare))
		}
		made++
		return s.scores[made-1]
	})
}
