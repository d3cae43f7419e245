package coverage

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/geo/plane"
)

// touching: a point of a strip's rim touches a swath or the boundary when it
// lies no farther from it; the swath's edge is a chord in bends.
const touching = 0.05 // m

// chunkSteps is how many steps of a pass, or edges of a ring, go into one box of
// the tree.
const chunkSteps = 16

// side is a step of a pass, or an edge of the boundary, that ground can lie beside.
type side struct {
	plane.Segment
	half       float64 // m, half the credited width; 0 for the boundary
	pass       int     // number of the pass; 0 for the boundary
	hole       bool    // edge of an obstacle
	first, end bool    // the pass begins at a, ends at b
	blind      bool    // its pass-to-pass error is not known
	narrow     bool    // part of the bar was lifted or folded
	unsided    bool    // ... and the log does not say on which side
}

// chunk is some steps of a pass or edges of a ring.
type chunk struct {
	line     sider
	from, to int
	around   plane.Box // all that can touch them
}

// A sider has sides by number; ok is false where the bar works nothing.
type sider interface {
	side(i int) (s side, ok bool)
	touched(near []side, from, to int, q plane.XY) []side // appends those of from..to-1 that q touches, and perhaps others
}

// mayTouch is false where q surely lies beside no part of the step from a to b, or farther off than half.
func mayTouch(a, b, q plane.XY, half float64) bool {
	e, v := b.Sub(a), q.Sub(a)
	l2, along, off := e.Dot(e), e.Dot(v), e.Cross(v)
	// As in touch, without roots: along·|along| ≥ −t²·l² and so on, with a margin for rounding.
	const t2 = 1.01 * touching * touching
	if along < 0 {
		return along*along <= t2*l2 && off*off <= 1.01*half*half*l2
	}
	beyond := along - l2
	return (beyond <= 0 || beyond*beyond <= t2*l2) && off*off <= 1.01*half*half*l2
}

// passSides are the steps of a pass.
type passSides struct {
	run            drive.Run
	whole, overlap float64 // m, working width of the whole bar, and planned lap
}

func (p *passSides) side(i int) (side, bool) {
	stops := p.run.Stops
	if stops[i].Next != drive.StepWorked {
		return side{}, false
	}
	a, b, half := stops[i], stops[i+1], p.half(i)
	return side{
		Segment: plane.Segment{A: a.At, B: b.At}, half: half, pass: p.run.Pass.Number,
		narrow:  half < (p.whole-p.overlap)/2-touching,
		unsided: p.run.Parts[a.Part].Unsided || p.run.Parts[b.Part].Unsided,
		blind:   math.IsNaN(p.run.Parts[a.Part].PassError + p.run.Parts[b.Part].PassError),
		first:   i == 0 || !stops[i-1].Next.Ground(), end: i+2 == len(stops) || !b.Next.Ground(),
	}, true
}

// half is half the credited width of the bar along a step, m.
func (p *passSides) half(i int) float64 {
	parts, a, b := p.run.Parts, p.run.Stops[i].Part, p.run.Stops[i+1].Part
	return (max(parts[a].Width, parts[b].Width) - p.overlap) / 2
}

func (p *passSides) touched(near []side, from, to int, q plane.XY) []side {
	for i := from; i < to; i++ {
		if a, b := &p.run.Stops[i], &p.run.Stops[i+1]; mayTouch(a.At, b.At, q, p.half(i)+touching) {
			if h, ok := p.side(i); ok {
				near = append(near, h)
			}
		}
	}
	return near
}

// ringSides are the edges of a ring of the boundary.
type ringSides struct {
	ring plane.Ring
	hole bool
}

func (r *ringSides) side(i int) (side, bool) {
	return side{Segment: plane.Segment{A: r.ring[i], B: r.ring[(i+1)%len(r.ring)]}, hole: r.hole}, true
}

func (r *ringSides) touched(near []side, from, to int, q plane.XY) []side {
	for i := from; i < to; i++ {
		if h, _ := r.side(i); mayTouch(h.A, h.B, q, touching) {
			near = append(near, h)
		}
	}
	return near
}

// surroundings answers what lies around a place.
type surroundings struct {
	tree  plane.Tree[chunk]
	step  float64         // m between the points of a rim that are looked at
	began map[int]float64 // m of travel at which a pass began
}

// surroundingsOf puts passes and boundary into a tree, some steps to a box.
func surroundingsOf(runs []drive.Run, field []plane.Polygon, w drive.Work) *surroundings {
	s := &surroundings{step: w.Credited() / 4, began: map[int]float64{}}
	for _, r := range runs {
		s.began[r.Pass.Number] = r.Stops[0].S
		s.insert(&passSides{r, w.Width, w.Overlap}, len(r.Stops)-1)
	}
	for _, p := range field {
		for k, ring := range p {
			s.insert(&ringSides{ring, k > 0}, len(ring))
		}
	}
	return s
}

func (s *surroundings) insert(line sider, n int) {
	for from := 0; from < n; from += chunkSteps {
		to := min(n, from+chunkSteps)
		box, half, any := plane.EmptyBox(), 0.0, false
		for i := from; i < to; i++ {
			if h, ok := line.side(i); ok {
				box, half, any = box.Extend(h.A, h.B), max(half, h.half), true
			}
		}
		if half += touching; any {
			box = box.Grown(half)
			s.tree.Insert(box, chunk{line, from, to, box})
		}
	}
}

// contact is what the rim of a strip touches, in points of the rim.
type contact struct {
	points               int
	outer, hole          int     // on the boundary, on an obstacle
	ends                 int     // on the flat end of a pass and no side
	narrow               int     // on the side of a bar of which a part was lifted
	unsided              bool    // somewhere the log does not say on which side that was
	blind                bool    // somewhere on a pass whose error is not known
	touched              []int   // numbers of the passes
	alongside, rim, caps ways    // of the sides touched, of the boundary, of the passes that end
	near                 []side  // reused
	held                 []chunk // reused: those that may touch a place of the rim near by
}

// ways are directions, each with the number of points of a rim that it was met from.
type ways []way

type way struct {
	dir    plane.XY
	points int
}

// add counts a point more. Points that follow each other mostly meet the same few sides.
func (w *ways) add(dir plane.XY) {
	const few = 8
	for i := len(*w) - 1; i >= max(0, len(*w)-few); i-- {
		if one := &(*w)[i]; one.dir == dir {
			one.points++
			return
		}
	}
	*w = append(*w, way{dir, 1})
}

// points is how many there are in all.
func (w ways) points() int {
	n := 0
	for _, one := range w {
		n += one.points
	}
	return n
}

// clear empties c and keeps its room.
func (c *contact) clear() {
	*c = contact{touched: c.touched[:0], alongside: c.alongside[:0], rim: c.rim[:0], caps: c.caps[:0], near: c.near[:0], held: c.held[:0]}
}

const (
	fewSides = 48 // so many sides are looked at one by one for every point of a rim
	nextOnes = 4  // so many points of a rim, at the least, are looked up at once in the tree
)

// contact notes in c what the rim of p touches, at points a quarter of the credited width apart
// or closer (at least 12 of them).
func (s *surroundings) contact(c *contact, p plane.Polygon) {
	c.clear()
	all := s.within(c, p[0].Bounds())
	step := min(s.step, p.Perimeter()/12)
	nearby := plane.EmptyBox() // for which c.held was looked up
	for _, r := range p {
		ahead := step / 2 // way to the next point
		for i, a := range r {
			b := r[(i+1)%len(r)]
			l := a.Dist(b)
			for ; ahead <= l && l > 0; ahead += step {
				q := a.Lerp(b, ahead/l)
				if !all {
					here := plane.Box{Min: q, Max: q}
					if !nearby.Meets(here) {
						nearby, c.held = here.Grown(nextOnes*step), c.held[:0]
						for held := range s.tree.In(nearby) {
							c.held = append(c.held, held)
						}
					}
					c.near = c.near[:0]
					for k := range c.held {
						if held := &c.held[k]; held.around.Meets(here) {
							c.near = held.line.touched(c.near, held.from, held.to, q)
						}
					}
				}
				c.touch(q)
			}
			ahead -= l
		}
	}
}

// within notes the sides that may be touched somewhere in a box, in the order
// of passes and boundary; false: there are more than a few.
func (s *surroundings) within(c *contact, box plane.Box) bool {
	for held := range s.tree.In(box) {
		for i := held.from; i < held.to; i++ {
			if h, ok := held.line.side(i); ok && h.Box().Grown(h.half+touching).Meets(box) {
				if len(c.near) == fewSides {
					return false
				}
				c.near = append(c.near, h)
			}
		}
	}
	return true
}

// touch notes what one point of the rim touches.
func (c *contact) touch(q plane.XY) {
	c.points++
	var onOuter, onHole, onSide, onEnd, onNarrow bool
	var few [8]int
	var ending plane.XY
	found := few[:0] // the passes alongside; grows beyond eight if it must
	for _, h := range c.near {
		e, v := h.B.Sub(h.A), q.Sub(h.A)
		l := math.Sqrt(e.Dot(e))
		along, off := e.Dot(v)/l, math.Abs(e.Cross(v))/l
		if !(along >= -touching && along <= l+touching && off <= h.half+touching) {
			continue
		}
		d := e.Scale(1 / l)
		if h.pass == 0 {
			onOuter, onHole = onOuter || !h.hole, onHole || h.hole
			c.rim.add(d)
			continue
		}
		c.blind = c.blind || h.blind
		if !slices.Contains(c.touched, h.pass) {
			c.touched = append(c.touched, h.pass)
		}
		if off < h.half-touching && (h.first && along <= touching || h.end && along >= l-touching) {
			onEnd, ending = true, d
			continue
		}
		onNarrow, c.unsided = onNarrow || h.narrow, c.unsided || h.narrow && h.unsided
		if onSide = true; !slices.Contains(found, h.pass) {
			found = append(found, h.pass)
			c.alongside.add(d)
		}
	}
	switch {
	case onHole:
		c.hole++
	case onOuter:
		c.outer++
	}
	if onEnd && !onSide {
		c.ends++
		c.caps.add(ending)
	}
	if onNarrow {
		c.narrow++
	}
}

// passes are the numbers of the passes touched, ascending.
func (c *contact) passes() []int {
	out := slices.Clone(c.touched)
	slices.Sort(out)
	return out
}

// Shares and angles of the rules below (own choice, tried on drawn cases).
const (
	nearly    = 0.95    // of the credited width: a pass was left out
	muchOfRim = 0.2     // of the rim's points, on boundary or obstacle
	someOfRim = 0.1     // of the rim's points, on ends of passes
	partOfRim = 0.25    // of the rim's points, beside a bar lifted in part: half of a long side
	compact   = 4.0     // credited widths: a corner's strip is not longer
	sin45     = 0.70711 // directions farther apart than 45° make a corner
	sin15     = 0.25882 // a pass that meets a line at 15° to 75° meets it obliquely
	sin75     = 0.96593
	wedged    = 0.0175 // rad, 1°: passes that drift apart do so at less
	pointed   = 0.75   // of its greatest width: a wedge has half of it in the mean, a drift more
)

// cause is the likely reason of a missed strip, log gaps aside (see doubtGaps). The first rule that fits:
//
//  1. a whole pass nearly fits in (greatest width ≥ 0.95 × credited width) and no
//     pass ends at it (a tenth of its rim), or it is a row, with what row ends beside
//     it left hanging on (see leftOut): not driven;
//  2. a fifth of its rim lies on an obstacle: obstacle;
//  3. it is short, and boundary or passes along it turn by more than 45°, and no
//     pass ends at it: corner;
//  4. passes end at it: point row where they meet the
//     boundary or the pass across at 15° to 75°, else lifted early or lowered late;
//  5. a fifth of its rim lies on the boundary: boundary edge;
//  6. a quarter of its rim lies on the side of a bar narrower than the whole: part of the bar was lifted;
//  7. passes run along it: point row where it is a long wedge between passes
//     that meet at 1° to 75° (rows along a headland that is not parallel to
//     them), else drift between passes;
//  8. it touches the boundary: boundary edge; else not driven.
func (c *contact) cause(s Strip, credited float64) Cause {
	n := float64(max(c.points, 1))
	ended := float64(c.ends) >= someOfRim*n
	short := s.Length <= compact*credited
	switch {
	case s.MaxWidth >= nearly*credited && (!ended || c.leftOut(s, credited)):
		return CauseUndriven
	case float64(c.hole) >= muchOfRim*n:
		return CauseObstacle
	case !ended && short && (c.rim.spread() || c.alongside.spread()):
		return CauseCorner
	case ended && c.oblique():
		return CausePoint
	case ended:
		return CauseLift
	case float64(c.outer) >= muchOfRim*n:
		return CauseEdge
	case float64(c.narrow) >= partOfRim*n:
		return CausePart
	case c.wedge(s, credited):
		return CausePoint
	case len(c.alongside) > 0:
		return CauseDrift
	case c.outer > 0:
		return CauseEdge
	}
	return CauseUndriven
}

// leftOut says whether a strip at which passes end is a row that was left out, and some ground more at the ends of those: it is not as wide as two rows, and
// lies beside passes that run as these do for longer than a strip at row ends is.
//
//	── ─── ── ─── ──   ends of rows
//	───────┐ ┌──────
//	│ │ │ │ ░ │ │ │    ░ not driven
func (c *contact) leftOut(s Strip, credited float64) bool {
	if s.MaxWidth >= 2*credited {
		return false
	}
	along := 0
	for _, one := range c.alongside {
		if math.Abs(one.dir.Cross(c.caps[0].dir)) <= sin15 {
			along += one.points
		}
	}
	return float64(along)/float64(c.points)*s.Shape.Perimeter() >= 2*compact*credited
}

// wedge says whether the strip is long, runs to a point, and lies between passes
// at an angle: the quartiles of the directions along its rim.
func (c *contact) wedge(s Strip, credited float64) bool {
	n := c.alongside.points()
	if n < 8 || len(c.touched) < 2 || s.Length < 2*credited || s.MeanWidth > pointed*s.MaxWidth {
		return false
	}
	first := c.alongside[0].dir
	turns := make([]turned, len(c.alongside))
	for i, w := range c.alongside {
		if w.dir.Dot(first) < 0 {
			w.dir = w.dir.Scale(-1)
		}
		turns[i] = turned{math.Asin(min(max(first.Cross(w.dir), -1), 1)), w.points}
	}
	slices.SortFunc(turns, func(a, b turned) int { return cmp.Compare(a.by, b.by) })
	at := func(k int) float64 { // of the k-th point
		i := 0
		for ; k >= turns[i].points; i++ {
			k -= turns[i].points
		}
		return turns[i].by
	}
	between := at(3*n/4) - at(n/4)
	if between < wedged || between > math.Asin(sin75) {
		return false
	}
	// the sides of a wedge part by length × angle; noise in the steps does not add up
	open := s.Length * math.Tan(between)
	return s.MaxWidth >= open/2 && s.MaxWidth <= open*2
}

// turned is by how much a direction is turned, rad, and from how many points it was met.
type turned struct {
	by     float64
	points int
}

// spread says whether two of the directions (either way) differ by more than 45°.
func (w ways) spread() bool {
	for _, one := range w {
		if math.Abs(w[0].dir.Cross(one.dir)) > sin45 {
			return true
		}
	}
	return false
}

// oblique says whether most of the lines across the ended passes' way meet it at
// 15° to 75°. The boundary counts where the strip touches it, else the sides of
// other passes.
func (c *contact) oblique() bool {
	lines := c.rim
	if len(lines) == 0 {
		lines = c.alongside
	}
	across, slant := 0, 0
	for _, l := range lines {
		sin := math.Abs(l.dir.Cross(c.caps[0].dir))
		if sin < sin15 {
			continue // runs with the pass
		}
		if across += l.points; sin <= sin75 {
			slant += l.points
		}
	}
	return 2*slant > across
}
