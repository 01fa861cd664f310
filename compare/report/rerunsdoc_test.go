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

// What is open is planned on the screen, and only the detailed one plans score by score.
func TestRerunsDocument(t *testing.T) {
	page := pilotPlan(t, "")
	page.WriteIt = "<write>"
	const check, perScore = "  cross-check by Noether's formula", "\n\ntile-render\n  spread "
	for detail, want := range map[bool]int{false: 0, true: 1} {
		page.Detail = detail
		screen := textOf(t, RerunsDocument(page), doc.TextOptions{Width: 80, Detail: detail})
		if strings.Count(screen, check) != want || strings.Count(screen, perScore) != want {
			t.Errorf("detail %v:\n%s", detail, screen)
		}
		if detail {
			checkContains(t, screen, "\n    runs a session  sessions a side  hours at the bench\n                 1  ", "  least time\n",
				"\n\nAll numbers are totals")
		}
	}
	page.Detail = true
	checkContains(t, markdownOf(t, RerunsDocument(page)), "## What to run next, for factory → boost-lift\n\n**Nothing to run",
		"\n\n### tile-render\n\n- spread ", "\n\n| runs a session | sessions a side | hours at the bench | |\n|--:|--:|--:|---|\n| 1 | ")
}

// openPlan is a plan with one open result and one budget.
func openPlan(t *testing.T) RerunsPage {
	t.Helper()
	page := pilotPlan(t, "")
	hint := compare.Hint
	open := *page.Metrics[0].Result
	open.Verdict = &hint
	page.Next = &advice.Next{Settled: 3, Look: 2, Unit: compare.BySession, Spells: 1, WarmUps: 1,
		Minutes: compare.Minutes{Run: 6, Session: 12, RunFrom: compare.MinutesStated, SessionFrom: compare.MinutesStated},
		Open:    []*advice.Open{{Result: &open, Planned: true, Alone: 40, AloneHours: 31.4}},
		Choices: []*advice.Choice{{Budget: advice.Budget{Hours: 6}, Sessions: 3, Runs: 1, Hours: 5.2, More: map[string]int{"tile-render": 3},
			Chances: []float64{0.21}, Expected: 0.21}}}
	return page
}

// The order of what is said about an open result: chances by hours, then what does not
// pay, the layout, and the basis of the hours; the call to type comes last.
func TestNextOfOpenResults(t *testing.T) {
	page := openPlan(t)
	page.WriteIt = "<write>"
	screen := textOf(t, RerunsDocument(page), doc.TextOptions{Width: 80})
	last := 0
	for _, part := range []string{"3 of 4 that decide are settled", "Chance to be settled", "\ntile-render ", " 21 % ", " 31 h",
		"settle, of 1", "takes  ", "tile-render would take about 31 h for any verdict four times in five: widen",
		"Sessions of both profiles in balanced order",
		"Hours are at 6 min a run and 12 min a session", "Next: <write>"} {
		at := strings.Index(screen[last:], part)
		if at < 0 {
			t.Fatalf("%q is missing, or too early:\n%s", part, screen)
		}
		last += at
	}
	page.Next.Asked, page.SheetFile, page.JudgeIt = true, "next.csv", "<judge>"
	checkContains(t, textOf(t, RerunsDocument(page), doc.TextOptions{Width: 80}),
		"\n  Run tile-render in 3 sessions a side more, 1 run each: 5.2 h.\n", "\nNext: fill in next.csv (0 runs), then <judge>\n")
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
