package doc

// Assessment is a quoted sentence with the verdict on it.
type Assessment struct {
	Verdict Line
	Quote   string
	Points  []string // why, and what follows
	Detail  string   // for experts
}

func (Assessment) isBlock() {}

func (t *terminal) assessment(a Assessment) {
	t.line("")
	t.painted(a.Verdict.Tone, t.g.signed(a.Verdict.Tone, a.Verdict.Text))
	t.paragraph("  ", "  ", `"`+a.Quote+`"`)
	points := a.Points
	if t.opt.Detail && a.Detail != "" {
		points = append(points[:len(points):len(points)], a.Detail)
	}
	for _, s := range points {
		t.paragraph("    ", "      ", s)
	}
}

func (m *markdown) assessment(a Assessment) {
	m.line("")
	m.line("%s **%s**: “%s”", unicodeGlyphs.signs[a.Verdict.Tone], Escape(a.Verdict.Text), Escape(a.Quote))
	m.points("", Lines(a.Points))
}

// assessment is a list headed by the sentence.
func (p *page) assessment(to *pageSection, a Assessment) {
	out := pageList{Title: clean(a.Verdict.Tone.Sign()+" "+a.Verdict.Text+": “"+a.Quote+"”", "→")}
	for _, s := range a.Points {
		out.Lines = append(out.Lines, clean(s, "→"))
	}
	to.Lists = append(to.Lists, out)
}
