package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// longSides are two sides of so many benchmarks of so many runs each.
func longSides(b *testing.B, benchmarks, runs int) (before, after []*Series) {
	b.Helper()
	g := rand.New(rand.NewPCG(1, 2))
	var sides [2]Runs
	for side := range sides {
		for k := range benchmarks {
			for range runs {
				v := Value{Profile: []string{factory, boost}[side], Benchmark: fmt.Sprint("scene-", k), Unit: "s", Value: math.Round(1e8*math.Exp(0.01*g.NormFloat64())) / 1e6}
				if err := sides[side].Add(v); err != nil {
					b.Fatal(err)
				}
			}
		}
	}
	return sides[0].Series(), sides[1].Series()
}

// What a value costs on its way into its series, with labels of its own and
// without.
func BenchmarkRunsAdd(b *testing.B) {
	const values = 100_000
	for name, label := range map[string]func(i int) string{"bare": func(int) string { return "" }, "labelled": func(i int) string { return fmt.Sprint(i % 50) }} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				var runs Runs
				for i := range values {
					if err := runs.Add(Value{Benchmark: "tile-render", Unit: "s", Run: label(i), Value: float64(i)}); err != nil {
						b.Fatal(err)
					}
				}
				runs.Series()
			}
			b.ReportMetric(float64(values)*float64(b.N)/b.Elapsed().Seconds(), "values/s")
		})
	}
}

// A whole comparison, and what vet takes of it, at sizes where resampling ends.
func BenchmarkLongSeries(b *testing.B) {
	for _, size := range []struct{ benchmarks, runs int }{{20, 1000}, {1, 20_000}} {
		before, after := longSides(b, size.benchmarks, size.runs)
		name := fmt.Sprintf("%d of %d", size.benchmarks, size.runs)
		b.Run("compare "+name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Compare(before, after, [2]string{factory, boost}, Policy{}, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run("vet "+name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Vet(before, Policy{}, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
