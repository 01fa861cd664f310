package report

import (
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/doubts"
	"tunegate/compare/readings"
	"tunegate/compare/report/doc"
)

// Names from files put no terminal escapes and no markup into a document.
func TestHostileNamesInDocuments(t *testing.T) {
	m := compare.Metric{Benchmark: hostileName, Metric: hostileName, Unit: hostileName}
	sides := []advice.PassSide{{Name: hostileName, Passes: 40}, {Name: hostileName, Passes: 3, Failures: 1}}
	passes, err := advice.CountPasses(sides, []float64{0.05}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	policy := studio(t)
	policy.Policy.Source, policy.Metrics[0] = hostileName, m
	for name, d := range map[string]doc.Document{
		"reruns": RerunsDocument(pilotPlan(t, hostileName)),
		"passes": PassesDocument(passes),
		"doubts": DoubtsDocument(DoubtsPage{Report: &doubts.Report{Grade: doubts.GradeCheck, Series: 1,
			Findings: []doubts.Finding{{Grade: doubts.GradeCheck, Check: doubts.CheckOutlier, Profile: hostileName, Series: hostileName,
				Evidence: doubts.Evidence{Unit: hostileName}}}}, Commands: typed}),
		"readings": ReadingsDocument(&readings.Result{
			Rules: readings.DefaultRules(), Silent: []string{hostileName}, Logs: []readings.Log{{File: hostileName}},
			Runs: []readings.Run{{
				Benchmark: hostileName, Session: hostileName, Log: hostileName, Label: hostileName, Excluded: readings.CutAtEnd{},
				Metrics: []readings.Value{{Metric: hostileName}},
			}},
		}, []string{hostileName}),
		"policy": PolicyDocument(policy),
		"sheet": SheetDocument([]advice.SheetRow{
			{Step: 1, Block: hostileName, Session: hostileName, Profile: hostileName, Metric: m, Run: "1"},
		}, 0),
	} {
		screen := textOf(t, d, doc.TextOptions{Width: 80})
		page := markdownOf(t, d)
		if strings.ContainsAny(screen+page, "\x1b\x00\r\u202e") || !strings.Contains(screen, "<img") || !strings.Contains(page, "&lt;img") {
			t.Errorf("%s: a name turns text, or is not shown:\n%q\n%q", name, screen, page)
		}
		for _, part := range []string{"<img", "@everyone", "f](", "a|b"} {
			if strings.Contains(page, part) {
				t.Errorf("%s: the page holds %q", name, part)
			}
		}
	}
}
