package sheet

import "balk/export/sheet/paper"

const cautionStep = 3.3 // mm from line to line

// cautionHead is the width of the words in front, in mm.
const cautionHead = 34.0

// cautionsHeight is what the cautions take.
func (s *setting) cautionsHeight(l *leaf, width float64) float64 {
	probe := s.newLeaf()
	return s.cautions(probe, paper.Rect(0, 0, width, 0))
}

// cautions writes them in columns and gives how far down they come.
func (s *setting) cautions(l *leaf, b paper.Box) float64 {
	l.Stroke(b.Path(), paper.Pen{Colour: paper.Black, Width: 0.25})
	in := b.Inset(2)
	l.section(in.X, in.Y+3, s.Word("Before anyone drives"))
	all := s.Cautions()
	for i := range all {
		if all[i].Head == s.Word("Slopes") && s.slopes != "" {
			all[i].Text += " " + s.slopes
		}
	}
	const columns = 2
	room := (in.W - 2*partGap*(columns-1)) / columns
	each := (len(all) + columns - 1) / columns
	bottom := 0.0
	for c := range columns {
		x, y := in.X+float64(c)*(room+2*partGap), in.Y+7.5
		for _, one := range all[c*each : min(len(all), (c+1)*each)] {
			l.Text(x, y, paper.Lettering{Size: 7.5, Bold: true}, one.Head)
			y = l.Paragraph(x+cautionHead, y, room-cautionHead, cautionStep, paper.Lettering{Size: 7.5}, one.Text) + 0.8
		}
		bottom = max(bottom, y)
	}
	return bottom
}
