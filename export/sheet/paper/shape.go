package paper

import (
	"bytes"
	"compress/gzip"
	"embed"
	"fmt"
	"io"
	"sync"

	"github.com/go-text/typesetting/di"
	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/language"
	"github.com/go-text/typesetting/shaping"
	"golang.org/x/image/math/fixed"
)

// face is a font as a sheet uses it. Shaping keeps notes in it.
type face struct {
	*font.Face
	own      string     // its name in a PDF, one of the sheet's own; "" = of the machine
	drawing  sync.Mutex // pages are drawn side by side
	outlines map[font.GID][]opentype.Segment
}

// point is a typographic point in mm.
const point = 25.4 / 72

// packed are the sheet's own fonts, gzipped: half of their bytes in the binary.
//
//go:embed fonts/*.gz
var packed embed.FS

// ownFont is one of them, unpacked and read.
type ownFont struct {
	name  string
	bytes []byte
	*font.Font
}

// ownFonts are the sheet's fonts, regular and bold, read once.
var ownFonts = sync.OnceValues(func() ([]ownFont, error) {
	var out []ownFont
	for _, name := range []string{"DejaVuSansCondensed", "DejaVuSansCondensed-Bold"} {
		one := ownFont{name: name}
		b, err := packed.ReadFile("fonts/" + name + ".ttf.gz")
		if err == nil {
			one.bytes, err = unpack(b)
		}
		if err == nil {
			var f *font.Face
			if f, err = font.ParseTTF(bytes.NewReader(one.bytes)); err == nil {
				one.Font = f.Font
			}
		}
		if err != nil {
			return nil, fmt.Errorf("the sheet's own font %s: %w", name, err)
		}
		out = append(out, one)
	}
	return out, nil
})

func unpack(b []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

func newFace(f *font.Font, own string) *face {
	return &face{Face: font.NewFace(f), own: own, outlines: map[font.GID][]opentype.Segment{}}
}

// has says whether the font has a letter.
func (f *face) has(r rune) bool {
	g, ok := f.NominalGlyph(r)
	return ok && g != 0
}

// outline is the outline of a glyph in units of the font, y upwards.
func (f *face) outline(g font.GID) []opentype.Segment {
	f.drawing.Lock()
	defer f.drawing.Unlock()
	out, known := f.outlines[g]
	if !known {
		o, _ := f.GlyphDataOutline(g) // a picture has none, and draws nothing
		out = o.Segments
		f.outlines[g] = out
	}
	return out
}

// glyph is a shape of a font in a line, its origin in units of the font from the line's left end.
type glyph struct {
	id   font.GID
	x, y float64
}

// run is letters of one font, script and direction as they are drawn, in units of the font.
type run struct {
	glyphs  []glyph
	width   float64
	written bool // each letter stands as the font has it for that letter alone, one after the other from the left
}

type runKey struct {
	face    *face
	letters string
	right   bool
}

// shape joins, stacks and kerns letters as their font says.
func (f *Fonts) shape(with *face, letters []rune, right bool) run {
	key := runKey{with, string(letters), right}
	if known, ok := f.shaped[key]; ok {
		return known
	}
	in := shaping.Input{Text: letters, RunEnd: len(letters), Face: with.Face, Size: fixed.I(int(with.Upem())), Script: language.Latin, Language: "en"}
	for _, r := range letters {
		if s := language.LookupScript(r); s.Strong() {
			in.Script = s
			break
		}
	}
	if right {
		in.Direction = di.DirectionRTL
	}
	if with.own != "" {
		in.FontFeatures = []shaping.FontFeature{{Tag: opentype.MustNewTag("liga")}} // "fi" as one sign is not found by a search
	}
	shaped := f.shaper.ShapeNoExtents(in)
	units := func(v fixed.Int26_6) float64 { return float64(v) / 64 }
	out := run{written: with.own != "" && !right && len(shaped.Glyphs) == len(letters)}
	for i, g := range shaped.Glyphs {
		out.glyphs = append(out.glyphs, glyph{g.GlyphID, out.width + units(g.XOffset), units(g.YOffset)})
		out.width += units(g.Advance)
		if out.written {
			alone, _ := with.NominalGlyph(letters[i])
			out.written = alone == g.GlyphID && letters[i] <= mostPDF
		}
	}
	f.shaped[key] = out
	return out
}
