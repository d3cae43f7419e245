package paper

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"github.com/go-text/typesetting/font/opentype"
	"github.com/paulmach/orb"
	"golang.org/x/image/vector"
)

// Resolutions of a picture in dots per inch: below, letters are lost; above, an A3
// page takes more than 1 GiB.
const leastDPI, mostDPI = 30, 1200

// PNG writes the page as a picture.
func (l *Leaf) PNG(w io.Writer, dpi float64) error {
	if !(dpi >= leastDPI && dpi <= mostDPI) {
		return fmt.Errorf("resolution %g dpi: must be from %d to %d", dpi, leastDPI, mostDPI)
	}
	b := &picture{dots: dpi / 25.4}
	b.RGBA = image.NewRGBA(image.Rect(0, 0, int(math.Round(l.Width*b.dots)), int(math.Round(l.Height*b.dots))))
	b.clip = b.Bounds()
	if err := l.draw(b); err != nil {
		return err
	}
	return png.Encode(w, b.RGBA)
}

// picture is the back that draws dots.
type picture struct {
	*image.RGBA
	dots   float64 // a mm
	clip   image.Rectangle
	outer  []image.Rectangle // those of the groups around
	raster vector.Rasterizer
}

// paint fills closed paths, of which the box in mm is given; what lies within several of them that run the same way round
// is filled once. Only the dots of the box are gone through.
func (b *picture) paint(box orb.Bound, c color.NRGBA, path func(to *vector.Rasterizer, at func(x, y float64) (float32, float32))) {
	dots := image.Rect(int(math.Floor(box.Min[0]*b.dots)), int(math.Floor(box.Min[1]*b.dots)), int(math.Ceil(box.Max[0]*b.dots)), int(math.Ceil(box.Max[1]*b.dots)))
	seen := dots.Intersect(b.clip)
	if seen.Empty() {
		return
	}
	b.raster.Reset(seen.Dx(), seen.Dy())
	path(&b.raster, func(x, y float64) (float32, float32) {
		return float32(x*b.dots - float64(seen.Min.X)), float32(y*b.dots - float64(seen.Min.Y))
	})
	b.raster.Draw(b.RGBA, seen, image.NewUniform(c), image.Point{})
}

// rings fills rings (windings).
func (b *picture) rings(rings []orb.LineString, c color.NRGBA) {
	b.paint(orb.MultiLineString(rings).Bound(), c, func(to *vector.Rasterizer, at func(x, y float64) (float32, float32)) {
		for _, ring := range rings {
			for i, p := range ring {
				if x, y := at(p[0], p[1]); i == 0 {
					to.MoveTo(x, y)
				} else {
					to.LineTo(x, y)
				}
			}
			to.ClosePath()
		}
	})
}

func (b *picture) fill(rings []orb.LineString, c color.NRGBA) { b.rings(rings, c) }

func (b *picture) stroke(lines []orb.LineString, c color.NRGBA, p Pen) {
	if pieces := inkOf(dashed(lines, p.Dash), p.Width/2, p.Round); len(pieces) > 0 {
		b.rings(pieces, c)
	}
}

func (b *picture) letter(w words) {
	outline := w.outline(w.line...)
	if len(outline) == 0 {
		return
	}
	var all orb.MultiPoint
	for _, s := range outline {
		for _, p := range s.ArgsSlice() {
			all = append(all, orb.Point{float64(p.X), float64(p.Y)})
		}
	}
	if w.how.Halo > 0 {
		b.rings(inkOf(flat(outline), w.how.Halo, true), color.NRGBA{255, 255, 255, 255})
	}
	b.paint(all.Bound(), w.colour, func(to *vector.Rasterizer, at func(x, y float64) (float32, float32)) {
		for _, s := range outline {
			a := s.Args
			for i := range a {
				a[i].X, a[i].Y = at(float64(a[i].X), float64(a[i].Y))
			}
			switch s.Op {
			case opentype.SegmentOpMoveTo:
				to.ClosePath()
				to.MoveTo(a[0].X, a[0].Y)
			case opentype.SegmentOpLineTo:
				to.LineTo(a[0].X, a[0].Y)
			case opentype.SegmentOpQuadTo:
				to.QuadTo(a[0].X, a[0].Y, a[1].X, a[1].Y)
			case opentype.SegmentOpCubeTo:
				to.CubeTo(a[0].X, a[0].Y, a[1].X, a[1].Y, a[2].X, a[2].Y)
			}
		}
		to.ClosePath()
	})
}

func (b *picture) begin(g Group) {
	b.outer = append(b.outer, b.clip)
	if c := g.Clip; c != (Box{}) {
		b.clip = b.clip.Intersect(image.Rect(int(math.Round(c.X*b.dots)), int(math.Round(c.Y*b.dots)), int(math.Round((c.X+c.W)*b.dots)), int(math.Round((c.Y+c.H)*b.dots))))
	}
}

func (b *picture) open(Part, string) {}
func (b *picture) close()            {}

func (b *picture) end(Group) {
	b.clip, b.outer = b.outer[len(b.outer)-1], b.outer[:len(b.outer)-1]
}
