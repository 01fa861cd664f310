package plan_test

import (
	"fmt"

	"tunegate/stats/plan"
)

// What could a pilot of six values a side have seen, and how many would it take
// to see a loss of 1? The values are frames per second, so less is a loss.
func Example() {
	before := []float64{143.1, 144.0, 142.2, 143.5, 144.6, 142.8}
	after := []float64{143.6, 142.7, 144.2, 143.0, 144.9, 143.3}
	p := plan.New(plan.Samples(before, after), plan.Design{Confidence: 0.95, CriticalP: 0.05, Power: 0.8})

	if loss, ok := p.BlindSpot(0); ok {
		fmt.Printf("a loss of %.1f fps would have been found real in 80 %%\n", loss)
	}
	if n, ok := p.Size(1, 0); ok {
		fmt.Printf("a loss of 1 fps takes %d values a side\n", n)
	}
	if n, ok := p.Precision(0.5); ok {
		fmt.Printf("an interval of plus or minus 0.5 fps takes %d values a side\n", n)
	}
	// Output:
	// a loss of 1.7 fps would have been found real in 80 %
	// a loss of 1 fps takes 16 values a side
	// an interval of plus or minus 0.5 fps takes 23 values a side
}

func ExampleMinSampleSize() {
	fmt.Println(plan.MinSampleSize(0.05))
	fmt.Println(plan.MinSampleSize(0.05 / 8)) // one of eight scores under Holm's correction
	// Output:
	// 4
	// 6
}
