package intake

import (
	"fmt"
	"strconv"
	"strings"
)

// parseClock reads m:ss, m:ss.f, h:mm:ss or h:mm:ss.f as seconds. Seconds, and
// minutes behind hours, have two digits and stay below 60. The result is the
// number nearest to the written time: 6:52.3 is exactly what 412.3 is.
func parseClock(cell string, comma bool) (number, error) {
	for i := 0; i < len(cell); i++ {
		if c := cell[i]; (c < '0' || c > '9') && c != ':' && c != '.' && c != ',' {
			return number{}, notANumber(cell, comma)
		}
	}
	n := number{clock: true}
	whole, fraction := cell, ""
	if i := strings.IndexAny(cell, ".,"); i >= 0 {
		n.mark, whole, fraction = cell[i], cell[:i], cell[i+1:]
		if fraction == "" || strings.ContainsAny(fraction, ".,:") {
			return number{}, clockError(cell, "expected digits behind one decimal mark")
		}
		if n.mark == ',' && !comma {
			return number{}, clockError(cell, "but a decimal comma is accepted only where ; or tab separates the columns")
		}
	}
	parts := strings.Split(whole, ":")
	if len(parts) > 3 {
		return number{}, clockError(cell, "expected at most hours, minutes and seconds")
	}
	total := 0
	for i, part := range parts {
		count, err := strconv.Atoi(part)
		switch {
		case err != nil || i == 0 && len(part) > 6 || i > 0 && len(part) != 2:
			return number{}, clockError(cell, "expected two digits between and behind the colons")
		case i > 0 && count >= 60:
			return number{}, clockError(cell, "expected minutes and seconds below 60 behind a colon")
		}
		total = total*60 + count
	}
	value, err := strconv.ParseFloat(strconv.Itoa(total)+"."+fraction, 64)
	if err != nil {
		return number{}, clockError(cell, "expected digits")
	}
	n.value = value
	return n, nil
}

func clockError(cell, expected string) *numberError {
	return &numberError{what: fmt.Sprintf("found the time %s, %s", excerpt(cell), expected), todo: "write it as 6:52.3 or 1:02:03.5"}
}
