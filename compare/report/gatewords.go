package report

import (
	"fmt"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/gate"
)

// reasonText words one reason of a gate, without the profile's name.
func reasonText(r gate.Reason) string {
	switch r.Kind {
	case gate.ReasonStale:
		n := len(linesOf(r.Rows))
		return fmt.Sprintf("%s from before the settings changed %s still there (%s). Delete %s; git keeps %s.", rows(r.Rows),
			english.Verb(n, "is", "are"), places(r.Rows), english.Verb(n, "it", "them"), english.Verb(n, "it", "them"))
	case gate.ReasonAltered:
		n := len(linesOf(r.Rows))
		return fmt.Sprintf("%s of %s %s missing or altered (%s). Restore %s; mark bad runs valid = no, with a reason.", rows(r.Rows),
			Clean(r.Detail), english.Verb(n, "is", "are"), places(r.Rows), english.Verb(n, "it", "them"))
	case gate.ReasonRegression, gate.ReasonRise, gate.ReasonFall:
		return r.Kind + ": " + finding(r.Result)
	case gate.ReasonDrift:
		return "drift: " + finding(r.Result) + ", although the settings are the same; find out what else changed"
	case gate.ReasonCap:
		return fmt.Sprintf("%s reached %s; the cap is %s, and %s exceeded it (%s)", Clean(r.Metric.Name()), withUnit(r.Worst, r.Metric.Unit),
			withUnit(*r.Metric.Cap, r.Metric.Unit), english.Count(len(linesOf(r.Rows)), "run"), places(r.Rows))
	case gate.ReasonSetAside:
		return fmt.Sprintf("%s set aside (%s), and the policy allows %d: "+
			"a crash, throttling or a wrong result counts against the profile; for other causes raise set-aside-allowed",
			english.Count(r.Count, "new run"), Clean(compare.List(r.Names, 3)), r.Limit)
	case gate.ReasonRequired:
		return fmt.Sprintf("the policy requires %s, and the new runs have none", Clean(compare.List(r.Names, 6)))
	case gate.ReasonBaseline:
		return fmt.Sprintf("its baseline %q is not a profile here; there are %s", Clean(r.Detail), Clean(compare.List(r.Names, 12)))
	case gate.ReasonFewRuns:
		return fmt.Sprintf("%s has %s %s, and the policy wants at least %d", Clean(r.About()), english.Count(r.Count, r.What), r.When, r.Limit)
	case gate.ReasonSafety:
		if r.Result == nil {
			return unmeasuredText(r.Names)
		}
		text := fmt.Sprintf("%s: a loss beyond the tolerance of %s is still possible", Clean(r.Result.Name()), tolerance(r.Result))
		if r.Result.Needed != nil {
			text += "; " + settling(r.Result)
		}
		return text
	case gate.ReasonBlindSpot:
		if r.Result == nil {
			return unmeasuredText(r.Names)
		}
		return blindSpotReason(r.Result)
	}
	return noRuns(r)
}

// noRuns says why nothing could be judged.
func noRuns(r gate.Reason) string {
	switch {
	case r.Detail != "":
		return Clean(r.Detail)
	case r.Question == gate.AskNew:
		return fmt.Sprintf("there are no runs; run the profile and add them below profiles/%s/runs", Clean(r.Profile))
	}
	return "the settings changed, but there are no new runs; run the profile again"
}

// unmeasuredText says which scores have no new runs, so that a loss in them is not
// seen.
func unmeasuredText(names []string) string {
	return fmt.Sprintf("not measured now: %s; run %s too", Clean(compare.List(names, 6)), english.Verb(len(names), "it", "them"))
}

func withUnit(v float64, unit string) string {
	return strings.TrimSpace(compare.Decimal(v, 12) + " " + Clean(unit))
}

func blindSpotReason(r *compare.Result) string {
	unit, factor := percentOr(r)
	wanted := trimZeros(compare.Decimal(*r.WidestBlindSpot*factor, 6) + " " + unit)
	text := fmt.Sprintf("%s: no loss could have been noticed, the policy allows a blind spot of %s", Clean(r.Name()), wanted)
	if r.BlindSpot != nil {
		text = fmt.Sprintf("%s: losses under %s may be missed, the policy allows %s", Clean(r.Name()), blindSpotOver(r), wanted)
	}
	n, ok := r.SizeToCatch(*r.WidestBlindSpot)
	switch {
	case ok:
		return text + fmt.Sprintf("; about %s would do", perSide(r, n))
	case r.Tolerance != nil && *r.WidestBlindSpot <= *r.Tolerance:
		return text + "; a blind spot within the tolerance is out of reach for any number of runs"
	}
	return text + "; run more: these are too few, or too coarse, to tell how many would do"
}

// blindSpotOver writes a blind spot with so many digits that it differs from
// the one that is allowed.
func blindSpotOver(r *compare.Result) string {
	unit, factor := percentOr(r)
	for places := changePlaces(r); ; places++ {
		s := compare.Decimal(*r.BlindSpot*factor, places)
		if places >= 12 || s != compare.Decimal(*r.WidestBlindSpot*factor, places) {
			return s + " " + unit
		}
	}
}

// blindSpotText is the sentence about what a judged profile could have hidden: the
// widest blind spot among its scores, or those in which nothing could be seen.
func blindSpotText(j *gate.Judgement) string {
	if j.Comparison == nil {
		return ""
	}
	var blind []string
	var worst *compare.Result
	for _, r := range j.Comparison.Results {
		switch {
		case r.Role != compare.Score || !r.Decides:
		case r.BlindSpot == nil:
			blind = append(blind, Clean(r.Name()))
		case worst == nil || *r.BlindSpot > *worst.BlindSpot:
			worst = r
		}
	}
	unmeasured := ""
	if len(j.Unmeasured) > 0 {
		unmeasured = "; not measured now: " + Clean(compare.List(j.Unmeasured, 6))
	}
	switch {
	case len(blind) > 0:
		return compare.List(blind, 6) + ": no loss could have been noticed" + unmeasured
	case worst != nil:
		return fmt.Sprintf("%s: losses under %s may be missed%s", Clean(worst.Name()), size(worst, *worst.BlindSpot), unmeasured)
	}
	return strings.TrimPrefix(unmeasured, "; ")
}

// judgedAs is why a profile was judged, and what is set differently.
func judgedAs(j *gate.Judgement) string {
	text := string(j.Question)
	if j.Against != "" {
		text += ", judged against " + Clean(j.Against)
	}
	if len(j.Settings) > 0 {
		text += " (" + Clean(compare.List(each(j.Settings, settingText), 4)) + ")"
	}
	return text
}

// warnings are the reasons that decide nothing, and what else was noticed.
func warnings(g *gate.Gate, j *gate.Judgement) []string {
	var out []string
	for _, r := range g.Reasons {
		if r.Profile == j.Profile && r.Decides == gate.Passed {
			out = append(out, reasonText(r))
		}
	}
	for _, n := range j.Warnings {
		out = append(out, Clean(warningText(j, n)))
	}
	return out
}

// warningText words a note on a judgement.
func warningText(j *gate.Judgement, n gate.Note) string {
	switch n.Kind {
	case gate.NoteSetAside:
		v := n.Rows[0]
		return fmt.Sprintf("set aside since: %s at %s: %s", v.ID().Name(), v.At, v.Reason)
	case gate.NoteRestored:
		return "no longer set aside: " + places(n.Rows)
	case gate.NoteOtherConditions:
		those := ""
		if j.Question == gate.AskNew {
			those = " from those of " + j.Against
		}
		return fmt.Sprintf("the recorded conditions differ%s, so the change may not be the settings' alone: %s",
			those, strings.Join(each(n.Changed, settingText), "; "))
	case gate.NoteReadsAsBefore:
		lines := len(linesOf(n.Rows))
		return fmt.Sprintf("%s %s as before the settings changed, counted as new: %s. If old, delete %s; new session labels leave no doubt.",
			rows(n.Rows), english.Verb(lines, "reads", "read"), places(n.Rows), english.Verb(lines, "it", "them"))
	case gate.NoteNoBaseline:
		return "names no baseline, so there is nothing to judge it against; " +
			"write baseline = \"PROFILE\" into its settings.toml, unless it is the first of its kind"
	case gate.NoteNothingBefore:
		return "there is nothing to hold the new runs against: " + n.Detail
	}
	return string(n.Kind)
}

// against are those reasons that keep a gate from passing.
func against(reasons []gate.Reason) []gate.Reason {
	var out []gate.Reason
	for _, r := range reasons {
		if r.Decides != gate.Passed {
			out = append(out, r)
		}
	}
	return out
}

// gateNotes is what a reader should know besides reasons and tables.
func gateNotes(p GatePage) []string {
	g := p.Gate
	var out []string
	if len(g.PolicyChanges) > 0 {
		changes := Clean(strings.Join(each(g.PolicyChanges, policyChangeText), "; "))
		out = append(out, fmt.Sprintf("the policy changes, and the one of the base is in force: %s. Under the new policy: %s",
			changes, g.Proposed))
	}
	if len(g.Removed) > 0 {
		out = append(out, "removed: "+Clean(compare.List(g.Removed, 12)))
	}
	for _, n := range g.Notes {
		out = append(out, Clean(gateNote(p, n)))
	}
	if g.Unchanged > 0 {
		out = append(out, english.Count(g.Unchanged, "profile")+" unchanged")
	}
	return out
}

// gateNote words a note on a gate.
func gateNote(g GatePage, n gate.Note) string {
	switch n.Kind {
	case gate.NoteHeadPolicy:
		return fmt.Sprintf("%s has no policy; the one of %s is in force", g.Base, g.Head)
	case gate.NoteDefaults:
		return fmt.Sprintf("there is no tunegate.toml; the defaults are in force (%s writes one)", g.Commands.Init)
	case gate.NoteNotRead:
		return fmt.Sprintf("not read: %s; runs are .csv, .tsv, .jsonl or .ndjson files below profiles/NAME/runs, "+
			"and settings stand in profiles/NAME/settings.toml", compare.List(n.Names, 3))
	case gate.NoteNotCommitted:
		return "not everything is committed: the files are judged as they lie on the disk"
	case gate.NoteNoTip:
		return fmt.Sprintf("no branch ends at %s: what was merged since is not part of this judgement", g.Base)
	case gate.NoteConditions:
		return fmt.Sprintf("%s: recorded conditions changed, but neither settings nor runs: %s",
			n.Profile, strings.Join(each(n.Changed, settingText), "; "))
	}
	return string(n.Kind)
}

// GateClosing is the first line of a gate: the outcome and what it is about.
func GateClosing(g *gate.Gate) string {
	profiles := english.Count(len(g.Judged), "profile")
	judged := profiles + " judged"
	if len(g.Judged) == 0 {
		judged = "nothing to judge"
	}
	switch g.Outcome {
	case gate.Failed:
		return fmt.Sprintf("Failed: %s (%s)", english.Count(len(against(g.Reasons)), "reason"), judged)
	case gate.Undecided:
		return fmt.Sprintf("Undecided: more runs needed (%s)", profiles)
	}
	return fmt.Sprintf("Passed (%s)", judged)
}

// policyWords names the policy in force.
func policyWords(g *gate.Gate) string {
	switch g.PolicyOf {
	case "base":
		return Clean(g.PolicyFile) + " of the base"
	case "head":
		return Clean(g.PolicyFile) + " of the head, since the base has none"
	}
	return "none, so the defaults"
}
