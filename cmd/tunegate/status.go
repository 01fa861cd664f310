package main

import (
	"errors"
	"slices"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/gate"
	"tunegate/compare/report"
)

// The exit statuses, beside 0. exitFailed outranks exitOpen.
const (
	exitFailed = 1 // what was judged fails
	exitInput  = 2 // bad input, usage or environment: nothing was judged
	exitOpen   = 3 // judged, but more than these runs can give is demanded
)

// exitError carries an exit status. An empty message has been said already.
type exitError struct {
	status int
	msg    string
}

func (e *exitError) Error() string { return e.msg }

// exitWith is the error that ends the program with a status; nil for 0.
func exitWith(status int) error {
	if status == 0 {
		return nil
	}
	return &exitError{status: status}
}

// statusOf is the exit status that an error ends the program with.
func statusOf(err error) int {
	var exit *exitError
	switch {
	case err == nil:
		return 0
	case errors.As(err, &exit):
		return exit.status
	}
	return exitInput
}

// comparisonStatus fails where a score regressed, or a cost beyond its tolerance. With
// strict it is open where something that decides is not settled, or is named by the
// policy and not measured.
func comparisonStatus(c *compare.Comparison, strict bool) int {
	open := func(r *compare.Result) bool { return r.Decides && !r.Verdict.Settled() }
	switch {
	case len(c.Failures()) > 0:
		return exitFailed
	case strict && (len(c.Absent) > 0 || slices.ContainsFunc(c.Judged(), open)):
		return exitOpen
	}
	return 0
}

// gateStatus is the exit status of a gate.
func gateStatus(g *gate.Gate) int {
	return map[gate.Outcome]int{gate.Passed: 0, gate.Failed: exitFailed, gate.Undecided: exitOpen}[g.Outcome]
}

// claimsStatus fails where a claim is contradicted, overstated or wrong
// arithmetic or its sentence differs from its keys, and is open where one is not
// settled or where a percentage of the page is in no claim.
func claimsStatus(p report.ClaimsPage) int {
	switch v := p.Decisive(); {
	case len(p.Held) == 0:
		return 0 // nothing was judged
	case v.Fails():
		return exitFailed
	case v == claims.NotSettled || p.OpenPercentages() > 0:
		return exitOpen
	}
	return 0
}
