package report

import (
	"fmt"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/report/doc"
)

// pilotPlan plans from a pilot of six sessions a side. All names end in name.
func pilotPlan(t testing.TB, name string) RerunsPage {
	t.Helper()
	var runs compare.Runs
	names := []string{"factory" + name, "boost-lift" + name}
	for i, profile := range names {
		for session := range 6 {
			for run := range 3 {
				v := compare.Value{Profile: profile, Benchmark: "tile-render" + name, Unit: "s", Session: fmt.Sprint(profile, session),
					Value: 412 + float64(session%4) + float64(run*(session+2)%3)/3 - float64(8*i)}
				add(t, &runs, v)
			}
		}
	}
	wish := advice.Wish{SessionMinutes: 12, RunMinutes: 5, Looks: 2}
	before, after := runs.Profile(names[0]), runs.Profile(names[1])
	p, err := advice.PlanReruns(before, after, names, compare.Policy{}, wish, compare.Options{Resamples: 1000})
	if err != nil {
		t.Fatal(err)
	}
	return RerunsPage{Reruns: p, Commands: typed}
}

// The cross-check is for experts: only the detailed text has it.
func TestRerunsDocument(t *testing.T) {
	d := RerunsDocument(pilotPlan(t, ""))
	const check = "  cross-check by Noether's formula"
	for detail, want := range map[bool]int{false: 0, true: 1} {
		screen := textOf(t, d, doc.TextOptions{Width: 80, Detail: detail})
		if strings.Count(screen, check) != want {
			t.Errorf("detail %v:\n%s", detail, screen)
		}
		checkContains(t, screen,
			"\n\ntile-render\n  spread ",
			"\n    runs a session  sessions a side  hours at the bench\n                 1  ", "  least time\n",
			"\n\nTwo looks, planned before", "\n  after half of the runs: <look 1>\n  after all of them: <look 2>\n",
			"\n\nAll numbers are totals", "\n\nNext: about ",
		)
	}
	page := markdownOf(t, d)
	checkContains(t, page,
		"## How often to run, from pilot runs of factory and boost-lift\n\n**Next: about ", "\n\n97.06 % confidence at each of two looks; ",
		"\n\n### tile-render\n\n- spread ",
		"\n\n| runs a session | sessions a side | hours at the bench | |\n|--:|--:|--:|---|\n| 1 | ",
		"\n- after half of the runs: ",
	)
	if strings.Contains(page, "Noether") {
		t.Error(page)
	}
}

// A blind spot rests on normal noise. Where so few runs hardly show the shape, or several
// scores share the correction, the line says how often it holds in others.
func TestBlindSpotInOtherNoise(t *testing.T) {
	for _, c := range []struct {
		values, scores int
		blocks         bool
		said           bool
	}{{7, 1, false, true}, {8, 1, false, false}, {8, 2, false, true}, {11, 1, true, true}, {12, 1, true, false}} {
		r := &compare.Result{Measurement: &compare.Measurement{Pair: &compare.Pair{}, Replicates: [2]int{c.values, c.values + 5}}}
		if c.blocks {
			r.Replication, r.Replicates[1] = compare.ByBlock, c.values
		}
		if got := otherNoise(RerunsPage{Reruns: &advice.Reruns{Scores: c.scores}}, r) != ""; got != c.said {
			t.Errorf("%+v: said is %v", c, got)
		}
	}
}
