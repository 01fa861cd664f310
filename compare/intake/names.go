package intake

import (
	"fmt"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"tunegate/compare"
	"tunegate/compare/internal/spelling"
)

// nameKind is what a name is of; names of two kinds may be alike.
type nameKind int

const (
	profileName nameKind = iota
	benchmarkName
	metricName
	nameKinds
)

func (k nameKind) String() string { return [nameKinds]string{"profile", "benchmark", "metric"}[k] }

// names knows the names in play, so that a name is one whatever its spelling:
// names that are equal after compatibility composition (NFKC, UAX 15) and case
// folding are the same name, and the first spelling met is the one that counts.
type names struct {
	spelled [nameKinds]map[string]string // as met, and the first spelling
	folded  [nameKinds]map[string]string // folded, and the first spelling
	looks   [nameKinds]map[string]string // with lookalikes mapped, and the folded name
	// lenient takes names that are refused elsewhere: of what is merged already.
	lenient bool
}

func newNames() *names {
	n := &names{}
	for kind := range nameKinds {
		n.spelled[kind], n.folded[kind], n.looks[kind] = map[string]string{}, map[string]string{}, map[string]string{}
	}
	return n
}

// lenientNames takes every name, but knows it again.
func lenientNames() *names {
	n := newNames()
	n.lenient = true
	return n
}

// SameName reports whether two names of profiles, benchmarks or metrics are one.
func SameName(a, b string) bool { return spelling.Fold(a) == spelling.Fold(b) }

// spell is the spelling that counts of a name. An error is about one that could
// be taken for another.
func (n *names) spell(kind nameKind, name string) (string, error) {
	if known, ok := n.spelled[kind][name]; ok || name == "" {
		return known, nil
	}
	folded := spelling.Fold(name)
	first, known := n.folded[kind][folded]
	if !known {
		first = name
	}
	if !n.lenient {
		if err := checkLetters(kind, name); err != nil {
			return "", err
		}
	}
	look := spelling.Fold(strings.Map(lookalike, norm.NFKC.String(name)))
	other, taken := n.looks[kind][look]
	if taken && other != folded && !n.lenient {
		return "", fmt.Errorf("the %s %s looks like the %s %s, but other letters or dashes stand in it; write both the same way, or rename one",
			kind, spelledOut(name), kind, spelledOut(n.folded[kind][other]))
	}
	if !taken {
		n.looks[kind][look] = folded
	}
	n.spelled[kind][name], n.folded[kind][folded] = first, first
	return first, nil
}

// checkLetters refuses what nobody can see: format characters (general category
// Cf), and a run of letters from more than one of Latin, Greek and Cyrillic. A
// unit such as µs or kΩ is no such run.
func checkLetters(kind nameKind, name string) error {
	if spelling.IsASCII(name) {
		return nil
	}
	begin := -1
	for i, r := range name + " " {
		if unicode.Is(unicode.Cf, r) {
			return fmt.Errorf("found the invisible character %U in the %s %s; write the name without it", r, kind, spelledOut(name))
		}
		letter := unicode.IsLetter(r) || unicode.IsMark(r)
		switch {
		case letter && begin < 0:
			begin = i
		case !letter && begin >= 0:
			if found := scripts(name[begin:i]); len(found) > 1 {
				return fmt.Errorf("found letters of %s in one word of the %s %s; write the word in one script", strings.Join(found, " and "), kind,
					spelledOut(name))
			}
			begin = -1
		}
	}
	return nil
}

// scripts lists those of Latin, Greek and Cyrillic that a word has letters of;
// the micro sign before letters and the ohm behind them belong to units.
func scripts(word string) (found []string) {
	if letters := []rune(word); len(letters) <= 3 {
		word = strings.TrimPrefix(word, "μ")
		word = strings.TrimSuffix(strings.TrimSuffix(word, "Ω"), "\u2126")
	}
	for _, s := range []struct {
		name  string
		table *unicode.RangeTable
	}{{"Latin", unicode.Latin}, {"Greek", unicode.Greek}, {"Cyrillic", unicode.Cyrillic}} {
		if strings.ContainsFunc(word, func(r rune) bool { return unicode.Is(s.table, r) }) {
			found = append(found, s.name)
		}
	}
	return found
}

// spelledOut quotes a name with every character that is not ASCII as its code.
func spelledOut(name string) string {
	quoted, codes := fmt.Sprintf("%q", name), fmt.Sprintf("%+q", name)
	if quoted == codes {
		return quoted
	}
	return quoted + " (" + codes + ")"
}

// lookalikes maps letters of Greek, Cyrillic and Latin to the Latin letter that
// they look like in usual fonts, and dashes to the hyphen: in the spirit of
// Unicode Technical Standard 39 (confusables), from memory. Upper case stands
// apart, since a capital often looks like another letter than its small one.
var lookalikes = func() map[rune]rune {
	table := map[rune]rune{}
	for latin, others := range map[rune]string{
		'A': "ΑА", 'B': "ΒВ", 'C': "СϹ", 'E': "ΕЕ", 'F': "Ϝ", 'G': "Ԍ", 'H': "ΗН", 'I': "ΙІӀ", 'J': "ЈͿ", 'K': "ΚК", 'M': "ΜМ", 'N': "Ν",
		'O': "ΟО", 'P': "ΡР", 'Q': "Ԛ", 'S': "Ѕ", 'T': "ΤТ", 'V': "Ѵ", 'W': "Ԝ", 'X': "ΧХ", 'Y': "ΥҮУ", 'Z': "Ζ",
		'a': "αаɑ", 'b': "Ьь", 'c': "сϲ", 'd': "ԁ", 'e': "еҽ", 'g': "ɡ", 'h': "һ", 'i': "ιіıɩ", 'j': "јϳ", 'k': "κк", 'l': "ӏ", 'm': "м",
		'n': "ηп", 'o': "οоσ", 'p': "ρр", 'q': "ԛ", 'r': "г", 's': "ѕ", 't': "τт", 'u': "υ", 'v': "νѵ", 'w': "ωԝ", 'x': "χх", 'y': "γуүʏ",
	} {
		for _, r := range others {
			table[r] = latin
		}
	}
	for _, r := range "‐‑‒–—―−﹘⁃˗－" {
		table[r] = '-'
	}
	return table
}()

func lookalike(r rune) rune {
	if to, ok := lookalikes[r]; ok {
		return to
	}
	return r
}

// SpellAlike gives the series of after the spelling of before where names of
// benchmarks and metrics are the same but for case and composition. It is an
// error where two names only look alike.
func SpellAlike(before, after []*compare.Series) error {
	known := newNames()
	for _, side := range [][]*compare.Series{before, after} {
		for _, s := range side {
			var err error
			if s.Benchmark, err = known.spell(benchmarkName, s.Benchmark); err == nil {
				s.Metric, err = known.spell(metricName, s.Metric)
			}
			if err != nil {
				return placed(s.UnitAt, "%v", err)
			}
		}
	}
	return nil
}
