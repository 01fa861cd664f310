package compare

import (
	"strconv"
	"testing"
)

// A share of time that falls from 100 to 0 in every run is settled: the way
// between is no step of the readings.
func TestShareOfTimeIsSettled(t *testing.T) {
	var before, after Runs
	for i := range 5 {
		for side, value := range map[*Runs]float64{&before: 100, &after: 0} {
			v := Value{Benchmark: "tile-render", Metric: "temperature above 90 °C", Unit: ShareOfTime, Run: strconv.Itoa(i + 1), Value: value}
			if err := side.Add(v); err != nil {
				t.Fatal(err)
			}
		}
	}
	c, err := Compare(before.Series(), after.Series(), [2]string{"before", "after"}, Policy{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := c.Results[0]
	judged := r.Verdict != nil && *r.Verdict == Uplift && r.Interval != nil && *r.Interval == [2]float64{-100, -99}
	if r.Role != Cost || r.Scale != Interval || !judged {
		t.Errorf("%s %s %v, want an uplift from -100 to -99", r.Role, r.Scale, r.Interval)
	}
}

// Three runs a side have a range instead of an interval, of shares all the same.
func TestRangeOfSharesOfTime(t *testing.T) {
	r := only(t, judged(t, numbers(ShareOfTime, 100, 100, 100), numbers(ShareOfTime, 0, 0, 0), Policy{}, Options{}))
	if r.Range == nil || *r.Range != [2]float64{-100, -99} {
		t.Errorf("range %v, want -100 to -99", r.Range)
	}
}
