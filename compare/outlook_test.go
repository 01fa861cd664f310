package compare_test

import (
	"fmt"
	"math"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/stats/plan"
)

// seconds is the change of the logarithm of a time that is shown as a loss of
// speed of the given size.
func seconds(loss float64) float64 { return -math.Log1p(-loss) }

// pilots are many comparisons of a time in s, without a true change, planned
// as the program plans.
func pilots(t *testing.T, s comparetest.Sitting, policy compare.Policy, n int, seed uint64) []*compare.Result {
	t.Helper()
	before, after := s.Simulated(n, comparetest.NoiseShapes[0].Draw, seed)
	c, err := compare.Compare(before, after, comparetest.Names, policy, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return c.Results
}

// planned is how many pilots a chance is averaged over, and how often each is
// followed: with 200 pilots of 4 comparisons the standard error of a chance of
// 80 % is 1.8 points, pilots being as different as they are.
func planned() (pilots, each int) {
	if comparetest.RaceEnabled {
		return 8, 2
	}
	return 200, 4
}

// caughtWithin holds a share between bounds, less one standard error. Under
// the race detector there are too few to check.
func caughtWithin(t *testing.T, what string, caught, tries int, least, most float64) {
	t.Helper()
	share := float64(caught) / float64(tries)
	t.Logf("%s: %.1f %% of %d", what, 100*share, tries)
	if (share < least-0.018 || share > most+0.018) && !comparetest.RaceEnabled {
		t.Errorf("%s: %.1f %%, want %v to %v %%", what, 100*share, 100*least, 100*most)
	}
}

// A true loss of the size of a comparison's blind spot is caught, that is a
// regression, by four in five of comparisons like it.
func TestBlindSpotIsCaughtFourTimesInFive(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	t.Parallel()
	n, each := planned()
	for i, c := range []struct {
		comparetest.Sitting
		tolerance float64
	}{
		{comparetest.Sitting{Sessions: 5, Runs: 3, Unit: "s"}, 0},
		{comparetest.Sitting{Sessions: 8, Runs: 3, Unit: "s"}, 0},
		{comparetest.Sitting{Sessions: 15, Runs: 3, Unit: "s"}, 0},
		{comparetest.Sitting{Sessions: 8, Runs: 3, Unit: "s"}, 0.5},
	} {
		policy := comparetest.Tolerating(comparetest.Uncorrected, c.tolerance)
		caught, tries := 0, 0
		var before, after []*compare.Series
		for k, r := range pilots(t, c.Sitting, policy, n, uint64(300+i)) {
			if r.BlindSpot == nil || *r.BlindSpot <= c.tolerance/100 {
				t.Fatalf("%d sessions: blind spot %v", c.Sessions, r.BlindSpot)
			}
			next := c.Sitting
			next.Change = seconds(*r.BlindSpot)
			b, a := next.Simulated(each, comparetest.NoiseShapes[0].Draw, uint64(1000*(i+1)+k))
			before, after = append(before, b...), append(after, a...)
		}
		for _, r := range comparetest.Verdicts(t, numbered(before), numbered(after), policy) {
			tries++
			if *r.Verdict == compare.Regression {
				caught++
			}
		}
		caughtWithin(t, fmt.Sprintf("blind spots of %d sessions, tolerance %v %%", c.Sessions, c.tolerance), caught, tries, 0.75, 0.85)
	}
}

// As many sessions as a comparison asks for find a change of its tolerance
// real in four of five cases. Six sessions tell their spread badly, and the
// advice is the more careful for it: 88 % were measured.
func TestNeededSessionsSettle(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	t.Parallel()
	n, each := planned()
	for i, c := range []struct {
		comparetest.Sitting
		most float64
	}{
		{comparetest.Sitting{Sessions: 6, Runs: 1, Unit: "s", Noise: 0.004}, 0.88},
		{comparetest.Sitting{Sessions: 30, Runs: 3, Unit: "s", Noise: 0.01}, 0.85},
	} {
		settled, tries, asked := 0, 0, 0
		var before, after []*compare.Series
		for k, r := range pilots(t, c.Sitting, comparetest.Uncorrected, n, uint64(400+i)) {
			if r.Need(compare.ToSettle) == nil {
				continue // a few of them are settled by luck
			}
			asked++
			if n := r.Need(compare.ToSettle); n.Change != 0.005 || n.Size < r.MinSampleSize {
				t.Fatalf("%d sessions for %v", n.Size, n.Change)
			}
			next := c.Sitting
			next.Sessions, next.Change = r.Need(compare.ToSettle).Size, seconds(0.005)
			b, a := next.Simulated(each, comparetest.NoiseShapes[0].Draw, uint64(5000*(i+1)+k))
			before, after = append(before, b...), append(after, a...)
		}
		// The pilot was the first of two looks.
		second := comparetest.Uncorrected
		second.Confidence = 1 - plan.TwoLooksLevel(0.05)
		for _, r := range comparetest.Verdicts(t, numbered(before), numbered(after), second) {
			tries++
			if r.Real {
				settled++
			}
		}
		if asked < n/2 {
			t.Errorf("%d of %d pilots asked for more", asked, n)
		}
		caughtWithin(t, fmt.Sprintf("sessions asked for after %d", c.Sessions), settled, tries, 0.75, c.most)
	}
}

// numbered gives each series a benchmark of its own.
func numbered(series []*compare.Series) []*compare.Series {
	for i, s := range series {
		s.Benchmark = fmt.Sprint("scene-", i)
	}
	return series
}

// More of the same narrows the blind spot, and a coarser tolerance asks for
// fewer sessions. Nothing is planned where nothing varies or one value stands
// alone.
func TestPlansMoveTheRightWay(t *testing.T) {
	t.Parallel()
	spots := map[int]float64{}
	for _, size := range []int{4, 8, 16, 32} {
		sum := 0.0
		for _, r := range pilots(t, comparetest.Sitting{Sessions: size, Runs: 1, Unit: "s"}, comparetest.Tolerating(comparetest.Uncorrected, 0),
			20, 500) {
			sum += *r.BlindSpot
		}
		spots[size] = sum / 20
	}
	if !(spots[4] > spots[8] && spots[8] > spots[16] && spots[16] > spots[32]) {
		t.Errorf("blind spots by sessions: %v", spots)
	}
	before, after := comparetest.Numbers("s", 400, 412, 405, 409, 398, 411), comparetest.Numbers("s", 401, 413, 404, 410, 399, 412)
	last := math.MaxInt
	for _, tolerance := range []float64{0.5, 1, 2} {
		r := resultOf(t, before, after, comparetest.Tolerating(compare.Policy{}, tolerance), compare.Options{})
		n := r.Need(compare.ToSettle)
		if n == nil || n.Size >= last {
			t.Fatalf("a tolerance of %v %% needs %v, less than %d", tolerance, n, last)
		}
		last = n.Size
	}
	for _, c := range [][2][]float64{{{60, 60, 60, 60}, {61, 61, 61, 61}}, {{60}, {61, 62, 63, 64}}} {
		r := resultOf(t, comparetest.Numbers("fps", c[0]...), comparetest.Numbers("fps", c[1]...), compare.Policy{}, compare.Options{})
		if r.Need(compare.ToSettle) != nil || r.BlindSpot != nil {
			t.Errorf("%v: needs %v, blind spot %v", c, r.Needs, r.BlindSpot)
		}
	}
	// Info is never planned for, a settled score neither.
	clock := resultOf(t, comparetest.Numbers("MHz", slower...), comparetest.Numbers("MHz", slower...), compare.Policy{}, compare.Options{})
	settled := resultOf(t, comparetest.Numbers("s", slower...), comparetest.Numbers("s", faster...), compare.Policy{}, compare.Options{})
	if clock.BlindSpot != nil || clock.Needs != nil || settled.Needs != nil || settled.BlindSpot == nil {
		t.Errorf("clock %v %v, settled %v %v", clock.BlindSpot, clock.Needs, settled.BlindSpot, settled.Needs)
	}
}

// The picture of plans agrees with the advice: at the number that is needed the
// chance reaches four in five, and one fewer does not do.
func TestProspectsAgreeWithTheAdvice(t *testing.T) {
	before := comparetest.InSessions("s", "F", []float64{412}, []float64{409}, []float64{415}, []float64{411}, []float64{418})
	after := comparetest.InSessions("s", "B", []float64{410}, []float64{412}, []float64{414}, []float64{409}, []float64{416})
	c := comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{Resamples: 1000})
	r := c.Results[0]
	if r.Need(compare.ToSettle) == nil {
		t.Fatal("nothing is needed")
	}
	n := r.Need(compare.ToSettle).Size
	got, ok := r.Prospects([]int{5, n - 1, n})
	if !ok || got[1].Chance >= 0.8 || got[2].Chance < 0.8 || got[0].Chance >= got[2].Chance {
		t.Errorf("needed %d, foreseen %v", n, got)
	}
	if half := (r.Interval[1] - r.Interval[0]) / 2; math.Abs(got[0].Half-half) > 0.5*half {
		t.Errorf("half the width %v, foreseen for as many %v", half, got[0].Half)
	}
	if got[2].Half >= got[0].Half {
		t.Errorf("more sessions do not narrow the interval: %v", got)
	}
	clock := comparetest.Judged(t, comparetest.Numbers("MHz", 1, 2, 3, 4), comparetest.Numbers("MHz", 1, 2, 3, 5), compare.Policy{},
		compare.Options{Resamples: 1000}).Results[0]
	if _, ok := clock.Prospects([]int{5}); ok {
		t.Error("what is never judged has prospects")
	}
}
