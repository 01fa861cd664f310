// Package stats holds the numerics: rank tests, the pairwise estimate, its
// intervals, corrections for many tests, changes of level, and integrals and
// quantiles over time. Package plan below it says how many runs a comparison takes
// and what it would miss; package check looks for faults in runs.
//
// Functions take slices of values and return numbers. They know nothing of
// files, profiles or verdicts. Two-sample functions take the side before the
// change first, the side after it second, and speak of after minus before;
// a caller on a ratio scale hands in logarithms. No argument is changed.
// Unless a comment says otherwise values must be finite; functions that put them
// in order panic on NaN.
package stats
