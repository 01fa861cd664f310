package intake

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/net/html"

	"tunegate/compare"
	"tunegate/compare/claims"
	"tunegate/compare/internal/pattern"
)

// maxPage is the largest page, in bytes.
const maxPage = 8 << 20

// IsPage reports whether a file is one of those that Page reads, by its ending.
func IsPage(name string) bool {
	return slices.Contains([]string{".html", ".htm", ".xhtml", ".md", ".markdown", ".txt"}, strings.ToLower(filepath.Ext(name)))
}

// Page reads a page as readers see it: HTML, else Markdown or plain text. Of HTML,
// scripts, styles and comments are left out, and texts in the place of pictures and
// the description for search engines are read.
func Page(data []byte, name string) ([]claims.Passage, error) {
	switch {
	case len(data) > maxPage:
		return nil, placed(compare.Place{File: name}, "found %d bytes, expected at most %d; split the page", len(data), maxPage)
	case !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0:
		return nil, placed(compare.Place{File: name}, "this is no text in UTF-8; save it as UTF-8")
	}
	p := &pageReader{at: compare.Place{File: name, Line: 1, Column: 1}}
	switch strings.ToLower(filepath.Ext(name)) {
	case ".html", ".htm", ".xhtml":
		if err := p.html(data); err != nil {
			return nil, fmt.Errorf("cannot read %s: %w", name, err)
		}
	default:
		p.plain(string(data))
	}
	p.flush()
	return p.passages, nil
}

// pageReader collects passages. at is the place of what comes next in the file.
type pageReader struct {
	passages []claims.Passage
	text     strings.Builder
	marks    []claims.Mark
	at       compare.Place
	marked   bool // the text goes on where the last mark says
}

// flush ends a passage.
func (p *pageReader) flush() {
	if strings.TrimSpace(p.text.String()) != "" {
		p.passages = append(p.passages, claims.Passage{Text: p.text.String(), Marks: p.marks})
	}
	p.text.Reset()
	p.marks, p.marked = nil, false
}

// write adds text that stands in the file as source.
func (p *pageReader) write(text, source string) {
	for len(text) > 0 {
		r, size := utf8.DecodeRuneInString(text)
		written := text[:size]
		space := unicode.IsSpace(r) && !strings.ContainsRune("\u00a0\u2007\u2009\u202f", r)
		if space {
			written = " "
		}
		if space && (p.text.Len() == 0 || strings.HasSuffix(p.text.String(), " ")) {
			p.marked = false
		} else {
			if !p.marked {
				p.marks, p.marked = append(p.marks, claims.Mark{Offset: p.text.Len(), At: p.at}), true
			}
			p.text.WriteString(written)
		}
		if source != "" && len(text) == len(source) { // as it stands in the file
			p.skip(source[:size])
			source = source[size:]
		}
		text = text[size:]
	}
	if source != "" {
		p.skip(source)
		p.marked = false
	}
}

// skip goes past a part of the file that is not read.
func (p *pageReader) skip(source string) {
	if i := strings.LastIndexByte(source, '\n'); i >= 0 {
		p.at.Line += strings.Count(source, "\n")
		p.at.Column, p.marked = 1, false
		source = source[i+1:]
	}
	p.at.Column += utf8.RuneCountInString(source)
}

// inlineElements do not end a passage.
var inlineElements = strings.Fields("a abbr b bdi bdo cite code data del dfn em font i img ins kbd label mark q s samp small " +
	"span strong sub sup time tt u var wbr")

// spaceElements stand for a space in a passage: the cells of a row, a line's end.
var spaceElements = []string{"br", "td", "th"}

// hiddenElements hold text that is not shown.
var hiddenElements = []string{"script", "style", "template"}

var entity = pattern.Lazy(`&#?[0-9A-Za-z]+;?`)

func (p *pageReader) html(data []byte) error {
	z := html.NewTokenizer(bytes.NewReader(data))
	hidden := ""
	for {
		kind := z.Next()
		raw := string(z.Raw())
		switch kind {
		case html.ErrorToken:
			if err := z.Err(); !errors.Is(err, io.EOF) {
				return err
			}
			return nil
		case html.TextToken:
			if hidden != "" {
				p.skip(raw)
				p.marked = false
				continue
			}
			rest := raw
			for _, found := range entity().FindAllString(raw, -1) {
				i := strings.Index(rest, found)
				p.write(rest[:i], rest[:i])
				p.write(html.UnescapeString(found), found)
				rest = rest[i+len(found):]
			}
			p.write(rest, rest)
			continue
		case html.StartTagToken, html.SelfClosingTagToken, html.EndTagToken:
			t := z.Token()
			switch {
			case slices.Contains(hiddenElements, t.Data):
				if kind == html.StartTagToken && hidden == "" {
					hidden = t.Data
				} else if kind == html.EndTagToken && hidden == t.Data {
					hidden = ""
				}
			case hidden != "":
			case slices.Contains(spaceElements, t.Data):
				p.write(" ", "")
			case !slices.Contains(inlineElements, t.Data):
				p.flush()
			}
			if kind != html.EndTagToken && hidden == "" {
				p.attributes(t)
			}
		}
		p.skip(raw)
		p.marked = false
	}
}

// attributes reads the texts of an element that readers or search engines see, each
// as a passage of its own at the element's place.
func (p *pageReader) attributes(t html.Token) {
	described := false
	for _, a := range t.Attr {
		value := strings.ToLower(a.Val)
		isName := a.Key == "name" || a.Key == "property"
		described = described || isName && (strings.Contains(value, "description") || strings.Contains(value, "title"))
	}
	for _, a := range t.Attr {
		if slices.Contains([]string{"alt", "title", "aria-label"}, a.Key) || t.Data == "meta" && a.Key == "content" && described {
			if text := strings.Join(strings.Fields(a.Val), " "); text != "" {
				p.passages = append(p.passages, claims.Passage{Text: text, Marks: []claims.Mark{{At: p.at, Whole: true}}})
			}
		}
	}
}

// plainSkipped is what Markdown does not show: emphasis, code marks, tags, comments.
var plainSkipped = pattern.Lazy("(?s)<!--.*?-->|</?[A-Za-z][^<>]*>|\\*+|`+|~~|\\b_+|_+\\b")

// plainEnd ends a passage: an empty line, a list item, a heading, a row of a table.
var plainEnd = pattern.Lazy(`\n[ \t]*(?:\r?\n)+|\n[ \t]*(?:[-*+#>|]|[0-9]+[.)]\s)`)

func (p *pageReader) plain(text string) {
	for text != "" {
		end := len(text)
		if at := plainEnd().FindStringIndex(text); at != nil {
			end = at[0] + 1
		}
		if i := strings.IndexByte(text, '\n'); strings.HasPrefix(text, "#") && i >= 0 { // a heading
			end = i + 1
		}
		part := text[:end]
		text = text[end:]
		for _, at := range plainSkipped().FindAllStringIndex(part, -1) {
			i := at[0] - (end - len(part))
			p.write(part[:i], part[:i])
			p.skip(part[i : i+at[1]-at[0]])
			p.marked = false
			part = part[i+at[1]-at[0]:]
		}
		p.write(part, part)
		p.flush()
	}
}
