package ground

import (
	"math"

	"balk/coverage/drive"
	"balk/geo/plane"
)

const (
	// anyFrame is the deviation of a shift between operations of which nothing is known beforehand: frames of satellites and of maps lie up to a
	// metre apart, and so do receivers with and without a correction. From memory.
	anyFrame = 0.5 // m
	// rimFar: nearer to the boundary than this a bar's end may be the work along it, shifted.
	rimFar = 2.0 // m
	// sideAside: along one side of a field two drivers keep on lines that lie so far apart, as a standard deviation. Common practice, no source.
	sideAside = 0.1 // m
	// sideTurn: a boundary that turns by more is another side; cos 20°.
	sideTurn = 0.9397
	// oneOff: a single place has as much of its own again, see rimHeld.
	oneOff = rimHeld / rimEvery
)

// Rim is how an operation lies along the boundary: for each place of it the gap between boundary and work, in metres.
type Rim map[int]rimGap

type rimGap struct {
	gap    float64
	normal plane.XY // of the boundary there, inward
}

// RimOf looks where passes run along the boundary.
func RimOf(field []plane.Polygon, p Passes) Rim {
	var edges plane.Edges
	edges.AddPolygons(field)
	before := make([]float64, edges.Len()) // m of boundary before an edge
	for k := 1; k < len(before); k++ {
		last := edges.At(int32(k - 1))
		before[k] = before[k-1] + last.A.Dist(last.B)
	}
	rim := Rim{}
	near := int32(0)
	for _, one := range p.Runs {
		last := math.Inf(-1)
		for _, stop := range one.Stops {
			if stop.S < last+rimEvery/2 || !stop.Next.Ground() {
				continue
			}
			last = stop.S
			for _, side := range [2]float64{1, -1} {
				out := stop.Left.Scale(side)
				end := stop.At.Add(out.Scale((one.Parts[stop.Part].Width - p.Work.Overlap) / 2))
				if !edges.Meet((plane.Box{Min: end, Max: end}).Grown(rimFar)) {
					continue
				}
				gap, k := edges.Signed(end, near)
				near = k
				e := edges.At(k)
				along := e.B.Sub(e.A).Unit()
				normal := along.Left()
				if math.Abs(gap) > rimFar || normal.Dot(out) >= 0 || math.Abs(along.Dot(out)) > rimAlong*out.Len() {
					continue
				}
				place := int((before[k] + e.Share(end)*e.A.Dist(e.B)) / rimEvery)
				if known, ok := rim[place]; !ok || gap < known.gap {
					rim[place] = rimGap{gap, normal}
				}
			}
		}
	}
	return rim
}

// Offset is how far one operation lies off another, all of it by one and the same way.
type Offset struct {
	By         plane.XY // m
	Doubt      float64  // m, 95 %, in the direction in which it is known less well
	xx, xy, yy float64  // m², the covariance
}

// Between fits how far operation b lies off operation a, from the gaps that both leave along the boundary at the same places. The
// boundary's own place falls out there. Errors are the pass-to-pass errors, m; 0: not known.
//
//	gap of b − gap of a on side i = habit + nᵢ·offset + how far their lines lie apart there,   nᵢ the side's normal, inward
//
// An offset beyond what receivers of these errors have between days is taken where the sides tell it against all doubt (another frame,
// another receiver). Else it is looked for among those that such receivers have.
func Between(a, b Rim, errorA, errorB float64) Offset {
	sides := sidesOf(a, b)
	day := math.Hypot(errorA, errorB) * dayPerSlow * perPassError
	if errorA == 0 || errorB == 0 {
		day = anyFrame
	}
	if wide := offsetBy(sides, math.Hypot(day, anyFrame)); wide.By.Len() > max(wide.Doubt, math.Sqrt2*drive.In95*day) {
		return wide
	}
	return offsetBy(sides, day)
}

// sideGap is what two operations differ by along one side of a field.
type sideGap struct {
	normal plane.XY
	gaps   []float64 // m, of b less a, at each place
}

// sidesOf are the sides along which both lie, in the order of the boundary.
func sidesOf(a, b Rim) (sides []sideGap) {
	last := -1
	for place := range a {
		last = max(last, place)
	}
	for place := range last + 1 {
		one, ok := a[place]
		other, both := b[place]
		if !ok || !both {
			continue
		}
		if n := len(sides); n == 0 || sides[n-1].normal.Dot(one.normal) < sideTurn {
			sides = append(sides, sideGap{normal: one.normal})
		}
		s := &sides[len(sides)-1]
		s.gaps = append(s.gaps, other.gap-one.gap)
	}
	return sides
}

// offsetBy is the offset by weighted least squares, taken for normal with a deviation of day, m, before any side tells it.
func offsetBy(sides []sideGap, day float64) (o Offset) {
	// Habit is taken out first (Frisch and Waugh 1933): from gaps and normals their weighted means, to which the boundary itself adds a gap of 0.
	const own = 1 / (rimHabit * rimHabit)
	weigh := func(s sideGap) float64 {
		return 1 / (sideAside * sideAside * (1 + oneOff/float64(len(s.gaps))))
	}
	sum, gap := own, 0.0
	var normal plane.XY
	middle := make([]float64, len(sides))
	for i, s := range sides {
		w := weigh(s)
		n := len(s.gaps)
		middle[i] = (drive.Nth(s.gaps, n/2) + drive.Nth(s.gaps, (n-1)/2)) / 2
		sum, gap, normal = sum+w, gap+w*middle[i], normal.Add(s.normal.Scale(w))
	}
	gap, normal = gap/sum, normal.Scale(1/sum)
	xx, xy, yy := 1/(day*day)+own*normal.X*normal.X, own*normal.X*normal.Y, 1/(day*day)+own*normal.Y*normal.Y
	right := normal.Scale(own * gap)
	for i, s := range sides {
		w, n := weigh(s), s.normal.Sub(normal)
		xx, xy, yy = xx+w*n.X*n.X, xy+w*n.X*n.Y, yy+w*n.Y*n.Y
		right = right.Add(n.Scale(w * (middle[i] - gap)))
	}
	det := xx*yy - xy*xy
	o.xx, o.xy, o.yy = yy/det, -xy/det, xx/det
	o.By = plane.XY{X: o.xx*right.X + o.xy*right.Y, Y: o.xy*right.X + o.yy*right.Y}
	// The larger eigenvalue of the covariance.
	o.Doubt = drive.In95 * math.Sqrt((o.xx+o.yy)/2+math.Hypot((o.xx-o.yy)/2, o.xy))
	return o
}

// Open is how far along a unit vector the offset may be at 95 %: what it is there, and its doubt there.
func (o Offset) Open(along plane.XY) float64 {
	return math.Abs(o.By.Dot(along)) + drive.In95*math.Sqrt(o.xx*along.X*along.X+2*o.xy*along.X*along.Y+o.yy*along.Y*along.Y)
}
