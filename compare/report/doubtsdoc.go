package report

import (
	"fmt"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// DoubtsDocument has the findings, those that matter most first: the evidence, then
// once for each check why it matters and what to do.
func DoubtsDocument(p DoubtsPage) doc.Document {
	closing := doubtsClosing(p.Report)
	d := doc.Document{Closing: doc.Line{Text: closing, Tone: doc.Strong},
		Page: doc.Head{Title: "What would make a verdict on these runs unsafe", Headline: closing}}
	for _, g := range p.Commands.findingGroups(p.Findings, p.Series) {
		s := listSection(doc.Numbers, g.title(), g.lines)
		if s.Tone = doc.Undecided; g.grade == doubts.GradeStop {
			s.Tone = doc.Bad
		}
		d.Sections = append(d.Sections, s)
	}
	return d
}

// findingGroup is what one check has found.
type findingGroup struct {
	grade doubts.Grade
	check string
	lines []string // the evidence, then why it matters and what to do
}

func (g findingGroup) title() string { return string(g.grade) + ": " + g.check }

// findingGroups puts findings together by check, those that matter most first.
// A finding about each of the checked series is stated once, for all of them.
func (c Commands) findingGroups(findings []doubts.Finding, series int) []findingGroup {
	type group struct {
		grade doubts.Grade
		check string
	}
	groups := groupsOf(findings, func(f doubts.Finding) group { return group{f.Grade, f.Check} })
	var out []findingGroup
	for _, grade := range []doubts.Grade{doubts.GradeStop, doubts.GradeCheck} {
		for _, found := range groups {
			if found[0].Grade != grade {
				continue
			}
			g := findingGroup{grade: grade, check: found[0].Check}
			var same sentences
			for _, f := range found {
				where := Clean(f.Profile)
				if f.Series != doubts.AllSeries {
					where += " " + Clean(f.Series)
				}
				same.add(Clean(evidenceText(f)), where)
			}
			for _, s := range same.order {
				where := compare.List(same.names[s], 6)
				if n := len(same.names[s]); n == series && n > 2 {
					where = fmt.Sprintf("all %d series", n)
				}
				g.lines = append(g.lines, where+": "+s)
			}
			why, do := c.checkAdvice(g.check)
			g.lines = append(g.lines, "why: "+why, "do: "+do)
			out = append(out, g)
		}
	}
	return out
}

// checkAdvice says why a check matters and what to do.
func (c Commands) checkAdvice(check string) (why, do string) {
	advice := map[string][2]string{
		doubts.CheckFewRuns: {
			"so few values can split by luck alone",
			"make more runs, best in new sessions; " + c.Reruns + " says how many",
		},
		doubts.CheckNoSessions: {
			"runs of one sitting share its luck, and a reboot can move all of them",
			"record a session label for each sitting, and make several",
		},
		doubts.CheckApart: {
			"a warmer room, an update or wear would seem to be the change, and no test can tell them apart",
			"alternate the profiles; " + c.Sheet(0, 1) + " plans it in blocks",
		},
		doubts.CheckCoarse: {"what is smaller than a step cannot be seen", "record more digits, or a longer run"},
		doubts.CheckDrift: {
			"warm-up or heat soak: which side ran when would decide",
			"warm up first, and alternate the profiles in blocks",
		},
		doubts.CheckDependence: {
			"runs that follow each other count for less than they seem; the interval is too narrow",
			"pause between runs, or make more sessions of fewer runs",
		},
		doubts.CheckOutlier: {
			"something else may have run",
			"find the cause; set the run aside with a reason if it was no fair run, else keep it",
		},
		doubts.CheckModes: {"a boost state or a background job that comes and goes", "find the cause of the two groups"},
		doubts.CheckSessions: {
			"more runs a session add little; sessions are what count",
			"make more sessions, and find out what changes between them",
		},
		doubts.CheckNoSpread: {
			"equal readings are too coarse, or copied",
			"record more digits, and check how the numbers got here",
		},
		doubts.CheckConditions: {
			"what is not the setting under test can move the result, too",
			"measure again under equal conditions, or publish the difference with the result",
		},
		doubts.CheckCopies: {
			"the same runs would count twice",
			"take one of the two out; measure again where both were meant to be new",
		},
		doubts.CheckReduced: {
			"each row stands for several runs, and their order and their single values are gone",
			"look at the runs of a few sessions or machines, where they are kept",
		},
		doubts.CheckCopied: {"measured values do not repeat like this", "check how the numbers got here, and measure again"},
	}
	a := advice[check]
	return a[0], a[1]
}

// doubtsClosing is the line to read first.
func doubtsClosing(v *doubts.Report) string {
	switch v.Grade {
	case doubts.GradeStop:
		return fmt.Sprintf("Stop: a verdict on %s would not be safe. Nothing was judged.", english.Count(v.Series, "series"))
	case doubts.GradeCheck:
		return fmt.Sprintf("Check: %s in %s before a verdict. Nothing was judged.", english.Count(len(v.Findings), "finding"),
			english.Count(v.Series, "series"))
	}
	return fmt.Sprintf("Fine: nothing found in %s. Nothing was judged.", english.Count(v.Series, "series"))
}
