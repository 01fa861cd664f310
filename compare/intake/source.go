package intake

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	textunicode "golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// source hands on what stands in a file as UTF-8 where its bytes prove another
// encoding: UTF-16 by its mark, Windows-1252 or 1250 where the first byte above
// 0x7F begins no character of UTF-8. What is UTF-8, or nothing of all that, is
// handed on as it is.
type source struct {
	in       *bufio.Reader // the file's bytes
	out      io.Reader     // nil until the encoding is known
	begun    bool
	last     byte   // handed on so far
	encoding string // the one that was proven; empty for UTF-8
	sample   string // a text that shows it
}

func newSource(r io.Reader) *source { return &source{in: bufio.NewReaderSize(r, chunkSize)} }

// isPacked reports whether this is a packed file, such as a workbook.
func (s *source) isPacked() bool {
	begin, _ := s.in.Peek(4)
	return bytes.Equal(begin, []byte("PK\x03\x04"))
}

func (s *source) Read(p []byte) (int, error) {
	if s.out != nil {
		return s.out.Read(p)
	}
	if !s.begun {
		s.begun = true
		begin, _ := s.in.Peek(2)
		if bytes.Equal(begin, []byte("\xFF\xFE")) || bytes.Equal(begin, []byte("\xFE\xFF")) {
			s.encoding = "UTF-16"
			s.out = transform.NewReader(s.in, textunicode.UTF16(textunicode.LittleEndian, textunicode.ExpectBOM).NewDecoder())
			return s.out.Read(p)
		}
	}
	// ASCII is the same in all of them, and handed on until another byte tells.
	if _, err := s.in.Peek(1); err != nil {
		return 0, err
	}
	ready, _ := s.in.Peek(s.in.Buffered())
	n := asciiPrefix(ready[:min(len(ready), len(p))])
	if n > 0 {
		copy(p, ready[:n])
		s.last = ready[n-1]
		return s.in.Discard(n)
	}
	window, _ := s.in.Peek(chunkSize)
	s.out = s.in
	if r, size := utf8.DecodeRune(window); r == utf8.RuneError && size <= 1 && utf8.FullRune(window) {
		if table, name := codePage(append([]byte{s.last}, window...)); table != nil {
			s.encoding, s.sample = name, sampleOf(table, window)
			s.out = transform.NewReader(s.in, table.NewDecoder())
		}
	}
	return s.out.Read(p)
}

func asciiPrefix(b []byte) int {
	i := 0
	for i+8 <= len(b) && binary.LittleEndian.Uint64(b[i:])&0x8080808080808080 == 0 {
		i += 8
	}
	for i < len(b) && b[i] < utf8.RuneSelf {
		i++
	}
	return i
}

// codePage tells which code page bytes are in that are no UTF-8: nil where neither.
// Where nothing tells the two apart it is Windows-1252: they agree on every sign that
// a number or a unit is written with.
func codePage(window []byte) (*charmap.Charmap, string) {
	western, central := charmap.Windows1252, charmap.Windows1250
	is1252, is1250, proof := true, true, false
	for i, b := range window {
		if b < ' ' && b != '\t' && b != '\r' && b != '\n' {
			return nil, "" // no text
		}
		if b < utf8.RuneSelf {
			continue
		}
		is1252 = is1252 && western.DecodeByte(b) != utf8.RuneError
		is1250 = is1250 && central.DecodeByte(b) != utf8.RuneError
		proof = proof || isCentral(window, i)
	}
	switch {
	case is1250 && (proof || !is1252):
		return central, "Windows-1250"
	case is1252:
		return western, "Windows-1252"
	}
	return nil, ""
}

// isCentral reports a byte that is a letter in Windows-1250 and no letter in
// Windows-1252 (ą, ł and ż, within a word), or one that the languages written in that
// do not have there (common knowledge of their spelling, no source): ć and ź for æ
// and Ÿ, and ś for an œ that neither u nor i follows.
func isCentral(window []byte, i int) bool {
	letter := func(i int) bool {
		return i >= 0 && i < len(window) && (window[i] >= 0xC0 || window[i]|0x20 >= 'a' && window[i]|0x20 <= 'z' && window[i] < utf8.RuneSelf)
	}
	switch window[i] {
	case 0xB9, 0xB3, 0xBF:
		return letter(i-1) && letter(i+1)
	case 0xE6, 0xC6, 0x9F, 0x8F:
		return letter(i-1) || letter(i+1)
	case 0x9C, 0x8C:
		return letter(i+1) && window[i+1]|0x20 != 'u' && window[i+1]|0x20 != 'i'
	}
	return false
}

// sampleOf is the first word that is not ASCII, as it is read.
func sampleOf(table *charmap.Charmap, window []byte) string {
	end := 0
	for end < len(window) && end < 30 && (window[end] >= utf8.RuneSelf || window[end]|0x20 >= 'a' && window[end]|0x20 <= 'z') {
		end++
	}
	text, _ := table.NewDecoder().Bytes(window[:end])
	return string(text)
}

// noteEncoding says once which encoding was read.
func (s *sink) noteEncoding(src *source) {
	switch {
	case src.encoding == "UTF-16":
		s.note("the file is in UTF-16")
	case src.encoding != "":
		s.note("the file is in %s, by its bytes, as in %q", src.encoding, src.sample)
	}
}
