package claims

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"tunegate/compare/internal/pattern"
)

// directionWords are those of each form, and those that say something else.
var directionWords = map[Form][2]func() *regexp.Regexp{
	Faster:   {anyWord(`faster|quicker|speed\w*|gains?`), anyWord(`slower|slows?|less time|loses?|loss`)},
	Slower:   {anyWord(`slower|slows?|loses?|loss|costs?|less`), anyWord(`faster|quicker|gains?|more time`)},
	LessTime: {anyWord(`time|saves?|saving|shorter|sooner|less`), anyWord(`faster|quicker|slower|longer|gains?`)},
	MoreTime: {anyWord(`time|longer|later|more|costs?`), anyWord(`faster|quicker|slower|shorter|saves?|sooner`)},
	More: {anyWord(`more|higher|hotter|warmer|louder|above|up|rises?|increases?|gains?|faster|over|longer`),
		anyWord(`less|fewer|lower|cooler|colder|quieter|below|down|falls?|drops?|saves?|slower|decreases?`)},
	Less: {anyWord(`less|fewer|lower|cooler|colder|quieter|below|down|falls?|drops?|saves?|slower|decreases?|shorter|faster`),
		anyWord(`more|higher|hotter|warmer|louder|above|rises?|increases?|longer`)},
}

func anyWord(words string) func() *regexp.Regexp { return pattern.Lazy(`(?i)\b(?:` + words + `)\b`) }

// readDirection finds a sentence that says the opposite of its key.
func (s *sentence) readDirection() {
	words, ok := directionWords[s.Form]
	if !ok || len(s.together) > 1 || words[0]().MatchString(s.Text) {
		return
	}
	if found := words[1]().FindString(s.Text); found != "" {
		s.differs(OtherDirectionWord, found, string(s.Form))
	}
}

// scopeWords claim more than one comparison can show.
var scopeWords = anyWord(`every|everything|everywhere|every time|all|always|any|anything|anywhere|each|never|entire|whole|throughout|` +
	`across the board|guaranteed?|best|fastest|quietest|coolest|world\S*|record|stable|safe(?:ly)?|free`)

// clauseEnd is where a clause of a sentence begins or ends.
var clauseEnd = pattern.Lazy(`(?i)[,;:!?()\[\]"“”—]|\.(?:\s|$)|\s[-–]\s|\b(?:and|or|but|while|without|with|in|on|at|for|across|` +
	`under|even|plus|nor|yet|although|because|so|when|where|which)\b`)

// fillerWords say nothing that could be checked.
var fillerWords = func() map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.Fields(`a an the it its this that these those is are was were be been has have had does do did of to from by as
		than then before after with and or but in on at for only just now about around nearly almost roughly some our we us you your their profile setting
		settings interval confidence session sessions run runs instead not no per cent percent average mean fast faster slower quicker more less
		higher lower time times speed change changes make makes made takes take took between over versus vs against compared which when so even
		same level unchanged difference shown up down one`) {
		out[w] = true
	}
	return out
}()

// readWords lists the clauses that no key covers, and words of a scope that no key
// has.
func (s *sentence) readWords() {
	start := 0
	ends := append(clauseEnd().FindAllStringIndex(s.Text, -1), []int{len(s.Text), len(s.Text)})
	for _, end := range ends {
		if s.splitsCovered(end) {
			continue
		}
		s.readClause(start, end[0])
		start = end[0]
	}
}

// splitsCovered reports whether the end of a clause stands within a number or name.
func (s *sentence) splitsCovered(at []int) bool {
	for _, c := range s.covered {
		if c[0] < at[0] && at[1] <= c[1] {
			return true
		}
	}
	return false
}

// isWithin reports whether a clause lies within one covered part.
func (s *sentence) isWithin(start, end int) bool {
	return slices.ContainsFunc(s.covered, func(c [2]int) bool { return c[0] <= start && end <= c[1] })
}

func (s *sentence) readClause(start, end int) {
	if s.isWithin(start, end) {
		return
	}
	clause := strings.Trim(s.Text[start:end], " ,;:.!?()[]\"“”—–-\t\n")
	holdsNumber := slices.ContainsFunc(s.numbers, func(n Number) bool {
		return start <= n.Start && n.End <= end && !slices.ContainsFunc(s.open, func(o Number) bool { return o.Start == n.Start })
	})
	scope := scopeWords().FindString(clause)
	if s.Suite && strings.EqualFold(scope, "all") {
		scope = ""
	}
	if holdsNumber {
		if scope != "" {
			s.unchecked(WordsWithoutKey, scope)
		}
		return
	}
	for _, w := range wordsIn(s.Text[start:end]) {
		at := [2]int{start + w.start, start + w.end}
		if s.isCovered(at[0], at[1]) || fillerWords[w.text] || s.isOfKeys(w.text) || !strings.ContainsFunc(w.text, unicode.IsLetter) ||
			s.Suite && w.text == "all" {
			continue
		}
		s.Unchecked = slices.DeleteFunc(s.Unchecked, func(f Finding) bool { // said by the whole clause
			return (f.Cause == WordsWithoutKey || f.Cause == NumberWithoutKey) && strings.Contains(clause, f.Found)
		})
		s.unchecked(WordsWithoutKey, clause)
		return
	}
	if scope != "" {
		s.unchecked(WordsWithoutKey, scope)
	}
}

// isOfKeys reports whether a word is one of the names that the keys hold.
func (s *sentence) isOfKeys(text string) bool {
	for _, h := range s.together {
		for _, name := range []string{h.Benchmark, h.Metric, h.Class, h.Before, h.After} {
			if slices.ContainsFunc(wordsIn(name), func(w word) bool { return sameStem(w.text, text) }) {
				return true
			}
		}
	}
	return false
}
