// Package check tests whether runs are what a comparison assumes: independent, from
// one distribution, and measured once.
//
// It looks for a drift (MannKendall), for runs that resemble the one before
// (Lag1Test), a run far out (Outlier, ModifiedZ), two modes (TwoModes), sessions
// that differ by more than their runs (SessionsApart), copied values (Repeats,
// RepeatedStretch). Most functions take the runs of one side: a slice a session, in run
// order. A side without sessions is one session.
//
// # The rules and their reasons
//
// Runs are compared within their session, so that differences between sessions are
// no finding of a drift, a dependence, an outlier or a mode.
//
// Outlier and TwoModes report the largest p of several kinds of noise that have no
// fault (normal, exponential and Student's t; uniform instead of normal for modes): a long natural
// tail is no outlier. The scores were chosen by simulation: of those that keep their
// level in all of them, the one that finds most. The other checks permute the runs, or
// rest on sums, and keep their level in these kinds of noise as they are
// (TestChecksTogetherOnCleanSeries).
//
// p is the chance that runs without the fault look at least as faulty. For less than
// 500 values p values come from counting or drawing. Drawing stops early
// where nothing is there (Besag and Clifford, Biometrika 78:301-304, 1991), keeps its
// level whatever the number of draws, and starts from a fixed seed. The smallest p is
// 1 in 10,000.
//
// From 500 values on p values come from limiting distributions, unless a few values carry the result.
// For dependence and a common effect the first three moments over all orders are
// exact, and a gamma curve through them gives p (Pearson's type III; Mielke and Berry
// 2007). For modes it is that of the score; outliers have a score of their own there.
// Tests hold all to drawing, to a tenth of p.
package check
