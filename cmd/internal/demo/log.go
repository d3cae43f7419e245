package demo

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
	"time"

	"balk/geo/plane"
)

// fix is one logged position of the antenna.
type fix struct {
	at      plane.XY
	height  float64 // m, of the ground under it
	time    time.Time
	working bool
	speed   float64 // m/s
	float   bool    // the correction signal was not resolved to the centimetre
}

// quality is how the fix was won, as it is logged.
func (f fix) quality() string {
	if f.float {
		return "float"
	}
	return "fixed"
}

const (
	// receiver's error: it drifts slowly and stays within about 2 cm (our choice).
	keeps, jitter = 0.97, 0.002
	second        = 1.0                   // s, between fixes
	together      = 50 * time.Millisecond // a logger notes no two fixes nearer than that, but at a switch
	worse         = 40.0                  // s, as long the fix quality is worse
	level         = 512.0                 // m, of the fields' middles
)

// operation is the work on a field: as it was driven, and what was logged of it.
type operation struct {
	route
	way     []moment
	windows map[Kind]window // when the log was wrong
	log     []fix
}

// work is the whole operation on a field.
func (g ground) work(ctx context.Context, seed uint64) (operation, error) {
	r, err := g.route(ctx)
	if err != nil {
		return operation{}, err
	}
	rng := rand.New(rand.NewPCG(seed, 0x62616c6b))
	op := operation{route: r, way: r.drive(g.pace, rng), windows: map[Kind]window{}}
	for k, j := range r.jobs {
		switch f := j.wrong; f.kind {
		case LogGap:
			op.windows[f.kind] = middle(op.way, k, f.size)
		case WorseFix:
			op.windows[f.kind] = middle(op.way, k, worse)
		}
	}
	op.log = g.logged(op, second, jitter, rng)
	return op, nil
}

// logged is a fix every so many seconds, and two at every lift switch: one in the old state and a hundredth of a second
// later one in the new, so that work begins and ends at that place however a reader joins the fixes.
func (g ground) logged(op operation, every, jitter float64, rng *rand.Rand) []fix {
	silent, bad := op.windows[LogGap], op.windows[WorseFix]
	off := 0.0
	for _, f := range g.faults {
		if f.kind == WorseFix {
			off = f.size
		}
	}
	var log []fix
	var wander plane.XY
	note := func(m moment, seconds float64, working bool) {
		if silent.holds(seconds) {
			return
		}
		at := m.antenna(op.im.Mount).Add(wander)
		if bad.holds(seconds) {
			at = at.Add(m.ahead.Left().Scale(off * math.Pow(math.Sin(math.Pi*(seconds-bad.from)/(bad.to-bad.from)), 2)))
		}
		ground := level + g.uphill.Dot(at) + 0.4*math.Sin(at.X/90)*math.Cos(at.Y/70)
		log = append(log, fix{at: at, height: ground, time: g.clock(seconds),
			working: working, speed: m.speed, float: bad.holds(seconds)})
	}
	next := 0.0
	for i := 1; i < len(op.way); i++ {
		a, b := op.way[i-1], op.way[i]
		for next <= b.seconds {
			m := between(a, b, next)
			wander = wander.Scale(keeps).Add(plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()}.Scale(jitter))
			note(m, next, a.working)
			next += every
		}
		if b.working != a.working {
			if n := len(log); n > 0 && g.clock(b.seconds).Sub(log[n-1].time) < together {
				log = log[:n-1]
			}
			note(b, b.seconds, a.working)
			later := b
			later.axle = b.axle.Add(b.ahead.Scale(0.01 * b.speed))
			note(later, b.seconds+0.01, b.working)
			if next < b.seconds+0.01+together.Seconds() {
				next += every
			}
		}
	}
	return log
}

// clock is the time of day after so many seconds of work, to the millisecond.
func (g ground) clock(seconds float64) time.Time {
	return g.begin().Add(time.Duration(math.Round(seconds*1000)) * time.Millisecond)
}

// window is a time in which something happens to the log, s since start.
type window struct{ from, to float64 }

func (w window) holds(seconds float64) bool { return seconds > w.from && seconds < w.to }

// at is the set at a time, as it truly was.
func at(way []moment, seconds float64) moment {
	i := sort.Search(len(way)-1, func(i int) bool { return way[i+1].seconds >= seconds })
	return between(way[i], way[min(i+1, len(way)-1)], seconds)
}

// between is the set at a time between two moments.
func between(a, b moment, seconds float64) moment {
	t := 0.0
	if b.seconds > a.seconds {
		t = (seconds - a.seconds) / (b.seconds - a.seconds)
	}
	m := a
	m.axle, m.bar, m.speed = a.axle.Lerp(b.axle, t), a.bar.Lerp(b.bar, t), a.speed+(b.speed-a.speed)*t
	m.ahead, m.facing = a.ahead.Lerp(b.ahead, t).Unit(), a.facing.Lerp(b.facing, t).Unit()
	m.seconds = seconds
	return m
}

// middle is the time about the middle of pass k.
func middle(way []moment, k int, long float64) window {
	first, last := -1, 0
	for i, m := range way {
		if m.working && m.pass == k {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	mid := (way[first].seconds + way[last].seconds) / 2
	return window{from: mid - long/2, to: mid + long/2}
}
