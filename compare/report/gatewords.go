package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/gate"
)

// reasonText words one reason of a gate, without the profile's name.
func (c Commands) reasonText(r gate.Reason) string {
	switch r.Kind {
	case gate.ReasonCopies:
		return fmt.Sprintf("%s (%s) %s, value for value%s, %s (%s); without copying so many equal readings come about %s. Measure instead.",
			rows(r.Rows), places(r.Rows), english.Verb(r.Rows.Lines().Len(), "repeats", "repeat"), movedBy(r.Factor, r.Shift), repeatedRows(r),
			places(r.Copies), rarely(r.Chance))
	case gate.ReasonStale:
		n := r.Rows.Lines().Len()
		return fmt.Sprintf("%s from before the settings changed %s still there (%s). Delete %s; git keeps %s.", rows(r.Rows),
			english.Verb(n, "is", "are"), places(r.Rows), english.Verb(n, "it", "them"), english.Verb(n, "it", "them"))
	case gate.ReasonAltered:
		n := r.Rows.Lines().Len()
		return fmt.Sprintf("%s of %s %s missing or altered (%s). Restore %s; mark bad runs valid = no, with a reason.", rows(r.Rows),
			Clean(r.Detail), english.Verb(n, "is", "are"), places(r.Rows), english.Verb(n, "it", "them"))
	case gate.ReasonRegression, gate.ReasonRise, gate.ReasonFall:
		text := r.Kind + ": " + finding(r.Result)
		if r.Anchor {
			text += ", counted from its first runs; the last change alone does not show it"
		}
		return text
	case gate.ReasonDrift:
		text := "drift: " + finding(r.Result)
		if r.Anchor {
			return text + ", counted from its first runs, and the settings did not change now; find out what else did, step by step"
		}
		return text + ", although the settings are the same; find out what else changed"
	case gate.ReasonCap:
		return fmt.Sprintf("%s reached %s; the cap is %s, and %s exceeded it (%s)", Clean(r.Metric.Name()), withUnit(r.Worst, r.Metric.Unit),
			withUnit(*r.Metric.Cap, r.Metric.Unit), english.Count(r.Rows.Lines().Len(), "run"), places(r.Rows))
	case gate.ReasonSetAside:
		return fmt.Sprintf("%s set aside since (%s), and the policy allows %d: "+
			"a crash, throttling or a wrong result counts against the profile; for other causes raise set-aside-allowed",
			english.Count(r.Count, "run"), Clean(compare.List(r.Names, 3)), r.Limit)
	case gate.ReasonRequired:
		return fmt.Sprintf("the policy requires %s, and the new runs have none", Clean(compare.List(r.Names, 6)))
	case gate.ReasonBaseline:
		return fmt.Sprintf("its baseline %q is not a profile here; there are %s", Clean(r.Detail), Clean(compare.List(r.Names, 12)))
	case gate.ReasonRemoved:
		return "the profile is gone, and what it guarded with it" + c.agreeTo(r)
	case gate.ReasonFewRuns:
		return fmt.Sprintf("%s %s %s, and the policy wants at least %d: add %d more", scores(r.Names),
			have(r.Names, english.Count(r.Count, r.What)), r.When, r.Limit, r.Limit-r.Count)
	case gate.ReasonPolicy:
		return "loosened: " + Clean(strings.Join(each(r.Changes, policyChangeText), "; ")) + c.agreeTo(r)
	case gate.ReasonUnmeasured:
		return fmt.Sprintf("not measured now, though there was: %s; run %s too, or, where nobody can any more, have the policy say role = "+
			"\"info\" first", Clean(compare.List(r.Names, 6)), english.Verb(len(r.Names), "it", "them"))
	case gate.ReasonNew:
		if r.Detail != "" {
			return "nothing older stands against the new runs: " + Clean(r.Detail) + c.agreeTo(r)
		}
		return "it names no baseline, so no loss could be seen; write baseline = \"PROFILE\" into its settings.toml" + c.agreeTo(r)
	case gate.ReasonNewBase:
		return fmt.Sprintf("its baseline %s comes with the same request, so nothing older stands against it", Clean(r.Detail)) + c.agreeTo(r)
	case gate.ReasonWithheld:
		return fmt.Sprintf("%s by itself; what the other rows reach by chance keeps it open: make it %s, or judge it in a request of its own",
			finding(r.Result), perSide(r.Result, r.Limit))
	case gate.ReasonLaterRuns:
		if r.When == "now" {
			return fmt.Sprintf("%s: its sessions hold as few as %s, and the old ones %d, so that what comes later in a sitting, throttling and "+
				"heat, was not measured: make %s a session", scores(r.Names), english.Count(r.Count, "run"), r.Limit, english.Count(r.Limit, "run"))
		}
		also := ""
		if more := len(r.Names) - 1; more > 0 {
			also = fmt.Sprintf(", and %s %s not better", english.Count(more, "other metric"), english.Verb(more, "is", "are"))
		}
		found := finding(r.Result)
		if !r.Result.Harmful() {
			found = "a large loss could hide in " + Clean(r.Result.Name())
		}
		return fmt.Sprintf("by all runs of each session %s%s; only the first count here, as many as the old sessions have: measure %s a session",
			found, also, english.Count(r.Limit, "run"))
	case gate.ReasonSlowRuns:
		also := ""
		if more := len(r.Names) - 1; more > 0 {
			also = fmt.Sprintf(", and %s %s not better", english.Count(more, "other metric"), english.Verb(more, "is", "are"))
		}
		return fmt.Sprintf("by the means of its sessions %s%s, and their medians hide it: some runs of each session are far slower than the "+
			"others; find out what slows them, and measure again", finding(r.Result), also)
	case gate.ReasonBlind:
		return blindText(r)
	case gate.ReasonSafety:
		text := fmt.Sprintf("%s: a loss beyond the tolerance of %s is still possible", scores(r.Names), tolerance(r.Result))
		if s := settling(r.Result); s != "" {
			text += "; " + s
		}
		return text
	case gate.ReasonBlindSpot:
		return blindSpotReason(r)
	}
	return noRuns(r)
}

// needOf is how many values would cure a reason; nil where no number is known to.
func needOf(r gate.Reason) *compare.Need {
	question, ok := map[string]compare.Question{gate.ReasonBlind: compare.ToSettleAny, gate.ReasonSafety: compare.ToSettle,
		gate.ReasonBlindSpot: compare.ToCatch}[r.Kind]
	if !ok || r.Result == nil {
		return nil
	}
	return r.Result.Need(question)
}

// subject is the profile that a reason is about, or the policy.
func subject(r gate.Reason) string { return cmp.Or(r.Profile, "policy") }

// agreeTo is what a person can do about a reason that no runs cure; empty where it was
// agreed to.
func (c Commands) agreeTo(r gate.Reason) string {
	switch {
	case r.Agreement == "" || c.Agree == nil: // it is past
		return ""
	case r.Decides == gate.Passed:
		return " (agreed)"
	}
	return ". If that is meant, a maintainer agrees: " + Clean(c.Agree(string(r.Agreement)))
}

// repeatedRows says whose rows are repeated.
func repeatedRows(r gate.Reason) string {
	if r.Detail == r.Profile {
		return "other rows of its own"
	}
	return "rows of " + Clean(r.Detail)
}

// movedBy says what copied values were multiplied by, or moved by; empty for nothing.
func movedBy(factor, shift float64) string {
	switch {
	case factor != 0:
		return fmt.Sprintf(" times %.4g", factor)
	case shift < 0:
		return fmt.Sprintf(" less %.4g", -shift)
	case shift > 0:
		return fmt.Sprintf(" plus %.4g", shift)
	}
	return ""
}

// rarely words a chance of at most one in 10,000.
func rarely(chance float64) string {
	switch {
	case chance < 1e-12:
		return "less than once in a million million times"
	case chance < 1e-9:
		return "less than once in 1000 million times"
	case chance < 1e-6:
		return "less than once in a million times"
	case chance < 1e-5:
		return "less than once in 100,000 times"
	}
	return "less than once in 10,000 times"
}

// scores names scores: the first few, and how many more.
func scores(names []string) string { return Clean(compare.List(names, 4)) }

// have is "has 3 runs", or "have 3 runs each at the least" of several.
func have(names []string, count string) string {
	if len(names) == 1 {
		return "has " + count
	}
	return "have as few as " + count
}

// noRuns says why nothing could be judged.
func noRuns(r gate.Reason) string {
	switch {
	case r.Detail != "":
		return Clean(r.Detail)
	case r.Question == gate.AskNew:
		return fmt.Sprintf("there are no runs; run the profile and add them below profiles/%s/runs", Clean(r.Profile))
	case r.Question == gate.AskRepeat:
		return "no valid run is left; run the profile again"
	}
	return "the settings changed, but there are no new runs; run the profile again"
}

func withUnit(v float64, unit string) string {
	return strings.TrimSpace(compare.Decimal(v, 12) + " " + Clean(unit))
}

// blindText says that no loss could have been seen, and from how many runs on one can.
func blindText(r gate.Reason) string {
	text := scores(r.Names) + ": no loss of any size could have been noticed; "
	if have := min(r.Result.Replicates[0], r.Result.Replicates[1]); have < r.Limit {
		return text + fmt.Sprintf("these are %d, and it takes at least %s%s", have, perSide(r.Result, r.Limit),
			moreHours(needOf(r)))
	}
	return text + "the readings do not differ, or are too coarse: record more digits or use a longer test"
}

func blindSpotReason(reason gate.Reason) string {
	r := reason.Result
	unit, factor := percentOr(r)
	wanted := trimZeros(compare.Decimal(*r.WidestBlindSpot*factor, 6) + " " + unit)
	text := fmt.Sprintf("%s: no loss could have been noticed, the policy allows a blind spot of %s", scores(reason.Names), wanted)
	if r.BlindSpot != nil {
		losses := "losses under"
		if len(reason.Names) > 1 {
			losses = "losses of up to"
		}
		text = fmt.Sprintf("%s: %s %s may be missed, the policy allows %s", scores(reason.Names), losses, blindSpotOver(r), wanted)
	}
	need := needOf(reason)
	switch {
	case need != nil:
		return text + "; to catch them: " + needText(r, need)
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
	switch {
	case len(blind) > 0:
		return compare.List(blind, 6) + ": no loss could have been noticed"
	case worst != nil:
		return fmt.Sprintf("%s: losses under %s may be missed", Clean(worst.Name()), size(worst, *worst.BlindSpot))
	}
	return ""
}

// judgedAs is why a profile was judged, and what is set differently.
func judgedAs(j *gate.Judgement) string {
	text := string(j.Question)
	if j.Before != "" {
		text = "renamed from " + Clean(j.Before) + ", " + text
	}
	if j.Against != "" {
		text += ", judged against " + Clean(j.Against)
	}
	if len(j.Settings) > 0 {
		text += " (" + Clean(compare.List(each(j.Settings, settingText), 4)) + ")"
	}
	return text
}

// warnings are the reasons that decide nothing, and what else was noticed.
func (p GatePage) warnings(j *gate.Judgement) []string {
	var out []string
	for _, r := range p.Reasons {
		if r.Profile == j.Profile && r.Decides == gate.Passed {
			out = append(out, p.Commands.reasonText(r))
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
		v := n.Rows.At(0)
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
		lines := n.Rows.Lines().Len()
		return fmt.Sprintf("%s %s as before the settings changed, counted as new: %s. If old, delete %s; new session labels leave no doubt.",
			rows(n.Rows), english.Verb(lines, "reads", "read"), places(n.Rows), english.Verb(lines, "it", "them"))
	case gate.NoteRenamed:
		return "was " + n.Names[0] + " before, and is judged as the same profile"
	case gate.NoteNoBaseline:
		return "has no runs yet, and names no baseline to judge them against; write baseline = \"PROFILE\" into its settings.toml"
	case gate.NoteFirst:
		return "the first of its kind: held to the caps and to what the policy wants of every profile; later ones are judged against it"
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
	tighter := each(slices.DeleteFunc(slices.Clone(g.PolicyChanges), func(c gate.PolicyChange) bool { return c.Loosens }), policyChangeText)
	if len(tighter) > 0 {
		out = append(out, "the policy changes: "+Clean(strings.Join(tighter, "; ")))
	}
	if g.Proposed != "" {
		out = append(out, fmt.Sprintf("the policy of the base is in force. Under the new policy: %s", g.Proposed))
	}
	for _, r := range g.Reasons {
		if r.Decides == gate.Passed && !slices.ContainsFunc(g.Judged, func(j *gate.Judgement) bool { return j.Profile == r.Profile }) {
			out = append(out, Clean(subject(r))+": "+p.Commands.reasonText(r))
		}
	}
	unsaid := slices.DeleteFunc(slices.Clone(g.Removed), func(name string) bool {
		return slices.ContainsFunc(g.Reasons, func(r gate.Reason) bool { return r.Kind == gate.ReasonRemoved && r.Profile == name })
	})
	if len(unsaid) > 0 {
		out = append(out, "removed: "+Clean(compare.List(unsaid, 12)))
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
		return fmt.Sprintf("not read: %s; runs are .csv, .tsv, .jsonl, .ndjson, .xlsx or .xlsm files below profiles/NAME/runs, "+
			"and settings stand in profiles/NAME/settings.toml", compare.List(n.Names, 3))
	case gate.NoteNotCommitted:
		return "not everything is committed: the files are judged as they lie on the disk"
	case gate.NoteNoTip:
		return fmt.Sprintf("no branch ends at %s: what was merged since is not part of this judgement", g.Base)
	case gate.NoteRenamed:
		return fmt.Sprintf("%s was %s before, with the same settings and runs", n.Profile, n.Names[0])
	case gate.NoteConditions:
		return fmt.Sprintf("%s: recorded conditions changed, but neither settings nor runs: %s",
			n.Profile, strings.Join(each(n.Changed, settingText), "; "))
	}
	return string(n.Kind)
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
