package sweeps

import (
	"math"
	"slices"

	"balk/geo/plane"
)

// Place is where a bar stands at one moment of a pass.
type Place struct {
	At, Ahead   plane.XY // middle of the bar, and the unit vector it faces
	S           float64  // m along the way
	Right, Left float64  // m from the middle, that is down; right below 0
	Goes        bool     // it works on from here to the next place
}

// Ribbon is a piece of ground between two sweeps that stays uncut, within a pass.
type Ribbon struct {
	Left, Right int        // numbers of the sweeps beside it; of a comb the first and the last that are missing there
	Comb        bool       // at a lowering or lifting, where a part of the beams is down only
	Shape       plane.Ring // counter-clockwise
	Area        float64    // m²
	Length      float64    // m along the way
	Widest      float64    // m
	Wavering    float64    // m, standard deviation of the width there that the log's own headings waver by
}

const (
	// thinRibbon: narrower ones, a millimetre, are rounding and stubble.
	thinRibbon = 0.001 // m
	// leastBase: a frame's motion is taken over its own length, and over so much of the way at least: two steps of a log at 1 Hz (common practice, no source).
	leastBase = 2.0 // m, to each side
)

// Waver is by how much the crab angles of places err, rad: the standard deviation of one from where the angles so far away on both sides that they share
// no place put it, taken from the median, since corners are no error. 0 where there are too few.
func Waver(motions []Motion, places []Place, base float64) float64 {
	var off []float64
	from, to := 0, 0
	for k, p := range places {
		for from < k && places[from].S < p.S-2*base {
			from++
		}
		for to < len(places)-1 && places[to].S < p.S+2*base {
			to++
		}
		if p.S-places[from].S < base || places[to].S-p.S < base {
			continue
		}
		share := (p.S - places[from].S) / (places[to].S - places[from].S)
		d := motions[k].Crab - (1-share)*motions[from].Crab - share*motions[to].Crab
		off = append(off, math.Abs(d)/math.Sqrt(1+share*share+(1-share)*(1-share)))
	}
	const fewest, normal = 10, 0.6745 // half of a normal spread lies within 0.6745 of its standard deviation
	if len(off) < fewest {
		return 0
	}
	slices.Sort(off)
	return off[len(off)/2] / normal
}

// Base is how much of the way to each side tells how f moves, m.
func (f Frame) Base() float64 { return max(leastBase, f.Deep()/2) }

// Motions are how the bar of a run moves at each of its places: the crab angle between its way and where it faces, and how fast it turns, over so
// much of the way to each side, within what is worked without a break.
func Motions(places []Place, base float64) []Motion {
	motions := make([]Motion, len(places))
	for first := 0; first < len(places); {
		last := first
		for last < len(places)-1 && places[last].Goes {
			last++
		}
		from, to := first, first
		for k := first; k <= last; k++ {
			for places[from].S < places[k].S-base {
				from++
			}
			for to < last && places[to].S < places[k].S+base {
				to++
			}
			way := places[to].At.Sub(places[from].At)
			along := places[to].S - places[from].S
			if along < base/2 || way.Len() == 0 {
				continue // too short a piece to tell
			}
			m := Motion{Curvature: places[from].Ahead.AngleTo(places[to].Ahead) / along}
			// On an arc the chord has the direction of the way halfway, and the mean of where the bar faces is that at the mean of their places.
			ahead := places[k].Ahead
			m.Crab = way.AngleTo(ahead) + (ahead.AngleTo(places[from].Ahead)+ahead.AngleTo(places[to].Ahead))/3 - m.Curvature*((places[from].S+places[k].S+places[to].S)/3-(places[from].S+places[to].S)/2)
			motions[k] = m
		}
		first = last + 1
	}
	return motions
}

// sure tells quickly that nothing opens: the laps of neighbours straight ahead.
type sure []line3

// line3 is the lap of two neighbours as it is ordered: a·cos + b·sin − κ·c, see Limits.
type line3 struct{ a, b, c float64 }

func (f Frame) sure() sure {
	var s sure
	for _, lap := range f.Laps(Motion{}) {
		p, q := f[lap.Right-1].Left, f[lap.Left-1].Right
		s = append(s, line3{p.Y - q.Y, p.X - q.X, (p.Dot(p) - q.Dot(q)) / 2})
	}
	return s
}

// closed says whether all neighbours straight ahead still lap under m, so that there is no ribbon.
func (s sure) closed(m Motion) bool {
	sin, cos := math.Sincos(m.Crab)
	for _, l := range s {
		if l.a*cos+l.b*sin-m.Curvature*l.c < 0 {
			return false
		}
	}
	return true
}

// Along are the ribbons that f leaves on a run of places between its ends; Combs are those there. waver is that of the crab angles, rad. A ribbon
// begins and ends where the lap of its neighbours is nothing, between two places, or at a place where it is narrower than thinRibbon.
func (f Frame) Along(places []Place, motions []Motion, waver float64) []Ribbon {
	var out []Ribbon
	sure := f.sure()
	var open []*growing                  // in the order they opened
	newest := make([]*growing, len(f)+1) // by the number of the sweep on its right
	var cuts []Cut
	var laps []Lap
	for k, p := range places {
		m := motions[k]
		if closed := sure.closed(m); closed && len(open) == 0 {
			continue
		}
		cuts = f.cuts(m, cuts[:0])
		laps = lapsOf(cuts, laps[:0])
		for _, lap := range laps {
			right, left := lap.At+lap.Lap/2, lap.At-lap.Lap/2
			if -lap.Lap < thinRibbon || left > p.Left || right < p.Right {
				continue
			}
			g := newest[lap.Right]
			if g == nil || g.done || g.left != lap.Left {
				g = &growing{left: lap.Left, right: lap.Right, last: -1}
				newest[lap.Right], open = g, append(open, g)
				if k > 0 && places[k-1].Goes {
					g.tip(f, places[k-1], p, motions[k-1], m)
				}
			}
			g.add(k, p, m, right, left)
		}
		open = slices.DeleteFunc(open, func(g *growing) bool {
			if g.last == k && p.Goes && k < len(places)-1 {
				return false
			}
			if g.last < k {
				g.tip(f, places[k-1], p, motions[k-1], m)
			}
			if r := g.ribbon(f, waver); r.Area > 0 {
				out = append(out, r)
			}
			g.done = true
			return true
		})
	}
	return out
}

// Combs are what f leaves at the ends of a run of places, where it is lowered and lifted as it drives.
func (f Frame) Combs(places []Place) []Ribbon {
	if len(places) == 0 {
		return nil
	}
	return append(f.combs(places[0], 1), f.combs(places[len(places)-1], -1)...)
}

// growing is a ribbon that goes on.
type growing struct {
	left, right int
	rightRim    []plane.XY
	leftRim     []plane.XY
	s           []float64
	widest      float64
	last        int // place at which it was seen last
	done        bool
}

// at is the place so far to the left of the way, m.
func (p Place) at(m Motion, left float64) plane.XY {
	sin, cos := math.Sincos(-m.Crab)
	way := plane.XY{X: p.Ahead.X*cos - p.Ahead.Y*sin, Y: p.Ahead.X*sin + p.Ahead.Y*cos}
	return p.At.Add(way.Left().Scale(left))
}

func (g *growing) add(k int, p Place, m Motion, right, left float64) {
	g.rightRim, g.leftRim, g.s = append(g.rightRim, p.at(m, right)), append(g.leftRim, p.at(m, left)), append(g.s, p.S)
	g.widest, g.last = max(g.widest, left-right), k
}

// tip adds the point between two places at which the lap of the two neighbours is nothing; none where it is not, as when others come between.
func (g *growing) tip(f Frame, a, b Place, ma, mb Motion) {
	lap := func(m Motion) (lap, at float64) {
		right, left := m.across(f[g.right-1].Left), m.across(f[g.left-1].Right)
		return right - left, (right + left) / 2
	}
	la, at := lap(ma)
	lb, bt := lap(mb)
	if la < 0 == (lb < 0) {
		return
	}
	share := la / (la - lb)
	p := a.at(ma, at).Lerp(b.at(mb, bt), share)
	g.rightRim, g.leftRim, g.s = append(g.rightRim, p), append(g.leftRim, p), append(g.s, a.S+share*(b.S-a.S))
}

func (g *growing) ribbon(f Frame, waver float64) Ribbon {
	ring := plane.Ring(slices.Clone(g.rightRim))
	for i, p := range slices.Backward(g.leftRim) {
		if p != g.rightRim[i] {
			ring = append(ring, p)
		}
	}
	if len(ring) < 3 {
		return Ribbon{}
	}
	apart := f[g.left-1].Right.X - f[g.right-1].Left.X
	return Ribbon{Left: g.left, Right: g.right, Shape: ring, Area: ring.Area(), Length: g.s[len(g.s)-1] - g.s[0], Widest: g.widest, Wavering: math.Abs(apart) * waver}
}

// combs is the ground at an end of a run that the bar's line takes for worked and no sweep cut: at a lowering, side 1, ahead of the line as far as the
// sweeps ahead of it stand; at a lifting behind it.
func (f Frame) combs(p Place, side float64) []Ribbon {
	// Across the frame, who cuts there first at a lowering, or last at a lifting.
	var out []Ribbon
	cuts := f.Cuts(Motion{})
	var edges []float64
	for _, c := range cuts {
		edges = append(edges, c.Right, c.Left)
	}
	slices.Sort(edges)
	var run *Ribbon
	var from, to, far float64
	flush := func() {
		if run == nil {
			return
		}
		at := func(x, y float64) plane.XY {
			return p.At.Add(p.Ahead.Scale(x)).Add(p.Ahead.Left().Scale(y))
		}
		x0, x1 := 0.0, far
		if side < 0 {
			x0, x1 = -far, 0
		}
		run.Shape = plane.Ring{at(x0, from), at(x1, from), at(x1, to), at(x0, to)}
		run.Area, run.Length, run.Widest = (to-from)*far, far, to-from
		out, run = append(out, *run), nil
	}
	for i := 1; i < len(edges); i++ {
		lo, hi := max(edges[i-1], p.Right), min(edges[i], p.Left)
		if hi-lo < thinRibbon {
			continue
		}
		middle, least, number := (lo+hi)/2, math.Inf(1), 0
		for _, b := range f {
			if b.Right.Y < middle && middle < b.Left.Y {
				if x := side * (b.Left.X + b.Nose.X) / 2; x < least { // a wing is slanted: half of it cuts from here on
					least, number = x, b.Number
				}
			}
		}
		if number == 0 || least < thinRibbon { // a ribbon along all of the pass, or cut from the line on
			flush()
			continue
		}
		if run != nil && math.Abs(least-far) > thinRibbon {
			flush()
		}
		if run == nil {
			run, from, far = &Ribbon{Left: number, Right: number, Comb: true}, lo, least
		}
		to, run.Left = hi, min(run.Left, number)
		run.Right = max(run.Right, number)
	}
	flush()
	return out
}
