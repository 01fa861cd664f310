package main

import (
	"strings"
	"testing"
)

// Expected values are those of no-color.org and bixense.com/clicolors, from memory.
func TestWantsColor(t *testing.T) {
	for _, c := range []struct {
		environment    string
		terminal, pipe bool // whether there is colour
	}{
		{"", true, false},
		{"NO_COLOR=1", false, false},
		{"NO_COLOR=", true, false},
		{"CLICOLOR=0", false, false},
		{"CLICOLOR=1", true, false},
		{"CLICOLOR_FORCE=1", true, true},
		{"CLICOLOR_FORCE=0", true, false},
		{"CLICOLOR_FORCE=1 CLICOLOR=0", true, true},
		{"CLICOLOR_FORCE=1 TERM=dumb", true, true},
		{"CLICOLOR_FORCE=1 NO_COLOR=1", false, false},
		{"TERM=dumb", false, false},
	} {
		getenv := func(name string) string {
			for _, v := range strings.Fields(c.environment) {
				if value, ok := strings.CutPrefix(v, name+"="); ok {
					return value
				}
			}
			return ""
		}
		if got := wantsColor(true, getenv); got != c.terminal {
			t.Errorf("%q on a terminal: %v", c.environment, got)
		}
		if got := wantsColor(false, getenv); got != c.pipe {
			t.Errorf("%q in a pipe: %v", c.environment, got)
		}
	}
}
