package intake

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tunegate/compare/claims"
)

// Pages as readers see them, and where a number of each stands: counted by hand.
func TestPage(t *testing.T) {
	for _, tt := range []struct{ name, data, want string }{
		{"page.html", "<!doctype html><title>46&nbsp;% faster</title>\n<style>p { width: 50% }</style><script>x = '77 %'</script>\n" +
			"<!-- 88 % --><p>Fast &amp; <b>4,6</b>&#8201;% quieter,\n  and 9 W\n more<br>at 3 %</p>" +
			"<p hidden>12 %<table><tr><td>250<td> W</table><img alt='gain of\n 30 %'><meta name=description content='saves 5 %'>",
			"46\u00a0% faster @1:23\n" +
				"Fast & 4,6\u2009% quieter, and 9 W more at 3 % @3:31 4:7 5:13\n" +
				"12 % @5:30\n250 W @5:49\ngain of 30 % @5:66\nsaves 5 % @6:8"},
		{"page.md", "# boost-lift\nTiles render **2.5** % faster\nand <b>46</b>\n% in `games`.\n\n- 250 W\n- 30 %\n\n| a | 12 % |\n| b_c | 7 % |",
			"Tiles render 2.5 % faster and 46 % in games. @2:16 3:8\n- 250 W @6:3\n- 30 % @7:3\n| a | 12 % | @9:7\n| b_c | 7 % | @10:9"},
		{"page.txt", "4 % here\r\nand there 5\r\n%", "4 % here and there 5 % @1:1 2:11"},
		{"empty.html", "", ""},
	} {
		passages, err := Page([]byte(tt.data), tt.name)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
		}
		var lines []string
		for _, p := range passages {
			places := ""
			for _, n := range claims.NumbersIn(p.Text) {
				if n.Unit != "" {
					at := p.At(n.Start)
					places += fmt.Sprintf(" %d:%d", at.Line, at.Column)
				}
			}
			if places != "" {
				lines = append(lines, strings.TrimSpace(p.Text)+" @"+places[1:])
			}
		}
		if diff := cmp.Diff(tt.want, strings.Join(lines, "\n")); diff != "" {
			t.Errorf("%s: %s", tt.name, diff)
		}
	}
	for name, data := range map[string]string{"utf16.html": "\xff\xfe<", "zero.txt": "a\x00b", "big.md": strings.Repeat("a", maxPage+1)} {
		if _, err := Page([]byte(data), name); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever a page holds, it is read without a panic, and each number stands in the
// file where its place says, but for entities and attributes.
func TestAnyPage(t *testing.T) {
	pieces := []string{"<p>", "</p>", "<b>", "<script>", "</script>", "<!--", "-->", "&nbsp;", "&#8201;", "&", "<", "\n", " ", "46 %", "2,5",
		"%", "twice", "**", "#", "|", "- ", "é", "\u2009", "5 to 6 °C", "<img alt='3 %'>", "−7", "°", "1.2.3", "ten per cent"}
	rapid.Check(t, func(t *rapid.T) {
		data := strings.Join(rapid.SliceOf(rapid.SampledFrom(pieces)).Draw(t, "pieces"), "")
		name := rapid.SampledFrom([]string{"p.html", "p.md", "p.txt"}).Draw(t, "name")
		passages, err := Page([]byte(data), name)
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(data, "\n")
		for _, p := range passages {
			for _, n := range claims.NumbersIn(p.Text) {
				at := p.At(n.Start)
				if at.Line < 1 || at.Line > len(lines) || at.Column < 1 || at.Column > len([]rune(lines[at.Line-1])) {
					t.Fatalf("%q of %q stands at %v", n.Text, data, at)
				}
				first := string([]rune(lines[at.Line-1])[at.Column-1])
				if first != "<" && !strings.HasPrefix(n.Text, first) {
					t.Fatalf("%q of %q stands at %v, at %q", n.Text, data, at, first)
				}
			}
		}
	})
}
