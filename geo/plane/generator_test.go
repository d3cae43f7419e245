package plane

import (
	"math"
	"math/rand/v2"
)

// operation is a finished piece of work, invented: a field, two headland rounds
// and passes in curves, worked 5.00 m wide at a spacing of 4.97 m by a receiver
// that wanders 2 cm, some passes driven twice, with stops at which the tool
// stayed down. Lane 0 is the field, lane 1 the work.
type operation struct {
	outlines []Outline // the field first, then one outline for each pass
	fixes    int
}

const (
	barWidth    = 5.00 // m
	barSpacing  = 4.97 // m between neighbouring passes
	wander      = 0.02 // m, root mean square
	everyTwice  = 25   // one pass in so many is driven again
	everyStop   = 400  // fixes between stops
	stopFixes   = 8    // fixes logged at a stop
	stopCreep   = 1e-3 // m from fix to fix at a stop
	denseFixes  = 1e6  // from here on a 10 Hz receiver: 0.25 m a fix instead of 2.5 m
	fieldBend   = 3.0  // m the passes bend to either side
	fieldTurned = 0.41 // rad the field is turned against the axes
)

// newOperation makes an operation of about so many fixes; the true number is in
// the result. Same arguments, same operation.
func newOperation(fixes int, seed uint64) operation {
	step := 2.5
	if float64(fixes) >= denseFixes {
		step = 0.25
	}
	side := math.Sqrt(float64(fixes) * step * barSpacing / (1 + 1.0/everyTwice + stopFixes/float64(everyStop)))
	g := &generator{rng: rand.New(rand.NewPCG(seed, 7)), step: step, width: side, height: side}

	var field Ring
	corners := []XY{{0, 0}, {side, 0}, {side, side}, {0, side}}
	for i, a := range corners {
		b := corners[(i+1)%4]
		n := max(1, int(side/40))
		for k := range n {
			field = append(field, a.Lerp(b, float64(k)/float64(n)).Add(XY{0.1 * g.rng.Float64(), 0.1 * g.rng.Float64()}))
		}
	}
	g.add(Outline{Line: field, Lane: 0})

	const rounds = 2
	for k := range rounds {
		g.pass(g.round(barWidth/2 + float64(k)*barSpacing))
	}
	inner := rounds*barSpacing + 0.03
	n := int((side - 2*inner) / barSpacing)
	for k := range n {
		y := inner + barWidth/2 + float64(k)*barSpacing
		// The first and last passes run straight along the headland, those
		// between bend more and more.
		bend := fieldBend * math.Sin(math.Pi*float64(k)/float64(max(1, n-1)))
		line := g.bent(y, inner-0.5, side-inner+0.5, bend)
		g.pass(line)
		if k%everyTwice == everyTwice/2 {
			g.pass(line)
		}
	}
	return operation{g.outlines, g.fixes}
}

type generator struct {
	rng           *rand.Rand
	step          float64
	width, height float64
	outlines      []Outline
	fixes         int
}

// bent is a pass from x = from to x = to about the height y, every second one
// driven back.
func (g *generator) bent(y, from, to, bend float64) []XY {
	n := max(2, int((to-from)/g.step))
	line := make([]XY, n+1)
	for i := range line {
		t := float64(i) / float64(n)
		line[i] = XY{from + t*(to-from), y + bend*math.Sin(2*math.Pi*t)}
	}
	if len(g.outlines)%2 == 1 {
		for i, j := 0, n; i < j; i, j = i+1, j-1 {
			line[i], line[j] = line[j], line[i]
		}
	}
	return line
}

// round is a headland round, counter-clockwise, its middle so far inside the
// boundary, with corners of 6 m radius. It ends a little before it begins.
func (g *generator) round(in float64) []XY {
	const radius, gap = 6.0, 1.0
	w, h := g.width-2*in, g.height-2*in
	straights := [4]float64{w - 2*radius, h - 2*radius, w - 2*radius, h - 2*radius}
	at := func(s float64) XY {
		p, dir := XY{in + radius, in}, XY{1, 0}
		for _, l := range straights {
			if s <= l {
				return p.Add(dir.Scale(s))
			}
			s -= l
			p = p.Add(dir.Scale(l))
			turn := min(s/radius, math.Pi/2)
			c := p.Add(dir.Left().Scale(radius))
			if s <= radius*math.Pi/2 {
				return c.Add(rotate(p.Sub(c), turn))
			}
			s -= radius * math.Pi / 2
			p, dir = c.Add(p.Sub(c).Left()), dir.Left()
		}
		return p
	}
	length := 2*w + 2*h - 8*radius + 2*math.Pi*radius
	start := straights[0] / 2
	n := max(8, int((length-gap)/g.step))
	line := make([]XY, n+1)
	for i := range line {
		line[i] = at(math.Mod(start+float64(i)/float64(n)*(length-gap), length))
	}
	return line
}

// pass drives a line: wander, stops, bars, outline.
func (g *generator) pass(line []XY) {
	type wave struct{ k, phase float64 }
	waves := make([]wave, 4)
	for i := range waves {
		waves[i] = wave{2 * math.Pi / (25 + 150*g.rng.Float64()), 2 * math.Pi * g.rng.Float64()}
	}
	amplitude := wander * math.Sqrt(2/float64(len(waves)))
	driven := make([]XY, len(line))
	s := 0.0
	for i, p := range line {
		if i > 0 {
			s += p.Dist(line[i-1])
		}
		off := 0.0
		for _, w := range waves {
			off += amplitude * math.Sin(w.k*s+w.phase)
		}
		driven[i] = p.Add(line[min(i+1, len(line)-1)].Sub(line[max(i-1, 0)]).Unit().Left().Scale(off))
	}
	var left, right []XY
	for i, p := range driven {
		forward := driven[min(i+1, len(driven)-1)].Sub(driven[max(i-1, 0)]).Unit()
		n := 1
		if (g.fixes+i)%everyStop == everyStop-1 {
			n = stopFixes
		}
		for k := range n {
			c := p.Add(forward.Scale(float64(k) * stopCreep))
			left = append(left, c.Add(forward.Left().Scale(barWidth/2)))
			right = append(right, c.Sub(forward.Left().Scale(barWidth/2)))
		}
	}
	g.fixes += len(left)
	for i := len(left) - 1; i >= 0; i-- {
		right = append(right, left[i])
	}
	g.add(Outline{Line: right, Lane: 1})
}

func (g *generator) add(o Outline) {
	centre := XY{g.width / 2, g.height / 2}
	for i, p := range o.Line {
		o.Line[i] = Snap(rotate(p.Sub(centre), fieldTurned))
	}
	g.outlines = append(g.outlines, o)
}

// Classes of a balance: ground of the field worked 0, 1, 2, 3, 4 or more times,
// ground outside it worked 1, 2, 3, 4 or more times.
const (
	missedClass  Class = 1
	onceClass    Class = 2
	twiceClass   Class = 3
	outsideClass Class = 6
)

func balanceOf(c counts) Class {
	worked := Class(min(abs(c[1]), 4))
	switch {
	case c[0] != 0:
		return missedClass + worked
	case worked > 0:
		return outsideClass + worked - 1
	}
	return 0
}

func balanceClass(l Label) Class { return balanceOf(exactCounts(l)) }

// The layers a user sees: what was missed, and what was worked twice or more.
var (
	missedLayer ClassSet = 1 << missedClass
	doubleLayer ClassSet = 1<<twiceClass | 1<<(twiceClass+1) | 1<<(twiceClass+2)
)

// doubleArea is the area of doubleLayer.
func doubleArea(area [16]float64) float64 {
	return area[twiceClass] + area[twiceClass+1] + area[twiceClass+2]
}
