package report

import (
	"fmt"
	"io"

	"github.com/jedib0t/go-pretty/v6/text"

	"tunegate/compare"
)

// VetFormat names the JSON form of a vetting. Its schema is
// schema/vet.schema.json.
const VetFormat = "tunegate-vet-1"

// VetText writes the findings, those that matter most first: the evidence,
// then once for each check why it matters and what to do.
func VetText(w io.Writer, v *compare.Vetting, opt TextOptions) error {
	t := newTerminal(opt)
	for _, grade := range []compare.Grade{compare.GradeStop, compare.GradeLook} {
		var order []string
		by := map[string][]compare.Finding{}
		for _, f := range v.Findings {
			if f.Grade != grade {
				continue
			}
			if by[f.Check] == nil {
				order = append(order, f.Check)
			}
			by[f.Check] = append(by[f.Check], f)
		}
		color := text.Colors{text.Bold, text.FgYellow}
		if grade == compare.GradeStop {
			color = text.Colors{text.Bold, text.FgRed}
		}
		for _, check := range order {
			t.line("%s", t.paint(color, string(grade)+": "+check))
			var same sentences
			for _, f := range by[check] {
				where := Clean(f.Profile)
				if f.Series != "all" {
					where += " " + Clean(f.Series)
				}
				same.add(Clean(f.Evidence), where)
			}
			for _, s := range same.order {
				where := join(same.names[s], 6)
				if n := len(same.names[s]); n == v.Series && n > 2 {
					where = fmt.Sprintf("all %d series", n)
				}
				t.paragraph("  ", "    ", where+": "+s)
			}
			why, do := compare.CheckAdvice(check)
			t.paragraph("  ", "    ", "why: "+why)
			t.paragraph("  ", "    ", "do: "+do)
			t.line("")
		}
	}
	t.line("%s", t.paint(text.Colors{text.Bold}, VetClosing(v)))
	return t.flush(w)
}

// VetClosing is the line to read first.
func VetClosing(v *compare.Vetting) string {
	switch v.Grade {
	case compare.GradeStop:
		return fmt.Sprintf("Stop: a verdict on these %d series would not be safe. Nothing was judged.", v.Series)
	case compare.GradeLook:
		return fmt.Sprintf("Look: %s in %d series to look at before a verdict. Nothing was judged.", plural(len(v.Findings), "finding"), v.Series)
	}
	return fmt.Sprintf("Fine: nothing found in %d series. Nothing was judged.", v.Series)
}

// VetJSON writes the same as JSON.
func VetJSON(w io.Writer, v *compare.Vetting) error {
	type finding struct {
		compare.Finding
		Why string `json:"why"`
		Do  string `json:"do"`
	}
	out := struct {
		Format   string        `json:"format"`
		Grade    compare.Grade `json:"grade"`
		Series   int           `json:"series"`
		Findings []finding     `json:"findings"`
	}{VetFormat, v.Grade, v.Series, []finding{}}
	for _, f := range v.Findings {
		why, do := compare.CheckAdvice(f.Check)
		out.Findings = append(out.Findings, finding{f, why, do})
	}
	return encode(w, out)
}
