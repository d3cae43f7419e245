package rework

import (
	"math"
	"slices"
	"sort"

	"balk/geo/plane"
)

// guide is a line beside which passes are laid: a straight, the line of a pass or a part
// of the boundary. Places have coordinates along it (s) and to its left (t), in metres;
// its ends go on straight.
type guide struct {
	line  []plane.XY
	run   []float64 // m along it, by point
	along bool      // it is the direction of a pass of the operation
}

func guideOf(line []plane.XY, along bool) guide {
	g := guide{line: line, run: make([]float64, len(line)), along: along}
	for i := 1; i < len(line); i++ {
		g.run[i] = g.run[i-1] + line[i].Dist(line[i-1])
	}
	return g
}

func straightGuide(at, direction plane.XY, along bool) guide {
	return guideOf([]plane.XY{at, at.Add(direction.Unit())}, along)
}

func (g guide) straight() bool { return len(g.line) == 2 }

// frame is where p lies along and to the left of g.
func (g guide) frame(p plane.XY) (s, t float64) {
	best, last := math.Inf(1), len(g.line)-2
	for i := 0; i <= last; i++ {
		a, l := g.line[i], g.run[i+1]-g.run[i]
		u, d := g.line[i+1].Sub(a).Scale(1/l), p.Sub(a)
		along := d.Dot(u)
		if along < 0 && i > 0 {
			along = 0
		}
		if along > l && i < last {
			along = l
		}
		off := d.Sub(u.Scale(along))
		if q := off.Dot(off); q < best {
			best, s, t = q, g.run[i]+along, math.Copysign(math.Sqrt(q), u.Cross(d))
		}
	}
	return s, t
}

// beside is the line t metres to the left of g from s = from to s = to.
//
// At a kink both sides are moved by t, so their meeting point lies t/cos²(half the turn)
// along the sum of the normals divided by two.
func (g guide) beside(from, to, t float64) []plane.XY {
	last := len(g.line) - 2
	seg := func(s float64) int {
		return min(max(sort.SearchFloat64s(g.run, s)-1, 0), last)
	}
	dir := func(i int) plane.XY { return g.line[i+1].Sub(g.line[i]).Scale(1 / (g.run[i+1] - g.run[i])) }
	place := func(s float64) plane.XY {
		i := seg(s)
		u := dir(i)
		return g.line[i].Add(u.Scale(s - g.run[i])).Add(u.Left().Scale(t))
	}
	line := []plane.XY{place(from)}
	for i := 1; i <= last; i++ {
		if g.run[i] <= from || g.run[i] >= to {
			continue
		}
		n := dir(i - 1).Left().Add(dir(i).Left())
		if q := n.Dot(n); q > 0 {
			line = append(line, g.line[i].Add(n.Scale(2*t/q)))
		}
	}
	return append(line, place(to))
}

// thinnedRing is r.Thinned, opened where r is farthest from the mean of its points, so that it does not matter where r begins.
func thinnedRing(r plane.Ring, tolerance float64) plane.Ring {
	var mean plane.XY
	for _, p := range r {
		mean = mean.Add(p.Scale(1 / float64(len(r))))
	}
	a := r.Farthest(mean)
	return slices.Concat(r[a:], r[:a]).Thinned(tolerance)
}

// spaced is line with points on it at most step apart.
func spaced(line []plane.XY, step float64) []plane.XY {
	out := line[:1:1]
	for i := 1; i < len(line); i++ {
		n := max(1, int(math.Ceil(line[i].Dist(line[i-1])/step)))
		for k := 1; k <= n; k++ {
			out = append(out, line[i-1].Lerp(line[i], float64(k)/float64(n)))
		}
	}
	return out
}

// drivable says whether a set that turns on radius r can follow line: over every
// way of r metres it turns, to either side, by no more than a radian, and a tenth for the kinks.
func drivable(line []plane.XY, r float64) bool {
	const most = 1.1 // rad
	type bend struct{ s, turn float64 }
	var bends []bend
	s, sum, from := 0.0, 0.0, 0
	for i := 1; i+1 < len(line); i++ {
		in, out := line[i].Sub(line[i-1]), line[i+1].Sub(line[i])
		s += in.Len()
		turn := math.Abs(in.AngleTo(out))
		bends = append(bends, bend{s, turn})
		for sum += turn; bends[from].s < s-r; from++ {
			sum -= bends[from].turn
		}
		if sum > most {
			return false
		}
	}
	return true
}
