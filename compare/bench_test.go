package compare_test

import (
	"fmt"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// What a value costs on its way into its series, with labels of its own and
// without.
func BenchmarkRunsAdd(b *testing.B) {
	const values = 100_000
	for name, label := range map[string]func(i int) string{"bare": func(int) string { return "" },
		"labelled": func(i int) string { return fmt.Sprint(i % 50) }} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				var runs compare.Runs
				for i := range values {
					if err := runs.Add(compare.Value{Benchmark: "tile-render", Unit: "s", Run: label(i), Value: float64(i)}); err != nil {
						b.Fatal(err)
					}
				}
				runs.Series()
			}
			b.ReportMetric(float64(values)*float64(b.N)/b.Elapsed().Seconds(), "values/s")
		})
	}
}

// A whole comparison at sizes where resampling ends.
func BenchmarkLongSeries(b *testing.B) {
	for _, size := range []struct{ benchmarks, runs int }{{20, 1000}, {1, 20_000}} {
		before, after := comparetest.LongSides(b, size.benchmarks, size.runs)
		name := fmt.Sprintf("%d of %d", size.benchmarks, size.runs)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := compare.Compare(before, after, comparetest.Names, compare.Policy{}, compare.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
