package report

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

var origin = Origin{Command: "tunegate report factory.csv boost-lift.csv", Version: "v1"}

// A page loads nothing: its only address is the namespace of SVG, no element has
// a source, and the content security policy allows one style, by its hash.
func TestPageNeedsNothingButItself(t *testing.T) {
	for name, page := range map[string]string{
		"comparison": pageOf(t, ComparisonDocument(demoComparison(t), origin)),
		"ladder":     pageOf(t, LadderDocument(demoLadder(t), origin)),
		"gate":       pageOf(t, GateDocument(GatePage{Gate: lift(t, compare.Policy{}, 402), Commands: typed}, origin)),
	} {
		rest := strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, "")
		for _, forbidden := range []string{
			"http:", "https:", "url(", "@import", "<script", "<link", "<img", "<iframe", "<object", " src=", " href=", " style=", " on",
		} {
			if forbidden == " on" { // an event handler, not the word
				if m := regexp.MustCompile(`<[^>]* on[a-z]+=`).FindString(rest); m != "" {
					t.Errorf("%s holds %s", name, m)
				}
			} else if strings.Contains(rest, forbidden) {
				t.Errorf("%s holds %q", name, forbidden)
			}
		}
		style := regexp.MustCompile(`(?s)<style>(.*)</style>`).FindStringSubmatch(page)
		policy := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(page)
		if style == nil || policy == nil {
			t.Fatalf("%s has no style or no policy", name)
		}
		hash := sha256.Sum256([]byte(style[1]))
		want := "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(hash[:]) + "'; base-uri 'none'; form-action 'none'"
		if got := strings.NewReplacer("&#39;", "'", "&#43;", "+").Replace(policy[1]); got != want {
			t.Errorf("%s: the policy is %s, want %s", name, got, want)
		}
	}
}

// The order is: finding, pictures, numbers, method, data, command, caution.
func TestPageOrder(t *testing.T) {
	page := pageOf(t, ComparisonDocument(demoComparison(t), origin))
	checkOrder(t, page,
		"<h1>With boost-lift, tile-render is 2.46\u00a0% faster", "<h2>In short", "<h3>What is settled",
		"<h2>Pictures", "<figcaption>",
		"<h2>All numbers", "<table>",
		"<h2>How this was judged",
		"<h2>About the data", "renderer reported a checksum error",
		"<h2>To make this page again", origin.Command,
		"Caution: ",
	)
}

// Twenty benchmarks with power and heat, eight sessions of five runs a side,
// stay below 1 MB.
func TestPageOfTwentyBenchmarksIsSmall(t *testing.T) {
	units := map[string]string{"score": "s", "power": "W", "temperature": "°C"}
	g := rand.New(rand.NewPCG(1, 1))
	var runs compare.Runs
	for _, profile := range []string{"factory", "boost-lift"} {
		for b := range 20 {
			for session := range 8 {
				for run := range 5 {
					for metric, level := range map[string]float64{"score": 412, "power": 187, "temperature": 78} {
						v := compare.Value{Profile: profile, Benchmark: fmt.Sprintf("tile-render-%d", b), Metric: metric, Unit: units[metric],
							Session: fmt.Sprint(profile, session), Run: fmt.Sprint(run), Value: level * (1 + 0.01*g.NormFloat64())}
						add(t, &runs, v)
					}
				}
			}
		}
	}
	c := compared(t, &runs, [2]string{"factory", "boost-lift"}, compare.Policy{})
	page := pageOf(t, ComparisonDocument(c, origin))
	if len(page) >= 1_000_000 {
		t.Errorf("the page has %d bytes", len(page))
	}
	t.Logf("%d bytes", len(page))
}

// Markup in names is shown as text, on the page and in its pictures, which stay
// well-formed.
func TestHostileNamesOnAPage(t *testing.T) {
	evil := "</svg></style><script>alert(1)</script>]]>\" onload=\"x\x1b[31m\u202e&amp;{{.}}"
	units := map[string]string{"score": "s" + evil, "power": "W"}
	var runs compare.Runs
	for i, profile := range []string{"before" + evil, "after" + evil} {
		for session := range 6 {
			for _, metric := range []string{"score", "power"} {
				v := compare.Value{Profile: profile, Benchmark: "b" + evil, Metric: metric, Unit: units[metric], Better: compare.Lower,
					Session: fmt.Sprint(profile, session), Value: 100 + 5*float64(i) + float64(session), Reason: evil}
				add(t, &runs, v)
			}
		}
	}
	names := [2]string{"before" + evil, "after" + evil}
	c := compared(t, &runs, names, compare.Policy{Source: evil})
	c.Reading = append(c.Reading, Note{Kind: "reading", Text: evil})
	c.SetAside = append(c.SetAside, compare.ExcludedRun{Profile: evil, Benchmark: evil, Session: evil, Run: evil, Reason: evil})
	sides := [][]*compare.Series{runs.Profile(names[0]), runs.Profile(names[1])}
	l, err := ladder.Climb(names[:], sides, nil, compare.Policy{}, compare.Options{Resamples: 1000})
	if err != nil {
		t.Fatal(err)
	}
	for name, page := range map[string]string{
		"comparison": pageOf(t, ComparisonDocument(c, Origin{evil, evil})),
		"ladder":     pageOf(t, LadderDocument(LadderPage{Ladder: l, Commands: typed}, Origin{evil, evil})),
		"gate":       pageOf(t, GateDocument(GatePage{Gate: hostileGate(t, evil), Commands: typed}, Origin{evil, evil})),
	} {
		if n := strings.Count(page, "<style>"); n != 1 || strings.Contains(page, "<script") || strings.Contains(page, `" onload`) {
			t.Errorf("%s: markup of a name is in force", name)
		}
		if strings.ContainsAny(page, "\x1b\u202e") || !strings.Contains(page, "&lt;script&gt;alert(1)") {
			t.Errorf("%s: a name turns text, or is not shown", name)
		}
		if strings.Count(page, "<svg") != strings.Count(page, "</svg>") {
			t.Errorf("%s: %d pictures begin and %d end", name, strings.Count(page, "<svg"), strings.Count(page, "</svg>"))
		}
	}
	for _, p := range append(ComparisonPictures(c.Comparison), LadderPictures(l)...) {
		for _, e := range elements(t, []byte(rendered(t, p.SVG))) {
			if e.kind == "script" {
				t.Errorf("%s holds a script", p.Name)
			}
		}
	}
}

// Extreme data give finite numbers and well-formed pictures.
func TestPageOfAnyComparison(t *testing.T) {
	for name, sides := range map[string][2][]float64{
		"one value":     {{412}, {402}},
		"three":         {{412, 409, 415}, {402, 405, 401}},
		"constant":      {{10, 10, 10, 10}, {10, 10, 10, 10}},
		"constant, two": {{10, 10, 10, 10}, {20, 20, 20, 20}},
		"far apart":     {{1e-6, 2e-6, 3e-6, 4e-6}, {1e6, 2e6, 3e6, 4e6}},
	} {
		for _, unit := range []string{"s", "fps", "°C", "MHz", "W"} {
			if (raceEnabled || testing.Short()) && unit != "s" && unit != "°C" {
				continue
			}
			var runs compare.Runs
			for i, profile := range []string{"factory", "boost-lift"} {
				for _, v := range sides[i] {
					add(t, &runs, compare.Value{Profile: profile, Benchmark: "tile-render", Unit: unit, Value: v})
				}
			}
			c := compared(t, &runs, [2]string{"factory", "boost-lift"}, compare.Policy{})
			page := pageOf(t, ComparisonDocument(c, origin))
			if strings.Contains(page, "NaN") || strings.Contains(page, "Inf") {
				i := max(strings.Index(page, "NaN"), strings.Index(page, "Inf"))
				t.Errorf("%s in %s: %s", name, unit, page[max(0, i-200):i+10])
			}
			for _, p := range ComparisonPictures(c.Comparison) {
				elements(t, []byte(rendered(t, p.SVG)))
				rendered(t, p.PNG)
			}
		}
	}
}
