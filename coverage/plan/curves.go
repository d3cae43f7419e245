package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

const (
	// mostBend: a stretch turns by no more in all, rad. Seen along its middle direction it then rises by at most 1 in 1, and so does
	// every line beside it. So each of these lines is a height over that direction, and none crosses itself.
	mostBend = math.Pi / 2
	// sharpCorner: what turns by more within one least radius is a corner, rad. The longest stretch ends there.
	sharpCorner = math.Pi / 4
	// evened: a stretch is thinned to so much, m. The best receiver wanders by more.
	evened = 0.01
	// mostSnapped: the corners of an edge are picked on a map or with a phone. Farther off another field is meant, m.
	mostSnapped = 50.0
	// station: bent passes are looked at so far apart along their middle direction, m. On a radius of 6 m and a slope of 1 in 1 the
	// chord leaves the arc by 3 mm.
	station = 0.25
	// mostAcross bounds the stations of a pass, m: turns are drawn within ±20 km.
	mostAcross = 4e4
	// sharp: ends of bent passes are found to so much, m. That is rounding, so turns there do not differ.
	sharp = 1e-7
	// bow: bent passes are thinned to so much, m. The sides of two neighbours then stay within hair of each other.
	bow = hair / 2
)

// Edge is a stretch of an outer boundary ring, between the vertices nearest to From and To (m). It goes the shorter way.
type Edge struct {
	From plane.XY `json:"from"`
	To   plane.XY `json:"to"`
}

// guide is the stretch that the passes of a part run along, as a height over its middle direction.
//
// Slopes are within ±1. So the line at distance t to the left is the upper envelope of the circles of radius t around the stretch. It
// is again a height with slopes in that range, being a supremum of shifted heights. To the right it is the lower envelope.
type guide struct {
	frame   plane.Frame
	heading geo.Heading // middle of the headings of its sides
	span    float64     // rad, from its least to its greatest heading
	line    []plane.XY  // of the frame, X ascending
	radius  float64     // m, no pass bends tighter
}

// guides sets what the passes of each part run along. Parts without the chosen edge are worked
// straight, in its direction.
func (s *survey) guides() error {
	o := s.opt
	if o.Along == nil && !o.AlongLongest {
		return nil
	}
	for i, p := range s.field {
		if box := p[0].Bounds(); !(box.Max.Dist(box.Min) <= mostAcross) {
			return fmt.Errorf("part %d of %.0f m across: must be %g m at most for passes along an edge", i+1, box.Max.Dist(box.Min), mostAcross)
		}
	}
	r := s.turner.steer.Radius
	first := true
	set := func(i int, stretch []plane.XY) error {
		b, err := guideOf(stretch, r)
		if err != nil {
			return fmt.Errorf("along an edge of part %d: %w", i+1, err)
		}
		s.parts[i].guide = b
		if first {
			s.opt.Heading, s.opt.Fixed, first = b.heading, true, false
		}
		return nil
	}
	if o.AlongLongest {
		for i, p := range s.field {
			if err := set(i, longestStretch(p[0], r)); err != nil {
				return err
			}
		}
		return nil
	}
	at, near := 0, math.Inf(1)
	for i, p := range s.field {
		if _, d := nearestVertex(p[0], o.Along.From); d < near {
			at, near = i, d
		}
	}
	for k, p := range [2]plane.XY{o.Along.From, o.Along.To} {
		if _, away := nearestVertex(s.field[at][0], p); away > mostSnapped {
			return fmt.Errorf("edge, place %d of 2: the nearest corner of the boundary is %.0f m away: must be within %g m", k+1, away, mostSnapped)
		}
	}
	stretch, err := o.Along.of(s.field[at][0])
	if err != nil {
		return err
	}
	return set(at, stretch)
}

func nearestVertex(ring plane.Ring, p plane.XY) (at int, away float64) {
	away = math.Inf(1)
	for i, q := range ring {
		if d := q.Dist(p); d < away {
			at, away = i, d
		}
	}
	return at, away
}

// of is the stretch on a ring, in the ring's own direction.
func (e Edge) of(ring plane.Ring) ([]plane.XY, error) {
	a, _ := nearestVertex(ring, e.From)
	b, _ := nearestVertex(ring, e.To)
	if a == b {
		return nil, fmt.Errorf("edge from %.2f, %.2f to %.2f, %.2f: both are nearest to the same corner of the boundary: must be two", e.From.X, e.From.Y, e.To.X, e.To.Y)
	}
	there, back := around(ring, a, b), around(ring, b, a)
	if plane.Length(back) < plane.Length(there) {
		return back, nil
	}
	return there, nil
}

// around is a ring from vertex a on to vertex b, both included.
func around(ring plane.Ring, a, b int) []plane.XY {
	line := []plane.XY{ring[a]}
	for a != b {
		a = (a + 1) % len(ring)
		line = append(line, ring[a])
	}
	return line
}

// longestStretch is the longest stretch of a ring that has no corner sharper than
// sharpCorner and turns by mostBend at most.
func longestStretch(ring plane.Ring, r float64) []plane.XY { return longStretches(ring, r, 1)[0] }

// longStretches are so many such stretches, the longest first; none begins in a longer one.
func longStretches(ring plane.Ring, r float64, most int) (out [][]plane.XY) {
	if t := ring.Thinned(evened); len(t) >= 3 {
		ring = t
	}
	n := len(ring)
	side := func(i int) plane.XY { return ring[(i+1)%n].Sub(ring[i%n]) }
	type found struct {
		from, sides int
		long        float64
	}
	var all []found
	for i := range n {
		heads, long := []float64{0}, side(i).Len()
		lo, hi := 0.0, 0.0
		j := i + 1
		for ; j < i+n-1; j++ {
			h := heads[j-1-i] + side(j-1).AngleTo(side(j))
			if lo, hi = min(lo, h), max(hi, h); hi-lo > mostBend {
				break
			}
			corner, way := false, 0.0
			for k := j - 1; k >= i && way <= r; k-- {
				corner = corner || math.Abs(h-heads[k-i]) > sharpCorner
				way += side(k).Len()
			}
			if corner {
				break
			}
			heads, long = append(heads, h), long+side(j).Len()
		}
		all = append(all, found{i, j - i, long})
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(math.Round(b.long/sameWay), math.Round(a.long/sameWay)) })
	taken := make([]bool, n)
	for _, f := range all {
		if len(out) == most {
			break
		}
		if taken[f.from] {
			continue
		}
		for k := range f.sides {
			taken[(f.from+k)%n] = true
		}
		out = append(out, around(ring, f.from, (f.from+f.sides)%n))
	}
	return out
}

func guideOf(stretch []plane.XY, r float64) (*guide, error) {
	stretch = plane.Thinned(stretch, evened)
	d := stretch[1].Sub(stretch[0])
	h := math.Atan2(d.Y, d.X)
	lo, hi := h, h
	for i := 2; i < len(stretch); i++ {
		next := stretch[i].Sub(stretch[i-1])
		h += d.AngleTo(next)
		lo, hi, d = min(lo, h), max(hi, h), next
	}
	if hi-lo > mostBend+sharpest {
		return nil, fmt.Errorf("stretch of %.0f m turns by %.0f°: must be %.0f° at most", plane.Length(stretch), (hi-lo)*180/math.Pi, mostBend*180/math.Pi)
	}
	b := &guide{heading: geo.Heading(math.Remainder((lo+hi)/2, 2*math.Pi)), span: hi - lo, radius: r}
	b.frame = plane.Frame{Origin: stretch[0], Ahead: b.heading.Ahead()}
	for _, p := range stretch {
		b.line = append(b.line, b.frame.To(p))
	}
	return b, nil
}

// drawnOn is a line whose ends go on straight until it reaches from x0 to x1.
func drawnOn(line []plane.XY, x0, x1 float64) []plane.XY {
	n := len(line)
	out := slices.Clone(line)
	if a, b := line[0], line[1]; a.X > x0 {
		out = slices.Insert(out, 0, plane.XY{X: x0, Y: a.Y + (b.Y-a.Y)*(x0-a.X)/(b.X-a.X)})
	}
	if a, b := line[n-2], line[n-1]; b.X < x1 {
		out = append(out, plane.XY{X: x1, Y: b.Y + (b.Y-a.Y)*(x1-b.X)/(b.X-a.X)})
	}
	return out
}

// grid is heights at x0, x0 + station, …
type grid struct {
	x0 float64
	y  []float64
}

func (g grid) points(room []plane.XY) []plane.XY {
	out := slices.Grow(room[:0], len(g.y))[:len(g.y)]
	for i, y := range g.y {
		out[i] = plane.XY{X: g.x0 + float64(i)*station, Y: y}
	}
	return out
}

// at is the place of a height and the direction there; x lies on the grid.
func (g grid) at(x float64) (p, ahead plane.XY) {
	i := min(max(0, int((x-g.x0)/station)), len(g.y)-2)
	rise := (g.y[i+1] - g.y[i]) / station
	return plane.XY{X: x, Y: g.y[i] + rise*(x-g.x0-float64(i)*station)}, (plane.XY{X: 1, Y: rise}).Unit()
}

// raise makes g the upper envelope of the circles of radius rho around a line whose ends go on straight. Each side of the line gives
// the straight beside it, each corner to the right an arc. Corners to the left give nothing, since the straights beside their sides
// cross.
func (g grid) raise(line []plane.XY, rho float64) {
	last := g.x0 + float64(len(g.y)-1)*station
	line = drawnOn(line, g.x0-rho-station, last+rho+station)
	for i := range g.y {
		g.y[i] = math.Inf(-1)
	}
	over := func(x0, x1 float64, height func(x float64) float64) {
		const lap = 1e-7 // m: neighbouring pieces leave no height out by rounding
		from := max(0, int(math.Ceil((x0-lap-g.x0)/station)))
		for i := from; i < len(g.y); i++ {
			x := g.x0 + float64(i)*station
			if x > x1+lap {
				break
			}
			g.y[i] = max(g.y[i], height(x))
		}
	}
	var before plane.XY
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		e := b.Sub(a).Unit()
		n := e.Left().Scale(rho)
		p := a.Add(n)
		over(p.X, b.X+n.X, func(x float64) float64 { return p.Y + (x-p.X)*e.Y/e.X })
		if i > 1 && before.Cross(e) < 0 {
			over(a.X+before.Left().X*rho, p.X, func(x float64) float64 { return a.Y + math.Sqrt(max(0, rho*rho-(x-a.X)*(x-a.X))) })
		}
		before = e
	}
}

// beside is the line at distance t to the left of the guide (below 0: to the right), over x0 to x1. Bends tighter than the radius are
// rounded by an opening of the ground on either side. It lies in the room until that is asked again.
func (b *guide) beside(t, x0, x1 float64, room *besideRoom) grid {
	margin := 4 * b.radius // what is drawn on wrongly at the grid's ends does not reach farther
	n := 2 + int(math.Ceil((x1-x0+2*margin)/station))
	room.y = slices.Grow(room.y[:0], n)[:n]
	g := grid{x0 - margin, room.y}
	line := append(room.line[:0], b.line...)
	down := t < 0
	for _, rho := range [3]float64{math.Abs(t) + b.radius, 2 * b.radius, b.radius} {
		if down {
			mirror(line)
		}
		g.raise(line, rho)
		line = g.points(line)
		if down {
			mirror(line)
		}
		down = !down
	}
	for i, p := range line {
		g.y[i] = p.Y
	}
	room.line = line
	return g
}

// besideRoom is room for lines beside a guide, one after the other.
type besideRoom struct {
	y    []float64
	line []plane.XY
}

func mirror(line []plane.XY) {
	for i := range line {
		line[i].Y = -line[i].Y
	}
}

// levels are the least and the greatest distance to the left of the guide in a polygon of its frame, m.
func (b *guide) levels(p plane.Polygon) (lo, hi float64) {
	box := p[0].Bounds()
	line := drawnOn(b.line, box.Min.X-box.Max.Dist(box.Min), box.Max.X+box.Max.Dist(box.Min))
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, ring := range p {
		for i, a := range ring {
			c := ring[(i+1)%len(ring)]
			n := 1 + int(a.Dist(c)/station)
			for k := range n {
				t := level(line, a.Lerp(c, float64(k)/float64(n)))
				lo, hi = min(lo, t), max(hi, t)
			}
		}
	}
	return lo, hi
}

// level is how far p lies to the left of a line with ascending X, m. Sides that are farther off along X than one that was looked at are no nearer.
func level(line []plane.XY, p plane.XY) float64 {
	right, _ := slices.BinarySearchFunc(line, p.X, func(q plane.XY, x float64) int {
		if q.X <= x {
			return -1
		}
		return 1
	})
	right = max(1, right) // the first corner beyond p
	above := false
	if at := min(right, len(line)-1); line[at-1].X <= p.X && p.X <= line[at].X {
		a, b := line[at-1], line[at]
		above = b.Sub(a).Cross(p.Sub(a)) >= 0
	}
	away := math.Inf(1)
	for i := min(right, len(line)-1); i >= 1 && p.X-line[i].X <= away+hair; i-- {
		away = min(away, (plane.Segment{A: line[i-1], B: line[i]}).Dist(p))
	}
	for i := right + 1; i < len(line) && line[i-1].X-p.X <= away+hair; i++ {
		away = min(away, (plane.Segment{A: line[i-1], B: line[i]}).Dist(p))
	}
	if above {
		return away
	}
	return -away
}

// distances are how far from the guide the rows lie that cover levels lo to hi, ascending, and their pitch. Where there is ground on
// both sides of the headland's inner rim, rows begin at the rim and go on both ways.
func distances(lo, hi, depth, width float64, full bool) (rows []float64, pitch float64) {
	right := 0.0
	if rim := depth - evened - hair; lo < rim {
		if hi <= rim {
			return mirrored(lo, hi, width, full)
		}
		right, lo = depth-lo, depth
	}
	n, pitch := pitchOf(hi-lo, width, full)
	if full {
		pitch = min(width, pitch*float64(n))
	}
	m := 0
	if right > 0 {
		if n == 1 {
			pitch = width // what lies left of the rim may be next to nothing
		}
		m = int(math.Ceil((right - spare) / pitch))
	}
	for k := -m; k < n; k++ {
		t := lo + (float64(k)+0.5)*pitch
		if full && n > 1 {
			t = min(t, hi-pitch/2)
		}
		rows = append(rows, t)
	}
	return rows, pitch
}

// mirrored is distances where all ground lies right of the rim. Rows are then counted from the nearest on.
func mirrored(lo, hi, width float64, full bool) (rows []float64, pitch float64) {
	rows, pitch = distances(-hi, -lo, math.Inf(-1), width, full)
	slices.Reverse(rows)
	for i := range rows {
		rows[i] = -rows[i]
	}
	return rows, pitch
}
