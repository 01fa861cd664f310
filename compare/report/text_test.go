package report

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"github.com/jedib0t/go-pretty/v6/text"
	"pgregory.net/rapid"

	"tunegate/compare"

	"tunegate/compare/report/doc"
)

// anyComparison judges random benchmarks with random names, units and sizes.
func anyComparison(t *rapid.T) *compare.Comparison {
	g := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	names := rapid.SampledFrom([]string{
		"tile-render", "x", "größe der Szene 4K", "日本語のベンチマーク", longName,
		"many short words that go on and on and on for ever and a day", "\x1b[31mred", "e\u0301clair", "mesh-solve",
	})
	var sides [2]compare.Runs
	profile := rapid.SampledFrom([]string{"factory", "boost-lift", "a profile (in/a/rather/long/path/of/several/folders.csv)", "übertaktet"})
	c := [2]string{profile.Draw(t, "before"), profile.Draw(t, "after")}
	seen := map[string]bool{}
	for range rapid.IntRange(1, 5).Draw(t, "benchmarks") {
		name := names.Draw(t, "name")
		if seen[name] {
			continue
		}
		seen[name] = true
		unit := rapid.SampledFrom([]string{"s", "ms", "fps", "MB/s", "points", "megapixels/min"}).Draw(t, "unit")
		runs := rapid.SampledFrom([]int{1, 2, 3, 4, 5, 8}).Draw(t, "runs")
		level := math.Pow(10, float64(rapid.IntRange(-3, 7).Draw(t, "level")))
		spread := rapid.SampledFrom([]float64{0, 0.0001, 0.01, 0.5}).Draw(t, "spread")
		change := rapid.SampledFrom([]float64{0, 0.01, -0.2, 3}).Draw(t, "change")
		for side := range sides {
			for r := range runs {
				v := compare.Value{Profile: c[side], Benchmark: name, Unit: unit, Value: level * math.Exp(spread*g.NormFloat64()+change*float64(side))}
				if rapid.Bool().Draw(t, "labelled") {
					v.Session = fmt.Sprint(side, r)
				}
				power := v
				power.Metric, power.Unit = "power", "W"
				heat := v
				heat.Metric, heat.Unit, heat.Value = "temperature at the hottest point", "°C", 20+60*spread*g.NormFloat64()
				for _, v := range []compare.Value{v, power, heat} {
					add(t, &sides[side], v)
				}
			}
		}
	}
	policy := compare.Policy{Overrides: []compare.Override{{Tolerance: 0}}}
	out, err := compare.Compare(sides[0].Series(), sides[1].Series(), c, policy, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

var colours = regexp.MustCompile("\x1b\\[[0-9;]*m")

// For any names and numbers, no line is wider than the width asked for, colour
// adds only colour codes, and names put only visible characters on the terminal.
func TestNoLineIsTooWide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyComparison(t)
		width := rapid.SampledFrom([]int{60, 61, 72, 80, 100, 119, 120, 140, 200}).Draw(t, "width")
		opt := doc.TextOptions{Width: width, Plain: rapid.Bool().Draw(t, "plain"), Detail: rapid.Bool().Draw(t, "detail")}
		var plain, coloured bytes.Buffer
		if err := doc.Text(&plain, ComparisonDocument(ComparisonPage{Comparison: c, Commands: typed}, Origin{}), opt); err != nil {
			t.Fatal(err)
		}
		opt.Color = true
		if err := doc.Text(&coloured, ComparisonDocument(ComparisonPage{Comparison: c, Commands: typed}, Origin{}), opt); err != nil {
			t.Fatal(err)
		}
		if got := colours.ReplaceAllString(coloured.String(), ""); got != plain.String() {
			t.Fatalf("colour changes the text:\n%s\n%s", got, plain.String())
		}
		for _, line := range strings.Split(plain.String(), "\n") {
			if w := text.StringWidthWithoutEscSequences(line); w > width {
				t.Fatalf("%d columns, asked for %d:\n%s\nin\n%s", w, width, line, plain.String())
			}
			if Clean(line) != line {
				t.Fatalf("%q holds what moves a cursor", line)
			}
			if strings.TrimRight(line, " ") != line {
				t.Fatalf("%q ends in blanks", line)
			}
		}
	})
}
