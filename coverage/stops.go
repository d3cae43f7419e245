package coverage

import "balk/geo/plane"

// stretch is what lies between a stop of the bar and the next.
type stretch uint8

const (
	worked  stretch = iota // the bar worked it
	unknown                // log gap, or work state not logged
	pivot                  // the bar turned on the spot at a sharp corner
	cut                    // nothing: the set went back the way it came
)

// stop is one place of the bar: centre, direction of its left end, and how it
// goes on from there.
type stop struct {
	at    plane.XY
	left  plane.XY // from its middle to its left end, for 1 m of half its width: longer than 1 at a bend only
	s     float64  // m, travel since the pass began
	width float64  // m, full working width
	shift float64  // m, middle of the worked width right of the middle of the bar; at is moved by it
	next  stretch  // to the next stop
	told  bool     // its heading is logged, or that of the set's model; else it comes from the track
	// m, pass-to-pass error; NaN where not known. A float32 finds room beside next,
	// and its 1e-7 are nothing to an error.
	passError float32
	slack     float32 // m, 95 %, how far from here the work may have begun or ended; 0 = logged
}

// ground says whether the bar worked the stretch.
func (s stretch) ground() bool { return s == worked || s == pivot }

const (
	backCos    = -0.5     // cos 120°: beyond it a turn between two fixes counts as a change of direction where the set is modelled
	reverseCos = -0.86603 // cos 150°: beyond it the bar goes back the way it came: reversing along a bend of 6 m in steps of 2 m turns by 160°
	bendCos    = 0.96588  // cos 15.01°: below it the bar pivots. Arcs drawn in steps of 15° do not hang on rounding
)

// Along is the pass of a bar of this width, its middle so many metres to the left of a line, as Read has it for a
// track without headings. At sharp corners there are two bars (see barsAt). The line must not stand still.
func Along(line []plane.XY, width, aside float64) run {
	r := run{stops: make([]stop, 0, len(line)+2)}
	for i, p := range line {
		here := stop{at: p, width: width, shift: -aside, s: r.pass.Length, next: cut}
		var in, out plane.XY
		if i > 0 {
			in = p.Sub(line[i-1])
		}
		if i+1 < len(line) {
			out, here.next = line[i+1].Sub(p), worked
			r.pass.Length += out.Len()
		}
		r.stops = barsAt(r.stops, here, in, out, plane.XY{}, false, width)
	}
	r.pass.Line = line
	return r
}

// barsAt appends the bar at a stop that is reached by the step in and left by the
// step out (zero at the ends of the pass). Where the heading comes from the track
// the steps' lengths play no part, so that a line drawn with more points on its
// straights has the same bars:
//
//	≤ 15°       one bar on the bisector, longer by 1/cos of half the turn θ, so that
//	            its ends lie on the lines that both steps' ends draw
//	≤ 150°      two bars square to the steps, the bar pivots from one to the other
//	beyond      the set goes back the way it came: two bars, nothing between them
//
// A logged heading within 45° of the bisector is where the bar stands, but at a
// corner between two steps longer than the credited width, which is a drawn one.
// With u and v the directions of the steps, u + v lies on the bisector and is
// 2·cos(θ/2) long.
func barsAt(stops []stop, here stop, in, out, face plane.XY, afterGap bool, credited float64) []stop {
	if in == (plane.XY{}) {
		return append(stops, here.facing(out, face))
	}
	if out == (plane.XY{}) {
		return append(stops, here.facing(in, face))
	}
	a, b := in.Len(), out.Len()
	u, v := in.Scale(1/a), out.Scale(1/b)
	cos := u.Dot(v)
	before := here
	switch {
	case cos < reverseCos:
		before.next = cut
		return append(stops, before.facing(in, face), here.facing(out, face))
	case afterGap && here.next != unknown: // the way across the gap is a guess
		return append(stops, here.facing(out, face))
	case here.next == unknown && !afterGap:
		return append(stops, here.facing(in, face))
	}
	middle := u.Add(v)
	if d, ok := agreeing(middle.Scale(1/middle.Len()), face); ok && (cos >= bendCos || min(a, b) <= credited) {
		here.told = true
		return append(stops, here.set(d.Left()))
	}
	if cos < bendCos {
		if before.next = pivot; afterGap { // a lone fix between two gaps
			before.next = unknown
		}
		return append(stops, before.set(u.Left()), here.set(v.Left()))
	}
	return append(stops, here.set(middle.Left().Scale(2/middle.Dot(middle))))
}

// facing turns the bar square to the travel, or to the logged heading if that
// agrees with the travel.
func (s stop) facing(travel, face plane.XY) stop {
	d := travel.Scale(1 / travel.Len())
	if f, ok := agreeing(d, face); ok {
		d, s.told = f, true
	}
	return s.set(d.Left())
}

// agreeing is the logged heading that lies within 45° of the unit vector d. Of a set
// that backs up the bar is the same, its ends change places.
func agreeing(d, face plane.XY) (plane.XY, bool) {
	switch c := d.Dot(face); {
	case c > ownBearing:
		return face, true
	case c < -ownBearing:
		return face.Scale(-1), true
	}
	return plane.XY{}, false
}

// set sets the bar and moves its middle by the shift.
func (s stop) set(left plane.XY) stop {
	s.left = left
	s.at = s.at.Sub(left.Scale(s.shift))
	return s
}
