package paper

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"balk/geo"

	"github.com/go-text/typesetting/bidi"
	"github.com/go-text/typesetting/language"
	"github.com/go-text/typesetting/shaping"
	"golang.org/x/text/unicode/norm"
)

// Fonts are those of one sheet: for each its own, since shaping keeps notes in them.
type Fonts struct {
	Lacking bool // a letter was asked for that none of them has

	regular, bold []*face // tried in this order
	shaper        shaping.HarfbuzzShaper
	bidi          bidi.Paragraph
	shaped        map[runKey]run
}

// LoadFonts gives the sheet's own fonts.
func LoadFonts() (*Fonts, error) {
	own, err := ownFonts()
	if err != nil {
		return nil, err
	}
	regular, bold := newFace(own[0].Font, own[0].name), newFace(own[1].Font, own[1].name)
	return &Fonts{regular: []*face{regular}, bold: []*face{bold, regular}, shaped: map[runKey]run{}}, nil
}

// align is which part of a line of text stands at its place.
type align int

const (
	Left align = iota
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
	Halo   float64 // mm of white around the letters, so that they are read on lines and patterns
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

// piece is a run of letters in one font, script and direction, where it stands in a
// line.
type piece struct {
	run
	face    *face
	letters []rune
	level   bidi.Level
	x       float64 // mm from the line's left end
}

// right says whether a piece is written from the right.
func (p piece) right() bool { return p.level%2 == 1 }

// holders gives the letters of s as they can be printed, each with the first font
// that has it. What none has stands as its number in Unicode in square brackets; marks
// that show nothing are left out.
func (f *Fonts) holders(s string, bold bool) (letters []rune, with []*face) {
	chain := f.regular
	if bold {
		chain = f.bold
	}
	add := func(font *face, s string) {
		for _, r := range s {
			letters, with = append(letters, r), append(with, font)
		}
	}
	open := false // within brackets
	all := []rune(norm.NFC.String(geo.Shown(s)))
	var whole *face // has all of the run of one script that ends before end
	end := 0
	for i, r := range all {
		if i == end {
			end = i + runOf(all[i:])
			whole = holder(chain, withoutJoiners(all[i:end])...)
		}
		font := whole
		if font == nil {
			font = holder(chain, r)
			if n := len(with); n > 0 && joins(r) && with[n-1].has(r) {
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
func holder(chain []*face, letters ...rune) *face {
	for _, f := range chain {
		if !slices.ContainsFunc(letters, func(r rune) bool { return !f.has(r) }) {
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
	script := language.LookupScript(letters[0])
	n := 1
	for n < len(letters) && (joins(letters[n]) || script.Strong() && language.LookupScript(letters[n]) == script) {
		n++
	}
	return n
}

// set makes a line of text ready to draw, and gives its width in mm. Runs stand as
// the Unicode bidirectional algorithm orders them (UAX 9, rule L2): from the highest
// level down to the lowest odd one, runs of that level or higher are turned round.
func (f *Fonts) set(t Lettering, s string) (line []piece, said string, width float64) {
	letters, with := f.holders(s, t.Bold)
	if len(letters) == 0 {
		return nil, "", 0
	}
	highest := bidi.Level(0)
	for runs, i := f.bidi.Segment(letters, bidi.LeftToRight), 0; i < runs.NumRuns(); i++ {
		level := runs.Run(i)
		highest = max(highest, level.Level)
		for from := level.Start; from < level.End; {
			to := from + 1
			script := language.LookupScript(letters[from])
			for to < level.End && with[to] == with[from] {
				if next := language.LookupScript(letters[to]); next.Strong() {
					if script.Strong() && next != script {
						break
					}
					script = next
				}
				to++
			}
			p := piece{face: with[from], letters: letters[from:to], level: level.Level}
			p.run = f.shape(p.face, p.letters, p.right())
			line = append(line, p)
			from = to
		}
	}
	for level := highest; level > 0; level-- {
		for from := 0; from < len(line); from++ {
			to := from
			for to < len(line) && line[to].level >= level {
				to++
			}
			slices.Reverse(line[from:to])
			from = to
		}
	}
	for i, p := range line {
		line[i].x = width
		width += p.width * t.Size * point / float64(p.face.Upem())
	}
	return line, string(letters), width
}

// Width is how wide s gets, in mm.
func (f *Fonts) Width(t Lettering, s string) float64 {
	_, _, w := f.set(t, s)
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
