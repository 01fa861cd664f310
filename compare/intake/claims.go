package intake

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/internal/pattern"
)

// changeForms are the keys that state a change, in the order in which they are
// explained.
var changeForms = []claims.Form{claims.Faster, claims.Slower, claims.LessTime, claims.MoreTime, claims.More, claims.Less, claims.AsLevel}

const changeExpected = `a number above zero, which is per cent, or a text such as "7 °C" or "at least 2 %"; the key holds the sign`

// claimKeys are the keys of a page of claims and what each expects.
var claimKeys = map[string]string{
	"before":          `the name of a profile in quotes, such as "factory"`,
	"after":           `the name of a profile in quotes, such as "boost-lift"`,
	"claim":           "one or more [[claim]] tables",
	"claim.text":      "the sentence in quotes",
	"claim.before":    `the name of a profile in quotes, such as "factory"`,
	"claim.after":     `the name of a profile in quotes, such as "boost-lift"`,
	"claim.benchmark": `the name of a benchmark in quotes, such as "tile-render"`,
	"claim.metric":    `the name of a metric in quotes, such as "power"`,
	"claim.class":     `a workload class of the policy in quotes, such as "rendering"`,
	"claim.suite":     "true, for a claim about all scores together",
	"claim.faster":    changeExpected,
	"claim.slower":    changeExpected,
	"claim.less-time": changeExpected,
	"claim.more-time": changeExpected,
	"claim.more":      changeExpected,
	"claim.less":      changeExpected,
	"claim.level": `true (no change larger than the tolerance), or the largest change: a number, which is per cent, or a text ` +
		`such as "1 °C"`,
	"claim.from":       `the figure before, such as "250 W"`,
	"claim.to":         `the figure after, such as "215 W"`,
	"claim.steps":      "two or more percentages, such as [4.1, 2.6]",
	"claim.average-of": "two or more percentages, such as [2.5, 0.3, -2.0]",
}

// claimKinds are the types of claimKeys that are no text in quotes.
var claimKinds = func() map[string][]unstable.Kind {
	figure := append([]unstable.Kind{unstable.String}, numberKinds...)
	kinds := map[string][]unstable.Kind{
		"claim.suite": {unstable.Bool}, "claim.steps": {unstable.Array}, "claim.average-of": {unstable.Array},
		"claim.from": figure, "claim.to": figure,
	}
	for _, f := range changeForms {
		kinds["claim."+string(f)] = figure
	}
	kinds["claim.level"] = append([]unstable.Kind{unstable.Bool}, figure...)
	return kinds
}()

// maxPercentages is the longest list of a claim.
const maxPercentages = 60

// maxClaims is the largest page of claims, in bytes.
const maxClaims = 256 << 10

// claimValues are the values of the keys of a page, by "claim 0.text".
type claimValues struct {
	texts   map[string]string
	flags   map[string]bool
	figures map[string]claims.Figure
	atLeast map[string]bool
	lists   map[string][]claims.Figure
	at      map[string]compare.Place
}

// Claims reads a page of claims from TOML. It is strict: an unknown key, a
// wrong type, a number out of range and words that contradict each other are a
// *compare.PlacedError with line and column. Numbers keep the digits in which
// they are written.
func Claims(data []byte, name string) ([]claims.Claim, error) {
	if len(data) > maxClaims {
		return nil, placed(compare.Place{File: name}, "found %d bytes, expected at most %d; split the page", len(data), maxClaims)
	}
	data = tomlText(data)
	v := &claimValues{texts: map[string]string{}, flags: map[string]bool{}, figures: map[string]claims.Figure{}, atLeast: map[string]bool{},
		lists: map[string][]claims.Figure{}}
	at, err := tomlShape{list: "claim", keys: claimKeys, kinds: claimKinds, each: v.add}.places(data, name)
	if err != nil {
		return nil, err
	}
	var rest map[string]any // the decoder finds what is no TOML, and what is said twice
	if err := toml.Unmarshal(data, &rest); err != nil {
		return nil, tomlError(err, data, name)
	}
	v.at = at
	var out []claims.Claim
	for i := 0; ; i++ {
		place, ok := at[fmt.Sprintf("claim %d", i)]
		if !ok {
			break
		}
		c, err := v.claim(fmt.Sprintf("claim %d.", i), place)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	if len(out) == 0 {
		return nil, placed(compare.Place{File: name, Line: 1, Column: 1}, "found no claim; write each as a [[claim]] table with its text")
	}
	return out, nil
}

// add keeps one value, in the words of its key.
func (v *claimValues) add(key string, k tomlKey) error {
	own := key[strings.LastIndex(key, ".")+1:]
	isChange := slices.Contains(changeForms, claims.Form(own))
	switch {
	case k.kind == unstable.Bool:
		v.flags[key] = string(k.value.Data) == "true"
		if !v.flags[key] {
			return placed(k.valueAt, "%s is false; leave the line out", own)
		}
	case k.kind == unstable.Array:
		list := []claims.Figure{}
		for it := k.value.Children(); it.Next(); {
			n := it.Node()
			place := k.valueAt
			if n.Raw.Length > 0 {
				place = k.walk.place(n.Raw)
			}
			if !slices.Contains(numberKinds, n.Kind) {
				return placed(place, "%s holds something that is no number; expected %s", own, claimKeys["claim."+own])
			}
			f, err := bareNumber(string(n.Data))
			switch {
			case err != nil:
			case f.Value <= -100:
				err = fmt.Errorf("%s is a percentage of -100 or less; nothing can lose more than all of it", f.Text)
			case f.Value >= 10000 || len(list) == maxPercentages:
				err = fmt.Errorf("expected at most %d percentages below 10000", maxPercentages)
			}
			if err != nil {
				return placed(place, "%s: %v", own, err)
			}
			f.Unit = "%"
			list = append(list, f)
		}
		if len(list) < 2 {
			return placed(k.valueAt, "%s has %d of them; expected %s", own, len(list), claimKeys["claim."+own])
		}
		v.lists[key] = list
	case isChange || own == "from" || own == "to":
		f, atLeast, err := parseFigure(string(k.value.Data))
		if k.kind != unstable.String {
			f, err = bareNumber(string(k.value.Data))
		}
		if err == nil && atLeast && (!isChange || own == "level") {
			err = fmt.Errorf("%q cannot be \"at least\"; write the number alone", f.Text)
		}
		if err == nil && isChange {
			f, err = changeFigure(claims.Form(own), f)
		}
		if err != nil {
			return placed(k.valueAt, "%s: %v", own, err)
		}
		v.figures[key], v.atLeast[key] = f, atLeast
	default:
		v.texts[key] = string(k.value.Data)
		if strings.TrimSpace(v.texts[key]) == "" {
			expected := claimKeys["claim."+own]
			return placed(k.valueAt, "%s is empty; expected %s", own, expected)
		}
	}
	return nil
}

var figureText = pattern.Lazy(`^(?i:(at least)\s+)?([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,2})?)\s*([\pL%°µ][^\pC]*)?$`)

// parseFigure reads a number with the digits in which it is written, and what
// stands around it: "250 W", "at least 2 %".
func parseFigure(s string) (f claims.Figure, atLeast bool, err error) {
	written := strings.TrimSpace(s)
	m := figureText().FindStringSubmatch(strings.ReplaceAll(written, "_", ""))
	if m == nil {
		if strings.HasPrefix(strings.ToLower(written), "up to ") {
			return f, false, fmt.Errorf("found %s; name the benchmark that reaches it, and write the number alone", excerpt(written))
		}
		return f, false, fmt.Errorf("found %s; expected a number with a decimal point, and then its unit, such as \"250 W\"", excerpt(written))
	}
	number := m[2]
	f.Value, err = strconv.ParseFloat(number, 64)
	if err != nil || math.Abs(f.Value) > 1e12 {
		return f, false, fmt.Errorf("found %s; expected a number within 1e12", excerpt(written))
	}
	places, mantissa := 0, number
	if i := strings.IndexAny(number, "eE"); i >= 0 {
		exponent, _ := strconv.Atoi(number[i+1:])
		places, mantissa = -exponent, number[:i]
	}
	if i := strings.IndexByte(mantissa, '.'); i >= 0 {
		places += len(mantissa) - i - 1
	}
	if places > 11 {
		return f, false, fmt.Errorf("found %s; expected at most 11 decimals", excerpt(written))
	}
	f.Half = 0.5 * math.Pow(10, -float64(places))
	f.Unit = compare.CanonicalUnit(m[3])
	if f.Unit == "per cent" || f.Unit == "percent" {
		f.Unit = "%"
	}
	f.Text = number
	if f.Unit != "" && f.Unit != "%" {
		f.Text += " " + f.Unit
	}
	return f, m[1] != "", nil
}

// bareNumber reads a number of TOML; it has other notations than the decimal.
func bareNumber(s string) (claims.Figure, error) {
	f, atLeast, err := parseFigure(s)
	if err == nil && (f.Unit != "" || atLeast) {
		err = fmt.Errorf("found %s; expected a decimal number", excerpt(s))
	}
	return f, err
}

// changeFigure is a figure that states a change: above zero, in per cent where
// it has no unit.
func changeFigure(form claims.Form, f claims.Figure) (claims.Figure, error) {
	if f.Unit == "" {
		f.Unit = "%"
	}
	if form == claims.LessTime || form == claims.MoreTime {
		if share, ok := timeShare(f.Unit); ok {
			f.Value, f.Half, f.Unit = 100*share*f.Value, 100*share*f.Half, "%"
		}
	}
	switch {
	case f.Value < 0 && form != claims.AsLevel:
		return f, fmt.Errorf("found %s; the key holds the sign, so write %s = %s", f.Text, form.Opposite(), strings.TrimPrefix(f.Text, "-"))
	case f.Value <= 0 && form == claims.AsLevel:
		return f, fmt.Errorf("found %s; expected %s", f.Text, claimKeys["claim.level"])
	case f.Value <= 0:
		return f, fmt.Errorf("found %s; expected a number above zero, or level = true for no change", f.Text)
	case f.Unit == "%" && f.Value >= 100 && (form == claims.Slower || form == claims.LessTime || form == claims.Less):
		return f, fmt.Errorf("found %s; 100 %% less leaves nothing", f.Text)
	}
	return f, nil
}

// timeShare is what share of the time "min/h" is: a sixtieth.
func timeShare(unit string) (float64, bool) {
	u := strings.ToLower(unit)
	for _, spelled := range [][2]string{{" an ", "/"}, {" a ", "/"}, {" per ", "/"}, {"seconds", "s"}, {"second", "s"}, {"minutes", "min"},
		{"minute", "min"}, {"hours", "h"}, {"hour", "h"}, {"days", "d"}, {"day", "d"}, {" ", ""}} {
		u = strings.ReplaceAll(u, spelled[0], spelled[1])
	}
	of, in, ok := strings.Cut(u, "/")
	saved, known := compare.SecondsIn(of)
	each, alsoKnown := compare.SecondsIn(in)
	if !ok || !known || !alsoKnown {
		return 0, false
	}
	return saved / each, true
}

// claim puts one claim together and refuses what does not go together.
func (v *claimValues) claim(prefix string, place compare.Place) (claims.Claim, error) {
	c := claims.Claim{At: place, Places: map[string]compare.Place{}}
	has := func(key string) bool { _, ok := v.at[prefix+key]; return ok }
	for key := range claimKeys {
		key = strings.TrimPrefix(key, "claim.")
		if at, ok := v.at[prefix+key]; ok {
			c.Places[key] = at
		}
	}
	fail := func(key, format string, args ...any) error {
		at, ok := c.Places[key]
		if !ok {
			at = place
		}
		return placed(at, format, args...)
	}
	c.Text, c.Class = v.texts[prefix+"text"], v.texts[prefix+"class"]
	c.Benchmark, c.Metric = v.texts[prefix+"benchmark"], v.texts[prefix+"metric"]
	c.Suite = v.flags[prefix+"suite"]
	if !has("text") {
		return c, fail("", "text is missing; expected %s", claimKeys["claim.text"])
	}
	subject := ""
	for _, key := range []string{"benchmark", "class", "suite"} {
		switch {
		case !has(key):
		case subject != "":
			return c, fail(key, "%s stands beside %s; a claim is about one benchmark, one class or the suite", key, subject)
		default:
			subject = key
		}
	}
	if has("metric") && subject != "benchmark" {
		return c, fail("metric", "metric needs a benchmark; write for instance benchmark = \"tile-render\"")
	}
	for _, key := range []string{"before", "after"} {
		from := prefix + key
		if !has(key) {
			from = key
			if at, ok := v.at[key]; ok {
				c.Places[key] = at
			}
		}
		if subject != "" && v.texts[from] == "" {
			return c, fail(subject, "%s is missing; name the profile, once at the top of the file or in this claim", key)
		}
		if key == "before" {
			c.Before = v.texts[from]
		} else {
			c.After = v.texts[from]
		}
	}
	if subject != "" && c.Before == c.After {
		return c, fail("after", "before and after both name %q; a claim needs two profiles", c.Before)
	}
	for _, form := range changeForms {
		key := string(form)
		if !has(key) {
			continue
		}
		if c.Form != "" {
			return c, fail(key, "%s stands beside %s; write a claim for each", key, c.Form)
		}
		c.Form = form
		if f, ok := v.figures[prefix+key]; ok {
			c.Change, c.AtLeast = &f, v.atLeast[prefix+key]
		}
	}
	for key, into := range map[string]**claims.Figure{"from": &c.From, "to": &c.To} {
		if f, ok := v.figures[prefix+key]; ok {
			*into = &f
		}
	}
	c.Steps, c.AverageOf = v.lists[prefix+"steps"], v.lists[prefix+"average-of"]
	return c, v.together(c, subject, fail)
}

// together refuses parts of a claim that do not go together.
func (v *claimValues) together(c claims.Claim, subject string, fail func(key, format string, args ...any) error) error {
	list := ""
	for _, l := range []struct {
		key     string
		figures []claims.Figure
	}{{"steps", c.Steps}, {"average-of", c.AverageOf}} {
		if l.figures == nil {
			continue
		}
		if list != "" {
			return fail(l.key, "%s stands beside %s; write a claim for each", l.key, list)
		}
		list = l.key
		switch {
		case c.Form == "" || c.Form == claims.AsLevel:
			return fail(l.key, "%s needs the percentage that the page makes of it; write it as faster, slower, less-time, more-time, more "+
				"or less", l.key)
		case c.Change.Unit != "%":
			return fail(l.key, "%s are percentages, but %s is in %s; write per cent", l.key, c.Form, excerpt(c.Change.Unit))
		}
		if c.Form == claims.Slower || c.Form == claims.Less || c.Form == claims.LessTime {
			for _, f := range l.figures {
				if f.Value >= 100 {
					return fail(l.key, "%s holds %s; 100 %% less leaves nothing", l.key, f.Text)
				}
			}
		}
	}
	switch {
	case (c.From == nil) != (c.To == nil):
		key := map[bool]string{true: "to", false: "from"}[c.From == nil]
		return fail(key, "from and to go together; write both figures")
	case c.From != nil && c.Form == claims.AsLevel:
		return fail("from", "from and to are for a change; leave them out beside level")
	case c.From != nil && c.From.Unit != "" && c.To.Unit != "" && c.From.Unit != c.To.Unit:
		return fail("to", "to is in %s, but from is in %s; write both in one unit", excerpt(c.To.Unit), excerpt(c.From.Unit))
	case c.From != nil && c.Form == "" && subject != "" && c.From.Value == c.To.Value:
		return fail("to", "from and to are the same; write level = true for no change")
	case subject == "" && c.Form == claims.AsLevel:
		return fail("level", "level can only be held against runs; name a benchmark, a class or suite = true")
	case subject == "" && (c.Form == "" || c.From == nil && list == ""):
		return fail("", "there is nothing to hold the claim against; name a benchmark, a class or suite = true, or the figures behind it: "+
			"from and to, steps or average-of, with the change that the page makes of them")
	case c.Form == "" && c.From == nil:
		return fail("", "the claim states no change; write faster, slower, less-time, more-time, more, less or level")
	}
	if c.From != nil && c.From.Unit == "" {
		c.From.Unit = c.To.Unit
	} else if c.From != nil && c.To.Unit == "" {
		c.To.Unit = c.From.Unit
	}
	return nil
}
