package intake

import (
	"bytes"
	"fmt"
	"io"
	"unicode/utf8"

	"tunegate/compare"
)

const (
	chunkSize = 64 << 10
	// maxLine is the longest line, and the longest row of several lines, in
	// bytes. It bounds what a reader holds at once.
	maxLine = 1 << 20
)

// byteOrderMarks are the mark of UTF-8, and what becomes of it where a shell takes the
// output of a program for the code page 437, 850 or 1252 (as older PowerShells do) and
// then writes question marks.
var byteOrderMarks = []string{"\uFEFF", "∩╗┐", "´╗┐", "ï»¿", "???"}

// text hands on UTF-8 with line feeds: it takes a byte-order mark off, turns a
// single carriage return into a line feed (CR LF stays, encoding/csv and
// encoding/json take it), and ends with an error at the first byte that is no
// UTF-8 and at the first line over maxLine.
type text struct {
	src  io.Reader
	name string
	// expects says what the file should hold, for the error that it is empty.
	expects string
	buf     []byte
	ready   []byte  // checked and not handed on yet
	tail    [4]byte // bytes at the end of a chunk that wait for the next one
	waits   int     // how many of tail are in use
	begun   bool
	endCR   bool // the chunk before ended with a carriage return
	idle    int  // reads in a row that gave nothing
	err     error

	line, column int // place of the next byte
	lineBytes    int
	budget       int  // bytes left until the row in hand is too long
	wide         bool // a character outside ASCII was seen
}

func newText(r io.Reader, name string) *text {
	return &text{src: r, name: name, expects: headerExamples, buf: make([]byte, chunkSize), line: 1, column: 1, budget: 2 * maxLine}
}

// newRow tells that the reader has finished a row.
func (t *text) newRow() { t.budget = 2 * maxLine }

func (t *text) Read(p []byte) (int, error) {
	for len(t.ready) == 0 {
		if t.err != nil {
			return 0, t.err
		}
		t.fill()
	}
	n := copy(p, t.ready)
	t.ready = t.ready[n:]
	return n, nil
}

// errRowTooLong becomes an error with a place where it is known where the
// row began.
var errRowTooLong = fmt.Errorf("row longer than %d bytes", maxLine)

func (t *text) fill() {
	if t.budget < 0 {
		t.err = errRowTooLong
		return
	}
	copy(t.buf, t.tail[:t.waits])
	n, err := t.src.Read(t.buf[t.waits:])
	chunk := t.buf[:t.waits+n]
	t.waits = 0
	if n > 0 {
		t.idle = 0
	} else if t.idle++; t.idle > 100 && err == nil {
		err = io.ErrNoProgress
	}
	if err != nil && err != io.EOF {
		err = fmt.Errorf("%s: cannot be read: %w", t.name, err)
	}
	if !t.begun {
		if len(chunk) < len(t.tail) && err == nil {
			t.wait(chunk)
			return
		}
		t.begun = true
		if t.err = t.checkStart(chunk); t.err != nil {
			return
		}
		for _, mark := range byteOrderMarks {
			if rest, found := bytes.CutPrefix(chunk, []byte(mark)); found {
				chunk = rest
				break
			}
		}
	}
	if t.endCR && len(chunk) > 0 {
		if chunk[0] == '\n' {
			chunk = chunk[1:]
		}
		t.endCR = false
	}
	if err == nil {
		whole := len(chunk) - openRune(chunk)
		t.wait(chunk[whole:])
		chunk = chunk[:whole]
	}
	good := t.validPrefix(chunk)
	bad := chunk[good:]
	chunk = chunk[:good]
	t.lineFeeds(chunk)
	if !t.advance(chunk) {
		t.err = placed(compare.Place{File: t.name, Line: t.line},
			"this line is longer than %d bytes; a file of runs has one row a line", maxLine)
		return
	}
	t.budget -= len(chunk)
	t.ready = chunk
	t.err = err
	if len(bad) > 0 {
		t.err = t.encodingError(bad[0])
	}
}

func (t *text) wait(rest []byte) { t.waits = copy(t.tail[:], rest) }

// openRune counts the bytes of a character that the end of the chunk cuts.
func openRune(chunk []byte) int {
	for n := 1; n < utf8.UTFMax && n <= len(chunk); n++ {
		last := chunk[len(chunk)-n:]
		if utf8.RuneStart(last[0]) {
			if utf8.FullRune(last) {
				return 0
			}
			return n
		}
	}
	return 0
}

// validPrefix counts the bytes before the first one that is no text in UTF-8.
func (t *text) validPrefix(chunk []byte) int {
	end := len(chunk)
	if i := bytes.IndexByte(chunk, 0); i >= 0 {
		end = i
	}
	if !utf8.Valid(chunk[:end]) {
		for i := 0; i < end; {
			r, size := utf8.DecodeRune(chunk[i:end])
			if r == utf8.RuneError && size == 1 {
				end = i
				break
			}
			i += size
		}
	}
	if !t.wide {
		t.wide = asciiPrefix(chunk[:end]) < end
	}
	return end
}

func (t *text) lineFeeds(chunk []byte) {
	for at := 0; ; {
		i := bytes.IndexByte(chunk[at:], '\r')
		if i < 0 {
			return
		}
		at += i
		if at == len(chunk)-1 {
			chunk[at] = '\n'
			t.endCR = true
			return
		}
		if chunk[at+1] != '\n' {
			chunk[at] = '\n'
		}
		at++
	}
}

// advance moves the place over the chunk. It reports false at a line that is
// too long; the place is then on that line. A chunk is shorter than maxLine,
// so only its first and its last line can be.
func (t *text) advance(chunk []byte) bool {
	first := bytes.IndexByte(chunk, '\n')
	if first < 0 {
		t.lineBytes += len(chunk)
		t.column += utf8.RuneCount(chunk)
		return t.lineBytes <= maxLine
	}
	if t.lineBytes+first > maxLine {
		return false
	}
	last := bytes.LastIndexByte(chunk, '\n') + 1
	t.line += bytes.Count(chunk[:last], []byte{'\n'})
	t.lineBytes = len(chunk) - last
	t.column = 1 + utf8.RuneCount(chunk[last:])
	return true
}

func (t *text) checkStart(chunk []byte) error {
	at := compare.Place{File: t.name, Line: 1, Column: 1}
	if bytes.HasPrefix(chunk, []byte("\xD0\xCF\x11\xE0")) {
		return placed(at, "this is a workbook in the old binary form (.xls), or one with a password; save it as .xlsx without one")
	}
	return nil
}

func (t *text) encodingError(b byte) error {
	at := compare.Place{File: t.name, Line: t.line, Column: t.column}
	if b == 0 {
		return placed(at, `found a zero byte, so this is UTF-16 or no text at all, expected UTF-8; save the file as "CSV UTF-8"`)
	}
	return placed(at, `byte 0x%02X is no UTF-8; save the file as "CSV UTF-8"`, b)
}
