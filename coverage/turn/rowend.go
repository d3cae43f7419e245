package turn

import (
	"math"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Line is where a row ends or begins: the middle of the row on the line up to which
// it is worked, facing out of the rows, and how the next row lies.
//
//	out of the rows ↑            ·── turn ──·
//	                             │          │
//	      line ──────────────────●──────────○────  the next line may lie `stagger` farther out
//	                             ↑          ↓
//	                          this row   next row
type Line struct {
	From     Pose    // middle of this row on its line, facing out
	Distance float64 // m, to the middle of the next row
	Left     bool    // the next row lies to the left
	Stagger  float64 // m, the next row's line lies so much farther out; negative: less far
}

// RunOut is how far the tractor's rear axle is beyond the line when the tools may be
// lifted, m: when their last row has left the ground to be worked.
func RunOut(im rig.Implement) float64 { return barBehind(im.Mount) + im.Body.Behind }

// barBehind is how far the bar is behind the tractor's rear axle in a straight set, m.
func barBehind(m rig.Mount) float64 {
	back := m.HitchBehindAxle() + m.BarBehind
	if m.Trailed {
		back += m.Drawbar
	}
	return back
}

// nano rounds a length to what can be told apart, m: sums of row widths are shown to people.
func nano(l float64) float64 { return math.Round(l*1e9) / 1e9 }

// rows is the path wanted of the rear axle: from RunOut beyond the line to where the
// bar of a straight set is back on the next row's line. A bar r right of the tractor's middle has the
// tractor r left of the row, in both directions: 2r nearer to a row on the left.
func (l Line) rows(im rig.Implement) Rows {
	out, in := RunOut(im), -barBehind(im.Mount)
	r := im.Mount.BarRight
	side := l.Distance
	if !l.Left {
		side = -side
	}
	side -= 2 * r
	return Rows{From: l.From.Moved(out, r, 0), Distance: math.Abs(side), Left: side > 0 || side == 0 && l.Left, Stagger: l.Stagger + in - out}
}

// next is the middle of the next row on its line, facing into the rows.
func (l Line) next() Pose { return Rows(l).To() }

// arrival is how the set comes into the next row.
type arrival struct {
	Angle  float64 // degrees, of the bar against the row when its middle crosses the line
	Offset float64 // m, of the bar's middle beside the row there, positive: to the right
	Missed float64 // m², of the row left standing by it
}

// bar is the working bar as seen from the next row: x metres past its line, y to the left of its middle.
type bar struct{ left, right plane.XY }

func (b bar) middle() plane.XY { return b.left.Lerp(b.right, 0.5) }

const (
	enterStep = 0.05 // m, steps in which the set is driven on into the row
	enterFar  = 25.0 // drawbars; of an angle nothing is left after it, e^−25
	enterRest = 1e-5 // m; a gap that small is rounding
)

// entry finds when the bar's middle crosses the next row's line. The tools are down from there, and missed is
// what of the row, less the planned overlap at its edges, no bar passes over:
//
//	    ├──── row ────┤        the end that is past the line leaves the ground before it: a triangle,
//	    │     ╱│      │        cut off at the row's edge
//	────┼────●─┴──────┼─ line  each end leaves the gap between it and the row's edge, ∫ gap dx of its own
//	    │  ╱          │        way past the line
//
// After the turn the set is driven on straight until it has settled. Between steps ends go straight, as for
// swept ground.
func (d *Driven) entry(l Line) arrival {
	bars := d.entering(l.next())
	half := d.im.Width/2 - d.im.Overlap
	k := 1
	for bars[0].middle().X < 0 && k < len(bars)-1 && bars[k].middle().X < 0 {
		k++
	}
	before, after := bars[k-1], bars[k]
	// Where it is past the line already when it may come down, it comes down there.
	if from, to := before.middle().X, after.middle().X; from < 0 && to > from {
		t := min(1, -from/(to-from))
		before = bar{before.left.Lerp(after.left, t), before.right.Lerp(after.right, t)}
	}
	middle, across := before.middle(), before.left.Sub(before.right)
	e := arrival{Angle: math.Abs(math.Atan2(-across.X, across.Y)) * perDegree, Offset: -middle.Y}
	last := before
	e.Missed = before.before(half)
	for _, now := range bars[k:] {
		e.Missed += leftBeside(last.left, now.left, half) + leftBeside(flip(last.right), flip(now.right), half)
		last = now
	}
	return e
}

func flip(p plane.XY) plane.XY { return plane.XY{X: p.X, Y: -p.Y} }

// before is what lies in the row between its line and the bar when the tools come down; beyond an end of
// the bar the way to that end counts.
func (b bar) before(edge float64) float64 {
	low, high := b.right, b.left
	if low.Y > high.Y {
		low, high = high, low
	}
	x := func(y float64) float64 {
		if high.Y-low.Y <= 0 {
			return high.X
		}
		return low.X + (high.X-low.X)*max(0, min(1, (y-low.Y)/(high.Y-low.Y)))
	}
	var sum float64
	at := -edge
	for _, y := range [3]float64{low.Y, high.Y, edge} {
		if y = max(at, min(edge, y)); y > at {
			sum += above(x(at), x(y), y-at)
			at = y
		}
	}
	return sum
}

// above is the area over 0 of a line from the height g to the height h.
func above(g, h, length float64) float64 {
	switch {
	case g >= 0 && h >= 0:
		return (g + h) / 2 * length
	case g > 0:
		return g * g / (g - h) / 2 * length
	case h > 0:
		return h * h / (h - g) / 2 * length
	}
	return 0
}

// leftBeside is the gap between the row's left edge and the bar's left end, from one moment to the next.
func leftBeside(from, to plane.XY, edge float64) float64 {
	if to.X <= max(0, from.X) {
		return 0
	}
	if from.X < 0 {
		from = from.Lerp(to, -from.X/(to.X-from.X))
	}
	return above(edge-from.Y, edge-to.Y, to.X-from.X)
}

// entering is the bar from before it last comes to the line of the row until it has settled in it.
// It comes in forward: nothing is lowered before the last change of direction.
func (d *Driven) entering(row Pose) []bar {
	ahead := row.Heading.Ahead()
	seen := plane.Frame{Origin: row.At, Ahead: ahead}
	see := func(s rig.Set) bar {
		at, facing := s.Bar(d.mount)
		middle := seen.To(at)
		left := plane.XY{X: -ahead.Cross(facing), Y: ahead.Dot(facing)}.Scale(d.im.Width / 2)
		return bar{middle.Add(left), middle.Sub(left)}
	}
	from := len(d.Moments) - 1
	for from > 0 && !d.Moments[from].Reverse && see(d.Moments[from].Set).middle().X >= 0 {
		from--
	}
	var bars []bar
	for _, m := range d.Moments[from:] {
		bars = append(bars, see(m.Set))
	}
	s := d.Moments[len(d.Moments)-1].Set
	far := d.reach() + enterFar*d.mount.Drawbar
	for range int(math.Ceil(far / enterStep)) {
		s = s.Move(d.mount, s.Antenna.Add(ahead.Scale(enterStep)), ahead, false)
		if !d.mount.Trailed {
			s.Drawn = ahead
		}
		b := see(s)
		bars = append(bars, b)
		half := d.im.Width/2 - d.im.Overlap - enterRest
		if min(b.left.X, b.right.X) > 0 && b.left.Y >= half && b.right.Y <= -half {
			break
		}
	}
	return bars
}

// reach is more than the bar can be behind the tractor, m.
func (d *Driven) reach() float64 {
	return math.Abs(d.mount.Hitch) + d.mount.Drawbar + math.Abs(d.mount.BarBehind) + d.im.Width
}

const (
	// onRow is how far the bar's end may lie beside its place at the line where no overlap is planned, m:
	// two and a half times what the best receiver is good for. A planned overlap may be used up.
	onRow = 0.05
	// settlings bounds the steps in which a run-in is found. Two do in practice, six where the lack shrinks slowly.
	settlings = 12
	// nearly: so much more than settled, as a share, is settled too.
	nearly = 1e-3
)

// unsettled is how much farther the set must be driven straight to be settled at
// the end of its path, m; 0 where it is. ψ shrinks as Follow has it, tan(ψ/2) by e^(−s/L).
func (d *Driven) unsettled() float64 {
	if !d.mount.Trailed {
		return 0
	}
	psi := d.Moments[len(d.Moments)-1].Set.Angle()
	end := settledAt(d.mount.Drawbar, d.mount.BarBehind, d.im.Width/2, max(d.im.Overlap, onRow))
	if psi <= end*(1+nearly) {
		return 0
	}
	return d.mount.Drawbar * math.Log(math.Tan(min(psi, mostFolded)/2)/math.Tan(end/2))
}

// mostFolded: a drawbar folded back farther does not come straight again in any field, rad.
const mostFolded = math.Pi - 1e-3

// settledAt is the drawbar's angle at which the bar's end lies so far (lap) inside its
// place, rad: (L + b)·sin ψ + half·(1 − cos ψ) = lap. That is √(A² + B²)·sin(ψ − δ) = lap − B
// with A = L + b, B = half, δ = atan(B/A).
func settledAt(l, b, half, lap float64) float64 {
	a := max(0, l+b)
	return math.Asin(min(1, max(-1, (lap-half)/math.Hypot(a, half)))) + math.Atan2(half, a)
}
