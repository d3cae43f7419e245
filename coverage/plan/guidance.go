package plan

import (
	"fmt"

	"balk/geo/plane"
)

// Line is one line to drive along, for a file that is handed over.
type Line struct {
	Name  string     `json:"name"`
	Kind  string     `json:"kind"`  // "straight" (from A to B) or "curve" (closed: a headland round in one; else open)
	Pass  int        `json:"pass"`  // number in the order driven
	Part  int        `json:"part"`  // of the field, from 1
	Block int        `json:"block"` // 0: a headland round
	Line  []plane.XY `json:"-"`     // m
}

// The kinds of Line.
const (
	Straight = "straight"
	Curve    = "curve"
)

// Guidance is the lines of a plan in the order they are driven: straights from A to
// B, headland rounds as closed curves, passes along a bent edge as open ones.
func Guidance(p Plan) []Line {
	lines := make([]Line, 0, len(p.Passes))
	for _, one := range p.Passes {
		l := Line{Name: fmt.Sprintf("pass %d", one.Number), Kind: Straight, Pass: one.Number, Part: one.Part + 1, Block: one.Block, Line: one.Line}
		if len(one.Line) > 2 {
			l.Kind = Curve
		}
		if one.Round > 0 {
			l.Name = fmt.Sprintf("headland round %d", one.Round)
			if one.Stretch > 0 {
				l.Name += fmt.Sprintf(", stretch %d", one.Stretch)
			}
		}
		lines = append(lines, l)
	}
	return lines
}
