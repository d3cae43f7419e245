package geo

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Outline is one boundary as a file has it, in degrees: rings in the order of the file.
type Outline struct {
	File   string // file and record are for what is said
	Record int
	Rings  []orb.Ring
	// Parts says where each polygon's rings begin; its first ring is the outer
	// one. nil: the file does not say which ring is a hole (a shapefile), and how
	// the rings lie in each other decides.
	Parts []int
}

// Boundary makes a clean boundary of an outline, or says what is wrong with it:
// rings closed, outer rings counter-clockwise, holes clockwise, no ring crossing
// itself or another, holes inside. Rings may touch. What was closed, left out or
// mended is a finding. Mending repairs rings that cross themselves or each other, see mend.
func (o *Outline) Boundary(mending bool) (orb.MultiPolygon, []Finding, error) {
	c := ringCheck{Outline: o}
	m, err := c.boundary(mending)
	return m, c.findings, err
}

// ringCheck is the state of making a boundary.
type ringCheck struct {
	*Outline
	findings []Finding
}

func (c *ringCheck) say(at *orb.Point, lost bool, what string) {
	c.findings = append(c.findings, Finding{File: c.File, Record: c.Record, At: at, What: what, Lost: lost})
}

// breaks is the error of a ring that breaks a rule.
func (c *ringCheck) breaks(f *fault) *RingError {
	return &RingError{File: c.File, Record: c.Record, Ring: f.ring + 1, Rule: f.rule, At: f.at}
}

func (c *ringCheck) boundary(mending bool) (orb.MultiPolygon, error) {
	for i, r := range c.Rings {
		for _, p := range r {
			if !OnEarth(p[0], p[1]) {
				return nil, fmt.Errorf("%w\nhint: %s", c.breaks(&fault{i, RingFinite, p}), PlaceHint(p[0], p[1]))
			}
		}
	}
	rings, holes, broken := c.clean(mending && len(c.Rings) > 1)
	if broken == nil {
		out, f, err := c.judge(rings)
		if f == nil {
			return out, err
		}
		broken = f
	} else if len(c.Rings) == 1 {
		mending = false // nothing would be left
	}
	if !mending {
		return nil, c.breaks(broken)
	}
	return c.mended(rings, holes, broken)
}

// clean cleans the rings; poor is the first that has no ground, at which it ends if there is nothing to go on for.
// holes says which are holes by the file.
func (c *ringCheck) clean(goOn bool) (rings []orb.Ring, holes []bool, poor *fault) {
	for i, r := range c.Rings {
		clean, spikes, open := cleanRing(r)
		if open {
			c.say(&orb.Point{r[0][0], r[0][1]}, false, fmt.Sprintf("boundary ring %d is open: closed", i+1))
		}
		if spikes > 0 {
			c.say(nil, false, fmt.Sprintf("boundary ring %d has %d spikes of no width: left out", i+1, spikes))
		}
		if len(clean) >= 4 {
			rings, holes = append(rings, clean), append(holes, c.Parts != nil && !slices.Contains(c.Parts, i))
			continue
		}
		if poor == nil {
			poor = &fault{ring: i, rule: RingClosed}
			if len(r) > 0 {
				poor.at = r[0]
			}
		}
		if !goOn {
			break
		}
	}
	return rings, holes, poor
}

// judge makes a boundary of clean rings, or says which rule one breaks.
func (c *ringCheck) judge(rings []orb.Ring) (orb.MultiPolygon, *fault, error) {
	broken, shared := crossing(rings)
	if broken != nil {
		return nil, broken, nil
	}
	out, broken := c.arrange(rings)
	if broken != nil || shared == nil {
		return out, broken, nil
	}
	same, err := sameGround(rings, out)
	switch {
	case err != nil:
		return nil, nil, fmt.Errorf("%w\nedges run along each other there, and whether they cross could not be told: %w", c.breaks(shared), err)
	case !same:
		return nil, shared, nil
	}
	return out, nil, nil
}

// fault is a broken rule: which ring (from 0) and where.
type fault struct {
	ring int
	rule RingRule
	at   orb.Point
}

// cleanRing closes a ring and takes out repeated points and spikes, edges that
// run back on themselves. The ring given is not changed.
func cleanRing(r orb.Ring) (clean orb.Ring, spikes int, open bool) {
	open = len(r) > 2 && r[0] != r[len(r)-1]
	c := make(orb.Ring, 0, len(r)+1)
	for _, p := range r {
		for {
			n := len(c)
			if n > 0 && c[n-1] == p {
				break
			}
			if n > 1 && spike(c[n-2], c[n-1], p) {
				c = c[:n-1]
				spikes++
				continue
			}
			c = append(c, p)
			break
		}
	}
	if n := len(c); n > 1 && c[0] == c[n-1] {
		c = c[:n-1]
	}
	for len(c) > 2 { // spikes across the seam
		n := len(c)
		switch {
		case c[0] == c[n-1]:
			c = c[:n-1]
		case spike(c[n-2], c[n-1], c[0]):
			c = c[:n-1]
			spikes++
		case spike(c[n-1], c[0], c[1]):
			c = c[1:]
			spikes++
		default:
			return append(c, c[0]), spikes, open
		}
	}
	return c, spikes, open
}

// spike says whether b is the tip of a → b → c running back on itself.
func spike(a, b, c orb.Point) bool {
	return (a[0]-b[0])*(c[0]-b[0])+(a[1]-b[1])*(c[1]-b[1]) > 0 && plane.Orientation(a, b, c) == 0
}

// ringArea is the signed area in square degrees, for comparing and for the
// direction only.
func ringArea(r orb.Ring) float64 {
	var s float64
	for i := 1; i+1 < len(r); i++ {
		s += (r[i][0]-r[0][0])*(r[i+1][1]-r[0][1]) - (r[i][1]-r[0][1])*(r[i+1][0]-r[0][0])
	}
	return s / 2
}

func directed(r orb.Ring, counterclockwise bool) orb.Ring {
	if ringArea(r) > 0 != counterclockwise {
		r.Reverse()
	}
	return r
}

// arrange sorts clean rings that do not cross into polygons, as the file says or
// by how they lie, and checks that holes and parts lie where they may.
func (c *ringCheck) arrange(rings []orb.Ring) (orb.MultiPolygon, *fault) {
	boxes := make([]orb.Bound, len(rings))
	for i, r := range rings {
		if ringArea(r) == 0 {
			return nil, &fault{i, RingClosed, r[0]}
		}
		boxes[i] = r.Bound()
	}
	if c.Parts == nil {
		return nest(rings, boxes)
	}
	var out orb.MultiPolygon
	for k, from := range c.Parts {
		to := len(rings)
		if k+1 < len(c.Parts) {
			to = c.Parts[k+1]
		}
		poly := orb.Polygon{directed(rings[from], true)}
		for i := from + 1; i < to; i++ {
			if at, in := lies(rings[i], rings[from], boxes[i], boxes[from]); in <= 0 {
				return nil, &fault{i, RingInside, at}
			}
			for j := from + 1; j < i; j++ {
				if f := apart(rings, boxes, i, j); f != nil {
					return nil, f
				}
			}
			poly = append(poly, directed(rings[i], false))
		}
		out = append(out, poly)
	}
	for k, from := range c.Parts {
		for l, other := range c.Parts {
			if l == k || !boxes[from].Intersects(boxes[other]) {
				continue
			}
			at, in := lies(rings[from], rings[other], boxes[from], boxes[other])
			if in >= 0 && !inHole(rings[from], boxes[from], out[l][1:], boxes[other+1:]) {
				return nil, &fault{from, RingApart, at}
			}
		}
	}
	return out, nil
}

// inHole says whether a ring lies in one of some holes.
func inHole(r orb.Ring, box orb.Bound, holes []orb.Ring, boxes []orb.Bound) bool {
	for h, hole := range holes {
		if _, in := lies(r, hole, box, boxes[h]); in >= 0 {
			return true
		}
	}
	return false
}

// apart says that ring i does not lie in ring j nor j in i.
func apart(rings []orb.Ring, boxes []orb.Bound, i, j int) *fault {
	if !boxes[i].Intersects(boxes[j]) {
		return nil
	}
	if at, in := lies(rings[i], rings[j], boxes[i], boxes[j]); in >= 0 {
		return &fault{i, RingApart, at}
	}
	if at, in := lies(rings[j], rings[i], boxes[j], boxes[i]); in >= 0 {
		return &fault{j, RingApart, at}
	}
	return nil
}

// nest makes polygons of rings that say nothing about who is a hole: a ring in
// an even number of others is an outer ring, one in an odd number a hole of the
// smallest ring around it.
func nest(rings []orb.Ring, boxes []orb.Bound) (orb.MultiPolygon, *fault) {
	order := upTo(0, len(rings)) // large to small: what lies around comes first
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(math.Abs(ringArea(rings[b])), math.Abs(ringArea(rings[a]))) })
	polygons := make([]orb.Polygon, len(rings)) // by the place of the outer ring in the file
	outer := make([]int, len(rings))            // of a ring: the one whose polygon it is of
	for n, i := range order {
		depth, around := 0, -1
		for _, j := range order[:n] {
			p, in := lies(rings[i], rings[j], boxes[i], boxes[j])
			if in == 0 {
				return nil, &fault{i, RingApart, p}
			}
			if in > 0 {
				depth++
				around = j // the last one is the smallest
			}
		}
		if outer[i] = i; depth%2 == 1 {
			outer[i] = outer[around]
		}
		polygons[outer[i]] = append(polygons[outer[i]], directed(rings[i], depth%2 == 0))
	}
	var out orb.MultiPolygon
	for _, p := range polygons {
		if p != nil {
			out = append(out, p)
		}
	}
	return out, nil
}

// lies says whether ring r, which does not cross ring around, lies inside it
// (1), outside (-1), or on the very same line (0); at is a point that shows it.
func lies(r, around orb.Ring, box, boxAround orb.Bound) (at orb.Point, in int) {
	if !boxAround.Intersects(box) {
		return r[0], -1
	}
	for _, p := range r[:len(r)-1] {
		if in := ringHolds(p, around); in != 0 {
			return p, in
		}
	}
	for i := range len(r) - 1 { // all corners lie on the other ring: the middles of the edges decide
		m := orb.Point{(r[i][0] + r[i+1][0]) / 2, (r[i][1] + r[i+1][1]) / 2}
		if in := ringHolds(m, around); in != 0 && !onRing(m, around) {
			return m, in
		}
	}
	return r[0], 0
}

// sameGround says whether a boundary has the ground that its rings have by the
// even-odd rule. Rings that run along themselves or each other may go over to
// the other side on the way, which no single corner shows; then the two differ.
// They are compared in degrees stretched to metres, not on the field's plane: an
// edge of some hundred metres that is straight in degrees bends there by
// millimetres, and would no longer run along the other.
func sameGround(rings []orb.Ring, m orb.MultiPolygon) (bool, error) {
	centre, err := middleOf(rings)
	if err != nil {
		return false, err
	}
	shrink := math.Cos(centre[1] * math.Pi / 180)
	stretched := func(r orb.Ring) plane.Ring {
		flat := make(plane.Ring, 0, len(r))
		for _, p := range r[:len(r)-1] {
			flat = append(flat, plane.XY{X: (p[0] - centre[0]) * shrink * degree, Y: (p[1] - centre[1]) * degree})
		}
		return flat
	}
	flat := make([]plane.Ring, len(rings))
	var area, perimeter float64
	for i, r := range rings {
		flat[i] = stretched(r)
		perimeter += flat[i].Perimeter()
	}
	polys, err := plane.Mend(flat)
	if err != nil {
		return false, err
	}
	for _, p := range polys {
		area -= p.Area()
	}
	for _, poly := range m {
		for _, r := range poly {
			area += stretched(r).Area()
		}
	}
	return math.Abs(area) <= thin*perimeter, nil
}

// thin is the mean width, in metres over all rings, of ground that may be on
// the wrong side where rings run along each other: a tenth of the best
// receiver's noise.
const thin = 1e-3

// flatten takes rings into their metric plane.
func flatten(rings []orb.Ring) (Local, []plane.Ring, error) {
	centre, err := middleOf(rings)
	if err != nil {
		return Local{}, nil, err
	}
	local := LocalAt(centre)
	flat := make([]plane.Ring, len(rings))
	for i, r := range rings {
		for _, p := range r[:len(r)-1] {
			flat[i] = append(flat[i], local.XY(p))
		}
	}
	return local, flat, nil
}

// middleOf is the middle of what the rings span, which must not be larger than a
// plane is good for.
func middleOf(rings []orb.Ring) (orb.Point, error) {
	box := rings[0].Bound()
	for _, r := range rings[1:] {
		box = box.Union(r.Bound())
	}
	if w, h := box.Max[0]-box.Min[0], box.Max[1]-box.Min[1]; w > mendLimit || h > mendLimit {
		return orb.Point{}, fmt.Errorf("the boundary is %.3g° by %.3g°: the limit is %g°", w, h, mendLimit)
	}
	return box.Center(), nil
}

// mendLimit is the greatest width and height of a boundary that is mended, in
// degrees: well within plane.Limit, and larger than any field.
const mendLimit = 2.0
