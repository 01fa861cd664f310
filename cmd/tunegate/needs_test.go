package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// need is an answer to a question as JSON has it.
type need struct {
	Question string
	For      float64
	Size     int
	Hours    float64
}

// needsPage is what JSON forms have of advice.
type needsPage struct {
	Metrics []struct {
		Benchmark, Metric string
		Needs             []need
		See               *struct {
			For float64
			N   int
		}
	}
	Suite    *struct{ Needs []need }
	Findings []struct {
		Profile, Series string
		Need            *need
	}
	Reasons []struct {
		Kind, Metric, Text string
		Need               *need
	}
	Judged []struct{ Comparison needsPage }
}

// byQuestion lists the sizes by metric and question.
func (p needsPage) byQuestion() map[string]need {
	out := map[string]need{}
	add := func(name string, needs []need) {
		for _, n := range needs {
			out[name+" "+n.Question] = n
		}
	}
	for _, m := range p.Metrics {
		add(strings.TrimSuffix(m.Benchmark+" "+m.Metric, " score"), m.Needs)
	}
	if p.Suite != nil {
		add("suite", p.Suite.Needs)
	}
	return out
}

// pageOf runs a command for its JSON.
func pageOf(t *testing.T, args ...string) (p needsPage) {
	t.Helper()
	status, out, errs := tunegate(append(args, "--json")...)
	if status == exitInput {
		t.Fatalf("%v: %s", args, errs)
	}
	if err := json.Unmarshal([]byte(out), &p); err != nil {
		t.Fatalf("%v: %v", args, err)
	}
	return p
}

// Every screen has the same number for the same question: compare, reruns, doubts and
// the gate, whose comparison is the same in a repository of the same rows.
func TestScreensAgreeOnWhatMoreRunsAreFor(t *testing.T) {
	outsideActions(t)
	demo := func(name string) string {
		data, err := os.ReadFile("../../fixtures/demo/" + name + ".csv")
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	runs := func(block bool, values ...float64) string {
		out := "benchmark,unit,block,value\n"
		for i, v := range values {
			label := ""
			if block {
				label = fmt.Sprint("b", i+1)
			}
			out += fmt.Sprintf("tile-render,s,%s,%v\nmesh-solve,s,%s,%v\n", label, v, label, 700-v/2-float64(i%3))
		}
		return out
	}
	for _, c := range []struct {
		name          string
		before, after string
		questions     []string // that have to arise
	}{
		{"demo", demo("factory"), demo("boost-lift"), []string{"ray-preview settle", "ray-preview catch", "scene-scrub settle", "suite settle"}},
		{"3 and 3", runs(false, 412, 409, 415), runs(false, 402, 405, 401),
			[]string{"tile-render any", "tile-render confirm", "tile-render settle"}},
		{"blocks", runs(true, 412, 409, 415, 411), runs(true, 410, 408, 411, 414), []string{"tile-render settle", "tile-render catch"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			folder := t.TempDir()
			const policy = "widest-blind-spot = 2\nburden = \"safety\"\n[[metric]]\nbenchmark = \"*\"\n" +
				"[bench]\nrun-minutes = 5\nsession-minutes = 12\n"
			writeIn(t, folder, "tunegate.toml", policy)
			writeIn(t, folder, "profiles/factory/runs/1.csv", c.before)
			writeIn(t, folder, "profiles/factory/settings.toml", "[settings]\nlift = 0\n")
			gitIn(t, folder, "init", "-q", "-b", "main")
			gitIn(t, folder, "add", ".")
			gitIn(t, folder, "commit", "-q", "-m", "factory")
			writeIn(t, folder, "profiles/boost-lift/runs/1.csv", c.after)
			writeIn(t, folder, "profiles/boost-lift/settings.toml", "baseline = \"factory\"\n[settings]\nlift = 1\n")
			toml, sides := filepath.Join(folder, "tunegate.toml"), []string{
				filepath.Join(folder, "profiles", "factory", "runs", "1.csv"), filepath.Join(folder, "profiles", "boost-lift", "runs", "1.csv")}
			with := func(command string, more ...string) []string {
				return append(append([]string{command, "--policy", toml}, more...), sides...)
			}
			compared := pageOf(t, with("compare")...).byQuestion()
			for _, q := range c.questions {
				if n := compared[q]; n.Size == 0 || n.Hours == 0 {
					t.Errorf("compare does not say how many %s takes: %v", q, compared)
				}
			}
			gate := pageOf(t, "gate", "--base", "main", folder)
			gated := gate.Judged[0].Comparison.byQuestion()
			if len(gated) != len(compared) {
				t.Errorf("gate: %v, compare: %v", gated, compared)
			}
			for q, n := range gated {
				if n != compared[q] {
					t.Errorf("%s: gate %v, compare %v", q, n, compared[q])
				}
			}
			for _, r := range gate.Reasons {
				if r.Need == nil {
					continue
				}
				if !slices.Contains(slices.Collect(maps.Values(compared)), *r.Need) { // that of the worst of several metrics
					t.Errorf("reason %s: %v, compare: %v", r.Kind, *r.Need, compared)
				}
				if !strings.HasSuffix(r.Text, " more") {
					t.Errorf("%q names no hours", r.Text)
				}
			}
			seen := 0
			for _, m := range pageOf(t, with("reruns")...).Metrics {
				if n, open := compared[m.Benchmark+" settle"]; open && m.See != nil {
					if seen++; m.See.N != n.Size {
						t.Errorf("%s: reruns %d, compare %d", m.Benchmark, m.See.N, n.Size)
					}
				}
			}
			for _, m := range pageOf(t, with("reruns", "--change", "2")...).Metrics {
				if n, open := compared[m.Benchmark+" catch"]; open && m.See != nil {
					if seen++; m.See.N != n.Size {
						t.Errorf("%s: reruns %d to catch 2 %%, compare %d", m.Benchmark, m.See.N, n.Size)
					}
				}
			}
			if seen == 0 {
				t.Error("reruns plans nothing that compare does")
			}
			for _, f := range pageOf(t, with("doubts")...).Findings {
				if f.Need != nil && f.Need.Size != compared[f.Series+" any"].Size {
					t.Errorf("doubts: %s %v, compare %v", f.Series, *f.Need, compared)
				}
			}
		})
	}
}
