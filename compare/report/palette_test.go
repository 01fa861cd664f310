package report

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

// WCAG 2.2 level AA: text 4.5 to 1 (1.4.3), parts of pictures that carry meaning
// 3 to 1 (1.4.11), on a light and on a dark ground, and on the band.
func TestContrast(t *testing.T) {
	for ground, name := range []string{"light", "dark"} {
		for _, behind := range []string{"panel", "band"} {
			for _, text := range []string{"ink", "muted", "link"} {
				if c := contrast(palette[text][ground], palette[behind][ground]); c < 4.5 {
					t.Errorf("%s text on %s, %s: %.2f to 1, want 4.5", text, behind, name, c)
				}
			}
			for _, mark := range []string{"gain", "loss", "level", "noise", "before", "after", "edge"} {
				if c := contrast(palette[mark][ground], palette[behind][ground]); c < 3 {
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
		"orange": "#e69f00", "sky blue": "#56b4e9", "bluish green": "#009e73", "blue": "#0072b2", "vermillion": "#d55e00",
	}
	for name, hues := range map[string][2]string{
		"gain":  {"blue", "sky blue"},
		"loss":  {"vermillion", "orange"},
		"level": {"bluish green", "bluish green"},
		"after": {"blue", "sky blue"},
	} {
		for ground, hue := range hues {
			if palette[name][ground] != published[hue] {
				t.Errorf("%s is %s, want %s, %s", name, palette[name][ground], hue, published[hue])
			}
		}
	}
}

func rgb(r, g, b int) string { return fmt.Sprintf("#%02x%02x%02x", r, g, b) }

// Without colour, two verdicts differ by shape or by being hollow, and two
// profiles by their look.
func TestVerdictsDifferWithoutColour(t *testing.T) {
	seen := map[string]string{}
	for v, b := range verdictBadges {
		key := fmt.Sprint(b.shape, b.hollow)
		if other := seen[key]; other != "" {
			t.Errorf("%s and %s look alike in grey", v, other)
		}
		seen[key] = string(v)
	}
	for i := range looks {
		for k := range i {
			if looks[i] == looks[k] {
				t.Errorf("profiles %d and %d look alike", k+1, i+1)
			}
		}
	}
}
