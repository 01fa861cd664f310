package report

import (
	"fmt"
	"io"
	"net/url"
	"strings"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// The wire structs of SARIF 2.1.0 (OASIS, errata 01), as far as a gate uses it.

const sarifSchema = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"

type sarifLog struct {
	Schema  string     `json:"$schema"`
	Version string     `json:"version"`
	Runs    []sarifRun `json:"runs"`
}

type sarifRun struct {
	Tool        sarifTool            `json:"tool"`
	Invocations []sarifInvocation    `json:"invocations"`
	Bases       map[string]sarifBase `json:"originalUriBaseIds"`
	Results     []sarifResult        `json:"results"`
}

type sarifTool struct {
	Driver sarifDriver `json:"driver"`
}

type sarifDriver struct {
	Name    string      `json:"name"`
	Version string      `json:"version,omitempty"`
	Rules   []sarifRule `json:"rules"`
}

type sarifRule struct {
	ID    string    `json:"id"`
	Short sarifText `json:"shortDescription"`
	Full  sarifText `json:"fullDescription"`
	Help  sarifText `json:"help"`
}

type sarifText struct {
	Text string `json:"text"`
}

type sarifInvocation struct {
	ExecutionSuccessful bool                `json:"executionSuccessful"`
	ExitCode            int                 `json:"exitCode"`
	ExitCodeDescription string              `json:"exitCodeDescription"`
	Notifications       []sarifNotification `json:"toolExecutionNotifications"`
}

type sarifNotification struct {
	Level   string    `json:"level"`
	Message sarifText `json:"message"`
}

type sarifBase struct {
	Description sarifText `json:"description"`
}

type sarifResult struct {
	RuleID       string             `json:"ruleId"`
	RuleIndex    int                `json:"ruleIndex"`
	Level        string             `json:"level"`
	Message      sarifText          `json:"message"`
	Locations    []sarifLocation    `json:"locations"`
	Related      []sarifLocation    `json:"relatedLocations,omitempty"`
	Fingerprints map[string]string  `json:"partialFingerprints"`
	Suppressions []sarifSuppression `json:"suppressions"`
}

type sarifLocation struct {
	Physical sarifPhysical  `json:"physicalLocation"`
	Logical  []sarifLogical `json:"logicalLocations,omitempty"`
	Message  *sarifText     `json:"message,omitempty"`
}

type sarifPhysical struct {
	Artifact sarifArtifact `json:"artifactLocation"`
	Region   *sarifRegion  `json:"region,omitempty"`
}

type sarifArtifact struct {
	URI     string `json:"uri"`
	URIBase string `json:"uriBaseId"`
}

type sarifRegion struct {
	StartLine int `json:"startLine"`
}

type sarifLogical struct {
	Name string `json:"fullyQualifiedName"`
}

type sarifSuppression struct {
	Kind          string `json:"kind"`
	Status        string `json:"status"`
	Justification string `json:"justification"`
}

// sarifLevels are by what a reason makes of the gate. Every reason is of the kind
// "fail", also what is open: the standard has no level for any other.
var sarifLevels = map[gate.Outcome]string{gate.Failed: "error", gate.Undecided: "warning", gate.Passed: "note"}

// maxSites is how many lines one result lists.
const maxSites = 100

// sourceRoot is the name by which readers know the top of the repository.
const sourceRoot = "%SRCROOT%"

// GateSARIF writes a gate as SARIF 2.1.0: a rule a kind of reason, a result a reason,
// and the first line, blind spots and notes as notifications. status is the exit
// status of the gate.
func GateSARIF(w io.Writer, p GatePage, from Origin, status int) error {
	g := p.Gate
	run := sarifRun{Bases: map[string]sarifBase{sourceRoot: {sarifText{"the top of the git repository that holds the results"}}},
		Invocations: []sarifInvocation{{ExecutionSuccessful: true, ExitCode: status, ExitCodeDescription: string(g.Outcome),
			Notifications: each(p.remarks(), func(s string) sarifNotification { return sarifNotification{"note", sarifMessage(s)} })}}}
	run.Tool.Driver = sarifDriver{Name: "tunegate", Version: from.Version}
	index := map[string]int{}
	for i, rule := range GateRules() {
		index[rule.ID] = i
		says := sarifMessage(sentence(rule.Says))
		run.Tool.Driver.Rules = append(run.Tool.Driver.Rules, sarifRule{rule.ID, says, says, sarifMessage(sentence(rule.Do))})
	}
	prints := fingerprints(g.Reasons)
	run.Results = []sarifResult{}
	for i, r := range g.Reasons {
		result := sarifResult{RuleID: r.Kind, RuleIndex: index[r.Kind], Level: sarifLevels[r.Decides],
			Message:   sarifMessage(Clean(subject(r)) + ": " + p.Commands.reasonText(r)),
			Locations: each(p.sitesOf(r, maxSites), func(at compare.Place) sarifLocation { return sarifAt(at, r.Profile) }),
			// The second name is the one that code scanning of GitHub compares; a colon
			// and a number belong to it (its documentation, from memory).
			Fingerprints: map[string]string{"tunegateReason/v1": prints[i], "primaryLocationLineHash": prints[i] + ":1"},
			Suppressions: []sarifSuppression{}}
		for i, v := range r.Copies.Lines().All() {
			if i == maxSites {
				break
			}
			result.Related = append(result.Related, sarifAt(v.Line(), ""))
		}
		if r.Agreement != "" && r.Decides == gate.Passed {
			result.Suppressions = append(result.Suppressions, sarifSuppression{"external", "accepted", "agreed: " + string(r.Agreement)})
		}
		run.Results = append(run.Results, result)
	}
	return encode(w, sarifLog{sarifSchema, "2.1.0", []sarifRun{run}})
}

// remarks are what a gate says besides its reasons: the first line, what could have
// gone unseen, and the notes.
func (p GatePage) remarks() []string {
	out := []string{GateClosing(p.Gate)}
	for _, j := range p.Judged {
		if s := blindSpotText(j); s != "" {
			out = append(out, Clean(j.Profile)+": "+s)
		}
	}
	return append(out, gateNotes(p)...)
}

// sarifAt is a line of a file, or a file as a whole. A row of a workbook is no line of
// text, so that it is told in words.
func sarifAt(at compare.Place, profile string) sarifLocation {
	out := sarifLocation{Physical: sarifPhysical{Artifact: sarifArtifact{relativeURI(at.File), sourceRoot}}}
	switch {
	case at.Sheet != "":
		out.Message = &sarifText{sarifMessage(fmt.Sprintf("sheet %s, row %d", Clean(at.Sheet), at.Line)).Text}
	case at.Line > 0:
		out.Physical.Region = &sarifRegion{at.Line}
	}
	if profile != "" {
		out.Logical = []sarifLogical{{Clean(profile)}}
	}
	return out
}

// relativeURI is a path below the top of the repository as a relative reference of
// RFC 3986.
func relativeURI(path string) string { return (&url.URL{Path: path}).String() }

// sarifMessage is a plain text for a field in which brackets make links and braces
// stand for arguments: SARIF 2.1.0, sections 3.11.5 and 3.11.6 (from memory).
func sarifMessage(s string) sarifText {
	return sarifText{strings.NewReplacer(`\`, `\\`, "[", `\[`, "]", `\]`, "{", "{{", "}", "}}").Replace(s)}
}
