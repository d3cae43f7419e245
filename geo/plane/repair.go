package plane

import (
	"errors"
	"math"
	"slices"

	"github.com/tidwall/rtree"
)

// Where edges of a layer's boundary come nearer to each other than `near`, or
// several crossings fall on one place, rounding could make rings touch or
// cross. These edges are snap-rounded (Hobby, Comput. Geom. 13 (1999) 199): every
// end and crossing goes to a grid of repairStep, every edge is led through the
// grid points it passes, opposite edges cancel, and rings are drawn anew. All
// other edges stay as they are; they are far enough away not to notice.

// repairStep is the grid of the repair: 2^-13 m, an eighth of a millimetre.
const repairStep = 1.0 / (1 << 13)

// stretch is a run of boundary edges that needs no repair, ends included.
type stretch []XY

var errRepair = errors.New("internal: the repaired boundary does not close")

// tatter cuts a chain into the edges under repair and the stretches between.
func (l *layer) tatter(chain []step) {
	from, _ := l.ends(chain[0])
	// all stretches of the chain lie in one array, each sharing no point with the next
	line := append(make([]XY, 0, l.count(chain)+1), l.point(from))
	start := 0
	flush := func() {
		if len(line)-start > 1 {
			l.pieces = append(l.pieces, line[start:len(line):len(line)])
			line = append(line, line[len(line)-1])
			start = len(line) - 1
		}
	}
	put := func(p XY, tight bool) {
		last := line[len(line)-1]
		if p == last {
			return
		}
		if !tight {
			line = append(line, p)
			return
		}
		flush()
		l.thin = append(l.thin, [2]XY{last, p})
		line[len(line)-1] = p
	}
	for _, s := range chain {
		from, to := l.ends(s)
		if l.a.node[from] < 0 && l.checker(from) {
			flush()
		}
		one, two, edges := l.course(s >> 1)
		end := l.point(to)
		// edge k of a stretch ends in its vertex k; the last edge of all ends in the event
		if s&1 == 0 {
			e := edges[0][0]
			for k, p := range one {
				put(p, l.a.isTight(e+int32(k)))
			}
			last := edges[0][1] - 1
			if edges[1][1] > 0 {
				e = edges[1][0]
				for k, p := range two {
					put(p, l.a.isTight(e+int32(k)))
				}
				last = edges[1][1] - 1
			}
			put(end, l.a.isTight(last))
			continue
		}
		if edges[1][1] > 0 {
			e := edges[1][0]
			for k := len(two) - 1; k >= 0; k-- {
				put(two[k], l.a.isTight(e+int32(k)+1))
			}
			// from the outline's first vertex back along the closing edges
			e = edges[0][0]
			put(one[len(one)-1], l.a.isTight(edges[1][0]))
			for k := len(one) - 2; k >= 0; k-- {
				put(one[k], l.a.isTight(e+int32(k)+1))
			}
			put(end, l.a.isTight(e))
			continue
		}
		e := edges[0][0]
		for k := len(one) - 1; k >= 0; k-- {
			put(one[k], l.a.isTight(e+int32(k)+1))
		}
		put(end, l.a.isTight(e))
	}
	flush()
}

func (l *layer) tatterLone(o int32, back bool) {
	a := l.a
	line := slices.Clone(a.v[a.start[o]:a.start[o+1]])
	n := len(line) - 1
	tight := make([]bool, n)
	for i := range n {
		tight[i] = a.isTight(a.start[o] + int32(i))
	}
	if back {
		slices.Reverse(line)
		slices.Reverse(tight)
	}
	run := stretch{line[0]}
	for i := range n {
		if !tight[i] {
			run = append(run, line[i+1])
			continue
		}
		if len(run) > 1 {
			l.pieces = append(l.pieces, run)
		}
		l.thin = append(l.thin, [2]XY{line[i], line[i+1]})
		run = stretch{line[i+1]}
	}
	if len(run) > 1 {
		l.pieces = append(l.pieces, run)
	}
}

func toRepairGrid(p XY) XY {
	return XY{math.Round(p.X/repairStep) * repairStep, math.Round(p.Y/repairStep) * repairStep}
}

// arc is a directed piece of repaired boundary from node to node.
type arc struct {
	from, to int32
	line     stretch // nil: straight
}

func (l *layer) repair() error {
	if len(l.pieces) == 0 && len(l.thin) == 0 {
		return nil
	}
	// Ends of edges under repair go to the grid. Stretches that meet elsewhere, in
	// crossings where rings touch, do so in the crossing as it is: nothing is near.
	number := map[XY]int32{}
	var place []XY
	put := func(p, at XY) {
		n, ok := number[at]
		if !ok {
			n = int32(len(place))
			number[at] = n
			place = append(place, at)
		}
		number[p] = n
	}
	for _, t := range l.thin {
		put(t[0], toRepairGrid(t[0]))
		put(t[1], toRepairGrid(t[1]))
	}
	arcs := l.snapRound(number, place)
	for _, p := range l.pieces {
		for _, end := range [2]XY{p[0], p[len(p)-1]} {
			if _, ok := number[end]; !ok {
				put(end, end)
			}
		}
		f, t := number[p[0]], number[p[len(p)-1]]
		if f == t && len(p) == 2 {
			continue
		}
		arcs = append(arcs, arc{f, t, p})
	}
	return l.redraw(arcs, place)
}

// snapRound rounds the thin edges and gives the arcs that remain after opposite
// ones have cancelled.
func (l *layer) snapRound(number map[XY]int32, place []XY) []arc {
	type seg struct{ p, q XY }
	segs := make([]seg, 0, len(l.thin))
	box := func(p, q XY) (lo, hi [2]float64) {
		return [2]float64{min(p.X, q.X), min(p.Y, q.Y)}, [2]float64{max(p.X, q.X), max(p.Y, q.Y)}
	}
	for _, t := range l.thin {
		if number[t[0]] == number[t[1]] {
			continue
		}
		segs = append(segs, seg{t[0], t[1]})
	}
	var points rtree.RTreeG[int32]
	for i, p := range place {
		points.Insert([2]float64{p.X, p.Y}, [2]float64{p.X, p.Y}, int32(i))
	}
	net := map[[2]int32]int{}
	var keys [][2]int32
	type stop struct {
		t float64
		n int32
	}
	var stops []stop
	for _, s := range segs {
		stops = stops[:0]
		way := 1
		if compareXY(s.p, s.q) > 0 { // both directions of one edge take the same way
			s.p, s.q, way = s.q, s.p, -1
		}
		lo, hi := box(s.p, s.q)
		for k := range 2 {
			lo[k] -= repairStep / 2
			hi[k] += repairStep / 2
		}
		d := s.q.Sub(s.p)
		points.Search(lo, hi, func(_, _ [2]float64, n int32) bool {
			w := place[n].Sub(s.p)
			// the edge meets the square of side repairStep round the point
			if math.Abs(d.Cross(w)) <= repairStep/2*(math.Abs(d.X)+math.Abs(d.Y)) {
				stops = append(stops, stop{w.Dot(d), n})
			}
			return true
		})
		slices.SortFunc(stops, func(a, b stop) int {
			switch {
			case a.t < b.t:
				return -1
			case a.t > b.t:
				return 1
			}
			return int(a.n) - int(b.n)
		})
		// the edge's own ends come first and last whatever lies beside them
		first, last := number[s.p], number[s.q]
		at := first
		hop := func(to int32) {
			if to == at {
				return
			}
			key, sign := [2]int32{at, to}, way
			if at > to {
				key, sign = [2]int32{to, at}, -way
			}
			if _, ok := net[key]; !ok {
				keys = append(keys, key)
			}
			net[key] += sign
			at = to
		}
		for _, st := range stops {
			if st.n != first && st.n != last {
				hop(st.n)
			}
		}
		hop(last)
	}
	var arcs []arc
	for _, k := range keys {
		for range net[k] {
			arcs = append(arcs, arc{k[0], k[1], nil})
		}
		for range -net[k] {
			arcs = append(arcs, arc{k[1], k[0], nil})
		}
	}
	return arcs
}

// redraw links the arcs to rings, always taking the first way clockwise from
// the one it came, and cuts them where they pass a node twice.
func (l *layer) redraw(arcs []arc, place []XY) error {
	from := make([]int32, len(place)+1)
	in := make([]int32, len(place))
	for _, c := range arcs {
		from[c.from+1]++
		in[c.to]++
	}
	for i := range place {
		if from[i+1] != in[i] {
			return errRepair
		}
		from[i+1] += from[i]
	}
	next := slices.Clone(from[:len(place)])
	out := make([]int32, len(arcs))
	for i, c := range arcs {
		out[next[c.from]] = int32(i)
		next[c.from]++
	}
	leave := func(i int32) XY { // direction of an arc at its start
		if c := arcs[i]; len(c.line) > 2 {
			return c.line[1].Sub(place[c.from])
		}
		return place[arcs[i].to].Sub(place[arcs[i].from])
	}
	arrive := func(i int32) XY { // back along it at its end
		if c := arcs[i]; len(c.line) > 2 {
			return c.line[len(c.line)-2].Sub(place[c.to])
		}
		return place[arcs[i].from].Sub(place[arcs[i].to])
	}
	used := make([]bool, len(arcs))
	position := make([]int32, len(place))
	for i := range position {
		position[i] = -1
	}
	var stack []int32
	emit := func(ring []int32) {
		n := 0
		for _, i := range ring {
			n += 1 + len(arcs[i].line)
		}
		r := make(Ring, 0, n)
		for _, i := range ring {
			c := arcs[i]
			r = join(r, place[c.from])
			if len(c.line) > 2 {
				r = joinAll(r, c.line[1:len(c.line)-1])
			}
		}
		l.add(r)
	}
	for s := range arcs {
		if used[s] {
			continue
		}
		stack = stack[:0]
		i := int32(s)
		for {
			used[i] = true
			position[arcs[i].from] = int32(len(stack))
			stack = append(stack, i)
			to := arcs[i].to
			if k := position[to]; k >= 0 {
				for _, j := range stack[k:] {
					position[arcs[j].from] = -1
				}
				emit(stack[k:])
				stack = stack[:k]
			}
			best, angle := int32(-1), 0.0
			h := arrive(i)
			for _, j := range out[from[to]:from[to+1]] {
				if used[j] {
					continue
				}
				c := leave(j)
				w := math.Atan2(c.Cross(h), c.Dot(h))
				if w <= 0 {
					w += 2 * math.Pi
				}
				if best < 0 || w < angle {
					best, angle = j, w
				}
			}
			if best < 0 {
				if len(stack) > 0 {
					return errRepair
				}
				break
			}
			if len(stack) == 0 {
				// the loop is closed; another one may start here, later
				break
			}
			i = best
		}
	}
	return nil
}
