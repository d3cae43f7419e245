package sheet

import (
	"fmt"
	"math"
	"slices"

	"balk/coverage"
	"balk/export/answer"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

const (
	mostDetails = 6 // maps on the page
	// A strip should be this wide on its map, in mm, if that is possible with
	// passesShown credited widths around it: then one sees between which passes it lies.
	detailWidth = 2.0
	passesShown = 2.2
)

// detailGrid is how many maps lie beside and over each other.
func (s *checkSetting) detailGrid() (across, down int) {
	upright := [mostDetails + 1][2]int{1: {1, 1}, 2: {1, 2}, 3: {1, 3}, 4: {2, 2}, 5: {2, 3}, 6: {2, 3}}[s.details]
	if s.w > s.h {
		return upright[1], upright[0]
	}
	return upright[0], upright[1]
}

// detailPage draws maps of the largest strips.
func (s *checkSetting) detailPage() *leaf {
	l := s.newLeaf()
	title := s.Say("The %d largest missed strips", s.details)
	if s.details == 1 {
		title = s.Word("The largest missed strip")
	}
	top := s.pageHead(l, title) + 1.5 // for the line under it
	l.Text(s.inner().X, s.inner().Y+8.3, paper.Lettering{Size: 6.5, Grey: true}, s.Word("In boxes the strips of the table on page 1; arrows with numbers: passes, in bold those beside the strip."))
	for i, frame := range s.detailFrames(top) {
		s.detail(l, frame, s.result.Strips[i], s.codes[i])
	}
	return l
}

// detailFrames are the frames of the maps from so far down the page.
func (s *checkSetting) detailFrames(top float64) []paper.Box {
	b := s.inner()
	b.H -= top - b.Y
	b.Y = top
	across, down := s.detailGrid()
	w, h := (b.W-partGap*float64(across-1))/float64(across), (b.H-partGap*float64(down-1))/float64(down)
	caption := s.captionHeight(w)
	out := make([]paper.Box, s.details)
	for i := range out {
		out[i] = paper.Rect(b.X+float64(i%across)*(w+partGap), b.Y+float64(i/across)*(h+partGap), w, h-caption)
	}
	return out
}

// detailCode is where the code of a strip stands under its map.
func detailCode(frame paper.Box) paper.Box {
	return paper.Rect(frame.X+frame.W-detailCodeSide, frame.Y+frame.H+codeGap, detailCodeSide, detailCodeSide)
}

// Under each map stand what the strip is and then where and why, mm, to the left of its code.
const (
	captionHead = 3.6
	captionStep = 3.0
	codeGap     = 0.5 // above the code
)

var (
	captionTitle     = paper.Lettering{Size: 8, Bold: true}
	captionLettering = paper.Lettering{Size: 6.5, Grey: true}
)

// captionHeight is what the words and the code under the maps take at most, each so wide.
func (s *checkSetting) captionHeight(width float64) float64 {
	high, room := detailCodeSide+codeGap, width-detailCodeSide
	for _, one := range s.result.Strips[:s.details] {
		head, lines := s.fonts.Wrap(captionTitle, s.detailTitle(one), room), s.fonts.Wrap(captionLettering, s.captionWords(one, false, mostDetails), room)
		high = max(high, captionHead*float64(len(head))+captionStep*float64(len(lines))+1.5)
	}
	return high
}

// detailTitle says how large a strip is.
func (s *checkSetting) detailTitle(one coverage.Strip) string {
	return s.Say("Strip %s: %.1f m², %.0f m long, %.2f m wide (up to %.2f m)", numberOf(one), one.Area, one.Length, one.MeanWidth, one.MaxWidth)
}

// detailView lays a strip into a frame: whole, if it is then wide enough to see,
// else the stretch around its widest place. The map lies as that of the first page.
func (s *checkSetting) detailView(frame paper.Box, one coverage.Strip) (v view, whole bool) {
	r := s.result
	shape := []plane.XY{r.Local.XY(one.At)}
	for _, ring := range one.Shape {
		shape = append(shape, ring...)
	}
	fits := lie(shape, s.view.turn, frame.Inset(mapPad))
	seen := 1000 * one.MaxWidth / detailWidth
	around := 1000 * passesShown * (r.Work.Width - r.Work.Overlap) / min(frame.W, frame.H)
	if fits.least <= max(seen, around) {
		return newView(frame, fits.middle, roundScale(max(fits.least, around)), s.view.turn), true
	}
	return newView(frame, r.Local.XY(one.At), roundScale(max(seen, around)), s.view.turn), false
}

// detail draws the map of one strip with its words and its code under it.
func (s *checkSetting) detail(l *leaf, frame paper.Box, one coverage.Strip, code [][]bool) {
	r := s.result
	v, whole := s.detailView(frame, one)
	words := s.detailTitle(one)
	left := 0
	l.figure(words, func() {
		l.ground(v, r)
		bar := l.scaleBox(frame.X+1, frame.Y+frame.H-1, frame.W/3, v)
		free := s.passNumbers(l, v, one, []paper.Box{bar, l.northArrow(v, r.Layers.Field, r.Layers.Missed, northSmall, []paper.Box{bar})})
		var shown []coverage.Strip
		for _, other := range r.Strips[:s.rows] {
			if frame.Bound().Contains(v.at(r.Local.XY(other.At))) {
				shown = append(shown, other)
			}
		}
		left = l.numbers(v, r.Local, shown, free)
	})
	l.figure(s.Say("The code opens strip %d on the map of a telephone (geo: URI, RFC 5870).", one.Number), func() {
		l.code(detailCode(frame), code)
	})
	y, room := frame.Y+frame.H+captionHead, frame.W-detailCodeSide
	l.As(paper.Subheading, "", func() {
		for _, line := range l.Fonts.Wrap(captionTitle, words, room) {
			l.Text(frame.X, y, captionTitle, line)
			y += captionHead
		}
	})
	l.Paragraph(frame.X, y-captionHead+captionStep+0.4, room, captionStep, captionLettering, s.captionWords(one, whole, left))
}

// captionWords say of a strip where it is and why; whole: the map shows all of it; left are strips whose numbers
// found no room on it.
func (s *checkSetting) captionWords(one coverage.Strip, whole bool, left int) string {
	surety, cause := suretyPart(s.Language, one), s.Word(string(one.Cause))
	beside := s.Say("beside passes %s", passWords(s.Language, one.Passes))
	switch len(one.Passes) {
	case 1:
		beside = s.Say("beside pass %s", passWords(s.Language, one.Passes))
	case 0:
		beside = s.Word("beside no pass")
	}
	caption := s.Say("How sure: %s; likely cause: %s; %s", surety, cause, beside)
	if !answer.ByPass(s.result, one) {
		caption = s.Say("How sure: %s; likely cause: %s; %s; at %s", surety, cause, beside, words.Place(one.At))
	}
	switch a := one.Approach; {
	case a.Pass > 0 && a.Left:
		caption += s.Say("; to get there: along pass %d, %.0f m from where it began, %.1f m to its left", a.Pass, a.Along, a.Aside)
	case a.Pass > 0:
		caption += s.Say("; to get there: along pass %d, %.0f m from where it began, %.1f m to its right", a.Pass, a.Along, a.Aside)
	}
	if !whole {
		caption += s.Word("; the map shows the stretch around its widest place")
	}
	if left > 0 {
		caption += s.Say("; no room for the number of %s", s.Count(left, "strip"))
	}
	return caption
}

// passNumbers writes the numbers of passes on their lines within a view, those
// beside the strip in bold and the others where they lie far enough apart, each with an
// arrow the way it was driven. It gives what is taken then.
func (s *checkSetting) passNumbers(l *leaf, v view, one coverage.Strip, taken []paper.Box) []paper.Box {
	beside := map[int]bool{}
	for _, n := range one.Passes {
		beside[n] = true
	}
	const apart = 3.4 // mm
	for _, first := range []bool{true, false} {
		if !first && (s.result.Work.Width-s.result.Work.Overlap)*v.mm() < apart {
			break
		}
		for _, p := range s.result.Passes {
			if beside[p.Number] != first || !v.sees(p.Line) {
				continue
			}
			t := paper.Lettering{Size: 6.5, Bold: first, Colour: "#5A4A1E"}
			if box, ok := l.passNumber(v, p.Line, p.Number, t, straw, taken); ok {
				taken = append(taken, box)
			}
		}
	}
	return taken
}

// sees says whether a line comes near the frame.
func (v view) sees(line []plane.XY) bool {
	reach := math.Hypot(v.frame.W, v.frame.H) / 2 / v.mm()
	b := plane.EmptyBox().Extend(line...)
	return b.Max.X >= v.middle.X-reach && b.Min.X <= v.middle.X+reach && b.Max.Y >= v.middle.Y-reach && b.Min.Y <= v.middle.Y+reach
}

// passNumber writes the number of a pass on the longest part of its line within a view, where there is room, with an arrow a
// little farther along it; it gives what it took.
func (l *leaf) passNumber(v view, pass []plane.XY, number int, t paper.Lettering, ground string, taken []paper.Box) (paper.Box, bool) {
	words := fmt.Sprint(number)
	width := l.Fonts.Width(t, words)
	var longest orb.LineString
	most := 0.0
	for _, p := range v.lines(pass) {
		if n := lengthOf(p); n > most {
			longest, most = p, n
		}
	}
	if most < 8 {
		return paper.Box{}, false
	}
	for _, share := range []float64{0.2, 0.35, 0.5, 0.65, 0.1, 0.8} {
		at, _ := along(longest, share*most)
		box := paper.Rect(at[0]-width/2-0.5, at[1]-1.7, width+1, 3.4)
		if box.Within(v.frame.Inset(0.3)) && !slices.ContainsFunc(taken, box.Meets) {
			next, way := along(longest, min(share*most+width/2+3, most))
			l.arrow(next, way, 1, "#5A4A1E")
			l.Fill(box.Inset(0.25).Path(), ground)
			t.Align = paper.Centre
			l.Text(box.X+box.W/2, box.Y+2.45, t, words)
			return box, true
		}
	}
	return paper.Box{}, false
}

func lengthOf(line orb.LineString) float64 {
	n := 0.0
	for i := 1; i < len(line); i++ {
		n += math.Hypot(line[i][0]-line[i-1][0], line[i][1]-line[i-1][1])
	}
	return n
}

// along is the place so far along a line, and the unit vector of its way there.
func along(line orb.LineString, far float64) (at, way orb.Point) {
	for i := 1; i < len(line); i++ {
		dx, dy := line[i][0]-line[i-1][0], line[i][1]-line[i-1][1]
		n := math.Hypot(dx, dy)
		if n == 0 {
			continue
		}
		way = orb.Point{dx / n, dy / n}
		if far <= n || i == len(line)-1 {
			far = min(far, n)
			return orb.Point{line[i-1][0] + way[0]*far, line[i-1][1] + way[1]*far}, way
		}
		far -= n
	}
	return line[len(line)-1], way
}

// arrow is a head of an arrow, 1.8 mm long at size 1.
func (l *leaf) arrow(at, way orb.Point, size float64, colour string) {
	long, wide := 1.8*size, 0.6*size // mm
	side := orb.Point{-way[1] * wide, way[0] * wide}
	tail := orb.Point{at[0] - way[0]*long, at[1] - way[1]*long}
	l.Fill([]orb.LineString{{at, {tail[0] + side[0], tail[1] + side[1]}, {tail[0] - side[0], tail[1] - side[1]}, at}}, colour)
}
