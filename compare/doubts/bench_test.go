package doubts

import (
	"fmt"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// A whole check at sizes of long logs.
func BenchmarkLongSeries(b *testing.B) {
	for _, size := range []struct{ benchmarks, runs int }{{20, 1000}, {1, 20_000}} {
		series, _ := comparetest.LongSides(b, size.benchmarks, size.runs)
		b.Run(fmt.Sprintf("%d of %d", size.benchmarks, size.runs), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Check(series, compare.Policy{}, compare.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
