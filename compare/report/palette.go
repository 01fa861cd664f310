package report

import (
	"fmt"
	"slices"
	"strings"
)

// palette gives each name its colour on a light and on a dark ground. Blue,
// vermillion, bluish green, sky blue and orange are those of Okabe and Ito,
// Color Universal Design (2008), which colour-blind readers can tell apart;
// TestContrast holds the pairs to WCAG 2.2.
var palette = map[string][2]string{
	"panel":  {"#ffffff", "#15191f"}, // the ground
	"ink":    {"#1b1f24", "#e8eaed"}, // text
	"muted":  {"#59616b", "#a9b1bb"}, // text of less weight
	"grid":   {"#dde1e6", "#2d343d"},
	"edge":   {"#7a828c", "#7d8690"}, // lines that carry meaning
	"band":   {"#f0f3f7", "#232a33"}, // the tolerance
	"gain":   {"#0072b2", "#56b4e9"}, // blue, sky blue
	"loss":   {"#d55e00", "#e69f00"}, // vermillion, orange
	"level":  {"#009e73", "#009e73"}, // bluish green
	"noise":  {"#59616b", "#a9b1bb"},
	"before": {"#59616b", "#a9b1bb"},
	"after":  {"#0072b2", "#56b4e9"},
	"link":   {"#005a8c", "#7cc4ee"}, // text that stands out
}

// paletteNames lists the names in a fixed order.
func paletteNames() []string {
	var names []string
	for name := range palette {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// paletteCSS declares the colours as custom properties: light, dark where the
// reader asks for it, and light again on paper.
func paletteCSS() string {
	list := func(ground int) string {
		var b strings.Builder
		for _, name := range paletteNames() {
			fmt.Fprintf(&b, "--%s:%s;", name, palette[name][ground])
		}
		return b.String()
	}
	return ":root{" + list(0) + "}\n@media screen and (prefers-color-scheme:dark){:root{" + list(1) + "}}\n"
}

// pictureCSS gives the parts of pictures their colours.
func pictureCSS() string {
	var b strings.Builder
	// With geometricPrecision a letter is as wide as its font says, and not rounded
	// to whole pixels.
	b.WriteString("svg text{font-family:\"Segoe UI\",\"Helvetica Neue\",Arial,\"Liberation Sans\",sans-serif;" +
		"text-rendering:geometricPrecision}\nsvg .b{font-weight:600}\n")
	for _, name := range paletteNames() {
		fmt.Fprintf(&b, ".s-%s{stroke:var(--%s)}.f-%s{fill:var(--%s)}\n", name, name, name, name)
	}
	return b.String()
}
