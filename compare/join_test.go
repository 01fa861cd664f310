package compare

import (
	"encoding/json"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// partsOf measures each benchmark of some runs by itself.
func partsOf(t testing.TB, runs *Runs, policy Policy) []*Part {
	t.Helper()
	var parts []*Part
	for i, b := range []string{"tile-render", "ray-preview", "mesh-solve"} {
		p, err := Measure(runs.Profile("factory"), runs.Profile("boost-lift"), [2]string{"factory", "boost-lift"}, policy,
			Options{Resamples: 1000, Seed: 1, Wanted: func(benchmark, _ string) bool { return benchmark == b }})
		if err != nil {
			t.Fatal(err)
		}
		p.Name, p.Only = fmt.Sprintf("%d.json", i), []string{b}
		parts = append(parts, p)
	}
	return parts
}

func fleet(t testing.TB) *Runs {
	var runs Runs
	g := rand.New(rand.NewPCG(5, 8))
	for _, b := range []string{"tile-render", "ray-preview", "mesh-solve"} {
		for i := range 20 {
			profile, at := []string{"factory", "boost-lift"}[i%2], Place{File: "runs.csv", Line: i + 2}
			for _, v := range []Value{{Unit: "s", Value: 400 + g.NormFloat64() - 3*float64(i%2)}, {Metric: "power", Unit: "W", Value: 180 + g.NormFloat64()}} {
				v.Profile, v.Benchmark, v.At = profile, b, at
				if err := runs.Add(v); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	return &runs
}

// What is measured is taken from the parts and not worked out again: a figure
// that no run gives comes back.
func TestJoinTakesWhatWasMeasured(t *testing.T) {
	parts := partsOf(t, fleet(t), Policy{})
	spot := 0.125
	of := func(metric string) *PartMetric {
		i := slices.IndexFunc(parts[1].Metrics, func(m PartMetric) bool { return m.Metric == metric })
		return &parts[1].Metrics[i]
	}
	score, power := of(DefaultMetric), of("power")
	score.Measured.Interval, score.Measured.PVerdict = &[2]float64{0.25, 0.375}, 0.03125
	score.Before.Checked.Findings = []Finding{{GradeLook, CheckDrift, "factory", "ray-preview", "made up"}}
	if score.Planned != nil || power.Planned == nil {
		t.Fatalf("planned: score %v, power %v; a score's plan hangs on the others", score.Planned, power.Planned)
	}
	power.Planned = &Planned{BlindSpot: &spot}
	c, _, err := Join(parts, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range c.Results {
		switch r.Name() {
		case "ray-preview":
			if *r.Interval != [2]float64{0.25, 0.375} || r.PVerdict != 0.03125 || r.PAdjusted != 0.03125 {
				t.Errorf("ray-preview: interval %v, p %v, corrected %v", *r.Interval, r.PVerdict, r.PAdjusted)
			}
		case "ray-preview power":
			if r.BlindSpot == nil || *r.BlindSpot != spot {
				t.Errorf("ray-preview power: blind spot %v", r.BlindSpot)
			}
		}
	}
	if !slices.ContainsFunc(c.Findings, func(f Finding) bool { return f.Evidence == "made up" }) {
		t.Errorf("findings %v", c.Findings)
	}
}

// Parts in memory, too, give what Compare gives, and a part's own runs are
// enough: nothing hangs on what else it could see.
func TestJoinInMemory(t *testing.T) {
	runs := fleet(t)
	policy := Policy{Correction: BenjaminiHochberg, Entries: []Entry{{Benchmark: "*"}, {Benchmark: "never-run"}}}
	whole, err := Compare(runs.Profile("factory"), runs.Profile("boost-lift"), [2]string{"factory", "boost-lift"}, policy,
		Options{Resamples: 1000, Seed: 1, Vet: true, Wanted: func(b, _ string) bool { return b != "never-run" }})
	if err != nil {
		t.Fatal(err)
	}
	parts := partsOf(t, runs, policy)
	slices.Reverse(parts)
	done := 0
	joined, _, err := Join(parts, func(n, of int) { done = of - n })
	if err != nil {
		t.Fatal(err)
	}
	a, _ := json.Marshal(whole)
	b, _ := json.Marshal(joined)
	if string(a) != string(b) || done != 0 {
		t.Errorf("%d steps left; joined\n%s\nwant\n%s", done, b, a)
	}
}

func TestJoinRefusesWhatCannotBe(t *testing.T) {
	for want, harm := range map[string]func(*Part, *PartMetric){
		"terms are none":                 func(p *Part, _ *PartMetric) { p.Terms.Policy.Confidence = 95 },
		"terms are none ":                func(p *Part, _ *PartMetric) { p.Share, p.Shares = 3, 2 },
		"mann-whitney test of 9 and 10":  func(_ *Part, m *PartMetric) { m.Before.Values[3] = math.NaN() },
		"it was measured without":        func(_ *Part, m *PartMetric) { m.After.Values = nil },
		"a p value outside":              func(_ *Part, m *PartMetric) { m.Measured.P = 1.5 },
		"ends are the wrong way":         func(_ *Part, m *PartMetric) { m.Measured.Interval = &[2]float64{1, -1} },
		"a test without its statistic":   func(_ *Part, m *PartMetric) { m.Measured.U = nil },
		"is set aside that is not there": func(_ *Part, m *PartMetric) { m.Before.SetAside = []PartAside{{Value: 10, Run: "1", Reason: "crash"}} },
		"but was not measured":           func(_ *Part, m *PartMetric) { m.After.Checked = nil },
	} {
		parts := partsOf(t, fleet(t), Policy{})
		harm(parts[2], &parts[2].Metrics[0])
		for _, p := range parts { // else the terms are only different
			p.Terms.Policy.Confidence = parts[2].Terms.Policy.Confidence
		}
		if _, _, err := Join(parts, nil); err == nil || !strings.Contains(err.Error(), strings.TrimSpace(want)) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if _, _, err := Join(nil, nil); err == nil {
		t.Error("no parts, and no error")
	}
}

// Every number of a part reads back as it was, to the bit; a missing one as
// missing.
func TestReadingsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := Readings(rapid.SliceOf(rapid.Float64().Filter(func(v float64) bool { return !math.IsInf(v, 0) })).Draw(t, "values"))
		text, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		var out Readings
		if err := json.Unmarshal(text, &out); err != nil || len(out) != len(in) {
			t.Fatalf("%s: %v, %v", text, out, err)
		}
		for i := range in {
			if math.Float64bits(in[i]) != math.Float64bits(out[i]) && !(math.IsNaN(in[i]) && math.IsNaN(out[i])) {
				t.Errorf("%v reads back as %v", in[i], out[i])
			}
		}
	})
}

func TestFilesInOrder(t *testing.T) {
	for _, c := range []struct {
		lists [][]string
		want  string
	}{
		{nil, ""},
		{[][]string{{"b", "a"}}, "b a"},
		{[][]string{{"b"}, {"a"}}, "a b"},
		{[][]string{{"b", "a"}, {"b", "a"}}, "b a"},
		{[][]string{{"b", "a"}, {"a", "c"}}, "b a c"},
		{[][]string{{"x/2", "x/4"}, {"x/1", "x/3"}}, "x/1 x/2 x/3 x/4"},
		{[][]string{{"d", "a", "z"}, {"c", "a", "b"}}, "c d a b z"},
		{[][]string{{"b", "a"}, {"a", "b"}}, "a b"}, // no order holds both
		{[][]string{{"a", "a", "b"}}, "a b"},
		{[][]string{{`x\2`}, {"x/1"}, {"x/3"}}, `x/1 x\2 x/3`},
	} {
		if diff := cmp.Diff(strings.Fields(c.want), inOrder(c.lists)); diff != "" && c.want != "" {
			t.Errorf("%q (-want +got):\n%s", c.lists, diff)
		}
		slices.Reverse(c.lists)
		if got := strings.Join(inOrder(c.lists), " "); got != c.want {
			t.Errorf("%q: %q, want %q whatever the order of the lists", c.lists, got, c.want)
		}
	}
}

// FNV-1a as its authors publish it (Fowler, Noll and Vo; the test vectors of
// draft-eastlake-fnv, appendix: "" and "a", "foobar"; from memory): machines
// agree on shares only as long as it stays.
func TestShares(t *testing.T) {
	for text, want := range map[string]uint64{"": 0xcbf29ce484222325, "a": 0xaf63dc4c8601ec8c, "foobar": 0x85944171f73967e8} {
		h := fnv.New64a()
		h.Write([]byte(text))
		if got := h.Sum64(); got != want {
			t.Errorf("%q: %#x, want %#x", text, got, want)
		}
		if got := ShareOf(text, 7); got != 1+int(want%7) {
			t.Errorf("%q belongs in share %d of 7", text, got)
		}
	}
	sizes := make([]int, 5)
	for i := range 1000 {
		sizes[ShareOf(fmt.Sprintf("job-%04d", i), len(sizes))-1]++
	}
	for k, n := range sizes { // 200, with a standard deviation of 12.6
		if n < 150 || n > 250 {
			t.Errorf("share %d has %d of 1000", k+1, n)
		}
	}
}
