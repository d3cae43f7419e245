package plan

import (
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

const (
	// easeRadius: bends are eased on so many least radii, so that chords of it are no tight bend.
	easeRadius = 1.01
)

// easeFrom are how far before and after a bend its easing begins and ends, in least radii: the ones to try first, first.
var easeFrom = []float64{0.25, 0.5, 1, 1.5, 2, 3, 4}

// eased is a ring whose tight bends are driven on the least radius, where the bar stays on the field, and the bends that are
// left: corners by more than cut, and those that nothing helps. It eases bend by bend, by the shortest way (Dubins) from a place before the bend
// to one after it. An opening cannot do that in arms of the field narrower than two radii.
func (s *survey) eased(part plane.Polygon, ring plane.Ring, cut float64) (plane.Ring, []bend, error) {
	r := s.turner.steer.Radius
	bends := tightBends(ring, r)
	var hard []plane.XY // bends that cannot be eased
	for range 4 * len(bends) {
		next := slices.IndexFunc(bends, func(b bend) bool {
			at := b.middle(ring)
			return !slices.ContainsFunc(hard, func(h plane.XY) bool { return h.Dist(at) < hair })
		})
		if next < 0 {
			break
		}
		easier, ok, err := s.ease(part, ring, bends[next], cut)
		if err != nil {
			return nil, nil, err
		}
		if !ok {
			hard = append(hard, bends[next].middle(ring))
			continue
		}
		ring = easier
		bends = tightBends(ring, r)
	}
	return ring, bends, nil
}

func (b bend) middle(ring plane.Ring) plane.XY { return ring[(b.from+b.to)/2%len(ring)] }

// ease eases one bend; false: it stays as it is.
func (s *survey) ease(part plane.Polygon, ring plane.Ring, b bend, cut float64) (plane.Ring, bool, error) {
	r := s.turner.steer.Radius
	if b.theta > cut {
		return nil, false, nil
	}
	n := len(ring)
	whole := ring.Perimeter()
	for _, radii := range easeFrom {
		far := radii * r
		if 2*far > whole/3 {
			break
		}
		i, from, in := walkedTo(ring, b.from, far, true)
		k, to, out := walkedTo(ring, b.to, far, false)
		taken := ((k-i-1)%n + n) % n // corners left out
		if taken >= n-2 {
			break
		}
		p, err := turn.Dubins(turn.Pose{At: from, Heading: in}, turn.Pose{At: to, Heading: out}, easeRadius*r)
		if err != nil {
			return nil, false, err
		}
		if p.Length() > 2*far+b.long(ring)+r { // it loops
			continue
		}
		line, err := p.Line(bow)
		if err != nil {
			return nil, false, err
		}
		if s.leavesField(part, line) {
			continue
		}
		easier := make(plane.Ring, 0, n-taken+len(line))
		for c := range n - taken {
			easier = append(easier, ring[(k+c)%n])
		}
		return append(easier, line...), true, nil
	}
	return nil, false, nil
}

// long is the way along a bend, m.
func (b bend) long(ring plane.Ring) float64 {
	var l float64
	for i := b.from; i < b.to; i++ {
		l += ring[i%len(ring)].Dist(ring[(i+1)%len(ring)])
	}
	return l
}

// walkedTo is the place so far before or after a corner, the first corner beyond it, and the heading of its side.
func walkedTo(ring plane.Ring, corner int, far float64, back bool) (beyond int, at plane.XY, h geo.Heading) {
	n := len(ring)
	step := 1
	if back {
		step = n - 1
	}
	i := corner % n
	for {
		a, b := ring[i], ring[(i+step)%n]
		d := a.Dist(b)
		if d <= far || d == 0 {
			far -= d
			i = (i + step) % n
			continue
		}
		at = a.Lerp(b, far/d)
		if back {
			a, b = b, a
		}
		return (i + step) % n, at, geo.Along(b.Sub(a))
	}
}

// leavesField says whether a bar of the credited width would leave a part of the field somewhere on a line that begins inside.
func (s *survey) leavesField(part plane.Polygon, line []plane.XY) bool {
	least := s.width/2 - evened
	box := plane.EmptyBox().Extend(line...).Grown(least)
	for _, ring := range part {
		for _, side := range ring.Sides() {
			if !side.Box().Meets(box) {
				continue
			}
			for k, p := range line {
				if side.Dist(p) < least {
					return true
				}
				if k == 0 {
					continue
				}
				if step := (plane.Segment{A: line[k-1], B: p}); step.Dist(side.A) < least || step.Crosses(side) {
					return true
				}
			}
		}
	}
	return false
}
