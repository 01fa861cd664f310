package doc

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// What begins markup in GitHub's Markdown (its specification, "GitHub Flavored
// Markdown Spec") must be escaped by a backslash, and what begins HTML or an
// entity must be an entity.
func TestEscape(t *testing.T) {
	for in, want := range map[string]string{
		"tile-render":             "tile-render",
		"+2.46 % (a to b); 5 °C":  "+2.46 % (a to b); 5 °C",
		"a|b":                     `a\|b`,
		"`rm -rf`":                "\\`rm -rf\\`",
		"**bold** _it_ ~~no~~":    `\*\*bold\*\* \_it\_ \~\~no\~\~`,
		"[link](x) ![img](y)":     `\[link\](x) !\[img\](y)`,
		"<b>&amp;</b>":            "&lt;b&gt;&amp;amp;&lt;/b&gt;",
		"<!-- hidden -->":         "&lt;!-- hidden --&gt;",
		`C:\new\table`:            `C:\\new\\table`,
		"https://evil.example":    `https\://evil.example`,
		"www.evil.example":        `www\.evil.example`,
		"@everyone me@a.example":  "＠everyone me＠a.example",
		"#1 $x$":                  `\#1 \$x\$`,
		"one\ntwo\r\nthree\tx":    "onetwothreex",
		"\x1b[2J\x00\u202e\u200b": `\[2J`,
		"a\u2028b\u2029c\u0085d":  "abcd",
	} {
		if d := cmp.Diff(want, Escape(in)); d != "" {
			t.Errorf("%q: %s", in, d)
		}
	}
}
