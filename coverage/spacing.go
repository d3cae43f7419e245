package coverage

import (
	"context"
	"math"

	"balk/coverage/drive"
	"balk/coverage/pattern"
	"balk/geo/plane"
	"balk/geo/workers"
)

const (
	// A pass nearer than half of the planned spacing is the same line driven again, and
	// one farther than one and a half is nearer to the next line but one (a
	// missed pass leaves two): neither is a neighbour.
	nearestNeighbour  = 0.5
	farthestNeighbour = 1.5

	// Neighbours run within 15° of each other, either way, and a place is looked at if
	// the way turns by less there, from chord to chord.
	cos15 = 0.9659258262890683

	// chordShare: the line of a pass is taken in chords of a quarter of the planned
	// spacing or more; their direction is then good to 2° with a receiver's 2 cm.
	chordShare = 0.25
	// placesPerStop bounds the places by the input, for logs of few points.
	placesPerStop = 16

	narrowBy = 0.05 // m below the planned spacing: more than a good guidance wanders
	// The rounding of degrees in logs (1e-8° is 1.1 mm): what is wider by less is not wider,
	// and a line off by less lies on both sides.
	logRounding = 1e-3 // m

	// fewSpacings: from fewer on either side nothing is said about the bar's offset.
	fewSpacings = 20
	// Neighbours that run side by side for less say nothing of how they part.
	partingAlong  = 100.0 // m
	partingPlaces = 5
)

// Spacing is the distance between neighbouring passes beside the planned one. At
// places Every metres of travel apart, square to the travel, it looks to the
// left and to the right for the nearest worked line that runs within 15°,
// either way: of another pass, or of the same more than relap metres of travel
// away. The line of a pass is that of the middle of its worked width.
//
// Samples + Again + Alone + Partial + Bent = 2 × Places.
type Spacing struct {
	Planned float64 `json:"planned"` // m, the usual width less the overlap
	Width   float64 `json:"width"`   // m, the usual width: full working width over half of the way
	Every   float64 `json:"every"`   // m of travel between places: half of Planned, more where the log has few points
	Places  int     `json:"places"`
	Metres  float64 `json:"metres"` // m of travel with a neighbour on either side

	Samples int `json:"samples"` // sides with a neighbour
	Again   int `json:"again"`   // sides with a line nearer than half of Planned: driven again
	Alone   int `json:"alone"`   // sides with no line nearer than 1.5 × Planned
	Partial int `json:"partial"` // sides where either bar was not at its usual width (sections off)
	Bent    int `json:"bent"`    // sides of places where the way turned by more than 15°

	// Of the samples; zero if there are none.
	Median   float64 `json:"median"` // m
	Q05      float64 `json:"q05"`
	Q25      float64 `json:"q25"`
	Q75      float64 `json:"q75"`
	Q95      float64 `json:"q95"`
	Wider    float64 `json:"wider"`    // share above the full width: certainly a gap
	Between  float64 `json:"between"`  // share from 5 cm below Planned to the full width
	Narrower float64 `json:"narrower"` // share more than 5 cm below Planned

	Apart   float64   `json:"apart,omitempty"`  // m, how far neighbours lie apart whatever the width; see apartOf
	Offset  BarOffset `json:"offset,omitzero"`  // zero: fewer than 20 spacings of either kind
	Parting Parting   `json:"parting,omitzero"` // zero: no neighbours side by side for 100 m
	Laps    []Lap     `json:"laps,omitempty"`   // other overlaps, from none on, and the one planned; none: fewer than 20 spacings, or the log cannot tell strips
	Gaps    []Gap     `json:"-"`                // where Work asks for them: at every place that is looked at, in the order driven
}

// Gap is how far the neighbours are from one place of a pass.
type Gap struct {
	Pass        int
	S           float64 // m, travel in the pass
	Left, Right float32 // m; NaN: none is beside it there
}

// Parting is the pair of neighbours that part or close in fastest over 100 m or more.
// A pair that does so at more than 1° is no drift: it was driven at an angle.
type Parting struct {
	Passes [2]int  `json:"passes"` // numbers; the same twice where a pass is its own neighbour
	Rate   float64 `json:"rate"`   // m per m of travel in the first pass's direction, negative: closing in
	Along  float64 `json:"along"`  // m, how far they run side by side
}

// spacingOf satisfies
//
//  1. parallel passes at a spacing of s give s, rounds of a headland too;
//  2. shifting, turning and mirroring everything changes no spacing; mirroring
//     turns the sign of the offset, and so does reading all tracks backwards;
//  3. it does not depend on Work.Workers.
//
// Memory is bounded by the stops, see placesPerStop.
//
// With it come the contacts, for what many have in common, and what spacings make of other overlaps once that is known.
func spacingOf(ctx context.Context, runs []drive.Run, w drive.Work) (Spacing, []pattern.Contact, []joinSpacings, error) {
	sp := Spacing{Width: usualWidth(runs, w)}
	usual := w
	usual.Width = sp.Width
	sp.Planned = usual.Credited()
	way, stops := 0.0, 0
	for _, r := range runs {
		stops += len(r.Stops)
		way += r.Pass.Length
	}
	if !(sp.Planned > 0) || stops == 0 {
		return sp, nil, nil, nil
	}
	sp.Every = max(sp.Planned/2, way/float64(placesPerStop*stops))
	lines := centrelines(runs, sp.Width, chordShare*sp.Planned)
	tree := treeOf(lines)
	found := make([]spacings, len(lines))
	err := workers.Each(ctx, w.Workers, len(lines), func(k int) error {
		look := looker{tree: tree, plan: sp, relap: w.RelapLength(), line: lines[k], keep: w.Gaps}
		look.along()
		found[k] = look.spacings
		return nil
	})
	if err != nil {
		return Spacing{}, nil, nil, err
	}
	sp.sum(found)
	sp.Apart = apartOf(runs, sp.Width)
	axis := mainAxis(runs)
	var contacts []pattern.Contact
	var all []joinSpacings
	for _, f := range found {
		all = append(all, f.alongside...)
		for _, c := range f.contacts {
			ahead := axis.Scale(c.ahead.X).Add(axis.Left().Scale(c.ahead.Y))
			c.Heading = bearingOf(ahead)
			contacts = append(contacts, c.Contact)
		}
	}
	return sp, contacts, all, nil
}

// bearingOf is a direction on the field's plane, whose north is true in its middle, in degrees.
func bearingOf(d plane.XY) float64 { return math.Mod(math.Atan2(d.X, d.Y)*180/math.Pi+360, 360) }

// usualWidth is the full working width that is not exceeded over half of the way.
func usualWidth(runs []drive.Run, w drive.Work) float64 {
	var widths []weighted
	all := 0.0
	for _, r := range runs {
		for i, a := range r.Stops {
			if a.Next != drive.StepWorked {
				continue
			}
			l, width := r.Stops[i+1].S-a.S, r.Parts[a.Part].Width
			if all += l; len(widths) > 0 && widths[len(widths)-1].value == width {
				widths[len(widths)-1].weight += l
				continue
			}
			widths = append(widths, weighted{width, l})
		}
	}
	if len(widths) == 0 {
		return w.Width
	}
	q := []float64{all / 2}
	quantiles(widths, q)
	return q[0]
}

// The sides of a place.
const (
	toLeft = iota
	toRight
)

// spacings is what was found along one centreline.
type spacings struct {
	places, neighboured         int
	again, alone, partial, bent int
	rights, lefts, sameWay      []float64 // m; by the sides that meet, and of passes in one direction
	joins                       map[join]mean
	parting                     Parting
	contact                     [2]contactLine
	contacts                    []contactOn
	alongside                   []joinSpacings
	gaps                        []Gap
}

// contactOn is a contact on axes turned into the driving direction.
type contactOn struct {
	pattern.Contact
	ahead plane.XY
}

// sighting is the nearest line on one side of a place.
type sighting struct {
	off  float64 // m; 0 pass: none nearer than this
	pass int
	s    float64 // m, travel in that pass
	back bool    // driven the other way
	full bool
}

// looker looks left and right along one centreline.
type looker struct {
	spacings
	tree  *plane.Tree[*chordRun]
	plan  Spacing
	relap float64 // m
	line  *centreline
	near  []candidate
	keep  bool // gaps, place by place
}

// along looks at every place of the line.
func (k *looker) along() {
	knots, place := k.line.knots, 0
	where := func() float64 { return knots[0].s + k.plan.Every*(float64(place)+0.5) }
	for i := range k.line.chordRuns {
		p := &k.line.chordRuns[i]
		searched := false
		for c := p.from; c < p.to; c++ {
			a, b := knots[c], knots[c+1]
			if where() >= b.s {
				continue
			}
			chord, long := k.line.chord(c)
			d := chord.Scale(1 / long)
			straight := k.line.straight(c, d)
			for ; where() < b.s; place++ {
				k.places++
				switch {
				case !straight:
					k.bent += 2
					continue
				case !a.full || !b.full:
					k.partial += 2
					continue
				case !searched:
					k.search(p.box)
					searched = true
				}
				s := where()
				at := a.at.Lerp(b.at, (s-a.s)/(b.s-a.s))
				k.count(s, at, k.look(at, d, s))
			}
		}
	}
	for side := range k.contact {
		k.part(side)
	}
}

// search finds the runs of chords that may be seen from a box.
func (k *looker) search(b plane.Box) {
	k.near = k.near[:0]
	for p := range k.tree.In(b.Grown(farthestNeighbour * k.plan.Planned)) {
		k.near = append(k.near, candidate{p, p.from})
	}
}

// look finds the nearest line on either side of p, which lies at travel s and is
// driven in the direction d.
func (k *looker) look(p, d plane.XY, s float64) [2]sighting {
	reach := farthestNeighbour * k.plan.Planned
	best := [2]sighting{{off: reach}, {off: reach}}
	ray := d.Left().Scale(reach)
	rx, ry := math.Abs(ray.X), math.Abs(ray.Y)
	for i := range k.near {
		c := &k.near[i]
		if c.box.Min.X > p.X+rx || c.box.Max.X < p.X-rx || c.box.Min.Y > p.Y+ry || c.box.Max.Y < p.Y-ry {
			continue
		}
		fwd, cos := d, d.Dot(c.axis)
		if cos < 0 {
			fwd = d.Scale(-1)
		}
		if math.Abs(cos) < cos45 {
			continue
		}
		q, at, ok := c.crossed(p, fwd)
		if !ok {
			continue
		}
		chord, long := c.of.chord(c.at)
		if c.of.pass == k.line.pass && math.Abs(at-s) <= k.relap || chord.Dot(fwd) < cos15*long {
			continue
		}
		left := d.Cross(q.Sub(p))
		o := sighting{math.Abs(left), c.of.pass, at, cos < 0, c.of.knots[c.at].full && c.of.knots[c.at+1].full}
		if left > -logRounding && o.off < best[toLeft].off {
			best[toLeft] = o
		}
		if left < logRounding && o.off < best[toRight].off {
			best[toRight] = o
		}
	}
	return best
}

// count takes in what was seen from the place at, at travel s.
func (k *looker) count(s float64, at plane.XY, seen [2]sighting) {
	neighboured := false
	apart := [2]float32{float32(math.NaN()), float32(math.NaN())}
	for side, o := range seen {
		switch {
		case o.pass == 0:
			k.alone++
		case !o.full:
			k.partial++
		case o.off < nearestNeighbour*k.plan.Planned:
			k.again++
		default:
			neighboured, apart[side] = true, float32(o.off)
			switch {
			case !o.back:
				k.sameWay = append(k.sameWay, o.off)
			case side == toRight:
				k.rights = append(k.rights, o.off)
				k.meet(side, o)
			default:
				k.lefts = append(k.lefts, o.off)
				k.meet(side, o)
			}
			k.goesOn(side, s, at, o)
			continue
		}
		k.part(side)
	}
	if neighboured {
		k.neighboured++
	}
	if k.keep {
		k.spacings.gaps = append(k.spacings.gaps, Gap{k.line.pass, s, apart[toLeft], apart[toRight]})
	}
}

// contactLine is the straight line through the spacings to one neighbour, and that through the places they were seen from.
type contactLine struct {
	pass              int
	back              bool
	from, last, their float64 // m, travel
	n                 int
	x, y, xx, xy      float64
	begin             plane.XY // the first place, from which the others are counted
	place, xPlace     plane.XY
	off               []float32 // m, spacings
}

// goesOn adds a spacing to the neighbour's line, or begins one.
func (k *looker) goesOn(side int, s float64, at plane.XY, o sighting) {
	c := &k.contact[side]
	if c.n > 0 && (c.pass != o.pass || c.back != o.back || math.Abs(o.s-c.their) > 3*k.plan.Every || s-c.last > 1.5*k.plan.Every) {
		k.part(side)
	}
	if c.n == 0 {
		*c = contactLine{pass: o.pass, back: o.back, from: s, begin: at}
	}
	x, at := s-c.from, at.Sub(c.begin)
	c.last, c.their, c.n = s, o.s, c.n+1
	c.place, c.xPlace = c.place.Add(at), c.xPlace.Add(at.Scale(x))
	c.off = append(c.off, float32(o.off))
	c.x, c.y, c.xx, c.xy = c.x+x, c.y+o.off, c.xx+x*x, c.xy+x*o.off
}

// part ends a neighbour's line and keeps the steepest.
func (k *looker) part(side int) {
	c := k.contact[side]
	k.contact[side].n = 0
	if c.n == 0 {
		return
	}
	k.alongside = append(k.alongside, joinSpacings{pass: k.line.pass, other: c.pass, kind: kindOf(c.back, side), off: c.off})
	if c.n < partingPlaces {
		return
	}
	n := float64(c.n)
	det := n*c.xx - c.x*c.x
	rate := (n*c.xy - c.x*c.y) / det // least squares
	if math.Abs(rate) >= wedged {
		return
	}
	k.alongside[len(k.alongside)-1].opening = rate
	k.contacts = append(k.contacts, contactOn{pattern.Contact{Pass: k.line.pass, Other: c.pass, Right: side == toRight, Back: c.back,
		Along: c.last - c.from, Apart: c.y / n, Opening: rate}, c.xPlace.Scale(n / det).Sub(c.place.Scale(c.x / det))})
	if c.last-c.from >= partingAlong {
		k.parting = k.parting.worse(Parting{[2]int{k.line.pass, c.pass}, rate, c.last - c.from})
	}
}

func (p Parting) worse(o Parting) Parting {
	if p.Along == 0 || math.Abs(o.Rate) > math.Abs(p.Rate) {
		return o
	}
	return p
}

// sum puts together what was found line by line.
func (sp *Spacing) sum(found []spacings) {
	n := 0
	for _, f := range found {
		n += len(f.rights) + len(f.lefts) + len(f.sameWay)
	}
	all := make([]float64, 0, n) // rights, then lefts, then the others
	neighboured := 0
	for _, f := range found {
		sp.Gaps = append(sp.Gaps, f.gaps...)
		sp.Places, neighboured = sp.Places+f.places, neighboured+f.neighboured
		sp.Again, sp.Alone, sp.Partial, sp.Bent = sp.Again+f.again, sp.Alone+f.alone, sp.Partial+f.partial, sp.Bent+f.bent
		if f.parting.Along > 0 {
			sp.Parting = sp.Parting.worse(f.parting)
		}
		all = append(all, f.rights...)
	}
	rights := len(all)
	for _, f := range found {
		all = append(all, f.lefts...)
	}
	lefts := len(all) - rights
	for _, f := range found {
		all = append(all, f.sameWay...)
	}
	sp.Metres = float64(neighboured) * sp.Every
	if sp.Samples = n; n == 0 {
		return
	}
	wider, narrower := 0, 0
	for _, s := range all {
		if s > sp.Width+logRounding {
			wider++
		}
		if s < sp.Planned-narrowBy {
			narrower++
		}
	}
	sp.Wider, sp.Narrower = float64(wider)/float64(n), float64(narrower)/float64(n)
	sp.Between = float64(n-wider-narrower) / float64(n)
	if rights >= fewSpacings && lefts >= fewSpacings {
		r, l := quartiles(all[:rights]), quartiles(all[rights:rights+lefts])
		sp.Offset = BarOffset{Right: (r[1] - l[1]) / 4, Spread: (r[2] - r[0] + l[2] - l[0]) / 2 / 4, Rights: rights, Lefts: lefts}
		sp.Offset.doubt(found)
	}
	q := quartiles(all)
	sp.Q25, sp.Median, sp.Q75 = q[0], q[1], q[2]
	sp.Q05 = drive.Nth(all[:n/4+1], n/20)
	sp.Q95 = drive.Nth(all[3*n/4:], 19*n/20-3*n/4)
}

// quartiles reorders v, which must not be empty.
func quartiles(v []float64) [3]float64 {
	n := len(v)
	m := drive.Nth(v, n/2)
	return [3]float64{drive.Nth(v[:n/2+1], n/4), m, drive.Nth(v[n/2:], 3*n/4-n/2)}
}
