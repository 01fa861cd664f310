package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
	"tunegate/compare/claims"
)

// ClaimsFormat names the JSON form of a page of claims. Its schema is
// schema/claims.schema.json.
const ClaimsFormat = "tunegate-claims-1"

// claimVerdicts are in the order in which the last line counts them.
var claimVerdicts = []claims.Verdict{claims.Contradicted, claims.Overstated, claims.WrongArithmetic, claims.NotSettled, claims.Understated, claims.Supported}

// ClaimsText writes for each claim the verdict, why, and the sentence that may
// be published instead.
func ClaimsText(w io.Writer, p ClaimsPage, opt TextOptions) error {
	c := p.Page
	t := newTerminal(opt)
	t.paragraph("", "", claimsFacts(c))
	for _, h := range c.Held {
		t.line("")
		sign, color := claimSign(h.Verdict, opt.Plain)
		t.painted(color, sign+" "+string(h.Verdict))
		t.paragraph("  ", "  ", "\""+Clean(h.Text)+"\"")
		for _, l := range claimLines(p, h) {
			t.paragraph("    ", "      ", l)
		}
		if r := h.Result; r != nil && opt.Detail {
			t.paragraph("    ", "      ", fmt.Sprintf("%s (%s): p = %s, among %s adjusted to %s; interval: %s; at %s", r.Test, r.Method, probability(r.PVerdict),
				plural(r.Among, "comparison"), probability(r.PAdjusted), orNone(r.IntervalMethod), Clean(h.At.String())))
		}
	}
	if notes := claimsNotes(p); len(notes) > 0 {
		t.line("")
		t.line("%s", t.paint(text.Colors{text.Bold}, "Notes"))
		for _, n := range notes {
			t.paragraph("  ", "    ", n)
		}
	}
	t.line("")
	if claimsHazard(c) {
		t.paragraph("", "", Caution)
		t.line("")
	}
	_, color := claimSign(c.Decisive(), opt.Plain)
	t.painted(color, ClaimsClosing(c))
	return t.flush(w)
}

func claimSign(v claims.Verdict, plain bool) (string, text.Colors) {
	signs, color := [2]string{"✔", "+"}, text.Colors{text.Bold, text.FgGreen}
	switch {
	case v.Fails():
		signs, color = [2]string{"✘", "x"}, text.Colors{text.Bold, text.FgRed}
	case v == claims.NotSettled:
		signs, color = [2]string{"?", "?"}, text.Colors{text.Bold, text.FgYellow}
	}
	if plain {
		return signs[1], color
	}
	return signs[0], color
}

// claimsFacts states what the verdicts rest on.
func claimsFacts(c *claims.Page) string {
	if len(c.Pairs) == 0 {
		return "held against arithmetic alone: no claim names runs"
	}
	facts := level(c.Confidence) + " % confidence"
	if c.Family > 1 {
		how := map[compare.Correction]string{compare.Holm: "Holm", compare.BenjaminiHochberg: "Benjamini-Hochberg"}[c.Correction]
		if how == "" {
			facts += fmt.Sprintf("; %d comparisons, not corrected for their number", c.Family)
		} else {
			facts += fmt.Sprintf("; %d comparisons corrected together (%s): all scores of the runs, claimed or not, and what else is claimed", c.Family, how)
		}
	}
	if c.Policy != "" {
		facts += "; policy " + Clean(c.Policy)
	}
	return facts
}

// claimLines are the sentences under a claim.
func claimLines(p ClaimsPage, h *claims.Held) []string {
	c := p.Page
	var lines []string
	for _, f := range h.Faults {
		lines = append(lines, f.Kind+": "+Clean(findingText(h, f)))
	}
	if s := claimWhy(p, h); s != "" {
		lines = append(lines, s)
	}
	for _, n := range h.Notes {
		lines = append(lines, Clean(findingText(h, n)))
	}
	if s := ClaimSentence(c, h); s != "" {
		lines = append(lines, "may be said: "+s)
	}
	return lines
}

// claimWhy says in which way the runs do not say what is claimed.
func claimWhy(p ClaimsPage, h *claims.Held) string {
	c := p.Page
	r := h.Result
	if r == nil || h.Data == "" || h.Data == claims.Supported {
		return ""
	}
	if h.Data == claims.NotSettled {
		if s := p.Commands.cannotSettle(c.Confidence, r, "comparison"); s != "" {
			return s
		}
		if r.UncorrectedOnly {
			return fmt.Sprintf("real alone, but not among the %s of this page", plural(c.Family, "comparison"))
		}
		if h.AtLeast && r.Real {
			return fmt.Sprintf("the interval reaches below %s: a smaller change is not ruled out", h.Change.Text)
		}
		if h.Form == claims.AsLevel && h.Change == nil && r.Needed != nil {
			return settling(r, tolerance(r))
		}
		if n, ok := sizeToShow(h); ok {
			return fmt.Sprintf("about %s would show a change of %s %s four times in five", perSide(r, n), claimedText(h), claimUnit(h))
		}
		return ""
	}
	_, lo, hi, ok := h.Interval()
	if !ok {
		return ""
	}
	unit, places := claimUnit(h), claimPlaces(h)
	claimed := claimedText(h)
	switch {
	case h.Form == claims.AsLevel && h.Change == nil && r.Real:
		return "a change was shown"
	case h.Form == claims.AsLevel:
		return fmt.Sprintf("the change is larger than %s %s", claimed, unit)
	case h.Data == claims.Contradicted && hi < 0:
		return fmt.Sprintf("the runs show a change the other way, not %s %s %s", claimed, unit, formWords(h.Form))
	case h.Data == claims.Contradicted && r.Real: // by its figures
		return ""
	case h.Data == claims.Contradicted:
		return fmt.Sprintf("no change was shown, and %s %s %s is ruled out: the interval ends at %s %s", claimed, unit, formWords(h.Form), compare.Decimal(hi, places), unit)
	}
	end := fmt.Sprintf("the interval ends at %s %s", compare.Decimal(hi, places), unit)
	if h.Lo < lo {
		end = fmt.Sprintf("the interval begins at %s %s", compare.Decimal(lo, places), unit)
	}
	than := "more favourable"
	if h.Data == claims.Understated {
		than = "less favourable"
	}
	return fmt.Sprintf("%s %s %s is %s than the runs show: %s", claimed, unit, formWords(h.Form), than, end)
}

// sizeToShow is the number of values a side that would show what is claimed. ok
// is false where none would, and of a claim that nothing changes.
func sizeToShow(h *claims.Held) (int, bool) {
	if h.Form == claims.AsLevel || h.Result.Verdict == nil {
		return 0, false
	}
	_, factor := percentOr(h.Result)
	return h.Result.SizeToCatch((h.Lo + h.Hi) / 2 / factor)
}

func claimUnit(h *claims.Held) string {
	unit, _ := percentOr(h.Result)
	return unit
}

// claimedText is the claimed number without its unit.
func claimedText(h *claims.Held) string {
	if h.Change != nil && (h.Change.Unit == "%" || h.Change.Unit == h.Result.Unit) {
		s := compare.Decimal(h.Change.Value, 12)
		if n := strings.Fields(h.Change.Text); len(n) > 0 && (len(n) == 1 || n[1] == h.Change.Unit) {
			s = n[0] // with the digits in which it is written
		} else {
			s = compare.Decimal(h.Change.Value, 1) // 3 min/h
		}
		return s
	}
	return compare.Decimal((h.Lo+h.Hi)/2, claimPlaces(h))
}

func claimPlaces(h *claims.Held) int {
	_, lo, hi, _ := h.Interval()
	return min(compare.Places((hi-lo)/2), 4)
}

// ClaimSentence is what may be said instead: what the runs allow, with
// interval and number of runs, else what arithmetic gives.
func ClaimSentence(c *claims.Page, h *claims.Held) string {
	r := h.Result
	if r == nil {
		return Clean(strings.Join(madeTexts(h), "; "))
	}
	name := Clean(r.Name())
	if r.Parts != nil && !(len(r.Parts) == 1 && r.Parts[0].Name() == r.Name()) {
		if name = "the suite"; r.Benchmark != compare.WholeSuite {
			name = "the class " + Clean(r.Benchmark)
		}
	}
	sides := fmt.Sprintf("between %s and %s", Clean(h.Before), Clean(h.After))
	estimate, lo, hi, ok := h.Interval()
	within := h.Level
	if within == nil && r.Verdict != nil && *r.Verdict == compare.Level {
		within = r.Tolerance
	}
	supportsLevel := h.Form == claims.AsLevel && h.Data == claims.Supported || h.Form != claims.AsLevel && r.Verdict != nil && *r.Verdict == compare.Level
	switch {
	case supportsLevel && within != nil:
		unit, factor := percentOr(r)
		return fmt.Sprintf("%s changes by less than %s %s %s (%s)", name, compare.Decimal(math.Round(*within*factor*1e9)/1e9, 12), unit, sides, restsOn(c, r, intervalText(r)))
	case !r.Real || !ok:
		return fmt.Sprintf("no difference was shown in %s %s: %s (%s %% confidence; %s)", name, sides, stillPossible(r), level(c.Confidence), counts(r))
	}
	form := h.Form
	if form == claims.AsLevel { // in the words of a comparison
		form = claims.More
		if r.Role == compare.Score {
			form = claims.Faster
		}
	}
	if estimate < 0 {
		estimate, lo, hi = -estimate, -hi, -lo
		form = form.Opposite()
	}
	verb, word := "is", formWords(form)
	up, down := direction(r)
	switch {
	case form == claims.LessTime || form == claims.MoreTime:
		verb = "takes"
	case !form.OfSpeed() && compare.IsTime(r.Unit) && r.Scale == compare.Ratio:
		verb, word = "takes", word+" time"
	case form == claims.Faster:
		word = up
	case form == claims.Slower:
		word = down
	}
	unit, p := claimUnit(h), claimPlaces(h)
	return fmt.Sprintf("%s %s %s %s %s with %s than with %s (%s)", name, verb, compare.Decimal(estimate, p), unit, word, Clean(h.After), Clean(h.Before),
		restsOn(c, r, fmt.Sprintf("%s to %s %s", compare.Decimal(lo, p), compare.Decimal(hi, p), unit)))
}

// restsOn is "95 % interval 2.25 to 2.90 %; 6 and 6 sessions".
func restsOn(c *claims.Page, r *compare.Result, interval string) string {
	return fmt.Sprintf("%s %% interval %s; %s", level(c.Confidence), interval, counts(r))
}

// ClaimsClosing is the line to read first.
func ClaimsClosing(c *claims.Page) string {
	head := "Passed"
	switch v := c.Decisive(); {
	case v.Fails():
		head = "Failed"
	case v == claims.NotSettled:
		head = "Not settled"
	}
	tally := c.Tally()
	var parts []string
	for _, v := range claimVerdicts {
		if n := tally[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s: %d", v, n))
		}
	}
	return fmt.Sprintf("%s. Of %s: %s.", head, plural(len(c.Held), "claim"), strings.Join(parts, ", "))
}

// claimsNotes are the notes of the pairs, and of what the claims are about.
func claimsNotes(p ClaimsPage) []string {
	c := p.Page
	var lines []string
	for i, pair := range c.Pairs {
		lead := ""
		if len(c.Pairs) > 1 {
			lead = Clean(pair.Before) + " and " + Clean(pair.After) + ": "
		}
		for _, a := range pair.SetAside {
			lines = append(lines, lead+asideText(a))
		}
		notes := slices.Concat(each(pair.Notes, ComparisonNote), p.Commands.doubtsNotes(pair.Doubts))
		if i == 0 {
			notes = append(notes, p.Reading...)
		}
		for _, n := range notes {
			lines = append(lines, lead+Clean(n.Text))
		}
	}
	var by sentences
	advised := false
	seen := map[*compare.Result]bool{}
	for _, h := range c.Held {
		if h.Result == nil {
			continue
		}
		if h.Data == claims.NotSettled {
			advised = advised || strings.HasPrefix(claimWhy(p, h), "about ")
		}
		if seen[h.Result] {
			continue
		}
		seen[h.Result] = true
		for _, n := range h.Result.Notes {
			by.add(ComparisonNote(n).Text, Clean(h.Result.Name()))
		}
	}
	for _, s := range by.order {
		lines = append(lines, join(by.names[s], 6)+": "+Clean(s))
	}
	if advised {
		lines = append(lines, Peeking)
	}
	return lines
}

func claimsHazard(c *claims.Page) bool {
	for _, h := range c.Held {
		if h.Result != nil && compare.ShowsHazard(h.Result.Unit) {
			return true
		}
		for _, f := range []*claims.Figure{h.Change, h.From, h.To} {
			if f != nil && compare.ShowsHazard(f.Unit) {
				return true
			}
		}
	}
	return false
}

// ClaimsMarkdown writes the same for a page or a comment.
func ClaimsMarkdown(w io.Writer, p ClaimsPage) error {
	c := p.Page
	m := &markdown{}
	m.line("## %s", escape(ClaimsClosing(c)))
	m.line("")
	m.line("%s", escape(claimsFacts(c)))
	for _, h := range c.Held {
		sign, _ := claimSign(h.Verdict, false)
		m.line("")
		m.line("%s **%s**: “%s”", sign, escape(string(h.Verdict)), escape(h.Text))
		m.bullets(claimLines(p, h))
	}
	if notes := claimsNotes(p); len(notes) > 0 {
		m.line("")
		m.line("Notes")
		m.bullets(notes)
	}
	if claimsHazard(c) {
		m.line("")
		m.line("> %s", escape(Caution))
	}
	_, err := io.WriteString(w, m.b.String())
	return err
}

// ClaimsJUnit writes a case a claim. One that is not settled is a failure, too,
// of the type "not settled".
func ClaimsJUnit(w io.Writer, p ClaimsPage) error {
	c := p.Page
	s := junitSuite{Name: "claims", Out: ClaimsClosing(c)}
	for _, h := range c.Held {
		k := junitCase{Name: Clean(h.Text), Class: "claims", Time: "0", Out: strings.Join(claimLines(p, h), "\n")}
		if h.Verdict.Fails() || h.Verdict == claims.NotSettled {
			lines := claimLines(p, h)
			message := string(h.Verdict)
			if len(lines) > 0 {
				message += ": " + lines[0]
			}
			k.Failures = []junitFailure{{Message: message, Type: string(h.Verdict), Text: Clean(h.At.String())}}
		}
		s.Cases = append(s.Cases, k)
	}
	return writeJUnit(w, []junitSuite{s})
}

// ClaimsJSON writes everything, and the exit status that follows from it, at full
// precision.
func ClaimsJSON(w io.Writer, p ClaimsPage, status int) error {
	c := p.Page
	type measured struct {
		Estimate float64 `json:"estimate"`
		Lo       float64 `json:"lo"`
		Hi       float64 `json:"hi"`
		Unit     string  `json:"unit"`
	}
	type claim struct {
		Text      string         `json:"text"`
		At        string         `json:"at"`
		Before    string         `json:"before,omitempty"`
		After     string         `json:"after,omitempty"`
		About     string         `json:"about,omitempty"`
		Form      claims.Form    `json:"form"`
		Claimed   string         `json:"claimed,omitempty"`
		AtLeast   bool           `json:"at_least,omitempty"`
		Verdict   claims.Verdict `json:"verdict"`
		Data      claims.Verdict `json:"runs_say,omitempty"`
		Faults    []noteJSON     `json:"faults"`
		Exact     []string       `json:"arithmetic"`
		Notes     []noteJSON     `json:"notes"`
		Sentence  string         `json:"may_be_said"`
		Measured  *measured      `json:"measured"`
		Result    *resultJSON    `json:"metric"`
		LevelWord *float64       `json:"level,omitempty"`
	}
	out := struct {
		Format     string             `json:"format"`
		Confidence float64            `json:"confidence"`
		Correction compare.Correction `json:"correction"`
		Family     int                `json:"family"`
		Policy     string             `json:"policy,omitempty"`
		Claims     []claim            `json:"claims"`
		Notes      []string           `json:"notes"`
		Closing    string             `json:"closing"`
		Caution    string             `json:"caution,omitempty"`
		ExitStatus int                `json:"exit_status"`
	}{Format: ClaimsFormat, Confidence: c.Confidence, Correction: c.Correction, Family: c.Family, Policy: c.Policy, Claims: []claim{},
		Notes: append([]string{}, claimsNotes(p)...), Closing: ClaimsClosing(c), ExitStatus: status}
	if claimsHazard(c) {
		out.Caution = Caution
	}
	for _, h := range c.Held {
		k := claim{Text: h.Text, At: h.At.String(), Form: h.Form, AtLeast: h.AtLeast, Verdict: h.Verdict, Data: h.Data, Faults: findingsJSON(h, h.Faults), Exact: madeTexts(h),
			Notes: findingsJSON(h, h.Notes), Sentence: ClaimSentence(c, h), Result: newResultJSON(h.Result), LevelWord: h.Level}
		if h.Change != nil {
			k.Claimed = h.Change.Text
		}
		if h.Result != nil {
			k.Before, k.After, k.About = h.Before, h.After, h.Result.Name()
			if e, lo, hi, ok := h.Interval(); ok {
				unit, _ := percentOr(h.Result)
				k.Measured = &measured{e, lo, hi, unit}
			}
		}
		out.Claims = append(out.Claims, k)
	}
	return encode(w, out)
}
