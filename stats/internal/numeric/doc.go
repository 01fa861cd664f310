// Package numeric holds what stats, stats/plan and stats/check share: order,
// moments, distributions, the differences of two samples, counts of orderings,
// and memos. Values must be finite; functions that put them in order panic on
// NaN.
package numeric
