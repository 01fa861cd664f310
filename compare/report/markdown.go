package report

import (
	"fmt"
	"io"
	"strings"

	"tunegate/compare/gate"
	"tunegate/compare/report/doc"
)

// Markdown writes a comparison for a page or a comment.
func Markdown(w io.Writer, c ComparisonPage) error {
	return doc.Markdown(w, ComparisonDocument(c, Origin{}))
}

// GateMarkdown writes a gate for a pull-request comment or a step summary:
// outcome and reasons first, the tables folded away.
func GateMarkdown(w io.Writer, p GatePage) error {
	g := p.Gate
	m := &markdown{}
	sign := map[gate.Outcome]string{gate.Passed: "✔", gate.Failed: "✘", gate.Undecided: "…"}[g.Outcome]
	m.line("## %s %s", sign, escape(GateClosing(g)))
	m.line("")
	m.line("%s → %s; policy: %s", escape(g.Base), escape(g.Head), escape(policyWords(g)))
	if reasons := against(g); len(reasons) > 0 {
		m.line("")
		for i, r := range reasons {
			if i == mostReasons {
				m.line("1. and %d more", len(reasons)-i)
				break
			}
			m.line("1. **%s**: %s", escape(r.Profile), escape(ReasonText(r)))
		}
	}
	var notes []string
	for _, j := range g.Judged {
		if s := BlindSpot(j); s != "" {
			notes = append(notes, j.Profile+": "+s)
		}
	}
	m.bullets(append(notes, gateNotes(p)...))
	for _, j := range g.Judged {
		m.line("")
		m.line("### %s: %s", escape(j.Profile), escape(string(j.Outcome)))
		m.line("")
		m.line("%s", escape(judgedAs(j)))
		m.bullets(prefixed("warning: ", warnings(g, j)))
		if j.Comparison == nil {
			continue
		}
		m.line("")
		m.line("<details><summary>%s</summary>", html(plural(len(j.Comparison.Results), "metric")))
		m.comparison(p.judged(j))
		m.line("")
		m.line("</details>")
	}
	out, tail := m.b.String(), ""
	if gateHazard(g) {
		tail = "\n> " + escape(Caution) + "\n"
	}
	if len(out) > mostMarkdown { // what a pull-request comment takes
		cut := strings.LastIndex(out[:mostMarkdown], "\n### ")
		if cut < 0 {
			cut = strings.LastIndex(out[:mostMarkdown], "\n")
		}
		out = out[:cut] + "\n\nThe rest is too long for this page; the text and JSON forms have all of it.\n"
	}
	_, err := io.WriteString(w, out+tail)
	return err
}

const (
	mostReasons  = 50
	mostMarkdown = 60_000
)

type markdown struct{ b strings.Builder }

func (m *markdown) line(format string, args ...any) { fmt.Fprintf(&m.b, format+"\n", args...) }

func (m *markdown) bullets(lines []string) {
	if len(lines) == 0 {
		return
	}
	m.line("")
	for _, l := range lines {
		m.line("- %s", escape(l))
	}
}

func prefixed(prefix string, lines []string) []string {
	out := make([]string, len(lines))
	for i, l := range lines {
		out[i] = prefix + l
	}
	return out
}

// comparison writes the tables, what is not settled, and the notes.
func (m *markdown) comparison(p ComparisonPage) {
	c := p.Comparison
	for _, b := range blocksOf(c) {
		if b.title != "" {
			m.line("")
			m.line("%s", escape(b.title))
		}
		m.line("")
		m.line("| benchmark | verdict | change | %s | before | after | compared |", escape(intervalHead(c)))
		m.line("|---|---|--:|---|--:|--:|---|")
		for _, r := range b.results {
			verdict := "not judged"
			if r.Verdict != nil {
				verdict = unicodeGlyphs.signs[*r.Verdict] + " " + string(*r.Verdict)
			}
			change := signed(r, r.Change)
			if s := asMeasured(r); s != "" {
				change += ", " + s
			}
			m.line("| %s | %s | %s | %s | %s | %s | %s |", escape(r.Name()), escape(verdict), escape(change), escape(intervalText(r)),
				escape(median(r, r.Before.Side)), escape(median(r, r.After.Side)), escape(counts(r)))
		}
	}
	lines, _ := openLines(p)
	m.bullets(append(lines, Notes(p)...))
}

// escape makes any text harmless in the middle of a Markdown line: what could
// begin markup, a tag, an entity, a link or a mention.
func escape(s string) string {
	return markdownEscapes.Replace(Clean(s))
}

var markdownEscapes = strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "|", `\|`, "~", `\~`, "$", `\$`, "#", `\#`,
	"<", "&lt;", ">", "&gt;", "&", "&amp;", "://", `\://`, "www.", `www\.`,
	"@", "＠") // no backslash keeps a page from calling somebody

// html escapes text that stands inside a tag.
func html(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(Clean(s))
}
