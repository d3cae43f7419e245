package sheet

import "balk/export/sheet/paper"

// cautions are those for everybody who is told where to drive (DESIGN section 6).
var cautions = []struct{ head, words string }{
	{"Overhead lines", "Keep clear when driving under them and when folding; know the height of the set folded and while it folds."},
	{"Slopes", "Mind rollover, above all with the implement raised, across the slope and in turns downhill."},
	{"Wet ground and drains", "Stay off ground that does not bear; drains, culverts and soft headlands may not be on the map."},
	{"Loads", "Keep to the allowed drawbar and axle loads, tyres and ballast, on the road too."},
	{"Drawbar", "Reversing can fold the set about its drawbar; get out and look, and keep to the radius the set may turn."},
	{"Road", "Mind width, height, lights and permits on the way, and folding before the road."},
	{"Bystanders", "Nobody near the set while it works, turns, folds or is coupled; watch for walkers and children at field edges."},
	{"Buried services", "Ask about cables, pipes and gas before working deeper than usual."},
	{"Map", "A map from a receiver is no legal survey; boundaries, obstacles and strips may lie off by its error."},
	{"What comes first", "Local rules, the machine's manual and licensed practice come before this sheet."},
}

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
	l.Text(in.X, in.Y+3, paper.Lettering{Size: 9, Bold: true}, s.word("Before anyone drives"))
	const columns = 2
	room := (in.W - 2*partGap*(columns-1)) / columns
	each := (len(cautions) + columns - 1) / columns
	bottom := 0.0
	for c := range columns {
		x, y := in.X+float64(c)*(room+2*partGap), in.Y+7.5
		for _, one := range cautions[c*each : min(len(cautions), (c+1)*each)] {
			l.Text(x, y, paper.Lettering{Size: 7.5, Bold: true}, s.word(one.head))
			y = l.Paragraph(x+cautionHead, y, room-cautionHead, cautionStep, paper.Lettering{Size: 7.5}, s.word(one.words)) + 0.8
		}
		bottom = max(bottom, y)
	}
	return bottom
}
