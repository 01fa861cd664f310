package intake

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"tunegate/compare/readings"
)

// timeForm is how a log, or a list of runs, writes its times.
type timeForm int

const (
	unknownForm timeForm = iota
	zonedForm            // RFC 3339
	localForm            // date and time without a zone
	clockForm            // time of day alone
	countForm            // a number from some start
)

func (f timeForm) String() string {
	return [...]string{"unknown", "dates with a zone", "dates without a zone", "times of day", "numbers from a start"}[f]
}

// logClock reads the times of one file. The first one sets the form.
type logClock struct {
	form   timeForm
	layout string  // Go's; stated, or one of yearFirst
	unit   float64 // s in 1 of countForm
	comma  bool
	day    int64 // ns of the days begun, for clockForm
	last   int64
	begun  bool
	told   bool // the first time was looked at
}

const hour12 = int64(12 * time.Hour)

var yearFirst = []string{"2006-01-02 15:04:05", "2006-01-02T15:04:05", "2006/01/02 15:04:05"}

// newLogClock takes a form as readings.Rules.TimeForm states it, or none.
func newLogClock(form string, unit float64, comma bool) (*logClock, error) {
	c := &logClock{unit: unit, comma: comma}
	if form == "" {
		return c, nil
	}
	layout, err := layoutOf(form)
	if err != nil {
		return nil, err
	}
	c.layout, c.form = layout, localForm
	if !strings.Contains(layout, "06") {
		c.form = clockForm
	}
	return c, nil
}

// formParts are what a stated form may consist of, longest first.
var formParts = []struct{ part, layout string }{
	{"YYYY", "2006"}, {"YY", "06"}, {"MM", "01"}, {"M", "1"}, {"DD", "02"}, {"D", "2"},
	{"hh", "15"}, {"h", "15"}, {"mm", "04"}, {"ss", "05"}, {"AM", "PM"},
}

// layoutOf turns "DD.MM.YYYY hh:mm:ss" into Go's notation. A fraction of a
// second needs no part of its own.
func layoutOf(form string) (string, error) {
	var b strings.Builder
	seen := map[byte]bool{}
next:
	for rest := form; rest != ""; {
		for _, p := range formParts {
			if strings.HasPrefix(rest, p.part) {
				if seen[p.part[0]] {
					return "", fmt.Errorf("found %s, which has %s twice", excerpt(form), p.part)
				}
				seen[p.part[0]] = true
				b.WriteString(p.layout)
				rest = rest[len(p.part):]
				continue next
			}
		}
		if !strings.ContainsRune(" .,/-:T", rune(rest[0])) {
			return "", fmt.Errorf("found %s, made of something else than YYYY MM DD hh mm ss AM and the characters between them",
				excerpt(form))
		}
		b.WriteByte(rest[0])
		rest = rest[1:]
	}
	layout := b.String()
	if seen['A'] {
		layout = strings.Replace(layout, "15", "03", 1)
		if strings.Contains(form, "h") && !strings.Contains(form, "hh") {
			layout = strings.Replace(layout, "03", "3", 1)
		}
	}
	date := seen['Y'] || seen['M'] || seen['D']
	if !seen['h'] || !seen['m'] || date && !(seen['Y'] && seen['M'] && seen['D']) {
		return "", fmt.Errorf("found %s, which lacks a part of the date or of the time", excerpt(form))
	}
	return layout, nil
}

// parse reads a time as ns: since 1970, since midnight, or since the start that
// numbers count from. Days of clockForm are not counted here.
func (c *logClock) parse(s string) (int64, error) {
	if c.form == unknownForm {
		if err := c.tell(s); err != nil {
			return 0, err
		}
	}
	if !c.told {
		c.told = true
		if _, err := parseTime(s); err == nil { // also where another form is stated
			c.form = zonedForm
		}
	}
	switch {
	case c.form == zonedForm:
		t, err := parseTime(s)
		if err != nil {
			return 0, fmt.Errorf("found the time %s, expected RFC 3339 with a zone as in the rows before, such as 2026-03-01T14:05:00Z",
				excerpt(s))
		}
		return t.UnixNano(), nil
	case c.form == countForm:
		n, err := parseNumber(s, c.comma)
		if err != nil || n.clock {
			return 0, fmt.Errorf("found the time %s, expected a number as in the rows before", excerpt(s))
		}
		if v := n.value * c.unit; math.Abs(v) <= 4e9 {
			return int64(math.Round(v * 1e9)), nil
		}
		return 0, fmt.Errorf("found the time %s, which is more than a century; state its unit in the header, as in time [ms]", excerpt(s))
	case c.form == clockForm && c.layout == "":
		n, err := parseClock(s, true)
		if err != nil || strings.Count(s, ":") != 2 || n.value >= 86_400 {
			return 0, fmt.Errorf("found the time %s, expected a time of day as in the rows before, such as 09:00:00.5", excerpt(s))
		}
		return int64(math.Round(n.value * 1e9)), nil
	}
	t, err := time.Parse(c.layout, s)
	if err != nil {
		example := time.Date(2026, 11, 2, 9, 5, 7, 0, time.UTC).Format(c.layout)
		return 0, fmt.Errorf("found the time %s, expected one like %s", excerpt(s), example)
	}
	if c.form == clockForm {
		return int64(t.Sub(t.Truncate(24 * time.Hour))), nil
	}
	if y := t.Year(); y < 1971 || y > 2261 {
		return 0, fmt.Errorf("found the time %s, expected a year from 1971 to 2261; was the clock set?", excerpt(s))
	}
	return t.UnixNano(), nil
}

// tell finds out the form from a first time.
func (c *logClock) tell(s string) error {
	if _, err := parseTime(s); err == nil {
		c.form = zonedForm
		return nil
	}
	for _, layout := range yearFirst {
		if _, err := time.Parse(layout, s); err == nil {
			c.form, c.layout = localForm, layout
			return nil
		}
	}
	if n, err := parseClock(s, true); err == nil && strings.Count(s, ":") == 2 && n.value < 86_400 {
		c.form = clockForm
		return nil
	}
	if n, err := parseNumber(s, c.comma); err == nil && !n.clock {
		c.form = countForm
		return nil
	}
	if strings.Count(s, ":") >= 1 && strings.ContainsAny(s, "./-") {
		return &LogError{AmbiguousDate, fmt.Errorf("found the time %s, whose day and month cannot be told apart for certain", excerpt(s))}
	}
	return &LogError{UnknownTime, fmt.Errorf(
		"found the time %s, expected 2026-11-02T09:00:00Z, 2026-11-02 09:00:00.25, 09:00:00.5 or a number of seconds", excerpt(s))}
}

// errBack is a step back in time.
type errBack struct{ by int64 }

func (e errBack) Error() string { return "" }

// next reads the time of the next row of a log. Midnight is a step back of more
// than twelve hours in times of day; any other step back is an errBack.
func (c *logClock) next(s string) (int64, error) {
	t, err := c.parse(s)
	if err != nil {
		return 0, err
	}
	t += c.day
	if c.begun && c.form == clockForm && c.last-t > hour12 {
		c.day += 2 * hour12
		t += 2 * hour12
	}
	if c.begun && t < c.last {
		return 0, errBack{c.last - t}
	}
	c.begun, c.last = true, t
	return t, nil
}

// readRunList reads a list of runs: a CSV with the columns benchmark, start
// and end, and perhaps run, session and profile.
func readRunList(src *text, form string) ([]readings.Window, timeForm, error) {
	const expects = "a header with benchmark, start and end, and perhaps run, session, profile and machine"
	src.expects = expects
	t, err := openTable(src, &sink{noted: map[string]bool{}, pool: newPool(), names: newNames(), options: &options{}})
	if err != nil {
		return nil, 0, err
	}
	at := map[string]int{"start": -1, "end": -1}
	for i, name := range t.head {
		key := strings.ToLower(name)
		if old, ok := at[key]; ok {
			if old >= 0 {
				return nil, 0, t.failHead(i, "found the column %s twice", key)
			}
			at[key] = i
			continue
		}
		if c, known := columnNamed(name); name != "" && (!known || c != colBenchmark && c != colRun && c != colSession && c != colProfile &&
			c != colMachine) {
			return nil, 0, t.failHead(i, "found the column %s, expected %s", excerpt(name), expects)
		}
	}
	if at["start"] < 0 || at["end"] < 0 || t.at[colBenchmark] < 0 {
		return nil, 0, t.failHead(0, "found no column benchmark, start or end, expected %s", expects)
	}
	clock, err := newLogClock(form, 1, t.numbers.comma)
	if err != nil {
		return nil, 0, err
	}
	var out []readings.Window
	for {
		if err := t.row(); err != nil {
			if err == io.EOF {
				break
			}
			return nil, 0, err
		}
		w := readings.Window{At: t.place(at["start"])}
		for _, l := range []struct {
			c    column
			into *string
		}{{colBenchmark, &w.Benchmark}, {colRun, &w.Run}, {colSession, &w.Session}, {colProfile, &w.Profile},
			{colMachine, &w.Machine}} {
			if *l.into, err = t.label(l.c); err != nil {
				return nil, 0, err
			}
		}
		if w.Benchmark == "" {
			return nil, 0, t.fail(t.at[colBenchmark], "found no benchmark, expected its name; write it in every row")
		}
		w.StartText = strings.Clone(strings.TrimSpace(t.cells[at["start"]]))
		if w.Start, err = clock.parse(w.StartText); err != nil {
			return nil, 0, t.failTime(at["start"], err)
		}
		if w.End, err = clock.parse(strings.TrimSpace(t.cells[at["end"]])); err != nil {
			return nil, 0, t.failTime(at["end"], err)
		}
		if clock.form == clockForm {
			w.Start += clock.day
			if clock.begun && clock.last-w.Start > hour12 {
				clock.day += 2 * hour12
				w.Start += 2 * hour12
			}
			if w.End += clock.day; w.Start-w.End > hour12 {
				w.End += 2 * hour12
			}
			clock.begun, clock.last = true, w.Start
		}
		if w.End <= w.Start {
			return nil, 0, t.fail(at["end"], "the end is not behind the start; correct one of the two")
		}
		if len(out) == maxWindows {
			return nil, 0, t.fail(0, "found more than %d runs, which is a mistake; split the list", maxWindows)
		}
		out = append(out, w)
	}
	if len(out) == 0 {
		return nil, 0, t.errNoRows()
	}
	return out, clock.form, nil
}

// maxWindows bounds a list of runs.
const maxWindows = 1_000_000
