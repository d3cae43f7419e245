package sheet

import (
	"balk/coverage"

	"github.com/paulmach/orb"
)

// frontBoxes are the parts of the first page, in mm.
type frontBoxes struct {
	head, mapFrame, legend, side, table rect
	rows                                int // of the table of strips
}

const (
	headHeight  = 19.0
	columnWidth = 92.0 // of the legend with the balance
	partGap     = 4.0
)

// frontBoxes lays out the first page. Upright, the map lies over legend and
// signature, with the strips below; across, these stand beside the map, or all
// under a map as wide as the page.
func (s *setting) frontBoxes() frontBoxes {
	b := s.inner()
	var f frontBoxes
	f.head = rect{b.x, b.y, b.w, headHeight}
	body := rect{b.x, b.y + headHeight, b.w, b.h - headHeight}
	f.rows = min(len(s.result.Strips), s.rows)
	columnHeight := s.legendHeight()
	switch {
	case s.wide:
		columnHeight = max(columnHeight, s.tableHeight(f.rows)+partGap+codeSide+2)
		y := body.y + body.h - columnHeight
		x := body.x + columnWidth + 2*partGap
		f.legend = rect{body.x, y, columnWidth, columnHeight}
		f.table = rect{x, y, body.x + body.w - x, s.tableHeight(f.rows)}
		f.side = rect{x, y + f.table.h + partGap, f.table.w, columnHeight - f.table.h - partGap}
		f.mapFrame = rect{body.x, body.y, body.w, y - partGap - body.y}
	case s.w < s.h:
		tableHeight := s.tableHeight(f.rows)
		f.table = rect{body.x, body.y + body.h - tableHeight, body.w, tableHeight}
		y := f.table.y - partGap - columnHeight
		f.legend = rect{body.x, y, columnWidth, columnHeight}
		f.side = rect{body.x + columnWidth + 2*partGap, y, body.w - columnWidth - 2*partGap, columnHeight}
		f.mapFrame = rect{body.x, body.y, body.w, y - partGap - body.y}
	default:
		x := body.x + body.w - columnWidth
		f.legend = rect{x, body.y, columnWidth, columnHeight}
		f.side = rect{x, body.y + columnHeight + partGap, columnWidth, body.h - columnHeight - partGap}
		left := body.w - columnWidth - 1.5*partGap
		tableHeight := s.tableHeight(f.rows)
		f.table = rect{body.x, body.y + body.h - tableHeight, left, tableHeight}
		f.mapFrame = rect{body.x, body.y, left, f.table.y - partGap - body.y}
	}
	f.mapFrame = f.mapFrame.inset(gridGutter)
	f.mapFrame.h -= s.noteHeight(f.mapFrame.w, s.noteWords(0, false))
	return f
}

// front draws the first page.
func (s *setting) front() *Leaf {
	l := newLeaf(s.w, s.h, s.fonts)
	boxes := s.frontBoxes()
	s.head(l, boxes.head)
	s.frontMap(l, boxes)
	y := s.legend(l, boxes.legend)
	s.headlandRows(l, boxes.legend, y)
	s.side(l, boxes.side)
	s.stripTable(l, boxes.table, 0, boxes.rows)
	return l
}

// head writes name, operation, date, set and driver.
func (s *setting) head(l *Leaf, b rect) {
	name := lettering{size: 15, bold: true}
	for l.fonts.width(name, fieldName(s.result, s.page.Language)) > b.w && name.size > 10 {
		name.size--
	}
	l.text(b.x, b.y+5.5, name, l.fonts.fit(name, fieldName(s.result, s.page.Language), b.w))
	w := s.result.Work
	set := s.say("width %s, overlap %.2f m, credited %.2f m", s.page.Language.bar(s.result.Bar), w.Overlap, w.Width-w.Overlap)
	if s.page.Implement != "" {
		set = s.page.Implement + ", " + set
	}
	half := b.w / 2
	s.pair(l, b.x, b.y+11, half-3, s.word("Operation"), s.page.Operation)
	s.pair(l, b.x+half, b.y+11, half, s.word("Worked"), s.when())
	s.pair(l, b.x, b.y+15.5, b.w*0.62, s.word("Implement"), set)
	s.pair(l, b.x+b.w*0.65, b.y+15.5, b.w*0.35, s.word("Driver"), s.page.Driver)
}

// leastLetters: a value that is longer than its room is written as small as this before it is cut.
const leastLetters = 6.5 // points

// pair writes a word and what it is, or a line to write on.
func (s *setting) pair(l *Leaf, x, y, room float64, word, value string) {
	grey := lettering{size: 7, grey: true}
	w := l.text(x, y, grey, word) + 1.8
	if value == "" {
		l.line(x+w, y+0.5, x+room, y+0.5, pen{colour: "#666666", width: 0.12})
		return
	}
	t := lettering{size: 8.5}
	for t.size > leastLetters && l.fonts.width(t, value) > room-w {
		t.size -= 0.5
	}
	l.text(x+w, y, t, l.fonts.fit(t, value, room-w))
}

// frontMap draws the map of the whole field.
func (s *setting) frontMap(l *Leaf, boxes frontBoxes) {
	r, left := s.result, 0
	tight, strips := make([][]orb.Point, len(s.views)), make([][]coverage.Strip, len(s.views)) // by the window that shows them
	for _, t := range r.Turns {
		at := r.Local.XY(t.At)
		if k := windowOf(s.views, at); t.Tight && k >= 0 {
			tight[k] = append(tight[k], s.views[k].at(at))
		}
	}
	for _, one := range r.Strips[:boxes.rows] {
		if k := windowOf(s.views, r.Local.XY(one.At)); k >= 0 {
			strips[k] = append(strips[k], one)
		} else {
			left++
		}
	}
	north, size := northWindow(s.views, r.Layers.Field, r.Layers.Missed)
	for k, v := range s.views {
		l.ground(v, r)
		s.grid(l, v)
		var free []rect
		if k == north {
			free = append(free, l.northArrow(v, r.Layers.Field, r.Layers.Missed, size, nil))
		}
		free = l.tightTurns(v, tight[k], r.Layers.Missed, free)
		left += l.numbers(v, func(one coverage.Strip) orb.Point { return v.at(r.Local.XY(one.At)) }, strips[k], free)
	}
	s.mapNote(l, left)
}

// mapNote says under the map how it is drawn and what it does not show.
func (s *setting) mapNote(l *Leaf, left int) {
	s.underMap(l, s.noteWords(left, overflow(s.views, s.result))+s.windowWords(len(s.views)))
}

// noteWords are its words but for the windows; left are strips whose numbers found no room, beyond says that something
// worked is not on the map.
func (s *setting) noteWords(left int, beyond bool) string {
	words := s.say("The scale holds for %s printed at 100 %%. %s. Missed strips of %.2f m and more are drawn at least %.2f mm wide, pieces narrower than %.0f mm on the ground not at all; the numbers hold all of them.",
		s.paperName(), s.northWords(), stressed, showMissed, paperFaint*s.view.denominator)
	if left > 0 {
		words += s.say(" No room for the number of %s.", s.count(left, "strip"))
	}
	if beyond {
		words += s.word(" Ground worked beyond the frame is not drawn.")
	}
	return words
}

// northWords say where north lies on the map of the first page.
func (s *setting) northWords() string {
	switch turn := s.view.turn; {
	case turn > 0:
		return s.say("Turned so that north lies %.0f° left of up", turn)
	case turn < 0:
		return s.say("Turned so that north lies %.0f° right of up", -turn)
	}
	return s.word("North is up")
}

// windowWords say that the map of the first page is in windows.
func (s *setting) windowWords(n int) string {
	if n == 1 {
		return ""
	}
	return s.say(" The field is shown in %d windows, from one end to the other; each begins a little before the one above it ends.", n)
}

// underMap draws the scale bar of the first page's map, and words beside it.
func (s *setting) underMap(l *Leaf, words string) {
	f := s.views[len(s.views)-1].frame
	x, y := f.x, f.y+f.h+gridGutter
	bar := l.scaleBar(x, y+6, f.w/noteShare, s.view)
	x += bar.w + 6
	l.paragraph(x, y+2.2, f.x+f.w+gridGutter-x, noteStep, noteLettering, words)
}

// Words beside the scale bar under a map.
const (
	noteShare = 3.5 // of the map's breadth is the longest bar's
	noteStep  = 2.6 // mm
	noteMore  = 22. // mm, that bar and scale take beyond its length at most
)

var noteLettering = lettering{size: 6, grey: true}

// noteHeight is what scale bar and words take under a map so wide. The gap below it has room for a line more.
func (s *setting) noteHeight(width float64, words string) float64 {
	room := width - width/noteShare - noteMore
	if s.narrow() {
		words += s.windowWords(mostWindows)
	}
	return max(7, noteStep*float64(len(s.fonts.wrap(noteLettering, words, room)))+1.8)
}

// narrow says whether a field is so long that it may be shown in windows.
func (s *setting) narrow() bool {
	long := 0.0
	for _, p := range s.hull {
		for _, q := range s.hull {
			long = max(long, p.Dist(q))
		}
	}
	return 8*breadth(s.hull) < long
}

func (s *setting) paperName() string {
	if s.page.Paper == "" {
		return "A4"
	}
	return s.page.Paper
}
