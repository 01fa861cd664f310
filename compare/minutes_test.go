package compare_test

import (
	"math"
	"testing"
	"time"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// timed are two sessions of a profile, of two runs of two benchmarks each: a run is
// begun every 5 minutes, the second session 17 minutes after the last run of the
// first.
func timed(profile string, start time.Time, wide bool) []compare.Value {
	var out []compare.Value
	for s, at := range []time.Duration{0, 32} {
		for k := range 4 {
			v := compare.Value{Profile: profile, Benchmark: []string{"mesh-solve", "ray-preview"}[k%2], Unit: "fps", Value: 100 + float64(k),
				Session: profile + string(rune('1'+s)), Time: start.Add((at + 5*time.Duration(k)) * time.Minute)}
			if wide { // one row holds a run of both
				v.Time = start.Add((at + 10*time.Duration(k/2)) * time.Minute)
			}
			out = append(out, v)
		}
	}
	return out
}

// Expected minutes are worked out by hand from the times above.
func TestMinutesOf(t *testing.T) {
	start := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	series := func(values ...compare.Value) []*compare.Series {
		t.Helper()
		var runs compare.Runs
		for _, v := range values {
			if err := runs.Add(v); err != nil {
				t.Fatal(err)
			}
		}
		return runs.Series()
	}
	paired := func(series []*compare.Series) []*compare.Pair {
		t.Helper()
		policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Better: compare.Lower}}}
		p, err := compare.PairUp(series, series, [2]string{"before", "after"}, policy, compare.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return p.Pairs
	}
	scores := series(append(comparetest.Numbers("s", 410, 420, 430), compare.Value{Benchmark: "cache-hop", Unit: "ns", Value: 80})...)
	times := series(append(timed("factory", start, false), timed("boost-lift", start.Add(24*time.Hour), false)...)...)
	for name, c := range map[string]struct {
		stated compare.Minutes
		policy compare.Policy
		series []*compare.Series
		want   compare.Minutes
	}{
		"nothing": {series: series(comparetest.Numbers("fps", 60, 61)...)},
		"scores":  {series: scores, want: compare.Minutes{Run: 7, RunFrom: compare.MinutesScores}},
		// By hand: two sessions of 6 and 8 minutes, of runs of 6, 6, 9 and 8 minutes.
		"scores of sessions": {series: series(comparetest.InSessions("s", "F", []float64{360, 360, 540}, []float64{480})...),
			want: compare.Minutes{Run: 7, RunFrom: compare.MinutesScores}},
		"times": {series: times, want: compare.Minutes{Run: 5, Session: 12, RunFrom: compare.MinutesTimes,
			SessionFrom: compare.MinutesTimes}},
		"one row for both benchmarks": {series: series(timed("factory", start, true)...),
			want: compare.Minutes{Run: 5, Session: 12, RunFrom: compare.MinutesTimes, SessionFrom: compare.MinutesTimes}},
		"policy before times": {policy: compare.Policy{Bench: compare.Minutes{Session: 9}}, series: times,
			want: compare.Minutes{Run: 5, Session: 9, RunFrom: compare.MinutesTimes, SessionFrom: compare.MinutesPolicy}},
		"stated before all": {stated: compare.Minutes{Run: 6}, policy: compare.Policy{Bench: compare.Minutes{Run: 8, Session: 9}}, series: times,
			want: compare.Minutes{Run: 6, Session: 9, RunFrom: compare.MinutesStated, SessionFrom: compare.MinutesPolicy}},
	} {
		got := compare.MinutesOf(c.stated, c.policy, paired(c.series), c.series)
		if math.Abs(got.Run-c.want.Run) > 1e-9 || math.Abs(got.Session-c.want.Session) > 1e-9 ||
			got.RunFrom != c.want.RunFrom || got.SessionFrom != c.want.SessionFrom {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
		}
	}
	known := compare.MinutesOf(compare.Minutes{}, compare.Policy{}, paired(scores), scores)
	if a, b := known.RunOf("tile-render"), known.RunOf("ray-preview"); a != 7 || b != 7 {
		t.Errorf("runs take %v and %v minutes, want the score and the average of the others", a, b)
	}
}

// Hours are those of both sides, with a session's own minutes once a session.
func TestHours(t *testing.T) {
	m := compare.Minutes{Run: 5, Session: 20}
	result := func(before, after []compare.Value) *compare.Result {
		return comparetest.Only(t, comparetest.Judged(t, before, after, compare.Policy{}, compare.Options{}))
	}
	sessions := result(comparetest.InSessions("s", "F", []float64{410, 411}, []float64{412, 413}, []float64{411, 414}),
		comparetest.InSessions("s", "B", []float64{402, 403}, []float64{401, 404}, []float64{402, 400}))
	blocks := result(comparetest.InBlocks("s", "F", [][]float64{{410}, {412}}, [][]float64{{411}, {413}}),
		comparetest.InBlocks("s", "B", [][]float64{{402}, {401}}, [][]float64{{403}, {404}}))
	uneven := result(comparetest.Numbers("s", 410, 411, 412, 413), comparetest.Numbers("s", 402, 403, 404))
	runs := result(comparetest.Numbers("s", 410, 411, 412), comparetest.Numbers("s", 402, 403, 404))
	for name, c := range map[string]struct {
		r    *compare.Result
		size int
		want float64
	}{
		"3 more sessions a side of 20 and 2 times 5 minutes":        {sessions, 6, 3},
		"3 more blocks of 4 spells of 20 and 5 minutes":             {blocks, 5, 5},
		"3 more runs a side of 5 minutes, each side in one session": {runs, 6, 2 * (20 + 15) / 60.0},
		"1 more run before and 2 after":                             {uneven, 5, (20 + 5 + 20 + 10) / 60.0},
		"no more":                                                   {runs, 3, 0},
	} {
		if got := m.Hours(c.r.Measurement, c.size); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s take %v h, want %v", name, got, c.want)
		}
	}
	if got := (compare.Minutes{Session: 20}).Hours(runs.Measurement, 9); got != 0 {
		t.Errorf("without the minutes of a run: %v h", got)
	}
}
