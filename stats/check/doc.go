// Package check holds tests of whether runs are what their comparison takes them
// for: a drift (MannKendall), runs that resemble the one before (Lag1Test), a run
// far out (Outlier, ModifiedZ), two modes (TwoModes), sessions apart
// (SessionsApart), copied values (Repeats, RepeatedStretch), and luck that several
// quantities share (SharedLuck). Most take the runs of one side, a slice a session
// in run order; a side without sessions is one.
package check
