package intake

import (
	"fmt"
	"strings"
	"unsafe"

	"tunegate/compare/internal/pieces"
)

// pool keeps one copy of each text that repeats, so that a million values do
// not hold a million copies of a profile's name, nor the lines they came from.
type pool struct {
	texts pieces.Numbers[string]
	units map[string]string
}

func newPool() *pool { return &pool{units: map[string]string{}} }

func (p *pool) keep(s string) string {
	if s == "" {
		return ""
	}
	return p.texts.Kept(s, strings.Clone)
}

// keepBytes is keep for bytes that will be overwritten.
func (p *pool) keepBytes(b []byte) string {
	if len(b) == 0 {
		return ""
	}
	return p.keep(unsafe.String(&b[0], len(b)))
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
	if strings.IndexByte(s, '\n') >= 0 || strings.IndexByte(s, '\r') >= 0 {
		return errLineBreak(s)
	}
	return nil
}

func errLineBreak(s string) error {
	return fmt.Errorf("found a line break inside %s, expected one only in a reason; write it on one line", excerpt(s))
}
