package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// reportPages writes a page of every kind into a folder and names them.
func reportPages(t *testing.T, folder string) map[string]string {
	t.Helper()
	outsideActions(t)
	demo, err := filepath.Abs("../../fixtures/demo")
	if err != nil {
		t.Fatal(err)
	}
	repository := filepath.Join(folder, "repository")
	if _, err := demoRepository(repository); err != nil {
		t.Fatal(err)
	}
	hostile, many, blocks := filepath.Join(folder, "hostile.csv"), filepath.Join(folder, "many.csv"), filepath.Join(folder, "blocks.csv")
	for name, data := range map[string]string{hostile: hostileRuns, many: manyRuns(), blocks: blockedRuns()} {
		if err := os.WriteFile(name, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	heron := func(profile string) string { return filepath.Join(demo, "ladder", "heron", profile+".csv") }
	pages := map[string]string{}
	for name, args := range map[string][]string{
		"comparison": {filepath.Join(demo, "factory.csv"), filepath.Join(demo, "boost-lift.csv")},
		"ladder": {heron("factory"), heron("cool-curve"), heron("boost-lift"), heron("fixed-all"), heron("fixed-all-tight-ram"),
			"--policy", filepath.Join(demo, "studio.toml"), "--mix", "rendering=70,interactive=30"},
		"gate":    {repository, "--base", "main", "--head", "regression"},
		"typed":   {"--before", "412 409 415 411", "--after", "402 405 401 399", "--unit", "s"},
		"many":    {many, "--before", "factory", "--after", "boost-lift"},
		"blocks":  {blocks, "--before", "factory", "--after", "boost-lift"},
		"hostile": {hostile, "--before", `<script>alert("x")</script>`, "--after", `"><img src=http://127.0.0.1:9/x>`},
	} {
		page := filepath.Join(folder, name+".html")
		var errs bytes.Buffer
		if status := run(append([]string{"tunegate", "report", "--out", page}, args...), strings.NewReader(""), io.Discard, &errs); status != 0 {
			t.Fatalf("%s: exit status %d: %s", name, status, errs.String())
		}
		pages[name] = page
	}
	history := filepath.Join(folder, "history.html")
	var errs bytes.Buffer
	if status := run([]string{"tunegate", "history", repository, "--head", "year", "--profile", "boost-lift", "--write", "html=" + history},
		strings.NewReader(""), io.Discard, &errs); status != 0 {
		t.Fatalf("history: exit status %d: %s", status, errs.String())
	}
	pages["history"] = history
	return pages
}

// hostileRuns names everything in ways that would act on a page.
const hostileRuns = "profile,benchmark,metric,unit,session,value,valid,reason\n" +
	`"<script>alert(""x"")</script>",</svg><script>alert(1)</script>,score,s,<b>1</b>,10,,` + "\n" +
	`"<script>alert(""x"")</script>",</svg><script>alert(1)</script>,score,s,2,11,,` + "\n" +
	`"<script>alert(""x"")</script>",</svg><script>alert(1)</script>,score,s,3,10.5,,` + "\n" +
	`"<script>alert(""x"")</script>",</svg><script>alert(1)</script>,score,s,4,10.7,,` + "\n" +
	`"<script>alert(""x"")</script>",</svg><script>alert(1)</script>,score,s,4,9,no,<style>*{display:none}</style>` + "\n" +
	`"""><img src=http://127.0.0.1:9/x>",</svg><script>alert(1)</script>,score,s,5,9,,` + "\n" +
	`"""><img src=http://127.0.0.1:9/x>",</svg><script>alert(1)</script>,score,s,6,9.1,,` + "\n" +
	`"""><img src=http://127.0.0.1:9/x>",</svg><script>alert(1)</script>,score,s,]]>,9.2,,` + "\n" +
	`"""><img src=http://127.0.0.1:9/x>",</svg><script>alert(1)</script>,score,s,8,9.3,,` + "\n"

// manyRuns are a thousand runs a side, with names longer than a telephone is
// wide.
func manyRuns() string {
	var b strings.Builder
	b.WriteString("profile,benchmark,unit,value\n")
	g := rand.New(rand.NewPCG(7, 7))
	for profile, level := range map[string]float64{"factory": 412, "boost-lift": 402} {
		for range 1000 {
			fmt.Fprintf(&b, "%s,tile-render of the whole exhibition film in full length and in all its languages,s,%.3f\n", profile,
				level*(1+0.02*g.NormFloat64()))
		}
	}
	return b.String()
}

// blockedRuns are four blocks that hold each profile twice, three runs each.
func blockedRuns() string {
	var b strings.Builder
	b.WriteString("profile,benchmark,unit,block,session,value\n")
	g := rand.New(rand.NewPCG(8, 8))
	for block := range 4 {
		for spell, profile := range []string{"factory", "boost-lift", "boost-lift", "factory"} {
			level := 412 * (1 + 0.005*g.NormFloat64())
			for range 3 {
				fmt.Fprintf(&b, "%s,tile-render,s,block %d,%d.%d,%.2f\n", profile, block+1, block+1, spell+1, level*(1+0.001*g.NormFloat64()))
			}
		}
	}
	return b.String()
}

// TestPagesInBrowser opens a page of every kind in a real browser. TUNEGATE_SHOTS
// names a folder for what it looks like.
func TestPagesInBrowser(t *testing.T) {
	b := startBrowser(t)
	pages := reportPages(t, t.TempDir())
	shots := os.Getenv("TUNEGATE_SHOTS")
	for name, file := range pages {
		address := (&url.URL{Scheme: "file", Path: filepath.ToSlash(file)}).String()
		for _, width := range []int{375, 768, 1440} {
			t.Run(fmt.Sprint(name, " at ", width), func(t *testing.T) {
				b.t = t
				b.open(address, width)
				b.checkQuiet(address)
				b.checkLayout(width, false)
				for _, dark := range []bool{false, true} {
					if b.dark(dark); shots != "" {
						b.save(filepath.Join(shots, fmt.Sprintf("%s-%d-%s.png", name, width, map[bool]string{false: "light", true: "dark"}[dark])), false)
					}
					b.checkGround(dark)
				}
				b.dark(false)
			})
		}
		t.Run(name+" for a screen reader", func(t *testing.T) {
			b.t = t
			b.open(address, 1440)
			b.checkAccessible()
		})
		if shots != "" {
			b.t = t
			b.save(filepath.Join(shots, name+".pdf"), true)
		}
	}
}

// paperWidth is the width of a page of A4 between the margins of the style sheet,
// 210 - 2 x 14 mm, in CSS pixels.
const paperWidth = 688

// TestPagesInBrowserWithWideFont opens the pages where DejaVu Sans is the only
// font, the widest that is common: no text leaves its picture. TUNEGATE_SHOTS names
// a folder for what it looks like.
func TestPagesInBrowserWithWideFont(t *testing.T) {
	fonts := onlyDejaVu(t)
	b := startBrowser(t, "FONTCONFIG_FILE="+fonts)
	shots := os.Getenv("TUNEGATE_SHOTS")
	for name, file := range reportPages(t, t.TempDir()) {
		address := (&url.URL{Scheme: "file", Path: filepath.ToSlash(file)}).String()
		for _, width := range []int{375, 768, 1440, paperWidth} {
			paper := width == paperWidth
			place := map[bool]string{false: fmt.Sprint(width), true: "paper"}[paper]
			t.Run(name+" at "+place, func(t *testing.T) {
				b.t = t
				b.paper(paper)
				b.open(address, width)
				b.checkLayout(width, paper)
				if used := b.fontsOfPictures(); used != "DejaVu Sans" {
					t.Errorf("text is drawn with %q", used)
				}
				if shots != "" {
					b.save(filepath.Join(shots, "wide-font-"+name+"-"+place+".png"), false)
				}
			})
		}
		b.t = t
		b.paper(false)
		if shots != "" {
			b.save(filepath.Join(shots, "wide-font-"+name+".pdf"), true)
		}
	}
}

// onlyDejaVu writes a configuration of fonts that holds DejaVu Sans alone, or skips
// where that is not installed.
func onlyDejaVu(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	for _, file := range []string{"DejaVuSans.ttf", "DejaVuSans-Bold.ttf"} {
		var data []byte
		for _, place := range []string{"truetype/dejavu", "dejavu-sans-fonts", "dejavu", "TTF"} {
			if data == nil {
				data, _ = os.ReadFile(filepath.Join("/usr/share/fonts", place, file))
			}
		}
		if data == nil {
			t.Skip("pages are opened with a wide font only where DejaVu Sans is installed (Debian: fonts-dejavu-core)")
		}
		if err := os.WriteFile(filepath.Join(folder, file), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	config := filepath.Join(folder, "fonts.conf")
	text := "<?xml version=\"1.0\"?><!DOCTYPE fontconfig SYSTEM \"fonts.dtd\"><fontconfig><dir>" + folder + "</dir><cachedir>" +
		filepath.Join(folder, "cache") + "</cachedir></fontconfig>"
	if err := os.WriteFile(config, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return config
}

// checkQuiet: nothing but the page itself was asked for, and nothing complained
// of.
func (b *browser) checkQuiet(address string) {
	b.t.Helper()
	for _, m := range b.heard {
		switch m.Method {
		case "Network.requestWillBeSent":
			var p struct {
				Request struct {
					URL string `json:"url"`
				} `json:"request"`
			}
			json.Unmarshal(m.Params, &p)
			if p.Request.URL != address {
				b.t.Errorf("the page asks for %s", p.Request.URL)
			}
		case "Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Page.javascriptDialogOpening":
			b.t.Errorf("%s: %s", m.Method, m.Params)
		}
	}
}

// checkLayout: every picture that is shown has a size and lies inside the page,
// every text within its picture, and nothing has to be scrolled sideways. A table
// may be wider than paper: the page is then printed smaller.
func (b *browser) checkLayout(width int, paper bool) {
	b.t.Helper()
	var found struct {
		Scroll, Window, Pictures, Styled int
		Wrong                            []string
	}
	b.ask(`(() => {
		const out = {Scroll: document.documentElement.scrollWidth, Window: window.innerWidth,
			Pictures: 0, Styled: document.styleSheets.length, Wrong: []};
		for (const svg of document.querySelectorAll("svg")) {
			const box = svg.getBoundingClientRect();
			if (getComputedStyle(svg).display === "none") continue;
			out.Pictures++;
			if (!(box.width > 50 && box.height > 50)) out.Wrong.push(svg.id + " is " + box.width + " by " + box.height);
			if (box.left < 0 || box.right > window.innerWidth + 0.5) out.Wrong.push(svg.id + " reaches from " + box.left + " to " + box.right);
			for (const text of svg.querySelectorAll("text")) {
				const t = text.getBoundingClientRect();
				if (t.left < box.left - 1 || t.right > box.right + 1 || t.top < box.top - 2 || t.bottom > box.bottom + 2) {
					out.Wrong.push(svg.id + " cuts " + text.textContent);
				}
				if (parseFloat(getComputedStyle(text).fontSize) * box.width / svg.viewBox.baseVal.width < 10.5) {
					out.Wrong.push(svg.id + " writes too small: " + text.textContent);
				}
			}
		}
		for (const e of document.querySelectorAll("h1,h2,h3,p,li,figcaption,dd,.scroll")) {
			const box = e.getBoundingClientRect();
			if (box.right > window.innerWidth + 0.5) out.Wrong.push(e.tagName + " reaches to " + box.right + ": " + e.textContent.slice(0, 60));
		}
		return out;
	})()`, &found)
	if !paper && found.Scroll > found.Window || found.Window != width {
		b.t.Errorf("the page is %d wide in a window of %d", found.Scroll, found.Window)
	}
	if found.Pictures == 0 || found.Styled != 1 {
		b.t.Errorf("%d pictures are shown, and %d styles are in force", found.Pictures, found.Styled)
	}
	for _, w := range found.Wrong {
		b.t.Error(w)
	}
}

// fontsOfPictures names the fonts of the first text of the first picture that is
// shown.
func (b *browser) fontsOfPictures() string {
	b.t.Helper()
	var found bool
	b.ask(`(() => {
		const text = [...document.querySelectorAll("svg text")].find(text => text.getBoundingClientRect().width > 0);
		if (text) text.id = "first-text";
		return !!text;
	})()`, &found)
	if !found {
		return ""
	}
	for _, domain := range []string{"DOM", "CSS"} {
		b.call(domain+".enable", nil, nil)
	}
	var document struct{ Root struct{ NodeID int } }
	b.call("DOM.getDocument", nil, &document)
	var element struct{ NodeID int }
	b.call("DOM.querySelector", map[string]any{"nodeId": document.Root.NodeID, "selector": "#first-text"}, &element)
	var used struct{ Fonts []struct{ FamilyName string } }
	b.call("CSS.getPlatformFontsForNode", map[string]any{"nodeId": element.NodeID}, &used)
	var names []string
	for _, f := range used.Fonts {
		names = append(names, f.FamilyName)
	}
	return strings.Join(names, ", ")
}

// checkGround: the page follows the reader's choice of light or dark.
func (b *browser) checkGround(dark bool) {
	b.t.Helper()
	var ground string
	b.ask(`getComputedStyle(document.body).backgroundColor`, &ground)
	if want := map[bool]string{false: "rgb(255, 255, 255)", true: "rgb(21, 25, 31)"}[dark]; ground != want {
		b.t.Errorf("the ground is %s, want %s", ground, want)
	}
}

// checkAccessible: headings, tables and described pictures are there for who
// does not see the page.
func (b *browser) checkAccessible() {
	b.t.Helper()
	var tree struct {
		Nodes []struct {
			Ignored     bool
			Role        struct{ Value string }
			Name        struct{ Value string }
			Description struct{ Value string }
		}
	}
	b.call("Accessibility.getFullAXTree", nil, &tree)
	count := map[string]int{}
	for _, n := range tree.Nodes {
		if n.Ignored {
			continue
		}
		count[n.Role.Value]++
		switch n.Role.Value {
		case "image", "img", "graphics-document":
			if n.Name.Value == "" || n.Description.Value == "" {
				b.t.Errorf("a picture named %q is described as %q", n.Name.Value, n.Description.Value)
			}
		case "heading":
			if n.Name.Value == "" {
				b.t.Error("a heading says nothing")
			}
		}
	}
	pictures := count["image"] + count["img"] + count["graphics-document"]
	if count["heading"] < 5 || count["table"] < 1 || count["columnheader"] < 3 || count["rowheader"] < 1 || pictures < 1 ||
		count["main"] != 1 {
		b.t.Errorf("a screen reader finds %v", count)
	}
	var headings string
	b.ask(`[...document.querySelectorAll("h1,h2,h3")].map(h => h.tagName[1]).join("")`, &headings)
	if strings.Count(headings, "1") != 1 || headings[0] != '1' || strings.Contains(headings, "13") {
		b.t.Errorf("levels of headings: %s", headings)
	}
}
