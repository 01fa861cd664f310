package stats

import "tunegate/stats/internal/numeric"

// Sort sorts ascending, many values faster than slices.Sort and those that are
// in order already in one look. No value may be NaN.
func Sort(x []float64) { numeric.Sort(x) }
