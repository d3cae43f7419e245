package sheet

import (
	"balk/coverage"
	"balk/export/sheet/paper"

	"github.com/paulmach/orb"
)

// frontBoxes are the parts of the first page, in mm.
type frontBoxes struct {
	head, mapFrame, legend, side, table paper.Box
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
func (s *checkSetting) frontBoxes() frontBoxes {
	b := s.inner()
	var f frontBoxes
	f.head = paper.Rect(b.X, b.Y, b.W, headHeight)
	body := paper.Rect(b.X, b.Y+headHeight, b.W, b.H-headHeight)
	f.rows = min(len(s.result.Strips), s.rows)
	columnHeight := s.legendHeight()
	switch {
	case s.wide:
		columnHeight = max(columnHeight, s.tableHeight(f.rows)+partGap+codeSide+2)
		y := body.Y + body.H - columnHeight
		x := body.X + columnWidth + 2*partGap
		f.legend = paper.Rect(body.X, y, columnWidth, columnHeight)
		f.table = paper.Rect(x, y, body.X+body.W-x, s.tableHeight(f.rows))
		f.side = paper.Rect(x, y+f.table.H+partGap, f.table.W, columnHeight-f.table.H-partGap)
		f.mapFrame = paper.Rect(body.X, body.Y, body.W, y-partGap-body.Y)
	case s.w < s.h:
		tableHeight := s.tableHeight(f.rows)
		f.table = paper.Rect(body.X, body.Y+body.H-tableHeight, body.W, tableHeight)
		y := f.table.Y - partGap - columnHeight
		f.legend = paper.Rect(body.X, y, columnWidth, columnHeight)
		f.side = paper.Rect(body.X+columnWidth+2*partGap, y, body.W-columnWidth-2*partGap, columnHeight)
		f.mapFrame = paper.Rect(body.X, body.Y, body.W, y-partGap-body.Y)
	default:
		x := body.X + body.W - columnWidth
		f.legend = paper.Rect(x, body.Y, columnWidth, columnHeight)
		f.side = paper.Rect(x, body.Y+columnHeight+partGap, columnWidth, body.H-columnHeight-partGap)
		left := body.W - columnWidth - 1.5*partGap
		tableHeight := s.tableHeight(f.rows)
		f.table = paper.Rect(body.X, body.Y+body.H-tableHeight, left, tableHeight)
		f.mapFrame = paper.Rect(body.X, body.Y, left, f.table.Y-partGap-body.Y)
	}
	f.mapFrame = f.mapFrame.Inset(gridGutter)
	f.mapFrame.H -= s.noteHeight(f.mapFrame.W, s.noteWords(0, false))
	return f
}

// front draws the first page.
func (s *checkSetting) front() *leaf {
	l := s.newLeaf()
	boxes := s.frontBoxes()
	s.head(l, boxes.head)
	s.checkedMap(l, boxes.rows)
	y := s.legend(l, boxes.legend)
	s.headlandRows(l, boxes.legend, y)
	s.side(l, boxes.side)
	s.stripTable(l, boxes.table, columns, 0, boxes.rows)
	return l
}

// head writes name, operation, date, set and driver.
func (s *checkSetting) head(l *leaf, b paper.Box) {
	l.head(s.name(), "")
	w := s.result.Work
	set := s.say("width %s, overlap %.2f m, credited %.2f m", s.bar(s.result.Bar), w.Overlap, w.Width-w.Overlap)
	if s.page.Implement != "" {
		set = s.page.Implement + ", " + set
	}
	half := b.W / 2
	s.pair(l, b.X, b.Y+11, half-3, s.word("Operation"), s.page.Operation)
	s.pair(l, b.X+half, b.Y+11, half, s.word("Worked"), s.when)
	s.pair(l, b.X, b.Y+15.5, b.W*0.62, s.word("Implement"), set)
	s.pair(l, b.X+b.W*0.65, b.Y+15.5, b.W*0.35, s.word("Driver"), s.page.Driver)
}

// leastLetters: a value that is longer than its room is written as small as this before it is cut.
const leastLetters = 6.5 // points

// pair writes a word and what it is, or a line to write on.
func (s *setting) pair(l *leaf, x, y, room float64, word, value string) {
	grey := paper.Lettering{Size: 7, Grey: true}
	w := l.Text(x, y, grey, word) + 1.8
	if value == "" {
		l.Line(x+w, y+0.5, x+room, y+0.5, paper.Pen{Colour: "#666666", Width: 0.12})
		return
	}
	t := paper.Lettering{Size: 8.5}
	for t.Size > leastLetters && l.Fonts.Width(t, value) > room-w {
		t.Size -= 0.5
	}
	l.Text(x+w, y, t, l.Fonts.Fit(t, value, room-w))
}

// checkedMap draws the map of the whole field, with the numbers of the largest strips.
func (s *checkSetting) checkedMap(l *leaf, rows int) {
	r, left := s.result, 0
	tight, strips := make([][]orb.Point, len(s.views)), make([][]coverage.Strip, len(s.views)) // by the window that shows them
	for _, t := range r.Turns {
		at := r.Local.XY(t.At)
		if k := windowOf(s.views, at); t.Tight && k >= 0 {
			tight[k] = append(tight[k], s.views[k].at(at))
		}
	}
	for _, one := range r.Strips[:rows] {
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
		var free []paper.Box
		if k == north {
			free = append(free, l.northArrow(v, r.Layers.Field, r.Layers.Missed, size, nil))
		}
		free = l.tightTurns(v, tight[k], r.Layers.Missed, free)
		left += l.numbers(v, func(one coverage.Strip) orb.Point { return v.at(r.Local.XY(one.At)) }, strips[k], free)
	}
	s.mapNote(l, left)
}

// mapNote says under the map how it is drawn and what it does not show.
func (s *checkSetting) mapNote(l *leaf, left int) {
	s.underMap(l, s.noteWords(left, overflow(s.views, s.result))+s.windowWords(len(s.views)))
}

// noteWords are its words but for the windows; left are strips whose numbers found no room, beyond says that something
// worked is not on the map.
func (s *checkSetting) noteWords(left int, beyond bool) string {
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
func (s *setting) underMap(l *leaf, words string) {
	f := s.views[len(s.views)-1].frame
	x, y := f.X, f.Y+f.H+gridGutter
	bar := l.scaleBar(x, y+6, f.W/noteShare, s.view)
	x += bar.W + 6
	l.Paragraph(x, y+2.2, f.X+f.W+gridGutter-x, noteStep, noteLettering, words)
}

// Words beside the scale bar under a map.
const (
	noteShare = 3.5 // of the map's breadth is the longest bar's
	noteStep  = 2.6 // mm
	noteMore  = 22. // mm, that bar and scale take beyond its length at most
)

var noteLettering = paper.Lettering{Size: 6, Grey: true}

// noteHeight is what scale bar and words take under a map so wide. The gap below it has room for a line more.
func (s *setting) noteHeight(width float64, words string) float64 {
	room := width - width/noteShare - noteMore
	if s.narrow() {
		words += s.windowWords(mostWindows)
	}
	return max(7, noteStep*float64(len(s.fonts.Wrap(noteLettering, words, room)))+1.8)
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
