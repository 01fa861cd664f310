package intake

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"tunegate/compare/internal/pattern"
)

// number is a measured value as it was written.
type number struct {
	value   float64
	mark    byte   // the decimal mark, 0 without one
	clock   bool   // written as a time: value is in seconds
	unit    string // written behind it
	grouped byte   // the mark between thousands, 0 without one
	doubt   bool   // mark may also stand between thousands: 1.002
}

// numberError says why a cell is no number, and what to do about the cell.
// text is true where nothing in it looks like a number.
type numberError struct {
	what, todo string
	text       bool
}

func (e *numberError) Error() string { return e.what + "; " + e.todo }

const (
	acceptedNumbers = "accepted are 1234.5 and 1.2345e3, times as 6:52.3, and 1234,5 where ; or tab separates the columns"
	leaveEmpty      = "leave the cell empty where there is no result"
)

// maxMagnitude bounds readings, and its reciprocal does those that are not 0: ratios
// and squares of what lies within are finite.
const maxMagnitude = 1e100

// parseNumber reads a cell without outer white space. comma allows a decimal
// comma. The value is finite. Its sign is not judged: that needs the scale.
func parseNumber(cell string, comma bool) (number, error) {
	var n number
	for i := 0; i < len(cell); i++ {
		switch c := cell[i]; {
		case '0' <= c && c <= '9', c == '+', c == '-', c == 'e', c == 'E':
		case c == '.', c == ',' && comma:
			if n.mark != 0 {
				return number{}, notANumber(cell, comma)
			}
			n.mark = c
		case c == ':':
			return parseClock(cell, comma)
		default:
			return number{}, notANumber(cell, comma)
		}
	}
	value, err := 0.0, error(nil)
	switch {
	case n.mark != ',':
		value, err = strconv.ParseFloat(cell, 64)
	case len(cell) > len(withPoint{}):
		value, err = strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
	default:
		var point withPoint
		copy(point[:], cell)
		point[strings.IndexByte(cell, ',')] = '.'
		value, err = strconv.ParseFloat(string(point[:len(cell)]), 64)
	}
	if err != nil && !errors.Is(err, strconv.ErrRange) {
		return number{}, notANumber(cell, comma)
	}
	if err := checkMagnitude(value, cell); err != nil {
		return number{}, err
	}
	n.value = value
	return n, nil
}

// withPoint has room for a usual number, so that nothing is allocated for its mark.
type withPoint [32]byte

// checkMagnitude refuses what is too large, or too small and not 0.
func checkMagnitude(value float64, cell string) error {
	switch {
	case math.Abs(value) > maxMagnitude:
		return &numberError{what: fmt.Sprintf("found %s, which is too large for a number here", excerpt(cell)), todo: "use a larger unit"}
	case math.Abs(value) < 1/maxMagnitude && strings.ContainsAny(mantissa(cell), "123456789"):
		return &numberError{what: fmt.Sprintf("found %s, which is too small for a number here", excerpt(cell)), todo: "use a smaller unit"}
	}
	return nil
}

// plainDecimal reads what most cells hold: at most 15 digits with at most one mark among
// them. decimals is -1 without one. Such a number is its digits over a power of ten, both
// of which float64 holds exactly, so that the quotient is the value nearest to it: what
// strconv does with them, too (Clinger, PLDI 1990).
func plainDecimal(cell string, mark byte) (value float64, decimals int, ok bool) {
	if len(cell) > 16 {
		return 0, -1, false
	}
	digits, at := uint64(0), -1
	for i := range len(cell) {
		switch c := cell[i]; {
		case c-'0' <= 9:
			digits = 10*digits + uint64(c-'0')
		case c == mark && at < 0:
			at = i
		default:
			return 0, -1, false
		}
	}
	switch {
	case at < 0:
		return float64(digits), -1, len(cell) > 0 && len(cell) < 16
	case len(cell) == 1:
		return 0, -1, false
	}
	decimals = len(cell) - 1 - at
	return float64(digits) / powersOfTen[decimals], decimals, true
}

var powersOfTen = [16]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

func mantissa(cell string) string {
	if i := strings.IndexAny(cell, "eE"); i >= 0 {
		return cell[:i]
	}
	return cell
}

var (
	hexadecimal = pattern.Lazy(`^[+-]?0[xX]`)
	underscored = pattern.Lazy(`^[+-]?\d[\d_]*_[\d_.,]*$`)
	thousands   = pattern.Lazy(`^[+-]?\d{1,3}(?:[ .,'’\x{a0}\x{202f}\x{2009}\x{2007}]\d{3})+(?:[.,]\d*)?$`)
	grouped     = pattern.Lazy(`^[+-]?\d+(?:[ .,'’\x{a0}\x{202f}\x{2009}\x{2007}]\d+)+$`)
	commaPoint  = pattern.Lazy(`^[+-]?\d*,\d*(?:[eE][+-]?\d+)?$`)
	withUnit    = pattern.Lazy(`^[+-]?(?:\d+(?:[.,:]\d*)*|[.,]\d+)(?:[eE][+-]?\d+)?[\s\x{a0}\x{202f}]*[\p{L}%‰°º/]\S*$`)
	longMinus   = pattern.Lazy(`^[−–]\s*[\d.,]`)
)

// notANumber says what a cell is instead of a number.
func notANumber(cell string, comma bool) *numberError {
	found := excerpt(cell)
	switch strings.ToLower(strings.TrimLeft(cell, "+-")) {
	case "nan", "inf", "infinity":
		return &numberError{what: "found " + found + ", expected a number", todo: leaveEmpty}
	}
	switch {
	case hexadecimal().MatchString(cell), underscored().MatchString(cell):
		return &numberError{what: "found " + found + ", expected a plain decimal number", todo: acceptedNumbers}
	case thousands().MatchString(cell):
		return &numberError{what: "found " + found + ", which has a thousands separator or reads as if it had",
			todo: "write it without one; " + acceptedNumbers}
	case !comma && commaPoint().MatchString(cell):
		return &numberError{what: "found " + found + ", a decimal comma",
			todo: "it is accepted only where ; or tab separates the columns; write a decimal point"}
	case grouped().MatchString(cell):
		return &numberError{what: "found " + found + ", expected one number with at most one decimal mark", todo: acceptedNumbers}
	case withUnit().MatchString(cell):
		return &numberError{what: "found " + found + ", expected a number alone",
			todo: `put the unit into the column "unit", or into the header as [s]`}
	case longMinus().MatchString(cell):
		return &numberError{what: "found " + found + " with a long minus sign", todo: "write a plain -"}
	}
	return &numberError{what: "found " + found + ", expected a number", todo: acceptedNumbers + "; " + leaveEmpty, text: true}
}

// secondsUnit gives a time written 6:52.3 its unit.
func secondsUnit(unit string) (string, error) {
	if unit == "" || unit == "s" {
		return "s", nil
	}
	return "", fmt.Errorf(`found a time in minutes and seconds, which comes out in seconds, but the unit here is %s; write the unit s`,
		excerpt(unit))
}
