package stats_test

import (
	"fmt"
	"math"

	"tunegate/stats"
)

// Did a change make a render faster? Times are on a ratio scale, so their
// logarithms are compared. The change is real where the test rejects "no change"
// and the interval leaves out 0.
func Example() {
	before := []float64{412.4, 409.1, 415.0, 411.2, 413.7}
	after := []float64{402.9, 405.2, 401.3, 399.6, 403.1}
	x, y := logs(before), logs(after)

	const confidence = 0.95
	change := stats.HodgesLehmann(x, y)
	test := stats.MannWhitney(x, y)
	interval, ok := stats.ChangeInterval(x, y, confidence, stats.DefaultResamples, 1)
	if !ok {
		fmt.Println("too few values for an interval")
		return
	}
	fmt.Printf("p = %.4f\n", test.PUsed)
	fmt.Printf("change of time: %+.2f %% (%+.2f to %+.2f %%)\n",
		100*math.Expm1(change), 100*math.Expm1(interval.Lo), 100*math.Expm1(interval.Hi))
	fmt.Println("real:", test.PUsed <= 1-confidence && (interval.Lo > 0 || interval.Hi < 0))
	// Output:
	// p = 0.0079
	// change of time: -2.36 % (-3.15 to -1.50 %)
	// real: true
}

func logs(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.Log(v)
	}
	return out
}

// Three values against three settle nothing at 95 %, however far apart they are.
func ExampleSmallestP() {
	fmt.Println(stats.SmallestP(3, 3))
	fmt.Printf("%.4f\n", stats.SmallestP(4, 4))
	// Output:
	// 0.1
	// 0.0286
}

// Three tests at once. The correction keeps the chance of any false alarm among
// them at the level of one test.
func ExampleHolm() {
	fmt.Println(stats.Holm([]float64{0.01, 0.04, 0.5}))
	// Output:
	// [0.03 0.08 0.5]
}
