package sheet

import (
	"errors"
	"fmt"
	"io"
	"time"

	"balk/coverage/spots"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// SpotWalk is a walk to places where spot checks are to be made.
type SpotWalk struct {
	Field  geo.Field
	Local  geo.Local
	Ground []plane.Polygon // the field on its plane
	Places []spots.Place   // in the order walked: their numbers on the paper
	Ways   [][]plane.XY    // to each place from the one before, and at last back
	Proves string          // what the walk can prove, in a sentence
}

// SpotPDF writes the sheet of a walk to print. The same walk and page give the same bytes. It fails, and writes nothing, where
// SpotPages fails.
func SpotPDF(w io.Writer, walk SpotWalk, page Page) error {
	leaves, err := SpotPages(walk, page)
	if err != nil {
		return err
	}
	return paper.PDF(w, leaves, time.Time{})
}

// SpotPages draws the sheet of a walk: a map with the places and the way between them, what it can prove, how to look, cautions;
// then a table with blanks to be filled in on one's knees. All that tells kinds apart is told in grey too. It fails when there is no
// place, the field has no extent, or page is not valid.
func SpotPages(walk SpotWalk, page Page) ([]*paper.Leaf, error) {
	if len(walk.Places) == 0 {
		return nil, errors.New("walk without places: nothing to print")
	}
	base, err := setOn(walk.Field, walk.Local, walk.Ground, page, walk.Proves)
	if err != nil {
		return nil, err
	}
	size := papers["A4"]
	base.w, base.h = size[1], size[0]
	s := &spotSetting{base, walk}
	leaves := []*leaf{s.front()}
	for from := 0; from < len(walk.Places); from += spotRows {
		leaves = append(leaves, s.blanks(from, min(from+spotRows, len(walk.Places))))
	}
	return s.numbered(leaves), nil
}

type spotSetting struct {
	setting
	walk SpotWalk
}

// walkPen is the way on foot.
var walkPen = paper.Pen{Colour: ink, Width: 0.3, Dash: []float64{1.2, 0.8}}

// front is the first page.
func (s *spotSetting) front() *leaf {
	w := s.walk
	p := pictureOn(s.fonts, s.Language, s.Say("%s: places to kneel", s.name()), s.page.Operation)
	frame := p.room
	frame.H -= 8 + footHeight // for the scale bar
	views := viewsOf(frame, s.hull)
	north, size := northWindow(views, w.Ground, nil)
	for k, v := range views {
		p.field(v, w.Ground, straw)
		p.Stroke(v.lines(w.Ways...), walkPen)
		p.rims(v, w.Ground, nil)
		var taken []paper.Box
		if k == north {
			taken = append(taken, p.northArrow(v, w.Ground, nil, size, nil))
		}
		taken = append(taken, p.placeMark(v, v.at(w.Ways[0][0]), s.Word("gate"), taken)...)
		for i, one := range w.Places {
			if windowOf(views, one.At) != k {
				continue
			}
			at := v.at(one.At)
			taken = append(taken, p.placeMark(v, at, fmt.Sprint(i+1), taken)...)
			if one.Why != geo.SpotDrawn {
				p.crossedRing(at, 1.3, false, paper.Pen{Colour: paper.Black, Width: 0.3})
			}
		}
	}
	last := views[len(views)-1].frame
	p.scaleBar(last.X, last.Y+last.H+6, last.W/noteShare, views[0])

	p.heading(p.Word("The walk"))
	drawn := 0
	for _, one := range w.Places {
		if one.Why == geo.SpotDrawn {
			drawn++
		}
	}
	dot := key{words: p.Say("%d places drawn by chance: they count", drawn), wide: 8, sample: func(l *leaf, x, y float64) {
		l.Fill([]orb.LineString{paper.Ring(orb.Point{x + 4, y - 1}, 0.9)}, paper.Black)
	}}
	keys := []key{dot}
	if deciding := len(w.Places) - drawn; deciding > 0 {
		cross := dot
		cross.words = p.Say("%d that decide something: in no share", deciding)
		cross.sample = func(l *leaf, x, y float64) {
			l.crossedRing(orb.Point{x + 4, y - 1}, 1.3, false, paper.Pen{Colour: paper.Black, Width: 0.3})
		}
		keys = append(keys, cross)
	}
	length := 0.0
	for _, way := range w.Ways {
		length += plane.Length(way)
	}
	keys = append(keys, lineKey(p.Say("the way on foot, %.0f m from the gate and back", length), walkPen))
	p.y = p.keys(p.column, p.y+1, keys) + 2
	small := paper.Lettering{Size: 8}
	p.words(small, 3.6, w.Proves)
	p.y += 3
	p.heading(p.Word("How to look"))
	for _, line := range []string{
		"Go to the place by the phone, then to the section of the bar on the pass that is named: stand in the direction of travel; sections are counted from the left.",
		"Kneel where the phone leads, not where it looks good or bad: chosen places prove nothing.",
		"Brush a strip free across the section, down to where the tool went, a hand wide. Cut: nothing holds the ground above to the ground below.",
		"Ribs: what was left standing, each by its distance from the bar's left end in metres, and its width in centimetres.",
		"Depth: from the untouched surface beside the strip, at three places and more, in centimetres.",
		"Write it into the table that came with this sheet, and give it to balk spots read.",
	} {
		p.y += 0.8
		p.words(small, 3.6, p.Word(line))
	}
	p.caution(s.OnFoot())
	return p.leaf
}

// spotRows are the places of one page of blanks, and how high their rows are, mm: a line of handwriting and more.
const (
	spotRows      = 13
	spotRowHeight = 11.5
)

// spotColumns are those of the table of blanks, in shares of its width.
var spotColumns = []struct {
	head  string
	share float64
}{{"no.", 4}, {"why", 9}, {"pass, section", 10}, {"place (lat, lon)", 16}, {"from the left, m", 9}, {"cut?", 6}, {"ribs: m from the left, cm wide", 15}, {"depth, cm", 12}, {"smeared?", 8}, {"remarks", 11}}

// blanks is a page of the table.
func (s *spotSetting) blanks(from, to int) *leaf {
	l := s.newLeaf()
	y := s.pageHead(l, s.Say("Places %d to %d", from+1, to))
	b := s.inner()
	total := 0.0
	for _, c := range spotColumns {
		total += c.share
	}
	t := paper.Lettering{Size: 7.5, Bold: true}
	x := b.X
	edges := []float64{x}
	for _, c := range spotColumns {
		room := b.W * c.share / total
		l.Paragraph(x+0.8, y+3, room-1.2, 3, t, s.Word(c.head))
		x += room
		edges = append(edges, x)
	}
	y += 7.5
	thin := paper.Pen{Colour: "#777777", Width: 0.15}
	l.Line(b.X, y, b.X+b.W, y, paper.Pen{Colour: paper.Black, Width: 0.3})
	t.Bold = false
	top := y
	for i := from; i < to; i++ {
		p := s.walk.Places[i]
		cells := []string{fmt.Sprint(i + 1), spotWhy(s.Language, p), "", words.Place(s.local.Point(p.At)), ""}
		if p.Pass > 0 {
			cells[2] = s.Say("%d towards %.0f°, %d. from the left", p.Pass, float64(p.Bearing), p.Section)
			cells[4] = s.Say("%.2f to %.2f", p.FromLeft, p.FromLeft+p.Length)
		}
		for k, cell := range cells {
			l.Paragraph(edges[k]+0.8, y+4.2, edges[k+1]-edges[k]-1.2, 3.4, t, cell)
		}
		y += spotRowHeight
		l.Line(b.X, y, b.X+b.W, y, thin)
	}
	for _, x := range edges {
		l.Line(x, top, x, y, thin)
	}
	return l
}

// spotWhy is why a place was chosen.
func spotWhy(l words.Language, p spots.Place) string {
	switch p.Why {
	case geo.SpotStrip:
		return l.Say("strip %d", p.Strip)
	case geo.SpotGap:
		return l.Word("log gap")
	}
	return l.Word("drawn")
}
