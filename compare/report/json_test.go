package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Names from files can hold control characters and characters that change the
// direction of text. JSON holds them as escapes, and they are read back unchanged.
func TestJSONIsCalm(t *testing.T) {
	var name strings.Builder
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029' {
			name.WriteRune(r)
		}
	}
	name.WriteString("größe \\u009b 測定 😀 <>&")
	var b bytes.Buffer
	if err := encode(&b, map[string]string{name.String(): name.String()}); err != nil {
		t.Fatal(err)
	}
	for _, r := range b.String() {
		if r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029') {
			t.Errorf("holds %U", r)
		}
	}
	for _, kept := range []string{"größe", "測定 😀 <>&", `\u009b`, `\u202e`, `\udb40\udc7f`} {
		if !strings.Contains(b.String(), kept) {
			t.Errorf("lacks %q", kept)
		}
	}
	var back map[string]string
	if err := json.Unmarshal(b.Bytes(), &back); err != nil || back[name.String()] != name.String() {
		t.Errorf("reads back as %q, %v", back, err)
	}
}

// interval_for_all holds for everything that decides together: it is no narrower than
// the metric's own, wider beside another profile of the same merge, and null outside a
// family of two.
func TestIntervalForAll(t *testing.T) {
	names := []string{"tile-render", "mesh-solve", "ray-preview"}
	measured := func(seed uint64, scores int) *compare.Measured {
		g := comparetest.Generator(seed)
		var sides [2][]compare.Value
		for side := range sides {
			for _, name := range names[:scores] {
				for _, metric := range []string{compare.DefaultMetric, "power"} {
					for s := range 6 {
						unit := map[string]string{compare.DefaultMetric: "s", "power": "W"}[metric]
						sides[side] = append(sides[side], compare.Value{Benchmark: name, Metric: metric, Unit: unit,
							Session: fmt.Sprint(side, s), Value: 100 * math.Exp(0.01*g.NormFloat64())})
					}
				}
			}
		}
		m, err := compare.Measure(comparetest.SeriesOf(t, comparetest.Factory, sides[0]), comparetest.SeriesOf(t, comparetest.Boost, sides[1]),
			comparetest.Names, compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	written := func(together ...*compare.Comparison) (out []*resultJSON) {
		all := forAllOf(together[0].Terms, together...)
		for _, r := range together[0].Judged() {
			out = append(out, all.result(r))
		}
		return out
	}
	first := measured(1, 3)
	alone := written(compare.JudgeTogether(nil, first)...)
	beside := written(compare.JudgeTogether(nil, first, measured(2, 3))...)
	for i, r := range alone {
		name := r.Benchmark + " " + r.Metric
		if r.Role == compare.Cost {
			if r.IntervalForAll != nil {
				t.Errorf("%s decides nothing and has %v", name, *r.IntervalForAll)
			}
			continue
		}
		a, b := r.IntervalForAll, beside[i].IntervalForAll
		if a == nil || b == nil || a[0] > r.Interval[0] || a[1] < r.Interval[1] || b[1]-b[0] <= a[1]-a[0] {
			t.Errorf("%s: own %v, for all %v, beside another profile %v", name, r.Interval, a, b)
		}
	}
	for _, r := range written(compare.JudgeTogether(nil, measured(1, 1))...) {
		if r.IntervalForAll != nil {
			t.Errorf("a single score has %v", *r.IntervalForAll)
		}
	}
}
