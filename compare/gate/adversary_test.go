package gate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// The studio of the demo, in memory: four scores, and heat and power of one.
var benchScores = []string{"tile-render", "mesh-solve", "archive-pack", "shader-build"}

const heatMetric = "temperature"

// bench is how a machine performs under a profile: seconds of each score, and degrees.
type bench struct {
	seconds map[string]float64
	heat    float64
	noise   float64 // from session to session, as a share
}

func (b bench) faster(share float64, scores ...string) bench {
	seconds := map[string]float64{}
	for name, s := range b.seconds {
		if seconds[name] = s; len(scores) == 0 || slices.Contains(scores, name) {
			seconds[name] = s / (1 + share)
		}
	}
	b.seconds = seconds
	return b
}

// studioBench is the studio's machine as it comes, with the demo's noise.
func studioBench() bench {
	return bench{seconds: map[string]float64{"tile-render": 412.4, "mesh-solve": 267.9, "archive-pack": 96.4, "shader-build": 143.5},
		heat: 78, noise: 0.003}
}

// measure is so many sessions of a run each, in lines of a wide file.
func (b bench) measure(g *rand.Rand, file, label string, sessions int) []compare.Value {
	var out []compare.Value
	for s := range sessions {
		at := compare.Place{File: file, Line: s + 2}
		row := compare.Value{Session: fmt.Sprint(label, s+1), Run: "1", At: at}
		add := func(benchmark, metric, unit string, value, step float64) {
			row.Benchmark, row.Metric, row.Unit, row.Value = benchmark, metric, unit, math.Round(value/step)*step
			row.At.Column++
			out = append(out, row)
		}
		for _, name := range benchScores {
			add(name, compare.DefaultMetric, "s", b.seconds[name]*math.Exp(b.noise*g.NormFloat64()), 0.01)
		}
		// In tenths of a degree six copied readings come about by chance in one of some
		// 500,000, which is not rare enough to accuse anybody.
		add("tile-render", heatMetric, "°C", b.heat+g.NormFloat64(), 0.01)
	}
	return out
}

// studioPolicy is that of the demo.
func studioPolicy() *compare.Policy {
	return &compare.Policy{Correction: compare.JointCorrection, FewestSessions: 5, WidestBlindSpot: ptr(2.0), Entries: []compare.Entry{
		{Benchmark: "*", Tolerance: ptr(0.5)}, {Benchmark: "archive-pack", Required: ptr(true)},
		{Benchmark: "*", Metric: heatMetric, Role: compare.Cost, Cap: ptr(93.0)}}}
}

// request is a merge request under construction.
type request struct {
	g          *rand.Rand
	base, head Snapshot
	profile    string // that it is about
	bad        compare.MetricID
	label      string // of the new sessions
	reference  string // the profile that it is judged against
	now        bench
	catchable  bool // the runs hold the loss, or the heat, and what it is seen against
	moves      []string
}

// newRequest is a request that changes a profile: a new one, other settings, or more
// runs. change turns what the profile was into what is measured now.
func newRequest(g *rand.Rand, change func(bench) bench) *request {
	was := studioBench()
	cool := was.faster(0.008)
	cool.heat = 71
	base := repository("main", studioPolicy(),
		tuned(factory, "auto", was.measure(g, "profiles/factory/runs/1.csv", "F", 6)),
		tuned("cool-curve", lowered, cool.measure(g, "profiles/cool-curve/runs/1.csv", "C", 6)).from(factory))
	head := repository("head", studioPolicy())
	for name, p := range base.Profiles {
		copied := *p
		copied.Values = compare.RowsOf(p.Values.List()...)
		head.Profiles[name] = &copied
	}
	r := &request{g: g, base: base, head: head, label: "N", catchable: true}
	switch g.IntN(3) {
	case 0:
		r.profile, r.reference, r.now = boost, factory, change(was)
		head.Profiles[boost] = tuned(boost, raised, r.now.measure(g, "profiles/boost-lift/runs/1.csv", r.label, 6)).from(factory)
	case 1:
		r.profile, r.reference, r.now = "cool-curve", "cool-curve", change(cool)
		head.Profiles[r.profile].Settings = map[string]string{"lift": lower}
		head.Profiles[r.profile].Values = compare.RowsOf(r.now.measure(g, "profiles/cool-curve/runs/2.csv", r.label, 6)...)
	default:
		r.profile, r.reference, r.now = "cool-curve", "cool-curve", change(cool)
		more := r.now.measure(g, "profiles/cool-curve/runs/2.csv", r.label, 6)
		head.Profiles[r.profile].Values = compare.JoinRows(head.Profiles[r.profile].Values, compare.RowsOf(more...))
	}
	return r
}

// each changes the new rows, those of the bad metric only where bad is set; a row for
// which keep says no is left out.
func (r *request) each(bad bool, keep func(i int, v *compare.Value) bool) {
	p, n := r.head.Profiles[r.profile], 0
	out := compare.RowsOf()
	for _, v := range p.Values.All() {
		if strings.HasPrefix(v.Session, r.label) && (!bad || v.ID() == r.bad) {
			if n++; !keep(n-1, &v) {
				continue
			}
		}
		out.Append(v)
	}
	p.Values = out
}

// rename gives the profile another name; what it was is gone.
func (r *request) rename(name string) {
	p := r.head.Profiles[r.profile]
	delete(r.head.Profiles, r.profile)
	p.Name, r.head.Profiles[name], r.profile = name, p, name
}

// hide is a move that hides a loss; those that leave nothing to catch say so.
type hide struct {
	name  string
	blind bool
	move  func(*request)
}

var hides = []hide{
	{"nothing", false, func(*request) {}},
	{"another name", false, func(r *request) { r.rename("calm") }},
	{"leave the metric out", true, func(r *request) { r.each(true, func(int, *compare.Value) bool { return false }) }},
	{"empty it", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool { v.Missing, v.Value = true, 0; return true })
	}},
	{"rename the benchmark", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool { v.Benchmark += "-2"; return true })
	}},
	{"rename the metric", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool { v.Metric = "edge"; return true })
	}},
	{"another unit", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool { v.Unit, v.Value = "ms", 1000*v.Value; return true })
	}},
	{"say that high is good", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool { v.Better = compare.Higher; return true })
	}},
	{"two sessions of it", true, func(r *request) { r.each(true, func(i int, _ *compare.Value) bool { return i < 2 }) }},
	{"two sessions", true, func(r *request) {
		r.each(false, func(_ int, v *compare.Value) bool { return v.Session <= r.label+"2" })
	}},
	{"all in one session", true, func(r *request) {
		r.each(false, func(_ int, v *compare.Value) bool { v.Run, v.Session = v.Session, r.label; return true })
	}},
	{"set it aside", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool { v.SetAside, v.Reason = true, "sensor"; return true })
	}},
	{"set the slow half aside", false, func(r *request) {
		r.each(false, func(i int, v *compare.Value) bool { v.SetAside, v.Reason = v.Session > r.label+"3", "fan"; return true })
	}},
	{"set the reference aside", true, func(r *request) {
		if p := r.head.Profiles[r.reference]; p != nil {
			values := p.Values.List()
			for i := range values {
				if !strings.HasPrefix(values[i].Session, r.label) {
					values[i].SetAside, values[i].Reason = true, "fan"
				}
			}
			p.Values = compare.RowsOf(values...)
		}
	}},
	{"slow the reference down", true, func(r *request) {
		if p := r.head.Profiles[r.reference]; p != nil {
			values := p.Values.List()
			for i := range values {
				values[i].Value *= 1.05
			}
			p.Values = compare.RowsOf(values...)
		}
	}},
	{"copy the metric", true, func(r *request) { r.copyFrom(true) }},
	{"copy all", true, func(r *request) { r.copyFrom(false) }},
	{"its own sessions twice", false, func(r *request) {
		p := r.head.Profiles[r.profile]
		for _, v := range p.Values.List() {
			if strings.HasPrefix(v.Session, r.label) {
				v.Session += "b"
				v.At.Line += 100
				p.Values.Append(v)
			}
		}
	}},
	{"drown it in noise", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool {
			if v.Metric == heatMetric { // heat that varies more is hotter, too
				v.Value += math.Abs(10 * r.g.NormFloat64())
			} else {
				v.Value *= math.Exp(0.3 * r.g.NormFloat64())
			}
			return true
		})
	}},
	{"only in later runs", true, func(r *request) {
		if r.bad.Metric == heatMetric {
			return // any run that is too hot fails
		}
		var later []compare.Value
		r.each(true, func(_ int, v *compare.Value) bool {
			if v.Run == "1" && v.IsRow() {
				for _, run := range []string{"2", "3"} {
					more := *v
					more.Run, more.Value = run, math.Round(100*v.Value*math.Exp(0.003*r.g.NormFloat64()))/100
					more.At.Line += 100
					later = append(later, more)
				}
				v.Run, v.Value = "first", math.Round(100*v.Value/1.05)/100
			}
			return true
		})
		p := r.head.Profiles[r.profile]
		p.Values = compare.JoinRows(p.Values, compare.RowsOf(later...))
	}},
	{"as warm-ups", true, func(r *request) {
		r.each(true, func(_ int, v *compare.Value) bool { v.Run = compare.WarmUp; return true })
	}},
	{"in blocks", false, func(r *request) {
		r.each(false, func(_ int, v *compare.Value) bool { v.Block = "B" + v.Session[len(v.Session)-1:]; return true })
	}},
	{"no baseline", true, func(r *request) { r.head.Profiles[r.profile].Baseline = "" }},
	{"a baseline of its own", true, func(r *request) {
		r.head.Profiles["slow"] = tuned("slow", "slow", r.now.faster(-0.01).measure(r.g, "profiles/slow/runs/1.csv", "S", 6))
		r.head.Profiles[r.profile].Baseline = "slow"
	}},
	{"delete the profile it is judged against", true, func(r *request) {
		if r.profile != r.reference {
			delete(r.head.Profiles, r.reference)
		}
	}},
	{"delete another profile", false, func(r *request) {
		for _, name := range []string{factory, "cool-curve"} {
			if name != r.profile && name != r.reference {
				delete(r.head.Profiles, name)
			}
		}
	}},
	{"other settings", false, func(r *request) { r.head.Profiles[r.profile].Settings = map[string]string{"lift": "x", "trim": "odd"} }},
	{"the settings as they were", false, func(r *request) { r.head.Profiles[r.profile].Settings = map[string]string{"lift": lowered} }},
	{"no policy", false, func(r *request) { r.head.Policy = nil }},
	{"a larger tolerance", false, func(r *request) { r.loosen(func(p *compare.Policy) { p.Entries[0].Tolerance = ptr(20.0) }) }},
	{"a higher cap", false, func(r *request) {
		r.loosen(func(p *compare.Policy) { p.Entries[len(p.Entries)-1].Cap = ptr(120.0) })
	}},
	{"no blind spot, no sessions, removals", false, func(r *request) {
		r.loosen(func(p *compare.Policy) {
			p.WidestBlindSpot, p.FewestSessions, p.Removed = nil, 0, compare.RemovalAllowed
		})
	}},
	{"required no more, set aside allowed", false, func(r *request) {
		r.loosen(func(p *compare.Policy) { p.Entries[len(p.Entries)/2].Required, p.SetAsideAllowed = nil, 20 })
	}},
	{"nothing judged", false, func(r *request) {
		r.loosen(func(p *compare.Policy) { p.Entries = []compare.Entry{{Benchmark: "other"}} })
	}},
}

// loosen changes the head's policy, where it still has one.
func (r *request) loosen(change func(*compare.Policy)) {
	if r.head.Policy != nil {
		change(r.head.Policy)
	}
}

// leavesOut reports whether the request brings more runs of a profile as it was, and
// of the bad metric, a score, none but warm-ups and empty cells: the old runs of it stand
// as they did, and no loss would land.
func (r *request) leavesOut() bool {
	p, old := r.head.Profiles[r.profile], r.base.Profiles[r.reference]
	if r.reference == factory || p.Settings["lift"] != old.Settings["lift"] || len(p.Settings) > 1 || r.bad.Metric == heatMetric {
		return false
	}
	names := map[string]bool{}
	for _, v := range p.Values.All() {
		if v.Run == compare.WarmUp || v.Missing {
			continue // it counts for nothing, under whatever name
		}
		names[v.Benchmark] = names[v.Benchmark] || v.ID() == r.bad && v.Session[:1] == r.label && v.IsRow()
	}
	return !names[r.bad.Benchmark] && len(names) <= len(benchScores)
}

// invents reports whether the heat of the request is copied and then changed at random:
// such readings look like measured ones, and of the true heat none is written down.
func (r *request) invents() bool {
	copied := slices.IndexFunc(r.moves, func(move string) bool { return strings.HasPrefix(move, "copy ") })
	return r.bad.Metric == heatMetric && copied >= 0 && slices.Contains(r.moves[copied:], "drown it in noise")
}

// copyFrom puts the reference's values in the place of new ones.
func (r *request) copyFrom(bad bool) {
	source := map[compare.MetricID][]float64{}
	for _, v := range r.base.Profiles[r.reference].Values.All() {
		source[v.ID()] = append(source[v.ID()], v.Value)
	}
	at := map[compare.MetricID]int{}
	r.each(bad, func(_ int, v *compare.Value) bool {
		id := v.ID()
		if k := at[id]; k < len(source[id]) {
			v.Value = source[id][k]
		}
		at[id]++
		return true
	})
}

// Requests that carry a loss of 5 % or heat above the cap, and moves drawn at random
// that are to hide it: none passes, and those whose runs could show it fail. Honest
// ones of the same shapes pass.
func TestNothingHostilePasses(t *testing.T) {
	requests := 200
	if testing.Short() || comparetest.RaceEnabled {
		requests = 40
	}
	judge := func(r *request) string {
		g, err := Judge(r.base, r.head, compare.Options{Resamples: 400, Seed: 1})
		if err != nil {
			return "refused"
		}
		if g.Outcome == Undecided {
			return "undecided: " + g.Reasons[0].Kind
		}
		return string(g.Outcome)
	}
	catchable, caught := 0, 0
	for i := range requests {
		g := comparetest.Generator(uint64(40000 + i))
		score := benchScores[g.IntN(len(benchScores))]
		bad := compare.MetricID{Benchmark: score, Metric: compare.DefaultMetric}
		r := newRequest(g, func(b bench) bench { return b.faster(-0.05, score) })
		if g.IntN(4) == 0 {
			g = comparetest.Generator(uint64(40000 + i))
			bad = compare.MetricID{Benchmark: "tile-render", Metric: heatMetric}
			r = newRequest(g, func(b bench) bench { b.heat = 97; return b.faster(0.01) })
		}
		r.bad = bad
		for range 1 + g.IntN(3) {
			h := hides[g.IntN(len(hides))]
			h.move(r)
			r.catchable, r.moves = r.catchable && !h.blind, append(r.moves, h.name)
		}
		outcome := judge(r)
		if outcome == string(Passed) && !r.leavesOut() && !r.invents() {
			t.Errorf("request %d passed: %s of %s, %v; %q", i, r.bad, r.profile, r.catchable, r.moves)
		}
		if r.catchable {
			if catchable++; outcome == string(Failed) {
				caught++
			} else {
				t.Logf("request %d, not caught: %s, %s of %s: %q", i, outcome, r.bad.Name(), r.profile, r.moves)
			}
		}
	}
	t.Logf("%d hostile requests: %d of %d whose runs could show it failed", requests, caught, catchable)
	if float64(caught) < 0.9*float64(catchable) || catchable < requests/10 {
		t.Errorf("%d of %d are caught", caught, catchable)
	}

	passed, failed := 0, 0
	for i := range requests {
		g := comparetest.Generator(uint64(50000 + i))
		gain := 0.02 * g.Float64()
		r := newRequest(g, func(b bench) bench { return b.faster(gain) })
		if r.head.Profiles[r.profile].Settings["lift"] == lowered { // more runs of the same
			g = comparetest.Generator(uint64(50000 + i))
			g.Float64()
			r = newRequest(g, func(b bench) bench { return b })
		}
		switch g.IntN(4) {
		case 0:
			r.head.Policy.Entries[0].Tolerance = ptr(0.4)
		case 1:
			r.head.Profiles[r.profile].Conditions = map[string]string{"room": "24 °C"}
		case 2:
			p := r.head.Profiles[factory]
			p.Values = compare.RowsOf(at("profiles/factory/runs/moved.csv", p.Values.List()...)...)
		}
		switch outcome := judge(r); outcome {
		case string(Passed):
			passed++
		default:
			if outcome == string(Failed) {
				failed++
			}
			t.Logf("honest request %d: %s", i, outcome)
		}
	}
	t.Logf("%d honest requests: %d passed, %d failed", requests, passed, failed)
	n := float64(requests)
	if float64(passed) < 0.9*n || float64(failed) > n*(0.06+comparetest.Allowance(0.06, requests)) {
		t.Errorf("%d of %d honest requests pass, %d fail", passed, requests, failed)
	}
}
