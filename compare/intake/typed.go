package intake

import (
	"errors"
	"strings"
	"unicode"

	"tunegate/compare"
)

// ParseNumbers reads numbers typed on a command line: "412 409 415",
// "412, 409, 415", one a line, or "412,3; 409,1", where a semicolon separates
// and a comma is the decimal mark. The rules for a number are those of a file;
// a time written 6:52.3 comes back in seconds, so a caller with another unit
// than s should refuse a text with a colon. Every number is finite. An error
// is a *compare.PlacedError at name that says which of the numbers is wrong,
// counted from 1.
func ParseNumbers(text, name string) ([]float64, error) {
	at := compare.Place{File: name}
	items := typedItems(text)
	if len(items) == 0 {
		return nil, placed(at, `found no number, expected some such as "412 409 415"`)
	}
	comma, mark := strings.Contains(text, ";"), byte(0)
	doubtful := tightCommas(text)
	values := make([]float64, 0, len(items))
	markedBy := 0
	for i, item := range items {
		item = strings.TrimSpace(item)
		if item == "" {
			return nil, placed(at, "number %d of %d is empty, expected one between each two separators", i+1, len(items))
		}
		if doubtful && strings.Contains(item, ",") {
			return nil, placed(at, `number %d of %d: found %s, where the comma may be a decimal mark or a separator; write a decimal point, a `+
				`blank behind a separating comma, or decimal commas with ; between the numbers`, i+1, len(items), excerpt(item))
		}
		n, err := parseNumber(item, comma)
		if err != nil {
			// The advice of parseNumber is about cells of a file.
			var wrong *numberError
			errors.As(err, &wrong)
			return nil, placed(at, "number %d of %d: %s; accepted are 1234.5, 1.2345e3 and 6:52.3, and 1234,5 with ; between the numbers", i+1,
				len(items), wrong.what)
		}
		if n.mark != 0 && mark != 0 && n.mark != mark {
			return nil, placed(at, "number %d of %d: found %s, but number %d has the other decimal mark; write all with the same", i+1, len(items),
				excerpt(item), markedBy)
		}
		if n.mark != 0 && mark == 0 {
			mark, markedBy = n.mark, i+1
		}
		values = append(values, n.value)
	}
	return values, nil
}

// typedItems cuts the text at its separators: semicolons and line breaks where
// there is a semicolon, else white space and commas. A no-break space does not
// separate, it is how some programs write thousands.
func typedItems(text string) []string {
	text = strings.TrimSpace(text)
	if strings.Contains(text, ";") {
		text = strings.TrimSpace(strings.TrimSuffix(text, ";"))
		var items []string
		for _, line := range strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' }) {
			line = strings.TrimSpace(line)
			if line != "" {
				items = append(items, strings.Split(strings.TrimSuffix(line, ";"), ";")...)
			}
		}
		return items
	}
	if tightCommas(text) {
		return strings.FieldsFunc(text, typedSpace)
	}
	text = strings.TrimSuffix(text, ",")
	var items []string
	for _, part := range strings.Split(text, ",") {
		words := strings.FieldsFunc(part, typedSpace)
		if len(words) == 0 && text != "" {
			words = []string{""}
		}
		items = append(items, words...)
	}
	return items
}

func typedSpace(r rune) bool {
	return unicode.IsSpace(r) && r != '\u00a0' && r != '\u202f' && r != '\u2007'
}

// tightCommas reports whether white space separates numbers some of which have
// a comma inside: "412,3 409,1" is two numbers or four.
func tightCommas(text string) bool {
	if strings.Contains(text, ";") {
		return false
	}
	words := strings.FieldsFunc(text, typedSpace)
	if len(words) < 2 {
		return false
	}
	for _, word := range words {
		if strings.Contains(strings.Trim(word, ","), ",") {
			return true
		}
	}
	return false
}
