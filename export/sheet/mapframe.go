package sheet

import (
	"errors"
	"math"
	"slices"

	"balk/coverage"
	"balk/export/sheet/paper"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
)

const (
	// paperFine is how far a printed line may lie from the true one, in mm: half a
	// dot of a printer of 300 to the inch.
	paperFine = 0.04
	// paperFaint is the width in mm below which a ring is no ink on paper. The page
	// says how many metres that is.
	paperFaint = 0.004
	mapPad     = 4.0 // mm around the field, so that work outside shows
	// turnGain is how much larger a map off north must get: a map with north up is
	// easier to read.
	turnGain = 1.3
)

// rounds are the scales of maps, times powers of ten.
var rounds = []float64{1, 1.5, 2, 2.5, 3, 4, 5, 7.5}

// leastScale is the largest of maps: nothing that is logged shows more at more.
const leastScale = 50

// roundScale is the largest round scale whose denominator is at least d.
func roundScale(d float64) float64 {
	const slack = 1e-9 // of d: a field that just fits fits
	return roundUp(max(d*(1-slack), leastScale), rounds...)
}

// view takes the field's plane to a frame on the page: 1 : denominator, turned
// counter-clockwise.
type view struct {
	frame       paper.Box
	denominator float64
	turn        float64 // degrees, -90 to 90
	middle      plane.XY
	cos, sin    float64
}

func newView(frame paper.Box, middle plane.XY, denominator, turn float64) view {
	v := view{frame: frame, middle: middle, denominator: denominator, turn: turn}
	v.sin, v.cos = math.Sincos(turn * math.Pi / 180)
	return v
}

// mm is how long a metre is on paper.
func (v view) mm() float64 { return 1000 / v.denominator }

func (v view) at(p plane.XY) orb.Point {
	d := p.Sub(v.middle)
	return orb.Point{
		v.frame.X + v.frame.W/2 + (d.X*v.cos-d.Y*v.sin)*v.mm(),
		v.frame.Y + v.frame.H/2 - (d.X*v.sin+d.Y*v.cos)*v.mm(),
	}
}

// back takes a place on the page to the plane.
func (v view) back(p orb.Point) plane.XY {
	x, y := (p[0]-v.frame.X-v.frame.W/2)/v.mm(), -(p[1]-v.frame.Y-v.frame.H/2)/v.mm()
	return v.middle.Add(plane.XY{X: x*v.cos + y*v.sin, Y: -x*v.sin + y*v.cos})
}

// outlineOf is the convex hull of the field, and an error if it has no extent.
func outlineOf(field []plane.Polygon) ([]plane.XY, error) {
	var all []plane.XY
	for _, poly := range field {
		for _, r := range poly {
			all = append(all, r...)
		}
	}
	hull := plane.Hull(all)
	box := plane.EmptyBox().Extend(hull...)
	size := box.Max.Sub(box.Min)
	if !(size.X > 0 && size.Y > 0) || math.IsInf(size.X+size.Y, 0) {
		return nil, errors.New("the field has no extent: no map of it")
	}
	return hull, nil
}

// viewOf lays a field into a frame at the largest round scale. The map is turned
// off north only where that gives a much larger one: then so that the field lies
// straightest, its box being smallest, with north in the upper half.
func viewOf(frame paper.Box, hull []plane.XY) view {
	room := frame.Inset(mapPad)
	best := straightest(hull, room, 1)
	if north := lie(hull, 0, room); north.scale < turnGain*best.scale {
		best = north
	}
	return newView(frame, best.middle, best.scale, best.turn)
}

// straightest is how a field lies largest in n windows under each other, each as large as room: of turns that give the same scale
// the one whose box is smallest. Its w is that of the whole field.
func straightest(hull []plane.XY, room paper.Box, n int) (best lying) {
	for deg := -89.0; deg <= 90; deg++ {
		l := lie(hull, deg, room)
		l.scale = roundScale(1000 * max(l.inWindow(n)/room.W, l.h/room.H))
		if deg == -89 || l.scale < best.scale || l.scale == best.scale && l.area < best.area {
			best = l
		}
	}
	return best
}

// inWindow is how much of the field's length, m, one of n windows shows.
func (l lying) inWindow(n int) float64 { return l.w / (float64(n) - windowLap*float64(n-1)) }

// Windows of a long and narrow field.
const (
	leastBand   = 15.0 // mm: a field that is broader on paper needs none
	windowGain  = 1.5  // how much larger the map must get
	mostWindows = 6
	leastWindow = 22.0 // mm, its height
	windowLap   = 0.04 // of a window, which the next one shows too
	windowGap   = 2*gridGutter + 1
)

// viewsOf lays a field into a frame: whole, see viewOf, or, where it would be a narrow band, in windows under each other from
// one end of the field to the other, all at one scale and turned alike.
func viewsOf(frame paper.Box, hull []plane.XY) []view {
	whole := viewOf(frame, hull)
	if broad, _ := extent(hull); broad*whole.mm() >= leastBand {
		return []view{whole}
	}
	type windows struct {
		lying
		n     int
		frame paper.Box // of the first
		step  float64
	}
	var best windows
	for n := 2; n <= mostWindows; n++ {
		f := paper.Rect(frame.X, frame.Y, frame.W, (frame.H-windowGap*float64(n-1))/float64(n))
		if f.H < leastWindow {
			break
		}
		if l := straightest(hull, f.Inset(mapPad), n); best.n == 0 || l.scale < best.scale {
			best = windows{l, n, f, l.inWindow(n) * (1 - windowLap)}
		}
	}
	if best.n == 0 || whole.denominator < windowGain*best.scale {
		return []view{whole}
	}
	var views []view
	for k := range best.n {
		f := best.frame
		f.Y += float64(k) * (f.H + windowGap)
		v := newView(f, best.middle, best.scale, best.turn)
		v.middle = best.middle.Add(plane.XY{X: v.cos, Y: -v.sin}.Scale(best.step * (float64(k) - float64(best.n-1)/2)))
		views = append(views, v)
	}
	return views
}

// extent is how broad a field is across its length, and how long, m.
func extent(hull []plane.XY) (broad, long float64) {
	broad = math.Inf(1)
	for deg := 0.0; deg < 180; deg++ {
		l := lie(hull, deg, paper.Box{W: 1, H: 1})
		broad, long = min(broad, l.h), max(long, l.w)
	}
	return broad, long
}

// turnedView is the whole of a field in a frame, turned as another map is.
func turnedView(frame paper.Box, hull []plane.XY, turn float64) view {
	l := lie(hull, turn, frame.Inset(mapPad))
	return newView(frame, l.middle, l.scale, turn)
}

// windowOf is the first of the views that shows a place, -1 for none.
func windowOf(views []view, at plane.XY) int {
	return slices.IndexFunc(views, func(v view) bool { return v.frame.Bound().Contains(v.at(at)) })
}

// lying is how points lie in a frame when turned.
type lying struct {
	turn   float64 // degrees
	least  float64 // denominator that makes them just fit
	scale  float64 // the round one
	w, h   float64 // m, of their box
	area   float64 // m² of it
	middle plane.XY
}

func lie(pts []plane.XY, turn float64, room paper.Box) lying {
	v := newView(paper.Box{}, plane.XY{}, 1000, turn) // a millimetre is a metre
	b := orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}
	for _, p := range pts {
		q := v.at(p)
		b.Min = orb.Point{min(b.Min[0], q[0]), min(b.Min[1], q[1])}
		b.Max = orb.Point{max(b.Max[0], q[0]), max(b.Max[1], q[1])}
	}
	w, h := b.Max[0]-b.Min[0], b.Max[1]-b.Min[1]
	least := 1000 * max(w/room.W, h/room.H)
	return lying{turn, least, roundScale(least), w, h, w * h, v.back(b.Center())}
}

// rings are the rings of polygons on the page, cut off at the frame, without
// those too narrow to be ink.
func (v view) rings(polys []plane.Polygon) []orb.LineString {
	var out []orb.LineString
	bound := v.frame.Bound()
	for _, poly := range polys {
		for _, r := range poly {
			if len(r) < 3 {
				continue
			}
			if width := 2 * math.Abs(r.Area()) / r.Perimeter(); !(width*v.mm() >= paperFaint) {
				continue
			}
			line := make(orb.Ring, 0, len(r)+1)
			for _, p := range r {
				line = append(line, v.at(p))
			}
			line = append(line, line[0])
			switch b := line.Bound(); {
			case !b.Intersects(bound):
				continue
			case !bound.Contains(b.Min) || !bound.Contains(b.Max):
				line = clip.Ring(bound, line)
			}
			if thin := thinned(orb.LineString(line), paperFine); len(thin) > 1 { // out and back along a line, if thinner than that
				out = append(out, thin)
			}
		}
	}
	return out
}

// outlines are the rings of polygons as lines, so that none runs along the frame
// where they are cut off.
func (v view) outlines(polys []plane.Polygon) []orb.LineString {
	var out []orb.LineString
	for _, poly := range polys {
		for _, r := range poly {
			if len(r) > 2 {
				out = append(out, v.lines(append(append([]plane.XY(nil), r...), r[0]))...)
			}
		}
	}
	return out
}

// lines are lines on the page, cut off at the frame.
func (v view) lines(lines ...[]plane.XY) []orb.LineString {
	var out []orb.LineString
	for _, one := range lines {
		line := make(orb.LineString, len(one))
		for i, p := range one {
			line[i] = v.at(p)
		}
		for _, part := range clip.LineString(v.frame.Bound(), line) {
			if len(part) > 1 {
				out = append(out, thinned(part, paperFine))
			}
		}
	}
	return out
}

// overflow says whether something worked lies beyond the frames.
func overflow(views []view, r coverage.Result) bool {
	for _, poly := range r.Layers.Outside {
		for _, ring := range poly {
			for _, p := range ring {
				if windowOf(views, p) < 0 {
					return true
				}
			}
		}
	}
	return false
}

// thinned leaves out points within half of tolerance of the last one, then what
// lies within tolerance of the line (Douglas-Peucker).
func thinned(line orb.LineString, tolerance float64) orb.LineString {
	if len(line) < 3 {
		return line
	}
	kept := []plane.XY{{X: line[0][0], Y: line[0][1]}}
	for _, p := range line[1 : len(line)-1] {
		if q := (plane.XY{X: p[0], Y: p[1]}); q.Dist(kept[len(kept)-1]) > tolerance/2 {
			kept = append(kept, q)
		}
	}
	end := line[len(line)-1]
	thin := plane.Thin(append(kept, plane.XY{X: end[0], Y: end[1]}), tolerance)
	out := make(orb.LineString, len(thin))
	for i, p := range thin {
		out[i] = orb.Point{p.X, p.Y}
	}
	return out
}
