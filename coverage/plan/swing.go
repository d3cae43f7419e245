package plan

import (
	"math"
	"slices"

	"balk/coverage/turn"
)

// A set that stands along the boundary has its far end there. On the least radius that end, behind the axle, swings out before it
// comes in, and so does the end of a set that backs in along a boundary. So the set leaves and reaches such a place on bends that begin gently:
//
//	boundary ─────●──────────   the end ● lies b behind the axle and h beside it. Heading by φ to the left, from y and θ on
//	          │   :             radius R, it is y + R(cos θ − cos φ) − b sin φ + h(1 − cos φ) inside the boundary,
//	        axle→ R             and least so at tan φ = b/(R + h), or at θ where that is more
const (
	swingStep = 1.0 // m, of the bends: shorter ones win centimetres
	swingMost = 16  // bends: a set so long that these are not enough does not get away from there
	// swingSlack, m: the set may come so much nearer to the boundary than it stands. Ways are followed to sampled; some of that is rounding.
	swingSlack = 0.8 * sampled
)

// backedOff is how far the set goes straight back before it bends, in least radii, beside what the bends take: its nose then has room to turn.
var backedOff = []float64{0, 0.5, 1}

// rim is where a pass along a boundary has it.
type rim int

const (
	noRim rim = iota
	onRight
	onLeft
)

// swung is the way to the left from a place along a boundary on the right to where the set may bend on its least radius.
func (t *turner) swung() []turn.Arc {
	b, h := t.lead+t.im.Body.Behind, t.half+math.Abs(t.im.Mount.BarRight)
	tightest := 1 / t.runRadius()
	var out []turn.Arc
	y, theta := 0.0, 0.0
	inside := func(bent float64) bool {
		r := 1 / bent
		phi := max(theta, math.Atan2(b, r+h))
		sin, cos := math.Sincos(phi)
		return y+r*(math.Cos(theta)-cos)-b*sin+h*(1-cos) >= -swingSlack
	}
	for range swingMost {
		if inside(tightest) {
			return out
		}
		gentle, tight := 0.0, tightest
		for range 30 {
			if m := (gentle + tight) / 2; inside(m) {
				gentle = m
			} else {
				tight = m
			}
		}
		if gentle == 0 {
			return nil
		}
		out = append(out, turn.Arc{Length: swingStep, From: gentle, To: gentle})
		next := theta + swingStep*gentle
		y += (math.Cos(theta) - math.Cos(next)) / gentle
		theta = next
	}
	return nil
}

// swungFrom is swung beside a boundary on either side; nothing where there is none, or where the set may not reverse.
func (t *turner) swungFrom(boundary rim) []turn.Arc {
	if boundary == noRim || !t.reverses {
		return nil
	}
	away := t.swung()
	if boundary == onLeft {
		for i := range away {
			away[i].From, away[i].To = -away[i].From, -away[i].To
		}
	}
	return away
}

// outAndIn is the quickest way from a pose to another along a boundary: from one along a boundary back and then off it; to where the set
// backs in along the other one.
func (t *turner) outAndIn(from, to turn.Pose, out, in rim) (best Move, ok bool, err error) {
	off, on := t.swungFrom(out), t.swungFrom(in)
	if len(off)+len(on) == 0 {
		return Move{}, false, nil
	}
	goal := turn.Path{From: to, Pieces: on}.End()
	var back []turn.Arc
	for _, a := range slices.Backward(on) {
		back = append(back, turn.Arc{Length: -a.Length, From: a.To, To: a.From})
	}
	for _, radii := range backedOff {
		first := turn.Path{From: from, Pieces: off}
		if far := float64(len(off))*swingStep + radii*t.steer.Radius; far > 0 {
			first.Pieces = slices.Concat([]turn.Arc{{Length: -far}}, off)
		}
		c, found, err := t.firstWord(first.End(), goal, true, true)
		if err != nil {
			return Move{}, false, err
		}
		if !found {
			continue
		}
		p := turn.Path{From: from, Pieces: slices.Concat(first.Pieces, c.path.Pieces, back), Kind: turn.Reversing}
		if fits, err := t.drives(p); err != nil {
			return Move{}, false, err
		} else if !fits {
			continue
		}
		m, err := t.moveAlong(p.Kind, p)
		if err != nil {
			return Move{}, false, err
		}
		if !ok || m.Seconds < best.Seconds-leastGain {
			best, ok = m, true
		}
	}
	return best, ok, nil
}
