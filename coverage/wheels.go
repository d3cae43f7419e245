package coverage

import (
	"math"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo/plane"
)

// Trodden is ground of a field on which a set drives: what was cut, and what of that tyres ran over later, which presses plants back. It is counted on
// cells, each by its middle: of lines that cross them anyhow the count errs by less than a cell along each rim. Cut last, a cell counts as cut.
type Trodden struct {
	field   []plane.Polygon
	tractor []rig.Tyre
	own     []rig.Tyre // of the implement
	behind  bool       // these run on what the bar has cut
	trailed bool       // and with the tool lifted too
	box     plane.Box
	cell    float64
	across  int
	cells   []uint8
}

const (
	troddenCell = 0.1  // m: a fifth of a narrow tyre
	mostCells   = 16e6 // a byte each; beyond, cells are larger
	cellCut     = 1
	cellTrodden = 2
)

// NewTrodden is a field of which nothing is cut; nil where no tyres of the set are known.
func NewTrodden(field []plane.Polygon, w drive.Work) *Trodden {
	own, behind := w.Body.OwnTyres(w.Mount)
	d := &Trodden{field: field, tractor: w.Tractor.Tyres(), own: own, behind: behind, trailed: w.Mount.Trailed, box: plane.EmptyBox()}
	if len(d.tractor)+len(d.own) == 0 {
		return nil
	}
	for _, p := range field {
		d.box = d.box.Extend(p[0]...)
	}
	size := d.box.Max.Sub(d.box.Min)
	d.cell = max(troddenCell, math.Sqrt(size.X*size.Y/mostCells))
	d.across = int(size.X/d.cell) + 1
	d.cells = make([]uint8, d.across*(int(size.Y/d.cell)+1))
	return d
}

// Drive has the set go along a line with the tool lifted: ground that was cut is trodden then.
func (d *Trodden) Drive(line []plane.XY) {
	d.tread(line, d.tractor)
	if d.trailed {
		d.tread(line, d.own)
	}
}

// Work has the set work a run, its tractor on a line: ground is trodden by the tractor, which goes ahead, then cut, and trodden by tyres behind the bar.
func (d *Trodden) Work(line []plane.XY, r drive.Run) {
	d.tread(line, d.tractor)
	if !d.behind {
		d.tread(r.Pass.Line, d.own)
	}
	d.cut(r)
	if d.behind {
		d.tread(r.Pass.Line, d.own)
	}
}

// tread has tyres go along a line.
func (d *Trodden) tread(line []plane.XY, tyres []rig.Tyre) {
	for i := range line[:max(0, len(line)-1)] {
		step := line[i+1].Sub(line[i])
		if step == (plane.XY{}) {
			continue
		}
		left := step.Unit().Left()
		for _, t := range tyres {
			a, b := left.Scale(t.Left+t.Width/2), left.Scale(t.Left-t.Width/2)
			d.fill(plane.Ring{line[i].Add(a), line[i].Add(b), line[i+1].Add(b), line[i+1].Add(a)}, func(c *uint8) {
				if *c == cellCut {
					*c = cellTrodden
				}
			})
		}
	}
}

// cut has the bar go along a run.
func (d *Trodden) cut(r drive.Run) {
	for i := range r.Stops[:max(0, len(r.Stops)-1)] {
		a, b := r.Stops[i], r.Stops[i+1]
		if !a.Next.Ground() {
			continue
		}
		from, to := a.Left.Scale(r.Parts[a.Part].Width/2), b.Left.Scale(r.Parts[b.Part].Width/2)
		d.fill(plane.Ring{a.At.Add(from), a.At.Sub(from), b.At.Sub(to), b.At.Add(to)},
			func(c *uint8) { *c = cellCut })
	}
}

// fill does something to all cells whose middle lies within a quad.
func (d *Trodden) fill(quad plane.Ring, do func(*uint8)) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range quad {
		low, high = min(low, p.Y), max(high, p.Y)
	}
	first, last := math.Ceil((low-d.box.Min.Y)/d.cell-0.5), math.Floor((high-d.box.Min.Y)/d.cell-0.5)
	for row := max(0, first); row <= last && int(row) < len(d.cells)/d.across; row++ {
		y := d.box.Min.Y + (row+0.5)*d.cell
		from, to := math.Inf(1), math.Inf(-1)
		for _, s := range quad.Sides() {
			if s.A.Y == s.B.Y || (s.A.Y <= y) == (s.B.Y <= y) {
				continue
			}
			x := s.A.X + (s.B.X-s.A.X)*(y-s.A.Y)/(s.B.Y-s.A.Y)
			from, to = min(from, x), max(to, x)
		}
		begin, end := math.Ceil((from-d.box.Min.X)/d.cell-0.5), math.Floor((to-d.box.Min.X)/d.cell-0.5)
		for k := max(0, begin); k <= end && int(k) < d.across; k++ {
			do(&d.cells[int(row)*d.across+int(k)])
		}
	}
}

// Area is the ground in the field that was trodden after it was cut, m²; 0 of nil.
func (d *Trodden) Area() float64 {
	if d == nil {
		return 0
	}
	var edges plane.Edges
	edges.AddPolygons(d.field)
	n := 0
	for i, c := range d.cells {
		if c == cellTrodden && edges.Holds(d.box.Min.Add(plane.XY{X: float64(i%d.across) + 0.5, Y: float64(i/d.across) + 0.5}.Scale(d.cell))) {
			n++
		}
	}
	return float64(n) * d.cell * d.cell
}

// trodden is that of the operation, in the order driven; the set's way is that of the antenna, and at work that of the bar for the implement.
func (r *Result) trodden(runs []drive.Run) float64 {
	d := NewTrodden(r.Layers.Field, r.Work)
	if d == nil {
		return 0
	}
	by := map[int]drive.Run{}
	for _, run := range runs {
		by[run.Pass.Number] = run
	}
	var line []plane.XY // of the pass so far
	for k, s := range r.Log {
		run, ok := by[s.Pass]
		if !ok {
			d.Drive(s.Line)
			continue
		}
		if line = append(line, s.Line...); k == len(r.Log)-1 || r.Log[k+1].Pass != s.Pass {
			d.Work(line, run)
			line = line[:0]
		}
	}
	return d.Area()
}
