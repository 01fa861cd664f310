package comparetest

import (
	"fmt"
	"testing"

	"tunegate/compare"
)

// Scattered is a profile of three benchmarks in six sessions, level seconds and
// some more each.
func Scattered(t failer, profile string, level float64) []*compare.Series {
	t.Helper()
	var values []compare.Value
	for k := range 6 {
		for _, benchmark := range []string{"tile-render", "mesh-solve", "shader-build"} {
			values = append(values, compare.Value{Benchmark: benchmark, Unit: "s", Session: fmt.Sprint(k), Value: level + float64(k*k)})
		}
	}
	return SeriesOf(t, profile, values)
}

// WantRisingProgress fails where work does not report its beginning, every piece
// of work and its end, or reports less than before.
func WantRisingProgress(t *testing.T, work func(compare.Options) error) {
	t.Helper()
	calls, last, total := 0, -1, 0
	tell := func(done, of int) {
		if done < last || done > of || calls > 0 && of != total {
			t.Errorf("%d of %d after %d of %d", done, of, last, total)
		}
		calls, last, total = calls+1, done, of
	}
	if err := work(compare.Options{Resamples: 1000, Progress: tell}); err != nil {
		t.Fatal(err)
	}
	if calls < 4 || last != total {
		t.Errorf("reported %d times, %d of %d last", calls, last, total)
	}
}
