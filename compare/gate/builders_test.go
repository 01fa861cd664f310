package gate

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

const (
	factory = comparetest.Factory
	boost   = comparetest.Boost
)

// Lifts, as the demo sets them: of boost-lift, and of cool-curve before and now.
const (
	raised  = "two notches"
	lowered = "one notch down"
	lower   = "two notches down"
)

func tiles(letter string, level float64) []compare.Value { return comparetest.Tiles(letter, level) }

func meshes(letter string, level float64) []compare.Value { return comparetest.Meshes(letter, level) }

// heat are temperatures of tile-render.
func heat(letter string, level float64) []compare.Value {
	return comparetest.Metric("temperature", comparetest.SixSessions("tile-render", "°C", letter, level))
}

// tuned is a profile with one setting. Its values lie in files by the first
// letters of their sessions.
func tuned(name, lift string, values ...[]compare.Value) *Profile {
	settings := "profiles/" + name + "/settings.toml"
	return &Profile{
		Name: name, Settings: map[string]string{"lift": lift}, Conditions: map[string]string{"machine": "heron"},
		At: compare.Place{File: settings}, BaselineAt: compare.Place{File: settings, Line: 1, Column: 1},
		Values: compare.RowsOf(comparetest.InRunFiles(name, values...)...),
	}
}

func (p *Profile) from(baseline string) *Profile {
	p.Baseline = baseline
	return p
}

func (p *Profile) under(conditions map[string]string) *Profile {
	p.Conditions = conditions
	return p
}

func repository(name string, policy *compare.Policy, profiles ...*Profile) Snapshot {
	s := Snapshot{Name: name, Policy: policy, Profiles: map[string]*Profile{}}
	if policy != nil {
		s.PolicyFile = "tunegate.toml"
	}
	for _, p := range profiles {
		s.Profiles[p.Name] = p
	}
	return s
}

func gated(t testing.TB, base, head Snapshot) *Gate {
	t.Helper()
	g, err := Judge(base, head, compare.Options{Resamples: 1000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// between gates two profiles' states under a policy.
func between(t testing.TB, policy compare.Policy, base, head []*Profile) *Gate {
	t.Helper()
	return gated(t, repository("main", &policy, base...), repository("the working tree", &policy, head...))
}

// reasons lists what speaks against a gate: profile, kind, what it is about.
func reasons(g *Gate) []string {
	out := []string{}
	for _, r := range g.Reasons {
		s := r.Profile + " " + r.Kind
		if about := r.About(); about != "" {
			s += " " + about
		}
		if r.Decides != Failed {
			s += " (" + string(r.Decides) + ")"
		}
		out = append(out, s)
	}
	return out
}

func wantReasons(t *testing.T, what string, g *Gate, outcome Outcome, want ...string) {
	t.Helper()
	if want == nil {
		want = []string{}
	}
	if g.Outcome != outcome {
		t.Errorf("%s: %s, want %s; %q", what, g.Outcome, outcome, reasons(g))
	}
	if d := cmp.Diff(want, reasons(g)); d != "" {
		t.Errorf("%s: reasons (-want +got)\n%s", what, d)
	}
}

// judgement is the one of a gate that judges one profile.
func judgement(t testing.TB, g *Gate) *Judgement {
	t.Helper()
	if len(g.Judged) != 1 {
		t.Fatalf("%d profiles judged, want 1", len(g.Judged))
	}
	return g.Judged[0]
}

// told is what notes hold, one a line: kind, rows with the reasons why they are
// set aside, names, detail.
func noteTexts(notes []Note) string {
	var out []string
	for _, n := range notes {
		line := string(n.Kind)
		for _, v := range n.Rows.All() {
			line += " " + v.At.String()
			if v.SetAside {
				line += " (" + v.Reason + ")"
			}
		}
		if names := slices.Concat(n.Names, differ(n.Changed)); len(names) > 0 {
			line += " " + strings.Join(names, "; ")
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

// differ lists differences of settings, as "lift: auto, two notches"; "-" is not set.
func differ(differences []Difference) []string {
	out := []string{}
	word := func(v *string) string {
		if v == nil {
			return "-"
		}
		return *v
	}
	for _, d := range differences {
		out = append(out, fmt.Sprintf("%s: %s, %s", d.Key, word(d.Before), word(d.Now)))
	}
	return out
}

func hasWarning(j *Judgement, part string) bool { return strings.Contains(noteTexts(j.Warnings), part) }

type profiles = []*Profile

func ptr[T any](v T) *T { return &v }
