// Package workbook reads the cells of spreadsheet workbooks (.xlsx and .xlsm, Office
// Open XML, ECMA-376) row by row. A sheet is never held in memory; the texts that its
// cells share are. What a file can make the reader hold or do is bounded.
package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

// Bounds on what a file may make the reader do.
const (
	maxParts       = 10_000    // files within the workbook
	maxSheetBytes  = 512 << 20 // unpacked, of one sheet
	maxOtherBytes  = 48 << 20  // unpacked, of any other part
	maxSharedBytes = 48 << 20  // text that cells share, with 24 bytes for each
	maxSheets      = 1000
	maxStyles      = 100_000
	// MaxColumns is the number of columns that the format allows.
	MaxColumns = 1 << 14
	maxRow     = 1 << 20 // the last row that the format allows
	maxCells   = 20_000_000
	maxText    = 1 << 20 // bytes in one cell
	maxToken   = 4 << 20 // bytes of one element, text or comment, as it is written
)

// Book is a workbook that was opened. Sheets are in the order of their tabs.
type Book struct {
	Sheets  []Sheet
	parts   map[string]*zip.File
	shared  []string
	formats []format // by cell style
	epoch   int      // 1900 or 1904
}

// Sheet is one sheet of a workbook.
type Sheet struct {
	Name   string
	Hidden bool
	part   string
}

// FormatError says that a file is no workbook that can be read: what was found, as a
// sentence with its remedy.
type FormatError struct{ Msg string }

func (e *FormatError) Error() string { return e.Msg }

func broken(format string, args ...any) error {
	return &FormatError{"the workbook is damaged: " + fmt.Sprintf(format, args...) + "; open it in a spreadsheet program and save it anew"}
}

// Open reads what stands beside the sheets. data is the whole file, packed.
func Open(data []byte) (*Book, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, broken("%v", err)
	}
	if len(z.File) > maxParts {
		return nil, broken("it has %d parts, expected at most %d", len(z.File), maxParts)
	}
	b := &Book{parts: map[string]*zip.File{}, epoch: 1900}
	for _, f := range z.File {
		b.parts[strings.ToLower(strings.TrimPrefix(f.Name, "/"))] = f
	}
	switch {
	case b.parts["content.xml"] != nil:
		return nil, &FormatError{"this is an OpenDocument file; save it as .xlsx, or its sheet as CSV UTF-8"}
	case b.parts["xl/workbook.bin"] != nil:
		return nil, &FormatError{"this is a binary workbook (.xlsb); save it as .xlsx"}
	case b.parts["word/document.xml"] != nil:
		return nil, &FormatError{"this is a text document, expected a workbook or CSV"}
	}
	main := b.relations("_rels/.rels", "")["officeDocument"]
	if main == "" {
		main = "xl/workbook.xml"
	}
	if b.parts[main] == nil {
		return nil, &FormatError{"this is a packed archive and no workbook; unpack it, and name a workbook (.xlsx) or a CSV file"}
	}
	if err := b.readMain(main); err != nil {
		return nil, err
	}
	return b, nil
}

// relations reads which parts a part leads to: by kind, and by id.
func (b *Book) relations(name, folder string) map[string]string {
	found := map[string]string{}
	// A part without relations has none; what is missing is told where it is needed.
	_ = b.elements(name, maxOtherBytes, func(x *reader, e xml.StartElement) error {
		if e.Name.Local != "Relationship" || len(found) > maxParts {
			return nil
		}
		target := attribute(e, "Target")
		if rest, absolute := strings.CutPrefix(target, "/"); absolute {
			target = rest
		} else {
			target = path.Join(folder, target)
		}
		target = strings.ToLower(target)
		found[attribute(e, "Id")] = target
		if kind := path.Base(attribute(e, "Type")); found[kind] == "" {
			found[kind] = target
		}
		return nil
	})
	return found
}

func (b *Book) readMain(main string) error {
	folder := path.Dir(main)
	to := b.relations(path.Join(folder, "_rels", path.Base(main)+".rels"), folder)
	err := b.elements(main, maxOtherBytes, func(x *reader, e xml.StartElement) error {
		switch e.Name.Local {
		case "workbookPr":
			if isTrue(attribute(e, "date1904")) {
				b.epoch = 1904
			}
		case "sheet":
			if len(b.Sheets) == maxSheets {
				return broken("it has more than %d sheets", maxSheets)
			}
			part := ""
			for _, a := range e.Attr {
				if a.Name.Local == "id" && a.Name.Space != "" {
					part = to[a.Value]
				}
			}
			if path.Base(path.Dir(part)) == "chartsheets" {
				return nil
			}
			b.Sheets = append(b.Sheets, Sheet{attribute(e, "name"), strings.Contains(strings.ToLower(attribute(e, "state")), "hidden"), part})
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(b.Sheets) == 0 {
		return broken("it has no sheet")
	}
	if part := to["sharedStrings"]; part != "" && b.parts[part] != nil {
		if err := b.readShared(part); err != nil {
			return err
		}
	}
	if part := to["styles"]; part != "" && b.parts[part] != nil {
		return b.readStyles(part)
	}
	return nil
}

// readShared reads the texts that cells share: <si> with a text, or with pieces of
// text, of which phonetic hints are none.
func (b *Book) readShared(part string) error {
	size := 0
	return b.elements(part, maxOtherBytes, func(x *reader, e xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		text, err := x.text("si")
		if err != nil {
			return err
		}
		if size += len(text) + 24; size > maxSharedBytes {
			return broken("its cells share more than %d MB of text", maxSharedBytes>>20)
		}
		b.shared = append(b.shared, text)
		return nil
	})
}

// elements calls each for every element that begins in a part.
func (b *Book) elements(name string, limit int64, each func(*reader, xml.StartElement) error) error {
	x, err := b.open(name, limit)
	if err != nil {
		return err
	}
	defer x.Close()
	for {
		token, err := x.RawToken()
		if err != nil {
			if err == io.EOF {
				return nil
			}
			return x.explain(err)
		}
		if e, ok := token.(xml.StartElement); ok {
			if err := each(x, e); err != nil {
				return err
			}
		}
	}
}

// reader reads the XML of one part.
type reader struct {
	*xml.Decoder
	io.Closer
	left *limit
	part string
}

// limit ends a part that unpacks to too much.
type limit struct {
	r     io.Reader
	left  int64
	token int64 // left for the element, the text or the comment that is being read
}

var (
	errTooLarge = errors.New("it unpacks to more than is taken")
	errToken    = errors.New("one element or text of it is longer than is taken")
)

func (l *limit) Read(p []byte) (int, error) {
	switch {
	case l.left <= 0:
		return 0, errTooLarge
	case l.token <= 0:
		return 0, errToken
	}
	n, err := l.r.Read(p[:min(int64(len(p)), l.left)])
	l.left -= int64(n)
	l.token -= int64(n)
	return n, err
}

// RawToken is that of the decoder, which holds a token in memory, within bounds.
func (x *reader) RawToken() (xml.Token, error) {
	x.left.token = maxToken
	return x.Decoder.RawToken()
}

func (b *Book) open(name string, most int64) (*reader, error) {
	part := b.parts[name]
	if part == nil {
		return nil, broken("its part %q is missing", name)
	}
	r, err := part.Open()
	if err != nil {
		return nil, broken("%s: %v", name, err)
	}
	l := &limit{r, most, maxToken}
	return &reader{xml.NewDecoder(l), r, l, name}, nil
}

func (x *reader) explain(err error) error {
	var known *FormatError
	switch {
	case errors.As(err, &known):
		return err
	case errors.Is(err, errTooLarge), errors.Is(err, errToken):
		return broken("%s: %v", x.part, err)
	case err == io.EOF || err == io.ErrUnexpectedEOF:
		return broken("%s breaks off", x.part)
	}
	return broken("%s: %v", x.part, err)
}

// text is the text up to the end of the element in hand: that of every <t> in it,
// without phonetic hints.
func (x *reader) text(element string) (string, error) {
	first, b := "", []byte(nil)
	inside, phonetic := false, false
	for {
		token, err := x.RawToken()
		if err != nil {
			return "", x.explain(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			inside = inside || e.Name.Local == "t"
			phonetic = phonetic || e.Name.Local == "rPh"
		case xml.EndElement:
			switch e.Name.Local {
			case "t":
				inside = false
			case "rPh":
				phonetic = false
			case element:
				if b != nil {
					return string(b), nil
				}
				return first, nil
			}
		case xml.CharData:
			switch {
			case !inside || phonetic:
			case first == "" && b == nil:
				first = string(e)
			default:
				if b == nil {
					b = []byte(first)
				}
				b = append(b, e...)
			}
			if len(b) > maxText || len(first) > maxText {
				return "", broken("%s holds a cell of more than %d bytes", x.part, maxText)
			}
		}
	}
}

// attribute is an attribute without a prefix, "" where there is none.
func attribute(e xml.StartElement, name string) string {
	for i := range e.Attr {
		if e.Attr[i].Name.Local == name && e.Attr[i].Name.Space == "" {
			return e.Attr[i].Value
		}
	}
	return ""
}

func isTrue(s string) bool { return s == "1" || s == "true" }
