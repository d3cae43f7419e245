package sweeps

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Fault is what one sweep does that is lost, or whose leg is bent.
type Fault struct {
	Number int     // of the sweep
	Left   float64 // m, its leg is bent by, to the left; below 0 to the right; 0 = the sweep is lost
	Uncut  float64 // m across the way, straight ahead, between the ends, that is cut without the fault and not with it
	Narrow float64 // m, so much less is cut from end to end
	Crab   float64 // rad, the largest crab angle, to the worse side, at which the rest cuts all it cuts straight ahead
}

// Lost is what each sweep leaves that is lost.
func (f Frame) Lost() []Fault {
	faults := make([]Fault, len(f))
	for i, b := range f {
		faults[i] = f.fault(f.Without(i), b.Number, 0)
	}
	return faults
}

// WorstBent is the leg that leaves most when it is bent by so much, m above 0, to either side: first in ground between the ends, then in crab angle.
func (f Frame) WorstBent(by float64) Fault {
	var worst Fault
	for i, b := range f {
		for _, left := range []float64{by, -by} {
			one := f.fault(f.Bent(i, left), b.Number, left)
			if worst.Number == 0 || cmp.Or(cmp.Compare(one.Uncut, worst.Uncut), cmp.Compare(worst.Crab, one.Crab)) > 0 {
				worst = one
			}
		}
	}
	return worst
}

func (f Frame) fault(g Frame, number int, left float64) Fault {
	one := Fault{Number: number, Left: left, Crab: MostCrab, Narrow: f.width() - g.width()}
	one.Uncut = max(0, g.Uncut(Motion{})-f.Uncut(Motion{}))
	if len(g) > 0 {
		l := g.Limits(0)
		one.Crab = min(l.CrabLeft.At, l.CrabRight.At)
	}
	return one
}

// width is what f reaches over from end to end, straight ahead, m.
func (f Frame) width() float64 {
	if len(f) == 0 {
		return 0
	}
	right, left := f.Span()
	return left - right
}

// Draw is how far to the right of the middle of the bar the pull of the sweeps lies, m, each taken by its width and depth, or by its width alone where the depth of any is not
// known: an uneven layout draws to that side.
func Draw(l rig.Layout) float64 {
	moment, pull := 0.0, 0.0
	all := l.All()
	shallow := slices.ContainsFunc(all, func(s rig.Sweep) bool { return s.Depth == 0 })
	for _, s := range all {
		p := s.Width
		if !shallow {
			p *= s.Depth
		}
		moment, pull = moment+p*s.Right, pull+p
	}
	return moment / pull
}

// sameBeam: noses so close along the way stand on one beam; beams are measured in centimetres.
const sameBeam = 0.02 // m

// Passage is the room that straw and turf find between the sweeps.
type Passage struct {
	Beam    float64 // m, between the tips of neighbours on one beam, where least; +Inf where no beam has two
	Between float64 // m, between the blades of any two that are not on one beam, where least; +Inf on one beam
	Beams   int     // beams counted
}

// Passage measures it from above.
func (f Frame) Passage() Passage {
	p := Passage{Beam: math.Inf(1), Between: math.Inf(1)}
	byNose := slices.Clone(f)
	slices.SortStableFunc(byNose, func(a, b Blade) int { return cmp.Compare(b.Nose.X, a.Nose.X) })
	for from := 0; from < len(byNose); p.Beams++ {
		to := from + 1
		for to < len(byNose) && byNose[from].Nose.X-byNose[to].Nose.X <= sameBeam {
			to++
		}
		beam := byNose[from:to]
		slices.SortFunc(beam, func(a, b Blade) int { return cmp.Compare(b.Nose.Y, a.Nose.Y) })
		for i := 1; i < len(beam); i++ {
			p.Beam = min(p.Beam, beam[i-1].Right.Y-beam[i].Left.Y)
		}
		for _, a := range beam {
			for _, b := range byNose[to:] {
				p.Between = min(p.Between, a.dist(b))
			}
		}
		from = to
	}
	return p
}

// wings are the two cutting edges of b.
func (b Blade) wings() [2]plane.Segment {
	return [2]plane.Segment{{A: b.Nose, B: b.Left}, {A: b.Nose, B: b.Right}}
}

// dist is the least distance of two blades, 0 where their wings cross.
func (b Blade) dist(c Blade) float64 {
	least := math.Inf(1)
	for _, v := range b.wings() {
		for _, w := range c.wings() {
			if v.Crosses(w) {
				return 0
			}
			least = min(least, v.Dist(w.A), v.Dist(w.B), w.Dist(v.A), w.Dist(v.B))
		}
	}
	return least
}
