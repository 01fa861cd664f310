package workbook

import (
	"encoding/xml"
	"strconv"
	"strings"
)

// shown is how a number format shows the number in a cell.
type shown int

const (
	plain shown = iota
	percent
	duration // a time without a date: hh:mm, [h]:mm:ss, mm:ss.0
	dateOnly // a date without a time of day
	dateTime // both
)

// format is what a number format says about a number. suffix is the text that it
// writes behind the number, such as a unit.
type format struct {
	shown  shown
	suffix string
}

// builtIn are the number formats without a code in the file (ECMA-376 part 1,
// 18.8.30).
func builtIn(id int) format {
	switch {
	case id == 9 || id == 10:
		return format{shown: percent}
	case id >= 14 && id <= 17 || id >= 27 && id <= 31 || id == 36 || id >= 50 && id <= 58:
		return format{shown: dateOnly}
	case id == 22:
		return format{shown: dateTime}
	case id >= 18 && id <= 21 || id >= 32 && id <= 35 || id >= 45 && id <= 47:
		return format{shown: duration}
	}
	return format{}
}

// formatOf reads a number format code such as [h]:mm:ss, DD.MM.YYYY, 0.0% or
// 0.0" s". The part for positive numbers decides. What stands in brackets, but for
// elapsed hours, minutes and seconds, says nothing.
func formatOf(code string) format {
	lower := strings.ToLower(code)
	if lower == "general" || lower == "standard" || lower == "@" {
		return format{}
	}
	days, clock, hundred, digits := false, false, false, false
	var suffix strings.Builder
	literal := func(text string) {
		if digits {
			suffix.WriteString(text)
		}
	}
scan:
	for i := 0; i < len(lower); i++ {
		switch c := lower[i]; c {
		case '"':
			end := strings.IndexByte(code[i+1:], '"')
			if end < 0 {
				break scan
			}
			literal(code[i+1 : i+1+end])
			i += end + 1
		case '\\':
			if i++; i < len(code) {
				literal(code[i : i+1])
			}
		case '_', '*':
			i++
		case '[':
			end := strings.IndexByte(lower[i:], ']')
			if end < 0 {
				break scan
			}
			if inside := lower[i+1 : i+end]; inside != "" && strings.Trim(inside, inside[:1]) == "" && strings.Contains("hms", inside[:1]) {
				clock = true
			}
			i += end
		case ';':
			break scan
		case '0', '#', '?':
			digits = true
			suffix.Reset()
		case '%':
			hundred = true
		case 'y', 'd':
			days = true
		case 'h', 's':
			clock = true
		}
	}
	switch {
	case days && clock:
		return format{shown: dateTime}
	case days:
		return format{shown: dateOnly}
	case clock:
		return format{shown: duration}
	case hundred:
		return format{shown: percent}
	}
	return format{suffix: strings.TrimSpace(suffix.String())}
}

// readStyles reads the number format of each cell style.
func (b *Book) readStyles(part string) error {
	codes := map[int]format{}
	inCells := false
	return b.elements(part, maxOtherBytes, func(x *reader, e xml.StartElement) error {
		switch e.Name.Local {
		case "numFmt":
			if id, err := strconv.Atoi(attribute(e, "numFmtId")); err == nil && len(codes) < maxStyles {
				codes[id] = formatOf(attribute(e, "formatCode"))
			}
		case "cellXfs":
			inCells = true
		case "cellStyles", "cellStyleXfs", "dxfs":
			inCells = false
		case "xf":
			if !inCells {
				return nil
			}
			if len(b.formats) == maxStyles {
				return broken("it has more than %d cell styles", maxStyles)
			}
			id, err := strconv.Atoi(attribute(e, "numFmtId"))
			f, stated := codes[id]
			if err == nil && !stated {
				f = builtIn(id)
			}
			b.formats = append(b.formats, f)
		}
		return nil
	})
}
