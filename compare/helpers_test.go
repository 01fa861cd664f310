package compare_test

import (
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Two sides of five times, 10 s apart.
var (
	slower = []float64{411.1, 412.3, 410.9, 413.2, 411.8}
	faster = []float64{401.1, 402.3, 400.9, 403.2, 401.8}
)

// resultOf is the result of a comparison of one metric.
func resultOf(t testing.TB, before, after []compare.Value, policy compare.Policy, opt compare.Options) *compare.Result {
	t.Helper()
	return comparetest.Only(t, comparetest.Judged(t, before, after, policy, opt))
}

func pointer(v float64) *float64 { return &v }
