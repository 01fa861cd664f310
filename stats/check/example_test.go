package check_test

import (
	"fmt"

	"tunegate/stats/check"
)

// Frame rates that fall while the machine heats up.
func ExampleMannKendall() {
	runs := []float64{144.1, 143.8, 143.9, 143.2, 143.0, 142.6, 142.7, 142.1}
	_, tau, p := check.MannKendall([][]float64{runs})
	fmt.Printf("tau %.2f, p = %.4f\n", tau, p)
	// Output:
	// tau -0.86, p = 0.0017
}

// One run of 20 was hit by something else.
func ExampleOutlier() {
	runs := []float64{50.1, 50.3, 49.9, 50.0, 50.2, 50.4, 49.8, 50.1, 50.0, 50.2, 49.7, 50.3, 50.1, 49.9, 50.2, 58.3, 50.0, 49.8, 50.1, 50.2}
	at, _, p := check.Outlier([][]float64{runs})
	fmt.Printf("run %d: %.1f, p = %.4f\n", at+1, runs[at], p)
	// Output:
	// run 16: 58.3, p = 0.0001
}
