package report

import (
	_ "embed"
	"html/template"
	"io"

	"tunegate/compare/report/doc"
)

// Origin says where a page comes from.
type Origin struct {
	Command string // the exact command line
	Version string // of the program
}

type pageSection struct {
	Title    string
	Text     []string
	Lists    []pageList
	Pictures []pagePicture
	Tables   []pageTable
	Facts    [][2]string
}

type pageList struct {
	Title, Class string
	Lines        []string
}

type pagePicture struct {
	Title, Caption string
	Drawings       []template.HTML // made by drawing.svg, which escapes
	Grid, Single   bool            // several side by side, or one
	Table          pageTable
}

type pageTable struct {
	Title, Label string
	Head         []string
	Rows         [][]pageCell
}

type pageCell struct{ Text, Below, Sign, Color, Class string }

// HTML writes a comparison as one page that needs nothing but itself.
func HTML(w io.Writer, shown ComparisonPage, from Origin) error {
	return doc.Page(w, ComparisonDocument(shown, from), paletteCSS()+pictureCSS())
}
