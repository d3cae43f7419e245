package slope

import (
	"math"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
)

// Height is where an antenna was, and how high, m. Heights of one line, logged in one go, err alike.
type Height struct {
	At     plane.XY
	Z      float64
	Line   int
	Weight float64 // above 0: 1/variance, in any unit
}

const (
	apart  = 2.0  // m of way between heights that are kept: a slope bends over tens of metres
	reach  = 25.0 // m about a place, over which the ground is taken for a plane: some passes to each side
	fewest = 4    // lines there at least: a plane takes three, and the rest tell its error
	spread = 5.0  // m, standard deviation of the places both ways at least
	// worstError is the pass-to-pass error of a fix of which nothing is known, m: that of the worst receivers. Only how errors compare counts here,
	// and in height they do as they do across (common practice, no source).
	worstError = 1.0
)

// HeightsOf are those of a log, thinned; none where it has none.
func HeightsOf(log []drive.Stretch) (all []Height) {
	for k, s := range log {
		last := -1
		for i, p := range s.Line {
			if i >= len(s.Height) || math.IsNaN(s.Height[i]) || last >= 0 && p.Dist(s.Line[last]) < apart {
				continue
			}
			all, last = append(all, Height{p, s.Height[i], k, weight(s.Quality, i)}), i
		}
	}
	return all
}

func weight(quality []geo.Quality, i int) float64 {
	e := worstError
	if i < len(quality) {
		if known := drive.ErrorOf(quality[i]); !math.IsNaN(known) {
			e = known
		}
	}
	return 1 / (e * e)
}

// Surface is the ground by some heights. The zero value knows none.
type Surface struct {
	heights []Height
	cells   map[[2]int32][]int32 // indices of heights, by squares as wide as reach
}

// Of is the surface through some heights.
func Of(heights []Height) *Surface {
	s := &Surface{heights, map[[2]int32][]int32{}}
	for i, h := range heights {
		c := cell(h.At)
		s.cells[c] = append(s.cells[c], int32(i))
	}
	return s
}

func cell(p plane.XY) [2]int32 {
	return [2]int32{int32(math.Floor(p.X / reach)), int32(math.Floor(p.Y / reach))}
}

// Lie is how the ground lies at a place.
type Lie struct {
	Z          float64  // m, of the plane there
	Rise       plane.XY // m per m: the gradient
	xx, xy, yy float64  // of its variance
	aside      float64  // m to the middle of the heights it is from
}

// Along is how the ground rises along u, a unit vector, m per m, and the standard error of that.
func (l Lie) Along(u plane.XY) (rise, err float64) {
	return l.Rise.Dot(u), math.Sqrt(max(0, l.xx*u.X*u.X+2*l.xy*u.X*u.Y+l.yy*u.Y*u.Y))
}

// Steep is how the ground rises where it rises most, m per m, and the standard error of that.
func (l Lie) Steep() (rise, err float64) {
	if l.Rise == (plane.XY{}) {
		return l.Along(plane.XY{X: 1})
	}
	return l.Along(l.Rise.Unit())
}

// between is the lie a share of the way from l to m.
func (l Lie) between(m Lie, share float64) Lie {
	mix := func(a, b float64) float64 { return a + share*(b-a) }
	return Lie{mix(l.Z, m.Z), l.Rise.Lerp(m.Rise, share), mix(l.xx, m.xx), mix(l.xy, m.xy), mix(l.yy, m.yy), mix(l.aside, m.aside)}
}

// At is how the ground lies at p: by the plane through the heights within reach of it, their squares of error least. At the rim of what was driven that
// is how it lies some metres farther in. ok is false where too little is known there. At satisfies: (1) heights of a plane have its rise everywhere, with no error; (2) moving and turning all moves and turns it; (3) one height more,
// of hardly any weight, changes nothing.
func (s *Surface) At(p plane.XY) (l Lie, ok bool) { return s.at(p, -1) }

// at leaves one line out.
//
// With weights w, places p and heights z from their weighted means, and M = Σ w·p·pᵀ, the gradient is g = M⁻¹·Σ w·p·z (least squares, textbook form), its
// variance s²·M⁻¹ with s² = Σ w·rest²/(L − 3): heights of a line err alike, so that lines are counted, L of them, and not fixes.
func (s *Surface) at(p plane.XY, without int) (l Lie, ok bool) {
	if s == nil || len(s.heights) == 0 {
		return Lie{}, false
	}
	var near []int32
	c := cell(p)
	for i := c[0] - 1; i <= c[0]+1; i++ {
		for j := c[1] - 1; j <= c[1]+1; j++ {
			for _, k := range s.cells[[2]int32{i, j}] {
				if h := s.heights[k]; h.Line != without && h.At.Dist(p) <= reach {
					near = append(near, k)
				}
			}
		}
	}
	var mean plane.XY
	n, z := 0.0, 0.0
	var lines []int // few: looked through from the last one
	for _, k := range near {
		h := s.heights[k]
		mean, z, n = mean.Add(h.At.Sub(p).Scale(h.Weight)), z+h.Weight*h.Z, n+h.Weight
		lines = seen(lines, h.Line)
	}
	if len(lines) < fewest {
		return Lie{}, false
	}
	mean, z = mean.Scale(1/n), z/n
	var xx, xy, yy, xz, yz float64
	for _, k := range near {
		h := s.heights[k]
		q, d, w := h.At.Sub(p).Sub(mean), h.Z-z, h.Weight
		xx, xy, yy = xx+w*q.X*q.X, xy+w*q.X*q.Y, yy+w*q.Y*q.Y
		xz, yz = xz+w*q.X*d, yz+w*q.Y*d
	}
	det := xx*yy - xy*xy
	if least := n * spread * spread; !(det > least*least) { // the product of the variances along both axes
		return Lie{}, false
	}
	g := plane.XY{X: (yy*xz - xy*yz) / det, Y: (xx*yz - xy*xz) / det}
	rest := 0.0
	for _, k := range near {
		h := s.heights[k]
		d := h.Z - z - h.At.Sub(p).Sub(mean).Dot(g)
		rest += h.Weight * d * d
	}
	v := rest / (float64(len(lines)) - 3) / det
	return Lie{z - mean.Dot(g), g, v * yy, -v * xy, v * xx, mean.Len()}, true
}

// seen is lines with one more where it is not among them.
func seen(lines []int, one int) []int {
	for k := len(lines) - 1; k >= 0; k-- {
		if lines[k] == one {
			return lines
		}
	}
	return append(lines, one)
}

// step is how far apart planes are fitted along a way, m; between them the lie changes evenly.
const step = 5.0

// Along is how the ground lies at every point of a line, by planes that are step apart. known says where it is known.
func (s *Surface) Along(line []plane.XY) (lies []Lie, known []bool) {
	lies, known = make([]Lie, len(line)), make([]bool, len(line))
	last, way := 0, 0.0
	for i, p := range line {
		if i > 0 {
			way += p.Dist(line[i-1])
		}
		if i > 0 && way < step && i < len(line)-1 {
			continue
		}
		lies[i], known[i] = s.At(p)
		if known[last] && known[i] {
			at := 0.0
			for k := last + 1; k < i; k++ {
				at += line[k].Dist(line[k-1])
				lies[k], known[k] = lies[last].between(lies[i], at/way), true
			}
		}
		last, way = i, 0
	}
	return lies, known
}

// mostLeftOut: so many heights, spread evenly over the log, are foretold by LeftOut; their mean square is then known to a tenth.
const mostLeftOut = 500

// LeftOut is by how much heights lie off the planes through those of all other lines, m: the root of the mean square; 0 where there are none.
func (s *Surface) LeftOut() float64 {
	sum, n := 0.0, 0.0
	every := max(1, len(s.heights)/mostLeftOut)
	for k := every / 2; k < len(s.heights); k += every {
		h := s.heights[k]
		if l, ok := s.at(h.At, h.Line); ok {
			sum, n = sum+(h.Z-l.Z)*(h.Z-l.Z), n+1
		}
	}
	return math.Sqrt(sum / max(n, 1))
}

// mesh is how wide the squares are by which ground along the slope is summed, m.
const mesh = 5.0

// Ground is the share of some polygons in which the slope is known, and how many times as large as on the map that ground is along the slope: by squares
// of mesh, of which one counts where its middle lies inside.
//
// Ground of dA on the map is √(1 + g²)·dA along a slope g (textbook form).
func (s *Surface) Ground(shapes []plane.Polygon) (known, times float64) {
	var edges plane.Edges
	edges.AddPolygons(shapes)
	box := plane.EmptyBox()
	for _, p := range shapes {
		box = box.Extend(p[0]...)
	}
	all, sum := 0.0, 0.0
	for x := box.Min.X + mesh/2; x < box.Max.X; x += mesh {
		for y := box.Min.Y + mesh/2; y < box.Max.Y; y += mesh {
			p := plane.XY{X: x, Y: y}
			if !edges.Holds(p) {
				continue
			}
			all++
			if l, ok := s.At(p); ok {
				known, sum = known+1, sum+math.Sqrt(1+l.Rise.Dot(l.Rise))
			}
		}
	}
	if known == 0 {
		return 0, 1
	}
	return known / all, sum / known
}
