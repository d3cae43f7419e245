package plan

import (
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// holeAt is an obstacle of a field by its place: the part it lies in, and its ring there.
type holeAt struct{ part, ring int }

// obstacle is one that rows and rounds go past.
type obstacle struct {
	holeAt
	points []plane.XY // of its rim, no farther apart than rimStep
	middle plane.XY
	reach  float64 // m, of its rim from there
}

// rimStep: places on the rim of an obstacle, and places of the set beside it, are so far apart at most, m. Half of it is added to the margin.
const rimStep = 0.2

// obstaclesOf are some holes of a field.
func obstaclesOf(field []plane.Polygon, those []holeAt) [][]obstacle {
	out := make([][]obstacle, len(field))
	for _, h := range those {
		o := obstacle{holeAt: h}
		ring := field[h.part][h.ring]
		for _, side := range ring.Sides() {
			n := 1 + int(side.A.Dist(side.B)/rimStep)
			for k := range n {
				o.points = append(o.points, side.At(float64(k)/float64(n)))
			}
		}
		box := ring.Bounds()
		o.middle = box.Min.Lerp(box.Max, 0.5)
		for _, p := range ring {
			o.reach = max(o.reach, p.Dist(o.middle))
		}
		out[h.part] = append(out[h.part], o)
	}
	return out
}

// boxAbout is the box about some obstacles.
func boxAbout(those []obstacle) plane.Box {
	box := plane.EmptyBox()
	for _, o := range those {
		box = box.Extend(o.points...)
	}
	return box
}

// holesUpTo are the holes of a field that reach no farther across than most, m.
func holesUpTo(field []plane.Polygon, most float64) (out []holeAt) {
	for i, part := range field {
		for k, ring := range part {
			if k > 0 && across(ring) <= most {
				out = append(out, holeAt{i, k})
			}
		}
	}
	return out
}

// across is how far apart the two places of a ring are that lie farthest from each other, m.
func across(ring plane.Ring) (far float64) {
	hull := plane.Hull(ring)
	for i, a := range hull {
		for _, b := range hull[:i] {
			far = max(far, a.Dist(b))
		}
	}
	return far
}

// without is a field less some of its holes.
func without(field []plane.Polygon, those []holeAt) []plane.Polygon {
	if len(those) == 0 {
		return field
	}
	out := make([]plane.Polygon, len(field))
	for i, part := range field {
		for k, ring := range part {
			if !slices.Contains(those, holeAt{i, k}) {
				out[i] = append(out[i], ring)
			}
		}
	}
	return out
}

// outline is a rectangle of the set: how far it reaches ahead of a place, behind it and to either side, m.
type outline struct {
	at                  plane.XY
	axis                plane.XY // of length 1, ahead
	ahead, behind, half float64
}

func outlineAt(p turn.Pose, ahead, behind, half float64) outline {
	return outline{p.At, p.Heading.Ahead(), ahead, behind, half}
}

// along is what an outline sweeps that is driven straight on, m.
func (o outline) along(way float64) outline {
	o.ahead += way
	return o
}

// from is how far a place is from the outline, squared, m².
func (o outline) from(p plane.XY) float64 {
	d := p.Sub(o.at)
	x, y := d.Dot(o.axis), math.Abs(o.axis.Cross(d))
	dx, dy := max(0, -o.behind-x, x-o.ahead), max(0, y-o.half)
	return dx*dx + dy*dy
}

// nears says whether the outline comes nearer to an obstacle than clear, m.
func (o outline) nears(ob obstacle, clear float64) bool {
	if far := ob.reach + clear; o.from(ob.middle) >= far*far {
		return false
	}
	return slices.ContainsFunc(ob.points, func(p plane.XY) bool { return o.from(p) < clear*clear })
}

// barHalf is half of what the bar takes across, m: no part of it goes over an obstacle.
func (t *turner) barHalf() float64 { return max(t.im.Width, t.im.Body.Width) / 2 }

// straightOutlines are those of implement and tractor with the bar there, and the set straight.
func (t *turner) straightOutlines(bar turn.Pose) [2]outline {
	tr, b := t.im.Tractor, t.im.Body
	return [2]outline{outlineAt(bar, b.Ahead, b.Behind, t.barHalf()), outlineAt(bar.Moved(t.lead, t.im.Mount.BarRight, 0), tr.Ahead, tr.Behind, tr.Width/2)}
}

// outlines are those of the set with its bar there on a line of some curvature, 1/m: as if straight, and leading.
func (t *turner) outlines(bar turn.Pose, bent float64) [4]outline {
	m, tr := t.im.Mount, t.im.Tractor
	all := t.straightOutlines(bar)
	led := all
	if !m.Trailed {
		bar.Heading += geo.Heading(math.Asin(max(-1, min(1, t.lead*bent))))
		led = t.straightOutlines(bar)
	} else {
		h := m.HitchBehindAxle()
		hitch := bar.Moved(t.lead-h, m.BarRight, math.Atan((m.Drawbar+m.BarBehind)*bent)+math.Atan(h*bent))
		led[1] = outlineAt(hitch.Moved(h, 0, 0), tr.Ahead, tr.Behind, tr.Width/2)
	}
	return [4]outline{all[0], all[1], led[0], led[1]}
}

// nose is how far the tractor reaches ahead of the bar, and end how far the implement does, either way.
func (t *turner) nose() float64 { return max(t.lead+t.im.Tractor.Ahead, t.end()) }

func (t *turner) end() float64 { return max(t.im.Body.Ahead, t.im.Body.Behind) }

// trackHalf is how far the tractor reaches to either side of the bar's middle, m.
func (t *turner) trackHalf() float64 { return t.im.Tractor.Width/2 + math.Abs(t.im.Mount.BarRight) }

// farthest is how far any of the set is from the bar's middle, m.
func (t *turner) farthest() float64 {
	return math.Hypot(t.lead+t.im.Tractor.Ahead+t.im.Body.Behind, t.barHalf()+math.Abs(t.im.Mount.BarRight))
}

// keeps is how far the set stays from obstacles beside its rows, m.
func (t *turner) keeps() float64 { return t.im.Turning.Margin + rimStep/2 }

// bothWays are the outlines of the set while its bar is driven along a way, either way, one place after the other.
func (t *turner) bothWays(p turn.Path) (out [][8]outline, err error) {
	err = p.Walk(rimStep, func(_ float64, at turn.Pose, bent float64, _ bool) {
		there, back := t.outlines(at, bent), t.outlines(about(at), -bent)
		out = append(out, [8]outline{there[0], there[1], there[2], there[3], back[0], back[1], back[2], back[3]})
	})
	return out, err
}

// nearsAny says whether one of some outlines, moved along the x axis, comes nearer to one of some obstacles than the set may.
func (t *turner) nearsAny(those []outline, moved float64, obstacles []obstacle) bool {
	for _, o := range those {
		o.at.X += moved
		if slices.ContainsFunc(obstacles, func(ob obstacle) bool { return o.nears(ob, t.keeps()) }) {
			return true
		}
	}
	return false
}
