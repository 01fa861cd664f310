package report

import "strings"

// guarded are the cells of a row with an apostrophe before each text that a
// spreadsheet would run as a formula (OWASP, "CSV Injection", from memory: texts
// that begin with = + - @, a tab or a carriage return). Texts that have the
// apostrophe already get another, so that intake reads back what was there. A
// colon is guarded, too: a row that begins with two is a command to the log of
// GitHub Actions.
func guarded(cells []string) []string {
	for i, c := range cells {
		if rest := strings.TrimLeft(c, "'"); rest != "" && strings.ContainsRune("=+-@:\t\r", rune(rest[0])) {
			cells[i] = "'" + c
		}
	}
	return cells
}
