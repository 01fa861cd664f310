package stats_test

import (
	"math"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/statstest"
)

// weighCase is a suite of scores answered by R's boot (fixtures/reference/weigh.R):
// for weigh-pooled a row a score, for weigh-joint a row a session, null where it
// lacks a score.
type weighCase struct {
	ID        string       `json:"id"`
	Weights   []float64    `json:"weights"`
	Before    [][]*float64 `json:"before"`
	After     [][]*float64 `json:"after"`
	Estimate  float64      `json:"estimate"`
	Resamples int          `json:"resamples"` // to draw here
	Lo        [2]float64   `json:"lo"`        // where the ends may lie, as in bootstrapCase
	Hi        [2]float64   `json:"hi"`
}

func (c weighCase) check(t *testing.T, estimate, lo, hi float64) {
	t.Helper()
	if math.Abs(estimate-c.Estimate) > 1e-12 {
		t.Errorf("%s: estimate %v, want %v", c.ID, estimate, c.Estimate)
	}
	if lo < c.Lo[0]-1e-12 || lo > c.Lo[1]+1e-12 || hi < c.Hi[0]-1e-12 || hi > c.Hi[1]+1e-12 {
		t.Errorf("%s: [%v, %v], want ends in %v and %v", c.ID, lo, hi, c.Lo, c.Hi)
	}
}

func matrix(rows [][]*float64) stats.Joint {
	out := make(stats.Joint, len(rows))
	for i, row := range rows {
		for _, v := range row {
			if v == nil {
				out[i] = append(out[i], math.NaN())
			} else {
				out[i] = append(out[i], *v)
			}
		}
	}
	return out
}

func TestReferencePooledInterval(t *testing.T) {
	for _, c := range statstest.Answers[weighCase](t, "weigh-pooled.jsonl", 8) {
		before, after := matrix(c.Before), matrix(c.After)
		var components []stats.Component
		for i, w := range c.Weights {
			components = append(components, stats.Component{Before: before[i], After: after[i], Weight: w})
		}
		lo, hi := stats.PooledPercentileInterval(components, 0.95, c.Resamples, 1)
		c.check(t, stats.PooledShift(components), lo, hi)
	}
}

func TestReferenceJointInterval(t *testing.T) {
	for _, c := range statstest.Answers[weighCase](t, "weigh-joint.jsonl", 5) {
		before, after := matrix(c.Before), matrix(c.After)
		lo, hi, _ := stats.JointPercentileInterval(before, after, c.Weights, 0.95, c.Resamples, 1)
		c.check(t, stats.JointShift(before, after, c.Weights), lo, hi)
	}
}
