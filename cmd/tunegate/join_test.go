package main

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// runsOf writes runs of one benchmark in one layout, long CSV without a header.
type runsOf func(g *rand.Rand, w *bytes.Buffer, benchmark string)

const joinHeader = "profile,benchmark,metric,unit,better,session,block,run,time,valid,reason,value\n"

// sittings writes sessions of runs a side, with a power of each run beside the
// score; labels of sessions and blocks as asked.
func sittings(sessions, runs int, labelled, blocks bool, more ...string) runsOf {
	return func(g *rand.Rand, w *bytes.Buffer, benchmark string) {
		level := 50 + 400*g.Float64()
		for side, profile := range []string{"factory", "boost-lift"} {
			for s := range sessions {
				luck := 1 + 0.002*g.NormFloat64() - 0.012*float64(side)
				session, block := "", ""
				if labelled {
					session = fmt.Sprintf("%c%d", "FB"[side], s+1)
				}
				if blocks {
					block = fmt.Sprint("block ", s/2+1)
				}
				for range runs {
					fmt.Fprintf(w, "%s,%s,score,s,,%s,%s,,,,,%.2f\n", profile, benchmark, session, block, level*luck*(1+0.001*g.NormFloat64()))
					if slices.Contains(more, "costs") {
						fmt.Fprintf(w, "%s,%s,power,W,,%s,%s,,,,,%.1f\n", profile, benchmark, session, block, 180+20*float64(side)+g.NormFloat64())
						fmt.Fprintf(w, "%s,%s,temperature,°C,,%s,%s,,,,,%d\n", profile, benchmark, session, block, 78+5*side+g.IntN(3))
						fmt.Fprintf(w, "%s,%s,clock,MHz,,%s,%s,,,,,%.0f\n", profile, benchmark, session, block, 4400+100*float64(side)+10*g.NormFloat64())
					}
				}
			}
		}
	}
}

func lines(format string, values ...string) runsOf {
	return func(g *rand.Rand, w *bytes.Buffer, benchmark string) {
		for _, v := range values {
			fmt.Fprintf(w, format, benchmark, v)
		}
	}
}

// joinCases are what a fleet's data look like: benchmarks, each in a layout.
func joinCases() map[string]map[string]runsOf {
	runs, sessions, costs := sittings(1, 10, false, false), sittings(6, 3, true, false), sittings(6, 3, true, false, "costs")
	incomplete := func(g *rand.Rand, w *bytes.Buffer, benchmark string) {
		var all bytes.Buffer
		sessions(g, &all, benchmark)
		for line := range strings.Lines(all.String()) {
			if !strings.Contains(line, fmt.Sprintf(",F%d,", 1+len(benchmark)%6)) {
				w.WriteString(line)
			}
		}
	}
	constant := lines("%[2]s,%[1]s,score,s,,,,,,,,20\n", "factory", "factory", "factory", "factory", "boost-lift", "boost-lift", "boost-lift", "boost-lift")
	before := lines("factory,%s,score,s,,,,,,,,%s\n", "10.1", "10.2", "10.4")
	after := lines("boost-lift,%s,score,s,,,,,,,,%s\n", "10.1", "10.2", "10.4")
	coarse := func(g *rand.Rand, w *bytes.Buffer, benchmark string) {
		for i := range 16 {
			fmt.Fprintf(w, "%s,%s,score,fps,,,,,,,,%d\n", []string{"factory", "boost-lift"}[i%2], benchmark, 60+g.IntN(2))
		}
	}
	aside := func(g *rand.Rand, w *bytes.Buffer, benchmark string) {
		sessions(g, w, benchmark)
		fmt.Fprintf(w, "boost-lift,%s,score,s,,B2,,,,no,renderer reported a checksum error,1\n", benchmark)
		fmt.Fprintf(w, "factory,%s,score,s,,F2,,x7,,no,crashed,\n", benchmark)
		fmt.Fprintf(w, "factory,%s,power,W,,F2,,x7,,,,180\n", benchmark)
		fmt.Fprintf(w, "factory,%s,score,s,,F2,,warm-up,,,,99\n", benchmark)
		fmt.Fprintf(w, "factory,%s,score,s,,F3,,,,,,\n", benchmark)
		fmt.Fprintf(w, "Factory,%s,score,s,,F3,,,,,,98\n", benchmark)
	}
	gone := lines("%[2]s,%[1]s,score,s,,,,,,no,crashed,20\n", "factory", "boost-lift")
	timed := func(g *rand.Rand, w *bytes.Buffer, benchmark string) {
		for i := range 24 {
			fmt.Fprintf(w, "%s,%s,score,s,,,,,2026-11-0%dT09:%02d:00Z,,,%.1f\n", []string{"factory", "boost-lift"}[i/12], benchmark, 2+i/12, i%12, 80+0.5*float64(i%12)+g.NormFloat64())
		}
	}
	odd := lines("%[2]s,%[1]s,score,s,,F1,,,,,,20.5\n", "factory", "factory", "factory", "factory", "boost-lift", "boost-lift", "boost-lift", "boost-lift")
	bare := func(g *rand.Rand, w *bytes.Buffer, benchmark string) { // the unit on one side, no direction
		for i := range 12 {
			fmt.Fprintf(w, "%s,%s,score,%s,,,,,,,,%.2f\n", []string{"factory", "boost-lift"}[i%2], benchmark, []string{"", "marks"}[i%2], 100+g.NormFloat64())
		}
	}
	lucky := func(g *rand.Rand, w *bytes.Buffer, benchmark string) { // passes whose luck all scores share
		pass := rand.New(rand.NewPCG(7, 7))
		for i := range 20 {
			fmt.Fprintf(w, "%s,%s,score,s,,,,,,,,%.3f\n", []string{"factory", "boost-lift"}[i%2], benchmark, 100*(1+0.01*pass.NormFloat64())*(1+0.001*g.NormFloat64()))
		}
	}
	return map[string]map[string]runsOf{
		"runs":                {"tile-render": runs, "ray-preview": runs, "mesh-solve": runs, "shader-build": sittings(1, 3, false, false), "archive-pack": sittings(1, 2, false, false)},
		"runs sharing luck":   {"tile-render": lucky, "ray-preview": lucky, "mesh-solve": lucky},
		"sessions":            {"tile-render": sessions, "ray-preview": sessions, "mesh-solve": sessions, "shader-build": sessions},
		"sessions incomplete": {"tile-render": incomplete, "ray-preview": incomplete, "mesh-solve": sessions, "shader-build": incomplete},
		"sessions in some":    {"tile-render": sessions, "ray-preview": runs, "mesh-solve": sessions, "shader-build": odd},
		"blocks":              {"tile-render": sittings(12, 2, true, true), "ray-preview": sittings(12, 2, true, true), "mesh-solve": sittings(14, 1, true, true)},
		"blocks of one spell": {"tile-render": sittings(12, 2, false, true), "ray-preview": sittings(14, 2, false, true), "mesh-solve": sittings(12, 2, false, true)},
		"blocks in some":      {"tile-render": sittings(12, 2, true, true), "ray-preview": sessions, "mesh-solve": sessions},
		"costs":               {"tile-render": costs, "ray-preview": costs, "mesh-solve": sessions},
		"all sorts": {"tile-render": costs, "ray-preview": coarse, "mesh-solve": aside, "shader-build": constant, "archive-pack": before, "scene-scrub": after,
			"depth-sort": gone, "noise-fill": timed, "light-bake": sittings(1, 3, false, false)},
		"one score":           {"tile-render": costs, "archive-pack": before},
		"direction by option": {"tile-render": bare, "ray-preview": bare},
	}
}

const joinPolicy = `confidence = 90
correction = "benjamini-hochberg"
suite-decides = true
suite-tolerance = 0.4
fewest-runs = 12
[[metric]]
benchmark = "*"
tolerance = 0.8
[[metric]]
benchmark = "tile-render"
tolerance = 0.3
weight = 2
class = "rendering"
[[metric]]
benchmark = "mesh-solve"
class = "rendering"
[[metric]]
benchmark = "ray-preview"
class = "interactive"
[[metric]]
benchmark = "never-run"
[[metric]]
benchmark = "*"
metric = "power"
role = "cost"
tolerance = 5
cap = 205
[[metric]]
benchmark = "shader-build"
metric = "clock"
role = "info"
`

const namedPolicy = `[[metric]]
benchmark = "tile-render"
[[metric]]
benchmark = "ray-preview"
scale = "interval"
tolerance = 0.5
unit = "s"
[[metric]]
benchmark = "never-run"
`

// A split run gives the same bytes as a whole one: whatever the data look like,
// however they are judged, by whatever they are split, in any order of the parts.
func TestJoinIsTheWhole(t *testing.T) {
	options := map[string][]string{
		"plain":      nil,
		"policy":     {"--policy", "policy.toml"},
		"named":      {"--policy", "named.toml"},
		"none":       {"--correction", "none", "--confidence", "99"},
		"look":       {"--look", "2/3", "--correction", "benjamini-hochberg", "--seed", "12345678901234567890"},
		"tolerances": {"--tolerance", "1", "--tolerance", "mesh-*=0.2", "--tolerance", "* power=3", "--resamples", "1500"},
		"picked":     {"--only", "*-render", "--only", "ray-preview", "--only", "power", "--leave-out", "ray-preview power", "--leave-out", "clock"},
	}
	cases, kinds := joinCases(), slices.Sorted(maps.Keys(options))
	for nth, name := range slices.Sorted(maps.Keys(cases)) {
		benchmarks := cases[name]
		t.Run(name, func(t *testing.T) {
			folder := t.TempDir()
			t.Chdir(folder)
			outsideActions(t)
			t.Setenv("COLUMNS", "")
			g := rand.New(rand.NewPCG(1, uint64(len(name))))
			var all bytes.Buffer
			names := slices.Sorted(maps.Keys(benchmarks))
			g.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
			lay := func(file, content string) {
				if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, []byte(content), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			for _, b := range names {
				var own bytes.Buffer
				benchmarks[b](g, &own, b)
				lay(filepath.Join("runs", b+".csv"), joinHeader+own.String())
				all.WriteString(own.String())
			}
			rows := strings.SplitAfter(strings.TrimSuffix(all.String(), "\n"), "\n") // benchmarks in turns, in one file
			rows[len(rows)-1] += "\n"
			mixed := slices.Clone(rows)
			g.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
			lay("mixed.csv", joinHeader+strings.Join(mixed, ""))
			lay("policy.toml", joinPolicy)
			lay("named.toml", namedPolicy)
			for k, kind := range kinds {
				more := options[kind]
				if kind != "plain" && kind != "policy" && (nth+k)%2 == 1 {
					continue // every other case has them
				}
				if raceEnabled && (nth+k)%4 != 0 {
					continue
				}
				t.Run(kind, func(t *testing.T) {
					args := append([]string{"--before", "factory", "--after", "boost-lift"}, more...)
					if name == "direction by option" {
						args = append(args, "--better", "higher")
					}
					if !slices.Contains(more, "--resamples") {
						args = append(args, "--resamples", "1000")
					}
					parts := []string{"", "", ""}
					for k := range parts {
						parts[k] = fmt.Sprintf("--share %d/%d mixed.csv", k+1, len(parts))
					}
					if judged := joinIsWhole(t, g, args, []string{"mixed.csv"}, parts); !judged && kind == "plain" {
						t.Error("nothing was judged, so nothing was held to anything")
					}
					if kind != "plain" && kind != "policy" {
						return
					}
					byMetric := []string{"--only score mixed.csv", "--only power --only temperature mixed.csv", "--only clock mixed.csv"}
					joinIsWhole(t, g, args, strings.Fields("mixed.csv --only score --only power --only temperature --only clock"), byMetric)
					parts = nil
					for _, b := range names {
						parts = append(parts, filepath.Join("runs", b+".csv"))
					}
					var pictures []string
					if kind == "plain" {
						pictures = []string{"changes.svg", "runs.svg", "changes.png"}
					}
					joinIsWhole(t, g, args, []string{"runs"}, parts, pictures...)
				})
			}
		})
	}
}

// joinIsWhole holds what join says of parts to what compare says of the whole. It
// reports false where both refuse.
func joinIsWhole(t *testing.T, g *rand.Rand, args, whole, parts []string, pictures ...string) bool {
	t.Helper()
	forms := []string{"text", "json", "markdown", "junit", "html"}
	writes := func(prefix string) []string {
		var out []string
		for _, f := range forms {
			out = append(out, "--write", f+"="+prefix+"."+f)
		}
		return out
	}
	call := func(args ...string) (int, string, string) {
		var out, errs bytes.Buffer
		status := run(append([]string{"tunegate"}, args...), strings.NewReader(""), &out, &errs)
		return status, out.String(), errs.String()
	}
	wantStatus, want, wantError := call(slices.Concat([]string{"compare"}, whole, args, []string{"--detail"}, writes("whole"))...)
	var files []string
	for k, p := range parts {
		file := fmt.Sprintf("part-%d.json", k)
		if status, _, said := call(slices.Concat([]string{"compare", "--part", "--write", "json=" + file}, strings.Fields(p), args)...); status != 0 {
			if status == 2 && wantStatus == 2 {
				return false
			}
			t.Fatalf("part %s: exit status %d: %s", p, status, said)
		}
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := checkSchema("part", data); err != nil {
			t.Fatalf("part %s: %v", p, err)
		}
		files = append(files, file)
	}
	g.Shuffle(len(files), func(i, j int) { files[i], files[j] = files[j], files[i] })
	status, got, said := call(slices.Concat([]string{"join"}, files, []string{"--detail"}, writes("joined"))...)
	if status == 2 && wantStatus == 2 {
		return false // each names what it read
	}
	if status != wantStatus || got != want || said != wantError {
		t.Fatalf("parts %q: exit status %d, want %d; %s, want %s; prints\n%s\nwant\n%s", parts, status, wantStatus, said, wantError, got, want)
	}
	for _, f := range forms {
		a, err := os.ReadFile("whole." + f)
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile("joined." + f)
		if err != nil {
			t.Fatal(err)
		}
		if f == "html" { // the page says by which command it was made
			a, b = withoutCommand(t, a, "compare"), withoutCommand(t, b, "join")
		}
		if !bytes.Equal(a, b) {
			t.Errorf("parts %q: %s is\n%s\nwant\n%s", parts, f, b, a)
		}
	}
	for _, picture := range pictures {
		name, _, _ := strings.Cut(picture, ".")
		if status, _, said := call(slices.Concat([]string{"report"}, whole, args, []string{"--picture", name + "=whole-" + picture})...); status != 0 {
			t.Fatalf("report: exit status %d: %s", status, said)
		}
		if status, _, said := call(slices.Concat([]string{"join"}, files, []string{"--picture", name + "=joined-" + picture})...); status != wantStatus {
			t.Fatalf("join --picture: exit status %d: %s", status, said)
		}
		a, errA := os.ReadFile("whole-" + picture)
		b, errB := os.ReadFile("joined-" + picture)
		if errA != nil || errB != nil || !bytes.Equal(a, b) {
			t.Errorf("parts %q: the picture %s is another (%v, %v)", parts, picture, errA, errB)
		}
	}
	return true
}

// withoutCommand takes the command line out of a page.
func withoutCommand(t *testing.T, page []byte, command string) []byte {
	t.Helper()
	at := bytes.Index(page, []byte("tunegate "+command+" "))
	if at < 0 {
		t.Fatalf("the page does not say by which command it was made: %s", page)
	}
	end := at + bytes.IndexByte(page[at:], '<')
	return slices.Concat(page[:at], page[end:])
}

// Another version may measure otherwise, so parts are joined by the one that
// made them.
func TestJoinKnowsWhoMeasured(t *testing.T) {
	call := func(args ...string) (int, string) {
		var errs bytes.Buffer
		status := run(append([]string{"tunegate"}, args...), strings.NewReader(""), io.Discard, &errs)
		return status, errs.String()
	}
	folder := t.TempDir()
	name := func(k string) string { return filepath.Join(folder, k+".json") }
	for _, k := range []string{"1", "2"} {
		if status, errs := call("compare", "../../fixtures/demo/factory.csv", "../../fixtures/demo/boost-lift.csv", "--part", "--share", k+"/2", "--write", "json="+name(k)); status != 0 {
			t.Fatal(status, errs)
		}
	}
	if status, errs := call("join", name("1"), name("2")); status != 1 {
		t.Fatal(status, errs)
	}
	other := func(k string) {
		part, err := os.ReadFile(name(k))
		if err != nil {
			t.Fatal(err)
		}
		changed := regexp.MustCompile(`"program":\s*"[^"]*"`).ReplaceAll(part, []byte(`"program": "v0.0.1"`))
		if err := os.WriteFile(name(k), changed, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	other("2")
	if status, errs := call("join", name("1"), name("2")); status != 2 || !strings.Contains(errs, "was made with tunegate v0.0.1, but ") {
		t.Errorf("one part by another version: status %d, %s", status, errs)
	}
	other("1")
	if status, errs := call("join", name("1"), name("2")); status != 2 || !strings.Contains(errs, "was made with tunegate v0.0.1, and this is tunegate ") {
		t.Errorf("all parts by another version: status %d, %s", status, errs)
	}
}
