// Package compare decides whether a change of a machine's settings changed what
// its benchmarks measure, from repeated runs of two profiles: before and after.
//
// A Value is one row as it was read. Runs collects values into one Series for each
// metric of a profile. A Policy says what the owner has decided: tolerances,
// roles, weights, and the correction for several scores. Compare takes the series
// of both sides and returns a Comparison. It makes one in stages, each of which
// returns a new value and changes nothing that an earlier one made:
//
//   - Pairing (PairUp): which metrics both sides have. Each Pair holds the runs of
//     one metric, reduced to what counts once: runs, sessions or blocks.
//   - Measurement (Pair.Measure): change, interval and test of one metric. It
//     depends on its own runs only, and so can be computed anywhere.
//   - Judgement (Terms.Judge; TermsOf makes the Terms of a policy: confidence,
//     correction, resamples): the p values of measurements that are judged
//     together, corrected for each other, and a Verdict for each.
//   - Outlook (Measurement.Outlook): the loss that these runs could not have seen,
//     and how many runs would settle the tolerance.
//   - Result (Terms.Results): one metric's measurement, judgement and outlook, with
//     notes on what a reader should know about them.
//   - Comparison (Compare): all results, the suite and the workload classes.
//
// Most programs call Compare alone. The packages below this one use the stages:
// gate, ladder, claims and history judge more than two profiles, doubts looks for
// faults in the runs, advice plans further ones, readings makes runs of monitoring
// logs, intake reads files, and report writes results. A caller that wants the
// numerics only, without metrics and policies, uses tunegate/stats.
//
// On a ratio scale (times, rates, watts) a change is a fraction, 0.0243 for
// +2.43 %; on an interval scale (degrees Celsius, decibels) it is a difference in
// the metric's unit. Changes of scores are turned so that plus is better. Those of
// costs and of information keep their natural sign.
//
// # What is stable
//
// The words of Verdict, Role, Better, Scale, Correction and Replication, and the
// fields of Value and Policy, keep their names and meaning: files, policies and
// the JSON output use them. So do Runs, Compare, and Comparison with the exported
// fields of its results. The same input gives the same results to the last bit,
// on any number of cores. The functions of the single stages, notes, and
// everything that other packages of this module need of this one may change with
// any release.
//
// Functions return errors for bad input and do not panic on it. An error about a
// value that was read from a file is a *PlacedError. A Comparison may be read from
// several goroutines, but not a Runs while values are added.
package compare
