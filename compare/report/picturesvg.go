package report

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"tunegate/compare/report/doc"
)

// SVG writes the picture as a file of its own: the finding above, the caption
// below, text as text, and dark where the reader's system is.
func (p *Picture) SVG(w io.Writer) error {
	d := p.standing()
	var b bytes.Buffer
	b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	d.svg(&b, "picture", p.Title, p.alt(), "", "<style>\n"+doc.PaletteCSS()+pictureCSS()+"</style>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// standing is the picture as it stands alone.
func (p *Picture) standing() *drawing {
	const margin = 20
	body := p.whole()
	out := &drawing{width: wideWidth + 2*margin}
	out.box(paint{fill: "panel"}, 0, 0, 0, 0)
	y := 14.0
	for _, l := range wrappedTo(p.Title, wideWidth, 18, true) {
		y += 24
		out.words(margin, y, 18, "ink", "start", l).bold = true
	}
	y += 16
	out.place(body, margin, y)
	y += body.height + 6
	for _, l := range wrappedTo(p.Caption, wideWidth, 12, false) {
		y += 17
		out.words(margin, y, 12, "muted", "start", l)
	}
	out.height = y + margin
	out.items[0].at = []point{{0, 0}, {out.width, 0}, {out.width, out.height}, {0, out.height}}
	return out
}

// whole puts the parts together.
func (p *Picture) whole() *drawing {
	width, columns := float64(wideWidth), max(1, min(p.columns, len(p.parts)))
	if columns > 1 {
		width = halfWidth
	}
	out := &drawing{width: wideWidth}
	for i := 0; i < len(p.parts); i += columns {
		tallest := 0.0
		for k := i; k < min(len(p.parts), i+columns); k++ {
			d := p.parts[k].draw(width)
			out.place(d, float64(k-i)*(width+gap), out.height)
			tallest = math.Max(tallest, d.height)
		}
		out.height += tallest + 16
	}
	out.height -= 16
	return out
}

// alt describes the picture for readers who cannot see it.
func (p *Picture) alt() string {
	s := p.Caption
	if n := len(p.Rows); n > 0 && n <= 12 {
		for _, row := range p.Rows {
			s += " " + strings.Join(row, ", ") + "."
		}
	}
	return s
}

// svg writes the drawing as an element. Its id is also that of its title and
// description, with -title and -desc behind it.
func (d *drawing) svg(b *bytes.Buffer, id, title, desc, class, style string) {
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" id="%s" aria-labelledby="%[1]s-title"`, id)
	fmt.Fprintf(b, ` aria-describedby="%s-desc" viewBox="0 0 %s %s"`, id, px(d.width), px(d.height))
	if class != "" {
		fmt.Fprintf(b, ` class="%s"`, class)
	} else {
		fmt.Fprintf(b, ` width="%s" height="%s"`, px(d.width), px(d.height))
	}
	fmt.Fprintf(b, ">\n<title id=\"%[1]s-title\">%[2]s</title>\n<desc id=\"%[1]s-desc\">%[3]s</desc>\n%[4]s",
		id, escapeXML(title), escapeXML(desc), style)
	for _, i := range d.items {
		i.svg(b)
	}
	b.WriteString("</svg>\n")
}

func (i *item) svg(b *bytes.Buffer) {
	attributes := ""
	var classes []string
	if i.paint.stroke != "" {
		classes = append(classes, "s-"+i.paint.stroke)
	}
	if i.paint.fill != "" {
		classes = append(classes, "f-"+i.paint.fill)
	}
	if i.bold {
		classes = append(classes, "b")
	}
	attributes += fmt.Sprintf(` class="%s"`, strings.Join(classes, " "))
	if i.role != "" {
		attributes += fmt.Sprintf(` data-is="%s"`, i.role)
	}
	if i.of != "" {
		attributes += fmt.Sprintf(` data-of="%s"`, escapeXML(i.of))
	}
	if i.text != "" {
		anchor := ""
		if i.anchor != "start" {
			anchor = fmt.Sprintf(` text-anchor="%s"`, i.anchor)
		}
		fmt.Fprintf(b, "<text x=\"%s\" y=\"%s\" font-size=\"%s\"%s%s>%s</text>\n",
			px(i.at[0].x), px(i.at[0].y), px(i.size), anchor, attributes, escapeXML(i.text))
		return
	}
	if i.paint.fill == "" {
		attributes += ` fill="none"`
	}
	if i.paint.stroke != "" {
		attributes += fmt.Sprintf(` stroke-width="%s"`, px(i.paint.width))
		if i.paint.dashed {
			attributes += ` stroke-dasharray="4 3"`
		}
	}
	switch {
	case i.mark != nil && *i.mark == disc && i.paint.stroke == "": // very many: round ends of lines without length
		var path strings.Builder
		for _, p := range i.at {
			fmt.Fprintf(&path, "M%s %sh0", px(p.x), px(p.y))
		}
		attributes = strings.Replace(attributes, `class="f-`, `class="s-`, 1)
		fmt.Fprintf(b, "<path d=\"%s\" stroke-width=\"%s\" stroke-linecap=\"round\"%s/>\n", path.String(), px(2*i.r), attributes)
	case i.mark != nil && len(i.at) == 1 && *i.mark == disc:
		fmt.Fprintf(b, "<circle cx=\"%s\" cy=\"%s\" r=\"%s\"%s/>\n", px(i.at[0].x), px(i.at[0].y), px(i.r), attributes)
	case i.mark != nil:
		var path strings.Builder
		for _, p := range i.at {
			if *i.mark == disc {
				radius := math.Round(i.r*10) / 10 // else the arcs miss each other
				r := px(radius)
				fmt.Fprintf(&path, "M%s %sa%s %[3]s 0 1 0 %[4]s 0a%[3]s %[3]s 0 1 0 -%[4]s 0", px(p.x-radius), px(p.y), r, px(2*radius))
				continue
			}
			writePath(&path, i.mark.outline(p, i.r), true)
		}
		fmt.Fprintf(b, "<path d=\"%s\"%s/>\n", path.String(), attributes)
	case len(i.at) == 2 && !i.closed:
		fmt.Fprintf(b, "<line x1=\"%s\" y1=\"%s\" x2=\"%s\" y2=\"%s\"%s/>\n",
			px(i.at[0].x), px(i.at[0].y), px(i.at[1].x), px(i.at[1].y), attributes)
	default:
		var path strings.Builder
		writePath(&path, i.at, i.closed)
		fmt.Fprintf(b, "<path d=\"%s\"%s/>\n", path.String(), attributes)
	}
}

func writePath(path *strings.Builder, at []point, closed bool) {
	for k, p := range at {
		letter := "L"
		if k == 0 {
			letter = "M"
		}
		fmt.Fprintf(path, "%s%s %s", letter, px(p.x), px(p.y))
	}
	if closed {
		path.WriteString("Z")
	}
}

// px writes a length to a tenth of a pixel.
func px(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

func escapeXML(s string) string {
	var b bytes.Buffer
	xml.EscapeText(&b, []byte(Clean(s))) // into memory: cannot fail
	return b.String()
}
