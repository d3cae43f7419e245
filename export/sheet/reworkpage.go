package sheet

import (
	"fmt"
	"slices"
	"strings"

	"balk/coverage"
	"balk/coverage/rework"
	"balk/export/answer"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo/plane"
)

var (
	againPen = paper.Pen{Colour: paper.Black, Width: 0.5}
	wayPen   = paper.Pen{Colour: "#666666", Width: 0.2, Dash: []float64{1.4, 0.9}}
)

// again is one row of the order of re-work: a pass, what it wins, and when it is done.
type again struct {
	rework.Pass
	won   float64 // m² of missed ground; a strip that takes several passes counts with its first
	after float64 // s from the gate to the end of the pass
}

// againOf are the passes in the order driven.
func againOf(p rework.Plan) []again {
	out := make([]again, len(p.Passes))
	for i, one := range p.Passes {
		out[i].Pass = one
	}
	for _, v := range p.Chosen {
		if len(v.Passes) > 0 {
			out[slices.Min(v.Passes)-1].won += v.Covered
		}
	}
	clock := 0.0
	for _, piece := range p.Route {
		if clock += piece.Time; piece.Pass > 0 {
			out[piece.Pass-1].after = clock
		}
	}
	return out
}

// reworkPage draws the re-work: the way over the field with the passes numbered in the order driven, and a table of them.
func (s *checkSetting) reworkPage() (*leaf, error) {
	p := *s.page.Rework
	l := s.newLeaf()
	b := s.inner()
	top := s.pageHead(l, s.Word("Re-work: the passes in their order")) + 1
	b.H -= top - b.Y
	b.Y = top
	rows := againOf(p)
	squares, err := placeCode(s.local.Point(rows[0].Line[0]))
	if err != nil {
		return nil, err
	}
	said := s.reworkWords(p)
	frame, list := paper.Rect(b.X, b.Y, b.W, 0.46*b.H), paper.Rect(b.X, b.Y+0.46*b.H+partGap, b.W, 0.54*b.H-partGap)
	across := 2
	if s.w > s.h {
		half := (b.W - 2*partGap) / 2
		frame, list, across = paper.Rect(b.X, b.Y, half, b.H), paper.Rect(b.X+half+2*partGap, b.Y, half, b.H), 1
	}
	keys := []key{lineKey(s.Word("pass of the re-work, with its number"), againPen), lineKey(s.Word("way, tool lifted"), wayPen), groundKey(s.Word("missed"), missedMark)}
	if p.Unfit > 0 {
		keys = append(keys, tightKey(s.Word("a turn or run that does not fit")))
	}
	frame.H -= float64(len(keyLines(l.Fonts, frame.W, keys)))*keyStep + 1
	l.figure(s.Word("Re-work: the passes in their order"), func() { s.reworkMap(l, frame, p) })
	l.keys(paper.Rect(frame.X, frame.Y, frame.W, 0), frame.Y+frame.H, keys)
	// The words and the code stand over the table.
	code := s.Say("The code opens where pass %d begins on the map of a telephone (geo: URI, RFC 5870).", rows[0].Number)
	l.figure(code, func() { l.code(paper.Rect(list.X+list.W-codeSide, list.Y, codeSide, codeSide), squares) })
	room := list.W - codeSide - 2*partGap
	y := l.Paragraph(list.X, list.Y+3.2, room, 3.5, paper.Lettering{Size: 7.5}, said)
	y = l.Paragraph(list.X, y+1, room, 2.9, paper.Lettering{Size: 6.5, Grey: true}, code)
	y = max(y, list.Y+codeSide+3)
	s.reworkTable(l, paper.Rect(list.X, y, list.W, list.Y+list.H-y), across, rows)
	return l, nil
}

// reworkWords say what the re-work comes to, and what it leaves and why.
func (s *checkSetting) reworkWords(p rework.Plan) string {
	area := func(m2 float64) string { return answer.Area(s.Language, m2) }
	text := s.Say("%s for %s: %.2f km in %s, gate to gate. Of %s missed they win %s, and %s are worked once more than needed.", s.Count(len(p.Passes), "pass"), s.Count(len(p.Chosen), "strip"),
		p.Length/1000, words.Clock(p.Time), area(p.Missed), area(p.Covered), area(p.ExtraDouble))
	if p.Unfit > 0 {
		text += " " + s.Say("Pieces that do not fit as drawn: %d.", p.Unfit)
	}
	if slopes := WaysOnSlopes(s.Language, p, s.result.Work.Steep); slopes != "" {
		text += " " + answer.OnPaper(slopes)
	}
	if left := LeftOut(s.Language, p); left != "" {
		text += " " + left
	}
	return text
}

// LeftOut says what a re-work leaves, and why: ground and pieces by each reason, and what strips have beside their passes. It is "" where nothing is left out.
func LeftOut(l words.Language, p rework.Plan) string {
	pieces, ground := map[rework.Why]int{}, map[rework.Why]float64{}
	for _, k := range p.Skipped {
		pieces[k.Why] += k.Pieces
		ground[k.Why] += k.Area
	}
	rest := p.Left
	var because []rework.Why
	var areas []float64
	for _, w := range []rework.Why{rework.WhyLess, rework.WhyTime, rework.WhyShare, rework.WhyWay, rework.WhySmall, rework.WhyNarrow, rework.WhyUnsure, rework.WhyNoise, rework.WhySliver} {
		rest -= ground[w]
		if pieces[w] > 0 {
			because, areas = append(because, w), append(areas, ground[w])
		}
	}
	beside := rest >= 1 // m²
	if beside {
		areas = append(areas, rest)
	}
	if len(areas) == 0 {
		return ""
	}
	shown := answer.RestParts(l, p.Missed, p.Covered, areas)
	var why []string
	for i, w := range because {
		why = append(why, l.Say("%s %s (%d)", l.Word(string(w)), shown[i], pieces[w]))
	}
	if beside {
		why = append(why, l.Say("beside passes of the re-work %s", shown[len(because)]))
	}
	return l.Say("Left are %s: %s.", answer.Rest(l, p.Missed, p.Covered), strings.Join(why, ", "))
}

// WaysOnSlopes says which parts of a re-work lie across a slope or go downhill, by the numbers of its passes: see answer.Ways.
func WaysOnSlopes(l words.Language, p rework.Plan, limit float64) string {
	var ways []answer.Way
	for i, piece := range p.Route {
		if piece.Slope == nil {
			continue
		}
		name := l.Word("the way out of the re-work")
		if piece.Pass > 0 {
			name = l.Say("re-work pass %d", piece.Pass)
		} else if k := slices.IndexFunc(p.Route[i:], func(r rework.Piece) bool { return r.Pass > 0 }); k > 0 {
			name = l.Say("the way to re-work pass %d", p.Route[i+k].Pass)
		}
		ways = append(ways, answer.Way{Name: name, WaySlope: *piece.Slope})
	}
	return answer.Ways(l, ways, limit)
}

// reworkMap draws what was missed, and the way over it.
func (s *checkSetting) reworkMap(l *leaf, frame paper.Box, p rework.Plan) {
	pts := slices.Clone(s.hull)
	for _, piece := range p.Route {
		pts = append(pts, piece.Line...)
	}
	lying := lie(pts, s.view.turn, frame.Inset(mapPad))
	v := newView(frame, lying.middle, lying.scale, s.view.turn)
	l.field(v, s.result.Layers.Field, "#F3E7C6")
	l.Cover(v.rings(s.result.Layers.Missed), missedMark)
	l.rims(v, s.result.Layers.Field, s.result.Layers.Headland)
	for _, piece := range p.Route {
		with := wayPen
		if piece.Pass > 0 {
			with = againPen
		}
		l.Stroke(v.lines(piece.Line), with)
	}
	taken := []paper.Box{l.scaleBox(frame.X+1, frame.Y+frame.H-1, frame.W/3, v)}
	taken = append(taken, l.northArrow(v, s.result.Layers.Field, s.result.Layers.Missed, northSmall, taken))
	taken = append(taken, l.placeMark(v, v.at(p.Gate), s.Word("gate"), taken)...)
	var unfit []plane.XY
	for _, piece := range p.Route {
		if piece.Unfit != "" {
			unfit = append(unfit, piece.Line[len(piece.Line)/2])
		}
	}
	taken = l.tightTurns(v, unfit, nil, taken)
	t := paper.Lettering{Size: 6.5, Bold: true}
	for _, one := range p.Passes {
		at := v.at(one.Line[0])
		number := fmt.Sprint(one.Number)
		if box, ok := placeBeside(at, l.Fonts.Width(t, number)+1.4, 3, frame.Inset(0.5), taken); ok {
			l.tag(box, t, paper.Black, number)
			taken = append(taken, box)
		}
	}
}

// reworkTable lists the passes, as many as there is room for.
func (s *checkSetting) reworkTable(l *leaf, b paper.Box, across int, rows []again) {
	grey, t := paper.Lettering{Size: 6.5, Grey: true}, paper.Lettering{Size: 7}
	w := (b.W - float64(across-1)*2*partGap) / float64(across)
	down := max(1, int((b.H-orderStep-3)/orderStep))
	shown := rows
	if len(rows) > across*down {
		shown = rows[:across*down-1]
	}
	at := []float64{-0.06, 0.08, 0.28, -0.64, -0.82, -1}
	for i, r := range shown {
		col := paper.Rect(b.X+float64(i/down)*(w+2*partGap), b.Y, w, b.H)
		if i%down == 0 {
			l.cells(col, col.Y+3, grey, at, s.Word("no."), s.Word("strip"), s.Word("where"), "m", s.Word("m² won"), s.Word("done after"))
		}
		y := col.Y + 3 + float64(i%down+1)*orderStep
		names := strings.Trim(strings.ReplaceAll(fmt.Sprint(r.Strips), " ", ", "), "[]")
		l.cells(col, y, t, at, fmt.Sprint(r.Number), l.Fonts.Fit(t, names, 0.19*w), l.Fonts.Fit(t, s.where(r), 0.29*w), fmt.Sprintf("%.0f", r.Length), wonOf(r), s.Say("%.0f min", max(1, r.after/60)))
	}
	if n := len(rows) - len(shown); n > 0 {
		col := paper.Rect(b.X+float64(across-1)*(w+2*partGap), b.Y, w, b.H)
		l.Text(col.X, col.Y+3+float64(down)*orderStep, grey, s.Say("and %d more: rework.json holds all of them", n))
	}
}

// wonOf is what a pass wins; a further pass for a strip wins nothing on top.
func wonOf(r again) string {
	if r.won == 0 {
		return "–"
	}
	return fmt.Sprintf("%.0f", r.won)
}

// where is where a pass of re-work lies: along a pass of the operation, or else where it begins.
func (s *checkSetting) where(r again) string {
	at := slices.IndexFunc(s.result.Strips, func(one coverage.Strip) bool { return slices.Contains(r.Strips, one.Number) })
	if at >= 0 {
		if along := answer.Along(s.Language, s.result.Strips[at]); along != "" {
			return along
		}
	}
	return words.Place(s.local.Point(r.Line[0]))
}
