package fieldday

import (
	"context"
	"fmt"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/pattern"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Outcome is what became of one drive: the truth, and what balk says of its log. Areas are m².
type Outcome struct {
	Situation string `json:"situation"`
	Seed      uint64 `json:"seed"`

	True     float64 `json:"true"`     // missed at credited width
	TrueFull float64 `json:"trueFull"` // at full width
	Missed   float64 `json:"missed"`   // Balance.Missed
	Best     float64 `json:"best"`     // Noise.MissedBest
	Full     float64 `json:"full"`     // FullMissed
	Unknown  float64 `json:"unknown"`
	Least    float64 `json:"least"` // of the range: that of the receiver's error, and of doubtful stretches
	Most     float64 `json:"most"`

	TrueStrips int     `json:"trueStrips"` // see Scan.strips
	Strips     int     `json:"strips"`     // listed
	Certain    int     `json:"certain"`    // strips called so
	False      int     `json:"false"`      // ... of which less than a tenth is missed
	Poor       int     `json:"poor"`       // ... less than a half
	Sure       float64 `json:"sure"`       // ground of strips called certain
	SureMissed float64 `json:"sureMissed"` // ... what of it is missed

	Real   int `json:"real"`             // true strips of 20 cm by 10 m and more, without those that no log shows
	Listed int `json:"listed"`           // ... that lie on listed ones
	Hidden int `json:"hidden,omitempty"` // true strips of that size where the fault is, and no log shows it

	Between     float64 `json:"between,omitempty"`     // differential: true missed at credited width between passes, without what lies along the boundary
	BestBetween float64 `json:"bestBetween,omitempty"` // ... and the best estimate of it

	Ground      float64 `json:"ground,omitempty"`      // true missed ground where the fault is
	GroundFound float64 `json:"groundFound,omitempty"` // ... that lies in listed strips
	Named       bool    `json:"named,omitempty"`
	Offset      float64 `json:"offset,omitempty"` // m, Spacing.Offset
	Told        bool    `json:"told,omitempty"`   // ... and it is said to be beyond its doubt

	Patterns []pattern.Pattern `json:"patterns,omitempty"`
	Twice    int               `json:"twice,omitempty"` // strips of which patterns have more ground than there is
}

// Day is one drive with its truth; several situations that drive alike are judged by it.
type Day struct {
	how     Driving
	seed    uint64
	driven  *driven
	field   geo.Field
	missed  Scan // at credited width
	area    float64
	full    float64
	real    []piece
	strips  int
	scanner scanner
	fault   Scan // true missed ground where the fault is; nil: it is nowhere
	inner   geo.Field
	between float64 // m², missed at credited width in it
}

// A real strip is one into which a strip of this width and length goes.
const (
	realWidth = 0.20 // m
	realLong  = 10.0 // m
	// listable: a true strip this wide is one to list (see coverage: a receiver's best).
	listable = 0.05 // m
	// overlapsReal: what lies by so much of a real strip on other ground lies on it.
	overlapsReal = 0.1
)

// Drive drives a day. The seed tells everything that is drawn.
func Drive(how Driving, seed uint64) (*Day, error) {
	d, err := sent(how, seed)
	if err != nil {
		return nil, err
	}
	day := &Day{how: how, seed: seed, driven: d, field: d.layout.Field()}
	im := set(how.Trailed)
	ground := fieldOf(&day.scanner, d.layout)
	day.missed = d.missed(&day.scanner, ground, (im.Width-im.Overlap)/2)
	day.area = day.missed.Area()
	day.full = d.missed(&day.scanner, ground, im.Width/2).Area()
	for _, p := range day.missed.wide(realWidth) {
		if p.long() >= realLong-realWidth {
			day.real = append(day.real, p)
		}
	}
	if at := faultOf(d.whole, how); at != nil {
		box := make(Scan, lines)
		for _, r := range at {
			box.put(&day.scanner, false, r)
		}
		day.fault = day.missed.less(day.missed.less(box.merged()))
	}
	day.strips = day.missed.strips()
	if !how.Bent {
		inner := d.layout.inside((im.Width - im.Overlap) / 2)
		day.inner = inner.Field()
		day.between = day.missed.less(ground.less(fieldOf(&day.scanner, inner))).Area()
	}
	return day, nil
}

// How is how the day was driven.
func (d *Day) How() Driving { return d.how }

// Log is what a receiver logs of the day if it stands over the middle of the bar, and the field, both in degrees.
func (d *Day) Log(r Receiver) (geo.Track, geo.Field) {
	over := *d.driven
	over.antenna = over.bar
	return over.logged(r, d.seed), d.field
}

// check logs the day as a situation has it, which must drive so, and has balk check the log on a field.
func (d *Day) check(ctx context.Context, s Situation, field geo.Field) (coverage.Result, error) {
	if s.Driving != d.how {
		return coverage.Result{}, fmt.Errorf("field day: %q drives in another way", s.Name)
	}
	w := drive.Work{Rounds: 2, PassError: s.PassError, Workers: 1}.With(set(s.Driving.Trailed))
	w.Mount = told(w.Mount, s)
	track, _ := geo.Clean(d.driven.logged(s.Receiver, d.seed))
	r, err := coverage.Check(ctx, field, []geo.Track{track}, w)
	if err != nil {
		return coverage.Result{}, fmt.Errorf("field day, %s, seed %d: %w", s.Name, d.seed, err)
	}
	return r, nil
}

// Judge has balk check the log of the day, and holds what it says against the truth.
func (d *Day) Judge(ctx context.Context, s Situation) (Outcome, error) {
	r, err := d.check(ctx, s, d.field)
	if err != nil {
		return Outcome{}, err
	}
	o := Outcome{Situation: s.Name, Seed: d.seed, True: d.area, TrueFull: d.full, Missed: r.Balance.Missed, Best: r.Noise.MissedBest, Full: r.FullMissed,
		Unknown: r.Balance.Unknown, Least: r.Telling.Missed[0], Most: r.Telling.Missed[1], TrueStrips: d.strips, Strips: len(r.Strips),
		Named: s.Fault.named(r), Offset: r.Spacing.Offset.Right, Told: r.Open.Aside.Joins, Patterns: r.Patterns, Twice: twice(r)}
	if r.Noise.PassErrorFrom == "" {
		o.Best, o.Least, o.Most = o.Missed, o.Missed, o.Missed
	}
	if s.Band() == Differential {
		r, err := d.check(ctx, s, d.inner)
		if err != nil {
			return Outcome{}, fmt.Errorf("between passes: %w", err)
		}
		o.Between, o.BestBetween = d.between, r.Noise.MissedBest
	}
	d.hold(&o, r, s.Fault.Hidden)
	return o, nil
}

// told is the mount as the file has it.
func told(m rig.Mount, s Situation) rig.Mount {
	m.AntennaRight += s.Wrong.AntennaRight
	m.Hitch += s.Wrong.Hitch
	m.Drawbar += s.Wrong.Drawbar
	m.BarRight += s.Driving.Side + s.Wrong.BarRight
	return m
}

// hold holds the listed strips against the truth. Hidden: no log shows the fault.
func (d *Day) hold(o *Outcome, r coverage.Result, hidden bool) {
	for _, strip := range r.Strips {
		if strip.Surety != coverage.SuretyCertain {
			continue
		}
		in, all := d.missed.within(&d.scanner, onPaper(strip.Shape, r.Local)...)
		o.Certain++
		o.Sure, o.SureMissed = o.Sure+all, o.SureMissed+in
		if in < 0.1*all {
			o.False++
		}
		if in < 0.5*all {
			o.Poor++
		}
	}
	listed := listedOn(&d.scanner, r)
	for _, p := range d.real {
		if hidden && d.fault != nil && p.on(d.fault) >= 0.5*p.area {
			o.Hidden++
			continue
		}
		o.Real++
		if p.on(listed) >= overlapsReal*p.area {
			o.Listed++
		}
	}
	if d.fault != nil {
		o.Ground = d.fault.Area()
		o.GroundFound = o.Ground - d.fault.less(listed).Area()
	}
}

// listedOn is the ground of listed strips.
func listedOn(s *scanner, r coverage.Result) Scan {
	listed := make(Scan, lines)
	for _, strip := range r.Strips {
		listed.put(s, true, onPaper(strip.Shape, r.Local)...)
	}
	return listed.merged()
}

// onPaper is a polygon on Paper. Both planes are true to the field, whose middle they have within metres of each other: they
// differ by a shift.
func onPaper(p plane.Polygon, local geo.Local) [][]plane.XY {
	shift := Paper.XY(local.Centre)
	rings := make([][]plane.XY, len(p))
	for i, r := range p {
		rings[i] = make([]plane.XY, len(r))
		for k, q := range r {
			rings[i][k] = q.Add(shift)
		}
	}
	return rings
}

// faultOf is the ground where what goes wrong on a day shows, with a rim; none where it is nowhere.
func faultOf(l Layout, how Driving) (rings [][]plane.XY) {
	half := (set(how.Trailed).Width - overlap) / 2
	box := func(a, b plane.XY) {
		rings = append(rings, []plane.XY{a, {X: b.X, Y: a.Y}, b, {X: a.X, Y: b.Y}})
	}
	for _, leg := range l.Legs {
		from, to := leg.Line[0], leg.Line[len(leg.Line)-1]
		switch {
		case leg.Row == 0:
		case leg.Row == how.Omitted:
			box(from.Sub(plane.XY{X: half}), to.Add(plane.XY{X: half}))
		case leg.Row == how.Aside:
			box(from.Sub(plane.XY{X: half + 1}), to.Add(plane.XY{X: half + 1}))
		case leg.Row == how.Section: // driven south: its right is west
			box(plane.XY{X: from.X - half - 0.3, Y: from.Y - how.SectionFrom - how.SectionOver}, plane.XY{X: from.X - half + how.SectionWidth + 0.3, Y: from.Y - how.SectionFrom})
		case how.Late > 0 && leg.South:
			box(from.Add(plane.XY{X: -half, Y: -how.Late - 1}), from.Add(plane.XY{X: half, Y: 1}))
		}
	}
	return rings
}
