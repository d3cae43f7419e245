package plan

import (
	"math"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/sweeps"
)

// uncut is what the sweeps leave between them in the bends of a plan, m². The bar follows its line square to it; in a bend the implement
// turns about the line of its axle, or the tractor's, so that the bar's ends are led aside (sweeps.Motion). A slope is not known.
func (p Plan) uncut() float64 {
	if !p.Implement.Sweeps.Known() {
		return 0
	}
	f, axle, sum := sweeps.Of(p.Implement.Sweeps, false), p.Implement.Mount.Pivot(), 0.0
	for _, pass := range p.Passes {
		places := coverage.Bars(drive.Along(drive.Moving(spaced(pass.Line)), p.Implement.Width, 0))
		motions := sweeps.Motions(places, f.Base())
		for i, m := range motions {
			// The centre lies abeam of the axle: seen from the bar it lies aslant, and the bar crabs.
			motions[i].Crab = math.Asin(max(-1, min(1, axle*m.Curvature)))
		}
		for _, one := range f.Along(places, motions, 0) {
			sum += one.Area
		}
	}
	return sum
}
