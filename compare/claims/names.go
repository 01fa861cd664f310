package claims

import (
	"slices"
	"strings"
	"unicode/utf8"

	"tunegate/compare"
)

// nameFound is a name of the runs, or of keys, that stands in a text.
type nameFound struct {
	profile, benchmark, metric string // a name may be of several kinds
	start, end                 int
}

// knownNames are the names of the runs by their letters and digits alone, so that
// "boost lift", "Boost-Lift" and "boostlift" are the profile boost-lift.
type knownNames map[string][]nameFound

func namesOf(runs Runs, held []*Held) knownNames {
	known := knownNames{}
	add := func(name string, n nameFound) {
		if letters := lettersOf(name); utf8.RuneCountInString(letters) >= minNameLetters && !slices.Contains(known[letters], n) {
			known[letters] = append(known[letters], n)
		}
	}
	for _, profile := range runs.Profiles() {
		add(profile, nameFound{profile: profile})
		for _, s := range runs.Profile(profile) {
			add(s.Benchmark, nameFound{benchmark: s.Benchmark})
			if s.Metric != compare.DefaultMetric {
				add(s.Metric, nameFound{metric: s.Metric})
			}
		}
	}
	for _, h := range held {
		for _, profile := range []string{h.Before, h.After} {
			add(profile, nameFound{profile: profile})
		}
		add(h.Benchmark, nameFound{benchmark: h.Benchmark})
	}
	return known
}

// minNameLetters is the shortest name that is looked for: shorter ones are words of
// the language too often.
const minNameLetters = 3

func lettersOf(name string) string {
	var out strings.Builder
	for _, w := range wordsIn(name) {
		out.WriteString(w.text)
	}
	return out.String()
}

// in finds the names in a text, the longest first where they overlap. Where several
// names have the same letters, one that a claim has in its keys is meant.
func (known knownNames) in(text string, numbers []Number, claims []*Held) (out []nameFound) {
	words := wordsIn(text)
	for i := 0; i < len(words); i++ {
		letters, last := "", -1
		var found []nameFound
		for j := i; j < len(words) && j < i+8; j++ {
			if isQuantity(words[j], numbers) {
				break
			}
			letters += words[j].text
			for _, candidate := range wordForms(letters, j > i) {
				if n, ok := known[candidate]; ok {
					found, last = n, j
					break
				}
			}
		}
		if last < 0 {
			continue
		}
		n := found[0]
		for _, other := range found {
			if slices.ContainsFunc(claims, func(h *Held) bool {
				return other.profile != "" && (other.profile == h.Before || other.profile == h.After) ||
					other.benchmark != "" && other.benchmark == h.Benchmark
			}) {
				n = other
				break
			}
		}
		n.start, n.end = words[i].start, words[last].end
		out = append(out, n)
		i = last
	}
	return out
}

// wordForms are letters as they stand and, of names of several words, without the
// ending of a plural or a verb.
func wordForms(letters string, several bool) []string {
	forms := []string{letters}
	if several {
		for _, ending := range []string{"s", "es", "ed", "er", "ers", "ing"} {
			if stem, ok := strings.CutSuffix(letters, ending); ok {
				forms = append(forms, stem, stem+"e")
			}
		}
	}
	return forms
}

// isQuantity reports whether a word is a number with a unit, and no part of a name.
func isQuantity(w word, numbers []Number) bool {
	return slices.ContainsFunc(numbers, func(n Number) bool { return n.Unit != "" && !n.inWords && n.Start <= w.start && w.start < n.End })
}
