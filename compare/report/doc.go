// Package report writes what the other packages have found, for people and for
// programs. It formats; it computes no statistics.
//
// Each command has one document (*doc.go), which is a value of package doc. That
// package prints it as text, as Markdown and as a page, and knows nothing of
// commands. Blocks that several documents share are in sections.go. The sentences
// of a document are in *words.go and *notes.go. The
// structs of the JSON forms are in *json.go and wire.go; they are apart from the
// structs of the other packages, so that a field there can be renamed. JUnit,
// CSV and the annotations of a pull request are written from the values.
//
// # Pictures and pages
//
// A picture is drawn once, as a list of lines, areas, markers and texts (type
// drawing in picture.go). Two short back ends write it: picturesvg.go and
// picturepng.go. The same code places labels for both. It measures text in the
// Go fonts, which are as wide as a page's own fonts or wider. PNG files can show
// the letters of the Go fonts only (Latin, Greek, Cyrillic); SVG files and pages
// use the reader's fonts.
//
// There is no plotting library, because the SVG of a page needs what
// gonum.org/v1/plot does not do. It keeps text as text. It follows the reader's
// light or dark through CSS custom properties, without inline style, which the
// page's security policy forbids. It has a title, a description and marks that a
// test can read back. It is laid out again for a telephone. A library would save
// axes and ticks, about a hundred lines.
//
// A page has two drawings of a picture, 720 and 343 pixels wide, and CSS shows
// one of them. So text is never scaled below a readable size. Panels that stand
// side by side are drawn once, 348 pixels wide, for both. On paper a page breaks
// between panels.
//
// The colours (doc/palette.go) are those of Okabe and Ito (2008): blue for better,
// orange for worse, of costs as of scores. Verdicts and
// profiles also differ by shape and by being hollow, so that a grey print says
// the same.
//
// A page (doc/page.go, doc/page.html.tmpl, doc/page.css) needs no other file. Its
// security policy allows its one style, by hash, and nothing else. It has no
// script: what folds is a <details> element.
//
// A new picture is a function that returns a *Picture with a title that states
// the finding, a caption that says what to see, the rows behind it, and its
// parts. It is called in pictures.go.
package report
