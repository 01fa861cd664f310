package report

import (
	"io"

	"tunegate/compare/report/doc"
)

// Origin says where a page comes from.
type Origin struct {
	Command string // the exact command line
	Version string // of the program
}

// Page writes a document as one page that needs nothing but itself.
func Page(w io.Writer, d doc.Document) error { return doc.Page(w, d, paletteCSS()+pictureCSS()) }
