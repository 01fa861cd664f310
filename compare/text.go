package compare

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Places returns the decimal places to which a value with this uncertainty is
// quoted: JCGM 100:2008 (GUM) 7.2.6 allows the uncertainty at most two
// significant digits; it gets two where the first is below 5, else one, so that
// rounding moves it by a tenth at most. 0 to 12; 0 or no uncertainty
// gives 12 and lets Decimal drop what is not there.
func Places(uncertainty float64) int {
	u := math.Abs(uncertainty)
	if !(u > 0) || math.IsInf(u, 1) {
		return 12
	}
	exponent := int(math.Floor(math.Log10(u)))
	places := -exponent
	if lead := u / math.Pow(10, float64(exponent)); lead < 4.95 {
		places++
	}
	return min(max(places, 0), 12)
}

// Decimal writes a value with at most 12 places; with 12 it writes the shortest
// notation that reads back the same.
func Decimal(v float64, places int) string {
	if places >= 12 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" { // no "-0.00"
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// List joins names with commas, at most n of them.
func List(names []string, n int) string {
	if len(names) > n {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:n], ", "), len(names)-n)
	}
	return strings.Join(names, ", ")
}
