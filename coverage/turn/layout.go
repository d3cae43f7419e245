package turn

import (
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// frame turns the plane so that rows run along +y ("along") and follow each other
// along +x ("across", to the right of the heading).
type frame struct{ sin, cos float64 }

func frameOf(heading geo.Heading) frame {
	sin, cos := math.Sincos(float64(heading))
	return frame{sin, cos}
}

func (f frame) in(p plane.XY) plane.XY {
	return plane.XY{X: f.sin*p.X - f.cos*p.Y, Y: f.cos*p.X + f.sin*p.Y}
}

func (f frame) out(q plane.XY) plane.XY {
	return plane.XY{X: f.sin*q.X + f.cos*q.Y, Y: f.sin*q.Y - f.cos*q.X}
}

// run is a stretch of a row that is worked without lifting, m along.
type run struct{ from, to float64 }

// lane is one row over the field's core: its middle, m across, and its runs.
type lane struct {
	middle float64
	runs   []run
}

// leastRun: shorter runs are a touch of the row's edge by a corner, m.
const leastRun = 1e-3

// lanes are the rows over the core, spacing metres apart, from left to right. A run goes
// from the first to the last of the core under the row's whole width, so that a slanted end
// is worked to its last corner. The last row reaches beyond the core, over the headland beside it.
func lanes(core []plane.Polygon, f frame, spacing float64) []lane {
	var edges []plane.Segment
	box := plane.EmptyBox()
	for _, poly := range core {
		for _, ring := range poly {
			for i, p := range ring {
				e := plane.Segment{A: f.in(p), B: f.in(ring[(i+1)%len(ring)])}
				edges = append(edges, e)
				box = box.Extend(e.A)
			}
		}
	}
	if len(edges) == 0 {
		return nil
	}
	slices.SortStableFunc(edges, func(e, o plane.Segment) int {
		if d := min(e.A.X, e.B.X) - min(o.A.X, o.B.X); d != 0 {
			return int(math.Copysign(1, d))
		}
		return 0
	})
	n := max(1, int(math.Ceil((box.Max.X-box.Min.X)/spacing-1e-9)))
	var all []lane
	var open []plane.Segment // edges that reach into the row or beyond it
	next := 0
	for i := range n {
		left := box.Min.X + float64(i)*spacing
		for ; next < len(edges) && min(edges[next].A.X, edges[next].B.X) <= left+spacing; next++ {
			open = append(open, edges[next])
		}
		open = slices.DeleteFunc(open, func(e plane.Segment) bool { return max(e.A.X, e.B.X) < left })
		all = append(all, lane{left + spacing/2, runs(open, left, left+spacing)})
	}
	return all
}

// runs are the stretches of the core between two lines along. Between corners the core
// is made of trapezoids; those that share a stretch belong to one run.
func runs(edges []plane.Segment, left, right float64) []run {
	cuts := []float64{left, right}
	for _, e := range edges {
		for _, p := range [2]plane.XY{e.A, e.B} {
			if p.X > left && p.X < right {
				cuts = append(cuts, p.X)
			}
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	var parts []run
	for i := range len(cuts) - 1 {
		parts = appendTrapezoids(parts, edges, cuts[i], cuts[i+1])
	}
	slices.SortFunc(parts, func(a, b run) int {
		if d := a.from - b.from; d != 0 {
			return int(math.Copysign(1, d))
		}
		return 0
	})
	var joined []run
	for _, p := range parts {
		if n := len(joined); n > 0 && p.from <= joined[n-1].to {
			joined[n-1].to = max(joined[n-1].to, p.to)
		} else {
			joined = append(joined, p)
		}
	}
	return slices.DeleteFunc(joined, func(r run) bool { return r.to-r.from < leastRun })
}

// appendTrapezoids adds those between two lines with no corner between them.
func appendTrapezoids(parts []run, edges []plane.Segment, left, right float64) []run {
	type crossing struct{ middle, least, most float64 }
	var over []crossing
	for _, e := range edges {
		a, b := e.A, e.B
		if a.X > b.X {
			a, b = b, a
		}
		if !(a.X <= left && b.X >= right && a.X < b.X) {
			continue
		}
		at := func(x float64) float64 { return a.Y + (b.Y-a.Y)*((x-a.X)/(b.X-a.X)) }
		y0, y1 := at(left), at(right)
		over = append(over, crossing{(y0 + y1) / 2, min(y0, y1), max(y0, y1)})
	}
	slices.SortFunc(over, func(a, b crossing) int {
		if d := a.middle - b.middle; d != 0 {
			return int(math.Copysign(1, d))
		}
		return 0
	})
	for i := 0; i+1 < len(over); i += 2 {
		parts = append(parts, run{over[i].least, over[i+1].most})
	}
	return parts
}
