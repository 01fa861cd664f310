package stats_test

import (
	"encoding/csv"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/stats"
	"tunegate/stats/check"
	"tunegate/stats/internal/statstest"

	descriptive "github.com/montanaflynn/stats"
)

// rounds reports whether got, rounded to the decimals of a printed value, is
// that value.
func rounds(got, printed float64, decimals int) bool {
	return math.Abs(got-printed) <= 0.5*math.Pow(10, -float64(decimals))*(1+1e-9)
}

// Permeability of the human chorioamnion at term (x) and between 12 and 26
// weeks (y): Hollander and Wolfe 1973, Nonparametric Statistical Methods, page
// 69 f. Also the example of R's wilcox.test.
var (
	chorioamnionAtTerm = []float64{0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46}
	chorioamnionEarly  = []float64{1.15, 0.88, 0.90, 0.74, 1.21}
)

func TestPublishedChorioamnion(t *testing.T) {
	got := stats.MannWhitney(chorioamnionEarly, chorioamnionAtTerm)
	if got.U != 35 || !got.Exact { // Hollander and Wolfe 1973: W = 35 of 50
		t.Errorf("U = %v (exact %v), want 35", got.U, got.Exact)
	}
	if !rounds(got.Upper, 0.1272, 4) { // one-sided p: R 4.2.2, wilcox.test, alternative = "greater"
		t.Errorf("P(U >= 35) = %v, want 0.1272", got.Upper)
	}
	if !rounds(got.P, 0.2544, 4) { // two-sided p: R 4.2.2, wilcox.test
		t.Errorf("P = %v, want 0.2544", got.P)
	}
	if got.PUsed != got.P { // without ties the distribution is symmetric
		t.Errorf("PUsed = %v, want P = %v", got.PUsed, got.P)
	}
	// Difference in location 0.305, exact 95 % interval -0.15 to 0.76:
	// Hollander and Wolfe 1973; R 4.2.2, wilcox.test, conf.int = TRUE.
	if got := stats.HodgesLehmann(chorioamnionEarly, chorioamnionAtTerm); !statstest.Near(got, 0.305, 1e-12, 0) {
		t.Errorf("HodgesLehmann = %v, want 0.305", got)
	}
	lo, hi, ok := stats.RankInterval(chorioamnionEarly, chorioamnionAtTerm, 0.95)
	if !ok || !statstest.Near(lo, -0.15, 1e-12, 0) || !statstest.Near(hi, 0.76, 1e-12, 0) {
		t.Errorf("RankInterval = [%v, %v], %v, want [-0.15, 0.76]", lo, hi, ok)
	}
}

func TestPublishedTies(t *testing.T) {
	a := []float64{60, 60, 61, 62, 60, 61, 61, 63}
	b := []float64{61, 62, 62, 63, 63, 61, 64}
	// coin 1.4-2, wilcox_test(distribution = "exact"), and exactRankTests
	// 0.8-35, wilcox.exact, both run in R 4.2.2.
	const want = 0.0508158508159
	for _, got := range []stats.RankTest{stats.MannWhitney(a, b), stats.MannWhitney(b, a)} {
		if !got.Exact || !rounds(got.P, want, 13) {
			t.Errorf("P = %v (exact %v), want %v", got.P, got.Exact, want)
		}
	}
}

func TestPublishedMice(t *testing.T) {
	// Survival of 7 treated and 9 control mice, days: Efron and Tibshirani
	// 1993, An Introduction to the Bootstrap, table 2.1.
	treated := []float64{94, 197, 16, 38, 99, 141, 23}
	control := []float64{52, 104, 146, 10, 50, 31, 27, 40, 46}
	got := stats.MannWhitney(control, treated)
	if got.U != 36 || !got.Exact || !rounds(got.P, 0.6805944, 7) { // R 4.2.2, wilcox.test
		t.Errorf("U = %v, P = %v (exact %v), want 36 and 0.6805944", got.U, got.P, got.Exact)
	}
	// R 4.2.2, wilcox.test, conf.int = TRUE
	lo, hi, ok := stats.RankInterval(control, treated, 0.95)
	if got := stats.HodgesLehmann(control, treated); got != 28 || lo != -27 || hi != 93 || !ok {
		t.Errorf("estimate %v, interval [%v, %v], want 28, [-27, 93]", got, lo, hi)
	}
	// Means 86.86 and 56.22: Efron and Tibshirani 1993, table 2.1 (values from
	// memory).
	meanTreated, err := descriptive.Mean(treated)
	if err != nil {
		t.Fatal(err)
	}
	meanControl, err := descriptive.Mean(control)
	if err != nil {
		t.Fatal(err)
	}
	if !rounds(meanTreated, 86.86, 2) || !rounds(meanControl, 56.22, 2) {
		t.Errorf("means %v and %v, want 86.86 and 56.22", meanTreated, meanControl)
	}
}

func TestPublishedDepression(t *testing.T) {
	// Hamilton depression scale of nine patients at the first and the second
	// visit: Hollander and Wolfe 1973, page 29 f. Also the example of R's
	// wilcox.test for pairs.
	first := []float64{1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30}
	second := []float64{0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29}
	d := make([]float64, len(first))
	for i := range d {
		d[i] = first[i] - second[i]
	}
	// V = 40, p = 0.0390625: R 4.2.2, wilcox.test, paired = TRUE. The one-sided
	// p is 0.01953 = 10/512.
	got := stats.SignedRank(d)
	if got.W != 40 || got.P != 0.0390625 || !got.Exact {
		t.Errorf("W = %v, P = %v (exact %v), want 40 and 0.0390625", got.W, got.P, got.Exact)
	}
	// Estimate 0.46, interval 0.010 to 0.786: R 4.2.2, conf.int = TRUE.
	if got := stats.WalshMedian(d); !statstest.Near(got, 0.46, 1e-12, 0) {
		t.Errorf("WalshMedian = %v, want 0.46", got)
	}
	lo, hi, ok := stats.SignedRankInterval(d, 0.95)
	if !ok || !statstest.Near(lo, 0.010, 0, 1e-12) || !statstest.Near(hi, 0.786, 0, 1e-12) {
		t.Errorf("SignedRankInterval = [%v, %v], %v, want [0.010, 0.786]", lo, hi, ok)
	}
}

func TestPublishedSmallestP(t *testing.T) {
	for _, c := range []struct {
		each int
		want float64
	}{
		// counting: 2 of the C(m+n, m) orderings are as far apart as can be
		{3, 2.0 / 20}, {4, 2.0 / 70}, {5, 2.0 / 252}, {6, 2.0 / 924},
	} {
		if got := stats.SmallestP(c.each, c.each); !statstest.Near(got, c.want, 1e-15, 0) {
			t.Errorf("SmallestP(%d, %d) = %v, want %v", c.each, c.each, got, c.want)
		}
		before, after := make([]float64, c.each), make([]float64, c.each)
		for i := range before {
			before[i], after[i] = float64(i), float64(100+i)
		}
		if got := stats.MannWhitney(before, after).P; !statstest.Near(got, c.want, 1e-15, 0) {
			t.Errorf("%d and %d values wholly apart: P = %v, want %v", c.each, c.each, got, c.want)
		}
	}
	if got := stats.SmallestP(1, 1); got != 1 { // counting: 2 / C(2, 1)
		t.Errorf("SmallestP(1, 1) = %v, want 1", got)
	}
}

func TestPublishedFalseDiscoveryRate(t *testing.T) {
	// Benjamini and Hochberg 1995, JRSS B 57:289-300, the worked example of
	// section 4.1: fifteen comparisons of a thrombolysis trial (values from
	// memory).
	p := []float64{.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1.000}
	rejected := func(adjusted []float64) []float64 {
		var out []float64
		for i, q := range adjusted {
			if q <= 0.05 {
				out = append(out, p[i])
			}
		}
		return out
	}
	// "four" at 5 % with the false discovery rate held
	if diff := cmp.Diff(p[:4], rejected(stats.BenjaminiHochberg(p))); diff != "" {
		t.Errorf("Benjamini-Hochberg at 5 %% (-want +got):\n%s", diff)
	}
	// "three" by Bonferroni: p <= 0.05/15. Holm rejects those too, and here
	// no more, since 12 * 0.0095 is above 0.05.
	bonferroni := make([]float64, len(p))
	for i := range p {
		bonferroni[i] = min(1, float64(len(p))*p[i])
	}
	if diff := cmp.Diff(p[:3], rejected(bonferroni)); diff != "" {
		t.Errorf("Bonferroni at 5 %% (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(p[:3], rejected(stats.Holm(p))); diff != "" {
		t.Errorf("Holm at 5 %% (-want +got):\n%s", diff)
	}
}

// morley reads Michelson's runs of 1879, km/s above 299,000, by experiment.
// Source: R's datasets::morley (Stigler 1977, Annals of Statistics
// 5:1055-1098, table 6).
func morley(t *testing.T) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "fixtures", "reference", "morley.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"experiment", "run", "speed"}, rows[0]); diff != "" {
		t.Fatalf("header of morley.csv (-want +got):\n%s", diff)
	}
	experiments := make([][]float64, 5)
	for _, row := range rows[1:] {
		e, err := strconv.Atoi(row[0])
		if err != nil || e < 1 || e > len(experiments) {
			t.Fatalf("experiment %q of morley.csv: %v", row[0], err)
		}
		speed, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		experiments[e-1] = append(experiments[e-1], speed)
	}
	for i, e := range experiments {
		if len(e) != 20 {
			t.Fatalf("experiment %d has %d runs, want 20", i+1, len(e))
		}
	}
	return experiments
}

func TestPublishedMichelson(t *testing.T) {
	experiments := morley(t)
	// tapply(morley$Speed, morley$Expt, median) in R 4.2.2
	for i, want := range []float64{940, 845, 855, 815, 810} {
		if got, err := descriptive.Median(experiments[i]); err != nil || got != want {
			t.Errorf("median of experiment %d = %v, %v, want %v", i+1, got, err, want)
		}
	}
}

// exactMoments are the mean, the standard deviation (divisor n - 1) and the
// lag-1 autocorrelation of whole numbers over a divisor, in rational numbers;
// only what comes out is rounded.
func exactMoments(whole []int64, divisor int64) (mean, sd, lagOne float64) {
	rat := func(n int64) *big.Rat { return new(big.Rat).SetInt64(n) }
	m := new(big.Rat)
	for _, v := range whole {
		m.Add(m, rat(v))
	}
	m.Quo(m, rat(int64(len(whole))))
	squares, products := new(big.Rat), new(big.Rat)
	var last *big.Rat
	for _, v := range whole {
		d := new(big.Rat).Sub(rat(v), m)
		squares.Add(squares, new(big.Rat).Mul(d, d))
		if last != nil {
			products.Add(products, new(big.Rat).Mul(last, d))
		}
		last = d
	}
	lagOne, _ = new(big.Rat).Quo(products, squares).Float64()
	variance := new(big.Float).SetPrec(200).SetRat(squares.Quo(squares, rat(int64(len(whole)-1))))
	sd, _ = variance.Sqrt(variance).Quo(variance, new(big.Float).SetInt64(divisor)).Float64()
	mean, _ = m.Quo(m, rat(divisor)).Float64()
	return mean, sd, lagOne
}

// The sets of which NIST's Statistical Reference Datasets are made that try the
// arithmetic: few digits that differ behind many that do not. Michelso is
// morley.csv in 1000 km/s; the others are made by a rule, from which their
// moments follow by hand. What is expected is worked out exactly.
func TestMomentsOfNISTSets(t *testing.T) {
	var michelso []int64
	for _, e := range morley(t) {
		for _, v := range e {
			michelso = append(michelso, 299_000+int64(v))
		}
	}
	// A first value and 500 pairs a tenth below and above it.
	tenths := func(base int64) []int64 {
		x := []int64{base*10 + 2}
		for range 500 {
			x = append(x, base*10+1, base*10+3)
		}
		return x
	}
	for _, set := range []struct {
		set     string
		whole   []int64
		divisor int64
		byHand  []float64
	}{
		{"Michelso", michelso, 1000, nil},
		{"NumAcc1", []int64{10000001, 10000003, 10000002}, 1, []float64{10000002, 1, -0.5}},
		{"NumAcc2", tenths(1), 10, []float64{1.2, 0.1, -0.999}},
		{"NumAcc3", tenths(1_000_000), 10, []float64{1000000.2, 0.1, -0.999}},
		{"NumAcc4", tenths(10_000_000), 10, []float64{10000000.2, 0.1, -0.999}},
	} {
		var c struct {
			set              string
			x                []float64
			mean, sd, lagOne float64
		}
		c.set = set.set
		for _, v := range set.whole {
			c.x = append(c.x, float64(v)/float64(set.divisor))
		}
		c.mean, c.sd, c.lagOne = exactMoments(set.whole, set.divisor)
		if set.byHand != nil && !slices.Equal(set.byHand, []float64{c.mean, c.sd, c.lagOne}) {
			t.Errorf("%s: %v, %v and %v are worked out, want %v", c.set, c.mean, c.sd, c.lagOne, set.byHand)
		}
		// A float64 holds a value to half a unit in its last place; plain
		// summation may lose as much with each term. What the mean is off by
		// shifts every deviation.
		unit := math.Nextafter(c.mean, math.Inf(1)) - c.mean
		relative := unit/c.sd + 1e-13
		mean, err := descriptive.Mean(c.x)
		if err != nil || math.Abs(mean-c.mean) > float64(len(c.x))*unit/2 {
			t.Errorf("%s: mean %v, %v, want %v", c.set, mean, err, c.mean)
		}
		sd, err := descriptive.StandardDeviationSample(c.x)
		if err != nil || !statstest.Near(sd, c.sd, relative, 0) {
			t.Errorf("%s: standard deviation %v, %v, want %v", c.set, sd, err, c.sd)
		}
		if got := check.Lag1(c.x); !statstest.Near(got, c.lagOne, 4*relative, 0) {
			t.Errorf("%s: Lag1 = %v, want %v", c.set, got, c.lagOne)
		}
		// Our own mean and variance show in Student's interval: the mean plus
		// and minus t sd / sqrt(n).
		lo, hi, ok := stats.Student(c.x, 0).Interval(0.95)
		if !ok || math.Abs((lo+hi)/2-c.mean) > 2*unit {
			t.Errorf("%s: Student [%v, %v], %v is not around %v", c.set, lo, hi, ok, c.mean)
		}
		quantile := map[int]float64{ // qt(0.975, n - 1) in R 4.2.2
			3: 4.3026527297494619, 100: 1.9842169515864172, 1001: 1.9623390808264076,
		}[len(c.x)]
		want := quantile * c.sd / math.Sqrt(float64(len(c.x)))
		if half := (hi - lo) / 2; !statstest.Near(half, want, relative+unit/want+1e-12, 0) {
			t.Errorf("%s: Student is %v to each side, want %v", c.set, half, want)
		}
	}
}
