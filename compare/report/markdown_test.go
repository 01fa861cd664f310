package report

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/gate"

	"tunegate/compare/report/doc"
)

// A page with a hostile name equals the page with a harmless name, apart from the
// name.
func TestGateMarkdownIsHarmless(t *testing.T) {
	page := func(name string) string {
		g := hostileGate(t, name)
		return markdownOf(t, GateDocument(GatePage{Gate: g, Commands: typed}, Origin{}))
	}
	const tame = "a" // sorts like the hostile name
	hostile := page(hostileName)
	quoted := doc.Escape(fmt.Sprintf("%q", Clean(hostileName+" 4"))) // as the baseline is printed
	tamed := strings.ReplaceAll(strings.ReplaceAll(hostile, quoted, `"`+tame+` 4"`), doc.Escape(hostileName), tame)
	if d := cmp.Diff(page(tame), tamed); d != "" {
		t.Errorf("-tame +hostile\n%s", d)
	}
	for _, part := range []string{"\x1b", "\r", "\x00", "\u202e", "<img", "@everyone", "f](", "a|b"} {
		if strings.Contains(hostile, part) {
			t.Errorf("the page holds %q", part)
		}
	}
}

// structure lists the kinds of lines of a Markdown page: lists, tables with their
// number of cells, headings, quotes, folded parts. Equal neighbours count once.
func structure(page string) []string {
	cell := regexp.MustCompile(`(^|[^\\])\|`)
	var out []string
	for _, l := range strings.Split(page, "\n") {
		kind := ""
		switch {
		case l == "":
			continue
		case strings.HasPrefix(l, "|"):
			kind = fmt.Sprintf("row of %d", len(cell.FindAllString(l, -1))-1)
		case strings.HasPrefix(l, "1. **"):
			kind = "reason"
		default:
			kind, _, _ = strings.Cut(l, " ")
			if !strings.ContainsAny(kind[:1], "#->*<") {
				kind = "text"
			}
		}
		if len(out) == 0 || out[len(out)-1] != kind {
			out = append(out, kind)
		}
	}
	return out
}

func TestGateMarkdown(t *testing.T) {
	g := lift(t, compare.Policy{FewestRuns: 7}, 424)
	page := markdownOf(t, GateDocument(GatePage{Gate: g, Commands: typed}, Origin{}))
	want := []string{
		"##", "text", "reason", "-",
		"###", "text", "<details><summary>2", "text", "row of 7", "text", "row of 7", "</details>", ">",
	}
	if d := cmp.Diff(want, structure(page)); d != "" {
		t.Errorf("-want +got\n%s\n%s", d, page)
	}
	checkContains(t, page,
		"## ✘ Failed: tile-render is 2.83 % slower with boost-lift (2.64 to 3.02 %), and 2 more reasons\n\n"+
			"main (1a2b3c4) → the working tree; policy: tunegate.toml of the base\n",
		"1. **boost-lift**: regression: tile-render is 2.83 % slower (2.64 to 3.02 %)\n",
		"- boost-lift: tile-render: losses under ",
		"\n### boost-lift: failed\n\nnew profile, judged against factory (lift: auto before, two notches now)\n",
		"<details><summary>2 metrics</summary>\n\n", // without the blank line GitHub shows no table
		"\n\n</details>\n",
		"| tile-render | ▼ regression | -2.83 %, 2.91 % more time | -3.02 to -2.64 % | 412.00 s | 424.00 s | 6 and 6 sessions |\n",
		"> "+caution(mainsHazard),
	)
	for outcome, sign := range map[gate.Outcome]string{gate.Passed: "## ✔ Passed", gate.Undecided: "## … Undecided"} {
		policy := compare.Policy{}
		if outcome == gate.Undecided {
			policy.WidestBlindSpot = number(0.01)
		}
		page := markdownOf(t, GateDocument(GatePage{Gate: lift(t, policy, 402), Commands: typed}, Origin{}))
		if !strings.HasPrefix(page, sign) {
			t.Errorf("%s begins with %q", outcome, page[:30])
		}
	}
}

func TestMarkdownOfAComparison(t *testing.T) {
	p := GatePage{Gate: lift(t, compare.Policy{}, 402), Commands: typed}
	c := p.judged(p.Judged[0])
	page := markdownOf(t, ComparisonDocument(c, Origin{}))
	want := []string{"##", "**Uplift:", "text", "row of 7", "text", "row of 7", ">"}
	if d := cmp.Diff(want, structure(page)); d != "" {
		t.Errorf("-want +got\n%s\n%s", d, page)
	}
	if !strings.HasPrefix(page, "## factory → boost-lift\n\n**Uplift: tile-render is 2.49 % faster") {
		t.Errorf("begins with %q", page[:80])
	}
}

// A pull-request comment takes 65,536 characters (GitHub's limit, from
// memory). Parts that do not fit are left out whole, and the page says so. The
// caution is never left out.
func TestGateMarkdownFitsAComment(t *testing.T) {
	var rows [][]compare.Value
	for i := range 12 {
		name := fmt.Sprintf("scene-%03d %s", i, strings.Repeat("very ", 20))
		rows = append(rows, gateRows("x", name, "score", "s", 412)[:3]) // three rows and a tolerance of 0 keep the test fast
	}
	old := gateProfile("factory", "auto", append(rows, gateRows("x", "tile-render", "power", "W", 187))...)
	head := []*gate.Profile{old}
	for i := range 30 {
		p := gateProfile(fmt.Sprintf("boost-%02d", i), "two notches", append(rows, gateRows("x", "tile-render", "power", "W", 187))...)
		p.Baseline = "factory"
		head = append(head, p)
	}
	policy := compare.Policy{FewestRuns: 7, Entries: []compare.Entry{{Benchmark: "*", Tolerance: number(0)}}} // hundreds of reasons
	g := gateOf(t, gateState("main", &policy, old), gateState("head", &policy, head...))
	page := markdownOf(t, GateDocument(GatePage{Gate: g, Commands: typed}, Origin{}))
	if len(page) > 65_536 || len(page) < 30_000 {
		t.Errorf("%d bytes", len(page))
	}
	cut := fmt.Sprintf("\n1. and %d more\n", len(g.Reasons)-maxReasons)
	if n := strings.Count(page, "\n1. **"); n != maxReasons || !strings.Contains(page, cut) {
		t.Errorf("%d reasons of %d are listed", n, len(g.Reasons))
	}
	headings, opened, closed := strings.Count(page, "\n### "), strings.Count(page, "<details>"), strings.Count(page, "</details>")
	if opened != closed || headings >= 30 || headings == 0 {
		t.Errorf("%d headings, %d opened, %d closed", headings, opened, closed)
	}
	if !strings.Contains(page, "The rest is too long for this page") || !strings.HasSuffix(page, "> "+caution(mainsHazard)+"\n") {
		t.Errorf("ends with %q", page[len(page)-300:])
	}
}
