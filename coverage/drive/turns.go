package drive

import (
	"math"
	"slices"
	"time"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Turn is a turn that a log shows: the set moved with the tool lifted from the end
// of one pass to the start of the next.
type Turn struct {
	Number  int        `json:"number"` // 1, 2, 3 ... in the order driven
	From    int        `json:"from"`   // number of the pass left
	To      int        `json:"to"`     // number of the pass entered
	Start   time.Time  `json:"start,omitzero"`
	Seconds float64    `json:"seconds,omitempty"` // 0: not logged
	Length  float64    `json:"length"`            // m, way of the antenna
	Bend    float64    `json:"bend"`              // degrees, between the two passes' ways, 0 to 180
	At      orb.Point  `json:"at"`                // lon, lat: where it was tightest
	Radius  float64    `json:"radius"`            // m, least radius driven, of the tractor's rear axle; 0: nowhere bent enough to tell
	Changes int        `json:"changes"`           // of the driving direction
	Angle   float64    `json:"angle,omitempty"`   // degrees, greatest between tractor and implement; trailed sets only
	Tight   bool       `json:"tight"`             // tighter than the set may turn: see Implement.TurnRadius and Mount.AngleLimit
	Line    []plane.XY `json:"-"`                 // where the antenna went
}

const (
	// bendBase: a radius is that of the circle through three places of the way so far
	// apart. With a receiver's 2 cm a radius of 6 m is then good to 7 %:
	// the middle place lies base²/2R = 0.33 m off the chord.
	bendBase = 2.0 // m
	// straightFrom: a circle this large cannot be told from a straight by that.
	straightFrom = 60.0 // m
	// turnBend: passes whose ways differ by less are one pass that was interrupted.
	turnBend = 30.0 // degrees
	// turnWay: from a way so long between two passes the set went elsewhere.
	turnWay = 300.0 // m
	// radiusSlack: what the receiver lets a radius look smaller; see bendBase.
	radiusSlack = 0.93
)

// Turns finds the turns of a log: turning and standing, unbroken, between a pass
// and the next. Where the set went on the road, or something is unknown
// between, there is none.
func Turns(log []Stretch, local geo.Local, w Work) []Turn {
	var turns []Turn
	left := -1 // index of the last stretch of the pass left
	for i, s := range log {
		broken := i > 0 && !follows(log[i-1], s)
		switch {
		case s.Pass > 0:
			if left >= 0 && !broken && log[left].Pass != s.Pass && left+1 < i {
				if t, ok := turnOf(log[left].Line, log[left+1:i], s, local, w); ok {
					t.Number, t.From, t.To = len(turns)+1, log[left].Pass, s.Pass
					turns = append(turns, t)
				}
			}
			left = i
		case broken || s.Activity != ActivityTurn && s.Activity != ActivityIdle:
			left = -1
		}
	}
	return turns
}

// follows says whether b begins at the fix at which a ends: of another track if that
// goes on from it, as the lines of the layer of states do.
func follows(a, b Stretch) bool {
	n := len(a.Line) - 1
	return a.Line[n] == b.Line[0] && (a.Track == b.Track || sameNumber(a.Seconds[n], b.Seconds[0]))
}

// turnOf measures the turn from the pass before to the stretch behind.
func turnOf(before []plane.XY, between []Stretch, behind Stretch, local geo.Local, w Work) (Turn, bool) {
	var t Turn
	var line []plane.XY
	for i, s := range between {
		t.Length += s.Length
		from := 0
		if i > 0 {
			from = 1 // shared with the stretch before
		}
		line = append(line, s.Line[from:]...)
		for _, a := range s.Angle {
			t.Angle = max(t.Angle, a)
		}
	}
	if t.Length > turnWay || t.Length == 0 {
		return Turn{}, false
	}
	in, out := wayAtEnd(before, -1), wayAtEnd(behind.Line, 1)
	if in == (plane.XY{}) || out == (plane.XY{}) {
		return Turn{}, false
	}
	t.Bend = math.Abs(in.AngleTo(out)) * 180 / math.Pi
	if t.Bend < turnBend {
		return Turn{}, false
	}
	first, last := between[0].Seconds, between[len(between)-1].Seconds
	t.Start = geo.Instant(first[0])
	if d := last[len(last)-1] - first[0]; d > 0 {
		t.Seconds = d
	}
	t.Line = line
	radius, at, changes := tightest(line)
	t.Changes = changes
	m := w.Mount
	if radius < straightFrom {
		t.Radius = math.Sqrt(max(0, radius*radius-m.AntennaAhead*m.AntennaAhead))
	}
	t.At = local.Point(at)
	limit := m.AngleLimit()
	t.Tight = w.TurnRadius > 0 && t.Radius > 0 && t.Radius < radiusSlack*w.TurnRadius || limit > 0 && t.Angle > limit
	return t, true
}

// wayAtEnd is the direction of a line over its first (1) or last (-1) metres, as
// driven; zero for a line shorter than that.
func wayAtEnd(line []plane.XY, end int) plane.XY {
	if end > 0 {
		for _, p := range line {
			if p.Dist(line[0]) >= 2*bendBase {
				return p.Sub(line[0])
			}
		}
		return line[len(line)-1].Sub(line[0])
	}
	last := line[len(line)-1]
	for i := len(line) - 1; i >= 0; i-- {
		if last.Dist(line[i]) >= 2*bendBase {
			return last.Sub(line[i])
		}
	}
	return last.Sub(line[0])
}

// tightest is the least radius of a line, where it is, and how often the driving
// direction changes on it. The radius is that of the circle through three places
// bendBase apart along the way, none of them across a change of direction.
func tightest(line []plane.XY) (radius float64, at plane.XY, changes int) {
	radius, at = math.Inf(1), line[len(line)/2]
	way := spaced(line)
	var legs [][]plane.XY
	from := 0
	for i := 1; i+1 < len(way); i++ {
		in, out := way[i].Sub(way[i-1]), way[i+1].Sub(way[i])
		if in.Dot(out) < backCos*in.Len()*out.Len() {
			legs, from = append(legs, way[from:i+1]), i
			changes++
		}
	}
	for _, leg := range append(legs, way[from:]) {
		a, c := 0, 0
		for b := range leg {
			for a+1 < b && leg[a+1].Dist(leg[b]) >= bendBase {
				a++
			}
			for c = max(c, b); c+1 < len(leg) && leg[c].Dist(leg[b]) < bendBase; c++ {
			}
			if leg[a].Dist(leg[b]) < bendBase || leg[c].Dist(leg[b]) < bendBase {
				continue
			}
			if q := circumradius(leg[a], leg[b], leg[c]); q < radius {
				radius, at = q, leg[b]
			}
		}
	}
	return radius, at, changes
}

// circumradius is that of the circle through three places: product of the sides
// by four times the area (Euclid's, school geometry).
func circumradius(a, b, c plane.XY) float64 {
	double := math.Abs(b.Sub(a).Cross(c.Sub(a)))
	if double == 0 {
		return math.Inf(1)
	}
	return a.Dist(b) * b.Dist(c) * c.Dist(a) / (2 * double)
}

// spaced leaves out points nearer than half a metre to the last one kept: nearer
// ones are noise to a direction.
func spaced(line []plane.XY) []plane.XY {
	const near = 0.5 // m
	out := make([]plane.XY, 0, len(line))
	for _, p := range line {
		if len(out) == 0 || p.Dist(out[len(out)-1]) >= near {
			out = append(out, p)
		}
	}
	return out
}

// Turning sums the turns of an operation.
type Turning struct {
	Turns  int     `json:"turns"`
	Tight  int     `json:"tight"`            // tighter than the set may
	Median float64 `json:"median,omitempty"` // s, for half of the timed turns not longer
	Worst  float64 `json:"worst,omitempty"`  // s
	Radius float64 `json:"radius,omitempty"` // m, least driven
	Angle  float64 `json:"angle,omitempty"`  // degrees, greatest between tractor and implement
}

// TurningOf sums turns.
func TurningOf(turns []Turn) Turning {
	t := Turning{Turns: len(turns)}
	var times []float64
	for _, one := range turns {
		if one.Tight {
			t.Tight++
		}
		if one.Seconds > 0 {
			times = append(times, one.Seconds)
		}
		if one.Radius > 0 && (t.Radius == 0 || one.Radius < t.Radius) {
			t.Radius = one.Radius
		}
		t.Angle = max(t.Angle, one.Angle)
	}
	if len(times) > 0 {
		slices.Sort(times)
		t.Median, t.Worst = times[(len(times)-1)/2], times[len(times)-1]
	}
	return t
}
