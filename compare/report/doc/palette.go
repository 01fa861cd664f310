package doc

import (
	"fmt"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"
)

// Hue is one colour in all forms.
type Hue struct {
	Light, Dark string // "#rrggbb" on a light and on a dark ground
	Terminal    text.Colors
}

// Palette gives each meaning its colour, on terminals, pages and pictures: blue
// for better, orange for worse, grey for what is open, and no colour of its own
// for level. Colour says harm or benefit; signs and shapes say the direction.
// Blue, sky blue, vermillion and orange are those of Okabe and Ito, Color
// Universal Design (2008), which colour-blind readers can tell apart; a terminal
// takes the nearest of xterm's 256 that is legible on black and on white.
// TestContrast and TestTerminalContrast hold them to WCAG 2.2.
var Palette = map[string]Hue{
	"panel":  {"#ffffff", "#15191f", nil}, // the ground
	"ink":    {"#1b1f24", "#e8eaed", nil}, // text, and level
	"muted":  {"#59616b", "#a9b1bb", text.Colors{text.Faint}},
	"grid":   {"#dde1e6", "#2d343d", nil},
	"edge":   {"#7a828c", "#7d8690", nil}, // lines that carry meaning
	"band":   {"#f0f3f7", "#232a33", nil}, // the tolerance
	"better": {"#0072b2", "#56b4e9", text.Colors{text.Fg256Color(32)}},
	"worse":  {"#d55e00", "#e69f00", text.Colors{text.Fg256Color(166)}},
	"open":   {"#59616b", "#a9b1bb", text.Colors{text.Fg256Color(244)}},
	"hint":   {"#9a4f7f", "#cc79a7", text.Colors{text.Fg256Color(133)}}, // reddish purple
	"before": {"#59616b", "#a9b1bb", nil},
	"after":  {"#1b1f24", "#e8eaed", nil}, // a profile as such is neither better nor worse
	"link":   {"#005a8c", "#7cc4ee", nil}, // text that stands out
}

// toneHues are the colours of tones; the others have that of the text around
// them.
var toneHues = map[Tone]string{
	Faint: "muted", Unjudged: "muted", Hint: "hint", Open: "open", Undecided: "open", Unsettled: "open",
	BigGain: "better", SmallGain: "better", BigFall: "better", SmallFall: "better", Good: "better",
	BigLoss: "worse", SmallLoss: "worse", BigRise: "worse", SmallRise: "worse", Bad: "worse",
}

// Colour is a tone's colour on a light ground, "#rrggbb"; empty for that of the text
// around it.
func (t Tone) Colour() string { return Palette[toneHues[t]].Light }

// Bold reports whether a tone stands out by its weight, too.
func (t Tone) Bold() bool { return slices.Contains(boldTones, t) }

// boldTones are those that are printed bold.
var boldTones = []Tone{Strong, BigGain, BigLoss, BigRise, BigFall, Good, Bad, Undecided, Unsettled}

// terminalColors are those of a tone on a terminal; none for plain text.
func (t Tone) terminalColors() text.Colors {
	colors := slices.Clone(Palette[toneHues[t]].Terminal)
	if t.Bold() {
		colors = append(text.Colors{text.Bold}, colors...)
	}
	return colors
}

// class is the style's class of a tone; empty for plain text.
func (t Tone) class() string {
	if hue := toneHues[t]; hue != "" {
		return "t-" + hue
	}
	return ""
}

// HueNames lists the names of the palette in a fixed order.
func HueNames() []string {
	var names []string
	for name := range Palette {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// PaletteCSS declares the colours as custom properties: light, dark where the
// reader asks for it, and light again on paper.
func PaletteCSS() string {
	var light, dark strings.Builder
	for _, name := range HueNames() {
		fmt.Fprintf(&light, "--%s:%s;", name, Palette[name].Light)
		fmt.Fprintf(&dark, "--%s:%s;", name, Palette[name].Dark)
	}
	return ":root{" + light.String() + "}\n@media screen and (prefers-color-scheme:dark){:root{" + dark.String() + "}}\n"
}
