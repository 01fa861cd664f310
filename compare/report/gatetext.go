package report

import (
	"fmt"
	"io"
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare/gate"
)

// GateText writes a gate for people: the outcome and the reasons first, then
// each judged profile with its tables.
func GateText(w io.Writer, p GatePage, opt TextOptions) error {
	g := p.Gate
	t := newTerminal(opt)
	color := map[gate.Outcome]text.Colors{
		gate.Passed:    {text.Bold, text.FgGreen},
		gate.Failed:    {text.Bold, text.FgRed},
		gate.Undecided: {text.Bold, text.FgYellow},
	}[g.Outcome]
	for _, l := range strings.Split(text.WrapSoft(GateClosing(g), t.opt.Width), "\n") {
		t.line("%s", t.paint(color, strings.TrimRight(l, " ")))
	}
	t.paragraph("", "  ", fmt.Sprintf("%s %s %s; policy: %s", Clean(g.Base), t.g.arrow, Clean(g.Head), policyWords(g)))
	if reasons := against(g); len(reasons) > 0 {
		t.line("")
		for i, r := range reasons {
			t.paragraph(fmt.Sprintf("%3d. ", i+1), "     ", Clean(r.Profile)+": "+ReasonText(r))
		}
	}
	var spots []string
	for _, j := range g.Judged {
		if s := BlindSpot(j); s != "" {
			spots = append(spots, Clean(j.Profile)+": "+s)
		}
	}
	if len(spots) > 0 {
		t.line("")
		for _, s := range spots {
			t.paragraph("  ", "    ", s)
		}
	}
	if notes := gateNotes(p); len(notes) > 0 {
		t.line("")
		for _, n := range notes {
			t.paragraph("  ", "    ", n)
		}
	}
	for _, j := range g.Judged {
		t.line("")
		t.line("%s", t.paint(text.Colors{text.Bold}, "== "+Clean(j.Profile)+": "+string(j.Outcome)))
		t.paragraph("", "  ", judgedAs(j))
		for _, s := range warnings(g, j) {
			t.paragraph("  ", "    ", "warning: "+s)
		}
		if j.Comparison != nil {
			t.comparison(p.judged(j))
		}
	}
	if gateHazard(g) {
		t.line("")
		t.paragraph("", "", Caution)
	}
	return t.flush(w)
}

func policyWords(g *gate.Gate) string {
	switch g.PolicyOf {
	case "base":
		return Clean(g.PolicyFile) + " of the base"
	case "head":
		return Clean(g.PolicyFile) + " of the head, since the base has none"
	}
	return "none, so the defaults"
}
