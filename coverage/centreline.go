package coverage

import (
	"math"

	"balk/coverage/drive"
	"balk/geo/plane"
)

// knot is a point of a centreline, on axes turned into the driving direction.
type knot struct {
	at   plane.XY
	s    float64 // m, travel in the pass
	full bool    // the bar has its usual width
}

// centreline is an unbroken worked part of the way of a pass, in chords.
type centreline struct {
	pass      int
	knots     []knot
	chordRuns []chordRun
}

// chordRun is some chords of a centreline: knots from to to. All chords lie
// within 30° of axis. So for a direction d
//
//   - within 45° of axis or −axis, the knots advance steadily along d (a chord lies
//     within 75° of it), and one chord at most crosses the line square to d;
//   - farther off, no chord lies within 15° of d.
type chordRun struct {
	of       *centreline
	from, to int
	axis     plane.XY // unit vector
	box      plane.Box
}

const (
	runChords = 64
	cos30     = 0.86603
	cos45     = 0.70711
)

// mainAxis is a unit vector along or across which most of the way was driven:
// Σ length × (cos, sin) of four times the direction, which is the same for all
// four ways round a headland.
func mainAxis(runs []drive.Run) plane.XY {
	var cos, sin float64
	for _, r := range runs {
		for i := 1; i < len(r.Stops); i++ {
			d := r.Stops[i].At.Sub(r.Stops[i-1].At)
			l := d.Dot(d)
			if l == 0 {
				continue
			}
			c, s := (d.X*d.X-d.Y*d.Y)/l, 2*d.X*d.Y/l
			l = math.Sqrt(l)
			cos, sin = cos+l*(c*c-s*s), sin+l*2*c*s
		}
	}
	y, x := math.Sincos(math.Atan2(sin, cos) / 4)
	return plane.XY{X: x, Y: y}
}

// centrelines are the worked ways of all passes, in chords of at least so many metres.
func centrelines(runs []drive.Run, width, chord float64) []*centreline {
	axis := mainAxis(runs)
	var out []*centreline
	for _, r := range runs {
		l := &centreline{pass: r.Pass.Number, knots: make([]knot, 0, int(min(float64(len(r.Stops)), 2+r.Pass.Length/chord)))}
		for _, a := range r.Stops {
			ends := !a.Next.Ground() // where the bar pivots the way goes on
			l.reach(knot{plane.XY{X: axis.Dot(a.At), Y: axis.Cross(a.At)}, a.S, r.Parts[a.Part].Width == width}, chord, ends)
			if !ends {
				continue
			}
			if len(l.knots) > 1 {
				l.cut()
				out = append(out, l)
			}
			l = &centreline{pass: r.Pass.Number}
		}
	}
	return out
}

// treeOf has the runs of chords of all lines.
func treeOf(lines []*centreline) *plane.Tree[*chordRun] {
	var tree plane.Tree[*chordRun]
	for _, l := range lines {
		for k := range l.chordRuns {
			tree.Insert(l.chordRuns[k].box, &l.chordRuns[k])
		}
	}
	return &tree
}

// reach goes on to n if that is a chord away. A short rest at the end joins the
// chord before; a whole line shorter than a chord is one chord.
func (l *centreline) reach(n knot, chord float64, ends bool) {
	last := len(l.knots) - 1
	if last < 0 {
		l.knots = append(l.knots, n)
		return
	}
	d := n.at.Sub(l.knots[last].at)
	switch far := d.Dot(d); {
	case far >= chord*chord, ends && last == 0 && far > 0:
		l.knots = append(l.knots, n)
	case ends && last > 0 && n.at.Dist(l.knots[last-1].at) >= chord:
		l.knots[last] = n
	}
}

// cut cuts a centreline into runs of chords.
func (l *centreline) cut() {
	for from := 0; from+1 < len(l.knots); {
		p := chordRun{of: l, from: from, to: from, box: plane.EmptyBox().Extend(l.knots[from].at)}
		for p.to+1 < len(l.knots) && p.to-from < runChords {
			c, long := l.chord(p.to)
			if p.to == from {
				p.axis = c.Scale(1 / long)
			} else if c.Dot(p.axis) < cos30*long {
				break
			}
			p.to++
			p.box = p.box.Extend(l.knots[p.to].at)
		}
		l.chordRuns = append(l.chordRuns, p)
		from = p.to
	}
}

// chord is the way from knot i to the next, and its length.
func (l *centreline) chord(i int) (c plane.XY, long float64) {
	c = l.knots[i+1].at.Sub(l.knots[i].at)
	return c, math.Sqrt(c.Dot(c))
}

// straight says whether the way turns by less than 15° at both ends of a chord of
// direction d.
func (l *centreline) straight(i int, d plane.XY) bool {
	for _, k := range [2]int{i - 1, i + 1} {
		if k < 0 || k+1 >= len(l.knots) {
			continue
		}
		if c, long := l.chord(k); c.Dot(d) < cos15*long {
			return false
		}
	}
	return true
}

// candidate is a run of chords that may be seen, and the chord of it that was crossed last.
type candidate struct {
	*chordRun
	at int
}

// crossed is where the line through p square to fwd crosses a run of chords whose knots
// advance along fwd, and the travel there. The end of one belongs to the next.
func (c *candidate) crossed(p, fwd plane.XY) (q plane.XY, s float64, ok bool) {
	knots := c.of.knots
	ahead := func(i int) float64 { return fwd.Dot(knots[i].at.Sub(p)) }
	if ahead(c.from) > 0 || ahead(c.to) <= 0 {
		return q, 0, false
	}
	lo, hi := ahead(c.at), ahead(c.at+1)
	for lo > 0 {
		c.at--
		lo, hi = ahead(c.at), lo
	}
	for hi <= 0 {
		c.at++
		lo, hi = hi, ahead(c.at+1)
	}
	a, b, t := knots[c.at], knots[c.at+1], lo/(lo-hi)
	return a.at.Lerp(b.at, t), a.s + t*(b.s-a.s), true
}
