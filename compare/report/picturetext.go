package report

import (
	"math"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
)

// faces are the fonts of a PNG. Both are part of the program.
var faces = sync.OnceValue(func() map[bool]*opentype.Font {
	out := map[bool]*opentype.Font{}
	for bold, data := range map[bool][]byte{false: goregular.TTF, true: gobold.TTF} {
		f, err := opentype.Parse(data)
		if err != nil {
			panic(err) // the font is compiled in
		}
		out[bold] = f
	}
	return out
})

var measures = sync.OnceValue(func() map[bool]font.Face {
	out := map[bool]font.Face{}
	for bold, f := range faces() {
		face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 100, DPI: 72})
		if err != nil {
			panic(err)
		}
		out[bold] = face
	}
	return out
})

var measuring sync.Mutex // a face may be used by one at a time

// An SVG is drawn with the sans-serif font of the reader. The widest common one is
// DejaVu Sans; in it a word is up to a quarter wider than in the fonts of a PNG,
// and a letter up to 1.9 times. So text takes the wider of both, letter by letter.
// advances holds that for ASCII from the space on, in emUnits, as read from the
// advance widths in the font files (DejaVu 2.37). Kerning only brings letters
// closer, so the sum is a bound.
var advances = map[bool][95]uint16{
	false: {
		651, 821, 942, 1716, 1303, 1946, 1597, 563, 799, 799, 1196, 1716, 651, 1196, 651, 690, 1303, 1303, 1303,
		1303, 1303, 1303, 1303, 1303, 1303, 1303, 690, 690, 1716, 1716, 1716, 1139, 2079, 1401, 1405, 1479, 1577, 1366,
		1251, 1593, 1540, 817, 1015, 1366, 1141, 1767, 1532, 1612, 1366, 1612, 1479, 1366, 1251, 1499, 1401, 2025, 1403,
		1366, 1403, 799, 690, 799, 1716, 1139, 1024, 1255, 1300, 1126, 1300, 1260, 721, 1300, 1298, 569, 569, 1186,
		569, 1995, 1298, 1253, 1300, 1300, 842, 1067, 803, 1298, 1212, 1675, 1212, 1212, 1075, 1303, 690, 1303, 1716,
	},
	true: {
		713, 934, 1067, 1716, 1425, 2052, 1786, 627, 936, 936, 1143, 1716, 778, 1196, 778, 748, 1425, 1425, 1425,
		1425, 1425, 1425, 1425, 1425, 1425, 1425, 819, 819, 1716, 1716, 1716, 1251, 2048, 1585, 1561, 1503, 1700, 1399,
		1399, 1681, 1714, 928, 1139, 1587, 1305, 2038, 1714, 1741, 1501, 1741, 1577, 1475, 1397, 1663, 1585, 2259, 1579,
		1483, 1485, 936, 748, 936, 1716, 1139, 1024, 1382, 1466, 1214, 1466, 1389, 891, 1466, 1458, 702, 702, 1362,
		702, 2134, 1458, 1407, 1466, 1466, 1010, 1219, 979, 1458, 1335, 1892, 1321, 1335, 1192, 1458, 748, 1458, 1716,
	},
}

// emUnits is the size of a font in the units of advances.
const emUnits = 2048

// otherScripts is how much wider than in the PNG's font a letter beyond ASCII may
// be: the widest accented, Greek and Cyrillic letters of DejaVu Sans, but for a
// few that are wider than an em.
const otherScripts = 1.45

// textWidth is how wide text can be in the fonts of readers, in pixels.
func textWidth(s string, size float64, bold bool) float64 {
	width := 0.0 // in em
	for _, r := range s {
		if r >= ' ' && r <= '~' {
			width += float64(advances[bold][r-' ']) / emUnits
		} else {
			width += otherWidth(r, bold)
		}
	}
	return width * size
}

// otherWidth is the width of a letter beyond ASCII, in em.
func otherWidth(r rune, bold bool) float64 {
	measuring.Lock()
	defer measuring.Unlock()
	own := 1.0 // at least, where the PNG's font lacks the letter
	if advance, ok := measures()[bold].GlyphAdvance(r); ok {
		own = float64(advance) / 64 / 100
	}
	return math.Max(own, math.Min(otherScripts*own, 1))
}

// fitted cuts text to a width.
func fitted(s string, width, size float64, bold bool) string {
	if textWidth(s, size, bold) <= width {
		return s
	}
	letters := []rune(s)
	for len(letters) > 1 && textWidth(string(letters)+"…", size, bold) > width {
		letters = letters[:len(letters)-1]
	}
	return strings.TrimRight(string(letters), " ") + "…"
}

// wrappedTo breaks text at spaces into lines of a width.
func wrappedTo(s string, width, size float64, bold bool) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		longer := strings.TrimLeft(line+" "+word, " ")
		if line != "" && textWidth(longer, size, bold) > width {
			lines = append(lines, line)
			longer = word
		}
		line = longer
	}
	return append(lines, fitted(line, width, size, bold))
}
