package report

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"flag"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/intake"
	"tunegate/compare/ladder"
	"tunegate/compare/report/doc"
)

var update = flag.Bool("update", false, "write the structure of the demo's pictures into testdata, and schema/columns.json")

func demoRuns(t testing.TB, files ...string) *compare.Runs {
	t.Helper()
	var runs compare.Runs
	var paths []string
	for _, f := range files {
		paths = append(paths, filepath.Join("..", "..", "fixtures", "demo", f))
	}
	if _, err := intake.ReadFiles(paths, strings.NewReader(""), intake.Reading{}, runs.Add); err != nil {
		t.Fatal(err)
	}
	return &runs
}

func demoComparison(t testing.TB) ComparisonPage {
	t.Helper()
	return compared(t, demoRuns(t, "factory.csv", "boost-lift.csv"), [2]string{"factory", "boost-lift"}, compare.Policy{})
}

func demoLadder(t testing.TB) LadderPage {
	t.Helper()
	profiles := []string{"factory", "cool-curve", "boost-lift", "fixed-all", "fixed-all-tight-ram"}
	var files []string
	for _, p := range profiles {
		files = append(files, "ladder/heron/"+p+".csv")
	}
	runs := demoRuns(t, files...)
	var sides [][]*compare.Series
	for _, p := range profiles {
		sides = append(sides, runs.Profile(p))
	}
	l, err := ladder.Climb(profiles, sides, nil, compare.Policy{}, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return LadderPage{Ladder: l, Commands: typed}
}

// element is one element of an SVG.
type element struct {
	kind, text string
	attr       map[string]string
}

func (e element) num(t testing.TB, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(e.attr[name], 64)
	if err != nil {
		t.Fatalf("<%s> has no %s: %v", e.kind, name, e.attr)
	}
	return v
}

// elements reads an SVG as strict XML.
func elements(t testing.TB, svg []byte) []element {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	var out []element
	var open []int
	for {
		token, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatalf("no XML: %v\n%s", err, svg)
		}
		switch x := token.(type) {
		case xml.StartElement:
			e := element{kind: x.Name.Local, attr: map[string]string{}}
			for _, a := range x.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			out = append(out, e)
			open = append(open, len(out)-1)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				out[open[len(open)-1]].text += string(x)
			}
		}
	}
}

func pictureOf(t testing.TB, pictures []*Picture, name string) *Picture {
	t.Helper()
	var names []string
	for _, p := range pictures {
		if p.Name == name {
			return p
		}
		names = append(names, p.Name)
	}
	t.Fatalf("there is no picture %q; there are %v", name, names)
	return nil
}

func partSVG(p *Picture, i int, width float64) []byte {
	var b bytes.Buffer
	p.parts[i].draw(width).svg(&b, "p", p.Title, p.alt(), "", "")
	return b.Bytes()
}

// scaleOf reads the scale of an axis from its labels: the pixel of a value.
func scaleOf(t testing.TB, all []element, role, at string) (pixel func(v float64) float64) {
	t.Helper()
	var v, x []float64
	for _, e := range all {
		if e.attr["data-is"] == role {
			value, err := strconv.ParseFloat(e.text, 64)
			if err != nil {
				t.Fatal(err)
			}
			v, x = append(v, value), append(x, e.num(t, at))
		}
	}
	if len(v) < 2 {
		t.Fatalf("%d labels of %s", len(v), role)
	}
	n := len(v) - 1
	slope := (x[n] - x[0]) / (v[n] - v[0])
	offset := 0.0
	if role == "tick-y" { // a label's baseline is 4 pixels below its tick
		offset = 4
	}
	return func(value float64) float64 { return x[0] - offset + slope*(value-v[0]) }
}

func within(t testing.TB, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1 {
		t.Errorf("%s stands at %.1f, want %.1f", what, got, want)
	}
}

// The picture draws the ends of each interval within a pixel of the values in the
// JSON, at every width. The scale is read from the labels of the axis.
func TestIntervalsStandWhereTheJSONSays(t *testing.T) {
	c := demoComparison(t)
	var data struct {
		Metrics []struct {
			Benchmark, Metric, Scale string
			Change                   float64
			Interval                 *[2]float64
			Before, After            struct{ Median float64 }
		}
	}
	if err := json.Unmarshal([]byte(rendered(t, func(w io.Writer) error { return JSON(w, c, 0) })), &data); err != nil {
		t.Fatal(err)
	}
	pictures := ComparisonPictures(c.Comparison)
	for _, width := range []float64{wideWidth, narrowWidth} {
		found := 0
		all := elements(t, partSVG(pictureOf(t, pictures, "changes"), 0, width))
		pixel := scaleOf(t, all, "tick-x", "x")
		for _, m := range data.Metrics {
			for _, e := range all {
				if e.attr["data-of"] != m.Benchmark || m.Metric != "score" {
					continue
				}
				switch e.attr["data-is"] {
				case "interval":
					found++
					within(t, m.Benchmark+" low", e.num(t, "x1"), pixel(100*m.Interval[0]))
					within(t, m.Benchmark+" high", e.num(t, "x2"), pixel(100*m.Interval[1]))
				case "change":
					if e.kind == "circle" {
						within(t, m.Benchmark, e.num(t, "cx"), pixel(100*m.Change))
					}
				}
			}
		}
		if found != 6 {
			t.Errorf("%d intervals at %v, want 6", found, width)
		}
	}
	// The median of each side, and one mark for each valid run.
	runs := pictureOf(t, pictures, "runs")
	for i, r := range runs.parts {
		all := elements(t, partSVG(runs, i, halfWidth))
		pixel := scaleOf(t, all, "tick-y", "y")
		for _, m := range data.Metrics {
			if strings.TrimSuffix(m.Benchmark+" "+m.Metric, " score") != r.name {
				continue
			}
			for _, e := range all {
				switch e.attr["data-is"] + e.attr["data-of"] {
				case "median" + r.name + "/factory":
					within(t, r.name+" before", e.num(t, "y1"), pixel(m.Before.Median))
				case "median" + r.name + "/boost-lift":
					within(t, r.name+" after", e.num(t, "y1"), pixel(m.After.Median))
				}
			}
		}
		result := c.Results[slices.IndexFunc(c.Results, func(x *compare.Result) bool { return x.Name() == r.name })]
		for _, e := range all {
			shown := e.attr["data-is"] + e.attr["data-of"]
			want := map[string]int{
				"runs" + r.name + "/factory":    result.Before.Runs,
				"runs" + r.name + "/boost-lift": result.After.Runs,
			}[shown]
			if e.attr["data-is"] == "runs" && strings.Count(e.attr["d"], "M") != want {
				t.Errorf("%s shows %d runs of %d", e.attr["data-of"], strings.Count(e.attr["d"], "M"), want)
			}
		}
	}
}

// The front draws both intervals of each profile at the values of the JSON.
func TestFrontStandsWhereTheJSONSays(t *testing.T) {
	l := demoLadder(t)
	var data struct {
		Rungs []struct {
			Profile      string
			Speed, Power *struct{ Interval *[2]float64 }
		}
	}
	if err := json.Unmarshal([]byte(rendered(t, func(w io.Writer) error { return LadderJSON(w, l) })), &data); err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, width := range []float64{wideWidth, narrowWidth} {
		all := elements(t, partSVG(pictureOf(t, LadderPictures(l.Ladder), "front"), 0, width))
		x, y := scaleOf(t, all, "tick-x", "x"), scaleOf(t, all, "tick-y", "y")
		for _, rung := range data.Rungs {
			for _, e := range all {
				switch {
				case e.attr["data-of"] != rung.Profile:
				case e.attr["data-is"] == "interval-x":
					found++
					within(t, rung.Profile+" least power", e.num(t, "x1"), x(100*rung.Power.Interval[0]))
					within(t, rung.Profile+" most power", e.num(t, "x2"), x(100*rung.Power.Interval[1]))
				case e.attr["data-is"] == "interval-y":
					found++
					within(t, rung.Profile+" slowest", e.num(t, "y1"), y(100*rung.Speed.Interval[0]))
					within(t, rung.Profile+" fastest", e.num(t, "y2"), y(100*rung.Speed.Interval[1]))
				}
			}
		}
	}
	if found != 16 {
		t.Errorf("%d intervals, want 16: two of four profiles at two widths", found)
	}
}

// All of 2000 runs are drawn.
func TestEveryRunOfManyIsDrawn(t *testing.T) {
	var runs compare.Runs
	for _, profile := range []string{"factory", "boost-lift"} {
		for i := range 1000 {
			v := compare.Value{Profile: profile, Benchmark: "tile-render", Unit: "s", Value: 400 + float64(i*7919%1000)/100}
			add(t, &runs, v)
		}
	}
	before, after := runs.Profile("factory"), runs.Profile("boost-lift")
	names := [2]string{"factory", "boost-lift"}
	c, err := compare.Compare(before, after, names, compare.Policy{}, compare.Options{Resamples: 1000})
	if err != nil {
		t.Fatal(err)
	}
	drawn := 0
	for _, e := range elements(t, partSVG(pictureOf(t, ComparisonPictures(c), "runs"), 0, wideWidth)) {
		if e.attr["data-is"] == "runs" {
			drawn += strings.Count(e.attr["d"], "M")
		}
	}
	if drawn != 2000 {
		t.Errorf("%d runs are drawn, want 2000", drawn)
	}
}

// The bars of a metric together hold all its pairs.
func TestPairsAreAllDrawn(t *testing.T) {
	c := demoComparison(t)
	p := pictureOf(t, ComparisonPictures(c.Comparison), "pairs")
	for i, part := range p.parts {
		sum := 0
		for _, e := range elements(t, partSVG(p, i, halfWidth)) {
			if e.attr["data-is"] == "pairs" {
				n, err := strconv.Atoi(e.attr["data-of"])
				if err != nil {
					t.Fatal(err)
				}
				sum += n
			}
		}
		if sum != 36 { // 6 sessions x 6 sessions
			t.Errorf("%s shows %d pairs, want 36", part.name, sum)
		}
	}
}

// signedNumber is a number in a text, with its sign.
var signedNumber = regexp.MustCompile(`[+-]?[0-9]+(?:[.,][0-9]+)*`)

// The structure of the demo's pictures is in testdata: the kinds of elements, their
// numbers, and every figure in a label or at an axis. Titles and captions do not
// count, so their wording is free. The flag -update writes the files.
func TestPicturesKeepTheirStructure(t *testing.T) {
	for name, pictures := range map[string][]*Picture{
		"comparison": ComparisonPictures(demoComparison(t).Comparison),
		"ladder":     LadderPictures(demoLadder(t).Ladder),
	} {
		var b strings.Builder
		for _, p := range pictures {
			count := map[string]int{}
			var figures []string
			prose := slices.Concat(wrappedTo(p.Title, wideWidth, 18, true), wrappedTo(p.Caption, wideWidth, 12, false))
			for _, e := range elements(t, []byte(rendered(t, p.SVG))) {
				kind := e.kind
				if kind == "text" && e.attr["x"] == "20" && slices.Contains(prose, e.text) { // at the margin
					continue
				}
				if e.attr["data-is"] != "" {
					kind += " " + e.attr["data-is"]
				}
				count[kind]++
				if e.kind == "text" {
					figures = append(figures, signedNumber.FindAllString(e.text, -1)...)
				}
			}
			var kinds []string
			for k, n := range count {
				kinds = append(kinds, fmt.Sprintf("%s %d", k, n))
			}
			sort.Strings(kinds)
			fmt.Fprintf(&b, "%s\n  %s\n  %s\n", p.Name, strings.Join(kinds, ", "), strings.Join(figures, " "))
		}
		file := filepath.Join("testdata", "pictures-"+name+".txt")
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(strings.Split(strings.ReplaceAll(string(want), "\r", ""), "\n"), strings.Split(b.String(), "\n")); diff != "" {
			t.Errorf("%s (-update writes it anew):\n%s", file, diff)
		}
	}
}

// Labels neither overlap nor leave the area, for any positions of the profiles.
func TestLabelsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "profiles") // the largest ladder
		area := rect{40, 30, rapid.Float64Range(330, 710).Draw(t, "right"), rapid.Float64Range(300, 406).Draw(t, "bottom")}
		var names []string
		var marks []point
		var keep []rect
		for range n {
			names = append(names, fitted(rapid.StringMatching(`[a-z-]{1,40}`).Draw(t, "name"), math.Min(200, (area.x1-area.x0)/2), 12.5, true))
			// Few different heights, so that many marks are close together.
			p := point{
				area.x0 + rapid.Float64Range(0, 1).Draw(t, "x")*(area.x1-area.x0),
				area.y0 + float64(rapid.IntRange(0, 3).Draw(t, "y"))/3*(area.y1-area.y0),
			}
			marks = append(marks, p)
			keep = append(keep, rect{p.x - 8, p.y - 8, p.x + 8, p.y + 8})
		}
		placed := placeLabels(names, marks, keep, area, 12.5)
		for i, l := range placed {
			b := l.box
			if b.x0 < area.x0-1e-9 || b.y0 < area.y0-1e-9 || b.x1 > area.x1+1e-9 || b.y1 > area.y1+1e-9 {
				t.Fatalf("%q leaves the area: %v", names[i], b)
			}
			if w := textWidth(names[i], 12.5, true); b.x1-b.x0 < w {
				t.Fatalf("%q is %v wide and has %v", names[i], w, b.x1-b.x0)
			}
			for k := range i {
				if b.meets(placed[k].box) {
					t.Fatalf("%q and %q overlap: %v %v", names[i], names[k], b, placed[k].box)
				}
			}
		}
	})
}

// Ticks are round numbers within the axis, no more than asked for.
func TestTicks(t *testing.T) {
	for _, x := range []struct {
		lo, hi float64
		most   int
		want   []float64
	}{
		{-2.6, 4.6, 8, []float64{-2, -1, 0, 1, 2, 3, 4}},
		{0, 100, 4, []float64{0, 50, 100}},
		{402.1, 415.3, 4, []float64{405, 410, 415}},
		{0.01, 0.09, 3, []float64{0.05}},
		{5, 5, 4, []float64{5}},
	} {
		got := ticks(x.lo, x.hi, x.most)
		if len(got) > x.most || len(got) != len(x.want) {
			t.Errorf("ticks(%v, %v, %d) = %v, want %v", x.lo, x.hi, x.most, got, x.want)
			continue
		}
		for i := range got {
			if math.Abs(got[i]-x.want[i]) > 1e-9 {
				t.Errorf("ticks(%v, %v, %d) = %v, want %v", x.lo, x.hi, x.most, got, x.want)
			}
		}
	}
	if got := logTicks(5, 270, 8); !slices.Equal(got, []float64{5, 10, 20, 50, 100, 200}) {
		t.Errorf("logTicks(5, 270) = %v", got)
	}
	for _, x := range []struct {
		v    float64
		all  []float64
		want string
	}{{0.5, []float64{0, 0.5, 1}, "0.5"}, {0, []float64{0, 0.5}, "0"}, {410, []float64{405, 410}, "410"}, {0.05, []float64{0.05}, "0.05"}} {
		if got := tickText(x.v, x.all); got != x.want {
			t.Errorf("tickText(%v, %v) = %q, want %q", x.v, x.all, got, x.want)
		}
	}
}

// A PNG shows the same picture as the SVG, enlarged by pngScale, and it has the
// colours of the verdicts.
func TestPNG(t *testing.T) {
	p := pictureOf(t, ComparisonPictures(demoComparison(t).Comparison), "changes")
	img, err := png.Decode(strings.NewReader(rendered(t, p.PNG)))
	if err != nil {
		t.Fatal(err)
	}
	svg := elements(t, []byte(rendered(t, p.SVG)))[0]
	w, h := svg.num(t, "width"), svg.num(t, "height")
	if img.Bounds() != image.Rect(0, 0, int(math.Ceil(w*pngScale)), int(math.Ceil(h*pngScale))) {
		t.Errorf("the PNG is %v, the SVG %v by %v", img.Bounds(), w, h)
	}
	count := map[string]int{}
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			r, g, b, _ := img.At(x, y).RGBA()
			count[rgb(int(r>>8), int(g>>8), int(b>>8))]++
		}
	}
	for _, name := range []string{"panel", "ink", "better", "worse", "open", "band"} {
		if count[doc.Palette[name].Light] < 50 {
			t.Errorf("%s has %d pixels", name, count[doc.Palette[name].Light])
		}
	}
}

func rgb(r, g, b int) string { return fmt.Sprintf("#%02x%02x%02x", r, g, b) }

// Without colour, two verdicts differ by shape or by being hollow, and two
// profiles by their look.
func TestVerdictsDifferWithoutColour(t *testing.T) {
	seen := map[string]string{}
	for _, v := range verdicts {
		role := compare.Score
		if slices.Contains([]compare.Verdict{compare.Rise, compare.SlightRise, compare.SlightFall, compare.Fall}, v) {
			role = compare.Cost
		}
		for _, better := range []compare.Better{compare.Lower, compare.Higher} {
			b := badgeOf(of("W", better, compare.Ratio, role, v, 0.1, 0.05, 0.15))
			key := fmt.Sprint(role, better, b.shape, b.hollow)
			if other := seen[key]; other != "" {
				t.Errorf("%s and %s look alike in grey", v, other)
			}
			seen[key] = string(v)
		}
	}
	for i := range looks {
		for k := range i {
			if looks[i] == looks[k] {
				t.Errorf("profiles %d and %d look alike", k+1, i+1)
			}
		}
	}
}
