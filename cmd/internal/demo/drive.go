package demo

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"balk/geo/plane"
)

// fix is one logged position of the antenna, which sits over the bar centre.
type fix struct {
	at      plane.XY
	time    time.Time
	working bool
	speed   float64 // m/s
}

// driver goes along lines and logs once a second.
type driver struct {
	log     []fix
	pos     plane.XY
	clock   float64 // s since start
	next    float64 // s of the next fix
	mute    [2]float64
	rng     *rand.Rand
	wander  plane.XY // slow error of the receiver, m
	working bool
}

func newDriver(seed uint64, at plane.XY) *driver {
	return &driver{pos: at, rng: rand.New(rand.NewPCG(seed, 0x62616c6b))}
}

// to drives straight on to q and logs on the way.
func (d *driver) to(q plane.XY, v float64) {
	dist := d.pos.Dist(q)
	if dist == 0 {
		return
	}
	t := dist / v
	for d.next <= d.clock+t {
		p := d.pos.Lerp(q, max(0, d.next-d.clock)/t)
		// The receiver's error drifts slowly and stays within about 2 cm (our choice).
		d.wander = d.wander.Scale(0.97).Add(plane.XY{X: d.rng.NormFloat64(), Y: d.rng.NormFloat64()}.Scale(0.002))
		d.record(p.Add(d.wander), v)
		d.next++
	}
	d.pos, d.clock = q, d.clock+t
}

func (d *driver) record(p plane.XY, v float64) {
	at := start.Add(time.Duration(math.Round(d.next*1000)) * time.Millisecond)
	silent := d.next > d.mute[0] && d.next < d.mute[1]
	if n := len(d.log); silent || n > 0 && !at.After(d.log[n-1].time) {
		return
	}
	d.log = append(d.log, fix{p, at, d.working, v})
}

// set lifts or lowers. The log notes the place at once, in the old state and a
// hundredth of a second later in the new one, as a lift switch does; so work
// begins and ends at that place however a reader joins the fixes.
func (d *driver) set(working bool) {
	if working == d.working {
		return
	}
	place := d.pos.Add(d.wander)
	next := d.next
	if len(d.log) > 0 {
		d.next = d.clock
		d.record(place, speed)
	}
	d.working = working
	d.next = d.clock + 0.01
	d.record(place, speed)
	d.next = next
	if d.next < d.clock+0.02 {
		d.next++
	}
}

// path drives through points that lie close together.
func (d *driver) path(pts []plane.XY, v float64) {
	for _, p := range pts {
		d.to(p, v)
	}
}

// work is the whole operation on a field: headland rounds, a round about each
// obstacle, then passes side by side.
func (g ground) work(seed uint64) []fix {
	first := rounded5(inset(g.outer, credited/2))
	d := newDriver(seed, first[0])
	round := func(r plane.Ring) {
		line := rounded5(r)
		d.set(false)
		d.path(line[:1], turn)
		d.set(true)
		d.path(line, speed)
		d.to(line[0], speed)
		d.set(false)
	}
	for k := range Rounds {
		round(inset(g.outer, (float64(k)+0.5)*credited))
	}
	for _, h := range g.holes {
		round(inset(h, -credited/2))
	}
	g.passes(d)
	return d.log
}

// rounded5 rounds the corners of a ring with an arc of 5 m radius, in steps of
// half a metre: a mounted implement does not turn on the spot while working.
func rounded5(r plane.Ring) []plane.XY {
	const radius, step = 5.0, 0.5
	var out []plane.XY
	for i, b := range r {
		n := len(r)
		u, v := unit(b.Sub(r[(i+n-1)%n])), unit(r[(i+1)%n].Sub(b))
		angle := math.Atan2(u.Cross(v), u.Dot(v))
		cut := radius * math.Tan(math.Abs(angle)/2)
		from := b.Sub(u.Scale(cut))
		side := math.Copysign(1, angle)
		c := from.Add(u.Left().Scale(side * radius))
		arm := from.Sub(c)
		steps := max(1, int(math.Abs(angle)*radius/step))
		for k := range steps + 1 {
			a := angle * float64(k) / float64(steps)
			s, co := math.Sincos(a)
			out = append(out, plane.XY{X: c.X + arm.X*co - arm.Y*s, Y: c.Y + arm.X*s + arm.Y*co})
		}
	}
	return out
}

// passes drives side by side inside the headland, up and down.
func (g ground) passes(d *driver) {
	s, c := math.Sincos(g.along)
	u := plane.XY{X: c, Y: s}
	n := u.Left()
	inner := inset(g.outer, Rounds*credited)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range inner {
		lo, hi = min(lo, p.Dot(n)), max(hi, p.Dot(n))
	}
	number := 0
	for i := 0; ; i++ {
		off := lo + (float64(i)+0.5)*credited
		if off > hi+credited/2 {
			return
		}
		o := n.Scale(min(off, hi-credited/2)) // the last pass laps over its neighbour
		at := cuts(inner, o, u)
		for _, h := range g.holes {
			at = append(at, cuts(inset(h, -credited), o, u)...)
		}
		slices.Sort(at)
		back := i%2 == 1
		for k := 0; k+1 < len(at); k += 2 {
			a, b := at[k], at[k+1]
			if back {
				a, b = at[len(at)-1-k], at[len(at)-2-k]
			}
			g.pass(d, number, o, u, a, b)
			if g.faults.twice[number] {
				g.pass(d, -1, o, u, b, a)
			}
			number++
		}
	}
}

// pass drives from a to b along u, seen from o, with the faults of its number.
func (g ground) pass(d *driver, number int, o, u plane.XY, a, b float64) {
	f := g.faults
	if f.skipped[number] {
		return
	}
	way := math.Copysign(1, b-a)
	length := math.Abs(b - a)
	late, early := f.late[number], f.early[number]
	at := func(s float64) plane.XY { // s metres after the start
		bend := f.drift[number] * math.Pow(math.Sin(math.Pi*s/length), 2)
		return o.Add(u.Scale(a + way*s)).Add(u.Left().Scale(bend))
	}
	g.across(d, at(-2))
	d.to(at(late), speed)
	d.set(true)
	if gap := f.logGap[number]; gap > 0 {
		mid := d.clock + length/2/speed
		d.mute = [2]float64{mid - gap/2, mid + gap/2}
	}
	for s := late + 2; s < length-early; s += 2 {
		d.to(at(s), speed)
	}
	d.to(at(length-early), speed)
	d.set(false)
	d.to(at(length+2), speed)
}

// across turns with the tool lifted to the start of the next pass. It goes
// straight or round an obstacle in the way; real turns come with coverage/turn.
func (g ground) across(d *driver, q plane.XY) {
	p := d.pos
	for _, h := range g.holes {
		if n := len(cuts(inset(h, -2), p, unit(q.Sub(p)))); n > 0 && p.Dist(q) > credited*2 && p.Dist(q) < 60 {
			mid, c := p.Lerp(q, 0.5), centre(h)
			d.to(c.Add(unit(mid.Sub(c)).Scale(13+credited)), turn)
		}
	}
	d.to(q, turn)
}

func centre(r plane.Ring) plane.XY {
	b := r.Bounds()
	return b.Min.Lerp(b.Max, 0.5)
}
