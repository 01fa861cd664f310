package doc

import (
	"fmt"
	"math"
	"testing"
)

// luminance is the relative luminance of WCAG 2.2 (its glossary, with the
// threshold 0.04045 of IEC 61966-2-1).
func luminance(hex string) float64 {
	var rgb [3]int
	if n, _ := fmt.Sscanf(hex, "#%02x%02x%02x", &rgb[0], &rgb[1], &rgb[2]); n != 3 {
		return math.NaN()
	}
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		c := float64(rgb[i]) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

// contrast is the contrast ratio of WCAG 2.2: (L1 + 0.05) / (L2 + 0.05).
func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// Black on white is 21 to 1 by definition. #767676 is the lightest grey
// that reaches 4.5 to 1 on white (common practice, no source).
func TestContrastFormula(t *testing.T) {
	if c := contrast("#000000", "#ffffff"); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white is %v", c)
	}
	if a, b := contrast("#767676", "#ffffff"), contrast("#777777", "#ffffff"); a < 4.5 || b >= 4.5 {
		t.Errorf("#767676 has %v, #777777 has %v", a, b)
	}
}

// on is the colour of a name on a light ground (0) or a dark one (1).
func on(name string, ground int) string {
	return [2]string{Palette[name].Light, Palette[name].Dark}[ground]
}

// WCAG 2.2 level AA: text 4.5 to 1 (1.4.3), parts of pictures that carry meaning
// 3 to 1 (1.4.11), on a light and on a dark ground, and on the band.
func TestContrast(t *testing.T) {
	for ground, name := range []string{"light", "dark"} {
		for _, behind := range []string{"panel", "band"} {
			for _, text := range []string{"ink", "muted", "link"} {
				if c := contrast(on(text, ground), on(behind, ground)); c < 4.5 {
					t.Errorf("%s text on %s, %s: %.2f to 1, want 4.5", text, behind, name, c)
				}
			}
			for _, mark := range []string{"better", "worse", "open", "before", "after", "edge"} {
				if c := contrast(on(mark, ground), on(behind, ground)); c < 3 {
					t.Errorf("%s on %s, %s: %.2f to 1, want 3", mark, behind, name, c)
				}
			}
		}
	}
}

// The hues are those of Okabe and Ito, Color Universal Design (2008), as R has
// them: palette.colors(palette = "Okabe-Ito") in R 4.2.2.
func TestPaletteIsOkabeAndIto(t *testing.T) {
	published := map[string]string{
		"orange": "#e69f00", "sky blue": "#56b4e9", "blue": "#0072b2", "vermillion": "#d55e00",
	}
	for name, hues := range map[string][2]string{
		"better": {"blue", "sky blue"},
		"worse":  {"vermillion", "orange"},
	} {
		for ground, hue := range hues {
			if on(name, ground) != published[hue] {
				t.Errorf("%s is %s, want %s, %s", name, on(name, ground), hue, published[hue])
			}
		}
	}
}

// A terminal's ground is black or white: on both, the verdicts' colours have 3 to
// 1, with sign and word beside them. Colours 16 to 231 of xterm are a cube of the
// six steps 0, 95, 135, 175, 215, 255, and 232 to 255 the greys 8, 18, ... 238
// (xterm's 256colres.pl, from memory).
func TestTerminalContrast(t *testing.T) {
	steps := []int{0, 95, 135, 175, 215, 255}
	for _, name := range []string{"better", "worse", "open"} {
		var n int
		if _, err := fmt.Sscanf(Palette[name].Terminal.EscapeSeq(), "\x1b[38;5;%dm", &n); err != nil {
			t.Fatalf("%s: %q", name, Palette[name].Terminal.EscapeSeq())
		}
		grey := 8 + 10*(n-232)
		hex := fmt.Sprintf("#%02x%02x%02x", grey, grey, grey)
		if n < 232 {
			hex = fmt.Sprintf("#%02x%02x%02x", steps[(n-16)/36], steps[(n-16)/6%6], steps[(n-16)%6])
		}
		for _, ground := range []string{"#000000", "#ffffff"} {
			if c := contrast(hex, ground); c < 3 {
				t.Errorf("%s, %s on %s: %.2f to 1, want 3", name, hex, ground, c)
			}
		}
	}
}

// The sign of a tone says its direction, its colour whether that is better, and its
// word both.
func TestTonesOfCosts(t *testing.T) {
	for _, c := range []struct {
		tone        Tone
		sign, plain string
		hue         string
	}{
		{BigGain, "▲", "uplift", "better"}, {SmallGain, "△", "slight gain", "better"}, {BigLoss, "▼", "regression", "worse"},
		{SmallLoss, "▽", "slight loss", "worse"}, {BigRise, "▲", "rise", "worse"}, {SmallRise, "△", "slight rise", "worse"},
		{BigFall, "▼", "fall", "better"}, {SmallFall, "▽", "slight fall", "better"}, {Level, "=", "level", ""}, {Open, "?", "noise", "open"},
		{Good, "✔", "passed", "better"}, {Bad, "✘", "FAILED", "worse"}, {Undecided, "…", "undecided", "open"},
	} {
		if c.tone.Sign() != c.sign || plainGlyphs.mark(c.tone) != c.plain || toneHues[c.tone] != c.hue {
			t.Errorf("%q, %q in %q, want %q, %q in %q", c.tone.Sign(), plainGlyphs.mark(c.tone), toneHues[c.tone], c.sign, c.plain, c.hue)
		}
	}
}
