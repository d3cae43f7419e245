package coverage

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/workers"
)

// sliver: a missed piece into which no circle of this diameter fits is summed,
// not listed. The best receivers wander by as much from pass to pass (common
// practice, no source).
const sliver = 0.02 // m

// findStrips makes the missed polygons into strips, largest first, and sums
// those that are slivers or only possible. Their areas are those of the polygons as drawn: where
// edges nearly touch these are rounded to an eighth of a millimetre, so the sum
// may differ from Balance.Missed by that times the rim.
func (r *Result) findStrips(ctx context.Context, laid ground.Laid, rim *plane.Edges, runs []drive.Run) error {
	pieces, err := PiecesOf(ctx, r.Local, r.Layers.Missed, laid.Dropped, runs, r.Work.Workers)
	if err != nil {
		return err
	}
	r.Strips, r.Slivers, r.SliverArea = pieces.Strips, pieces.Slivers, pieces.SliverArea
	blind, unsided := make([]bool, len(r.Strips)), make([]bool, len(r.Strips))
	around := surroundingsOf(runs, r.Layers.Field, r.Work)
	err = workers.Chunks(ctx, len(r.Strips), 64, r.Work.Workers, func(from, to int) error {
		var c contact
		for k := from; k < to; k++ {
			s := &r.Strips[k]
			around.contact(&c, s.Shape)
			s.Passes, s.Cause, blind[k] = c.passes(), c.cause(*s, r.Work.Credited()), c.blind
			unsided[k] = s.Cause == CausePart && c.unsided
			s.Approach = around.approach(r.Local.XY(s.At), s.Passes)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := r.judge(ctx, rim, runs, blind, pieces); err != nil {
		return err
	}
	r.doubtGaps()
	for k := range r.Strips { // such a strip may lie on the other side, all of it
		if s := &r.Strips[k]; unsided[k] && s.Certain > 0 {
			s.doubt()
		}
	}
	markHeadland(r.Strips, laid.MissedHeadland, &pieces.knife)
	slices.SortFunc(r.Strips, func(a, b Strip) int {
		return cmp.Or(cmp.Compare(b.Area, a.Area), cmp.Compare(a.At[0], b.At[0]), cmp.Compare(a.At[1], b.At[1]))
	})
	for k := range r.Strips {
		r.Strips[k].Number = k + 1
	}
	return nil
}

// Pieces is missed ground as strips that hang together by more than a neck, measured, and the slivers among them.
type Pieces struct {
	Strips     []Strip // in the order of the ground
	Slivers    int     // pieces too narrow to list ...
	SliverArea float64 // ... and their m²
	knife      knife
	places     *places
}

// PiecesOf takes missed ground, drawn, to pieces. Dropped is what was too thin to be drawn, m², and counts as slivers; the runs
// are those that left the ground.
func PiecesOf(ctx context.Context, local geo.Local, missed []plane.Polygon, dropped float64, runs []drive.Run, on int) (*Pieces, error) {
	out := &Pieces{SliverArea: dropped}
	cutter := cutterOf(runs)
	all, cuts := make([][]Strip, len(missed)), make([][]plane.Segment, len(missed))
	err := workers.Chunks(ctx, len(all), 64, on, func(from, to int) error {
		for k := from; k < to; k++ {
			all[k], cuts[k] = stripsOf(local, missed[k], cutter)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for k, pieces := range all {
		out.knife.add(cuts[k])
		for _, s := range pieces {
			if s.MaxWidth == 0 {
				out.Slivers++
				out.SliverArea += s.Area
				continue
			}
			out.Strips = append(out.Strips, s)
		}
	}
	out.places = placesOf(out.Strips)
	return out, nil
}

// leftover is what stays missed of a strip, m²; below 0: of none.
type leftover struct {
	strip int
	area  float64
}

// Left is how much of each strip stays missed, m², where this ground does when swaths are laid otherwise. It is cut where the strips were, and a
// piece counts in which a sliver's circle fits.
func (p *Pieces) Left(ctx context.Context, ground []plane.Polygon, on int) ([]float64, error) {
	found := make([][]leftover, len(ground))
	err := workers.Chunks(ctx, len(ground), 64, on, func(from, to int) (err error) {
		for k := from; k < to; k++ {
			for _, piece := range p.knife.apart(ground[k]) {
				if found[k], err = p.appendLeft(ctx, found[k], piece); err != nil {
					return fmt.Errorf("what is left of a strip: %w", err)
				}
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	left := make([]float64, len(p.Strips))
	for _, some := range found {
		for _, l := range some {
			if l.strip >= 0 {
				left[l.strip] += l.area
			}
		}
	}
	return left, nil
}

// appendLeft appends what a piece is of strips. Those that a hairline parts may come together in it, by the rounding of drawn ground: then each has what lies in it.
func (p *Pieces) appendLeft(ctx context.Context, to []leftover, piece plane.Polygon) ([]leftover, error) {
	middle, ok := broad(piece, sliver)
	if !ok {
		return to, nil
	}
	of := p.places.at(middle)
	others := p.places.besides(of, piece)
	if len(others) == 0 {
		return append(to, leftover{of, piece.Area()}), nil
	}
	for _, of := range append(others, of) {
		if of < 0 {
			continue
		}
		parts, err := plane.Intersection(ctx, []plane.Polygon{piece}, p.places.shapes[of:of+1])
		if err != nil {
			return nil, err
		}
		for _, part := range parts {
			if _, ok := broad(part, sliver); ok {
				to = append(to, leftover{of, part.Area()})
			}
		}
	}
	return to, nil
}

// wholeCorners: ground of more corners is cut without looking for its widest place first, which may take longer than the cutting, and then is only
// asked of its pieces. Where that place is too narrow for a core, no piece is one, and nothing is cut either way.
const wholeCorners = 20_000

// stripsOf are the strips of a piece of missed ground, and where it was cut into them.
func stripsOf(local geo.Local, p plane.Polygon, c cutter) ([]Strip, []plane.Segment) {
	whole := []Strip{{Shape: p}}
	wide := coreNecks * c.neck // more is not asked for cutting
	_, later := plainlyBroad(p, wide)
	if later = later || p.Corners() > wholeCorners; !later {
		whole[0].measure(local)
		wide = whole[0].MaxWidth
	}
	pieces, cuts := c.cut(p, wide)
	if cuts == nil {
		if later {
			whole[0].measure(local)
		}
		return whole, nil
	}
	out := make([]Strip, len(pieces))
	for k, piece := range pieces {
		out[k].Shape = piece
		out[k].measure(local)
	}
	return out, cuts
}

// measure fills in area, length, widths, bearing and place of a strip. A sliver
// gets its area only.
func (s *Strip) measure(local geo.Local) {
	s.Area = s.Shape.Area()
	centre, radius, below := widest(s.Shape, sliver)
	if below {
		return
	}
	s.Length = lengthOf(s.Area, s.Shape.Perimeter())
	s.MeanWidth, s.MaxWidth = s.Area/s.Length, 2*radius
	s.At = local.Point(centre)
	axis := longAxis(s.Shape)
	grid := math.Atan2(axis.X, axis.Y) * 180 / math.Pi
	s.Bearing = geo.Bearing(math.Mod(grid+local.Convergence(s.At)+360, 180))
}

// lengthOf is the length of the rectangle with this area and perimeter, which is
// the longer root of l² − (P/2)·l + A = 0: exact for a straight strip, and for a
// bent one or one that goes round as good as the strip is thin. A shape too
// compact for such a rectangle gets the side P/4 of the square.
func lengthOf(area, perimeter float64) float64 {
	half := perimeter / 2
	return (half + math.Sqrt(max(0, half*half-4*area))) / 2
}

// longAxis is the unit vector of the largest second moment of area.
func longAxis(p plane.Polygon) plane.XY {
	o := p[0][0]
	var a, x, y, xx, xy, yy float64
	for _, r := range p {
		for i, v := range r {
			// Each edge makes a triangle with o; the moments of a triangle with one
			// corner at the origin are cross · sums over the other two.
			u, v := v.Sub(o), r[(i+1)%len(r)].Sub(o)
			c := u.Cross(v)
			a += c / 2
			x += c * (u.X + v.X) / 6
			y += c * (u.Y + v.Y) / 6
			xx += c * (u.X*u.X + u.X*v.X + v.X*v.X) / 12
			yy += c * (u.Y*u.Y + u.Y*v.Y + v.Y*v.Y) / 12
			xy += c * (2*u.X*u.Y + u.X*v.Y + v.X*u.Y + 2*v.X*v.Y) / 24
		}
	}
	xx, yy, xy = xx-x*x/a, yy-y*y/a, xy-x*y/a
	sin, cos := math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	return plane.XY{X: cos, Y: sin}
}

// places finds the strip at a place.
type places struct {
	shapes []plane.Polygon
	tree   plane.Tree[int]
	edges  []func() *plane.Edges // of each, made when they are first asked for
}

// manyCorners: whether ground of more corners holds a place is asked of its edges beside that.
const manyCorners = 64

func placesOf(strips []Strip) *places {
	var p places
	for k, s := range strips {
		p.shapes = append(p.shapes, s.Shape)
		p.tree.Insert(s.Shape[0].Bounds(), k)
		p.edges = append(p.edges, sync.OnceValue(func() *plane.Edges {
			var e plane.Edges
			e.AddPolygons([]plane.Polygon{s.Shape})
			return &e
		}))
	}
	return &p
}

// at is the index of the strip that holds q, or -1.
func (p *places) at(q plane.XY) int {
	for k := range p.tree.In(plane.Box{Min: q, Max: q}) {
		if p.holds(k, q) {
			return k
		}
	}
	return -1
}

func (p *places) holds(k int, q plane.XY) bool {
	if p.shapes[k].Corners() > manyCorners {
		return p.edges[k]().Holds(q)
	}
	return p.shapes[k].Holds(q)
}

// besides are the strips other than one that hold a corner of a piece, ascending.
func (p *places) besides(one int, piece plane.Polygon) (others []int) {
	alone := true
	for k := range p.tree.In(piece[0].Bounds()) {
		alone = alone && k == one
	}
	if alone {
		return nil
	}
	for _, ring := range piece {
		for _, q := range ring {
			for k := range p.tree.In(plane.Box{Min: q, Max: q}) {
				if i, found := slices.BinarySearch(others, k); k != one && !found && p.holds(k, q) {
					others = slices.Insert(others, i, k)
				}
			}
		}
	}
	return others
}

// markHeadland marks the strips whose larger part lies in the headland. Each
// piece of missed headland, cut where strips were, lies in one strip: the one that holds a point of it.
func markHeadland(strips []Strip, pieces []plane.Polygon, knife *knife) {
	places := placesOf(strips)
	within := make([]float64, len(strips))
	for _, whole := range pieces {
		for _, p := range knife.apart(whole) {
			q, ok := inner(p)
			if !ok {
				continue
			}
			if k := places.at(q); k >= 0 {
				within[k] += p.Area()
			}
		}
	}
	for k := range strips {
		strips[k].Headland = within[k] > strips[k].Area/2
	}
}

// inner is a point inside p: the middle of its longest stretch at half height.
func inner(p plane.Polygon) (plane.XY, bool) {
	b := p[0].Bounds()
	y := (b.Min.Y + b.Max.Y) / 2
	cuts := cutsBeside(nil, p, y, true)
	best, q := 0.0, plane.XY{}
	for i := 0; i+1 < len(cuts); i += 2 {
		if w := cuts[i+1] - cuts[i]; w > best {
			best, q = w, plane.XY{X: (cuts[i] + cuts[i+1]) / 2, Y: y}
		}
	}
	return q, best > 0
}
