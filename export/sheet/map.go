package sheet

import (
	"balk/coverage"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
)

// mapStrips is how many strips are listed beside the map and carry their number on it, at most.
const mapStrips = 12

func heading(f geo.Field, l words.Language) string {
	return l.Say("%s: what was worked and what was missed", fieldName(f, l))
}

// Map draws what became of a field on one leaf: the map, the balance with the keys, what the headland cost and the largest
// strips. It fails when the balance does not add up, the field has no extent or page is not valid.
func Map(r coverage.Result, page Page) (*paper.Leaf, error) {
	page.Paper = "" // A4, whatever the sheet is printed on
	s, err := setCheck(r, page)
	if err != nil {
		return nil, err
	}
	sub := s.Say("working width %s, planned overlap %.2f m, so credited width %.2f m", Width(s.Language, r.Bar), r.Work.Overlap, r.Work.Width-r.Work.Overlap)
	if s.when != "" {
		sub += s.Say("; worked %s", s.when)
	}
	p := pictureOn(s.fonts, s.Language, heading(r.Field, s.Language), sub)
	caution := s.AfterWork()
	if s.slopes != "" {
		caution = s.slopes + " " + caution
	}
	high := cautionLine * float64(len(s.fonts.Wrap(cautionLettering, caution, p.room.W)))
	s.sayAnswer(p.leaf, p.room.X, p.room.Y-1, p.room.W)
	said := s.answerHeight(p.room.W)
	p.room.Y, p.room.H = p.room.Y+said, p.room.H-said
	frame := p.room.Inset(gridGutter)
	frame.H -= high
	s.look(frame) // for how many mm words under it hold
	frame.H -= s.noteHeight(frame.W, s.noteWords(0, false))
	s.look(frame)

	y := s.legend(p.leaf, p.column)
	y = s.headlandRows(p.leaf, p.column, y) + 4
	foot := p.column.Y + p.column.H
	rows := min(mapStrips, len(s.result.Strips), max(1, int((foot-y-tableHead-3*tableNotes)/rowHeight)))
	s.stripTable(p.leaf, paper.Rect(p.column.X, y, p.column.W, foot-y), shortColumns, 0, rows)
	s.checkedMap(p.leaf, rows)
	p.Paragraph(p.room.X, p.room.Y+p.room.H-high+cautionLine, p.room.W, cautionLine, cautionLettering, caution)
	return p.Leaf, nil
}
