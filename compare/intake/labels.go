package intake

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"tunegate/compare"
)

// parseBetter reads a direction; empty means not stated.
func parseBetter(s string) (compare.Better, error) {
	switch {
	case s == "":
		return "", nil
	case strings.EqualFold(s, string(compare.Higher)):
		return compare.Higher, nil
	case strings.EqualFold(s, string(compare.Lower)):
		return compare.Lower, nil
	}
	return "", fmt.Errorf("found %s, expected higher or lower, or nothing", excerpt(s))
}

// betterIn reads a direction in a cell, also in other words.
func betterIn(cell string) (compare.Better, error) {
	if len(cell) < 40 {
		if better, known := betterWords[foldWord(cell)]; known {
			return better, nil
		}
	}
	return parseBetter(cell)
}

// parseRowLook reads for which planned look a row was made; empty means for none.
func parseRowLook(s string) (int, error) {
	switch s {
	case "":
		return 0, nil
	case "1":
		return 1, nil
	case "2":
		return 2, nil
	}
	return 0, fmt.Errorf("found %s, expected the planned look 1 or 2, or nothing", excerpt(s))
}

// parseValid reads whether a run counts; empty means it does.
func parseValid(s string) (bool, error) {
	switch {
	case s == "", s == "yes":
		return true, nil
	case len(s) < 20:
		switch word := foldWord(s); {
		case yesWords[word]:
			return true, nil
		case noWords[word]:
			return false, nil
		}
	}
	return false, fmt.Errorf("found %s, expected yes or no, or nothing for yes", excerpt(s))
}

var errNoReason = errors.New(`valid = no needs a reason, found none; say in "reason" why the run does not count`)

// parseTime reads a time as RFC 3339 section 5.6 writes it; its T and Z may be
// in lower case.
func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, strings.ToUpper(s))
	if err != nil || !strictTime(s) {
		return time.Time{}, fmt.Errorf("found the time %s, expected RFC 3339 with a zone, such as 2026-03-01T14:05:00Z or "+
			"2026-03-01T15:05:00+01:00; correct it or leave it empty", excerpt(s))
	}
	// Later packages order runs by nanoseconds since 1970, which end in 2262; a
	// time in 1970 is a clock that was never set.
	if y := t.UTC().Year(); y < 1971 || y > 2261 {
		return time.Time{}, fmt.Errorf("found the time %s, expected a year from 1971 to 2261; was the clock set? correct it or leave it "+
			"empty", excerpt(s))
	}
	return t, nil
}

// strictTime refuses what time.Parse takes beyond RFC 3339: an hour of one
// digit, a comma before the fraction, an offset of a day or more.
func strictTime(s string) bool {
	if len(s) < len("2006-01-02T15:04:05Z") || s[len("2006-01-02T15")] != ':' || strings.Contains(s, ",") {
		return false
	}
	if last := s[len(s)-1]; last == 'Z' || last == 'z' {
		return true
	}
	offset := s[len(s)-len("01:00"):]
	return offset[:2] < "24" && offset[3:] < "60"
}
