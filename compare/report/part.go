package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"

	"tunegate/compare"
)

// Part writes a part of a comparison, a metric a line, for intake.Part to read.
func Part(w io.Writer, p *compare.Part) error {
	head := *p
	head.Metrics = []compare.PartMetric{}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(struct {
		Format string `json:"format"`
		compare.Part
	}{compare.PartFormat, head}); err != nil {
		return err
	}
	b.Truncate(b.Len() - len("]}\n"))
	for i := range p.Metrics {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('\n')
		if err := e.Encode(&p.Metrics[i]); err != nil {
			return err
		}
		b.Truncate(b.Len() - 1)
	}
	b.WriteString("\n]}\n")
	_, err := io.WriteString(w, calmJSON(b.String()))
	return err
}

// PartText says what a part is, for people.
func PartText(w io.Writer, p *compare.Part, opt TextOptions) error {
	t := newTerminal(opt)
	t.paragraph("", "", fmt.Sprintf("Part of %s %s %s: %s measured, nothing judged. tunegate join judges all parts together.",
		Clean(p.Terms.Before), t.g.arrow, Clean(p.Terms.After), plural(p.Measured(), "metric")))
	return t.flush(w)
}
