package web

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"io"
	"math"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"
)

// Ground is the head of an operation as numbers to draw. Behind it stand 32-bit floats: x and y of every ring and line in the order of
// Layers, then the columns of Places, one after the other. All is on the plane of the field, metres east and north of its centre: a
// millimetre at ten kilometres.
type Ground struct {
	Layers  []Layer      `json:"layers"`
	Degrees [9]orb.Point `json:"degrees"` // lon, lat at −Half, 0 and Half, east for every north
	Half    float64      `json:"half"`
	Places  int          `json:"places"` // of the set
	Every   int          `json:"every"`  // fix of the log that is one of them
	Columns []string     `json:"columns"`
	Begin   float64      `json:"begin"`  // s since 1970 that the column seconds counts from; 0 = the log has no times, seconds are fixes
	Passes  [][2]float64 `json:"passes"` // of each pass, in order: first and last value of seconds
}

// Layer is ground or lines of one kind.
type Layer struct {
	Name   string  `json:"name"`
	Shapes [][]int `json:"shapes"` // points of every ring of every shape; a line is a shape of one
}

// mostPlaces is how many places of the set are told: more than a screen has, and than a hand tells apart on a slider.
const mostPlaces = 60_000

// placed is the set at one fix.
type placed struct {
	rig.Set
	at      plane.XY // middle of the bar
	facing  plane.XY
	seconds float64
	speed   float64
	pass    int
	surety  float64 // of work on the way there: 0 logged, 1 told from the driving, 2 doubtful so, 3 not known
	across  float64 // slope across the way, to either side, percent; NaN: not known
	spacing float64 // m to the neighbour that is nearer; NaN: none is beside it, or nobody asked
}

func writeGround(w io.Writer, c coverage.Result) error {
	head := Ground{Columns: []string{"x", "y", "ahead", "barX", "barY", "facing", "seconds", "speed", "pass", "spacing", "surety", "across"}}
	var numbers []float32
	put := func(q plane.XY) { numbers = append(numbers, float32(q.X), float32(q.Y)) }
	layer := func(name string, shapes [][][]plane.XY) {
		l := Layer{Name: name, Shapes: [][]int{}}
		for _, rings := range shapes {
			counts := []int{}
			for _, ring := range rings {
				counts = append(counts, len(ring))
				for _, q := range ring {
					put(q)
				}
			}
			l.Shapes = append(l.Shapes, counts)
		}
		head.Layers = append(head.Layers, l)
	}
	for _, g := range []struct {
		name  string
		polys []plane.Polygon
	}{{"field", c.Layers.Field}, {"double", c.Layers.Double}, {"triple", c.Layers.Triple}, {"unknown", c.Layers.Unknown}, {"outside", c.Layers.Outside}, {"headland", c.Layers.Headland}, {"slivers", c.Layers.Missed}} {
		layer(g.name, ringsOf(g.polys))
	}
	if c.Ribbons != nil {
		layer("ribbons", ringsOf(c.Ribbons.Shapes))
	}
	if c.Bars != nil {
		var all []plane.Polygon
		for _, b := range c.Bars.Each {
			all = append(all, b.Shapes...)
		}
		layer("bars", ringsOf(all))
	}
	var strips, passes, lifted, turns [][][]plane.XY
	for _, s := range c.Strips {
		strips = append(strips, ringsOf([]plane.Polygon{s.Shape})[0])
	}
	for _, p := range c.Passes {
		passes = append(passes, [][]plane.XY{thinned(p.Line)})
	}
	for _, line := range c.LiftedLines {
		lifted = append(lifted, [][]plane.XY{thinned(line)})
	}
	for _, t := range c.Turns {
		if t.Tight {
			turns = append(turns, [][]plane.XY{t.Line})
		}
	}
	layer("strips", strips)
	layer("passes", passes)
	layer("lifted", lifted)
	layer("tight", turns)
	for _, n := range numbers {
		head.Half = max(head.Half, math.Abs(float64(n)))
	}
	for k := range head.Degrees {
		head.Degrees[k] = c.Local.Point(plane.XY{X: float64(k%3-1) * head.Half, Y: float64(k/3-1) * head.Half})
	}
	places, begin := placesOf(c)
	space(places, c.Spacing)
	head.Begin, head.Every = begin, 1+len(places)/mostPlaces
	head.Passes = make([][2]float64, len(c.Passes))
	for k := range head.Passes {
		head.Passes[k] = [2]float64{-1, -1}
	}
	var kept []placed
	for k, p := range places {
		if n := p.pass - 1; n >= 0 && n < len(head.Passes) {
			if head.Passes[n][0] < 0 {
				head.Passes[n][0] = p.seconds
			}
			head.Passes[n][1] = p.seconds
		}
		if k%head.Every == 0 {
			kept = append(kept, p)
		}
	}
	head.Places = len(kept)
	slope(kept, &c)
	for _, of := range []func(placed) float64{
		func(p placed) float64 { return p.Antenna.X }, func(p placed) float64 { return p.Antenna.Y }, func(p placed) float64 { return math.Atan2(p.Ahead.Y, p.Ahead.X) },
		func(p placed) float64 { return p.at.X }, func(p placed) float64 { return p.at.Y }, func(p placed) float64 { return math.Atan2(p.facing.Y, p.facing.X) },
		func(p placed) float64 { return p.seconds }, func(p placed) float64 { return p.speed }, func(p placed) float64 { return float64(p.pass) }, func(p placed) float64 { return p.spacing }, func(p placed) float64 { return p.surety }, func(p placed) float64 { return p.across },
	} {
		for _, p := range kept {
			numbers = append(numbers, float32(of(p)))
		}
	}
	text, err := json.Marshal(head)
	if err != nil {
		return err
	}
	for len(text)%4 != 0 { // the numbers begin where such numbers may
		text = append(text, ' ')
	}
	b := bufio.NewWriter(w)
	for _, part := range []any{uint32(len(text)), text, numbers} {
		if err := binary.Write(b, binary.LittleEndian, part); err != nil {
			return err
		}
	}
	return b.Flush()
}

// lineError is how far a line drawn may lie off the way driven, m: nobody sees it at a scale at which a pass is on the screen.
const lineError = 0.02

// thinned is a line without the places that lie on it anyway. Ground is drawn as it is.
func thinned(line []plane.XY) []plane.XY {
	all := make(orb.LineString, len(line))
	for i, q := range line {
		all[i] = orb.Point{q.X, q.Y}
	}
	kept := simplify.DouglasPeucker(lineError).LineString(all)
	out := make([]plane.XY, len(kept))
	for i, q := range kept {
		out[i] = plane.XY{X: q[0], Y: q[1]}
	}
	return out
}

func ringsOf(polys []plane.Polygon) [][][]plane.XY {
	var out [][][]plane.XY
	for _, p := range polys {
		var rings [][]plane.XY
		for _, r := range p {
			rings = append(rings, r)
		}
		out = append(out, rings)
	}
	return out
}

// stands is how far a set moves at most that stands, m.
const stands = 0.05

// placesOf are the places of the set, fix by fix, as it hangs together and is drawn along. Begin: the first time, if the log has any.
func placesOf(c coverage.Result) (out []placed, begin float64) {
	var set rig.Set
	m := c.Work.Mount
	pass := 0
	for k, s := range c.Log {
		timed := len(s.Seconds) == len(s.Line) && len(s.Seconds) > 0 && !math.IsNaN(s.Seconds[0])
		if pass = s.Pass; s.Activity != drive.ActivityWork && s.Pass == 0 {
			pass = 0
		}
		fresh := len(out) == 0 || k > 0 && c.Log[k-1].Track != s.Track
		for i, at := range s.Line {
			if i == 0 && !fresh {
				continue // the last of the stretch before
			}
			p := placed{pass: pass, seconds: float64(len(out)), speed: math.NaN(), surety: suretyAt(s)}
			if timed {
				if begin == 0 {
					begin = s.Seconds[i]
				}
				p.seconds = s.Seconds[i] - begin
			}
			if fresh {
				set, fresh = first(s.Line), false
			} else if step := at.Sub(set.Antenna); math.Hypot(step.X, step.Y) > stands {
				far := math.Hypot(step.X, step.Y)
				way := plane.XY{X: step.X / far, Y: step.Y / far}
				ahead, reverse := way, false
				if len(s.Compass) == len(s.Line) && s.Compass[i] != (plane.XY{}) {
					ahead = s.Compass[i]
					reverse = ahead.X*way.X+ahead.Y*way.Y < 0
				}
				if n := len(out); timed && n > 0 && p.seconds > out[n-1].seconds {
					p.speed = far / (p.seconds - out[n-1].seconds)
				}
				set = set.Move(m, at, ahead, reverse)
			} else if timed {
				p.speed = 0
			}
			p.Set = set
			p.at, p.facing = set.Bar(m)
			out = append(out, p)
		}
	}
	return out, begin
}

func suretyAt(s drive.Stretch) float64 {
	switch {
	case s.Activity == drive.ActivityUnknown:
		return 3
	case s.Doubtful:
		return 2
	case s.Inferred:
		return 1
	}
	return 0
}

// slope gives places the slope across their way.
func slope(places []placed, c *coverage.Result) {
	line := make([]plane.XY, len(places))
	for k, p := range places {
		line[k] = p.at
	}
	for k, lie := range c.LiesAlong(line) {
		places[k].across = 100 * math.Abs(lie.Left)
	}
}

// space gives places the spacing that was seen nearest to them on the way of their pass.
func space(places []placed, sp coverage.Spacing) {
	of := map[int][]coverage.Gap{} // by pass, along the way
	for _, g := range sp.Gaps {
		of[g.Pass] = append(of[g.Pass], g)
	}
	way, next := 0.0, 0
	for k := range places {
		p := &places[k]
		p.spacing = math.NaN()
		if k == 0 || places[k-1].pass != p.pass {
			way, next = 0, 0
		} else {
			way += p.at.Dist(places[k-1].at)
		}
		gaps := of[p.pass]
		for next+1 < len(gaps) && math.Abs(gaps[next+1].S-way) <= math.Abs(gaps[next].S-way) {
			next++
		}
		if next >= len(gaps) || math.Abs(gaps[next].S-way) > sp.Every {
			continue
		}
		left, right := float64(gaps[next].Left), float64(gaps[next].Right)
		switch {
		case math.IsNaN(left):
			p.spacing = right
		case math.IsNaN(right):
			p.spacing = left
		default:
			p.spacing = min(left, right)
		}
	}
}

// first is a set at the begin of a line, drawn out straight.
func first(line []plane.XY) rig.Set {
	for _, q := range line[1:] {
		d := q.Sub(line[0])
		if far := math.Hypot(d.X, d.Y); far > stands {
			way := plane.XY{X: d.X / far, Y: d.Y / far}
			return rig.Set{Antenna: line[0], Ahead: way, Drawn: way}
		}
	}
	return rig.Set{Antenna: line[0], Ahead: plane.XY{Y: 1}, Drawn: plane.XY{Y: 1}}
}
