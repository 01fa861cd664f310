package stats

import (
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Design says what a planned comparison must satisfy.
type Design struct {
	Confidence float64 // of the interval, such as 0.95
	// Alpha is the bar for the p value of one comparison after the correction
	// for several; 1 - Confidence for one comparison alone.
	Alpha float64
	Power float64 // wanted chance, such as 0.8
}

const (
	// planRepeats simulated comparisons make a plan. Stratified (planStrata), as
	// many know the loss that is caught in 80 % to 3.7 % on average over seeds,
	// 400 at random to 3.5 %; this seed does to 2.3 % (TestBlindSpotRepetitions).
	planRepeats = 256
	// planSize is the largest number of values a side that is simulated; above
	// it the estimate is close enough to normal for the closed form. With 12,
	// losses stated for 20 + 20 were caught in 72 to 76 % in skewed, two-mode
	// and outlier noise instead of 80 %, with 20 in 79 to 84 %; with 30, those
	// for 30 + 30 in up to 89 %, since it keeps the shape of small samples.
	planSize = 20
	planSeed = 33
	// mostPlanned is where planning gives up: nobody runs a million.
	mostPlanned = 1_000_000
)

// cloud is what the rule would see in repeated comparisons without a true
// change: estimates, and how far the upper end of the joined region (test at
// Alpha, interval at Confidence) lies above each. All of it moves with a true
// shift, so one cloud answers for every size of change.
type cloud struct {
	estimate, reach []float64
}

// caught is the share of repetitions in which a true loss is judged real and
// estimated beyond the margin.
func (c cloud) caught(loss, margin float64) float64 {
	n := 0
	for i, e := range c.estimate {
		if e+math.Max(c.reach[i], margin) < loss {
			n++
		}
	}
	return float64(n) / float64(len(c.estimate))
}

// smallestCaught is the loss that is caught with the given chance.
func (c cloud) smallestCaught(power, margin float64) float64 {
	need := make([]float64, len(c.estimate))
	for i, e := range c.estimate {
		need[i] = e + math.Max(c.reach[i], margin)
	}
	sort.Float64s(need)
	return need[min(len(need)-1, int(math.Ceil(power*float64(len(need)))))]
}

// closed is the same in large samples: a normal estimate and a fixed reach.
type closed struct {
	reach, se float64
	df        float64 // on which se rests
}

func (c closed) caught(loss, margin float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: c.df}.CDF((loss - math.Max(c.reach, margin)) / c.se)
}

func (c closed) smallestCaught(power, margin float64) float64 {
	return math.Max(c.reach, margin) + studentQuantile(power, c.df)*c.se
}

// outlook is either of them.
type outlook interface {
	caught(loss, margin float64) float64
	smallestCaught(power, margin float64) float64
}

// pilot draws values like those seen: residuals of one side, smoothed with a
// normal kernel of Silverman's width and scaled back to the unbiased variance
// (Silverman and Young, Biometrika 74:469-479, 1987).
type pilot struct {
	residual []float64
	kernel   float64
}

func newPilot(x []float64) pilot {
	s := sorted(x)
	centre, sd, n := mean(s), math.Sqrt(variance(s)), float64(len(s))
	iqr := stat.Quantile(0.75, stat.LinInterp, s, nil) - stat.Quantile(0.25, stat.LinInterp, s, nil)
	width := sd
	if iqr > 0 {
		width = math.Min(sd, iqr/1.349)
	}
	p := pilot{residual: s, kernel: 0.9 * width * math.Pow(n, -0.2)}
	shrink := 0.0
	if sd > 0 {
		shrink = math.Sqrt((sd*sd - p.kernel*p.kernel) / (sd * sd * (n - 1) / n))
	}
	for i, v := range s {
		s[i] = (v - centre) * shrink
	}
	return p
}

func (p pilot) fill(g *rand.Rand, into []float64) {
	for i := range into {
		into[i] = p.residual[g.IntN(len(p.residual))] + p.kernel*g.NormFloat64()
	}
}

// Needed returns how many values a side a comparison like this pilot would
// take to find a true change of d (either sign, in the unit of the values)
// real with the design's power: rank test at Alpha, and 0 outside the interval
// at Confidence. Up to planSize values a side the rule is simulated on the
// smoothed pilot, with the exact test and SpreadInversion (rankRule); above it
// a closed form serves alone. That the pilot's spread is itself uncertain is
// part of the chance. ok is false where the pilot has no spread, fewer than two
// values on a side, or a million values would not do.
func Needed(before, after []float64, d float64, design Design) (size int, ok bool) {
	return SizeToCatch(before, after, d, 0, design)
}

// SizeToCatch is the inverse of BlindSpot: how many values a side would catch
// a true loss of this size, real and estimated beyond the margin. ok as for
// Needed, and false where the loss does not exceed the margin.
func SizeToCatch(before, after []float64, loss, margin float64, design Design) (size int, ok bool) {
	return NewPlan(before, after, design).SizeToCatch(loss, margin)
}

// smallestSize searches the smallest size, from a floor, that is enough.
func smallestSize(floor int, enough func(int) bool) (size int, ok bool) {
	low, high := floor-1, floor // low is not enough
	for !enough(high) {
		if high >= mostPlanned {
			return 0, false
		}
		low, high = high, 2*high
	}
	return firstEnough(low, high, enough), true
}

// firstEnough searches between a size that is not enough and one that is.
func firstEnough(low, high int, enough func(int) bool) int {
	for high-low > 1 {
		if m := (low + high) / 2; enough(m) {
			high = m
		} else {
			low = m
		}
	}
	return high
}

// BlindSpot returns the smallest true loss that a comparison of the pilot's
// own sizes catches with the design's power: real, and estimated beyond the
// margin (0 for "any real loss"). Computed as for Needed. ok is false where no
// loss of any size could be caught, or the spread is unknown.
func BlindSpot(before, after []float64, margin float64, design Design) (loss float64, ok bool) {
	return NewPlan(before, after, design).BlindSpot(margin)
}

// bar is what a p value has to reach for both halves of the rule.
func (d Design) bar() float64 { return math.Min(d.Alpha, 1-d.Confidence) }

// observedReach reads the standard error of the estimate and the reach of the
// joined region off a large sample's own differences: one standard deviation
// of U to each side of the middle spans two standard errors.
func observedReach(before, after []float64, design Design) (se, reach float64) {
	x, y := sorted(before), sorted(after)
	m, n := float64(len(x)), float64(len(y))
	at := func(rank float64) float64 {
		return kthDifference(x, y, min(max(1, int(math.Ceil(rank))), len(x)*len(y)))
	}
	sd := math.Sqrt(m * n * (m + n) / 12)
	se = (at(m*n/2+sd) - at(m*n/2-sd)) / 2
	critical := float64(rankCritical(len(x), len(y), design.bar()))
	reach = inversionReach(len(x), len(y), design.Confidence) * spreadFactor(x, y, design.Confidence)
	return se, at(math.Max(m*n+1-critical, (m*n+1)/2+reach)) - medianDifference(x, y)
}

// spreadDF is on how many degrees of freedom a pilot's spread is taken to
// rest. Two thirds of the normal count: noise with a long tail or two modes
// leaves its spread less certain than normal noise does.
func spreadDF(m, n int) float64 { return math.Max(1, 2*float64(m+n-2)/3) }

// FloorSize returns the fewest values a side with which the rank test can
// reach the bar at all.
func FloorSize(alpha float64) int {
	n := 1
	for SmallestP(n, n) > alpha+slack {
		n++
	}
	return n
}

// rankWidth is the half-width of the joined region in standard errors of a
// normal sample: what the test needs at Alpha, or the interval at Confidence
// with two sides of equal spread.
func rankWidth(m, n int, design Design) float64 {
	mn := float64(m) * float64(n)
	limit := mn*float64(min(m, n)) >= 200_000 // near enough from some 60 a side
	interval := inversionWidths.get(widthKey{m, n, design.Confidence}, func() float64 {
		width := math.Sqrt(equalSpreadRatio(m, n, design.Confidence))
		if limit {
			return width * normalQuantile((1+design.Confidence)/2)
		}
		return width * inversionReach(m, n, design.Confidence) / math.Sqrt(mn*float64(m+n+1)/12)
	})
	if limit {
		return math.Max(normalQuantile(1-design.Alpha/2), interval)
	}
	test := (mn/2 - float64(rankCritical(m, n, design.Alpha)) + 0.5) / math.Sqrt(mn*float64(m+n+1)/12)
	return math.Max(test, interval)
}

type widthKey struct {
	m, n       int
	confidence float64
}

var inversionWidths = memo[widthKey, float64]{most: 256}

// equalSpreadRatio is t_w / t_p of SpreadInversion where both sides spread alike.
func equalSpreadRatio(m, n int, confidence float64) float64 {
	if m == n { // then Welch's degrees of freedom are the pooled ones
		return 1
	}
	a, b := 1/float64(m), 1/float64(n)
	df := (a + b) * (a + b) / (a*a/float64(m-1) + b*b/float64(n-1))
	return studentQuantile((1+confidence)/2, df) / studentQuantile((1+confidence)/2, float64(m+n-2))
}

// studentRatio is t_w / t_p of SpreadInversion over the degrees of freedom that
// Welch and Satterthwaite can give, in equal steps of their reciprocal, in which
// it is nearly straight: Student's quantile takes longer than much of what uses
// it.
type studentRatio struct {
	least, most float64 // reciprocals
	ratio       [17]float64
}

var studentRatios = memo[widthKey, *studentRatio]{most: 256}

func studentRatioOf(m, n int, confidence float64) *studentRatio {
	return studentRatios.get(widthKey{m, n, confidence}, func() *studentRatio { return newStudentRatio(m, n, confidence) })
}

func newStudentRatio(m, n int, confidence float64) *studentRatio {
	s := &studentRatio{least: 1 / float64(m+n-2), most: 1 / float64(min(m, n)-1)}
	p := (1 + confidence) / 2
	pooled := studentQuantile(p, float64(m+n-2))
	for i := range s.ratio {
		df := 1 / (s.least + (s.most-s.least)*float64(i)/float64(len(s.ratio)-1))
		s.ratio[i] = studentQuantile(p, df) / pooled
	}
	return s
}

func (s *studentRatio) at(df float64) float64 {
	if s.most == s.least {
		return s.ratio[0]
	}
	place := (1/df - s.least) / (s.most - s.least) * float64(len(s.ratio)-1)
	i := min(max(0, int(place)), len(s.ratio)-2)
	return s.ratio[i] + (place-float64(i))*(s.ratio[i+1]-s.ratio[i])
}

// regionEnd is the upper end of the inverted rank test for sorted differences.
func regionEnd(d []float64, critical int) float64 {
	if critical < 1 {
		return math.Inf(1)
	}
	return d[len(d)-critical]
}
