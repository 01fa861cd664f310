package claims

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/internal/pattern"
)

// A sentence is held to the keys beside it: readers see the sentence, and only the
// keys are held against the runs. What differs makes the claim fail; what no key
// covers is listed as not checked.

// readSentences fills Differences and Unchecked of every claim. A sentence with
// several numbers has a claim for each, with the same text; they cover each other.
func (p *Page) readSentences(runs Runs) {
	together := map[string][]*Held{}
	for _, h := range p.Held {
		together[h.Text] = append(together[h.Text], h)
	}
	names := namesOf(runs, p.Held)
	atOnce := fmt.Sprintf("for all %d at once", p.Family.Members())
	for _, h := range p.Held {
		s := sentence{Held: h, together: together[h.Text], page: p, numbers: NumbersIn(h.Text)}
		s.names = names.in(h.Text, s.numbers, s.together)
		if i := strings.Index(h.Text, atOnce); i >= 0 { // of a sentence that was proposed
			s.cover(i, i+len(atOnce))
		}
		s.readNumbers()
		s.readNames()
		s.readDirection()
		s.readWords()
	}
}

// sentence is the text of a claim as it is read.
type sentence struct {
	*Held
	together []*Held
	page     *Page
	numbers  []Number
	names    []nameFound
	covered  [][2]int // parts of the text that keys, or the runs, cover
	open     []Number // that no key covers, and that are not accused
}

func (s *sentence) differs(cause Cause, found, expected string) {
	s.Differences = append(s.Differences, Finding{Cause: cause, Found: found, Expected: expected})
}

func (s *sentence) unchecked(cause Cause, found string) {
	f := Finding{Cause: cause, Found: found}
	if !slices.Contains(s.Unchecked, f) {
		s.Unchecked = append(s.Unchecked, f)
	}
}

func (s *sentence) cover(start, end int) { s.covered = append(s.covered, [2]int{start, end}) }

func (s *sentence) isCovered(start, end int) bool {
	return slices.ContainsFunc(s.covered, func(c [2]int) bool { return c[0] < end && start < c[1] })
}

// statedKey is a figure of a claim with the key that it stands under.
type statedKey struct {
	key    string
	figure Figure
	main   bool // the change itself, or both figures where no change is stated
	falls  bool
}

// keys lists the figures of the claim.
func (h *Held) keys() (out []statedKey) {
	if h.Change != nil {
		out = append(out, statedKey{h.formKey(), *h.Change, true, h.Form.Falls() || h.Form == AsLevel})
	}
	for _, f := range []struct {
		key    string
		figure *Figure
	}{{"from", h.From}, {"to", h.To}} {
		if f.figure != nil {
			out = append(out, statedKey{f.key, *f.figure, h.Change == nil, true})
		}
	}
	for _, f := range h.Steps {
		out = append(out, statedKey{"steps", f, false, true})
	}
	for _, f := range h.AverageOf {
		out = append(out, statedKey{"average-of", f, false, true})
	}
	return out
}

func (k statedKey) String() string {
	text := k.figure.Text
	if k.figure.Unit == "%" && len(NumbersIn(text)) > 0 && NumbersIn(text)[0].Unit == "" {
		text += " %"
	}
	return k.key + " = " + text
}

// readNumbers holds the numbers of the text to those of the keys.
func (s *sentence) readNumbers() {
	var own []statedKey
	units := map[string]bool{"%": true, "×": true}
	stated := map[string]bool{}
	for _, h := range s.together {
		own = append(own, h.keys()...)
		if h.Result != nil && h.Result.Unit != "" {
			units[h.Result.Unit] = true
		}
	}
	for _, k := range own {
		units[k.figure.Unit] = true
	}
	var open []Number
	for i, n := range s.numbers {
		covered := false
		for _, k := range own {
			if n.states(k.figure, k.falls) {
				covered, stated[k.key] = true, true
			}
		}
		if !covered && s.isRange(i) {
			covered = true
			stated[s.formKey()] = true
			s.cover(s.numbers[i+1].Start, s.numbers[i+1].End)
		}
		switch {
		case covered || s.knownFromRuns(i) || s.isCovered(n.Start, n.End):
			s.cover(n.Start, n.End)
		default:
			open = append(open, n)
		}
	}
	var main []string
	found := false
	for _, k := range s.keys() {
		if k.main {
			main = append(main, k.String())
			found = found || stated[k.key]
		}
	}
	expected := strings.Join(main, " and ")
	for _, n := range open {
		counts := n.Unit != "" && units[n.Unit] && !n.inWords
		bare := !found && (n.Unit == "" || n.inWords || !units[n.Unit]) && expected != ""
		switch {
		case counts || bare && !(n.inWords && n.Unit == ""):
			s.differs(OtherNumber, n.Text, expected)
			s.cover(n.Start, n.End)
		default:
			s.unchecked(NumberWithoutKey, n.Text)
			s.open = append(s.open, n)
			s.cover(n.Start, n.End)
		}
	}
	if !found && expected != "" && len(s.Differences) == 0 {
		s.unchecked(KeyNotInText, expected)
	}
	s.readBounds()
}

// isRange reports whether a number and the next are a range, such as "5 to 6 °C",
// that states the change: the runs allow both ends.
func (s *sentence) isRange(i int) bool {
	if i+1 >= len(s.numbers) || !s.numbers[i+1].rangeLast {
		return false
	}
	a, b := s.numbers[i], s.numbers[i+1]
	for _, h := range s.together {
		lo, hi, ok := h.JointInterval()
		if !ok || h.Change == nil || len(a.readings) == 0 || len(b.readings) == 0 || b.Unit != h.Change.Unit {
			continue
		}
		ra, rb := a.readings[0], b.readings[0]
		if ra.value <= h.Change.Value && h.Change.Value <= rb.value && ra.value+ra.half >= lo && rb.value-rb.half <= hi {
			return true
		}
	}
	return false
}

var (
	confidenceNear = pattern.Lazy(`(?i)^\s*(?:confidence|interval|sure)`)
	marginBefore   = pattern.Lazy(`(?i)(?:±|\+/[-−]|plus or minus|margin of error(?: of)?)\s*$`)
	countedNear    = pattern.Lazy(`(?i)^\s*(?:and\s+[0-9]+\s+)?(?:sessions?|runs?|blocks?|passes)\b`)
)

// knownFromRuns reports whether a number is one that the runs themselves give: the
// confidence, an end of an interval, or how many sessions, runs or blocks there are.
func (s *sentence) knownFromRuns(i int) bool {
	n, rest := s.numbers[i], s.Text[s.numbers[i].End:]
	is := func(v float64) bool {
		return slices.ContainsFunc(n.readings, func(r reading) bool { return math.Abs(v-r.value) <= r.half*(1+1e-9)+1e-12 })
	}
	if marginBefore().MatchString(s.Text[:n.Start]) {
		return slices.ContainsFunc(s.together, func(h *Held) bool {
			lo, hi, ok := h.JointInterval()
			return ok && n.Unit == claimedUnit(h) && slices.ContainsFunc(n.readings, func(r reading) bool { return r.value+r.half >= (hi-lo)/2 })
		})
	}
	if n.Unit == "%" && confidenceNear().MatchString(rest) && is(100*s.page.Confidence) {
		return true
	}
	for _, h := range s.together {
		if h.Result == nil {
			continue
		}
		counts := append(h.Result.Replicates[:], h.Result.Before.Runs, h.Result.After.Runs)
		if n.Unit == h.Result.Unit && h.Result.Parts == nil && (is(h.Result.Before.Median) || is(h.Result.After.Median)) {
			return true
		}
		if n.Unit == "" && countedNear().MatchString(rest) && slices.ContainsFunc(counts, func(c int) bool { return is(float64(c)) }) {
			return true
		}
		first, last := i, i+1
		if n.rangeLast {
			first, last = i-1, i
		}
		if last >= len(s.numbers) || !s.numbers[last].rangeLast || !confidenceBefore(s.Text[:s.numbers[first].Start]) {
			continue
		}
		for _, in := range h.intervals() {
			end := math.Abs(in[i-first])
			if n.Unit == claimedUnit(h) && is(end) {
				return true
			}
		}
	}
	return false
}

func confidenceBefore(before string) bool {
	before = strings.ToLower(strings.TrimRight(before, " (:,"))
	return strings.HasSuffix(before, "interval") || strings.HasSuffix(before, "between") || strings.HasSuffix(before, "from")
}

// intervals are both intervals of a claim in its words.
func (h *Held) intervals() (out [][2]float64) {
	if _, lo, hi, ok := h.Interval(); ok {
		jointLo, jointHi, _ := h.JointInterval()
		out = append(out, [2]float64{lo, hi}, [2]float64{jointLo, jointHi})
	}
	return out
}

// claimedUnit is the unit in which the runs answer a claim.
func claimedUnit(h *Held) string {
	if h.Result.Scale == compare.Ratio {
		return "%"
	}
	return h.Result.Unit
}

var (
	atLeastWords = pattern.Lazy(`(?i)\b(?:at least|more than|no less than|not less than|over|above|from|minimum(?: of)?|` +
		`upwards of)\s*$|[≥>]\s*$`)
	orMoreWords = pattern.Lazy(`(?i)^\s*(?:or more|or better|and more|\+)`)
	upToWords   = pattern.Lazy(`(?i)\b(?:up to|as much as)\s*$|[≤]\s*$`)
)

// readBounds holds "at least" to the key that states the change.
func (s *sentence) readBounds() {
	if s.Change == nil {
		return
	}
	for _, n := range s.numbers {
		if !n.states(*s.Change, true) {
			continue
		}
		before, after := s.Text[:n.Start], s.Text[n.End:]
		words := atLeastWords().FindString(before) + orMoreWords().FindString(after)
		bound := words != "" && !strings.HasPrefix(strings.ToLower(words), "from")
		if s.AtLeast && words == "" {
			s.differs(OtherBound, n.Text, s.formKey()+` = "at least `+s.Change.Text+`"`)
		}
		if words = strings.TrimSpace(words); bound && !s.AtLeast && s.Form != AsLevel {
			s.unchecked(WordsWithoutKey, words)
		}
		if words := strings.TrimSpace(upToWords().FindString(before)); words != "" {
			s.unchecked(WordsWithoutKey, words)
		}
	}
}

// readNames holds the names of the text to those of the keys.
func (s *sentence) readNames() {
	sides := map[string]bool{}
	benchmarks, metrics := map[string]bool{}, map[string]bool{}
	for _, h := range s.together {
		metrics[h.Metric] = true
		sides[h.Before], sides[h.After] = true, true
		benchmarks[h.Benchmark] = true
	}
	var parts, missing []string
	if s.Result != nil && s.Result.Parts != nil {
		for _, m := range s.Result.Parts {
			parts = append(parts, m.Benchmark)
		}
		for _, b := range parts {
			if !slices.ContainsFunc(s.names, func(f nameFound) bool { return f.benchmark == b }) {
				missing = append(missing, b)
			}
		}
	}
	if !s.NamesRuns() {
		if len(s.page.Pairs) > 0 { // else the page says so once
			s.unchecked(NoRunsNamed, "")
		}
		return
	}
	for _, f := range s.names {
		written := s.Text[f.start:f.end]
		known := func(name string) string {
			if written == name {
				return written
			}
			return written + " (" + name + ")"
		}
		isSide, isBenchmark := f.profile != "" && sides[f.profile], f.benchmark != "" && benchmarks[f.benchmark]
		switch {
		case f.metric != "":
			if !metrics[f.metric] {
				s.unchecked(WordsWithoutKey, written)
			}
			continue
		case isSide || isBenchmark:
		case f.profile != "":
			s.differs(OtherProfileNamed, known(f.profile), fmt.Sprintf("before = %q and after = %q", s.Before, s.After))
		case parts == nil:
			expected := fmt.Sprintf("benchmark = %q", s.Benchmark)
			s.differs(OtherBenchmarkNamed, known(f.benchmark), expected)
		case !slices.Contains(parts, f.benchmark) || len(missing) > 0:
			expected := "suite = true"
			if s.Class != "" {
				expected = fmt.Sprintf("class = %q", s.Class)
			}
			s.differs(OtherBenchmarkNamed, known(f.benchmark), expected)
		}
		s.cover(f.start, f.end)
		if f.profile == s.After && len(s.together) == 1 && comparedWith().MatchString(s.Text[:f.start]) {
			s.differs(SidesSwappedInText, written, fmt.Sprintf("before = %q and after = %q", s.Before, s.After))
		}
	}
	s.readSubject()
	if s.Benchmark != "" && !s.mentions(s.Benchmark) {
		s.unchecked(BenchmarkNotInText, s.Benchmark)
	}
}

var comparedWith = pattern.Lazy(`(?i)\b(?:than|over|versus|vs\.?|against|compared (?:to|with))` +
	`(?:\s+(?:with|on|in|at|under|the|profile|on the|with the)){0,3}[\s"'“‘]*$`)

// readSubject lists the profile before where the text names it alone, and not as what
// something is compared with: "factory renders 2 % faster".
func (s *sentence) readSubject() {
	var before []nameFound
	for _, f := range s.names {
		switch {
		case f.profile == s.After:
			return
		case f.profile == s.Before && f.profile != "":
			before = append(before, f)
		}
	}
	for _, f := range before {
		if !comparedWith().MatchString(s.Text[:f.start]) {
			s.unchecked(AfterNotInText, s.Text[f.start:f.end])
		}
	}
}

// mentions reports whether a word of a name stands in the text, in any form: "tiles"
// of tile-render.
func (s *sentence) mentions(name string) bool {
	for _, own := range wordsIn(name) {
		for _, w := range wordsIn(s.Text) {
			if sameStem(own.text, w.text) {
				return true
			}
		}
	}
	return false
}

// sameStem reports whether words are forms of one another: the shorter one begins
// the longer one, but for a last e, and leaves at most three letters.
func sameStem(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	if a == b {
		return true
	}
	stem := strings.TrimSuffix(a, "e")
	return len(stem) >= 3 && strings.HasPrefix(b, stem) && len(b)-len(stem) <= 4
}
