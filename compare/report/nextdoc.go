package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// nextSections say what to run next for what is open, over all of it at once.
func nextSections(p RerunsPage) (out []doc.Section) {
	n := p.Next
	if len(n.Open) == 0 || n.Look == 0 {
		return nil
	}
	if len(n.Choices) > 0 {
		out = append(out, doc.Section{Kind: doc.Numbers, Blocks: []doc.Block{chancesGrid(n)}})
	}
	var items []doc.Item
	for _, line := range nextLines(p) {
		if line != "" {
			items = append(items, doc.Item{Line: doc.Line{Text: line}})
		}
	}
	return append(out, doc.Section{Kind: doc.Numbers, Apart: true, Blocks: []doc.Block{doc.List{Items: items}}})
}

// nextBasis says what is open, of what decides.
func nextBasis(p RerunsPage) string {
	n := p.Next
	of := fmt.Sprintf("%d of %d that decide are settled", n.Settled, n.Settled+len(n.Open))
	if len(n.Open) == 0 {
		return "everything that decides is settled"
	}
	return of + fmt.Sprintf(", judged at %s %% (two looks keep %s %% together)", lookPercent(p.Confidence), confidencePercent(p.Overall))
}

// chancesGrid has a row for each open result, and a column for each budget.
func chancesGrid(n *advice.Next) doc.Grid {
	g := doc.Grid{Title: "Chance to be settled", Head: "open", Columns: []string{"now"}}
	row := func(name string, first string, cell func(*advice.Choice) string, last string) {
		cells := textCells(first)
		for _, c := range n.Choices {
			cells = append(cells, textCells(cell(c))...)
		}
		g.Rows = append(g.Rows, doc.GridRow{Name: name, Cells: append(cells, textCells(last)...)})
	}
	for _, c := range n.Choices {
		head := hoursText(c.Budget.Hours)
		if c.Budget.Hours == 0 {
			head = fmt.Sprintf("+%d", c.Sessions)
		}
		g.Columns = append(g.Columns, head)
	}
	if !n.Minutes.Known() {
		g.Title += ", by more " + english.Noun(2, unitWord(n)) + eachWord(n)
	}
	g.Columns = append(g.Columns, "to 80 %")
	for i, o := range n.Open {
		seen := string(*o.Verdict)
		if o.Planned {
			seen += " " + signed(o.Result, o.Change)
		}
		row(Clean(o.Name()), seen, func(c *advice.Choice) string {
			if c.Chances[i] == 0 {
				return "-"
			}
			return percentChance(c.Chances[i])
		}, aloneText(n, o))
	}
	row(fmt.Sprintf("settle, of %d", len(n.Open)), "", func(c *advice.Choice) string { return compare.Decimal(c.Expected, 1) }, "")
	if n.Minutes.Known() {
		row("more "+english.Noun(2, unitWord(n))+eachWord(n), "", func(c *advice.Choice) string { return fmt.Sprint(c.Sessions) }, "")
		row("takes", "", func(c *advice.Choice) string { return hoursText(c.Hours) }, "")
	}
	return g
}

// percentChance writes a chance to the digits that it is worth.
func percentChance(p float64) string {
	switch {
	case p > 0.985:
		return "99 %"
	case p < 0.005:
		return "0 %"
	}
	return compare.Decimal(100*p, 0) + " %"
}

// unitWord is what is added: runs that state no session become sessions.
func unitWord(n *advice.Next) string {
	if n.Unit == compare.ByRun {
		return string(compare.BySession)
	}
	return string(n.Unit)
}

// eachWord is " a side" but of blocks, which hold both.
func eachWord(n *advice.Next) string {
	if n.Unit == compare.ByBlock {
		return ""
	}
	return " a side"
}

func perSideWord(n *advice.Next, count int) string {
	return english.Count(count, unitWord(n)) + eachWord(n)
}

// aloneText is how much more settles one result four times in five.
func aloneText(n *advice.Next, o *advice.Open) string {
	switch {
	case o.Alone == 0:
		return "-"
	case o.AloneHours > 0:
		return hoursText(o.AloneHours)
	}
	return "+" + about(o.Alone)
}

// nextLines are what else to know, what to act on first.
func nextLines(p RerunsPage) []string {
	n := p.Next
	lines := []string{workText(p), costlyText(p)}
	var coarse, blind sentences
	for _, o := range n.Open {
		switch {
		case o.TooCoarse():
			coarse.add(tooCoarse(o.Result), Clean(o.Name()))
		case !o.Planned && o.Parts == nil:
			blind.add("no spread is shown, or there is a single value on a side; no chance can be told", Clean(o.Name()))
		}
	}
	lines = append(lines, coarse.lines()...)
	lines = append(lines, blind.lines()...)
	if last := n.Open[len(n.Open)-1]; last.Parts != nil && n.Unit != compare.ByRun {
		lines = append(lines, "The suite counts only sessions that hold every benchmark.")
	}
	lines = append(lines, designText(p))
	if n.Unit == compare.ByRun {
		text := "The pilot states no sessions, and sessions may differ by more than its runs do: chances are at most these."
		if n.Open[len(n.Open)-1].Parts != nil {
			text += " There is a suite again once all runs state one."
		}
		lines = append(lines, text)
	}
	basis := p.Commands.hoursBasis(n.Minutes) + warmUpsText(n)
	return append(lines, strings.ToUpper(basis[:1])+basis[1:]+".", timesNotSeen(n))
}

// workText says what the planned work is.
func workText(p RerunsPage) string {
	n := p.Next
	if !n.Asked || len(n.Choices) == 0 {
		return ""
	}
	c := n.Choices[0]
	names := each(benchmarksOf(c), Clean)
	in, runs := "in", english.Count(c.Runs, "run")
	if n.Unit == compare.ByMachine {
		in, runs = "on", english.Count(n.Spells, "session")+" of "+runs
	}
	text := fmt.Sprintf("Run %s %s %s more, %s each", compare.List(names, 6), in, perSideWord(n, c.Sessions), runs)
	if c.Hours > 0 {
		text += ": " + hoursText(c.Hours)
		switch {
		case c.Scant:
			text += ", for next to nothing"
		case c.Budget.Hours > c.Hours+1:
			text += fmt.Sprintf("; the rest of %s would settle next to nothing", hoursText(c.Budget.Hours))
		}
	}
	return text + "."
}

// benchmarksOf lists the benchmarks of a choice by name.
func benchmarksOf(c *advice.Choice) (out []string) {
	for name, k := range c.More {
		if k > 0 {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

// costlyText says which results are not worth their hours, and what else would do.
func costlyText(p RerunsPage) string {
	n := p.Next
	var names []string
	for i, o := range n.Open {
		likely := 0.0
		for _, c := range n.Choices {
			likely = math.Max(likely, c.Chances[i])
		}
		if !o.Planned || o.Alone == 0 || likely >= 0.5 || o.Parts != nil {
			continue
		}
		takes := perSideWord(n, o.Alone) + " more"
		if o.AloneHours > 0 {
			takes = hoursText(o.AloneHours)
		}
		names = append(names, fmt.Sprintf("%s would take about %s", Clean(o.Name()), takes))
	}
	if len(names) == 0 {
		return ""
	}
	return fmt.Sprintf("%s for any verdict four times in five: widen the tolerance, lengthen the run, or leave %s open.", compare.List(names, 6), them(names))
}

// designText says how the sessions are laid out, and why.
func designText(p RerunsPage) string {
	n := p.Next
	first := n.Open[0].Result
	switch {
	case n.Unit == compare.ByMachine:
		text := fmt.Sprintf("Each machine counts once: these are machines more, each measured like those of the pilot, in %s",
			english.Count(n.Spells, "session"))
		if first.Blocks != nil {
			text += " under each profile"
		}
		return text + "."
	case n.Unit == compare.ByBlock:
		return blocksText(n)
	}
	return fmt.Sprintf("Sessions of both profiles in balanced order, without blocks: blocks would leave the %s of the pilot out.",
		counts(first))
}

// blocksText says whether the pilot's blocks gain anything over the same sessions
// without them.
func blocksText(n *advice.Next) string {
	gain := 0.0
	for _, o := range n.Open {
		gain += o.BlockGain
	}
	if gain > 0 {
		return "Blocks, as in the pilot: within them the profiles differ more steadily than their sessions do by themselves."
	}
	return "Blocks, as in the pilot, gain nothing here: the same sessions without a column block would settle as much or more."
}

// warmUpsText adds the warm-ups to the basis of hours.
func warmUpsText(n *advice.Next) string {
	if n.WarmUps == 0 || !n.Minutes.Known() {
		return ""
	}
	return fmt.Sprintf(", with %s of each benchmark in a session", english.Count(n.WarmUps, "warm-up"))
}

// timesNotSeen says that minutes which nobody stated could not be known by times.
func timesNotSeen(n *advice.Next) string {
	stated := func(from compare.MinutesFrom) bool {
		return from == compare.MinutesStated || from == compare.MinutesPolicy
	}
	reduced := slices.ContainsFunc(n.Open, func(o *advice.Open) bool { return o.Before.Reduced || o.After.Reduced })
	if !reduced || stated(n.Minutes.RunFrom) && stated(n.Minutes.SessionFrom) {
		return ""
	}
	return "When runs were made is not seen in reduced data."
}

// nextClosing is the line to act on.
func nextClosing(p RerunsPage) string {
	n := p.Next
	switch {
	case len(n.Open) == 0:
		return "Nothing to run: everything that decides is settled."
	case n.Look == 0:
		return "Both looks are taken, and a third raises false alarms: leave what is open as it is, or measure anew with more sessions " +
			"from the start."
	case n.Unit == compare.ByMachine:
		return "Next: measure more machines; no sheet can be written for them."
	case p.SheetFile != "":
		return fmt.Sprintf("Next: fill in %s (%s), then %s", p.SheetFile, SheetRuns(p.Sheet), p.JudgeIt)
	case p.WriteIt != "":
		return "Next: " + p.WriteIt
	case len(n.Choices) == 0 && slices.ContainsFunc(n.Open, func(o *advice.Open) bool { return o.Planned }):
		return "Nothing open is worth its hours: widen the tolerance, lengthen the run, or leave it open."
	case len(n.Choices) == 0:
		return "Next: three runs or more a side, with more digits if readings are equal; then ask again."
	}
	return "Next: make these runs, then judge once."
}
