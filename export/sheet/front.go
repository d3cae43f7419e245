package sheet

import (
	"balk/coverage"
	"balk/export/sheet/paper"
	"balk/geo/plane"
)

// front draws the first page.
func (s *checkSetting) front() *leaf {
	l := s.newLeaf()
	boxes := s.boxes()
	w := s.result.Work
	s.operation(l, boxes.head, s.Say("width %s, overlap %.2f m, credited %.2f m", bar(s.Language, s.result.Bar), w.Overlap, w.Width-w.Overlap), s.Word("Worked"), s.when)
	s.sayAnswer(l, boxes.head.X, boxes.head.Y+headHeight-1, boxes.head.W)
	s.checkedMap(l, s.rows)
	y := s.legend(l, boxes.column)
	s.headlandRows(l, boxes.column, y)
	s.side(l, boxes.side)
	s.stripTable(l, boxes.table, columns, 0, s.rows)
	return l
}

// operation writes the field's name, what is or was done on it, when, with which set and by whom.
func (s *setting) operation(l *leaf, b paper.Box, set, word, when string) {
	l.head(s.name(), "")
	if s.page.Implement != "" {
		set = s.page.Implement + ", " + set
	}
	half := b.W / 2
	s.pair(l, b.X, b.Y+11, half-3, s.Word("Operation"), s.page.Operation)
	s.pair(l, b.X+half, b.Y+11, half, word, when)
	s.pair(l, b.X, b.Y+15.5, b.W*0.62, s.Word("Implement"), set)
	s.pair(l, b.X+b.W*0.65, b.Y+15.5, b.W*0.35, s.Word("Driver"), s.page.Driver)
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
	strips := make([][]coverage.Strip, len(s.views)) // by the window that shows them
	for _, one := range r.Strips[:rows] {
		if k := windowOf(s.views, r.Local.XY(one.At)); k >= 0 {
			strips[k] = append(strips[k], one)
		} else {
			left++
		}
	}
	north, size := northWindow(s.views, r.Layers.Field, r.Layers.Missed)
	for k, v := range s.views {
		l.figure("", func() {
			l.ground(v, r)
			s.grid(l, v)
			var free []paper.Box
			if k == north {
				free = append(free, l.northArrow(v, r.Layers.Field, r.Layers.Missed, size, nil))
			}
			free = l.tightTurns(v, s.tight(), r.Layers.Missed, free)
			left += l.numbers(v, r.Local, strips[k], free)
		})
	}
	s.mapNote(l, left)
}

// tight are the places of turns that were too tight for the set.
func (s *checkSetting) tight() []plane.XY {
	var places []plane.XY
	for _, t := range s.result.Turns {
		if t.Tight {
			places = append(places, s.local.XY(t.At))
		}
	}
	return places
}

// mapNote says under the map how it is drawn and what it does not show.
func (s *checkSetting) mapNote(l *leaf, left int) {
	s.underMap(l, s.noteWords(left, overflow(s.views, s.result))+s.windowWords(len(s.views)))
}

// noteWords are its words but for the windows; left are strips whose numbers found no room, beyond says that something
// worked is not on the map.
func (s *checkSetting) noteWords(left int, beyond bool) string {
	words := s.Say("The scale holds for %s printed at 100 %%. %s. Missed strips of %.2f m and more are drawn at least %.2f mm wide, pieces narrower than %.0f mm on the ground not at all; the numbers hold all of them.",
		s.paperName(), s.northWords(), stressed, showMissed, paperFaint*s.view.denominator)
	if left > 0 {
		words += s.Say(" No room for the number of %s.", s.Count(left, "strip"))
	}
	if beyond {
		words += s.Word(" Ground worked beyond the frame is not drawn.")
	}
	return words
}

// northWords say where north lies on the map of the first page.
func (s *setting) northWords() string {
	switch turn := s.view.turn; {
	case turn > 0:
		return s.Say("Turned so that north lies %.0f° left of up", turn)
	case turn < 0:
		return s.Say("Turned so that north lies %.0f° right of up", -turn)
	}
	return s.Word("North is up")
}

// windowWords say that the map of the first page is in windows.
func (s *setting) windowWords(n int) string {
	if n == 1 {
		return ""
	}
	return s.Say(" The field is shown in %d windows, from one end to the other; each begins a little before the one above it ends.", n)
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
	broad, long := extent(s.hull)
	return 8*broad < long
}

func (s *setting) paperName() string {
	if s.page.Paper == "" {
		return "A4"
	}
	return s.page.Paper
}
