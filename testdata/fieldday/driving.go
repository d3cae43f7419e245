package fieldday

import (
	"math"
	"math/rand/v2"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// Driving is how a set goes over a field, and what goes wrong on the way. Zero: nothing.
type Driving struct {
	Bent    bool // over the field with the curved side and the pond, not the one of straight rows
	Trailed bool

	Late         float64 // m, rows begun at the north side are lowered later
	Lower, Lift  float64 // s from the button until the bar is in, and until it is out; the driver knows of them
	Side         float64 // m, the bar hangs to the right of the middle
	Omitted      int     // row that is left out; 0: none
	Aside        int     // row that is driven aside, by AsideBy; 0: none
	AsideBy      float64 // m
	Shift        int     // from this row on all lie to the east, by ShiftBy; 0: none
	ShiftBy      float64 // m
	Spread       float64 // m more between rows than planned
	Fan          float64 // m per m, each row turns so much to the east against the one before it, going north
	Slide        float64 // m per m, each slides so much to the east as it goes
	Section      int     // row on which the right end of the bar is lifted on a stretch; 0: none; AllRows: on all, and on rounds too
	SectionFrom  float64 // m from the row's begin
	SectionOver  float64 // m
	SectionWidth float64 // m
	Lifts        int     // so many times the whole bar is lifted for LiftOver, on any row, anywhere
	LiftOver     float64 // m
}

// AllRows is each of them.
const AllRows = -1

// Figures of the driver (invented; the order is that of common practice).
const (
	wander       = 0.05 // m, deviation of the line steered from the one planned
	wanderLength = 40.0 // m, over which it changes
	lowering     = 0.3  // m: lowered and lifted so much too early and too late, in the mean, and as their deviation
	ahead        = 3.5  // m, how far in front of him he looks
	steering     = 0.35 // s, until the wheels follow
	tightest     = 0.2  // 1/m
	turning      = 1.5  // m/s
	away         = 10.0 // m, driven on behind the last leg
	grid         = 0.25 // m between points of the line to follow
	tick         = 0.05 // s
	lost         = 3.0  // m off his line: no driver goes on so
	longest      = 9000 // s: a driver who needs longer goes in circles
)

// driven is what really happened, tick by tick.
type driven struct {
	layout  Layout // as driven
	whole   Layout // as planned
	how     Driving
	antenna []plane.XY
	bar     []plane.XY // the middle
	facing  []plane.XY // of the bar, unit
	leg     []int32    // the leg whose work the bar is in; none: lifted
	button  []bool     // pressed for work
	from    []float64  // m along the leg, of the bar
}

const none = -1

// line is a leg with what the set drives before and behind it.
type line struct {
	at   []plane.XY
	s    []float64 // m along, of each point
	long float64
}

func lineOf(at []plane.XY) line {
	l := line{at: at, s: make([]float64, len(at))}
	for i := 1; i < len(at); i++ {
		l.s[i] = l.s[i-1] + at[i].Dist(at[i-1])
	}
	l.long = l.s[len(at)-1]
	return l
}

// on is the place s along, and the direction there; before and behind it is straight.
func (l line) on(s float64) (at, ahead plane.XY) {
	k, _ := slices.BinarySearch(l.s[1:len(l.s)-1], s)
	e := l.at[k+1].Sub(l.at[k])
	e = e.Scale(1 / e.Len())
	return l.at[k].Add(e.Scale(s - l.s[k])), e
}

// along is how far along p lies, looked for near to where the last one was.
func (l line) along(p plane.XY, last float64) float64 {
	best, far := last, math.Inf(1)
	for k := 0; k+1 < len(l.at); k++ {
		if l.s[k+1] < last-5 || l.s[k] > last+20 {
			continue
		}
		e := l.at[k+1].Sub(l.at[k])
		x := e.Dot(p.Sub(l.at[k])) / e.Dot(e)
		if k > 0 {
			x = max(0, x)
		}
		if k+2 < len(l.at) {
			x = min(1, x)
		}
		if d := l.at[k].Add(e.Scale(x)).Dist(p); d < far {
			best, far = l.s[k]+x*(l.s[k+1]-l.s[k]), d
		}
	}
	return best
}

// road is the line that the rear axle is to follow: every leg, and the shortest way on to the next.
type road struct {
	at  []plane.XY
	leg []int32
}

// roadOf draws the way of the rear axle: the bar, which runs behind it, is to go from end to end of each leg.
func roadOf(legs []line, back, runIn float64, rng *rand.Rand) (road, error) {
	var r road
	var last turn.Pose
	for i, l := range legs {
		n := int((l.long + runIn + 1.5) / grid)
		off := smooth(rng, n)
		begin, e := l.on(back - runIn)
		start := turn.Pose{At: begin.Add(e.Left().Scale(off[0])), Heading: geo.Heading(math.Atan2(e.Y, e.X))}
		if len(r.at) > 0 {
			way, err := turn.Dubins(last, start, leastRadius)
			if err != nil {
				return road{}, err
			}
			if err := way.Walk(grid, func(_ float64, at turn.Pose, _ float64, _ bool) {
				r.at, r.leg = append(r.at, at.At), append(r.leg, none)
			}); err != nil {
				return road{}, err
			}
		}
		for j := range n {
			at, e := l.on(back - runIn + grid*float64(j))
			r.at, r.leg = append(r.at, at.Add(e.Left().Scale(off[j]))), append(r.leg, int32(i))
			last = turn.Pose{At: r.at[len(r.at)-1], Heading: geo.Heading(math.Atan2(e.Y, e.X))}
		}
	}
	for s := grid; s <= away; s += grid { // a log ends with the tool lifted
		sin, cos := math.Sincos(float64(last.Heading))
		r.at, r.leg = append(r.at, last.At.Add(plane.XY{X: cos, Y: sin}.Scale(s))), append(r.leg, none)
	}
	return r, nil
}

// smooth is noise of deviation wander whose neighbours go together over wanderLength.
func smooth(rng *rand.Rand, n int) []float64 {
	const half = int(1.5 * wanderLength / grid)
	kernel := make([]float64, 2*half+1)
	square := 0.0
	for i := range kernel {
		x := float64(i-half) * grid / (wanderLength / 2)
		kernel[i] = math.Exp(-x * x / 2)
		square += kernel[i] * kernel[i]
	}
	white := make([]float64, (n+2*half)/coarse+2)
	for i := range white {
		white[i] = rng.NormFloat64()
	}
	out := make([]float64, n)
	for i := range out {
		for k := (coarse - i%coarse) % coarse; k < len(kernel); k += coarse {
			out[i] += kernel[k] * white[(i+k)/coarse]
		}
		out[i] *= wander * math.Sqrt(coarse/square)
	}
	return out
}

// coarse: of the noise that is smoothed one value in so many is drawn; the kernel is eighty times as wide.
const coarse = 4

// manner is what a driver does on one leg.
type manner struct {
	speed       float64 // m/s
	slowAt      float64 // share of the leg around which he goes slower
	slowBy      float64 // ... by this factor; 1: he does not
	inAt, outAt float64 // m: the bar is in so far behind the begin, out so far behind the end
}

func mannersOf(l Layout, late float64, rng *rand.Rand) []manner {
	out := make([]manner, len(l.Legs))
	for i, leg := range l.Legs {
		m := manner{speed: (6 + 4*rng.Float64()) / 3.6, slowBy: 1}
		if at, by := 0.2+0.6*rng.Float64(), 0.45+0.35*rng.Float64(); rng.Float64() < 0.5 {
			m.slowAt, m.slowBy = at, by
		}
		m.inAt, m.outAt = -lowering+lowering*rng.NormFloat64(), lowering+lowering*rng.NormFloat64()
		if leg.South {
			m.inAt += late
		}
		out[i] = m
	}
	return out
}
