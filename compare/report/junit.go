package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/gate"
)

type junitSuites struct {
	XMLName  xml.Name     `xml:"testsuites"`
	Name     string       `xml:"name,attr"`
	Tests    int          `xml:"tests,attr"`
	Failures int          `xml:"failures,attr"`
	Suites   []junitSuite `xml:"testsuite"`
}

type junitSuite struct {
	Name     string      `xml:"name,attr"`
	Tests    int         `xml:"tests,attr"`
	Failures int         `xml:"failures,attr"`
	Errors   int         `xml:"errors,attr"`
	Cases    []junitCase `xml:"testcase"`
	Out      string      `xml:"system-out,omitempty"`
}

type junitCase struct {
	Name     string         `xml:"name,attr"`
	Class    string         `xml:"classname,attr"`
	Time     string         `xml:"time,attr"`
	Failures []junitFailure `xml:"failure"`
	Out      string         `xml:"system-out,omitempty"`
}

type junitFailure struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr"`
	Text    string `xml:",chardata"`
}

// JUnit writes a comparison in the XML form that CI systems read: a case a
// metric that decides.
func JUnit(w io.Writer, c *compare.Comparison) error {
	s := junitSuite{Name: Clean(c.Before) + " to " + Clean(c.After), Cases: metricCases(c, c.After, nil), Out: Closing(c)}
	return writeJUnit(w, []junitSuite{s})
}

// GateJUnit writes a gate in the same form: a suite a judged profile, a case a
// metric that decides, and one for what is not about a single metric. What
// asks for more runs is a failure, too, of the type "undecided".
func GateJUnit(w io.Writer, p GatePage) error {
	g := p.Gate
	var suites []junitSuite
	for _, j := range g.Judged {
		byMetric := map[*compare.Result][]junitFailure{}
		cases := map[*compare.Result]bool{} // that metricCases makes
		if j.Comparison != nil {
			for _, r := range j.Comparison.Judged() {
				cases[r] = hasCase(r)
			}
		}
		whole := junitCase{Name: string(j.Question), Class: Clean(j.Profile), Time: "0"}
		for _, r := range against(g.Reasons) {
			switch {
			case r.Profile != j.Profile:
			case cases[r.Result] && len(r.Names) < 2:
				byMetric[r.Result] = append(byMetric[r.Result], p.Commands.failureOf(r))
			default:
				whole.Failures = append(whole.Failures, p.Commands.failureOf(r))
			}
		}
		s := junitSuite{Name: Clean(j.Profile), Cases: []junitCase{whole}}
		if j.Comparison != nil {
			s.Cases = append(s.Cases, metricCases(j.Comparison, j.Profile, byMetric)...)
		}
		s.Out = strings.Join(append([]string{judgedAs(j), blindSpotText(j)}, p.warnings(j)...), "\n")
		suites = append(suites, s)
	}
	for _, r := range against(g.Reasons) { // about no profile that is judged
		if !slices.ContainsFunc(g.Judged, func(j *gate.Judgement) bool { return j.Profile == r.Profile }) {
			name := Clean(subject(r))
			suites = append(suites, junitSuite{Name: name, Cases: []junitCase{
				{Name: r.Kind, Class: name, Time: "0", Failures: []junitFailure{p.Commands.failureOf(r)}}}})
		}
	}
	if len(suites) == 0 {
		suites = []junitSuite{{Name: "nothing to judge", Out: strings.Join(gateNotes(p), "\n")}}
	}
	return writeJUnit(w, suites)
}

// metricCases makes a case of each metric that decides. Without reasons a
// harmful verdict is the only failure.
func metricCases(c *compare.Comparison, class string, reasons map[*compare.Result][]junitFailure) []junitCase {
	var out []junitCase
	for _, r := range c.Judged() {
		if !hasCase(r) {
			continue
		}
		k := junitCase{Name: Clean(r.Name()), Class: Clean(class), Time: "0",
			Out: fmt.Sprintf("%s: %s (%s)", *r.Verdict, signed(r, r.Change), intervalText(r))}
		if s := unsettledText(r); s != "" {
			k.Out += "\n" + s
		}
		k.Failures = append(k.Failures, reasons[r]...)
		if reasons == nil && r.Harmful() {
			k.Failures = []junitFailure{{Message: finding(r), Type: string(*r.Verdict)}}
		}
		out = append(out, k)
	}
	return out
}

func hasCase(r *compare.Result) bool { return r.Decides && r.Verdict != nil }

func (c Commands) failureOf(r gate.Reason) junitFailure {
	f := junitFailure{Message: c.reasonText(r), Type: r.Kind, Text: compare.List(linesOf(r.Rows), 20)}
	if r.Decides == gate.Undecided {
		f.Type = string(gate.Undecided)
	}
	return f
}

func writeJUnit(w io.Writer, suites []junitSuite) error {
	all := junitSuites{Name: "tunegate", Suites: suites}
	for i := range suites {
		s := &suites[i]
		s.Tests = len(s.Cases)
		for k := range s.Cases {
			// One failure a case is what readers of this form expect.
			if f := s.Cases[k].Failures; len(f) > 0 {
				for _, other := range f[1:] {
					f[0].Text = strings.TrimSpace(f[0].Text + "\n" + other.Message)
				}
				s.Cases[k].Failures = f[:1]
				s.Failures++
			}
		}
		all.Tests += s.Tests
		all.Failures += s.Failures
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", "  ")
	if err := e.Encode(all); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

// ClaimsJUnit writes a case a claim. One that is not settled is a failure, too,
// of the type "not settled", and so is a percentage of a page that is in no claim, of
// the type "in no claim".
func ClaimsJUnit(w io.Writer, p ClaimsPage) error {
	c := p.Page
	s := junitSuite{Name: "claims", Out: claimsClosing(p)}
	for _, h := range c.Held {
		k := junitCase{Name: Clean(h.Text), Class: "claims", Time: "0", Out: strings.Join(claimLines(p, h), "\n")}
		if h.Verdict.Fails() || h.Verdict == claims.NotSettled {
			lines := claimLines(p, h)
			message := string(h.Verdict)
			if len(lines) > 0 {
				message += ": " + lines[0]
			}
			k.Failures = []junitFailure{{Message: message, Type: string(h.Verdict), Text: Clean(h.At.String())}}
		}
		s.Cases = append(s.Cases, k)
	}
	for _, page := range p.Coverage {
		for _, o := range page.Open {
			if o.Percent && len(c.Held) > 0 {
				s.Cases = append(s.Cases, junitCase{Name: Clean(o.Around), Class: "page", Time: "0",
					Failures: []junitFailure{{Message: "in no claim: " + Clean(o.Text), Type: "in no claim", Text: Clean(o.At.String())}}})
			}
		}
	}
	return writeJUnit(w, []junitSuite{s})
}
