package doc

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// spanOf is a change with an interval in per cent, and a tolerance of 0.5 %.
func spanOf(change, lo, hi float64) Span {
	return Span{At: change / 100, Ends: &[2]float64{lo / 100, hi / 100}, Tolerance: 0.005}
}

// drawn is a strip in ASCII. It fails unless the strip in Unicode is the same,
// character by character.
func drawn(t testing.TB, s Span, reach float64, width int) string {
	t.Helper()
	join := func(g glyphs) string {
		left, mid, right := strip(s, reach, width, g)
		return left + mid + right
	}
	plain, rich := join(plainGlyphs), join(unicodeGlyphs)
	u, p := unicodeGlyphs, plainGlyphs
	same := strings.NewReplacer(u.track, p.track, u.zero, p.zero, u.crossed, p.crossed, u.tolerance, p.tolerance, u.line, p.line,
		u.dashed, p.dashed, u.left, p.left, u.right, p.right, u.point, p.point, u.cutLeft, p.cutLeft, u.cutRight, p.cutRight).Replace(rich)
	if same != plain {
		t.Errorf("%s and %s differ", plain, rich)
	}
	return plain
}

func TestStrip(t *testing.T) {
	ranged := spanOf(1, 0, 0)
	ranged.Ends, ranged.Range = &[2]float64{-0.01, 0.03}, true
	bare := spanOf(-2, 0, 0)
	bare.Ends = nil
	narrow := spanOf(0, 0, 0)
	narrow.Tolerance = 0
	for _, c := range []struct {
		name  string
		span  Span
		reach float64
		want  string // 21 columns, 5 % to a side: one column is 0.5 %
	}{
		{"a gain beyond the tolerance", spanOf(2.5, 1.5, 3.5), 0.05, ".........:|:.[=#=]..."},
		{"a loss", spanOf(-2.5, -3.5, -1.5), 0.05, "...[=#=].:|:........."},
		{"zero within the interval", spanOf(1, -1, 3), 0.05, "........[=+=#===]...."},
		{"an end on zero", spanOf(1, 0, 2), 0.05, ".........:[=#=]......"},
		{"the estimate on zero", spanOf(0, -1, 1), 0.05, "........[=#=]........"},
		{"cut on the right", spanOf(2, -1, 9), 0.05, "........[=+===#=====>"},
		{"cut on the left", spanOf(-2, -9, 1), 0.05, "<=====#===+=]........"},
		{"cut on both sides", spanOf(0, -9, 9), 0.05, "<=========#=========>"},
		{"all beyond the right end", spanOf(8, 7, 9), 0.05, ".........:|:........>"},
		{"all beyond the left end", spanOf(-8, -9, -7), 0.05, "<........:|:........."},
		{"an end exactly on the scale's", spanOf(3, 1, 5), 0.05, ".........:|:[===#===]"},
		{"next to nothing", spanOf(0.1, 0.05, 0.15), 0.05, ".........:#:........."},
		{"a range where there is no interval", ranged, 0.05, "........[-+-#---]...."},
		{"neither", bare, 0.05, "......#..:|:........."},
		{"no tolerance", narrow, 0.05, "..........#.........."},
		{"a tolerance beyond the scale", spanOf(0.1, 0.05, 0.15), 0.004, "..........|[=#]......"},
	} {
		if got := drawn(t, c.span, c.reach, 21); got != c.want {
			t.Errorf("%s:\n%s\n%s", c.name, got, c.want)
		}
	}
}

// mirrorOf is the mirror image of a strip in ASCII.
func mirrorOf(s string) string {
	b := []byte(s)
	slices.Reverse(b)
	return strings.NewReplacer("[", "]", "]", "[", "<", ">", ">", "<").Replace(string(b))
}

// A strip is as wide as asked and has its zero in the middle column. The strip of
// the negated change is its mirror image.
func TestStripIsSymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := 2*rapid.IntRange(6, 30).Draw(t, "half width") + 1
		reach := rapid.SampledFrom([]float64{0.01, 0.02, 0.05, 0.08, 0.15, 2}).Draw(t, "reach")
		end := rapid.IntRange(-40, 40)
		var at []float64
		for range 3 {
			at = append(at, float64(end.Draw(t, "end"))/20*reach)
		}
		slices.Sort(at)
		r := spanOf(100*at[1], 100*at[0], 100*at[2])
		tolerance := float64(rapid.IntRange(0, 30).Draw(t, "tolerance")) / 20 * reach
		r.Tolerance = tolerance
		join := func(s Span) string {
			left, mid, right := strip(s, reach, width, plainGlyphs)
			return left + mid + right
		}
		s := join(r)
		if len(s) != width {
			t.Fatalf("%q is %d wide, want %d", s, len(s), width)
		}
		if c := s[width/2]; !strings.ContainsRune("|+#[]", rune(c)) {
			t.Fatalf("%q has no zero in its middle", s)
		}
		m := spanOf(-100*at[1], -100*at[2], -100*at[0])
		m.Tolerance = tolerance
		if got := join(m); got != mirrorOf(s) {
			t.Fatalf("%q turns into %q", s, got)
		}
	})
}

// The scale of a table reaches to the next round number above every interval and
// the tolerance. A few intervals more than four times as wide as the median one
// are cut off.
func TestReach(t *testing.T) {
	for _, c := range []struct {
		name string
		ends []float64 // per cent
		want float64
	}{
		{"one", []float64{2.9}, 0.03},
		{"the widest", []float64{2.9, 1, 4.3}, 0.05},
		{"exactly round", []float64{5}, 0.05},
		{"just above", []float64{5.01}, 0.06},
		{"narrower than the tolerance", []float64{0.1}, 0.008}, // 1.5 times 0.5 %, rounded up
		{"one is far wider", []float64{1, 1, 1, 50}, 0.04},
		{"most are wide", []float64{1, 40, 50, 45}, 0.5},
	} {
		var rs []Span
		for _, end := range c.ends {
			rs = append(rs, spanOf(0, -end, end/2))
		}
		if got := Reach(rs); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	none := spanOf(0, 0, 0)
	none.Ends, none.Tolerance = nil, 0
	if got := Reach([]Span{none}); got != 1 {
		t.Errorf("nothing to show: %v", got)
	}
	infinite := spanOf(0, 0, 0)
	infinite.Ends = &[2]float64{math.Inf(-1), math.Inf(1)}
	if got := Reach([]Span{infinite, spanOf(0, -1, 1)}); math.IsInf(got, 0) || got < 0.01 {
		t.Errorf("an infinite end: %v", got)
	}
	for v := 1e-6; v < 1e6; v *= 1.07 {
		n := niceAbove(v)
		if n < v*(1-1e-9) || n > 2*v {
			t.Errorf("above %v: %v", v, n)
		}
		if again := niceAbove(n); math.Abs(again-n) > 1e-9*n {
			t.Errorf("%v is round, but %v is above it", n, again)
		}
	}
}

// The head of the strips has both ends, and a zero over the middle column.
func TestScaleHead(t *testing.T) {
	for _, c := range []struct {
		scale float64 // as it is shown
		width int
		want  string
	}{
		{5, 13, "-5    0    +5"},
		{1.5, 13, "-1.5  0  +1.5"},
		{200, 13, "-200  0  +200"},
		{0.04, 13, "-0.04 0 +0.04"},
		{8, 15, "-8     0     +8"},
		{0.5, 21, "-0.5      0      +0.5"},
	} {
		got := scaleHead(c.scale, c.width)
		if got != c.want {
			t.Errorf("%v in %d columns: %q, want %q", c.scale, c.width, got, c.want)
		}
		if strings.IndexByte(strings.TrimLeft(got, "-0123456789."), '0') >= 0 && got[c.width/2] != '0' {
			t.Errorf("%q: the zero is not in the middle", got)
		}
	}
	for _, scale := range []float64{0.01, 0.015, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.1, 1, 10, 0.001} {
		for width := 13; width <= 61; width += 2 {
			if got := scaleHead(100*scale, width); len(got) != width && got != strings.Repeat(" ", width/2)+"0" {
				t.Errorf("%v in %d columns: %q", scale, width, got)
			}
		}
	}
}
