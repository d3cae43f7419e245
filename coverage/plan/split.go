package plan

import (
	"context"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// Region is ground of a field whose rows run in a direction of their own.
type Region struct {
	Ground  plane.Polygon
	Heading geo.Heading // rad
}

// split is a field cut into regions.
type split struct{ regions []Region }

const (
	// armedFill: an interior that fills no more of its hull than this has arms that may be worth directions of their own.
	armedFill = 0.87
	// mostRegions: a part of a field is cut into no more.
	mostRegions = 4
	// straightSide: corners of an interior are looked at as if its sides were so straight, m.
	straightSide = 0.5
	// longSide, longCut: a cut goes on a side of so many widths, and is so many long.
	longSide, longCut = 5, 2
	// leastRegion: ground of fewer rows of their own width is no region.
	leastRegion = 3
	// leastTurned: rows of two regions count as of one direction up to so much, degrees.
	leastTurned = 0.5
	// worthCutting: a cut has to save so much of what the rows take by the estimate.
	worthCutting = 0.01
)

// splits are ways in which the arms of a field have rows in directions of their own: each part is cut where a straight side of its interior ends at a corner that
// stands into it, on along that side, as long as that saves time by the estimate; straight is the best direction of all of it. Where the regions meet rows end
// at the others' first one, and the set turns on their ground.
func (s *survey) splits(ctx context.Context, straight geo.Heading) (out []choice, err error) {
	var all split
	most, at, cut := 0.0, straight, false
	for i, part := range s.ground {
		regions := []Region{{part, straight}}
		if len(s.parts[i].coarse) == 1 && s.armed(s.parts[i].coarse[0]) {
			if regions, err = s.regionsOf(ctx, part, s.parts[i].coarse, straight); err != nil {
				return nil, err
			}
		}
		cut = cut || len(regions) > 1
		for _, r := range regions {
			if area := r.Ground.Area(); area > most {
				most, at = area, r.Heading
			}
		}
		all.regions = append(all.regions, regions...)
	}
	if !cut {
		return nil, nil
	}
	return []choice{{heading: at, split: &all}}, nil
}

func (s *survey) armed(interior plane.Polygon) bool {
	return interior.Area() <= armedFill*plane.Hull(interior[0]).Area()
}

// regionsOf cuts a part of a field, whose interior is given, as long as that saves time.
func (s *survey) regionsOf(ctx context.Context, part plane.Polygon, interior []plane.Polygon, straight geo.Heading) ([]Region, error) {
	type piece struct {
		Region
		inside  []plane.Polygon // its share of the interior
		seconds float64
	}
	rated := func(ground plane.Polygon, inside []plane.Polygon, also ...geo.Heading) piece {
		p := piece{Region{Ground: ground}, inside, math.Inf(1)}
		for _, h := range append(s.sideways(inside), also...) {
			if seconds := s.rowsTake(inside, h); seconds < p.seconds {
				p.Heading, p.seconds = h, seconds
			}
		}
		return p
	}
	pieces := []piece{rated(part, interior, straight)}
	whole := pieces[0].seconds
	for len(pieces) < mostRegions {
		saves, which := worthCutting*whole, -1
		var halves [2]piece
		for k, p := range pieces {
			for _, two := range s.cutsOf(p.Ground, p.inside) {
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				var both [2]piece
				for n, ground := range two {
					inside, err := plane.Intersection(ctx, p.inside, []plane.Polygon{ground})
					if err != nil {
						return nil, err
					}
					both[n] = rated(ground, inside, p.Heading)
				}
				if gain := p.seconds - both[0].seconds - both[1].seconds; gain > saves {
					saves, which, halves = gain, k, both
				}
			}
		}
		if which < 0 {
			break
		}
		pieces[which] = halves[0]
		pieces = append(pieces, halves[1])
	}
	var out []Region
	for _, p := range pieces {
		out = append(out, p.Region)
	}
	return out, nil
}

// sideways are the directions of the longest sides of some ground.
func (s *survey) sideways(ground []plane.Polygon) (all []geo.Heading) {
	for _, p := range ground {
		sides := sidesOf(plane.Polygon{p[0].Thinned(straightSide)})
		for _, d := range sides[:min(leftSides, len(sides))] {
			all = append(all, geo.Along(d))
		}
	}
	return all
}

// rowsTake is what the rows of some ground take in a direction, by the estimate, s.
func (s *survey) rowsTake(ground []plane.Polygon, h geo.Heading) float64 {
	var blocks []block
	for _, p := range ground {
		blocks = s.blocksIn(blocks, p, h, false)
	}
	return s.blocksTake(blocks, s.depth)
}

// cutsOf are ways to cut ground in two, by what of the interior lies in it: see splits.
func (s *survey) cutsOf(ground plane.Polygon, inside []plane.Polygon) (out [][2]plane.Polygon) {
	for _, p := range inside {
		ring := p[0].Thinned(straightSide)
		for i, at := range ring {
			before, after := ring[(i+len(ring)-1)%len(ring)], ring[(i+1)%len(ring)]
			if at.Sub(before).Cross(after.Sub(at)) >= 0 {
				continue
			}
			for _, side := range [2]plane.XY{at.Sub(before), at.Sub(after)} {
				if side.Len() < longSide*s.width {
					continue
				}
				if two, ok := s.cutAlong(ground, at, side.Unit()); ok {
					out = append(out, two)
				}
			}
		}
	}
	return out
}

// cutAlong cuts ground from its rim next to a place, to that place and on in a direction to the rim; not where that meets a hole, or leaves less than a few rows.
func (s *survey) cutAlong(ground plane.Polygon, at, ahead plane.XY) (two [2]plane.Polygon, ok bool) {
	two, far, ok := cutFrom(ground, at, ahead)
	if !ok || far < longCut*s.width {
		return two, false
	}
	for _, p := range two {
		if least := leastRegion * s.width; p[0].Area() < least*least {
			return two, false
		}
	}
	return two, true
}

// cutFrom cuts ground in two from its rim next to a place, to that place and on in a direction to the rim, which is so far, m; not where that meets a hole.
func cutFrom(ground plane.Polygon, at, ahead plane.XY) (two [2]plane.Polygon, far float64, ok bool) {
	outer := ground[0]
	from, begin, _ := nearestOn(outer, at)
	to, end, far := -1, plane.XY{}, math.Inf(1)
	for _, ring := range ground {
		for k, a := range ring {
			side := ring[(k+1)%len(ring)].Sub(a)
			across := ahead.Cross(side)
			if across == 0 {
				continue
			}
			t, u := a.Sub(at).Cross(side)/across, a.Sub(at).Cross(ahead)/across
			if t > hair && u >= 0 && u <= 1 && t < far {
				to, end, far = k, at.Add(ahead.Scale(t)), t
				if &ring[0] != &outer[0] {
					to = -1
				}
			}
		}
	}
	if to < 0 {
		return two, far, false
	}
	cut := []plane.XY{begin, at, end}
	first := append(plane.Ring{cut[2], cut[1], cut[0]}, corners(outer, from, to, begin, end)...)
	second := append(plane.Ring{cut[0], cut[1], cut[2]}, corners(outer, to, from, end, begin)...)
	two = [2]plane.Polygon{{slices.Compact(first)}, {slices.Compact(second)}}
	for _, hole := range ground[1:] {
		k := 0
		if !two[0].Holds(hole[0]) {
			k = 1
		}
		two[k] = append(two[k], hole)
	}
	return two, far, true
}

// corners are those of a ring from a place on one of its sides to one on another, in the ring's own sense.
func corners(ring plane.Ring, from, to int, begin, end plane.XY) (out plane.Ring) {
	if from == to && end.Dist(ring[from]) > begin.Dist(ring[from]) {
		return nil
	}
	n := len(ring)
	for k := (from + 1) % n; ; k = (k + 1) % n {
		out = append(out, ring[k])
		if k == to {
			return out
		}
	}
}

// splitBlocks adds the blocks of an interior cut into regions, and of what lies in none.
func (s *survey) splitBlocks(ctx context.Context, out []block, c choice, interior []plane.Polygon, improve bool) ([]block, error) {
	rest := interior
	for _, r := range c.split.regions {
		inside, err := plane.Intersection(ctx, interior, []plane.Polygon{r.Ground})
		if err != nil {
			return nil, err
		}
		if len(inside) == 0 {
			continue
		}
		if rest, err = plane.Difference(ctx, rest, []plane.Polygon{r.Ground}); err != nil {
			return nil, err
		}
		for _, p := range inside {
			out = s.leftBlocks(out, leftover{ground: p, heading: r.Heading}, c.heading, improve)
		}
	}
	for _, p := range rest {
		out = s.blocksIn(out, p, c.heading, improve)
	}
	return out, nil
}
