package sheet

import (
	"math"

	"balk/export/sheet/paper"
)

const (
	headHeight  = 19.0 // mm
	columnWidth = 92.0
	partGap     = 4.0
)

// parts are what the first page of a sheet holds beside its map and head.
type parts struct {
	column float64                // mm, height of the column that says what the work comes to
	side   float64                // mm, least height of what stands beside it where the map is as wide as paper that lies across; 0: the map never is
	rows   []int                  // strips in a table, the number liked best first
	table  func(rows int) float64 // mm, height of such a table
	note   string                 // under the map
}

// boxes are where they stand, mm.
type boxes struct{ head, mapFrame, column, side, table paper.Box }

// boxes lays out the first page. Upright, the map lies over column and side, with the table
// below; across, these stand beside the map, or all under a map as wide as the page.
func (s *setting) boxes() boxes {
	b := s.inner()
	head := headHeight + s.answerHeight(b.W)
	f := boxes{head: paper.Rect(b.X, b.Y, b.W, head)}
	body := paper.Rect(b.X, b.Y+head, b.W, b.H-head)
	high, table := s.parts.column, s.parts.table(s.rows)
	gap := 0.0 // over the table
	if table > 0 {
		gap = partGap
	}
	beside := body.X + columnWidth + 2*partGap
	switch {
	case s.wide:
		high = max(high, table+partGap+s.parts.side)
		y := body.Y + body.H - high
		f.column = paper.Rect(body.X, y, columnWidth, high)
		f.table = paper.Rect(beside, y, body.X+body.W-beside, table)
		f.side = paper.Rect(beside, y+table+partGap, f.table.W, high-table-partGap)
		f.mapFrame = paper.Rect(body.X, body.Y, body.W, y-partGap-body.Y)
	case s.w < s.h:
		f.table = paper.Rect(body.X, body.Y+body.H-table, body.W, table)
		y := f.table.Y - gap - high
		f.column = paper.Rect(body.X, y, columnWidth, high)
		f.side = paper.Rect(beside, y, body.X+body.W-beside, high)
		f.mapFrame = paper.Rect(body.X, body.Y, body.W, y-partGap-body.Y)
	default:
		x := body.X + body.W - columnWidth
		f.column = paper.Rect(x, body.Y, columnWidth, high)
		f.side = paper.Rect(x, body.Y+high+partGap, columnWidth, body.H-high-partGap)
		left := body.W - columnWidth - 1.5*partGap
		f.table = paper.Rect(body.X, body.Y+body.H-table, left, table)
		f.mapFrame = paper.Rect(body.X, body.Y, left, f.table.Y-gap-body.Y)
	}
	f.mapFrame = f.mapFrame.Inset(gridGutter)
	f.mapFrame.H -= s.noteHeight(f.mapFrame.W, s.parts.note)
	return f
}

// answerStep is from line to line of the answer.
const answerStep = 3.7 // mm

// answerApart parts the paragraphs of the answer.
const answerApart = 0.9 // mm

var answerLettering = paper.Lettering{Size: 8.5}

// answerHeight is what the answer takes across so many mm; nothing where there is none.
func (s *setting) answerHeight(width float64) float64 {
	if len(s.answer) == 0 {
		return 0
	}
	lines := 0
	for _, part := range s.answer {
		lines += len(s.fonts.Wrap(answerLettering, part, width))
	}
	return answerStep*float64(lines) + answerApart*float64(len(s.answer)-1) + 2
}

// sayAnswer writes the answer from y on: what has to be settled, the three sentences, and on what they stand.
func (s *setting) sayAnswer(l *leaf, x, y, width float64) {
	for _, part := range s.answer {
		y = l.Paragraph(x, y+answerStep-0.7, width, answerStep, answerLettering, part) - answerStep + 0.7 + answerApart
	}
}

// orient chooses how the paper lies, if the page leaves that open, and how many
// strips are listed: as the field gets the largest scale, then with more strips,
// then upright.
func (s *setting) orient(p parts) {
	s.parts = p
	size := papers[s.page.Paper]
	best := math.Inf(1)
	for _, o := range []struct {
		name string
		wide bool
	}{{"portrait", false}, {"landscape", false}, {"landscape", true}} {
		if s.page.Orientation != "" && s.page.Orientation != o.name || o.wide && p.side == 0 {
			continue
		}
		for _, rows := range p.rows {
			try := *s
			if try.w, try.h = size[0], size[1]; o.name == "landscape" {
				try.w, try.h = size[1], size[0]
			}
			try.rows, try.wide = rows, o.wide
			try.look(try.boxes().mapFrame)
			if d := try.view.denominator; d < best || d == best && rows > s.rows {
				best, *s = d, try
			}
		}
	}
}

// look lays the field into the frame of the first page's map.
func (s *setting) look(frame paper.Box) {
	s.views = viewsOf(frame, s.hull)
	s.view = s.views[0]
}

// inner is the paper within the margins, without the foot.
func (s *setting) inner() paper.Box {
	b := paper.Rect(0, 0, s.w, s.h).Inset(paperMargin)
	b.H -= footHeight
	return b
}
