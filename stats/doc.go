// Package stats holds the numerics of comparing repeated measurements: rank tests,
// the pairwise estimate and its intervals, corrections for many tests,
// changes of level over time, exact bounds of failure rates, and integrals
// and quantiles over time. Package plan says how many values a comparison takes and
// what it would miss; package check looks for faults in runs.
//
// Functions take slices of values and return numbers. They know nothing of files,
// profiles or verdicts. Functions of two samples take the side before the change
// first, the side after it second, and return after minus before. On a ratio scale
// the caller passes logarithms, so that a change is the logarithm of a ratio. No
// function changes its arguments, except Sort. Unless a comment says otherwise,
// values must be finite; functions that sort panic on NaN.
//
// # A decision
//
// For two independent sides HodgesLehmann gives the estimate, MannWhitney the test,
// and ChangeInterval the interval. A change is real where the test's PUsed is at
// most 1 - confidence and 0 lies outside the interval (see example_test.go). Of
// several that are judged together FamilyP has to be at most 1 - confidence as well,
// and SimultaneousIntervals hold for whichever of them is picked. For differences
// within blocks these are WalshMedian, SignedRank and SignedRankInterval, and for
// fewer blocks than the signed-rank test needs Student. Several quantities are pooled
// by summing up what was measured together before any of this; for two to four such
// sums a side there is WelchInterval.
//
// # The rules and their reasons
//
// Test: exact, given the ties. The null distribution is counted on the integer 2U:
// by the recurrence of Harding (Applied Statistics 33:1-6, 1984) without ties, and
// by the shift algorithm of Streitberg and Röhmel (1986), one group of ties at a
// time, with them. Few tied values against many (6 against 250 and more) are not counted
// but transformed: the same distribution to within 1e-13, by Newton's identities at
// the roots of unity, in a twentieth of the time for 6 against 2,000; a p below 1e-12
// is given as 1e-12 there. It is normal beyond about 270 values a side without ties,
// 100 with, and 6 against 3,700. With ties and sides of unequal size the distribution
// is not symmetric, so decisions use PUsed, the larger of the two-sided p and twice the
// smaller tail.
//
// Estimate: the median of all pairwise differences (Hodges and Lehmann 1963). In
// normal noise it is nearly as precise as the mean, and an outlier hardly moves it.
//
// Interval: the inverted rank test joined with the percentile bootstrap
// (ChangeInterval). The exact test has few levels (5 and 5 values reject at 3.2 or
// at 5.6 %), so the inversion interpolates between the two around the level asked
// for. Its ends move out where the sides spread unequally (SpreadInversion). The
// bootstrap adds a few per cent of width, which 20 and 5 skewed values of unequal
// spread need. The test as a whole would widen intervals of 5 and 5 values by 13 %;
// so where the test keeps 0 the interval is stretched to reach 0, and no farther.
// fixtures/study/README.md compares this rule with others by simulation.
//
// Large samples: above BootstrapLimit values the normal limit of the bootstrap is
// used, with the variance of Fligner and Policello (JASA 76:162-168, 1981).
//
// Coarse readings: the step is what most readings share (Resolution), so that a few
// written with more digits change nothing; a side logged finer has its own
// (Resolutions). Equal readings are spread evenly over their step before the
// interval is made (SpreadTies). Otherwise both ends would be whole steps, however
// many readings there are. Estimate and test keep the readings. Where the spread is
// below about 0.7 steps the ends also move out by what rounding can add
// (RoundingAllowance); differences within blocks move out by half a step or a whole
// one (CoarseWidening).
//
// Blocks: values are compared within their block only, one difference a block,
// whatever was measured in it. Ranking the values inside blocks instead (van Elteren
// 1960) takes a change that differs from block to block for a real one: with a
// standard deviation of twice the noise it raised 10 to 33 % false alarms. Fewer than
// 6 differences cannot reach 5 % in the signed-rank test; Student's test then serves
// and rests on normal noise.
//
// Families: FamilyP permutes whole sessions for all members together and steps down
// through Welch's p (Welch 1947; Westfall and Young 1993). The exact rank test of 4
// and 4 values reaches 2/70 at best, and Holm's method (1979) needs 0.05/24 among 24.
// The smallest Welch's p of all 24 has one distribution over the assignments, so 4
// and 4 sessions settle 6 standard deviations among 24 in about four of five cases.
// Permuting guards against noise that is not normal and against unequal sizes. Where
// spreads differ it rejects too often (17 % among 24 at 6 + 6 and 1:3), where Sidak's
// bound (1967) on Welch's p does not (7 %). That bound everywhere costs up to 17
// points of power where members share luck. So it counts only where a liberal test
// sees the spreads of a group differ; at spreads of 1:2 and 1:3 this adds at most
// half a point of false alarms. Elsewhere, where sizes are 1.5 or more apart, Student's
// pooled variance takes the place of Welch's: 3 standard deviations among 24 at 4 + 12
// are then found in 75 % instead of 34. Own p are the common scale of groups, since |t| of
// 4 and 4 and of 12 and 12 sessions are not alike.
//
// In a family a member that lacks a session belongs to another group. Ties count as
// they are. Equal constant sides have a p of 1. Unequal ones are as far apart as
// their step says, without a step as rare as their assignment.
//
// Intervals of families: the quantile of the largest |t| over the assignments of
// centred values, times each member's own standard error. They cover all members in
// 93 to 98 % at 4 + 4 to 8 + 8 sessions, and are 1.4 to 2.4 times as wide as single
// ones among 12 and 24.
//
// Changes of level: ChangePoints splits a sequence at the largest standardized rank
// sum, with a permutation null, and shares the level out by length. The comment of
// ChangePoints has the argument, and what breaks it.
//
// Time: Trapezoid is exact for straight pieces, with compensated sums.
// WeightedQuantiles is exact up to 4,096 distinct values, and states its error
// beyond.
//
// # Reproducibility
//
// The same arguments give the same result to the last bit, on any number of cores.
// Every function that draws takes a seed or has a fixed one, and draws in chunks
// that have a generator each. The two sides are put into a fixed order before
// anything is drawn, so that swapping them mirrors the result exactly. Small samples
// are not drawn: up to 250,000 distinct resamples (6 and 6 values) and 20,000
// assignments are enumerated. What depends on sizes and the seed alone is kept for
// the next call; this changes no result.
//
// # Cost
//
// With m and n values and R resamples:
//
//   - exact test: m n min(m, n) steps, times m + n with ties, once for all samples
//     of the same sizes and ties; of few tied values against many m n (min(m, n) + 60)
//   - estimate, and any rank among the differences: (m + n) log(m + n)
//   - family: (m + n) / 8 sums for each assignment and member, and few tails of
//     Student's distribution; 1,000 members of 10 + 10 take about 0.2 s of one core
//   - bootstrap: R (m + n) draws, once for all samples of the same sizes, then 2 R m
//     sums a sample; only resamples whose median can lie beyond the inverted test
//     are worked out
//
// # How it is tested
//
// reference_test.go and its sisters compare results with R and SciPy,
// published_test.go with printed examples, and other tests with plain counting of
// all cases. coverage_test.go simulates coverage and false alarms.
package stats
