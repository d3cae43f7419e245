package plan

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	// fine: the lines of rounds are thinned to so much, m. Since an arrangement leaves out slivers twice as broad, rounds side by side
	// stay without cracks.
	fine = 1e-4
	// offBend: a bend is too tight where the set would leave it by more, m. A lap of the usual size takes up what is less.
	offBend = 0.1
)

// loop is one headland round, closed.
type loop struct {
	round    int // 1 is the outermost
	ring     plane.Ring
	bends    []plane.XY // past obstacles, farthest beside its line
	takes    takes      // what it takes to go past them
	cuts     []bend     // bends that the set cannot follow: the round is driven in stretches between them
	circuits *circuits  // how; nil without cuts; of all surveys of a search
	corners  *loop      // the same round with corners driven to their end; nil: that is worth it nowhere
	rounded  float64    // what is rounded off otherwise, as the sum of cornerLeft
	again    bool       // it goes round the same circle of an obstacle as the next one, which stands for it
}

// ring is what is drawn of one headland round: what is driven, and the ground that it leaves inside the round before, as far as that is worked.
type ring struct {
	loops []loop
	left  []leftover
}

// roundOf is headland round k of one part of a field, by its number from 0: the inset by (k − ½)·credited
// with corners rounded to the least radius r.
//
// Corners are rounded by an opening: the inset goes r deeper and is let out again. That takes exactly the corners that a wheel of
// that radius cannot reach. Where an opening would take more than a corner, at sharp corners and in narrow arms, the line stays
// sharp. Its bends are then eased one by one (ease.go). At bends that cannot be eased the round is driven in stretches (circuit.go). Where a round
// has corners that it may take less to drive to their end (cutFrom), both ways are drawn. Which one is driven is chosen by its price when the set gets there (loops.go).
// From which corners on that is asked, and whether at all, is tried out on whole plans (rounding).
//
// Around obstacles and reflex corners the inset is an arc of radius (k − ½)·credited. Where r is more, the line goes round a circle
// of r that touches the arc. What lies between arc and circle stays missed.
//
// Where there is no room for round k beside round k − 1, the ground inside round k − 1 comes back as left, to be worked in straight
// passes. Ground narrower than one width from boundary to boundary stays missed, because no pass fits there.
func (s *survey) roundOf(ctx context.Context, part, k int) (out ring, err error) {
	sk, err := s.sketchOf(ctx, part, k)
	if err != nil {
		return ring{}, err
	}
	out.left = sk.left
	if len(sk.sharp) == 0 {
		return out, nil
	}
	if out.loops, err = s.loopsOf(ctx, sk, part, k, math.Inf(1)); err != nil {
		return ring{}, err
	}
	cut, err := s.cutFrom(k)
	if err != nil || !sharper(sk.sharp, s.turner.steer.Radius, cut) {
		return out, err
	}
	driven, err := s.loopsOf(ctx, sk, part, k, cut)
	if err != nil {
		return ring{}, err
	}
	var byPlace plane.Tree[int]
	for i := range driven {
		byPlace.Insert(driven[i].ring.Bounds().Grown(hair), i)
	}
	for i := range out.loops {
		out.loops[i].withCorners(driven, &byPlace, s.turner.steer.Radius)
	}
	if !s.weighed {
		return out, nil
	}
	return out, s.weigh(ctx, sk, part, k, out.loops, driven)
}

// sketch is what headland round k of a part has in common whichever of its corners are driven to their end. It is drawn once for all surveys of a search.
type sketch struct {
	sharp  []plane.Polygon    // the round's ground, with sharp corners
	left   []leftover         // see ring
	opened *opened            // nil: not asked for yet
	loops  map[float64][]loop // by the angle from which corners stay sharp
	beside []plane.Polygon    // of its ground, what lies outside of its loops with corners rounded by more than half a width
	asked  bool               // it is known
}

// sketchOf is the sketch of a round of a part, by its number from 0.
func (s *survey) sketchOf(ctx context.Context, i, k int) (*sketch, error) {
	at := [2]int{i, k}
	if sk := s.sketches[at]; sk != nil {
		return sk, nil
	}
	part, width := s.ground[i], s.width
	sharp, err := plane.Inset(ctx, []plane.Polygon{part}, (float64(k)-0.5)*width)
	if err != nil {
		return nil, fmt.Errorf("headland round %d: %w", k, err)
	}
	sk := &sketch{sharp: sharp, loops: map[float64][]loop{}}
	if k > 1 {
		sk.sharp = slices.DeleteFunc(sharp, func(p plane.Polygon) bool { return inscribed(p) < narrowRound*width })
		left, err := besides(ctx, part, sk.sharp, k, width)
		if err != nil {
			return nil, fmt.Errorf("beside headland round %d: %w", k, err)
		}
		for _, p := range left {
			sk.left = append(sk.left, s.leftovers(p, float64(k-1)*width)...)
		}
	}
	s.sketches[at] = sk
	return sk, nil
}

// loopsOf are the loops of a round: corners that turn by more than cut stay sharp, all others are rounded. Each survey has its own, and all share how they are driven
// in stretches.
func (s *survey) loopsOf(ctx context.Context, sk *sketch, part, k int, cut float64) ([]loop, error) {
	all, known := sk.loops[cut]
	if !known {
		var err error
		if all, err = s.drawLoops(ctx, sk, part, k, cut); err != nil {
			return nil, fmt.Errorf("headland round %d: %w", k, err)
		}
		if len(s.refused) == 0 { // another survey is to note them too
			sk.loops[cut] = all
		}
	}
	return slices.Clone(all), nil
}

func (s *survey) drawLoops(ctx context.Context, sk *sketch, i, k int, cut float64) (out []loop, err error) {
	part := s.ground[i]
	r, depth := s.turner.steer.Radius, (float64(k)-0.5)*s.width
	if sk.opened == nil {
		if sk.opened, err = open(ctx, part, sk.sharp, depth, r); err != nil {
			return nil, err
		}
	}
	round, err := sk.opened.rounded(ctx, r, cut)
	if err != nil {
		return nil, err
	}
	for _, p := range round {
		for _, line := range p {
			if line = line.Thinned(fine); len(line) < 3 {
				continue
			}
			var bends []plane.XY
			var took takes
			if s.small != nil {
				if line, bends, took, err = s.ringPast(i, line); err != nil {
					return nil, err
				}
			}
			l := loop{round: k, bends: bends, takes: took, again: depth+s.width <= runBend*r && aCircle(line, runBend*r)}
			if l.ring, l.cuts, err = s.eased(part, line, cut); err != nil {
				return nil, err
			}
			if len(l.cuts) > 0 {
				l.circuits = new(circuits)
			}
			out = append(out, l)
		}
	}
	return out, nil
}

const (
	// narrowRound: a ring that holds no circle of so many widths in radius is no round. Both its sides would work the same ground.
	narrowRound = 0.25
	// worthAPass: ground inside a round may be worked in passes where it holds a circle of so many widths in radius and is as large as a
	// square of the width. Smaller pieces are corners, and what is thinner is lap. Whether it is worked is asked by price.
	worthAPass = 0.02
)

func inscribed(p plane.Polygon) float64 {
	_, r := plane.Inscribed(p)
	return r
}

// besides is the ground inside round k − 1 that round k, driven along the rims of ring, does not work.
func besides(ctx context.Context, part plane.Polygon, ring []plane.Polygon, k int, width float64) ([]plane.Polygon, error) {
	ground, err := plane.Inset(ctx, []plane.Polygon{part}, float64(k-1)*width)
	if err != nil || len(ground) == 0 {
		return nil, err
	}
	worth := func(ground []plane.Polygon) []plane.Polygon {
		return slices.DeleteFunc(ground, func(p plane.Polygon) bool {
			return p.Area() < width*width || inscribed(p) < worthAPass*width
		})
	}
	if len(ring) == 0 {
		return worth(ground), nil
	}
	// The ring's outer side runs along the ground's rim nearly everywhere. It is let out by some slack, so that the two do not cross
	// there. What is left gets the slack back.
	left, err := plane.Beyond(ctx, ground, ring, width/2+openSlack)
	if left = worth(left); err != nil || len(left) == 0 {
		return nil, err
	}
	return plane.Within(ctx, ground, left, openSlack)
}

// moreThanCorner, in r²: an opening takes larger pieces off necks and spits only, and these stay. Off a corner of 60° it takes
// 0.68 r².
const moreThanCorner = 0.7

// openSlack: an opening is let out by so much more, m, than it was inset. Chords stand for its arcs to half a millimetre; without
// the slack they would leave slivers along every bend.
const openSlack = 2e-3

// opened is a round's ground, and what an opening by a radius takes off it.
type opened struct {
	wide  []plane.Polygon // all of it, less what lies in tight bends round obstacles
	cored []plane.Polygon // that of it with ground for rounding
	kept  []plane.Polygon // and without
	lost  []plane.Polygon // of that, corners that the radius cannot reach, necks and spits
}

func open(ctx context.Context, part plane.Polygon, sharp []plane.Polygon, depth, r float64) (*opened, error) {
	wide, err := wideBends(ctx, sharp, r)
	if err != nil {
		return nil, err
	}
	var core []plane.Polygon
	if wide == nil {
		wide = sharp
		core, err = plane.Inset(ctx, []plane.Polygon{part}, depth+r)
	} else {
		core, err = plane.Inset(ctx, wide, r)
	}
	o := &opened{wide: wide}
	if err != nil || len(core) == 0 {
		return o, err
	}
	for _, p := range wide {
		if slices.ContainsFunc(core, func(c plane.Polygon) bool { return p.Holds(c[0][0]) }) {
			o.cored = append(o.cored, p)
		} else {
			o.kept = append(o.kept, p)
		}
	}
	o.lost, err = plane.Beyond(ctx, o.cored, core, r+openSlack)
	return o, err
}

// rounded is a round's ground without the corners that a radius r cannot reach and that turn by no more than cut.
func (o *opened) rounded(ctx context.Context, r, cut float64) ([]plane.Polygon, error) {
	most := min(moreThanCorner, cornerLeft(cut)) * r * r // off a corner by θ it takes (tan(θ/2) − θ/2)·r²
	var lost []plane.Polygon
	for _, p := range o.lost {
		if p.Area() <= most {
			lost = append(lost, p)
		}
	}
	if len(lost) == 0 {
		return o.wide, nil
	}
	round, err := plane.Difference(ctx, o.cored, lost)
	return append(round, o.kept...), err
}

// wideBends is a round's ground less a circle of radius r at every bend round an obstacle or a reflex corner that is tighter; nil:
// there is no such bend.
func wideBends(ctx context.Context, sharp []plane.Polygon, r float64) ([]plane.Polygon, error) {
	var circles []plane.Polygon
	for _, p := range sharp {
		for _, ring := range p {
			for _, b := range tightBends(ring, r) {
				if b.theta < 0 {
					circles = append(circles, plane.Polygon{b.circle(ring, r)})
				}
			}
		}
	}
	if len(circles) == 0 {
		return nil, nil
	}
	wide, err := plane.Difference(ctx, sharp, circles)
	if err != nil {
		return nil, err
	}
	wide = slices.DeleteFunc(wide, func(p plane.Polygon) bool { return p.Area() < r*r && inscribed(p) < r/2 }) // sickles cut off
	if len(wide) == 0 {
		return nil, nil
	}
	return wide, nil
}

// bend is a bend of a ring.
type bend struct {
	from, to int     // corners at which it begins and ends; to goes on beyond the last corner if need be
	theta    float64 // rad, by how much it turns; above 0: round the ground, below 0: round an obstacle or a reflex corner
}

// mostRound: a bend round an obstacle that turns by more goes round all of it, rad.
const mostRound = 1.1 * math.Pi

// circle is what a set of least radius r goes round in place of a tight bend. It touches the middle of the bend. Where the bend goes
// round all of an obstacle, the circle holds all of the bend.
func (b bend) circle(ring plane.Ring, r float64) plane.Ring {
	n := len(ring)
	r *= runBend
	middle := (b.from + b.to) / 2
	m := ring[middle%n]
	along := ring[(middle+1)%n].Sub(ring[(middle+n-1)%n]).Unit()
	if (b.to-b.from)%2 == 1 { // the middle of its middle side
		next := ring[(middle+1)%n]
		along, m = next.Sub(m).Unit(), m.Lerp(next, 0.5)
	}
	centre := m.Sub(along.Left().Scale(r))
	if -b.theta > mostRound {
		centre = plane.XY{}
		for i := b.from; i <= b.to; i++ {
			centre = centre.Add(ring[i%n].Scale(1 / float64(b.to-b.from+1)))
		}
		for i := b.from; i <= b.to; i++ {
			r = max(r, ring[i%n].Dist(centre))
		}
	}
	corners := int(math.Ceil(math.Pi / math.Acos(1-hair/2/r)))
	circle := make(plane.Ring, corners)
	for i := range circle {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(corners))
		circle[i] = centre.Add(plane.XY{X: cos, Y: sin}.Scale(r))
	}
	return circle
}

// aCircle says whether a ring is a circle of radius r round an obstacle.
func aCircle(ring plane.Ring, r float64) bool {
	const nearly = 0.01
	return math.Abs(ring.Area()/(-math.Pi*r*r)-1) < nearly && math.Abs(ring.Perimeter()/(2*math.Pi*r)-1) < nearly
}

// gentleBend: the corners of an arc turn by less, rad. What turns by more is a corner of its own.
const gentleBend = 10 * math.Pi / 180

// tightBends are the bends of a ring that a set with least radius r leaves by more than offBend. On a bend by θ of radius q < r the
// set leaves it by (r − q)·(1/cos(θ/2) − 1), since the arcs of both radii touch the same two tangents.
func tightBends(ring plane.Ring, r float64) []bend {
	n := len(ring)
	turns := func(i int) float64 {
		a, b := ring[i].Sub(ring[(i+n-1)%n]), ring[(i+1)%n].Sub(ring[i])
		return a.AngleTo(b)
	}
	leaves := func(q, theta float64) bool { return q < r && (r-q)*(1/math.Cos(min(theta, 3)/2)-1) > offBend }
	first := 0 // start where a straight ends, so that no bend is cut in two
	for first < n && ring[first].Dist(ring[(first+n-1)%n]) <= r/2 {
		first++
	}
	var out []bend
	for i := 0; i < n; {
		at := first + i
		theta, way := turns(at%n), 0.0
		sharpest, last := math.Abs(theta), theta
		for i++; i < n; i++ {
			k := (first + i) % n
			step, next := ring[k].Dist(ring[(k+n-1)%n]), turns(k)
			if step > r/2 || next*theta < 0 {
				break
			}
			theta, way, sharpest, last = theta+next, way+step, max(sharpest, math.Abs(next)), next
		}
		turned := math.Abs(theta)
		if turned == 0 {
			continue
		}
		over := turned
		if sharpest < gentleBend { // its first and last corner turn by a half each between their sides
			over -= (math.Abs(turns(at%n)) + math.Abs(last)) / 2
		}
		q := 0.0
		if way > 0 {
			q = way / over
		}
		if leaves(q, turned) {
			out = append(out, bend{at, first + i - 1, theta})
			continue
		}
		for k := at; k < first+i; k++ { // a corner at the end of a wide bend
			side := min(ring[k%n].Dist(ring[(k+n-1)%n]), ring[k%n].Dist(ring[(k+1)%n]))
			if t := math.Abs(turns(k % n)); t > gentleBend && leaves(side/t, t) {
				out = append(out, bend{k, k, turns(k % n)})
			}
		}
	}
	return out
}
