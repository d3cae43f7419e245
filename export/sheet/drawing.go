package sheet

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"
)

// fine is how far the drawn line may lie from the true one, in pixels: below
// what any screen or printer at this size shows.
const fine = 0.1

// stressed is the mean width in metres from which a missed strip gets a line of
// its own colour around it, so that it shows on a large field. Narrower ones
// would look worse than they are.
const stressed = 0.10

// faint is the width in pixels below which a ring is not drawn: a fiftieth of a
// pixel is no ink. The panel says how many metres that is.
const faint = 0.02

// frame takes metres to pixels.
type frame struct {
	scale       float64 // pixels per metre
	left, top   float64 // pixels, of the map
	height      float64 // pixels, of the map with its foot
	origin      plane.XY
	x0, y0      float64 // pixels of origin
	fieldCentre float64 // pixels, x
}

func newFrame(r coverage.Result) (frame, error) {
	b := plane.EmptyBox()
	for _, poly := range r.Layers.Field {
		for _, ring := range poly {
			b = b.Extend(ring...)
		}
	}
	size := b.Max.Sub(b.Min)
	if !(size.X > 0 && size.Y > 0) || math.IsInf(size.X+size.Y, 0) {
		return frame{}, errors.New("the field has no extent: no map of it")
	}
	const pad = 14.0 // pixels around the field, so that work outside shows
	room := float64(mapWidth - 2*labelGutter - 2*pad)
	f := frame{left: mapLeft, top: mapTop}
	f.scale = min(room/size.X, (maxMap-footGutter-2*pad)/size.Y)
	f.height = max(minMap, size.Y*f.scale+2*pad+footGutter)
	mid := b.Min.Lerp(b.Max, 0.5)
	f.origin = mid
	f.x0 = mapLeft + mapWidth/2
	f.y0 = f.top + (f.height-footGutter)/2
	f.fieldCentre = f.x0
	return f, nil
}

func (f frame) pixel(p plane.XY) orb.Point {
	return orb.Point{f.x0 + (p.X-f.origin.X)*f.scale, f.y0 - (p.Y-f.origin.Y)*f.scale}
}

// drawing collects SVG elements.
type drawing struct {
	frame
	bytes.Buffer
}

// take gives what was drawn since the last take.
func (d *drawing) take() []byte {
	b := slices.Clone(d.Bytes())
	d.Reset()
	return b
}

// worked draws the ground: what was worked once lies below everything else.
func (d *drawing) worked(r coverage.Result) {
	fmt.Fprintf(d, `<rect x="%d" y="%d" width="%d" height="%.0f" fill="#F7F7F4" stroke="#BBBBBB"/>`+"\n", mapLeft, mapTop, mapWidth, d.height)
	d.WriteString(`<g clip-path="url(#map)" fill-rule="evenodd" stroke-linejoin="round">` + "\n")
	d.area("outside", r.Layers.Outside, `fill="url(#outside)" stroke="#B96B0C" stroke-width="0.4"`)
	d.area("field, worked once", r.Layers.Field, `fill="#E3CF9B"`)
	d.passes(r)
	d.area("twice", r.Layers.Double, `fill="url(#twice)" stroke="#5B7A99" stroke-width="0.4"`)
	d.area("three times or more", r.Layers.Triple, `fill="url(#more)" stroke="#27364A" stroke-width="0.4"`)
	d.area("unknown", r.Layers.Unknown, `fill="url(#unknown)" stroke="#6F6F6F" stroke-width="0.8"`)
	d.area("missed", r.Layers.Missed, `fill="#C2247F" stroke="#C2247F" stroke-width="0.4"`)
	var wide []plane.Polygon
	for _, s := range r.Strips {
		if s.MeanWidth >= stressed {
			wide = append(wide, s.Shape)
		}
	}
	d.area("missed strips of some width", wide, `fill="#C2247F" stroke="#C2247F" stroke-width="1.3"`)
	d.area("headland", r.Layers.Headland, `fill="none" stroke="#333333" stroke-width="1.1" stroke-dasharray="7 4"`)
	var obstacles []plane.Polygon
	for _, poly := range r.Layers.Field {
		for _, hole := range poly[1:] {
			obstacles = append(obstacles, plane.Polygon{hole})
		}
	}
	d.area("obstacles", obstacles, `fill="url(#obstacle)" stroke="#222222" stroke-width="1.4"`)
	d.area("boundary", r.Layers.Field, `fill="none" stroke="#222222" stroke-width="1.6"`)
	d.WriteString("</g>\n")
}

// passes draws the bar centres as hair lines where they lie far enough apart to
// be told from each other.
func (d *drawing) passes(r coverage.Result) {
	if (r.Work.Width-r.Work.Overlap)*d.scale < 5 {
		return
	}
	d.WriteString(`<path id="passes" fill="none" stroke="#A08A4E" stroke-width="0.6" d="`)
	for _, p := range r.Passes {
		line := make(orb.LineString, len(p.Line))
		for i, q := range p.Line {
			line[i] = d.pixel(q)
		}
		d.line(thin(line), false)
	}
	d.WriteString("\"/>\n")
}

// area draws polygons as one path.
func (d *drawing) area(name string, polys []plane.Polygon, style string) {
	if len(polys) == 0 {
		return
	}
	fmt.Fprintf(d, `<path %s d="`, style)
	for _, poly := range polys {
		for _, ring := range poly {
			if width := 2 * math.Abs(ring.Area()) / ring.Perimeter(); !(width*d.scale >= faint) {
				continue
			}
			line := make(orb.LineString, 0, len(ring)+1)
			for _, q := range ring {
				line = append(line, d.pixel(q))
			}
			if len(line) > 0 {
				d.line(thin(append(line, line[0])), true)
			}
		}
	}
	fmt.Fprintf(d, `"><title>%s</title></path>`+"\n", escape(name))
}

// thin leaves out what the eye cannot see on a screen.
func thin(line orb.LineString) orb.LineString { return thinned(line, fine) }

// thinned leaves out points within half of tolerance of the last one, then what
// lies within tolerance of the line (Douglas-Peucker).
func thinned(line orb.LineString, tolerance float64) orb.LineString {
	if len(line) < 3 {
		return line
	}
	kept := line[:1:1]
	for _, p := range line[1 : len(line)-1] {
		q := kept[len(kept)-1]
		if math.Hypot(p[0]-q[0], p[1]-q[1]) > tolerance/2 {
			kept = append(kept, p)
		}
	}
	kept = append(kept, line[len(line)-1])
	return simplify.DouglasPeucker(tolerance).LineString(kept)
}

// line appends path data with one decimal, closed or open.
func (d *drawing) line(pts orb.LineString, closed bool) {
	b := d.AvailableBuffer()
	var last [2]int64
	for i, p := range pts {
		at := [2]int64{int64(math.Round(p[0] * 10)), int64(math.Round(p[1] * 10))}
		switch {
		case i == 0:
			b = append(b, 'M')
		case at == last, closed && i == len(pts)-1:
			continue
		case i == 1:
			b = append(b, 'L')
		default:
			b = append(b, ' ')
		}
		last = at
		b = tenths(b, at[0])
		b = append(b, ' ')
		b = tenths(b, at[1])
	}
	if closed {
		b = append(b, 'Z')
	}
	d.Write(b)
}

func tenths(b []byte, v int64) []byte {
	if v < 0 {
		b, v = append(b, '-'), -v
	}
	b = strconv.AppendInt(b, v/10, 10)
	if v%10 != 0 {
		b = append(b, '.', byte('0'+v%10))
	}
	return b
}

// text draws one line of text.
func (d *drawing) text(x, y, size float64, attr, s string) {
	if attr != "" {
		attr = " " + attr
	}
	fmt.Fprintf(d, `<text x="%.1f" y="%.1f" font-size="%g"%s>%s</text>`+"\n", x, y, size, attr, escape(s))
}

// escape is text out of files and calls as SVG holds it.
func escape(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(geo.Shown(s))); err != nil {
		return "" // a strings.Builder does not fail
	}
	return b.String()
}

// document writes a drawing as an SVG file of its own: defs are patterns and the
// like, body lies on white paper.
func document(w io.Writer, width, height float64, title, defs string, body ...[]byte) error {
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f" viewBox="0 0 %.0f %.0f" font-family="DejaVu Sans, Verdana, Arial, sans-serif">`+"\n", width, height, width, height)
	fmt.Fprintf(&out, "<title>%s</title>\n", escape(title))
	out.WriteString(defs)
	fmt.Fprintf(&out, `<rect width="%.0f" height="%.0f" fill="#FFFFFF"/>`+"\n", width, height)
	for _, b := range body {
		out.Write(b)
	}
	out.WriteString("</svg>\n")
	_, err := w.Write(out.Bytes())
	return err
}

// mapClip is the clip path "map" of a map so high, in pixels.
func mapClip(height float64) string {
	return fmt.Sprintf(`<clipPath id="map"><rect x="%d" y="%d" width="%d" height="%.0f"/></clipPath>`+"\n", mapLeft, mapTop, mapWidth, height)
}
