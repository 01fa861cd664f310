package report

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/report/doc"
)

// standing is what a badge says: a word for the state, the worst thing, and the change
// that this is about.
type standing struct {
	word, finding, about string
	mark                 badge
	change               *compare.Result // nil for none
}

// outcomeBadges are the marks of a gate's outcomes.
var outcomeBadges = map[gate.Outcome]badge{gate.Failed: {triangleDown, "worse", false}, gate.Undecided: {disc, "open", true},
	gate.Passed: {square, "better", false}}

// GateBadge writes the state of a gate as a small picture, for a page that shows it
// beside other things.
func GateBadge(w io.Writer, p GatePage) error {
	g := p.Gate
	s := standing{outcomeWords(g), gateFinding(g), "What the gate says of a change to a results repository.", outcomeBadges[g.Outcome], nil}
	if reasons := against(g.Reasons); len(reasons) > 0 {
		s.change = reasons[0].Result
	} else if len(g.Judged) == 1 && g.Judged[0].Comparison != nil {
		s.change = comparisonStanding(g.Judged[0].Comparison).change
	}
	return s.svg(w)
}

// Badge writes what a comparison found as such a picture.
func Badge(w io.Writer, c *compare.Comparison) error {
	s := comparisonStanding(c)
	s.about = fmt.Sprintf("What a comparison of %s with %s says.", Clean(c.After), Clean(c.Before))
	return s.svg(w)
}

// comparisonStanding is the largest of the failures, scores before costs. Without one
// it is the change of the suite, else the worst among the scores, and where none has
// changed for sure whether all of them are level.
func comparisonStanding(c *compare.Comparison) standing {
	failed := c.Failures()
	if len(failed) > 1 {
		failed = slices.DeleteFunc(failed, func(r *compare.Result) bool { return r.Parts != nil })
	}
	if len(failed) > 0 {
		worst := slices.MinFunc(failed, func(a, b *compare.Result) int {
			return cmp.Or(slices.Index(verdicts, *a.Verdict)-slices.Index(verdicts, *b.Verdict), cmp.Compare(math.Abs(b.Change), math.Abs(a.Change)))
		})
		text := findingWith(worst, Clean(c.After))
		if more := len(failed) - 1; more > 0 {
			text += fmt.Sprintf(", and %d more", more)
		}
		return standing{word: capital(string(*worst.Verdict)), finding: text, mark: badgeOf(worst), change: worst}
	}
	s := standing{finding: comparisonHeadline(c, c.Before, c.After)}
	judged := slices.DeleteFunc(slices.Clone(c.Results), func(r *compare.Result) bool {
		return r.Role != compare.Score || !r.Named || r.Verdict == nil
	})
	changed := slices.DeleteFunc(slices.Clone(judged), func(r *compare.Result) bool { return !isChange(r) })
	level := !slices.ContainsFunc(judged, func(r *compare.Result) bool { return *r.Verdict != compare.Level })
	switch {
	case c.Suite != nil && isChange(c.Suite.Result):
		s.change = c.Suite.Result
	case len(changed) > 0:
		s.change = slices.MinFunc(changed, func(a, b *compare.Result) int {
			loss := func(r *compare.Result) float64 { return math.Min(r.Change, 0) }
			return cmp.Or(cmp.Compare(loss(a), loss(b)), cmp.Compare(b.Change, a.Change))
		})
	case len(judged) == 0:
		s.word, s.mark = "Not judged", badge{diamond, "muted", true}
	case level:
		s.word, s.mark = "Level", toneBadges[doc.Level]
	default:
		s.word, s.mark = "Not settled", toneBadges[doc.Open]
	}
	if s.change != nil {
		s.word, s.mark = capital(string(*s.change.Verdict)), badgeOf(s.change)
	} else if len(judged) == 1 {
		s.change = judged[0]
	}
	return s
}

func capital(s string) string { return strings.TrimSuffix(sentence(s), ".") }

// maxBadge is how wide the texts of a badge may be, and maxBadgeLines how many lines the
// finding takes. What is cut stands in the title.
const (
	maxBadge      = 440
	maxBadgeLines = 2
)

// svg writes a badge: mark and word above, the change on its strip beside them, and
// the worst thing below.
func (s standing) svg(w io.Writer) error {
	const margin, wordSize, textSize, lineHeight, strip = 12, 15, 12, 16, 120
	lines := wrappedTo(s.finding, maxBadge, textSize, false)
	if len(lines) > maxBadgeLines {
		lines = append(lines[:maxBadgeLines-1], strings.Join(lines[maxBadgeLines-1:], " "))
	}
	widest := 0.0
	for i, l := range lines {
		lines[i] = fitted(l, maxBadge, textSize, false) // a single word, too
		widest = math.Max(widest, textWidth(lines[i], textSize, false))
	}
	word := fitted(s.word, maxBadge-strip-40, wordSize, true)
	above := margin + 22 + textWidth(word, wordSize, true)
	if s.change != nil && s.change.Interval != nil {
		above += 18 + strip
	}
	d := &drawing{width: math.Ceil(math.Max(above, margin+widest) + margin), height: 34 + lineHeight*float64(len(lines))}
	d.box(paint{stroke: "edge", fill: "panel", width: 1}, 0.5, 0.5, d.width-0.5, d.height-0.5)
	d.marks(s.mark.shape, 6, s.mark.paint(), point{margin + 8, 18})
	d.words(margin+22, 23, wordSize, "ink", "start", word).bold = true
	for i, l := range lines {
		d.words(margin, 40+lineHeight*float64(i), textSize, "ink", "start", l)
	}
	if s.change != nil && s.change.Interval != nil {
		drawStrip(d, s.change, axis{a: d.width - margin - strip, b: d.width - margin}, 18)
	}
	var b bytes.Buffer
	b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	d.svg(&b, "badge", s.word+": "+s.finding, s.about, "", "<style>\n"+badgeCSS()+"</style>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// drawStrip draws a change on an axis of its own, no change in its middle, with the
// tolerance behind it.
func drawStrip(d *drawing, r *compare.Result, x axis, y float64) {
	tolerance := 0.0
	if r.Tolerance != nil {
		tolerance = *r.Tolerance
	}
	x.hi = 1.1 * max(math.Abs(r.Interval[0]), math.Abs(r.Interval[1]), math.Abs(r.Change), tolerance, 1e-9)
	x.lo = -x.hi
	if tolerance > 0 {
		d.box(paint{fill: "band"}, x.at(-tolerance), y-10, x.at(tolerance), y+10)
	}
	d.line(paint{stroke: "edge", width: 1}, point{x.a, y}, point{x.b, y})
	d.line(paint{stroke: "edge", width: 1}, point{x.at(0), y - 10}, point{x.at(0), y + 10})
	drawInterval(d, r, x, 1, y)
}

// badgeCSS has the colours that a badge needs in full, as not every program that shows
// pictures knows custom properties.
func badgeCSS() string {
	rules := func(of func(doc.Hue) string) string {
		var b strings.Builder
		for _, name := range doc.HueNames() {
			fmt.Fprintf(&b, ".s-%s{stroke:%[2]s}.f-%[1]s{fill:%[2]s}\n", name, of(doc.Palette[name]))
		}
		return b.String()
	}
	return textCSS + rules(func(h doc.Hue) string { return h.Light }) +
		"@media screen and (prefers-color-scheme:dark){\n" + rules(func(h doc.Hue) string { return h.Dark }) + "}\n"
}
