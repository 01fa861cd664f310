package stats

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// integrate reads f at the given times and integrates it.
func integrate(f func(float64) float64, times []float64) *Trapezoid {
	var sum Trapezoid
	for i := 1; i < len(times); i++ {
		sum.Add(times[i]-times[i-1], f(times[i-1]), f(times[i]))
	}
	return &sum
}

func evenTimes(from, to float64, steps int) []float64 {
	t := make([]float64, steps+1)
	for i := range t {
		t[i] = from + (to-from)*float64(i)/float64(steps)
	}
	return t
}

// Integrals that calculus answers, within the rule's bound
// h^2/12 (b - a) max|g|, g the second derivative: over one step from p to p+h,
// f(x) less its chord is g(c)/2 (x-p)(x-p-h) for a c in the step, and the
// integral of (x-p)(p+h-x)/2 is h^3/12. A constant and a ramp have no second
// derivative and are exact.
func TestTrapezoidAnalytic(t *testing.T) {
	const omega = 2 * math.Pi / 7
	for _, c := range []struct {
		name           string
		f              func(float64) float64
		from, to, want float64
		curve          float64 // max |f''|
	}{
		{"constant", func(float64) float64 { return 187.5 }, 0, 400, 75_000, 0},
		{"ramp", func(x float64) float64 { return 40 + 0.5*x }, 0, 400, 40*400 + 0.25*400*400, 0},
		{"sine", func(x float64) float64 { return 180 + 20*math.Sin(omega*x) }, 0, 100,
			180*100 + 20/omega*(1-math.Cos(omega*100)), 20 * omega * omega},
		{"parabola", func(x float64) float64 { return x * x }, 0, 3, 9, 2},
	} {
		for _, steps := range []int{10, 100, 1000, 10_000} {
			h := (c.to - c.from) / float64(steps)
			bound := h * h / 12 * (c.to - c.from) * c.curve
			sum := integrate(c.f, evenTimes(c.from, c.to, steps))
			if off := math.Abs(sum.Integral() - c.want); off > bound+1e-12*c.want {
				t.Errorf("%s in %d steps: off by %v, bound %v", c.name, steps, off, bound)
			}
			if math.Abs(sum.Width()-(c.to-c.from)) > 1e-12*c.to {
				t.Errorf("%s: width %v", c.name, sum.Width())
			}
		}
	}
}

// The bound of the rule is reached by a parabola, whose second derivative is
// the same everywhere: the error is h^2/12 (b - a) 2 and not less, so a rule
// that were better, or worse, than it says would show.
func TestTrapezoidErrorIsTheRules(t *testing.T) {
	for _, steps := range []int{5, 50} {
		h := 3 / float64(steps)
		off := integrate(func(x float64) float64 { return x * x }, evenTimes(0, 3, steps)).Integral() - 9
		if want := h * h / 12 * 3 * 2; math.Abs(off-want) > 1e-12 {
			t.Errorf("%d steps: off by %v, want %v", steps, off, want)
		}
	}
}

// Time counts, not the number of readings: 10 s at 100 W read once a second and
// 10 s at 200 W read ten times a second have a mean of 150 W.
func TestTrapezoidWeighsByTime(t *testing.T) {
	var sum Trapezoid
	for range 10 {
		sum.Add(1, 100, 100)
	}
	for range 100 {
		sum.Add(0.1, 200, 200)
	}
	if got := sum.Mean(); math.Abs(got-150) > 1e-12 {
		t.Errorf("mean %v, want 150", got)
	}
	if got := (&Trapezoid{}).Mean(); !math.IsNaN(got) {
		t.Errorf("mean of nothing is %v, want NaN", got)
	}
}

// A day at ten readings a second adds up without drift.
func TestTrapezoidKeepsItsPlaces(t *testing.T) {
	var sum Trapezoid
	for range 864_000 {
		sum.Add(0.1, 187.3, 187.3)
	}
	if want := 86_400 * 187.3; math.Abs(sum.Integral()-want) > 1e-14*want {
		t.Errorf("integral %.17g, want %.17g", sum.Integral(), want)
	}
	if got := sum.Mean(); math.Abs(got-187.3) > 1e-13 {
		t.Errorf("mean %.17g, want 187.3", got)
	}
}

func TestTrapezoidProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "n")
		v := rapid.SliceOfN(rapid.Float64Range(-1e3, 1e3), n+1, n+1).Draw(t, "v")
		w := rapid.SliceOfN(rapid.Float64Range(0, 100), n, n).Draw(t, "w")
		var sum, split, back Trapezoid
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := range n {
			sum.Add(w[i], v[i], v[i+1])
			middle := v[i]/2 + v[i+1]/2
			split.Add(w[i]/2, v[i], middle)
			split.Add(w[i]/2, middle, v[i+1])
			back.Add(w[n-1-i], v[n-i], v[n-1-i])
			lo, hi = min(lo, v[i], v[i+1]), max(hi, v[i], v[i+1])
		}
		scale := 1e-12 * (1 + sum.Width()*1e3)
		if math.Abs(sum.Integral()-split.Integral()) > scale || math.Abs(sum.Integral()-back.Integral()) > scale {
			t.Errorf("whole %v, in halves %v, backwards %v", sum.Integral(), split.Integral(), back.Integral())
		}
		if m := sum.Mean(); sum.Width() > 1e-6 && (m < lo-1e-9 || m > hi+1e-9) {
			t.Errorf("mean %v outside %v to %v", m, lo, hi)
		}
	})
}
