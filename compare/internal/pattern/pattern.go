// Package pattern holds regular expressions that are compiled when they are first used:
// those of all packages together took as long at each start as a short comparison.
package pattern

import (
	"regexp"
	"sync"
)

// Lazy returns what compiles the expression once. It panics on one that is wrong.
func Lazy(expression string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
}
