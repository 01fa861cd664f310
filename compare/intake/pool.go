package intake

import (
	"fmt"
	"strings"
)

// pool keeps one copy of each text that repeats, so that a million values do
// not hold a million copies of a profile's name, nor the lines they came from.
type pool struct {
	texts map[string]string
	units map[string]string
}

func newPool() *pool { return &pool{texts: map[string]string{}, units: map[string]string{}} }

func (p *pool) keep(s string) string {
	if s == "" {
		return ""
	}
	if kept, ok := p.texts[s]; ok {
		return kept
	}
	s = strings.Clone(s)
	p.texts[s] = s
	return s
}

// keepBytes is keep for bytes that will be overwritten.
func (p *pool) keepBytes(b []byte) string {
	if kept, ok := p.texts[string(b)]; ok || len(b) == 0 {
		return kept
	}
	return p.keep(string(b))
}

// unit spells a unit as compare does, once for each spelling met.
func (p *pool) unit(s string) string {
	if s == "" {
		return ""
	}
	if u, ok := p.units[s]; ok {
		return u
	}
	s = strings.Clone(s)
	u := unitNamed(s)
	p.units[s] = u
	return u
}

// maxName is the longest name, in bytes.
const maxName = 1000

// checkName returns an error for an invalid name. Control characters are valid:
// package report removes them.
func checkName(s string) error {
	if len(s) > maxName {
		return fmt.Errorf("found a name of %d bytes, expected at most %d; shorten it", len(s), maxName)
	}
	if strings.ContainsAny(s, "\r\n") {
		return errLineBreak(s)
	}
	return nil
}

func errLineBreak(s string) error {
	return fmt.Errorf("found a line break inside %s, expected one only in a reason; write it on one line", excerpt(s))
}
