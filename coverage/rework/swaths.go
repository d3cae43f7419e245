package rework

import (
	"context"
	"math"
	"slices"
	"sync"

	"balk/coverage/ground"
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
	// hair: ground that reaches less than hair into the slice of a pass is left to the neighbouring pass, which overlaps that slice.
	// Only lines of missed ground thinner than two hairs may stay between two passes. The thinnest strip that is listed is twice as
	// wide.
	hair = 5e-3 // m
	// bentLap: along a bent line neighbouring passes overlap by this share of the width. Each of their lines is thinned, so two of
	// them may part by as much.
	bentLap = 0.02
	// leftBent: a bent pass serves if it leaves no more than this share of its strip unworked.
	leftBent = 1e-3
	// lean: a direction other than that of the neighbouring passes must save this share of the ground worked for nothing.
	lean = 0.05
)

// piece is a part of a strip, or all of it.
type piece struct {
	strip int // index
	shape plane.Polygon
}

// run is a pass whose place in the order and whose direction are still open.
type run struct {
	strips []int // indices, ascending
	line   []plane.XY
}

// cover is a set of passes that works some pieces, with what it costs.
type cover struct {
	pieces []piece
	runs   []run
	swath  float64 // m²
	cost   float64 // m² worked for nothing, beyond once more, perPass and perRow
	beyond float64 // m² outside the boundary or over obstacles, about
	slack  float64 // m by which all runs may be moved to either side
	guide  guide
	broken bool // a run leaves the field by more than a width
}

// perPass is the price of lowering and lifting once more, in m² worked for nothing: a square of the working width (common
// practice, no source).
func (w *works) perPass() float64 { return w.width * w.width }

// perRow is the price of one more pass beside the others, on top of perPass: the ground the set could work on the half circle on
// which it turns there.
func (w *works) perRow() float64 { return w.width * math.Pi * w.im.TurnRadius() }

// add puts a run into a cover.
func (w *works) add(c *cover, r run) {
	out, middle := w.beyond(r.line)
	c.runs = append(c.runs, r)
	c.swath += w.width * plane.Length(r.line)
	c.beyond += out
	c.broken = c.broken || middle > w.width
}

// best is the cheapest cover of some pieces by passes along one guide. It has no runs if none costs less than most.
//
// A guide that cannot win is given up before its passes are laid. How early that shows depends on the other workers, but the
// result does not: such a guide would not have won.
func (w *works) best(ctx context.Context, pieces []piece, most float64) (cover, error) {
	most -= tie * w.perPass()
	var lock sync.Mutex
	straight := math.Inf(1) // least cost so far along a straight, which always serves, as cheapest counts it
	guides := w.guides(pieces)
	covers := make([]cover, len(guides))
	err := workers.Each(ctx, w.r.Work.Workers, len(guides), func(k int) error {
		g := guides[k]
		l := w.rowsOf(pieces, g)
		lock.Lock()
		known := straight
		lock.Unlock()
		if w.atLeast(l) >= min(most, known/g.counts()) {
			return nil
		}
		c, ok := w.coverAlong(l, 0, math.Inf(1))
		if ok && c.beyond > 0 && c.slack > touch {
			c = w.inward(l, c)
		}
		if ok && c.cost < most {
			covers[k] = c
			if g.straight() {
				lock.Lock()
				straight = min(straight, c.cost*g.counts())
				lock.Unlock()
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

// serves says whether a cover leaves no ground worth naming. A cover along a straight leaves none.
func (w *works) serves(ctx context.Context, c cover) (bool, error) {
	if c.guide.straight() {
		return true, nil
	}
	left, err := w.leftOf(ctx, c)
	return left <= leftBent*areaOf(c.pieces), err
}

// cheapest is the index of the cover that costs least. Covers in the direction of neighbouring passes are preferred, see lean.
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

// jobsOf lays the passes for the wanted strips. Each strip is divided as long as that saves ground worked for nothing. Then
// neighbouring strips are put together where one cover serves both better.
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

// together joins jobs of different strips that lie within a working width of each other and cost less as one job.
func (w *works) together(ctx context.Context, jobs []job) ([]job, error) {
	var places plane.Tree[int]
	for k, j := range jobs {
		places.Insert(j.box, k)
	}
	gone := make([]bool, len(jobs)) // put into another
	for i := range jobs {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for again := !gone[i]; again; { // it may now reach others
			again = false
			for _, k := range slices.Sorted(places.In(jobs[i].box.Grown(w.width))) {
				if k <= i || gone[k] || jobs[i].pieces[0].strip == jobs[k].pieces[0].strip || !jobs[i].near(jobs[k], w.width) {
					continue
				}
				c, err := w.best(ctx, slices.Concat(jobs[i].pieces, jobs[k].pieces), jobs[i].cost+jobs[k].cost)
				if err != nil {
					return nil, err
				}
				if again = len(c.runs) > 0; again {
					jobs[i], gone[k] = jobOf(c), true
					break
				}
			}
		}
	}
	var kept []job
	for k, j := range jobs {
		if !gone[k] {
			kept = append(kept, j)
		}
	}
	return kept, nil
}

// near says whether pieces of two jobs lie within d of each other, m.
func (j job) near(o job, d float64) bool {
	if !j.box.Grown(d).Meets(o.box) {
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
			if !(plane.Box{Min: p, Max: p}).Grown(d).Meets(box) {
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

// inward moves a cover to the side where that saves work outside the boundary or over an obstacle, as far as the cover still
// works its pieces. Moving must save more than a centimetre of tool over the length of the cover.
func (w *works) inward(l rows, c cover) cover {
	best := c
	for _, share := range []float64{-0.5, 0.5, -1, 1} {
		got, ok := w.coverAlong(l, share*c.slack, best.cost)
		if ok && got.cost < best.cost-tie*w.perPass() && got.beyond < best.beyond-intoField*c.swath/w.width {
			best = got
		}
	}
	return best
}

// beyond is about how much of a swath lies outside the boundary or over obstacles, m², and how much of its middle line, m. The
// area comes from five lines across the width by the trapezoid rule. The outer lines lie a centimetre inside the swath, because a
// swath may end on the boundary.
func (w *works) beyond(line []plane.XY) (area, middle float64) {
	ring := ground.Ring(line, w.width, 0)
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
