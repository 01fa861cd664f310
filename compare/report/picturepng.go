package report

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"tunegate/compare/report/doc"
)

// pngScale is how many pixels of a PNG one CSS pixel takes.
const pngScale = 2

// PNG writes the picture on a light ground, 1,520 pixels wide.
func (p *Picture) PNG(w io.Writer) error {
	d := p.standing()
	size := image.Rect(0, 0, int(math.Ceil(d.width*pngScale)), int(math.Ceil(d.height*pngScale)))
	c := &canvas{img: image.NewRGBA(size), faces: map[faceKey]font.Face{}}
	for _, i := range d.items {
		if err := c.item(i); err != nil {
			return err
		}
	}
	return png.Encode(w, c.img)
}

type faceKey struct {
	size float64
	bold bool
}

// canvas paints items; lengths are turned into its pixels on the way in.
type canvas struct {
	img   *image.RGBA
	faces map[faceKey]font.Face
}

func (c *canvas) item(i item) error {
	at := make([]point, len(i.at))
	for k, p := range i.at {
		at[k] = point{p.x * pngScale, p.y * pngScale}
	}
	switch {
	case i.text != "":
		return c.words(i, at[0])
	case i.mark != nil:
		for _, p := range at {
			outline := i.mark.outline(p, i.r*pngScale)
			if outline == nil {
				outline = circle(p, i.r*pngScale)
			}
			c.fill(i.paint.fill, outline)
			c.stroke(i.paint, append(outline, outline[0]))
		}
	case i.closed:
		c.fill(i.paint.fill, at)
		c.stroke(i.paint, append(at, at[0]))
	default:
		c.stroke(i.paint, at)
	}
	return nil
}

func circle(p point, r float64) []point {
	out := make([]point, 32)
	for k := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(len(out)))
		out[k] = point{p.x + r*cos, p.y + r*sin}
	}
	return out
}

func (c *canvas) words(i item, at point) error {
	key := faceKey{i.size, i.bold}
	face := c.faces[key]
	if face == nil {
		var err error
		if face, err = opentype.NewFace(faces()[i.bold], &opentype.FaceOptions{Size: i.size * pngScale, DPI: 72}); err != nil {
			return err
		}
		c.faces[key] = face
	}
	d := font.Drawer{Dst: c.img, Src: image.NewUniform(colour(i.paint.fill)), Face: face}
	x := at.x
	switch i.anchor {
	case "middle":
		x -= float64(d.MeasureString(i.text)) / 64 / 2
	case "end":
		x -= float64(d.MeasureString(i.text)) / 64
	}
	d.Dot = fixed.Point26_6{X: fixed.Int26_6(x * 64), Y: fixed.Int26_6(at.y * 64)}
	d.DrawString(i.text)
	return nil
}

// fill paints an area.
func (c *canvas) fill(name string, at []point) {
	if name == "" || len(at) < 3 {
		return
	}
	x0, y0, x1, y1 := at[0].x, at[0].y, at[0].x, at[0].y
	for _, p := range at {
		x0, y0, x1, y1 = math.Min(x0, p.x), math.Min(y0, p.y), math.Max(x1, p.x), math.Max(y1, p.y)
	}
	bounds := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1))+1, int(math.Ceil(y1))+1).Intersect(c.img.Bounds())
	if bounds.Empty() {
		return
	}
	r := vector.NewRasterizer(bounds.Dx(), bounds.Dy())
	for k, p := range at {
		x, y := float32(p.x-float64(bounds.Min.X)), float32(p.y-float64(bounds.Min.Y))
		if k == 0 {
			r.MoveTo(x, y)
		} else {
			r.LineTo(x, y)
		}
	}
	r.ClosePath()
	r.Draw(c.img, bounds, image.NewUniform(colour(name)), image.Point{})
}

// stroke paints a line, piece by piece, round where pieces meet.
func (c *canvas) stroke(p paint, at []point) {
	if p.stroke == "" || len(at) < 2 {
		return
	}
	half := p.width * pngScale / 2
	on, off := math.Inf(1), 0.0
	if p.dashed {
		on, off = 4*pngScale, 3*pngScale
	}
	drawn := 0.0 // along the line, for the dashes
	for k := 1; k < len(at); k++ {
		a, b := at[k-1], at[k]
		length := math.Hypot(b.x-a.x, b.y-a.y)
		if length == 0 {
			continue
		}
		ux, uy := (b.x-a.x)/length, (b.y-a.y)/length
		for s := 0.0; s < length; {
			phase := math.Mod(drawn+s, on+off)
			if p.dashed && phase >= on {
				s += on + off - phase
				continue
			}
			e := length
			if p.dashed {
				e = math.Min(length, s+on-phase)
			}
			from, to := point{a.x + ux*s, a.y + uy*s}, point{a.x + ux*e, a.y + uy*e}
			c.fill(p.stroke, []point{
				{from.x - uy*half, from.y + ux*half}, {to.x - uy*half, to.y + ux*half},
				{to.x + uy*half, to.y - ux*half}, {from.x + uy*half, from.y - ux*half},
			})
			s = e
			if e < length {
				s += 1e-9
			}
		}
		drawn += length
		if k+1 < len(at) && !p.dashed && half > 1 {
			c.fill(p.stroke, circle(b, half))
		}
	}
}

// colour is that of the palette on a light ground.
func colour(name string) color.Color {
	var c color.RGBA
	c.A = 255
	fmt.Sscanf(doc.Palette[name].Light, "#%02x%02x%02x", &c.R, &c.G, &c.B)
	return c
}
