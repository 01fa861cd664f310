package report

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"tunegate/compare/report/doc"
)

// Origin says where a page comes from.
type Origin struct {
	Command string // the exact command line
	Version string // of the program
}

//go:embed page.html.tmpl
var pageTemplate string

//go:embed page.css
var pageStyle string

// page is what the template shows: the finding, then sections in their order.
type page struct {
	Title, Kicker, Headline string
	Lead                    []string
	Sections                []pageSection
	Caution                 string
	Style                   template.CSS
	StyleHash               string // of the one style that the policy lets in
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

// write renders the page. Every name in it has been cleaned of what could turn
// or hide text; the template escapes what could be markup.
func (p *page) write(w io.Writer) error {
	t, err := template.New("page").Funcs(template.FuncMap{"nb": unbroken}).Parse(pageTemplate)
	if err != nil {
		return err
	}
	style := paletteCSS() + pictureCSS() + pageStyle
	hash := sha256.Sum256([]byte(style))
	p.Style, p.StyleHash = template.CSS(style), "sha256-"+base64.StdEncoding.EncodeToString(hash[:])
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}

// unbroken keeps a number on one line with its sign of per cent or degree.
func unbroken(s string) string {
	return strings.NewReplacer(" %", "\u00a0%", " °", "\u00a0°").Replace(s)
}

// HTML writes a comparison as one page that needs nothing but itself.
func HTML(w io.Writer, shown ComparisonPage, from Origin) error {
	return doc.Page(w, ComparisonDocument(shown, from), paletteCSS()+pictureCSS())
}

// addPictures draws pictures for both widths.
func (p *page) addPictures(title string, pictures []*Picture) {
	s := pageSection{Title: title}
	already := 0
	for _, other := range p.Sections {
		already += len(other.Pictures)
	}
	for i, pic := range pictures {
		table := pageTable{Label: "numbers behind: " + pic.Title, Head: pic.Head}
		for _, row := range pic.Rows {
			var cells []pageCell
			for _, text := range row {
				cells = append(cells, pageCell{Text: text})
			}
			table.Rows = append(table.Rows, cells)
		}
		shown := pagePicture{Title: pic.Title, Caption: pic.Caption, Table: table, Grid: pic.columns > 1 && len(pic.parts) > 1, Single: len(pic.parts) == 1}
		for k, part := range pic.parts {
			drawn := func(width float64, class string) template.HTML {
				title, desc := pic.Title, pic.alt()
				if len(pic.parts) > 1 {
					title, desc = part.name, part.desc
				}
				var b bytes.Buffer
				part.draw(width).svg(&b, fmt.Sprintf("picture-%d-%d-%s", already+i+1, k+1, class), title, desc, class, "")
				return template.HTML(b.String())
			}
			if shown.Grid {
				shown.Drawings = append(shown.Drawings, drawn(halfWidth, "half"))
			} else {
				shown.Drawings = append(shown.Drawings, drawn(wideWidth, "wide"), drawn(narrowWidth, "narrow"))
			}
		}
		s.Pictures = append(s.Pictures, shown)
	}
	p.Sections = append(p.Sections, s)
}
