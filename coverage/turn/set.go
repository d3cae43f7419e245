package turn

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Fine is how exact a set is driven when nothing else is asked for, m: a quarter
// of the 2 cm that the best receiver is good for. See Drive.
const Fine = 5e-3

const (
	finest    = 1e-7 // m; finer drowns in the rounding of a million steps
	coarsest  = 0.5  // m; coarser is no outline any more
	perDegree = 180 / math.Pi
)

// Driven is a set on its path: where its parts are at every moment of a turn.
type Driven struct {
	Path    Path
	Moments []Moment
	// Angle is the greatest between tractor and implement, degrees; 0 for a rigid set.
	Angle   float64
	AngleAt int // index of the moment where it is

	mount rig.Mount // as seen from the rear axle: the antenna stands above it
	im    rig.Implement
	tip   [2]rect // of tractor and implement
	quads [2][]quad
}

// Moment is the set after so many metres.
type Moment struct {
	S       float64 // m driven
	Set     rig.Set // its Antenna is the middle of the tractor's rear axle
	Reverse bool
}

// The outlines of a set.
const (
	ofTractor   = 0
	ofImplement = 1
)

// rect is a rectangle seen from its own origin, m.
type rect struct{ ahead, behind, half float64 }

// quad is a rectangle on the plane: rear right, front right, front left, rear left.
type quad [4]plane.XY

func (r rect) at(origin, facing plane.XY) quad {
	left := facing.Left().Scale(r.half)
	front, rear := origin.Add(facing.Scale(r.ahead)), origin.Sub(facing.Scale(r.behind))
	return quad{rear.Sub(left), front.Sub(left), front.Add(left), rear.Add(left)}
}

// Lacking is an entry that the description of an implement needs for turning and
// has not.
type Lacking struct{ Entry, Need string }

func (e *Lacking) Error() string {
	return fmt.Sprintf("%s: not given; turning needs %s", e.Entry, e.Need)
}

// Describes says whether im describes what turning needs: it passes Validate, and
// a radius, the tractor's outline, and for a trailed set the limit of its drawbar are known. Errors: a
// *Lacking with the entry that is missing; what Validate says.
func Describes(im rig.Implement) error {
	if err := im.Validate(); err != nil {
		return err
	}
	for _, e := range []struct {
		lacks       bool
		entry, need string
	}{
		{im.TurnRadius() == 0, "turning, radius", "the least radius the tractor can steer, m"},
		{im.Tractor.Ahead == 0, "tractor, ahead", "how far the tractor reaches ahead of its rear axle, m"},
		{im.Tractor.Width == 0, "tractor, width", "the tractor's width over everything, m"},
		{im.Turning.Speed == 0, "turning, speed", "the speed in the turn, km/h"},
		{im.Mount.Trailed && im.Mount.AngleLimit() == 0, "mount, maxAngle or drawbarRadius", "the greatest drawbar angle or the least radius of the trailed set"},
	} {
		if e.lacks {
			return &Lacking{e.entry, e.need}
		}
	}
	return nil
}

// SteeringOf is what the set's steering allows: the larger of tractor's and drawbar's radius.
func SteeringOf(im rig.Implement) Steering {
	return Steering{Radius: im.TurnRadius(), Sharpness: im.Turning.Sharpness, Standing: im.Turning.Standing}
}

// SpeedsOf are how fast the set turns.
func SpeedsOf(im rig.Implement) Speeds {
	t := im.Turning
	return Speeds{Turning: t.Speed.MetresPerSecond(), Reversing: t.ReverseSpeed.MetresPerSecond(), Change: t.Change}
}

// Drive puts the set on the path p of its tractor's rear axle. It starts straight:
// implement behind tractor. Steps are so small that
//
//  1. between two moments no point of an outline leaves the line between its two places by more than
//     fine (m), nor the drawbar's angle its two values by more than fine/L;
//  2. driving forward, the implement at a moment is turned from where a tractrix without steps would have it by
//     4/3·fine/(reach·cos ψ) rad at most, reach being that of its outline from the hitch and ψ the
//     greatest angle between drawbar and the hitch's way: at its far end some 4/3·fine/cos ψ m.
//  3. In reverse a drawbar is unstable: every error, and every real deviation, grows by e^(s/L).
//
// To see (1): a chord over h departs from its curve by h²/8·max|P″|; see bend. To see (2): the hitch is
// driven along chords, δ off its curve with |δ| ≤ |H″|h²/8 and 0 at the moments. The drawbar turns by
// θ' = e × H'/L. By parts, ∫e × δ'/L = −∫e' × δ/L, and δ turned into an angle, δ/L, acts once more:
// together at most 2v/L²·|H″|h³/12 per step. Against it works the drawbar's own settling at the rate
// v·cos ψ/L, so what is left is |H″|h²/(6L cos ψ), which with h² = 8·fine/max|P″| and
// |P″| ≥ |H″|·reach/L is the bound given.
//
// Errors: im or p do not pass Validate; fine out of range; more than ten million moments.
func Drive(p Path, im rig.Implement, fine float64) (*Driven, error) {
	if err := im.Validate(); err != nil {
		return nil, err
	}
	if !(fine >= finest && fine <= coarsest) {
		return nil, fmt.Errorf("set driven to %g m: must be from %g to %g m", fine, finest, coarsest)
	}
	d := newDriver(im, fine)
	return d.drive(p)
}

// driver is what stays the same for all turns of a set.
type driver struct {
	im    rig.Implement
	mount rig.Mount
	fine  float64
	tip   [2]rect
	reach [2]float64 // m, farthest corner: of the tractor from its axle; of the implement from what it turns round
}

func newDriver(im rig.Implement, fine float64) driver {
	d := driver{im: im, mount: im.Mount, fine: fine}
	d.mount.Hitch, d.mount.AntennaAhead, d.mount.AntennaRight = im.Mount.HitchBehindAxle(), 0, 0
	d.tip = [2]rect{
		{im.Tractor.Ahead, im.Tractor.Behind, im.Tractor.Width / 2},
		{im.Body.Ahead, im.Body.Behind, cmp.Or(im.Body.Width, im.Width) / 2},
	}
	still := rig.Set{Ahead: plane.XY{X: 1}, Drawn: plane.XY{X: 1}}
	var pivots [2]plane.XY
	if im.Mount.Trailed {
		pivots[ofImplement] = still.Hitch(d.mount)
	}
	for i, corners := range d.quads(still) {
		for _, p := range corners {
			d.reach[i] = max(d.reach[i], p.Dist(pivots[i]))
		}
	}
	return d
}

// quads are both outlines.
func (d *driver) quads(s rig.Set) [2]quad {
	at, facing := s.Bar(d.mount)
	return [2]quad{d.tip[ofTractor].at(s.Antenna, s.Ahead), d.tip[ofImplement].at(at, facing)}
}

// bend bounds |P″| of every point of both outlines over the way s of the axle on a
// piece, 1/m.
//
// With κ, κ' the curvature and its change, a point fixed to the tractor at r from its axle has P' = t + rκ·n, so
// |P″| ≤ κ + r(κ' + κ²). The hitch H, h behind, has |H'| ≤ v = √(1 + h²κ²). The drawbar turns by
// θ' = v·sin ψ/L, θ″ ≤ v²·|sin ψ cos ψ|/L² + |H″|/L. A point at r from the hitch:
// |P″| ≤ |H″| + r(θ″ + θ'²), and |sin ψ cos ψ| + sin²ψ ≤ (1 + √2)/2.
func (d *driver) bend(a Arc) float64 {
	k, change := a.bent(), 0.0
	if a.From != a.To {
		change = math.Abs(a.To-a.From) / math.Abs(a.Length)
	}
	fixed := func(r float64) float64 { return k + r*(change+k*k) }
	if !d.mount.Trailed {
		return max(fixed(d.reach[ofTractor]), fixed(d.reach[ofImplement]))
	}
	h, l, r := math.Abs(d.mount.Hitch), d.mount.Drawbar, d.reach[ofImplement]
	hitch, v2 := fixed(h), 1+h*h*k*k
	return max(fixed(d.reach[ofTractor]), hitch*(1+r/l)+(1+math.Sqrt2)/2*r*v2/(l*l))
}

func (d *driver) drive(p Path) (*Driven, error) {
	out := &Driven{Path: p, mount: d.mount, im: d.im, tip: d.tip}
	step := func(a Arc) float64 { return math.Sqrt(8 * d.fine / d.bend(a)) }
	moments := 1.0
	for _, a := range p.Pieces {
		moments += 1 + math.Abs(a.Length)/step(a)
	}
	if moments < mostSteps { // else walk refuses
		out.Moments = make([]Moment, 0, int(moments))
		out.quads = [2][]quad{make([]quad, 0, int(moments)), make([]quad, 0, int(moments))}
	}
	var worst float64 // 1 − cos of the angle, which grows with it up to π
	first := true
	err := p.walk(step,
		func(s float64, at Pose, _ float64, reverse bool) {
			ahead := at.Heading.Ahead()
			var set rig.Set
			if first {
				set, first = rig.Set{Antenna: at.At, Ahead: ahead, Drawn: ahead}, false
			} else {
				set = out.Moments[len(out.Moments)-1].Set.Move(d.mount, at.At, ahead, reverse)
			}
			if !d.mount.Trailed {
				set.Drawn = ahead
			} else if bent := 1 - set.Ahead.Dot(set.Drawn); bent > worst {
				worst, out.AngleAt = bent, len(out.Moments)
			}
			q := d.quads(set)
			out.quads[ofTractor] = append(out.quads[ofTractor], q[ofTractor])
			out.quads[ofImplement] = append(out.quads[ofImplement], q[ofImplement])
			out.Moments = append(out.Moments, Moment{S: s, Set: set, Reverse: reverse})
		})
	if err != nil {
		return nil, err
	}
	if d.mount.Trailed {
		out.Angle = out.Moments[out.AngleAt].Set.Angle() * perDegree
	}
	return out, nil
}

// After is the drive from so many metres on; its greatest angle is that of the whole.
func (d *Driven) After(s float64) *Driven {
	rest := *d
	k := slices.IndexFunc(d.Moments, func(m Moment) bool { return m.S >= s })
	if k < 0 {
		k = len(d.Moments) - 1
	}
	rest.Moments = d.Moments[k:]
	for i := range d.quads {
		rest.quads[i] = d.quads[i][k:]
	}
	return &rest
}

// Tractor is the tractor's outline at moment k: rear right, front right, front left, rear left.
func (d *Driven) Tractor(k int) plane.Ring { return d.quads[ofTractor][k].ring() }

// Implement is the implement's outline at moment k, in the same order. Its drawbar has no
// width and is not part of it.
func (d *Driven) Implement(k int) plane.Ring { return d.quads[ofImplement][k].ring() }

func (q quad) ring() plane.Ring { return plane.Ring{q[0], q[1], q[2], q[3]} }

// Hitch is where the implement is hung at moment k.
func (d *Driven) Hitch(k int) plane.XY { return d.Moments[k].Set.Hitch(d.mount) }

// Bar is the middle of the working bar at moment k and the way it faces.
func (d *Driven) Bar(k int) (at, facing plane.XY) { return d.Moments[k].Set.Bar(d.mount) }

// Axle is the middle of the implement's axle at moment k; of a rigid one, the hitch.
func (d *Driven) Axle(k int) plane.XY {
	s := d.Moments[k].Set
	return s.Hitch(d.mount).Sub(s.Drawn.Scale(d.mount.Drawbar))
}

// Wheels are the tracks of the implement's wheels, left and right; none where its
// wheels are not known.
func (d *Driven) Wheels() (left, right []plane.XY) {
	half := d.im.Body.Wheels / 2
	if half == 0 || !d.mount.Trailed {
		return nil, nil
	}
	for k, m := range d.Moments {
		to := m.Set.Drawn.Left().Scale(half)
		left = append(left, d.Axle(k).Add(to))
		right = append(right, d.Axle(k).Sub(to))
	}
	return left, right
}

// CutIn is how far the axle of a trailed implement leaves the path of the
// tractor's rear axle, m, and the moment where. The path counts as going on straight behind its start,
// where the implement still stands. 0 for a rigid set.
func (d *Driven) CutIn() (metres float64, at int) {
	if !d.mount.Trailed || len(d.Moments) == 0 {
		return 0, 0
	}
	back := math.Abs(d.mount.Hitch) + d.mount.Drawbar
	start := d.Moments[0].Set
	for k, m := range d.Moments {
		axle := d.Axle(k)
		near := plane.Segment{A: start.Antenna.Sub(start.Ahead.Scale(back)), B: start.Antenna}.Dist2(axle)
		// Nothing of the path farther back than twice the set is nearer than the tractor, unless
		// the drawbar has folded.
		for j := k; j > 0 && m.S-d.Moments[j].S <= 2*back; j-- {
			near = min(near, plane.Segment{A: d.Moments[j-1].Set.Antenna, B: d.Moments[j].Set.Antenna}.Dist2(axle))
		}
		if off := math.Sqrt(near); off > metres {
			metres, at = off, k
		}
	}
	return metres, at
}

// Reach is how far an outline of the set gets in a direction, m from the place.
func (d *Driven) Reach(from plane.XY, towards geo.Heading) float64 {
	return d.farthest(towards).Sub(from).Dot(towards.Ahead())
}

// farthest is the corner of an outline that gets farthest in a direction.
func (d *Driven) farthest(towards geo.Heading) (at plane.XY) {
	ahead, most := towards.Ahead(), math.Inf(-1)
	for i, body := range d.quads {
		if d.tip[i].half == 0 {
			continue
		}
		for _, q := range body {
			for _, p := range q {
				if reach := p.Dot(ahead); reach > most {
					most, at = reach, p
				}
			}
		}
	}
	return at
}
