package report

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/ladder"
)

// ComparisonPictures are the pictures of a comparison, in the order of a page:
// changes (and costs, clocks), runs, pairs, sessions.
func ComparisonPictures(c *compare.Comparison) []*Picture {
	var out []*Picture
	names := map[compare.Role]string{compare.Score: "changes", compare.Cost: "costs", compare.Info: "shown"}
	blocks := blocksOf(c)
	var suites []*compare.Result
	if c.Suite != nil { // the last block; it shares the axis of the scores in per cent
		suites = blocks[len(blocks)-1].results
		blocks = blocks[:len(blocks)-1]
	}
	var scores []*compare.Result
	for _, role := range []compare.Role{compare.Score, compare.Cost, compare.Info} {
		var units [][]*compare.Result
		var all []*compare.Result
		for _, b := range blocks {
			if b.results[0].Role != role {
				continue
			}
			all = append(all, b.results...)
			if role == compare.Score && b.results[0].Scale == compare.Ratio {
				b.results = slices.Concat(b.results, suites)
			}
			units = append(units, b.results)
		}
		title := costTitle(c.After, all)
		if role == compare.Score {
			scores, title = all, headline(c.After, all)
		}
		if len(all) > 0 {
			out = append(out, changesPicture(c.Confidence, names[role], title, units...))
		}
	}
	panels, more := panelsOf(c)
	out = append(out, runsPicture("runs", apartTitle(c, scores), panels, more))
	if p := pairsPicture(c.Confidence, "pairs", scores); p != nil {
		out = append(out, p)
	}
	if p := planPicture("sessions", c.Judged()); p != nil {
		out = append(out, p)
	}
	return out
}

// LadderPictures are the pictures of a ladder: front, steps, changes, runs,
// pairs, sessions.
func LadderPictures(l *ladder.Ladder) []*Picture {
	var out []*Picture
	if p := frontPicture(l); p != nil {
		out = append(out, p)
	}
	steps := ladderSuites(l)
	if len(steps) > 0 {
		out = append(out, changesPicture(l.Confidence, "steps", stepsTitle(steps), steps))
	}
	total := l.Total.Comparison
	var scores []*compare.Result
	var units [][]*compare.Result
	for _, b := range blocksOf(total) {
		if b.results[0].Role == compare.Score && b.results[0].Parts == nil {
			units, scores = append(units, b.results), append(scores, b.results...)
		}
	}
	if len(scores) > 0 {
		out = append(out, changesPicture(l.Confidence, "changes", headline(total.After, scores), units...))
	}
	panels, more := ladderPanels(l)
	out = append(out, runsPicture("runs", apartTitle(total, scores), panels, more))
	if p := pairsPicture(l.Confidence, "pairs", scores); p != nil {
		out = append(out, p)
	}
	if p := planPicture("sessions", slices.Concat(scores, steps)); p != nil {
		out = append(out, p)
	}
	return out
}

// GatePictures are those of each judged profile, under its name.
func GatePictures(g *gate.Gate) []*Picture {
	var out []*Picture
	for _, j := range g.Judged {
		if j.Comparison != nil {
			for _, p := range ComparisonPictures(j.Comparison) {
				p.Name = j.Profile + "/" + p.Name
				out = append(out, p)
			}
		}
	}
	return out
}

// ladderPanels has a track for every profile.
func ladderPanels(l *ladder.Ladder) (out []panelOf, more int) {
	all, more := panelsOf(l.Total.Comparison)
	for _, p := range all {
		if p.result.Role == compare.Score { // costs are in the picture of the front
			out = append(out, p)
		} else {
			more++
		}
	}
	for i := range out {
		of := out[i].result
		var tracks []track
		for k, s := range l.Steps {
			for _, r := range s.Comparison.Results {
				if r.Name() != of.Name() {
					continue
				}
				b, a := sittingsOf(r.Pair)
				if k == 0 {
					tracks = append(tracks, track{Clean(s.From), b, r.Before.Median})
				}
				tracks = append(tracks, track{Clean(s.To), a, r.After.Median})
			}
		}
		if len(tracks) == len(l.Profiles) { // else some step lacks it, and the two ends stand
			out[i].tracks = tracks
		}
	}
	return out, more
}

// costTitle states the real changes of costs, or of metrics that are never judged.
func costTitle(after string, results []*compare.Result) string {
	var parts []string
	for _, r := range results {
		if r.Real {
			parts = append(parts, fmt.Sprintf("%s %s", Clean(r.Name()), signed(r, r.Change)))
		}
	}
	if len(parts) == 0 {
		return fmt.Sprintf("Whether %s changes %s is not settled", Clean(after), namesOf(results))
	}
	if len(parts) > 3 {
		parts = append(parts[:3], fmt.Sprintf("%d more", len(parts)-3))
	}
	return fmt.Sprintf("With %s: %s", Clean(after), andList(parts))
}

func namesOf(results []*compare.Result) string {
	var names []string
	for _, r := range results {
		names = append(names, Clean(r.Name()))
	}
	return compare.List(names, 3)
}

// apartTitle says in how many scores the sides do not overlap at all.
func apartTitle(c *compare.Comparison, scores []*compare.Result) string {
	apart := 0
	unit, pairs := "run", false
	for _, r := range scores {
		if r.Superiority == 0 || r.Superiority == 1 {
			apart++
		}
		unit, pairs = string(r.Replication), paired(r)
	}
	every := fmt.Sprintf("every %s of %s lies apart from every one of %s", unit, Clean(c.After), Clean(c.Before))
	if pairs {
		every = "every " + unit + " says the same"
	}
	switch {
	case len(scores) == 0:
		return fmt.Sprintf("Every run of %s and %s", Clean(c.Before), Clean(c.After))
	case len(scores) == 1 && apart == 1:
		return fmt.Sprintf("In %s %s", Clean(scores[0].Name()), every)
	case apart == 0:
		return fmt.Sprintf("In no score do %s and %s lie wholly apart", Clean(c.Before), Clean(c.After))
	case apart == len(scores):
		return fmt.Sprintf("In all %d scores %s", apart, every)
	}
	return fmt.Sprintf("In %d of %d scores %s", apart, len(scores), every)
}

// stepsTitle says what the steps bring.
func stepsTitle(steps []*compare.Result) string {
	total := steps[len(steps)-1]
	best := steps[0]
	for _, r := range steps[:max(1, len(steps)-1)] {
		if r.Change > best.Change {
			best = r
		}
	}
	if len(steps) == 1 || !best.Real || best.Change <= 0 {
		return fmt.Sprintf("Step by step, %s in all", signed(total, total.Change))
	}
	_, step, _ := strings.Cut(best.Name(), " ") // behind its number
	return fmt.Sprintf("The step to %s brings most, %s of %s in all", Clean(step), signed(best, best.Change), signed(total, total.Change))
}
