package intake

import (
	"bufio"
	"bytes"
	"io"
	"strings"

	"tunegate/compare"
	"tunegate/compare/internal/pattern"
)

// head is the first line that says something.
type head struct {
	line    []byte // with its line end
	skipped int    // lines before it
	sep     byte   // 0 for JSON Lines
	json    bool
}

// markup begins a page, or a table saved as one.
var markup = pattern.Lazy(`(?i)^<(?:!doctype|html|head|body|table|\?xml|meta|style)\b`)

// readHead reads up to the first line that holds more than white space and
// separators. A first line "sep=;", as spreadsheet programs write it, is
// consumed and believed.
func readHead(lines *bufio.Reader, src *text) (head, error) {
	var h head
	var stated byte
	for {
		src.newRow()
		line, err := lines.ReadBytes('\n')
		if err != nil && err != io.EOF {
			return h, err
		}
		content := strings.Trim(string(line), " \t\r\n")
		at := compare.Place{File: src.name, Line: h.skipped + 1, Column: 1}
		if name, mark, ok := strings.Cut(strings.Trim(content, `"`), "="); ok && h.skipped == 0 && strings.EqualFold(name, "sep") {
			// A tab behind the sign has been trimmed away as white space.
			if mark == "" && bytes.Contains(line, []byte("=\t")) {
				mark = "\t"
			}
			if mark != "," && mark != ";" && mark != "\t" {
				return h, placed(at, "found the separator %s, expected a comma, a semicolon or a tab", excerpt(mark))
			}
			stated = mark[0]
		} else if strings.Trim(content, ",;\t \r") != "" {
			h.line = line
			switch content[0] {
			case '<':
				if markup().MatchString(content) {
					return h, placed(at, "found a page in HTML or XML, whatever the file is called; open it in a spreadsheet program and save it as "+
						".xlsx or as CSV UTF-8")
				}
				fallthrough
			default:
				if h.sep = stated; stated == 0 {
					ahead, _ := lines.Peek(chunkSize / 2)
					h.sep = separatorAmong(line, ahead)
				}
			case '{':
				h.json = true
			case '[':
				return h, placed(at, "found a list in brackets, expected one JSON object a line or a CSV header; write each object on a line of "+
					"its own, without the outer brackets")
			}
			return h, nil
		}
		if err == io.EOF {
			return h, placed(compare.Place{File: src.name}, "the file is empty, expected %s", src.expects)
		}
		h.skipped++
	}
}

// separatorAmong tells the separator from the first line, where the next one has it,
// too. Else the first is a title, and the separator is the one that most lines have.
func separatorAmong(first, ahead []byte) byte {
	sep := separatorOf(first)
	lines := map[byte]int{}
	n := 0
	for line := range bytes.SplitSeq(ahead, []byte("\n")) {
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		count := separatorCounts(line)
		if n == 0 && (count[sep] > 0 || separatorCounts(first)[sep] == 0 && count[','] == 0 && count[';'] == 0 && count['\t'] == 0) {
			return sep
		}
		for _, s := range []byte{',', ';', '\t'} {
			if count[s] > 0 {
				lines[s]++
			}
		}
		if n++; n == 30 {
			break
		}
	}
	for _, s := range []byte{',', ';', '\t'} {
		if lines[s] > lines[sep] {
			sep = s
		}
	}
	return sep
}

// separatorOf tells the separator from a header line: the one of tab,
// semicolon and comma that stands most often outside quotes and outside the
// brackets of a unit; among equals the first of these three.
func separatorOf(line []byte) byte {
	count := separatorCounts(line)
	best := byte(',')
	for _, sep := range []byte{';', '\t'} {
		if count[sep] > 0 && count[sep] >= count[best] {
			best = sep
		}
	}
	return best
}

// separatorCounts counts the bytes outside quotes and the brackets of a unit.
func separatorCounts(line []byte) *[256]int {
	count := &[256]int{}
	quoted, depth := false, 0
	for _, b := range line {
		switch {
		case b == '"':
			quoted = !quoted
		case quoted:
		case b == '[':
			depth++
		case b == ']':
			depth = max(0, depth-1)
		case depth == 0:
			count[b]++
		}
	}
	return count
}
