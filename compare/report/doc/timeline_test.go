package doc

import (
	"bytes"
	"strings"
	"testing"
)

// late is a document with a timeline whose rows have signs before their outcome.
func late() Document {
	return Document{Heading: Line{Text: "x over 3"}, Sections: []Section{
		{Kind: Findings, Blocks: []Block{
			Timeline{Title: "One beside the first", Head: "at", Count: "runs", Interval: "95 % interval", End: "came out",
				Factor: 100, Rows: []Moment{
					{Name: "a1", When: "2026-01-01", Count: "6", Change: "first", Span: &Span{}, First: true,
						Signs: []Tone{Good}, End: Line{"well", Good}, Below: "set: b|c"},
					{Mark: Unjudged, Name: "b2", Count: "2", Change: "+1 %", Ends: "0 to 2 %", Ranged: "90 %",
						Span:  &Span{At: 0.01, Ends: &[2]float64{0, 0.02}, Range: true},
						Signs: []Tone{BigGain, BigLoss}, End: Line{Tone: BigLoss}},
					{Name: "c3", Count: "-", End: Line{Text: "-"}},
				}},
			Timeline{Head: "name", Count: "runs", Interval: "95 % interval", End: "found", Factor: 1, Rows: []Moment{
				{Name: "y", Count: "6", Change: "+2 W", Ends: "+1 to +3 W"},
			}},
		}},
		{Kind: Findings, Title: "Where", Blocks: []Block{List{Title: "b2, after a1", Items: []Item{{Line: Line{"y is more", Unjudged}}}}}},
		{Kind: Notes, Title: "Notes", Blocks: []Block{List{Items: Lines([]string{"a note"})}}},
	}}
}

// The last column has its signs in the characters of the form. A good outcome is
// coloured, but not bold as a heading is.
func TestTimelineOnATerminal(t *testing.T) {
	var out bytes.Buffer
	if err := Text(&out, late(), TextOptions{Width: 72}); err != nil {
		t.Fatal(err)
	}
	want := `x over 3

One beside the first
   at  date        runs  change  95 % interval  -2    0    +2  came out
   a1  2026-01-01     6   first                 ······◆······  ✔ well
     set: b|c
|  b2                 2    +1 %  0 to 2 % *     ······┣╌╌◆╌╌┫  ▲ ▼
   c3                 -                                        -
  * too few for an interval: the range of the differences
`
	if !strings.HasPrefix(out.String(), want) {
		t.Errorf("%s\nwant\n%s", out.String(), want)
	}
	out.Reset()
	if err := Text(&out, late(), TextOptions{Width: 72, Plain: true, Color: true}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"\x1b[38;5;32mwell\x1b[0m", "\x1b[1;38;5;166muplift, regression\x1b[0m", "\x1b[2mnot judged\x1b[0m  b2"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is not in\n%q", want, out.String())
		}
	}
}

// A table leaves out empty columns. Sections after findings with a heading have a
// heading, too.
func TestTimelineInMarkdown(t *testing.T) {
	var out bytes.Buffer
	if err := Markdown(&out, late()); err != nil {
		t.Fatal(err)
	}
	want := `## x over 3

One beside the first

| | at | date | what | runs | change | 95 % interval | came out |
|---|---|---|---|--:|--:|---|---|
|  | a1 | 2026-01-01 | set: b\|c | 6 | first |  | ✔ well |
| \| | b2 |  |  | 2 | +1 % | 0 to 2 % (range, 90 %) | ▲ ▼ |
|  | c3 |  |  | - |  |  | - |

| name | runs | change | 95 % interval | found |
|---|--:|--:|---|---|
| y | 6 | +2 W | +1 to +3 W |  |

### Where

b2, after a1

- \| y is more

### Notes

- a note
`
	if out.String() != want {
		t.Errorf("%s\nwant\n%s", out.String(), want)
	}
}

// On a page the first and the last cell hold the signs as text.
func TestTimelineOnAPage(t *testing.T) {
	d := late()
	d.Sections[0].Kind = Numbers
	var out bytes.Buffer
	if err := Page(&out, d, ""); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`<th scope="row">| b2</th>`, "<td>▲ ▼</td></tr>", "<td>✔ well</td></tr>",
		"<td>set: b|c<small>2026-01-01</small></td>", "<td>0 to 2\u00a0% (range, 90\u00a0%)</td>",
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is not in\n%s", want, out.String()[strings.Index(out.String(), "<main>"):])
		}
	}
}
