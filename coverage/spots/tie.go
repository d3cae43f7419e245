package spots

import (
	"cmp"
	"math"
	"slices"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/slope"
	"balk/geo"
	"balk/geo/plane"
)

// Operation is what spot checks are tied to: an operation as it was checked. Ground is that of its layers, m on the
// field's plane.
type Operation struct {
	Name     string
	From, To time.Time
	Passes   []drive.Pass
	Width    float64   // m, of the bar
	Sections []float64 // m, widths from left to right; none: thirds of the bar
	Local    geo.Local
	Field    []plane.Polygon
	Missed   []plane.Polygon
	Unknown  []plane.Polygon
	Headland float64 // m, its depth
	Strips   []coverage.Strip
	Heights  []slope.Height // none: not logged
}

// OperationOf is what a check of an operation found.
func OperationOf(name string, r coverage.Result) Operation {
	o := Operation{Name: name, Passes: r.Passes, Width: r.Work.Width, Sections: r.Work.Sections, Local: r.Local, Field: r.Layers.Field, Missed: r.Layers.Missed,
		Unknown: r.Layers.Unknown, Headland: r.Work.ZoneDepth(), Strips: r.Strips, Heights: slope.HeightsOf(r.Log)}
	for _, p := range r.Passes {
		if !p.From.IsZero() && (o.From.IsZero() || p.From.Before(o.From)) {
			o.From = p.From
		}
		if p.To.After(o.To) {
			o.To = p.To
		}
	}
	if len(o.Sections) == 0 {
		o.Sections = []float64{o.Width / 3, o.Width / 3, o.Width / 3}
	}
	return o
}

// section is the number of the section so far from the bar's left end, from 1; beyond its ends the outermost.
func (o *Operation) section(fromLeft float64) int {
	for k, w := range o.Sections {
		if fromLeft -= w; fromLeft < 0 {
			return k + 1
		}
	}
	return len(o.Sections)
}

// Ground is what the map says of a place.
type Ground string

const (
	GroundUnplaced Ground = "" // the check has no place
	GroundOutside  Ground = "outside"
	GroundMissed   Ground = "missed"
	GroundUnknown  Ground = "unknown"
	GroundWorked   Ground = "worked"
)

// Tie is what a spot check belongs to.
type Tie struct {
	Check     int         `json:"check"`            // its index
	Operation int         `json:"operation"`        // its index; -1: none
	Pass      int         `json:"pass,omitempty"`   // 0: none
	Others    []int       `json:"others,omitempty"` // passes that the place may belong to as well, by the errors of both receivers
	Named     bool        `json:"named,omitempty"`  // the check names its pass, which lies near enough
	Section   int         `json:"section,omitempty"`
	Sections  []int       `json:"sections,omitempty"` // where the errors leave several: all of them
	FromLeft  float64     `json:"fromLeft,omitempty"` // m from the bar's left end, by the place
	Bearing   geo.Bearing `json:"bearing"`            // of the travel there
	Headland  bool        `json:"headland,omitempty"`
	Side      Side        `json:"side,omitempty"` // of the bar on a slope; "": level there, not known, or in the middle
	Ground    Ground      `json:"ground,omitempty"`
	Sure      bool        `json:"sure,omitempty"` // all ground within the errors is of that kind
	xy        plane.XY
	err       float64
	rise      float64 // of the ground across the bar, to its left, m per m; 0: level, or not known
}

// UsualError is how far a place that a phone tells may lie off, m, 95 %, in the open (common practice, no source).
const UsualError = 5.0

// ties finds what checks belong to.
type ties struct {
	ops     []Operation
	lines   []plane.Tree[leg]
	ground  []kinds
	heights []*slope.Surface // of an operation
}

// leg is a straight of a pass.
type leg struct {
	pass int // index
	from int // index in its line
}

// kinds are the grounds of an operation, by place.
type kinds struct{ field, missed, unknown plane.Edges }

func tiesOf(ops []Operation) *ties {
	t := &ties{ops: ops, lines: make([]plane.Tree[leg], len(ops)), ground: make([]kinds, len(ops)), heights: make([]*slope.Surface, len(ops))}
	for k := range ops {
		for i, p := range ops[k].Passes {
			for j := 1; j < len(p.Line); j++ {
				t.lines[k].Insert(plane.EmptyBox().Extend(p.Line[j-1], p.Line[j]), leg{i, j - 1})
			}
		}
		t.heights[k] = slope.Of(ops[k].Heights)
		g := &t.ground[k]
		g.field.AddPolygons(ops[k].Field)
		g.missed.AddPolygons(ops[k].Missed)
		g.unknown.AddPolygons(ops[k].Unknown)
	}
	return t
}

// beside is a place seen from a pass: how far aside of its line, m to the left, and where the line goes there.
type beside struct {
	pass  int // index
	aside float64
	far   float64 // m to the line, also beyond its ends
	along plane.XY
}

// near lists the passes whose lines come nearer to p than reach, each once, the nearest first.
func (t *ties) near(op int, p plane.XY, reach float64) []beside {
	best := map[int]beside{}
	box := plane.Box{Min: p.Sub(plane.XY{X: reach, Y: reach}), Max: p.Add(plane.XY{X: reach, Y: reach})}
	for l := range t.lines[op].In(box) {
		line := t.ops[op].Passes[l.pass].Line
		e := plane.Segment{A: line[l.from], B: line[l.from+1]}
		d := e.B.Sub(e.A)
		if d == (plane.XY{}) {
			continue
		}
		b := beside{pass: l.pass, far: e.Dist(p), aside: d.Unit().Cross(p.Sub(e.A)), along: d.Unit()}
		if old, known := best[l.pass]; b.far <= reach && (!known || b.far < old.far) {
			best[l.pass] = b
		}
	}
	list := make([]beside, 0, len(best))
	for _, b := range best {
		list = append(list, b)
	}
	slices.SortFunc(list, func(a, b beside) int { return cmp.Or(cmp.Compare(a.far, b.far), cmp.Compare(a.pass, b.pass)) })
	return list
}

// tie finds what a check belongs to. The operation is the one it names, else the last that had begun when the check was
// made, else the last. The pass is the one it names, if that lies near enough; else the one whose bar's middle went nearest. All
// other passes whose bar may have gone there by the errors stand in Others: with a phone's error these are its neighbours.
func (t *ties) tie(index int, c geo.SpotCheck, usual float64) Tie {
	tie := Tie{Check: index, Operation: t.operation(c), Section: c.Section, err: cmp.Or(c.Accuracy, usual)}
	if tie.Operation < 0 {
		return tie
	}
	o := &t.ops[tie.Operation]
	named := slices.IndexFunc(o.Passes, func(p drive.Pass) bool { return p.Number == c.Pass })
	if c.At == nil {
		if named >= 0 {
			tie.Pass, tie.Named = c.Pass, true
		}
		return tie.across(o, c)
	}
	tie.xy = o.Local.XY(*c.At)
	t.see(&tie)
	near := t.near(tie.Operation, tie.xy, o.Width/2+tie.err)
	if len(near) == 0 {
		return tie.across(o, c)
	}
	chosen := near[0]
	for _, b := range near {
		if b.pass == named {
			chosen, tie.Named = b, true
		}
	}
	tie.Pass, tie.FromLeft = o.Passes[chosen.pass].Number, o.Width/2-chosen.aside
	tie.Bearing = geo.Bearing(math.Mod(float64(o.Local.BearingOf(geo.Along(chosen.along)))+o.Local.Convergence(*c.At)+360, 360))
	if !tie.Named {
		for _, b := range near {
			if b.pass != chosen.pass {
				tie.Others = append(tie.Others, o.Passes[b.pass].Number)
			}
		}
		slices.Sort(tie.Others)
	}
	tie = tie.across(o, c)
	tie.rise = t.rise(tie.Operation, tie.xy, chosen.along.Left())
	switch {
	case c.Length > 0: // told from the bar's left end
		tie.Side = o.side(c.From+c.Length/2, tie.rise)
	case tie.err < o.Width/4: // by its place, where that tells the halves apart
		tie.Side = o.side(tie.FromLeft, tie.rise)
	}
	return tie
}

// across finds the section of the bar: the one the check names; that of the middle of the strip brushed free, which is told from
// the bar's left end; or the one by place, with all others within the error.
func (tie Tie) across(o *Operation, c geo.SpotCheck) Tie {
	switch {
	case c.Section > len(o.Sections):
		tie.Section = 0
	case c.Section > 0:
	case c.Length > 0 && c.Length < o.Width:
		tie.Section = o.section(c.From + c.Length/2)
	case tie.Pass > 0 && c.At != nil && c.Length == 0:
		tie.Section = o.section(tie.FromLeft)
		for s := o.section(tie.FromLeft - tie.err); s <= o.section(tie.FromLeft+tie.err); s++ {
			tie.Sections = append(tie.Sections, s)
		}
		if len(tie.Sections) == 1 {
			tie.Sections = nil
		} else {
			tie.Section = 0
		}
	}
	return tie
}

func (t *ties) operation(c geo.SpotCheck) int {
	best := -1
	for k, o := range t.ops {
		switch {
		case c.Operation != "" && o.Name == c.Operation:
			return k
		case !c.Time.IsZero() && !o.From.IsZero() && c.Time.Before(o.From):
		case best < 0 || !t.ops[best].To.After(o.To):
			best = k
		}
	}
	if c.Operation != "" && slices.ContainsFunc(t.ops, func(o Operation) bool { return o.Name != "" }) {
		return -1 // one that is not among them
	}
	return best
}

// see tells what the map says of the place, and whether it says so all round within the error.
func (t *ties) see(tie *Tie) {
	g := &t.ground[tie.Operation]
	tie.Ground, tie.Sure = g.at(tie.xy, tie.err)
	if _, k := g.field.Nearest(tie.xy); g.field.Len() > 0 && tie.Ground != GroundOutside {
		tie.Headland = math.Sqrt(k) <= t.ops[tie.Operation].Headland
	}
}

func (g *kinds) at(p plane.XY, err float64) (Ground, bool) {
	kind := GroundWorked
	switch {
	case !g.field.Holds(p):
		kind = GroundOutside
	case g.missed.Holds(p):
		kind = GroundMissed
	case g.unknown.Holds(p):
		kind = GroundUnknown
	}
	for _, e := range []*plane.Edges{&g.field, &g.missed, &g.unknown} {
		if e.Len() > 0 {
			if _, d2 := e.Nearest(p); math.Sqrt(d2) < err {
				return kind, false
			}
		}
	}
	return kind, true
}
