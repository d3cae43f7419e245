package plan

import (
	"math"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// rowEnds knows what turns take at row ends that lie on a straight, square to the rows or aslant, inside a headland of some depth. Each
// turn is driven once by the whole set, and asked for many times.
//
//	 boundary ╱      the next row ends s farther out over a distance d:
//	   ╭──╮  ╱       θ = atan(s/d). From the line through the row ends to the
//	───╯  │ ╱        boundary it is the headland's depth, less what a slanting
//	──────╯╱         row goes on until its last corner is worked
type rowEnds struct {
	turner *turner
	pitch  float64
	ends   map[[2]int]*rowEnd // by rows apart and slant
}

// rowEnd is one place of the table: the turns that serve, the fastest first, and how far beyond the line through the row ends those
// driven so far have reached, margin included, m.
type rowEnd struct {
	turns []tried
	reach []float64
}

const (
	// slantStep: slants are told apart so finely, rad. Between two the turn of the nearer one stands for it.
	slantStep = 7.5 * math.Pi / 180
	// mostSlant: row ends aslant by more are taken as aslant by this, rad. Turns there end far from where they began: that is run.
	mostSlant = 75 * math.Pi / 180
	// roughly: the outlines of turns in the table are followed to so much, m. A headland is a row of widths deep.
	roughly = 0.1
)

// pitchStep: distances of rows are told apart so finely, m. Rows spread evenly over a breadth lie some centimetres nearer than the width.
const pitchStep = 0.25

func (t *turner) rowEnds(pitch float64) *rowEnds {
	bin := int(math.Ceil(pitch/pitchStep - hair))
	if t.tables[bin] == nil {
		if t.tables == nil {
			t.tables = map[int]*rowEnds{}
		}
		t.tables[bin] = &rowEnds{turner: t, pitch: float64(bin) * pitchStep, ends: map[[2]int]*rowEnd{}}
	}
	return t.tables[bin]
}

// seconds is what the turn takes over k rows whose next end lies so far out, m, in a headland of that depth. The kinds of turn are
// looked at in the order of time until one fits. Where none does it is the cheapest, with both rows ended as early as it is short of room, at the price of what
// they leave, or with the price of what does not fit.
func (e *rowEnds) seconds(k int, out, depth float64) float64 {
	d := float64(k) * e.pitch
	slant := max(-mostSlant, min(mostSlant, math.Atan2(out, d)))
	bin := int(math.Round(slant / slantStep))
	at := float64(bin) * slantStep
	// What is farther out than the table knows is driven straight.
	more := math.Abs(out-d*math.Tan(at)) / e.turner.speed.Turning
	one := e.ends[[2]int{k, bin}]
	if one == nil {
		one = e.look(d, at)
		e.ends[[2]int{k, bin}] = one
	}
	if len(one.turns) == 0 {
		return e.turner.unfit + d/e.turner.speed.Turning + more
	}
	sin, cos := math.Sincos(at)
	room := depth - e.pitch/2*math.Abs(sin)
	beyond := plane.XY{X: cos, Y: -sin}
	least := math.Inf(1)
	for i, c := range one.turns {
		if i == len(one.reach) {
			one.reach = append(one.reach, e.reach(c.path, beyond))
		}
		short := one.reach[i] - room
		if short <= hair {
			return c.seconds + more
		}
		least = min(least, c.seconds+min(e.turner.unfit, 2*e.pitch*short/cos*e.turner.missed))
	}
	return least + more
}

// look finds the turns from a row that ends at the origin, heading along X, into the next one, d to the left.
func (e *rowEnds) look(d, slant float64) *rowEnd {
	t := e.turner
	from := t.axle(plane.XY{}, 0)
	to := t.axle(plane.XY{X: d * math.Tan(slant), Y: d}, math.Pi)
	all, err := t.turns(from, to, true)
	if err != nil { // what is wrong with the call shows in the turns driven
		return &rowEnd{}
	}
	return &rowEnd{turns: all[:min(mostWords, len(all))]}
}

// reach is how far the set gets beyond the origin in a direction, margin included, m; a turn on which the drawbar folds gets anywhere.
func (e *rowEnds) reach(p turn.Path, beyond plane.XY) float64 {
	d, err := turn.Drive(p, e.turner.im, roughly)
	if err != nil || e.turner.folds(d) {
		return math.Inf(1)
	}
	return d.Reach(plane.XY{}, geo.Along(beyond)) + e.turner.im.Turning.Margin
}

// slants are how far the ends of a block move along the rows from one row to the next, in the mean, at U's end and at its beginning, m.
func slants(strips []strip) (far, near float64) {
	if n := len(strips); n > 1 {
		a, b := strips[0], strips[n-1]
		far, near = (b.u1-a.u1)/float64(n-1), (b.u0-a.u0)/float64(n-1)
	}
	return far, near
}

// slantTo: how far the ends of rows move from one row to the next is taken to so much, m, when rows are ordered: a few thousandths of a second in a turn. Blocks that differ by
// less, and the same block from its other side, then have one order, which is found once.
const slantTo = 0.01

// costs is the time of turns over k = 1 … n−1 rows of a block, s, in the mean of both ends and of going up and down the rows; entry 0 is
// not used. Beyond four radii each metre costs its time.
func (e *rowEnds) costs(n int, far, near, depth float64) []float64 {
	t := e.turner
	cost := make([]float64, max(n, 1))
	far, near = math.Round(far/slantTo)*slantTo, math.Round(near/slantTo)*slantTo
	for k := 1; k < n; k++ {
		if k > 1 && float64(k-1)*e.pitch > 4*t.steer.Radius {
			cost[k] = cost[k-1] + e.pitch/t.speed.Turning
			continue
		}
		for _, out := range [2]float64{far, near} {
			out *= float64(k)
			cost[k] += (e.seconds(k, out, depth) + e.seconds(k, -out, depth)) / 4
		}
	}
	return cost
}
