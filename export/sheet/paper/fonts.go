package paper

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"balk/geo"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/text"
	"golang.org/x/text/unicode/norm"
)

// Fonts are those of one sheet. They are read anew for each, since shaping keeps
// notes in them.
type Fonts struct {
	regular, bold []*canvas.Font // tried in this order
	Lacking       bool           // a letter was asked for that none of them has
	// outlined are those of the machine. What they set is drawn as outlines, as on a print: then
	// no file holds a font whose licence nobody has looked at.
	outlined map[*canvas.Font]bool
	Fault    error // the first in drawing outlines
}

// Bits of a font's fsType (OpenType, table OS/2): without leave to embed, or in
// pictures only, it must not go into a file.
const (
	fontRestricted = 0x0002
	fontBitmapOnly = 0x0200
)

// LoadFonts reads the sheet's own fonts and further ones.
func LoadFonts(more [][]byte) (*Fonts, error) {
	f := Fonts{outlined: map[*canvas.Font]bool{}}
	regular, err := canvas.LoadFont(dejavusanscondensed.TTF, 0, canvas.FontRegular)
	if err != nil {
		return nil, fmt.Errorf("the sheet's own font: %w", err)
	}
	bold, err := canvas.LoadFont(dejavusanscondensedbold.TTF, 0, canvas.FontBold)
	if err != nil {
		return nil, fmt.Errorf("the sheet's own bold font: %w", err)
	}
	for _, one := range []*canvas.Font{regular, bold} {
		one.SetFeatures("liga=0") // "fi" as one sign is not found by a search
	}
	f.regular, f.bold = []*canvas.Font{regular}, []*canvas.Font{bold, regular}
	for i, b := range more {
		one, err := loadFont(slices.Clone(b))
		if err != nil {
			return nil, fmt.Errorf("further font %d: %w", i+1, err)
		}
		f.regular, f.bold = append(f.regular, one), append(f.bold, one)
	}
	return &f, nil
}

// CheckFont says whether a font from outside can be used.
func CheckFont(b []byte) error {
	_, err := loadFont(slices.Clone(b))
	return err
}

// loadFont reads a font from outside, and keeps b; a broken one is an error, whatever the
// reader makes of it.
func loadFont(b []byte) (f *canvas.Font, err error) {
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, fmt.Errorf("broken: %v", p)
		}
	}()
	if f, err = canvas.LoadFont(b, 0, canvas.FontRegular); err != nil {
		return nil, err
	}
	if f.SFNT.OS2 != nil && f.SFNT.OS2.FsType&(fontRestricted|fontBitmapOnly) != 0 {
		return nil, fmt.Errorf("fsType %#04x: its licence must allow embedding", f.SFNT.OS2.FsType)
	}
	return f, nil
}

// align is which part of a line of text stands at its place.
type align int

const (
	alignLeft align = iota
	Centre
	Right
)

// Lettering is how a line of text is set.
type Lettering struct {
	Size   float64 // points
	Bold   bool
	Grey   bool // less important
	Colour string
	Align  align   // of the text at the place
	Turn   float64 // degrees counter-clockwise
}

func (t Lettering) colour() string {
	switch {
	case t.Colour != "":
		return t.Colour
	case t.Grey:
		return "#444444"
	}
	return Black
}

// piece is a run of letters in one font and one direction, where it stands in a
// line.
type piece struct {
	text     *canvas.Text
	x        float64 // mm from the line's left end
	width    float64 // mm
	outlined bool    // to be drawn, not written
	own      bool    // in a font of the sheet's own
}

// holders gives the letters of s as they can be printed, each with the first font
// that has it. What none has stands as its number in Unicode in square brackets; marks
// that show nothing are left out.
func (f *Fonts) holders(s string, bold bool) (letters []rune, with []*canvas.Font) {
	chain := f.regular
	if bold {
		chain = f.bold
	}
	add := func(font *canvas.Font, s string) {
		for _, r := range s {
			letters, with = append(letters, r), append(with, font)
		}
	}
	open := false // within brackets
	all := []rune(norm.NFC.String(geo.Shown(s)))
	var whole *canvas.Font // has all of the run of one script that ends before end
	end := 0
	for i, r := range all {
		if i == end {
			end = i + runOf(all[i:])
			whole = holder(chain, withoutJoiners(all[i:end])...)
		}
		font := whole
		if font == nil {
			font = holder(chain, r)
			if n := len(with); n > 0 && joins(r) && with[n-1].SFNT.GlyphIndex(r) != 0 {
				font = with[n-1] // a mark stays with its letter
			}
		}
		switch {
		case font == nil && unicode.Is(unicode.Cf, r):
			continue
		case font == nil:
			f.Lacking = true
			lead := "["
			if open {
				lead = " "
			}
			add(chain[0], lead+fmt.Sprintf("U+%04X", r))
			open = true
			continue
		}
		if open {
			add(chain[0], "]")
			open = false
		}
		add(font, string(r))
	}
	if open {
		add(chain[0], "]")
	}
	return letters, with
}

// holder is the first font with all letters; nil if none.
func holder(chain []*canvas.Font, letters ...rune) *canvas.Font {
	for _, f := range chain {
		if !slices.ContainsFunc(letters, func(r rune) bool { return f.SFNT.GlyphIndex(r) == 0 }) {
			return f
		}
	}
	return nil
}

// joins says whether a letter belongs to the one before it: marks, and what joins letters or
// keeps them apart.
func joins(r rune) bool { return unicode.IsMark(r) || unicode.Is(unicode.Join_Control, r) }

// withoutJoiners are the letters that have a shape: joiners steer those of others, and shaping
// needs none of them in the font.
func withoutJoiners(letters []rune) []rune {
	return slices.DeleteFunc(slices.Clone(letters), func(r rune) bool { return unicode.Is(unicode.Join_Control, r) })
}

// runOf is how many of the letters, from the first, are of one script, with marks and joiners:
// letters that join or stand on each other must come from one font.
func runOf(letters []rune) int {
	script := text.LookupScript(letters[0])
	n := 1
	for n < len(letters) && (joins(letters[n]) || script != text.ScriptCommon && text.LookupScript(letters[n]) == script) {
		n++
	}
	return n
}

// set makes a line of text ready to draw, and gives its width in mm. Runs stand as
// the Unicode bidirectional algorithm orders them (UAX 9, rule L2): from the highest
// level down to the lowest odd one, runs of that level or higher are turned round.
// The library does that for lines of one font only.
func (f *Fonts) set(t Lettering, s string) (line []piece, width float64) {
	letters, with := f.holders(s, t.Bold)
	if len(letters) == 0 {
		return nil, 0
	}
	paint := canvas.Hex(t.colour())
	levels := text.EmbeddingLevels(letters)
	var of []int // level of each piece
	for from := 0; from < len(letters); {
		to := from + 1
		for to < len(letters) && with[to] == with[from] && levels[to] == levels[from] {
			to++
		}
		face := with[from].Face(t.Size, paint)
		face.Direction = text.LeftToRight
		if levels[from]%2 == 1 {
			face.Direction = text.RightToLeft
		}
		p := piece{text: canvas.NewTextLine(face, string(letters[from:to]), canvas.Left), outlined: f.outlined[with[from]], own: with[from] == f.regular[0] || with[from] == f.bold[0]}
		p.text.WalkSpans(func(x, _ float64, span canvas.TextSpan) { p.width = max(p.width, x+span.Width) })
		line, of = append(line, p), append(of, levels[from])
		from = to
	}
	for level := slices.Max(of); level > 0; level-- {
		for from := 0; from < len(line); from++ {
			to := from
			for to < len(line) && of[to] >= level {
				to++
			}
			slices.Reverse(line[from:to])
			slices.Reverse(of[from:to])
			from = to
		}
	}
	for i := range line {
		line[i].x = width
		width += line[i].width
	}
	return line, width
}

// Width is how wide s gets, in mm.
func (f *Fonts) Width(t Lettering, s string) float64 {
	_, w := f.set(t, s)
	return w
}

// Fit cuts s so that it is at most so many mm wide, and shows that it did.
func (f *Fonts) Fit(t Lettering, s string, room float64) string {
	if f.Width(t, s) <= room {
		return s
	}
	letters := []rune(s)
	lo, hi := 0, len(letters)-1 // letters kept: lo fit
	for lo < hi {
		mid := (lo + hi + 1) / 2
		if f.Width(t, string(letters[:mid])+"…") <= room {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	for lo > 0 && joins(letters[lo]) {
		lo-- // no mark without its letter
	}
	return string(letters[:lo]) + "…"
}

// Wrap breaks s into lines at most so many mm wide: at blanks, and within words
// that are wider than a line.
func (f *Fonts) Wrap(t Lettering, s string, room float64) []string {
	var lines []string
	for _, paragraph := range strings.Split(s, "\n") {
		line := ""
		for _, word := range strings.Fields(paragraph) {
			if line != "" && f.Width(t, line+" "+word) <= room {
				line += " " + word
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for f.Width(t, word) > room {
				part := []rune(strings.TrimSuffix(f.Fit(t, word, room), "…"))
				if len(part) == 0 {
					break // not even one letter fits
				}
				lines = append(lines, string(part))
				word = string([]rune(word)[len(part):])
			}
			line = word
		}
		if line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}
