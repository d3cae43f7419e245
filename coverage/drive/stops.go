package drive

import (
	"math"

	"balk/geo/plane"
)

// Step is what lies between a stop of the bar and the next.
type Step uint8

const (
	StepWorked  Step = iota // the bar worked it
	StepUnknown             // log gap, or work state not logged
	StepPivot               // the bar turned on the spot at a sharp corner
	StepCut                 // nothing: the set went back the way it came
)

// Stop is one place of the bar: centre, direction of its left end, and how it
// goes on from there. There is one for every fix at work, so it is small: what many have in common is a Part of their run.
type Stop struct {
	At   plane.XY
	Left plane.XY // from its middle to its left end, for 1 m of half its width: longer than 1 at a bend only
	S    float64  // m, travel since the pass began
	Part uint32   // which of Run.Parts the bar is here
	Next Step     // to the next stop
	Told bool     // its heading is logged, or that of the set's model; else it comes from the track
}

// Part is what of the bar is at work, and how well its place is known.
type Part struct {
	Width     float64 // m, full working width
	PassError float64 // m, pass-to-pass error; NaN where not known
	Slow      float64 // m, what of it no row takes out of itself; 0 where not known, see errorsAt
	shift     float64 // m, middle of the worked width right of the middle of the bar; Stop.At is moved by it
	Unsided   bool    // a part of the bar was lifted, and the log does not say on which side: shift is that of the whole bar
}

// Middle is that of the whole bar at one of the run's stops, where parts of it are lifted too.
func (r *Run) Middle(s Stop) plane.XY { return s.At.Add(s.Left.Scale(r.Parts[s.Part].shift)) }

// Reach is how far the bar works to the right and to the left of its middle, m; right below 0.
func (p Part) Reach() (right, left float64) { return -p.shift - p.Width/2, -p.shift + p.Width/2 }

// Switch is where at stop k the work may have begun or ended; zero: that is logged, or it did neither.
func (r *Run) Switch(k int) Switch {
	switch k {
	case 0:
		return r.Begins
	case len(r.Stops) - 1:
		return r.Ends
	}
	return Switch{}
}

// partial numbers the parts of a run.
type partial struct {
	last uint32
	of   map[partKey]uint32
}

// partKey tells parts apart; an error that is not known is one, which NaN is not.
type partKey struct {
	width, shift float64
	passError    uint64
}

func (p Part) key() partKey { return partKey{p.Width, p.shift, math.Float64bits(p.PassError)} }

// part is the number of p among the parts of a run, which takes it if it is a new one.
func (n *partial) part(r *Run, p Part) uint32 {
	key := p.key()
	if len(r.Parts) > 0 && r.Parts[n.last].key() == key {
		return n.last
	}
	if n.of == nil {
		n.of = map[partKey]uint32{}
	}
	k, known := n.of[key]
	if !known {
		k = uint32(len(r.Parts))
		r.Parts = append(r.Parts, p)
		n.of[key] = k
	}
	n.last = k
	return k
}

// Ground says whether the bar worked the stretch.
func (s Step) Ground() bool { return s == StepWorked || s == StepPivot }

const (
	backCos    = -0.5     // cos 120°: beyond it a turn between two fixes counts as a change of direction where the set is modelled
	reverseCos = -0.86603 // cos 150°: beyond it the bar goes back the way it came: reversing along a bend of 6 m in steps of 2 m turns by 160°
	bendCos    = 0.96588  // cos 15.01°: below it the bar pivots. Arcs drawn in steps of 15° do not hang on rounding
)

// Along is the pass of a bar of this width, its middle so many metres to the left of a line, as Read has it for a
// track without headings. At sharp corners there are two bars (see barsAt). The line must not stand still.
func Along(line []plane.XY, width, aside float64) Run {
	r := Run{Stops: make([]Stop, 0, len(line)+2), Parts: []Part{{Width: width, shift: -aside}}}
	for i, p := range line {
		here := Stop{At: p, S: r.Pass.Length, Next: StepCut}
		var in, out plane.XY
		if i > 0 {
			in = p.Sub(line[i-1])
		}
		if i+1 < len(line) {
			out, here.Next = line[i+1].Sub(p), StepWorked
			r.Pass.Length += out.Len()
		}
		r.Stops = barsAt(r.Stops, here, -aside, in, out, plane.XY{}, false, width)
	}
	r.Pass.Line = line
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
//
// The middle of the worked width is moved by shift, see Part.
func barsAt(stops []Stop, here Stop, shift float64, in, out, face plane.XY, afterGap bool, credited float64) []Stop {
	if in == (plane.XY{}) {
		return append(stops, here.facing(shift, out, face))
	}
	if out == (plane.XY{}) {
		return append(stops, here.facing(shift, in, face))
	}
	a, b := in.Len(), out.Len()
	u, v := in.Scale(1/a), out.Scale(1/b)
	cos := u.Dot(v)
	before := here
	switch {
	case cos < reverseCos:
		before.Next = StepCut
		return append(stops, before.facing(shift, in, face), here.facing(shift, out, face))
	case afterGap && here.Next != StepUnknown: // the way across the gap is a guess
		return append(stops, here.facing(shift, out, face))
	case here.Next == StepUnknown && !afterGap:
		return append(stops, here.facing(shift, in, face))
	}
	middle := u.Add(v)
	if d, ok := agreeing(middle.Scale(1/middle.Len()), face); ok && (cos >= bendCos || min(a, b) <= credited) {
		here.Told = true
		return append(stops, here.set(shift, d.Left()))
	}
	if cos < bendCos {
		if before.Next = StepPivot; afterGap { // a lone fix between two gaps
			before.Next = StepUnknown
		}
		return append(stops, before.set(shift, u.Left()), here.set(shift, v.Left()))
	}
	return append(stops, here.set(shift, middle.Left().Scale(2/middle.Dot(middle))))
}

// facing turns the bar square to the travel, or to the logged heading if that
// agrees with the travel.
func (s Stop) facing(shift float64, travel, face plane.XY) Stop {
	d := travel.Scale(1 / travel.Len())
	if f, ok := agreeing(d, face); ok {
		d, s.Told = f, true
	}
	return s.set(shift, d.Left())
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
func (s Stop) set(shift float64, left plane.XY) Stop {
	s.Left = left
	s.At = s.At.Sub(left.Scale(shift))
	return s
}
