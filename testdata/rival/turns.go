package rival

import (
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo/plane"
)

func sort(v []float64) { slices.Sort(v) }

// set is what the planner knows of a set.
type set struct {
	im                  rig.Implement
	w, r                float64 // m, credited width; least radius
	lead                float64 // m, the tractor's rear axle ahead of the bar
	half                float64 // m, of the greatest width
	work, turn, reverse float64 // m/s; reverse 0: it must not
	change              float64 // s
}

func setOf(im rig.Implement, p Prices) set {
	m, t := im.Mount, im.Turning
	s := set{im: im, w: im.Width - im.Overlap, r: im.TurnRadius(), lead: m.HitchBehindAxle() + m.Drawbar + m.BarBehind, change: t.Change,
		half: max(im.Body.Width, im.Tractor.Width) / 2, work: p.Speed / 3.6, turn: float64(t.Speed) / 3.6}
	if im.Body.Width == 0 {
		s.half = max(im.Width, im.Tractor.Width) / 2
	}
	if !m.Trailed || m.MayReverse {
		s.reverse = float64(t.ReverseSpeed) / 3.6
	}
	return s
}

// pose is a place of the rear axle and where it heads, rad.
type pose struct {
	at plane.XY
	h  float64
}

// arc is a piece of a way: so long, m, below 0 backwards, and bent so much to the left, 1/m.
type arc struct{ length, bent float64 }

// dubins is the shortest way forward between two poses on a least radius (Dubins 1957): two arcs and a straight or an arc
// between them.
//
// In units of r, seen from the first pose towards the second over a distance d, with headings a and b against that line. Arc, straight, arc: the
// straight joins two circles. Arc, arc, arc: the middle circle touches both. Lengths follow from the triangle of centres.
func dubins(from, to pose, r float64) []arc {
	d := to.at.Sub(from.at).Scale(1 / r)
	towards := math.Atan2(d.Y, d.X)
	dist := d.Len()
	a, b := from.h-towards, to.h-towards
	best, least := []arc(nil), math.Inf(1)
	try := func(t, p, q float64, first, mid, last float64) {
		if l := (t + p + q) * r; l < least {
			least, best = l, []arc{{t * r, first / r}, {p * r, mid / r}, {q * r, last / r}}
		}
	}
	for _, side := range [2]float64{1, -1} { // of the first arc: +1 left
		// Mirrored, every word that begins to the right begins to the left.
		a, b := a*side, b*side
		centre := func(h, s float64) plane.XY { return plane.XY{X: -s * math.Sin(h), Y: s * math.Cos(h)} }
		c1 := centre(a, 1)
		same := centre(b, 1).Add(plane.XY{X: dist}).Sub(c1)
		if l := same.Len(); true { // left, straight, left
			dir := math.Atan2(same.Y, same.X)
			if l < 1e-12 {
				dir = a
			}
			try(whole(dir-a), l, whole(b-dir), side, 0, side)
			if l <= 4 && l > 1e-12 { // left, right, left: the middle centre lies 2 from both, on either side
				for _, s := range [2]float64{1, -1} {
					up := s * math.Acos(l/4)
					m := dir + up              // from the first centre to the middle one
					back := math.Pi + dir - up // from the last centre to the middle one
					t, q := whole(m+math.Pi/2-a), whole(b-back-math.Pi/2)
					try(t, whole(m-back), q, side, -side, side)
				}
			}
		}
		other := centre(b, -1).Add(plane.XY{X: dist}).Sub(c1)
		if l := other.Len(); l >= 2 { // left, straight, right
			dir := math.Atan2(other.Y, other.X) + math.Asin(2/l)
			try(whole(dir-a), math.Sqrt(max(0, l*l-4)), whole(dir-b), side, 0, -side)
		}
	}
	return best
}

// whole is an angle from 0 to below 2π; rounding below 0 is 0.
func whole(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	if a > 2*math.Pi-1e-9 {
		return 0
	}
	return a
}

// quarters is the turn of a set that may reverse into a row less than 2r away: on until level, a quarter, back, a quarter. Nil: it does not
// serve.
func (s set) quarters(from, to pose) []arc {
	d := to.at.Sub(from.at)
	ahead := plane.XY{X: math.Cos(from.h), Y: math.Sin(from.h)}
	along, aside := d.Dot(ahead), d.Dot(ahead.Left())
	if s.reverse == 0 || math.Abs(aside) > 2*s.r || math.Cos(from.h-to.h) > -0.999 {
		return nil
	}
	side := math.Copysign(1, aside)
	quarter := arc{s.r * math.Pi / 2, side / s.r}
	return []arc{{max(0, along), 0}, quarter, {math.Abs(aside) - 2*s.r, 0}, quarter, {max(0, -along), 0}}
}

// time is what a way takes, s.
func (s set) time(way []arc) (t float64) {
	last := 1.0
	for _, a := range way {
		switch {
		case a.length == 0:
			continue
		case a.length > 0:
			t += a.length / s.turn
		default:
			t -= a.length / s.reverse
		}
		if a.length*last < 0 {
			t += s.change
		}
		last = a.length
	}
	return t
}

// between is the quickest turn from one pose of the axle to another.
func (s set) between(from, to pose) ([]arc, float64) {
	way := dubins(from, to, s.r)
	t := s.time(way)
	if back := s.quarters(from, to); back != nil {
		if u := s.time(back); u < t {
			return back, u
		}
	}
	return way, t
}

// stays says whether the corners of the set serve all along a way. A drawbar follows its hitch in steps of a quarter of
// a metre: it turns by the hitch's way across it over its length.
func (s set) stays(from pose, way []arc, serves func(plane.XY) bool) bool {
	const pace = 0.25
	m, t := s.im.Mount, s.im.Tractor
	behind := m.HitchBehindAxle()
	at, tool := from, from.h
	clear := func() bool {
		ahead := plane.XY{X: math.Cos(at.h), Y: math.Sin(at.h)}
		pull := plane.XY{X: math.Cos(tool), Y: math.Sin(tool)}
		hitch := at.at.Sub(ahead.Scale(behind))
		bar := hitch.Sub(pull.Scale(m.Drawbar + m.BarBehind))
		front, tail := bar.Add(pull.Scale(s.im.Body.Ahead)), bar.Sub(pull.Scale(s.im.Body.Behind))
		body := max(s.half, s.im.Body.Width/2)
		for _, p := range [...]plane.XY{
			at.at.Add(ahead.Scale(t.Ahead)).Add(ahead.Left().Scale(t.Width / 2)), at.at.Add(ahead.Scale(t.Ahead)).Sub(ahead.Left().Scale(t.Width / 2)),
			front.Add(pull.Left().Scale(body)), front.Sub(pull.Left().Scale(body)), tail.Add(pull.Left().Scale(body)), tail.Sub(pull.Left().Scale(body)),
		} {
			if !serves(p) {
				return false
			}
		}
		return true
	}
	for _, a := range way {
		n := int(math.Ceil(math.Abs(a.length) / pace))
		for range n {
			d := a.length / float64(n)
			turn := d * a.bent
			mid := at.h + turn/2
			before := at.at.Sub(plane.XY{X: math.Cos(at.h), Y: math.Sin(at.h)}.Scale(behind))
			at = pose{at.at.Add(plane.XY{X: math.Cos(mid), Y: math.Sin(mid)}.Scale(d)), at.h + turn}
			tool += turn
			if m.Trailed {
				moved := at.at.Sub(plane.XY{X: math.Cos(at.h), Y: math.Sin(at.h)}.Scale(behind)).Sub(before)
				tool += plane.XY{X: math.Cos(tool - turn), Y: math.Sin(tool - turn)}.Cross(moved)/m.Drawbar - turn
			}
			if !clear() {
				return false
			}
		}
	}
	return true
}
