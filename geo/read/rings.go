package read

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// outline is one boundary as read, in degrees: rings in the order of the file.
type outline struct {
	record int
	name   string
	rings  []orb.Ring
	// parts says where each polygon's rings begin; its first ring is the outer
	// one. nil: the file does not say which ring is a hole (a shapefile), and how
	// the rings lie in each other decides.
	parts []int
}

// boundary makes a clean boundary of an outline, or says what is wrong with it:
// rings closed, outer rings counter-clockwise, holes clockwise, no ring crossing
// itself or another, holes inside. Rings may touch.
func (o *outline) boundary(t *tally, opt Options) (orb.MultiPolygon, error) {
	bad := func(ring int, rule geo.RingRule, at orb.Point) *geo.RingError {
		return &geo.RingError{File: t.file, Record: o.record, Ring: ring + 1, Rule: rule, At: at}
	}
	for i, r := range o.rings {
		for _, p := range r {
			if !onEarth(p[0], p[1]) {
				return nil, fmt.Errorf("%w\nhint: %s", bad(i, geo.RingFinite, p), placeHint(p[0], p[1]))
			}
		}
	}
	rings, holes := make([]orb.Ring, 0, len(o.rings)), make([]bool, 0, len(o.rings))
	var poor *fault // a ring without ground, when rings are mended
	for i, r := range o.rings {
		clean, spikes, open := cleanRing(r)
		if open {
			t.add(o.record, &orb.Point{r[0][0], r[0][1]}, false, fmt.Sprintf("boundary ring %d is open: closed", i+1))
		}
		if spikes > 0 {
			t.add(o.record, nil, false, fmt.Sprintf("boundary ring %d has %d spikes of no width: left out", i+1, spikes))
		}
		if len(clean) < 4 {
			at := orb.Point{}
			if len(r) > 0 {
				at = r[0]
			}
			if !opt.Mend || len(o.rings) == 1 {
				return nil, bad(i, geo.RingClosed, at)
			}
			if poor == nil {
				poor = &fault{i, geo.RingClosed, at}
			}
			continue
		}
		rings, holes = append(rings, clean), append(holes, o.parts != nil && !slices.Contains(o.parts, i))
	}
	if poor != nil {
		return o.mended(rings, holes, poor, t, bad)
	}
	fault, shared := crossing(rings)
	var out orb.MultiPolygon
	if fault == nil {
		out, fault = o.arrange(rings)
	}
	if fault == nil && shared != nil {
		same, err := sameGround(rings, out)
		if err != nil {
			return nil, fmt.Errorf("%w\nedges run along each other there, and whether they cross could not be told: %w", bad(shared.ring, shared.rule, shared.at), err)
		}
		if !same {
			fault = shared
		}
	}
	if fault == nil {
		return out, nil
	}
	if !opt.Mend {
		return nil, bad(fault.ring, fault.rule, fault.at)
	}
	return o.mended(rings, holes, fault, t, bad)
}

// fault is a broken rule: which ring (from 0) and where.
type fault struct {
	ring int
	rule geo.RingRule
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
	return (a[0]-b[0])*(c[0]-b[0])+(a[1]-b[1])*(c[1]-b[1]) > 0 && side(a, b, c) == 0
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
func (o *outline) arrange(rings []orb.Ring) (orb.MultiPolygon, *fault) {
	for i, r := range rings {
		if ringArea(r) == 0 {
			return nil, &fault{i, geo.RingClosed, r[0]}
		}
	}
	parts := o.parts
	boxes := make([]orb.Bound, len(rings))
	for i, r := range rings {
		boxes[i] = r.Bound()
	}
	if parts == nil {
		return nest(rings, boxes)
	}
	var out orb.MultiPolygon
	for k, from := range parts {
		to := len(rings)
		if k+1 < len(parts) {
			to = parts[k+1]
		}
		poly := orb.Polygon{directed(rings[from], true)}
		for i := from + 1; i < to; i++ {
			if at, in := lies(rings[i], rings[from], boxes[i], boxes[from]); in <= 0 {
				return nil, &fault{i, geo.RingInside, at}
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
	for k, from := range parts { // an outer ring within another part, and not in a hole of it
		for l, other := range parts {
			if l == k || !boxes[from].Intersects(boxes[other]) {
				continue
			}
			at, in := lies(rings[from], rings[other], boxes[from], boxes[other])
			if in < 0 {
				continue
			}
			inHole := false
			for h, hole := range out[l][1:] {
				if _, in := lies(rings[from], hole, boxes[from], boxes[other+1+h]); in >= 0 {
					inHole = true
					break
				}
			}
			if !inHole {
				return nil, &fault{from, geo.RingApart, at}
			}
		}
	}
	return out, nil
}

// apart says that ring i does not lie in ring j nor j in i.
func apart(rings []orb.Ring, boxes []orb.Bound, i, j int) *fault {
	if !boxes[i].Intersects(boxes[j]) {
		return nil
	}
	if at, in := lies(rings[i], rings[j], boxes[i], boxes[j]); in >= 0 {
		return &fault{i, geo.RingApart, at}
	}
	if at, in := lies(rings[j], rings[i], boxes[j], boxes[i]); in >= 0 {
		return &fault{j, geo.RingApart, at}
	}
	return nil
}

// nest makes polygons of rings that say nothing about who is a hole: a ring in
// an even number of others is an outer ring, one in an odd number a hole of the
// smallest ring around it.
func nest(rings []orb.Ring, boxes []orb.Bound) (orb.MultiPolygon, *fault) {
	order := make([]int, len(rings)) // large to small: what lies around comes first
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		return math.Abs(ringArea(rings[order[a]])) > math.Abs(ringArea(rings[order[b]]))
	})
	depth := make([]int, len(rings))
	place := make([]int, len(rings)) // of an outer ring in the result
	var out orb.MultiPolygon
	var at []int // place of each polygon's outer ring, to put them back in the order of the file
	for n, i := range order {
		around := -1
		for _, j := range order[:n] {
			p, in := lies(rings[i], rings[j], boxes[i], boxes[j])
			if in == 0 {
				return nil, &fault{i, geo.RingApart, p}
			}
			if in > 0 {
				depth[i]++
				around = j // the last one is the smallest
			}
		}
		if depth[i]%2 == 1 {
			out[place[around]] = append(out[place[around]], directed(rings[i], false))
			continue
		}
		place[i] = len(out)
		out = append(out, orb.Polygon{directed(rings[i], true)})
		at = append(at, i)
	}
	sort.Sort(&byPlace{out, at})
	return out, nil
}

type byPlace struct {
	out orb.MultiPolygon
	at  []int
}

func (b *byPlace) Len() int           { return len(b.out) }
func (b *byPlace) Less(i, j int) bool { return b.at[i] < b.at[j] }
func (b *byPlace) Swap(i, j int) {
	b.out[i], b.out[j] = b.out[j], b.out[i]
	b.at[i], b.at[j] = b.at[j], b.at[i]
}

// lies says whether ring r, which does not cross ring around, lies inside it
// (1), outside (-1), or on the very same line (0); at is a point that shows it.
func lies(r, around orb.Ring, box, boxAround orb.Bound) (at orb.Point, in int) {
	if !boxAround.Intersects(box) {
		return r[0], -1
	}
	for _, p := range r[:len(r)-1] {
		if in := within(p, around); in != 0 {
			return p, in
		}
	}
	for i := range len(r) - 1 { // all corners lie on the other ring: the middles of the edges decide
		m := orb.Point{(r[i][0] + r[i+1][0]) / 2, (r[i][1] + r[i+1][1]) / 2}
		if in := within(m, around); in != 0 && !near(m, around) {
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
	centre, err := middle(rings)
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

// degree is the length of a degree on a sphere of the earth's mean radius
// (6,371,008.8 m, IUGG), m: near enough where only ground beside ground counts.
const degree = 6371008.8 * math.Pi / 180

// thin is the mean width, in metres over all rings, of ground that may be on
// the wrong side where rings run along each other: a tenth of the best
// receiver's noise.
const thin = 1e-3

// flatten takes rings into their metric plane.
func flatten(rings []orb.Ring) (geo.Local, []plane.Ring, error) {
	centre, err := middle(rings)
	if err != nil {
		return geo.Local{}, nil, err
	}
	local := geo.LocalAt(centre)
	flat := make([]plane.Ring, len(rings))
	for i, r := range rings {
		for _, p := range r[:len(r)-1] {
			flat[i] = append(flat[i], local.XY(p))
		}
	}
	return local, flat, nil
}

// middle is the middle of what the rings span, which must not be larger than a
// plane is good for.
func middle(rings []orb.Ring) (orb.Point, error) {
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
