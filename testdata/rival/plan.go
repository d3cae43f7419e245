package rival

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Prices are what things cost, the same for both planners.
type Prices struct {
	Speed  float64 // km/h while working
	Missed float64 // h per hectare that is missed
	Unfit  float64 // s, for a turn that fits nowhere
}

// miss is what missed ground costs, s.
func (p Prices) miss(m2 float64) float64 { return m2 / 1e4 * p.Missed * 3600 }

// Plan is how a field is worked, and what that comes to.
type Plan struct {
	Rounds    int
	Direction float64 // degrees clockwise from the plane's north, 0 to below 180
	Pattern   string  // of the largest block
	Rows      int
	Hours     float64 // h, driven
	Missed    float64 // m²
	Unfit     int     // turns that fit nowhere
	Value     float64 // h: Hours, what is missed, and what fits nowhere
}

const (
	degree   = math.Pi / 180
	apart    = 2 * degree // directions are tried so far apart
	mostLong = 8          // and along so many of the longest sides
	refined  = 6          // beside so many of the best a degree and half a degree are tried
	checked  = 8          // and so many have their turns driven
	deeper   = 2          // rounds are tried up to so many more than the set needs
)

// planner is one field and one set.
type planner struct {
	set
	prices Prices
	rings  []plane.Ring
	edges  []edge
	laps   []lap
	inner  [][]plane.Ring // inner[k] is inside k rounds
	rooms  []room
}

// Needed is how many rounds a set needs for the least U into some row: from the bar at the row's end to the far side of the
// set half way round.
func Needed(im rig.Implement) int {
	s := setOf(im, Prices{Speed: 1})
	return max(1, int(math.Ceil((s.lead+s.r+s.half+im.Turning.Margin)/s.w-1e-9)))
}

func plannerOf(field []plane.Polygon, im rig.Implement, p Prices) *planner {
	l := &planner{set: setOf(im, p), prices: p, rings: ringsOf(field)}
	l.edges = edgesOf(l.rings)
	most := Needed(im) + deeper
	l.laps = l.set.laps(l.rings, most, p)
	l.rooms = roomsOf(field, l.w/2-loose)
	for k := range most + 1 {
		if k == 0 {
			l.inner = append(l.inner, l.rings)
			continue
		}
		l.inner = append(l.inner, inset(l.rings, float64(k)*l.w))
	}
	return l
}

// choice is a number of rounds and a direction, with what it takes at the least and, once looked at, what it is estimated at.
type choice struct {
	rounds int
	h      float64 // rad
	rows   float64 // at the least
	plan   Plan
}

// choices are all, those first that may take least.
func (l *planner) choices(directions []float64) (out []choice) {
	for k := 1; k < len(l.inner); k++ {
		for _, h := range directions {
			left := plane.XY{X: -math.Sin(h), Y: math.Cos(h)}
			low, high := math.Inf(1), math.Inf(-1)
			for _, r := range l.inner[k] {
				for _, q := range r {
					low, high = min(low, q.Dot(left)), max(high, q.Dot(left))
				}
			}
			c := choice{rounds: k, h: h}
			if high > low {
				c.rows = math.Ceil((high-low)/l.w - 1e-9)
			}
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b choice) int { return cmp.Compare(l.least(a), l.least(b)) })
	return out
}

// turning is the least time of turns between some rows, s. A turn turns by π on a least radius, which takes πr, and gets 2r aside meanwhile; what a
// row is farther off is driven too.
func (l *planner) turning(rows float64) float64 {
	return max(0, rows-1) * (math.Pi*l.r + max(0, l.w-2*l.r)) / max(l.turn, l.reverse)
}

// least is what a choice takes at the least, h.
func (l *planner) least(c choice) float64 {
	return l.around(c.rounds).Value + (areaOf(l.inner[c.rounds])/l.w/l.work+l.turning(c.rows))/3600
}

// best is the best plan that is found.
func (l *planner) best() (out Plan) {
	const doubt = 1.01 // an estimate may be above what turns come to that are driven
	best := math.Inf(1)
	var all []choice
	look := func(some []choice) {
		for _, c := range some {
			if l.least(c) > doubt*best {
				break
			}
			c.plan = l.plan(c.rounds, c.h, false)
			best = min(best, c.plan.Value)
			all = append(all, c)
		}
		slices.SortStableFunc(all, func(a, b choice) int { return cmp.Compare(a.plan.Value, b.plan.Value) })
	}
	look(l.choices(l.directions()))
	var beside []float64
	for _, c := range all[:min(refined, len(all))] {
		for _, by := range [...]float64{-1, -0.5, 0.5, 1} {
			beside = append(beside, c.h+by*degree)
		}
	}
	look(l.choices(beside))
	for i, c := range all[:min(checked, len(all))] {
		if driven := l.plan(c.rounds, c.h, true); i == 0 || driven.Value < out.Value {
			out = driven
		}
	}
	return out
}

// bound is what no plan of straight rows in one direction, in up to the deepest rounds tried, comes below, h: all ground at full
// width, and a turn between the rows that the breadth of the ground inside the rounds asks for. Ground that is missed instead costs more than
// working it.
func (l *planner) bound() float64 {
	least := math.Inf(1)
	for _, c := range l.choices(l.directions()) {
		least = min(least, l.turning(c.rows))
	}
	return (areaOf(l.rings)/l.w/l.work + least) / 3600
}

func (l *planner) directions() (out []float64) {
	for i := 0; float64(i)*apart < math.Pi-1e-9; i++ {
		out = append(out, float64(i)*apart)
	}
	long := slices.Clone(l.edges)
	slices.SortStableFunc(long, func(a, b edge) int { return cmp.Compare(b.a.Dist(b.b), a.a.Dist(a.b)) })
	for _, e := range long[:min(mostLong, len(long))] {
		d := e.b.Sub(e.a)
		out = append(out, math.Atan2(d.Y, d.X))
	}
	return out
}

// around are the rounds alone.
func (l *planner) around(k int) (p Plan) {
	p.Rounds = k
	for _, lap := range l.laps[:k] {
		p.Hours, p.Missed = p.Hours+lap.time/3600, p.Missed+lap.missed
	}
	return p.valued(l.prices)
}

func (p Plan) valued(by Prices) Plan {
	p.Value = p.Hours + by.miss(p.Missed)/3600 + float64(p.Unfit)*by.Unfit/3600
	return p
}

// work is a block with its best pattern from either side.
type work struct {
	rows  []row
	order [2][]int // by the end at which the first row begins: 0 at u0, 1 at u1
	name  [2]string
	cost  [2]float64 // s, turns and the price of what they leave
}

// plan works a field with k rounds and rows along h. Where turns are driven their prices are those of the ways as they fit; otherwise
// of the depth that such a turn takes.
func (l *planner) plan(k int, h float64, driven bool) Plan {
	p := l.around(k)
	p.Direction = math.Mod(450-h/degree+360, 180)
	sin, cos := math.Sincos(h)
	f := frame{plane.XY{X: cos, Y: sin}}
	var turnedRings []plane.Ring
	for _, r := range l.inner[k] {
		one := make(plane.Ring, len(r))
		for i, q := range r {
			one[i] = f.to(q)
		}
		turnedRings = append(turnedRings, one)
	}
	rows, _ := rowsOf(turnedRings, l.w)
	var blocks []work
	largest := 0
	for _, b := range blocksOf(rows) {
		blocks = append(blocks, l.ordered(b, float64(k)*l.w))
		p.Rows += len(b)
		for _, r := range b {
			p.Hours += r.long() / l.work / 3600
		}
		if len(b) > largest {
			largest, p.Pattern = len(b), blocks[len(blocks)-1].name[0]
		}
	}
	end, seconds := l.tour(f, blocks, driven, &p)
	way, unfit := l.toRounds(end, k, driven)
	p.Hours, p.Unfit = p.Hours+(seconds+way)/3600, p.Unfit+unfit
	return p.valued(l.prices)
}

// at is the axle's pose at an end of a row: leaving it, or entering it.
func (l *planner) at(r row, end int, leaving bool) pose {
	u, towards := r.u0, math.Pi
	if end == 1 {
		u, towards = r.u1, 0
	}
	if !leaving {
		towards += math.Pi
	}
	return pose{plane.XY{X: u + l.lead*math.Cos(towards), Y: r.v}, towards}
}

// ordered finds the best pattern of a block by what its turns take on a headland of some depth.
func (l *planner) ordered(rows []row, depth float64) work {
	w := work{rows: rows, cost: [2]float64{math.Inf(1), math.Inf(1)}}
	furthest := min(6, 1+int(math.Ceil(2*l.r/l.w)))
	type hop struct{ i, j, end int }
	known := map[hop]float64{}
	cost := func(i, j, end int) float64 {
		c, ok := known[hop{i, j, end}]
		if !ok {
			c = l.estimated(l.at(rows[i], end, true), l.at(rows[j], end, false), depth)
			known[hop{i, j, end}] = c
		}
		return c
	}
	all := patterns(len(rows), furthest)
	names := make([]string, 0, len(all))
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		for side := range 2 {
			sum := 0.0
			for i := 1; i < len(all[name]); i++ {
				sum += cost(all[name][i-1], all[name][i], (side+i)%2)
			}
			if sum < w.cost[side] {
				w.cost[side], w.order[side], w.name[side] = sum, all[name], name
			}
		}
	}
	return w
}

// estimated is what a turn takes, with what it leaves where the headland is less deep than it needs. Rows that end on a slant
// by φ have their turns out over the row that ends farther on: a U takes r·sin φ more across the headland.
func (l *planner) estimated(from, to pose, depth float64) float64 {
	d := to.at.Sub(from.at)
	across := math.Abs(d.Y)
	slant := math.Atan2(math.Abs(d.X*math.Cos(from.h)+2*l.lead), across) // row ends, not axles
	needs := func(ahead float64) float64 {
		return l.lead*math.Cos(slant) + ahead + l.r*math.Sin(slant) + l.half + l.im.Turning.Margin
	}
	short := func(need float64) float64 {
		return min(l.prices.Unfit, l.prices.miss(2*l.w*max(0, need-depth)/max(0.2, math.Cos(slant))))
	}
	bulb := l.r
	if across < 2*l.r {
		bulb += math.Sqrt(4*l.r*l.r - (l.r+across/2)*(l.r+across/2))
	}
	c := l.time(dubins(from, to, l.r)) + short(needs(bulb))
	if back := l.quarters(from, to); back != nil {
		c = min(c, l.time(back)+short(needs(l.r)))
	}
	return c
}

// fitted is the cheapest turn with both row ends lifted so much earlier that it stays in the field: its time and what it leaves. Where one that
// does not fit, at its price, costs less, that is it.
func (l *planner) fitted(f frame, from, to pose) (seconds, missed float64, ok bool) {
	const pace, most = 0.5, 30.0
	place := func(q pose, back float64) pose { // back along the row
		q.at = q.at.Add(plane.XY{X: math.Cos(q.h), Y: math.Sin(q.h)}.Scale(back))
		return pose{f.from(q.at.X, q.at.Y), q.h + math.Atan2(f.ahead.Y, f.ahead.X)}
	}
	box := plane.EmptyBox().Extend(place(from, 0).at, place(to, 0).at).Grown(5*l.r + l.lead + l.half + most)
	var edges []edge
	for _, e := range l.edges {
		if plane.EmptyBox().Extend(e.a, e.b).Meets(box) {
			edges = append(edges, e)
		}
	}
	clear := func(p plane.XY) bool { return !near(edges, p, l.im.Turning.Margin) }
	_, seconds = l.between(from, to)
	least := seconds + l.prices.Unfit
	for x := 0.0; x <= most && l.prices.miss(2*l.w*x) < least; x += pace {
		a, b := place(from, -x), place(to, x)
		for _, way := range [][]arc{dubins(a, b, l.r), l.quarters(a, b)} {
			if t, m := l.time(way), 2*l.w*x; way != nil && t+l.prices.miss(m) < least && l.stays(a, way, clear) {
				least, seconds, missed, ok = t+l.prices.miss(m), t, m, true
			}
		}
	}
	return seconds, missed, ok
}

// tour drives the blocks, always the nearest next, and gives where it ends and the seconds of turns and runs. What turns leave
// goes to p.
func (l *planner) tour(f frame, blocks []work, driven bool, p *Plan) (end *pose, seconds float64) {
	done := make([]bool, len(blocks))
	for range blocks {
		pick, side, back, least := -1, 0, false, math.Inf(1)
		var to pose
		for i, b := range blocks {
			if done[i] {
				continue
			}
			for s := range 2 {
				for _, rev := range [2]bool{false, true} {
					first, from := b.begin(s, rev)
					q, away := placed(f, l.at(b.rows[first], from, false)), 0.0
					if end != nil {
						away = end.at.Dist(q.at)
					}
					if c := away/l.turn + b.cost[s] - min(b.cost[0], b.cost[1]); c < least {
						pick, side, back, least, to = i, s, rev, c, q
					}
				}
			}
		}
		done[pick] = true
		b := &blocks[pick]
		if end != nil {
			seconds += l.run(*end, to)
			if driven && separate(l.rooms, l.bar(*end), l.bar(to)) {
				p.Unfit++
			}
		}
		order := slices.Clone(b.order[side])
		_, at := b.begin(side, back)
		if back {
			slices.Reverse(order)
		}
		for i := range order {
			at = 1 - at // the other end of the row
			if i+1 == len(order) {
				break
			}
			from, to := l.at(b.rows[order[i]], at, true), l.at(b.rows[order[i+1]], at, false)
			if !driven {
				seconds += l.estimated(from, to, float64(p.Rounds)*l.w)
				continue
			}
			t, missed, ok := l.fitted(f, from, to)
			if !ok {
				p.Unfit++
			}
			seconds, p.Missed = seconds+t, p.Missed+missed
		}
		last := placed(f, l.at(b.rows[order[len(order)-1]], at, true))
		end = &last
	}
	return end, seconds
}

// begin is the first row and the end at which it is entered, of the pattern that starts at a side or, backwards, of its end.
func (w work) begin(side int, back bool) (first, end int) {
	order := w.order[side]
	if !back {
		return order[0], side
	}
	return order[len(order)-1], (side + len(order)) % 2
}

func placed(f frame, q pose) pose {
	return pose{f.from(q.at.X, q.at.Y), q.h + math.Atan2(f.ahead.Y, f.ahead.X)}
}

// run is the time of a way with the tool lifted, s: the shortest, or along the rim where a boundary lies between.
func (l *planner) run(from, to pose) float64 {
	direct := l.time(dubins(from, to, l.r))
	way := edge{from.at, to.at}
	for _, e := range l.edges {
		if _, _, ok := way.crosses(e); ok {
			return max(direct, (l.alongRim(from.at, to.at)+math.Pi*l.r)/l.turn)
		}
	}
	return direct
}

// alongRim is the way from a place to the rim, along it the shorter way round, and to another, m.
func (l *planner) alongRim(p, q plane.XY) float64 {
	type spot struct {
		ring      int
		way, away float64
	}
	nearest := func(p plane.XY) (s spot, round float64) {
		s.away = math.Inf(1)
		for k, r := range l.rings {
			way := 0.0
			for i, a := range r {
				e := edge{a, r[(i+1)%len(r)]}
				d := e.b.Sub(e.a)
				t := min(1, max(0, p.Sub(e.a).Dot(d)/d.Dot(d)))
				if off := p.Dist(e.a.Lerp(e.b, t)); off < s.away {
					s = spot{k, way + t*d.Len(), off}
				}
				way += d.Len()
			}
			if s.ring == k {
				round = way
			}
		}
		return s, round
	}
	a, round := nearest(p)
	b, _ := nearest(q)
	if a.ring != b.ring {
		return p.Dist(q)
	}
	along := math.Abs(a.way - b.way)
	return a.away + min(along, round-along) + b.away
}

// bar is where the bar's middle stands with the axle at a pose.
func (l *planner) bar(q pose) plane.XY {
	return q.at.Sub(plane.XY{X: math.Cos(q.h), Y: math.Sin(q.h)}.Scale(l.lead))
}

// toRounds is the time of the ways to the rounds and from one to the next, s. Beside each other the set changes over by two arcs:
// aside by w on a least radius r it gets √(w(4r − w)) ahead (derived: each arc gets w/2 aside). Where it is driven, the way from the last row to a
// round beside it is a way that stays in the field, or costs what does not fit; so does one through a neck.
func (l *planner) toRounds(end *pose, k int, driven bool) (seconds float64, unfit int) {
	var at *plane.XY
	if end != nil {
		at = &end.at
	}
	aside := math.Sqrt(max(l.w*l.w, l.w*(4*l.r-l.w)))
	for i := k - 1; i >= 0; i-- {
		done := make([]bool, len(l.laps[i].rings))
		for range done {
			pick, away, on := -1, math.Inf(1), plane.XY{}
			for n, ring := range l.laps[i].rings {
				if done[n] {
					continue
				}
				if at == nil {
					pick, away, on = n, 0, ring[0]
					break
				}
				for _, e := range edgesOf([]plane.Ring{ring}) {
					d := e.b.Sub(e.a)
					q := e.a.Lerp(e.b, min(1, max(0, at.Sub(e.a).Dot(d)/d.Dot(d))))
					if off := at.Dist(q); off < away {
						pick, away, on = n, off, q
					}
				}
			}
			done[pick] = true
			if at != nil {
				way := max(away, aside)
				if away > 2*l.w {
					way += math.Pi * l.r
				}
				seconds += way / l.turn
			}
			from := at
			if end != nil {
				bar := l.bar(*end)
				from = &bar
			}
			switch {
			case !driven || from == nil:
			case separate(l.rooms, *from, on):
				unfit++
			case end != nil && away <= 2*l.w && !l.enters(*end, l.laps[i].rings[pick]):
				unfit++
			}
			end, at = nil, &on
		}
	}
	return seconds, unfit
}

// enters says whether some way from a pose to a round, its shortest or a quarter, back, a quarter, stays in the field. On the outermost round a set has no
// margin, and counts as no wider than it works.
func (l *planner) enters(from pose, ring plane.Ring) bool {
	slim := l.set
	slim.half = l.w/2 - loose
	slim.im.Body.Width = 0
	inside := func(p plane.XY) bool { return holds(l.edges, p) }
	for _, e := range edgesOf([]plane.Ring{ring}) {
		for u := math.Mod(e.a.Dist(e.b)/2, l.w); u < e.a.Dist(e.b); u += l.w {
			for _, way := range [2]float64{1, -1} {
				h := math.Atan2(way*(e.b.Y-e.a.Y), way*(e.b.X-e.a.X))
				to := pose{e.a.Lerp(e.b, u/e.a.Dist(e.b)).Add(plane.XY{X: math.Cos(h), Y: math.Sin(h)}.Scale(l.lead)), h}
				if to.at.Dist(from.at) > 8*l.r {
					continue
				}
				for _, way := range [][]arc{dubins(from, to, l.r), l.quarters(from, to)} {
					if way != nil && slim.stays(from, way, inside) {
						return true
					}
				}
			}
		}
	}
	return false
}
