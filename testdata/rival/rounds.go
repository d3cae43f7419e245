package rival

import (
	"math"

	"balk/geo/plane"
)

const (
	loose   = 0.1 // m: a set may leave a bend by so much; a lap takes it up
	sharpen = 2.6 // rad: a bend that turns by more is reckoned as one that turns by so much
)

// lap is a round: what it takes and what it leaves.
type lap struct {
	rings  []plane.Ring
	time   float64 // s, corners included
	missed float64 // m²
}

// laps are the rounds 1 to n of a field.
//
// What round k leaves between round k − 1 and itself is what its bar does not reach: the ground at depth (k − 1)w less all within w/2 of
// its line. Its corners are no part of that: there it is driven to the end, or rounded at a price of its own. Rounding by w/2 takes
// (w/2)²·(tan(θ/2) − θ/2) off a corner that turns by θ (derived: two right triangles less a sector).
func (s set) laps(rings []plane.Ring, n int, p Prices) (out []lap) {
	before := rings
	for k := 1; k <= n; k++ {
		d := (float64(k) - 0.5) * s.w
		l := lap{rings: inset(rings, d)}
		l.missed = areaOf(before) - grown(l.rings, s.w/2)
		before = inset(rings, float64(k)*s.w)
		var left float64
		for _, ring := range l.rings {
			for _, b := range bendsOf(ring, s.r) {
				if b.turn > 0 {
					l.missed -= s.w * s.w / 4 * cutOff(b.turn)
				}
			}
			time, missed := s.round(ring, k, 0, p)
			for _, within := range [...]float64{0.3, 0.75, 1.5} {
				if t, m := s.round(ring, k, within, p); t+p.miss(m) < time+p.miss(missed) {
					time, missed = t, m
				}
			}
			l.time, left = l.time+time, left+missed
		}
		l.missed = max(0, l.missed) + left
		out = append(out, l)
	}
	return out
}

// round is what a round takes, s, and leaves, m², where the driver passes jags of some metres by: he keeps inside them, so along there as
// much is left of the outermost round, and the next ones run as this one does.
func (s set) round(ring plane.Ring, k int, within float64, p Prices) (time, missed float64) {
	if within > 0 {
		smooth, changed := thinned(ring, within)
		if len(smooth) < 3 {
			return math.Inf(1), 0
		}
		if ring = smooth; k == 1 {
			missed = within * changed
		}
	}
	time = ring.Perimeter() / s.work
	for _, b := range bendsOf(ring, s.r) {
		t, m := s.corner(b, k, p)
		time, missed = time+t, missed+m
	}
	return time, missed
}

// cutOff is what a circle of radius 1 leaves in a corner that turns by θ.
func cutOff(turn float64) float64 {
	turn = min(sharpen, math.Abs(turn))
	return math.Tan(turn/2) - turn/2
}

// bend is where a round turns: by so much, rad, above 0 to the left, along so many metres, between sides of which the shorter is so long.
type bend struct{ turn, long, side float64 }

// bendsOf groups the corners of a ring that turn the same way and are less than half a radius apart.
func bendsOf(ring plane.Ring, r float64) (out []bend) {
	n := len(ring)
	turn := func(i int) float64 {
		a, b := ring[i%n].Sub(ring[(i+n-1)%n]), ring[(i+1)%n].Sub(ring[i%n])
		return math.Atan2(a.Cross(b), a.Dot(b))
	}
	var beside [][2]float64 // the sides before and after each bend
	first := 0
	for first < n && ring[first].Dist(ring[(first+n-1)%n]) < r/2 {
		first++
	}
	for i := first; i < first+n; i++ {
		t, side := turn(i), ring[i%n].Dist(ring[(i+n-1)%n])
		after := ring[i%n].Dist(ring[(i+1)%n])
		if k := len(out) - 1; i > first && side < r/2 && out[k].turn*t > 0 {
			out[k].turn, out[k].long, beside[k][1] = out[k].turn+t, out[k].long+side, after
			continue
		}
		out, beside = append(out, bend{turn: t}), append(beside, [2]float64{side, after})
	}
	for k := range out {
		out[k].side = min(beside[k][0], beside[k][1])
	}
	return out
}

// corner is what a bend of round k takes besides its way, s (below 0: rounded, it is shorter), and leaves, m². Where its sides are too short for the arc it is
// driven at the price of what does not fit, and leaves no more than the arc would.
func (s set) corner(b bend, k int, p Prices) (time, missed float64) {
	turn := math.Abs(b.turn)
	q := b.long / max(turn, 1e-9)
	if q >= s.r || (s.r-q)*(1/math.Cos(min(turn, sharpen)/2)-1) <= loose {
		return 0, 0 // the set follows
	}
	short := min(turn, sharpen)
	tangent := s.r * math.Tan(short/2)
	fits := tangent <= b.side
	back := p.Unfit
	if b.turn > 0 {
		inner := max(0, s.r-s.w/2)
		if k == 1 {
			inner = 0 // outside the first round nothing is worked
		}
		outer := s.r + s.w/2
		round := (s.r*short - 2*tangent) / s.work
		missed = (outer*outer - inner*inner) * cutOff(short)
		t, left, wedges := s.backed(short, k)
		if left = min(left, missed); fits && t+p.miss(wedges) < back {
			back, left = t, left+wedges
		}
		if !fits || back+p.miss(left) < round+p.miss(missed) {
			return back, left
		}
		return round, missed
	}
	if s.reverse > 0 && fits { // inside of it there is room
		back = min(back, s.r*short/s.turn+2*tangent/s.reverse+4*s.change)
	}
	if turn > math.Pi { // round an obstacle smaller than the turning circle
		rim, reach := max(0, q-s.w/2), max(0, s.r-s.w/2)
		return (2*math.Pi*s.r - b.long) / s.work, math.Pi * max(0, reach*reach-rim*rim)
	}
	// On past the corner, round the other way, and back to it.
	return min(back, s.time(dubins(pose{}, pose{h: -turn}, s.r))), 0
}

// backed is what a set takes that drives a corner by θ of round k to its end, s, and leaves, m²: on until its nose meets the boundary, back until the
// bend fits, round it, and back until its tail meets the boundary. As on the outermost round itself, it counts as no wider than it works, and has no margin.
// One that must not reverse gets there in no time but that of what does not fit; what nose and tail keep it from it leaves too.
//
//	 ─────────────┐      From the corner of the round's line a bar reaches the corner of the ground at
//	┄┄┄┄┄┄┄┄┄┄┐   │rim   e = (w/2)·tan(θ/2) beyond it. From there on the second pass works the corner, and the
//	  first   ┊   │      first may end as much before. What either is short of that is left.
//	          ┊second
//
// Beside the line by h the rim lies depth·(tan(θ/2) + cot θ) − h·|cot θ| beyond that corner. On a bend a tail b behind the axle swings out by
// √((r + h)² + b²) − (r + h), and a nose before the bend's end as much: where the rim is nearer the pass comes away from it, or to it, on a bend so wide
// that it swings no more than is loose, and a wedge is left.
func (s set) backed(theta float64, k int) (time, missed, wedges float64) {
	im, depth, h := s.im, (float64(k)-0.5)*s.w, s.w/2
	e, cot := h*math.Tan(theta/2), 1/math.Tan(theta)
	rim := func(half float64) float64 { return depth*(math.Tan(theta/2)+cot) - half*math.Abs(cot) }
	first := max(e, s.lead+im.Tractor.Ahead-rim(im.Tractor.Width/2), im.Body.Ahead-rim(h)) // before the corner
	second := max(-e, im.Body.Behind-rim(h))                                               // behind it
	missed = s.w * (first - e + second + e)
	for _, end := range [2]struct{ half, far float64 }{{h, s.lead + im.Body.Behind}, {im.Tractor.Width / 2, im.Tractor.Ahead}} {
		if off := math.Hypot(s.r+end.half, end.far) - (s.r + end.half) - (depth - end.half) - loose; off > 0 {
			wide := end.far * end.far / 2 / loose
			wedges += off * math.Sqrt(off*max(off, 4*wide-off)) / 2
		}
	}
	if s.reverse == 0 {
		return math.Inf(1), missed, wedges
	}
	tangent := s.r * math.Tan(theta/2)
	back := tangent - first + s.lead + max(0, tangent-s.lead-second)
	return s.r*theta/s.turn + back/s.reverse + 4*s.change, missed, wedges
}
