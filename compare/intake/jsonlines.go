package intake

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"tunegate/compare"
)

// jsonReader reads JSON Lines: each line is an object (RFC 8259) with the
// names of the long CSV as keys. null and "" stand for nothing.
type jsonReader struct {
	*sink
	src  *text
	line []byte
	no   int // its number

	known [columnCount]member
	other []member // with unknown keys
}

// member is a key with its value in the line in hand.
type member struct {
	key  string // of an unknown key
	kind byte   // the first byte of the value, 0 where the key is absent
	text []byte // a string decoded, else the value as written; without outer white space
	at   int    // byte offset of the value, for an unknown key of the key
}

func readJSONLines(src *text, lines *bufio.Reader, h head, s *sink) error {
	j := &jsonReader{sink: s, src: src, line: h.line, no: h.skipped + 1}
	s.couldEnd = func() bool { return len(s.faults) == 0 }
	for {
		if len(bytes.TrimSpace(j.line)) > 0 {
			if !json.Valid(j.line) {
				return j.invalid()
			}
			if err := j.fault(j.object()); err != nil {
				return err
			}
		}
		src.newRow()
		line, err := lines.ReadSlice('\n')
		if err == bufio.ErrBufferFull {
			long := append([]byte(nil), line...)
			line, err = lines.ReadBytes('\n')
			line = append(long, line...)
		}
		if err != nil && err != io.EOF {
			return err
		}
		if len(line) == 0 {
			return nil
		}
		j.line = line
		j.no++
	}
}

// object reads the line in hand and hands on its value.
func (j *jsonReader) object() error {
	if err := j.members(); err != nil {
		return err
	}
	for _, c := range []column{colBenchmark, colValue} {
		if j.known[c].kind == 0 {
			return j.fail(0, `the key %q is missing; expected an object such as {"benchmark":"tile-render","unit":"s","value":412.3}`, c)
		}
	}
	if len(j.known[colBenchmark].text) == 0 {
		return j.fail(j.known[colBenchmark].at, "found no benchmark, expected its name")
	}
	var v compare.Value
	for _, to := range [...]struct {
		c     column
		label *string
	}{{colBenchmark, &v.Benchmark}, {colMetric, &v.Metric}, {colUnit, &v.Unit}, {colProfile, &v.Profile},
		{colMachine, &v.Machine}, {colSession, &v.Session}, {colBlock, &v.Block}, {colRun, &v.Run}} {
		if j.known[to.c].kind == 0 {
			continue
		}
		*to.label = j.pool.keepBytes(j.known[to.c].text)
		if err := checkName(*to.label); err != nil {
			return j.fail(j.known[to.c].at, "%s", err)
		}
	}
	v.Unit = j.pool.unit(j.options.mapped(v.Unit))
	if err := j.aboutRun(&v); err != nil {
		return err
	}
	return j.value(&v)
}

// aboutRun fills in direction, look, time and validity.
func (j *jsonReader) aboutRun(v *compare.Value) error {
	var err error
	if v.Look, err = parseRowLook(string(j.known[colLook].text)); err != nil {
		return j.fail(j.known[colLook].at, "%s", err)
	}
	if v.Better, err = parseBetter(string(j.known[colBetter].text)); err != nil {
		return j.fail(j.known[colBetter].at, "%s", err)
	}
	if s := j.known[colTime].text; len(s) > 0 {
		if v.Time, err = parseTime(string(s)); err != nil {
			return j.fail(j.known[colTime].at, "%s", err)
		}
	}
	valid, err := parseValid(string(j.known[colValid].text))
	if err != nil {
		return j.fail(j.known[colValid].at, "%s", err)
	}
	if !valid {
		if len(j.known[colReason].text) == 0 {
			return j.fail(j.known[colValid].at, "%s", errNoReason)
		}
		v.SetAside, v.Reason = true, j.pool.keepBytes(j.known[colReason].text)
	}
	return nil
}

func (j *jsonReader) value(v *compare.Value) error {
	m := &j.known[colValue]
	v.At = j.place(m.at)
	if len(m.text) == 0 {
		v.Missing = true
		return j.put(v)
	}
	n, err := parseNumber(string(m.text), false)
	if err != nil {
		return placed(v.At, "%s", err)
	}
	if n.clock {
		if v.Unit, err = secondsUnit(v.Unit); err != nil {
			return placed(v.At, "%s", err)
		}
	}
	v.Value = n.value
	return j.put(v)
}

// members finds the keys and values of the line in hand. encoding/json says
// whether the line is JSON and decodes its strings. Its maps and structs would
// swallow a key written twice, and its tokens took ten times as long, so the
// bounds of keys and values are found here; in valid JSON that needs no
// grammar.
func (j *jsonReader) members() error {
	j.known, j.other = [columnCount]member{}, j.other[:0]
	i := j.skip(0, " \t\r\n")
	if j.line[i] != '{' {
		return j.fail(i, "found %s, expected one JSON object a line", excerpt(strings.TrimSpace(string(j.line))))
	}
	for {
		keyAt := j.skip(i+1, " \t\r\n,")
		if j.line[keyAt] == '}' {
			return j.unknown()
		}
		keyEnd := j.end(keyAt)
		at := j.skip(keyEnd, " \t\r\n:")
		i = j.end(at) - 1
		key := j.decoded(keyAt, keyEnd)
		m := member{kind: j.line[at], at: at}
		c, known := columnNamed(string(key))
		if !known {
			m.key, m.at = string(key), keyAt
			j.other = append(j.other, m)
			continue
		}
		if j.known[c].kind != 0 {
			return j.fail(keyAt, "the key %q stands twice in this object; delete one of the two", c)
		}
		if m.kind == '"' {
			m.text = j.decoded(at, i+1)
		} else if m.kind != 'n' {
			m.text = j.line[at : i+1]
		}
		if !fits(c, m.kind) {
			return j.fail(at, "found %s for the key %q, expected %s", excerpt(string(m.text)), c, expectedFor(c))
		}
		j.known[c] = m
	}
}

// fits reports whether a value that begins with kind can stand for c.
func fits(c column, kind byte) bool {
	switch kind {
	case '"', 'n':
		return true
	case 't', 'f':
		return c == colValid
	case '{', '[':
		return false
	}
	switch c {
	case colValue, colProfile, colMachine, colSession, colBlock, colRun, colValid, colLook:
		return true
	}
	return false
}

func expectedFor(c column) string {
	switch c {
	case colValue:
		return "a number, or a string that holds one"
	case colProfile, colMachine, colSession, colBlock, colRun, colLook:
		return "a string or a number"
	case colValid:
		return "true or false"
	}
	return "a string"
}

// skip passes over the bytes in set.
func (j *jsonReader) skip(at int, set string) int {
	for strings.IndexByte(set, j.line[at]) >= 0 {
		at++
	}
	return at
}

// end is the offset behind the value that begins at at.
func (j *jsonReader) end(at int) int {
	depth, quoted := 0, false
	for i := at; ; i++ {
		switch b := j.line[i]; {
		case quoted && b == '\\':
			i++
		case b == '"':
			quoted = !quoted
			if !quoted && depth == 0 {
				return i + 1
			}
		case quoted:
		case b == '{', b == '[':
			depth++
		case b == '}', b == ']':
			if depth == 0 {
				return i
			}
			if depth--; depth == 0 {
				return i + 1
			}
		case depth == 0 && (b == ',' || b == ' ' || b == '\t' || b == '\r' || b == '\n'):
			return i
		}
	}
}

// decoded is the text of the string from at to end, outer white space removed.
func (j *jsonReader) decoded(at, end int) []byte {
	inside := j.line[at+1 : end-1]
	if bytes.IndexByte(inside, '\\') < 0 {
		return bytes.TrimSpace(inside)
	}
	var s string
	// It cannot fail: the line is valid JSON, and a string fits a string.
	_ = json.Unmarshal(j.line[at:end], &s)
	return []byte(strings.TrimSpace(s))
}

// unknown refuses a key that looks like a known one and notes the others.
func (j *jsonReader) unknown() error {
	for _, m := range j.other {
		if c, near := mistypedColumn(m.key, func(c column) bool { return j.known[c].kind != 0 }); near {
			return j.fail(m.at, "%s", errMistyped("key", m.key, c))
		}
		j.note("key %s skipped: its name is none of those known", excerpt(m.key))
	}
	return nil
}

// invalid says where the line stops being JSON.
func (j *jsonReader) invalid() error {
	var whole json.RawMessage
	var syntax *json.SyntaxError
	err := json.Unmarshal(j.line, &whole)
	if !errors.As(err, &syntax) {
		return j.fail(0, "this is no JSON: %s", err)
	}
	at := max(0, int(syntax.Offset)-1)
	switch message := syntax.Error(); {
	case strings.HasPrefix(message, "unexpected end"):
		return j.fail(len(bytes.TrimRight(j.line, " \t\r\n")), "the line ends before its object is closed; write each object on one line")
	case strings.HasSuffix(message, "after top-level value"):
		return j.fail(at, "found more behind the object, expected one JSON object a line")
	default:
		return j.fail(at, "this is no JSON: %s; expected one object a line", message)
	}
}

func (j *jsonReader) place(at int) compare.Place {
	return compare.Place{File: j.src.name, Line: j.no, Column: 1 + utf8.RuneCount(j.line[:at])}
}

func (j *jsonReader) fail(at int, format string, args ...any) error {
	return placed(j.place(at), format, args...)
}
