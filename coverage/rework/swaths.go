package rework

import (
	"context"
	"math"
	"slices"

	"balk/geo/plane"
	"balk/geo/workers"
)

const (
	// touch: a strip wider than n widths by less is worked in n passes; the plane is
	// drawn to an eighth of a millimetre.
	touch = 1e-3 // m
	// wander: a line is thinned to so many parts of the width; on 5 m that is 5 cm, what a
	// good receiver wanders from pass to pass (common practice, no source).
	wander = 100.0
	// hair: ground that comes no farther than this into the slice of a pass has the neighbouring
	// pass, that laps it; only hairlines thinner than two of it that run along between two passes may stay. Half the width of the
	// thinnest strip listed is twice as much.
	hair = 5e-3 // m
	// bentLap: along a bent line passes are laid nearer than the width by this share, since each of
	// their lines is thinned.
	bentLap = 0.02
	// leftBent: a bent pass serves if it leaves no more than this share of its strip.
	leftBent = 1e-3
	// lean: another direction than that of the neighbouring passes must save this share of
	// the ground worked for nothing.
	lean = 0.05
)

// piece is a part of a strip, or all of it.
type piece struct {
	strip int // index
	shape plane.Polygon
}

// run is a pass before its order and direction are known.
type run struct {
	strips []int // indices, ascending
	line   []plane.XY
}

// cover is how some pieces are worked.
type cover struct {
	pieces []piece
	runs   []run
	swath  float64 // m²
	cost   float64 // m² worked for nothing, beyond once more, perPass and perLane
	beyond float64 // m² outside the boundary or over obstacles, about
	slack  float64 // m by which all runs may be moved to either side
	guide  guide
	broken bool // a run leaves the field by more than a width
}

// perPass is what lowering and lifting once more is worth in m² worked for nothing: a square of the
// working width (common practice, no source).
func (w *works) perPass() float64 { return w.width * w.width }

// perLane is what a pass more beside the others is worth beyond that: the ground the set could
// work on the half circle that it turns on to get there.
func (w *works) perLane() float64 { return w.width * math.Pi * w.im.TurnRadius() }

// add puts a run into a cover.
func (w *works) add(c *cover, r run) {
	out, middle := w.beyond(r.line)
	c.runs = append(c.runs, r)
	c.swath += w.width * plane.Length(r.line)
	c.beyond += out
	c.broken = c.broken || middle > w.width
}

// best is the cheapest cover of some pieces by passes along one guide, if there is one that costs less
// than most; else it has no runs. Guides that cannot win are given up where that shows before they are driven; as they cannot
// win, it does not matter which worker got how far before that.
func (w *works) best(ctx context.Context, pieces []piece, most float64) (cover, error) {
	most -= tie * w.perPass()
	straight := newLeast() // cost along a straight, which always serves, as cheapest counts it
	guides := w.guides(pieces)
	covers := make([]cover, len(guides))
	err := workers.Each(ctx, w.r.Work.Workers, len(guides), func(k int) error {
		g := guides[k]
		l := w.lanesOf(pieces, g)
		if w.atLeast(l) >= min(most, straight.get()/g.counts()) {
			return nil
		}
		c, ok := w.coverAlong(l, 0, math.Inf(1))
		if ok && c.beyond > 0 && c.slack > touch {
			c = w.inward(l, c)
		}
		if ok && c.cost < most {
			covers[k] = c
			if g.straight() {
				straight.lower(c.cost * g.counts())
			}
		}
		return nil
	})
	if err != nil {
		return cover{}, err
	}
	all := slices.DeleteFunc(covers, func(c cover) bool { return len(c.runs) == 0 })
	for len(all) > 0 {
		k := cheapest(all, w.perPass())
		if whole, err := w.serves(ctx, all[k]); err != nil {
			return cover{}, err
		} else if whole {
			return all[k], nil
		}
		all = slices.Delete(all, k, k+1)
	}
	return cover{}, nil
}

// serves says whether a cover leaves nothing worth naming; one along a straight never does.
func (w *works) serves(ctx context.Context, c cover) (bool, error) {
	if c.guide.straight() {
		return true, nil
	}
	left, err := w.leftOf(ctx, c)
	return left <= leftBent*areaOf(c.pieces), err
}

// cheapest is the index of the cover that costs least, the directions of neighbouring passes
// preferred.
func cheapest(all []cover, perPass float64) int {
	best, least := 0, math.Inf(1)
	for k, c := range all {
		if cost := c.cost * c.guide.counts(); cost < least-tie*perPass {
			best, least = k, cost
		}
	}
	return best
}

// counts is by what the cost of a cover along g is multiplied before it is compared.
func (g guide) counts() float64 {
	if g.along {
		return 1
	}
	return 1 + lean
}

// tie: covers whose costs differ by less than this share of a pass are the same; the first
// guide wins, so that rounding does not choose.
const tie = 1e-6

func areaOf(pieces []piece) float64 {
	var a float64
	for _, p := range pieces {
		a += p.shape.Area()
	}
	return a
}

// job is pieces that are worked together.
type job struct {
	cover
	box plane.Box
}

// jobsOf works out the passes of the wanted strips: each strip is divided as long as that
// saves ground worked for nothing, then neighbours that one cover serves better are put together.
func (w *works) jobsOf(ctx context.Context, wanted []int) ([]job, error) {
	covers := make([][]cover, len(wanted))
	err := workers.Each(ctx, w.r.Work.Workers, len(wanted), func(i int) (err error) {
		k := wanted[i]
		covers[i], err = w.divide(ctx, piece{k, w.r.Strips[k].Shape})
		return err
	})
	if err != nil {
		return nil, err
	}
	var jobs []job
	for _, c := range slices.Concat(covers...) {
		jobs = append(jobs, jobOf(c))
	}
	return w.together(ctx, jobs)
}

func jobOf(c cover) job {
	j := job{c, plane.EmptyBox()}
	for _, p := range c.pieces {
		j.box = j.box.Extend(p.shape[0]...)
	}
	return j
}

// together joins jobs of different strips within a width of each other that cost less as one.
func (w *works) together(ctx context.Context, jobs []job) ([]job, error) {
	for i := 0; i < len(jobs); i++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for k := i + 1; k < len(jobs); k++ {
			if jobs[i].pieces[0].strip == jobs[k].pieces[0].strip || !jobs[i].near(jobs[k], w.width) {
				continue
			}
			c, err := w.best(ctx, slices.Concat(jobs[i].pieces, jobs[k].pieces), jobs[i].cost+jobs[k].cost)
			if err != nil {
				return nil, err
			}
			if len(c.runs) > 0 {
				jobs[i] = jobOf(c)
				jobs = slices.Delete(jobs, k, k+1)
				k = i // it may now reach others
			}
		}
	}
	return jobs, nil
}

func near(a, b plane.Box, d float64) bool {
	return a.Min.X <= b.Max.X+d && b.Min.X <= a.Max.X+d && a.Min.Y <= b.Max.Y+d && b.Min.Y <= a.Max.Y+d
}

// near says whether pieces of two jobs lie within d of each other, m.
func (j job) near(o job, d float64) bool {
	if !near(j.box, o.box, d) {
		return false
	}
	for _, p := range j.pieces {
		for _, q := range o.pieces {
			if nearRings(p.shape, q.shape, d) || nearRings(q.shape, p.shape, d) {
				return true
			}
		}
	}
	return false
}

// nearRings says whether a corner of a lies within d of an edge of b.
func nearRings(a, b plane.Polygon, d float64) bool {
	box := b[0].Bounds()
	for _, r := range a {
		for _, p := range r {
			if !near(plane.Box{Min: p, Max: p}, box, d) {
				continue
			}
			for _, s := range b {
				last := s[len(s)-1]
				for _, q := range s {
					if p.X <= max(last.X, q.X)+d && p.X >= min(last.X, q.X)-d && (plane.Segment{A: last, B: q}).Dist(p) <= d {
						return true
					}
					last = q
				}
			}
		}
	}
	return false
}

// inward moves a cover to the side, as far as it still covers its pieces, where that costs less because
// less of the tool is outside the boundary or over an obstacle: a centimetre over its length at least.
func (w *works) inward(l lanes, c cover) cover {
	best := c
	for _, share := range []float64{-0.5, 0.5, -1, 1} {
		got, ok := w.coverAlong(l, share*c.slack, best.cost)
		if ok && got.cost < best.cost-tie*w.perPass() && got.beyond < best.beyond-intoField*c.swath/w.width {
			best = got
		}
	}
	return best
}

// beyond is about how much of a swath lies outside the boundary or over obstacles, m², by the trapezoid rule over
// five lines across its width, and how much of its middle line, m. The outer lines lie a centimetre inside the swath, which may end
// on the boundary.
func (w *works) beyond(line []plane.XY) (area, middle float64) {
	ring := ringOf(line, w.width)
	if near := w.ground.edges.Meet(ring.Bounds()); !near && w.ground.edges.Holds(line[0]) {
		return 0, 0
	}
	n := len(ring) / 2
	near := make([][]int32, n-1) // step by step, over all of the width
	w.ground.rimNear(near, ring, 0, n-1)
	off := make([]plane.XY, n)
	for _, part := range [...]struct{ at, weight float64 }{{-0.5, 1}, {-0.25, 2}, {0, 2}, {0.25, 2}, {0.5, 1}} {
		for i := range off {
			right, left := ring[i], ring[2*n-1-i]
			off[i] = right.Lerp(left, 0.5+part.at*(1-2*intoField/w.width))
		}
		out := w.ground.beyond(off, near)
		if area += w.width * out * part.weight / 8; part.at == 0 {
			middle = out
		}
	}
	return area, middle
}
