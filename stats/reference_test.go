package stats_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/stats"
	"tunegate/stats/internal/statstest"
)

// The answers in fixtures/reference were made with R 4.2.2 (wilcox.test,
// t.test, p.adjust), boot 1.3-28.1, coin 1.4-2, exactRankTests 0.8-35, SciPy
// 1.10.1 and statsmodels 0.13.5; "exact" ones were counted in integers and
// rounded once. The README there tells how to remake them.

// Bounds on the difference from a reference answer. Relative ones are shares
// of the answer, so they hold in the far tails too.
const (
	relativeP        = 1e-10
	relativeEstimate = 1e-12 // of a difference of raw values
	absoluteLog      = 1e-12 // of a difference of logarithms
)

type exactTails struct {
	P     float64 `json:"p"`
	PUsed float64 `json:"p_verdict"`
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}

type invertedTest struct {
	Confidence float64     `json:"confidence"`
	C          int         `json:"c"`
	Ends       *[2]float64 `json:"ends"`        // none: no such interval
	Wilcox     *[2]float64 `json:"wilcox"`      // R's conf.int, without ties
	MetExactly bool        `json:"met_exactly"` // p can equal 1 - confidence; R's is then one step wider
}

// checkInterval holds an interval to the counted ends and to R's.
func checkInterval(t *testing.T, id string, want invertedTest, lo, hi float64, ok bool, relative, absolute float64) {
	t.Helper()
	if ok != (want.Ends != nil) {
		t.Errorf("%s: interval at %g: ok = %v, want %v", id, want.Confidence, ok, !ok)
		return
	}
	held := []*[2]float64{want.Ends}
	if !want.MetExactly {
		held = append(held, want.Wilcox)
	}
	for _, ends := range held {
		if ends != nil && !(statstest.Near(lo, ends[0], relative, absolute) && statstest.Near(hi, ends[1], relative, absolute)) {
			t.Errorf("%s: interval at %g: [%v, %v], want %v", id, want.Confidence, lo, hi, *ends)
		}
	}
}

type twoSampleCase struct {
	ID     string     `json:"id"`
	Scale  string     `json:"scale"`
	Before []float64  `json:"before"`
	After  []float64  `json:"after"`
	U      float64    `json:"u"`
	Tied   bool       `json:"tied"`
	Exact  exactTails `json:"exact"`
	R      struct {
		Wilcox         [3]*float64 `json:"wilcox"` // two-sided, less, greater
		Coin           [3]*float64 `json:"coin"`
		ExactRankTests *float64    `json:"exactRankTests"`
		Normal         [3]*float64 `json:"normal"` // none: all values the same
	} `json:"r"`
	Estimate  float64        `json:"estimate"`
	Intervals []invertedTest `json:"intervals"`
}

// onScale is what a caller hands in: logarithms on a ratio scale.
func onScale(scale string, values []float64) []float64 {
	if scale != "ratio" {
		return values
	}
	logs := make([]float64, len(values))
	for i, v := range values {
		logs[i] = math.Log(v)
	}
	return logs
}

func TestReferenceTwoSample(t *testing.T) {
	seen := map[string]int{}
	for _, c := range statstest.Answers[twoSampleCase](t, "two-sample.jsonl", 240) {
		m, n := len(c.Before), len(c.After)
		seen[c.Scale]++
		if c.Tied {
			seen["tied"]++
		} else {
			seen["untied"]++
		}
		if m != n {
			seen["unequal sides"]++
		}
		if m == 60 && n == 60 {
			seen["60 and 60"]++
		}
		if m == 2 && n == 2 {
			seen["2 and 2"]++
		}
		x, y := onScale(c.Scale, c.Before), onScale(c.Scale, c.After)

		exact, normal := stats.MannWhitneyExact(x, y), stats.MannWhitneyNormal(x, y)
		if exact.U != c.U || normal.U != c.U {
			t.Errorf("%s: U = %v exact, %v normal, want %v", c.ID, exact.U, normal.U, c.U)
		}
		if !exact.Exact || normal.Exact {
			t.Errorf("%s: Exact = %v of the exact test, %v of the normal one", c.ID, exact.Exact, normal.Exact)
		}
		p := func(what string, got float64, want *float64) {
			t.Helper()
			if want != nil && !statstest.Near(got, *want, relativeP, 0) {
				t.Errorf("%s: %s = %v, want %v (off by %.1e of it)", c.ID, what, got, *want, math.Abs(got / *want - 1))
			}
		}
		p("P, counted", exact.P, &c.Exact.P)
		p("PUsed, counted", exact.PUsed, &c.Exact.PUsed)
		p("Lower, counted", exact.Lower, &c.Exact.Lower)
		p("Upper, counted", exact.Upper, &c.Exact.Upper)
		for who, r := range map[string][3]*float64{"wilcox.test": c.R.Wilcox, "coin": c.R.Coin} {
			p("P, "+who, exact.P, r[0])
			p("Lower, "+who, exact.Lower, r[1])
			p("Upper, "+who, exact.Upper, r[2])
		}
		p("P, exactRankTests", exact.P, c.R.ExactRankTests)
		if c.R.Normal[0] == nil {
			seen["all values the same"]++
			if normal.P != 1 || normal.PUsed != 1 { // R: not a number; nothing differs
				t.Errorf("%s: normal P = %v, PUsed = %v of equal values, want 1", c.ID, normal.P, normal.PUsed)
			}
		}
		p("normal P", normal.P, c.R.Normal[0])
		p("normal PUsed", normal.PUsed, c.R.Normal[0]) // the normal one is symmetric
		p("normal Lower", normal.Lower, c.R.Normal[1])
		p("normal Upper", normal.Upper, c.R.Normal[2])

		chosen := stats.MannWhitney(x, y)
		want := normal
		if chosen.Exact {
			want = exact
			seen["chosen exact"]++
		}
		if diff := cmp.Diff(want, chosen); diff != "" {
			t.Errorf("%s: MannWhitney is neither test (-want +got):\n%s", c.ID, diff)
		}

		relative, absolute := relativeEstimate, 0.0
		if c.Scale == "ratio" { // a logarithm's last digit may differ between libraries
			relative, absolute = 0, absoluteLog
		}
		if got := stats.HodgesLehmann(x, y); !statstest.Near(got, c.Estimate, relative, absolute) {
			t.Errorf("%s: HodgesLehmann = %v, want %v", c.ID, got, c.Estimate)
		}
		for _, want := range c.Intervals {
			lo, hi, ok := stats.RankInterval(x, y, want.Confidence)
			checkInterval(t, c.ID, want, lo, hi, ok, relative, absolute)
			if want.MetExactly {
				seen["bar met exactly"]++
			}
			if !ok {
				seen["no interval"]++
			}
		}
	}
	for what, atLeast := range map[string]int{"difference": 100, "ratio": 100, "tied": 100, "untied": 60,
		"unequal sides": 100, "2 and 2": 5, "60 and 60": 5, "all values the same": 3,
		"chosen exact": 200, "bar met exactly": 1, "no interval": 10} {
		if seen[what] < atLeast {
			t.Errorf("%d cases of %q, want at least %d", seen[what], what, atLeast)
		}
	}
}

type signedRankCase struct {
	ID    string     `json:"id"`
	D     []float64  `json:"d"`
	W     float64    `json:"w"`
	Exact exactTails `json:"exact"`
	R     struct {
		W              float64     `json:"w"`
		Normal         *float64    `json:"normal"` // given: too large for the exact test
		Wilcox         *float64    `json:"wilcox"` // without ties and zeros
		Coin           [3]*float64 `json:"coin"`   // Pratt's zeros
		ExactRankTests *float64    `json:"exactRankTests"`
		Student        *[2]float64 `json:"student"` // t.test, 95 %
	} `json:"r"`
	Estimate  float64        `json:"estimate"`
	Intervals []invertedTest `json:"intervals"`
}

func TestReferenceSignedRank(t *testing.T) {
	large := 0
	for _, c := range statstest.Answers[signedRankCase](t, "signed-rank.jsonl", 60) {
		got := stats.SignedRank(c.D)
		if got.W != c.W {
			t.Errorf("%s: W = %v, want %v", c.ID, got.W, c.W)
		}
		if c.R.Normal != nil {
			large++
			if got.Exact || !statstest.Near(got.P, *c.R.Normal, relativeP, 0) {
				t.Errorf("%s: P = %v (exact %v), want the normal %v", c.ID, got.P, got.Exact, *c.R.Normal)
			}
			continue
		}
		if !got.Exact {
			t.Errorf("%s: %d differences are not tested exactly", c.ID, len(c.D))
		}
		for who, want := range map[string]*float64{"counted": &c.Exact.P, "wilcox.test": c.R.Wilcox,
			"coin": c.R.Coin[0], "exactRankTests": c.R.ExactRankTests} {
			if want != nil && !statstest.Near(got.P, *want, relativeP, 0) {
				t.Errorf("%s: P = %v, want %v (%s)", c.ID, got.P, *want, who)
			}
		}
		if !statstest.Near(got.PUsed, c.Exact.PUsed, relativeP, 0) {
			t.Errorf("%s: PUsed = %v, want %v", c.ID, got.PUsed, c.Exact.PUsed)
		}
		if got := stats.WalshMedian(c.D); !statstest.Near(got, c.Estimate, relativeEstimate, 0) {
			t.Errorf("%s: WalshMedian = %v, want %v", c.ID, got, c.Estimate)
		}
		for _, want := range c.Intervals {
			lo, hi, ok := stats.SignedRankInterval(c.D, want.Confidence)
			checkInterval(t, c.ID, want, lo, hi, ok, relativeEstimate, 0)
		}
		if want := c.R.Student; want != nil {
			lo, hi, ok := stats.Student(c.D, 0).Interval(0.95)
			within := 1e-10 * (want[1] - want[0]) // an end may lie near 0
			if !ok || !statstest.Near(lo, want[0], 0, within) || !statstest.Near(hi, want[1], 0, within) {
				t.Errorf("%s: Student = [%v, %v], %v, want %v", c.ID, lo, hi, ok, *want)
			}
		}
	}
	if large == 0 {
		t.Error("no case reaches the normal approximation")
	}
}

type correctionCase struct {
	ID   string    `json:"id"`
	P    []float64 `json:"p"`
	Holm []float64 `json:"holm"`
	BH   []float64 `json:"bh"`
}

func TestReferenceCorrections(t *testing.T) {
	for _, c := range statstest.Answers[correctionCase](t, "corrections.jsonl", 15) {
		holm, bh := stats.Holm(c.P), stats.BenjaminiHochberg(c.P)
		if len(holm) != len(c.P) || len(bh) != len(c.P) {
			t.Fatalf("%s: %d p values give %d and %d", c.ID, len(c.P), len(holm), len(bh))
		}
		for i := range c.P {
			if !statstest.Near(holm[i], c.Holm[i], 1e-14, 0) || !statstest.Near(bh[i], c.BH[i], 1e-14, 0) {
				t.Errorf("%s: p[%d] = %v becomes %v (Holm) and %v (Benjamini-Hochberg), want %v and %v",
					c.ID, i, c.P[i], holm[i], bh[i], c.Holm[i], c.BH[i])
			}
		}
	}
}

type bootstrapCase struct {
	ID         string    `json:"id"`
	Scale      string    `json:"scale"`
	Before     []float64 `json:"before"`
	After      []float64 `json:"after"`
	Confidence float64   `json:"confidence"`
	Boot       struct {
		Resamples int        `json:"resamples"`
		Seeds     int        `json:"seeds"` // boot was run once with each
		Mean      [2]float64 `json:"mean"`  // of the ends over the seeds
		SD        [2]float64 `json:"sd"`
	} `json:"boot"`
	Resamples int         `json:"resamples"` // to draw here
	Lo        [2]float64  `json:"lo"`        // where the lower end may lie, given both Monte-Carlo errors
	Hi        [2]float64  `json:"hi"`
	Listed    *[2]float64 `json:"listed"` // from every possible resample, where they are few
}

// The share of resamples beyond an end is a binomial one, so two runs of R1 and
// R2 resamples differ in it by a standard error of
// sqrt(tail (1 - tail) (1/R1 + 1/R2)). An end must lie between the quantiles of
// boot's estimates that are five of those to each side: 1 chance in 1.7 million
// of a false alarm an end. Five standard deviations of the end itself would
// not do: where estimates come in lumps it is no normal variable.
func TestReferencePercentileInterval(t *testing.T) {
	listed := 0
	for _, c := range statstest.Answers[bootstrapCase](t, "bootstrap.jsonl", 20) {
		x, y := onScale(c.Scale, c.Before), onScale(c.Scale, c.After)
		lo, hi := stats.PercentileInterval(x, y, c.Resamples, 1, (1-c.Confidence)/2)
		if lo < c.Lo[0]-absoluteLog || lo > c.Lo[1]+absoluteLog || hi < c.Hi[0]-absoluteLog || hi > c.Hi[1]+absoluteLog {
			t.Errorf("%s: [%v, %v], want ends in %v and %v (boot: mean %v, sd %v)",
				c.ID, lo, hi, c.Lo, c.Hi, c.Boot.Mean, c.Boot.SD)
		}
		if c.Listed == nil {
			continue
		}
		listed++
		if !statstest.Near(lo, c.Listed[0], 0, absoluteLog) || !statstest.Near(hi, c.Listed[1], 0, absoluteLog) {
			t.Errorf("%s: [%v, %v], want %v from all resamples", c.ID, lo, hi, *c.Listed)
		}
	}
	if listed < 4 {
		t.Errorf("%d cases are small enough to be listed, want at least 4", listed)
	}
}
