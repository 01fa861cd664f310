package report

import (
	"fmt"
	"math"
	"os"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Every text of the demo's pictures lies within its SVG at each width in the widest
// common font. The widths of words in DejaVu Sans were measured in a browser.
func TestTextStaysInsideInTheWidestFont(t *testing.T) {
	for _, x := range []struct {
		text string
		bold bool
		want float64 // at 100 pixels
	}{
		{"tile-render power", false, 863.2},
		{"tile-render temperature", false, 1182.7},
		{"together", true, 492.0},
		{"+12.34 %", true, 535.1},
		{"largest, twelve, tilt", true, 1082.9},
		{"température", false, 628.6},
		{"Жёлтые щёки", false, 744.8},
	} {
		if got := textWidth(x.text, 100, x.bold); got < x.want-0.1 || got > 1.2*x.want {
			t.Errorf("%q is measured as %.1f, and is %.1f", x.text, got, x.want)
		}
	}
	pictures := map[string][]*Picture{
		"comparison": ComparisonPictures(demoComparison(t).Comparison),
		"ladder":     LadderPictures(demoLadder(t).Ladder),
	}
	texts := 0
	for name, all := range pictures {
		for _, p := range all {
			for i, part := range p.parts {
				for _, width := range []float64{wideWidth, halfWidth, narrowWidth} {
					if width == wideWidth == (p.columns > 1) {
						continue // parts side by side are never as wide, others always
					}
					for _, item := range part.draw(width).items {
						if item.text == "" {
							continue
						}
						texts++
						left := item.at[0].x
						w := textWidth(item.text, item.size, item.bold)
						switch item.anchor {
						case "middle":
							left -= w / 2
						case "end":
							left -= w
						}
						if left < -0.1 || left+w > width+0.1 {
							t.Errorf("%s, %s %d at %v: %q reaches from %.1f to %.1f", name, p.Name, i, width, item.text, left, left+w)
						}
					}
				}
			}
		}
	}
	if texts < 500 {
		t.Errorf("%d texts were looked at", texts)
	}
}

// The widths of letters are those of the fonts: the wider of DejaVu Sans, where it
// is installed, and of the fonts of a PNG.
func TestAdvancesAreThoseOfTheFonts(t *testing.T) {
	for bold, file := range map[bool]string{false: "DejaVuSans.ttf", true: "DejaVuSans-Bold.ttf"} {
		t.Run(fmt.Sprint("bold ", bold), func(t *testing.T) {
			fonts := []*sfnt.Font{faces()[bold]}
			installed := false
			if data, err := os.ReadFile("/usr/share/fonts/truetype/dejavu/" + file); err == nil {
				f, err := sfnt.Parse(data)
				if err != nil {
					t.Fatal(err)
				}
				fonts, installed = append(fonts, f), true
			}
			var buffer sfnt.Buffer
			for r := ' '; r <= '~'; r++ {
				widest := 0.0
				for _, f := range fonts {
					glyph, err := f.GlyphIndex(&buffer, r)
					if err != nil {
						t.Fatal(err)
					}
					advance, err := f.GlyphAdvance(&buffer, glyph, fixed.I(emUnits), font.HintingNone)
					if err != nil {
						t.Fatal(err)
					}
					widest = math.Max(widest, float64(advance)/64)
				}
				got := float64(advances[bold][r-' '])
				if got < widest-1 || installed && got > widest+1 {
					t.Errorf("%q is %v wide in the fonts, and %v in the table", r, widest, got)
				}
			}
		})
	}
}

// Cut and wrapped text keeps to its width, in any script.
func TestFittedKeepsToTheWidth(t *testing.T) {
	for _, s := range []string{
		"tttttttttttttttttttttt", "<script>alert(1)</script>", "température de la carte mère", "Жёлтые щёки", "数値の比較",
	} {
		for _, bold := range []bool{false, true} {
			for width := 20.0; width < 300; width += 7 {
				if got := fitted(s, width, 13, bold); textWidth(got, 13, bold) > width && len([]rune(got)) > 2 {
					t.Errorf("%q is %.1f wide, and has %v", got, textWidth(got, 13, bold), width)
				}
			}
		}
	}
}
