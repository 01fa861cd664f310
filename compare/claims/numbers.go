package claims

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tunegate/compare"
	"tunegate/compare/internal/pattern"
)

// Number is a number that stands in a text.
type Number struct {
	Text       string // as written, with its unit
	Unit       string // "%", "×" for times, a unit that is known, or empty
	Start, End int    // bytes of Text in the text

	readings  []reading // "1,250" has two; none for what only looks like a number
	negative  bool
	inWords   bool // "twice", "ten per cent"
	rangeLast bool // the second of "2 to 3 %"
}

// reading is a value and half a unit of its last digit.
type reading struct{ value, half float64 }

// The separators of thousands beside comma and point: no-break, thin, narrow and
// figure spaces, apostrophes.
const groupMarks = "\u00a0\u2007\u2009\u202f'’"

// invisibleMarks may stand within a number and are not seen.
const invisibleMarks = "\u00ad\u200b\u200c\u200d\u2060\ufeff"

var (
	numberInText = pattern.Lazy(`\p{Nd}+(?:[.,٫` + groupMarks + invisibleMarks + `]\p{Nd}+)*`)
	percentUnit  = pattern.Lazy(`^[\s\x{a0}\x{2009}\x{202f}-]*(?i:[%％٪﹪]|per\s?-?cent(?:age points?)?\b|pct\b|percentage points?\b)`)
	timesUnit    = pattern.Lazy(`^[\s\x{a0}\x{2009}\x{202f}-]*(?:×|(?i:x|times|fold)\b)`)
	shareUnit    = pattern.Lazy(`^[\s\x{a0}\x{2009}\x{202f}-]*((?i)seconds?|secs?|s|minutes?|mins?|min|hours?|h)` +
		`\s*(?:/|\ban?\b|\bper\b)\s*((?i)minute|min|hour|h|day|d)\b`)
	rateUnit   = pattern.Lazy(`^[\s\x{a0}\x{2009}\x{202f}-]*(?i:frames?\s*(?:per|a|/)\s*s(?:econd)?)\b`)
	wordUnit   = pattern.Lazy(`^[\s\x{a0}\x{2009}\x{202f}-]*([\pL°º%µΩ][\pL°º/µΩ]*)`)
	celsius    = pattern.Lazy(`^[\s\x{a0}\x{2009}\x{202f}-]*(?i:degrees?|deg|°)\s*(?i:(celsius|c|fahrenheit|f)\b)?`)
	betweenTwo = pattern.Lazy(`^\s*(?:to|[-–—…]|\.\.)\s*$`)
)

// unitWords are units in words.
var unitWords = map[string]string{"second": "s", "seconds": "s", "sec": "s", "secs": "s", "minute": "min", "minutes": "min", "mins": "min",
	"hour": "h", "hours": "h", "day": "d", "days": "d", "watt": "W", "watts": "W", "joule": "J", "joules": "J", "volt": "V", "volts": "V",
	"decibel": "dB", "decibels": "dB", "point": "points", "frames": "fps", "milliseconds": "ms", "nanoseconds": "ns"}

// numberWords are what words for numbers may mean in per cent of change.
var numberWords = map[string][]float64{"twice": {100}, "double": {100}, "doubles": {100}, "doubled": {100}, "doubling": {100},
	"half": {50, 100}, "halves": {50, 100}, "halved": {50, 100}, "½": {50, 100}, "third": {33}, "⅓": {33}, "quarter": {25}, "¼": {25},
	"fifth": {20}, "tenth": {10}, "thrice": {200}, "triple": {200}, "triples": {200}, "tripled": {200}, "quadruple": {300},
	"quadrupled": {300}, "tenfold": {900}, "twofold": {100}, "threefold": {200}, "dozen": {12}, "dozens": nil}

// cardinals are numbers in words.
var cardinals = map[string]float64{"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
	"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18,
	"nineteen": 19, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
	"hundred": 100}

// NumbersIn finds the numbers of a text in order: with points or commas, thousands
// set apart, with their units, and words such as "twice".
func NumbersIn(text string) []Number {
	var out []Number
	for _, at := range numberInText().FindAllStringIndex(text, -1) {
		n := Number{Start: at[0], End: at[1], readings: readingsOf(text[at[0]:at[1]])}
		unit, end := unitAfter(text[at[1]:])
		if before, size := utf8.DecodeLastRuneInString(text[:at[0]]); size > 0 {
			mark, _ := utf8.DecodeLastRuneInString(text[:at[0]-size])
			if isSign := strings.ContainsRune("-−", before); isSign || before == '.' {
				if isSign && (at[0] == size || unicode.IsSpace(mark) || strings.ContainsRune("([{,;:", mark)) {
					n.negative, n.Start = true, at[0]-size
				} else if unicode.IsLetter(mark) && unit != "%" {
					continue // scene-2
				}
			} else if (unicode.IsLetter(before) || before == '_') && unit != "%" {
				continue // H264
			}
		}
		if after, _ := utf8.DecodeRuneInString(text[at[1]:]); unit == "" && unicode.IsLetter(after) {
			continue // 3D
		}
		n.Unit, n.End = unit, at[1]+end
		n.Text = text[n.Start:n.End]
		if k := len(out) - 1; k >= 0 && isRangeMark(text[:out[k].Start], text[out[k].End:n.Start]) {
			n.rangeLast = true
			if out[k].Unit == "" {
				out[k].Unit = n.Unit
			}
		}
		out = append(out, n)
	}
	out = append(out, numbersInWords(text)...)
	slices.SortStableFunc(out, func(a, b Number) int { return a.Start - b.Start })
	return out
}

// numbersInWords finds "twice", "ten", and "forty-six per cent". What is written in
// full with per cent or a unit counts as if it were in digits.
func numbersInWords(text string) (out []Number) {
	tens := word{end: -1} // before a digit in words
	for _, w := range wordsIn(text) {
		n := Number{Start: w.start, End: w.end, Text: text[w.start:w.end], inWords: true}
		value, isCardinal := cardinals[w.text]
		if isCardinal && value < 10 && w.start == tens.end+1 {
			n.Start, value = tens.start, value+cardinals[tens.text]
			out = slices.DeleteFunc(out, func(o Number) bool { return o.Start == tens.start })
		}
		if isCardinal && value >= 20 && value < 100 && n.Start == w.start {
			tens = w
		}
		if values, ok := numberWords[w.text]; ok {
			n.Unit = "%"
			for _, v := range values {
				n.readings = append(n.readings, reading{v, 0.5})
			}
			out = append(out, n)
			continue
		}
		if !isCardinal {
			continue
		}
		unit, end := unitAfter(text[w.end:])
		if unit == "" && w.text == "one" && n.Start == w.start {
			continue
		}
		n.End += end
		n.Unit, n.inWords, n.Text, n.readings = unit, unit == "", text[n.Start:n.End], []reading{{value, 0.5}}
		out = append(out, n)
	}
	return out
}

// isRangeMark reports whether what stands between two numbers makes them a range:
// "2 to 3", "2-3", "between 2 and 3".
func isRangeMark(before, between string) bool {
	return betweenTwo().MatchString(between) ||
		strings.TrimSpace(between) == "and" && strings.HasSuffix(strings.ToLower(strings.TrimSpace(before)), "between")
}

// unitAfter reads the unit behind a number; end is where it ends.
func unitAfter(rest string) (unit string, end int) {
	if m := percentUnit().FindStringIndex(rest); m != nil {
		return "%", m[1]
	}
	if m := timesUnit().FindStringIndex(rest); m != nil {
		return "×", m[1]
	}
	if m := shareUnit().FindStringSubmatchIndex(rest); m != nil {
		return canonicalWord(rest[m[2]:m[3]]) + "/" + canonicalWord(rest[m[4]:m[5]]), m[1]
	}
	if m := rateUnit().FindStringIndex(rest); m != nil {
		return "fps", m[1]
	}
	if m := celsius().FindStringSubmatchIndex(rest); m != nil {
		if m[2] >= 0 && strings.HasPrefix(strings.ToLower(rest[m[2]:]), "f") {
			return "°F", m[1]
		}
		return "°C", m[1]
	}
	if m := wordUnit().FindStringSubmatchIndex(rest); m != nil {
		word := rest[m[2]:m[3]]
		if u := canonicalWord(word); u != word || isUnit(word) {
			return u, m[3]
		}
	}
	return "", 0
}

func canonicalWord(word string) string {
	if u, ok := unitWords[strings.ToLower(word)]; ok {
		return u
	}
	return compare.CanonicalUnit(word)
}

// prefixedUnit are units of the trade that no metric needs to have.
var prefixedUnit = pattern.Lazy(`^(?:[kKMGTmµn]?(?:B|bit|W|Wh|V|VA|A|J|Hz|dB)|[KMGT]iB)(?:/s|ps)?$`)

// isUnit reports whether a word is a unit, and not one of the language.
func isUnit(word string) bool {
	if len(word) == 1 { // "5 a day", "3 D"
		return word == "s" || word == "h" || prefixedUnit().MatchString(word)
	}
	_, isTime := compare.SecondsIn(word)
	return isTime || prefixedUnit().MatchString(word) || compare.TraitsOf(word) != compare.TraitsOf("")
}

// readingsOf are the values that digits with separators may mean: 4,6 is 4.6, and
// 1,250 may be either. None for what has several parts, such as a version.
func readingsOf(s string) (out []reading) {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsDigit(r):
			return '0' + digitValue(r)
		case strings.ContainsRune(invisibleMarks, r):
			return -1
		case r == '٫':
			return ','
		case strings.ContainsRune(groupMarks, r):
			return '\''
		}
		return r
	}, s)
	add := func(digits string) {
		v, err := strconv.ParseFloat(digits, 64)
		_, decimals, _ := strings.Cut(digits, ".")
		if err == nil {
			out = append(out, reading{v, 0.5 * math.Pow(10, -float64(len(decimals)))})
		}
	}
	grouped := func(parts []string) bool { // 1 or more of three digits behind the first
		for _, p := range parts[1:] {
			if len(p) != 3 {
				return false
			}
		}
		return len(parts[0]) <= 3 && parts[0] != "0"
	}
	whole, decimals := s, ""
	if i := strings.LastIndexAny(s, ".,"); i >= 0 && strings.Count(s, s[i:i+1]) == 1 {
		whole, decimals = s[:i], s[i+1:]
	}
	parts := strings.FieldsFunc(whole, func(r rune) bool { return strings.ContainsRune(".,'", r) })
	if len(parts) > 1 && !grouped(parts) {
		return nil
	}
	digits := strings.Join(parts, "")
	if decimals == "" {
		add(digits)
		return out
	}
	add(digits + "." + decimals)
	if len(decimals) == 3 && len(parts) == 1 && grouped([]string{digits, decimals}) {
		add(digits + decimals)
	}
	return out
}

// digitValue is that of a decimal digit of any script: Unicode lists each script's ten
// in order from zero.
func digitValue(r rune) rune {
	for _, x := range unicode.Nd.R16 {
		if rune(x.Lo) <= r && r <= rune(x.Hi) {
			return (r - rune(x.Lo)) % 10
		}
	}
	for _, x := range unicode.Nd.R32 {
		if rune(x.Lo) <= r && r <= rune(x.Hi) {
			return (r - rune(x.Lo)) % 10
		}
	}
	return 0
}

// word is one of a text, in lower case.
type word struct {
	text       string
	start, end int
}

var wordInText = pattern.Lazy(`[\pL\pN]+`)

func wordsIn(text string) (out []word) {
	for _, at := range wordInText().FindAllStringIndex(text, -1) {
		out = append(out, word{strings.ToLower(text[at[0]:at[1]]), at[0], at[1]})
	}
	return out
}

// states reports whether a number is the figure: rounded at most, to no more digits
// than the figure has, in its unit or in none.
func (n Number) states(f Figure, falls bool) bool {
	written := []Figure{f}
	for _, own := range NumbersIn(f.Text) { // "3 min/h" of a figure in per cent
		if own.Unit != "" && own.Unit != f.Unit && len(own.readings) > 0 {
			written = append(written, Figure{Value: own.readings[0].value, Half: own.readings[0].half, Unit: own.Unit})
		}
	}
	for _, f := range written {
		for _, r := range n.readings {
			v, unit := r.value, n.Unit
			if unit == "×" && f.Unit == "%" { // 1.5 times is 50 % more
				v, unit = 100*(v-1), "%"
				r.half *= 100
			}
			if unit != "" && f.Unit != "" && unit != f.Unit || n.negative && f.Value > 0 && !falls {
				continue
			}
			if math.Abs(v-math.Abs(f.Value)) <= r.half*(1+1e-9)+1e-12 && (r.half >= f.Half*(1-1e-9) || n.inWords) {
				return true
			}
		}
	}
	return false
}
