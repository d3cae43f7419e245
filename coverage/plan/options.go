package plan

import (
	"cmp"
	"fmt"
	"math"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Options describe the job. The zero value of a field means what its comment says.
type Options struct {
	Heading       geo.Heading   `json:"heading,omitempty"`       // rad, driving direction on the plane, either way; Compare finds its own unless Fixed
	Fixed         bool          `json:"fixed,omitempty"`         // Compare keeps to Heading, such as along a chosen edge
	Along         *Edge         `json:"along,omitempty"`         // passes run along this stretch of the boundary, Heading does not count; nil: they are straight
	AlongLongest  bool          `json:"alongLongest,omitempty"`  // they run along the longest stretch without a corner, of each part of the field
	Regions       []Region      `json:"-"`                       // rows of the ground of each run in its direction, Heading counts for what lies in none; Compare finds its own
	Rounds        int           `json:"rounds,omitempty"`        // headland rounds; 0 = as many as a plain U needs
	NoRounds      bool          `json:"noRounds,omitempty"`      // none: passes run up to the boundary
	FullSpacing   bool          `json:"fullSpacing,omitempty"`   // passes at the full credited width, the last one laps; false: spread evenly, the lap is shared
	LeaveWedges   bool          `json:"leaveWedges,omitempty"`   // passes end where their middle leaves the interior; false: where its last corner is covered
	HeadlandFirst bool          `json:"headlandFirst,omitempty"` // rounds are driven before the rows, from the outermost in; false: after them, from the innermost out
	Speed         geo.KmPerHour `json:"speed"`                   // while working; required
	Gate          *plane.XY     `json:"-"`                       // where the set comes from and leaves to, outside the field the place of the boundary next to it; nil: it starts at the first pass
	PassError     float64       `json:"passError,omitempty"`     // m, 95 %, pass-to-pass error of the driving (ISO 12188-1 sense), for Compare; 0 = 0.05 m
	Seed          uint64        `json:"seed,omitempty"`          // of the driving error
	MissedHours   float64       `json:"missedHours,omitempty"`   // h per hectare that is missed: it is still to be worked; 0 = 8 h
	UnfitMinutes  float64       `json:"unfitMinutes,omitempty"`  // min, what a turn or run that does not fit takes beyond its way: the driver goes out, reverses and comes back; 0 = 2 min
	BetweenParts  float64       `json:"betweenParts,omitempty"`  // min, what it takes from one part of the field to another, folding and road with it; 0 = the way as the crow flies, as quick as a turn
	WidthStep     float64       `json:"widthStep,omitempty"`     // m, how much narrower Compare tries; 0 = 0.5 m
	Wheels        float64       `json:"wheels,omitempty"`        // share of the tractor's width that its tyres cover; 0 = 0.4
	Fuel          Fuel          `json:"fuel,omitzero"`
	Rates         Rates         `json:"rates,omitzero"`
	Hill          Hill          `json:"-"` // how the field lies, for what sweeps leave between them; it counts as what is missed does
	Before        *Before       `json:"-"` // Compare has the rows work what was missed before; nil: nothing is known of that
	Workers       int           `json:"-"` // 0 = one per processor; the result does not depend on it
	Laid          func()        `json:"-"` // called whenever Compare has laid out one more plan, at times by several at once; nil: nobody asks

	// Stop is called by Compare where the search for a set begins; what it gives is asked before every further step of that search, by one step at a time. Where that says yes the best
	// plan so far is taken, or the first there is, and marked (Candidate.Stopped). nil: the search comes to its end.
	Stop func() func() bool `json:"-"`

	slide float64  // m, by which rows begin before the interior
	small []holeAt // obstacles without rounds about them: rows and rounds go past
	tried int      // see mostTried, which 0 means
}

// Rates are what work costs, in any one currency. Zero: not known.
type Rates struct {
	Hour  float64 `json:"hour,omitempty"`  // per hour of set and driver, without fuel
	Litre float64 `json:"litre,omitempty"` // per litre of fuel
}

// Validate says what is wrong with r.
func (r Rates) Validate() error {
	return validate(amount{"rate per hour", r.Hour, mostRate}, amount{"rate per litre", r.Litre, mostRate})
}

// Defaults of Options: common practice, no source.
const (
	usualPassError = 0.05 // m, real-time kinematic with steering by hand on a line
	usualStep      = 0.5  // m
	usualMissed    = 8.0  // h/ha: a corner of 20 m² takes about a minute to go back to
	usualUnfit     = 2.0  // min: some shunts of a length of the set each, and looking back
	usualWheels    = 0.4  // two tyres of half a metre under a tractor of two and a half
)

// Limits of what Options take; what is beyond is a typing error.
const (
	mostRounds = 100
	mostSpeed  = 60.0 // km/h
	mostError  = 10.0 // m
	mostRate   = 1e9
	mostMissed = 1e4 // h/ha
	mostUnfit  = 1e4 // min
)

// credited is the width that one pass is credited with, m.
func credited(im rig.Implement) float64 { return im.Width - im.Overlap }

// Validate says what is wrong with o: the first limit that is broken.
func (o Options) Validate() error {
	if math.IsNaN(float64(o.Heading)) || math.IsInf(float64(o.Heading), 0) {
		return fmt.Errorf("heading %g rad: must be a number", float64(o.Heading))
	}
	if o.Rounds < 0 || o.Rounds > mostRounds {
		return fmt.Errorf("headland rounds %d: must be from 0 to %d", o.Rounds, mostRounds)
	}
	if o.NoRounds && o.Rounds > 0 {
		return fmt.Errorf("%d headland rounds, and none at all: must be one of them", o.Rounds)
	}
	if !(o.Speed > 0 && o.Speed <= mostSpeed) {
		return fmt.Errorf("working speed %g km/h: must be above 0 and at most %g km/h", o.Speed, mostSpeed)
	}
	if g := o.Gate; g != nil && !within(*g) {
		return fmt.Errorf("gate at %g, %g: must be within ±%d m", g.X, g.Y, int64(plane.Limit))
	}
	if o.Along != nil && o.AlongLongest {
		return fmt.Errorf("along an edge and along the longest: must be one of them")
	}
	if e := o.Along; e != nil && !(within(e.From) && within(e.To)) {
		return fmt.Errorf("edge from %g, %g to %g, %g: must be within ±%d m", e.From.X, e.From.Y, e.To.X, e.To.Y, int64(plane.Limit))
	}
	if err := validate(
		amount{"pass-to-pass error, m", o.PassError, mostError}, amount{"width step, m", o.WidthStep, rig.MaxWidth}, amount{"wheels, share of the tractor's width", o.Wheels, 1},
		amount{"hours per hectare missed", o.MissedHours, mostMissed}, amount{"minutes for a turn that does not fit", o.UnfitMinutes, mostUnfit},
		amount{"minutes between parts", o.BetweenParts, mostUnfit},
	); err != nil {
		return err
	}
	if err := o.Rates.Validate(); err != nil {
		return err
	}
	if err := o.Hill.validate(); err != nil {
		return err
	}
	if o.Workers < 0 {
		return fmt.Errorf("workers %d: must not be below 0", o.Workers)
	}
	return o.Fuel.Validate()
}

// amount is a value given that must be from 0 to a limit.
type amount struct {
	name    string
	v, most float64
}

// validate is the first of some amounts that breaks its limit.
func validate(all ...amount) error {
	for _, c := range all {
		if !(c.v >= 0 && c.v <= c.most) {
			return fmt.Errorf("%s: %g: must be from 0 to %g", c.name, c.v, c.most)
		}
	}
	return nil
}

func within(p plane.XY) bool {
	return math.Abs(p.X) <= plane.Limit && math.Abs(p.Y) <= plane.Limit
}

// MissedPrice is what a hectare missed takes to be worked after all, h.
func (o Options) MissedPrice() float64 { return cmp.Or(o.MissedHours, usualMissed) }

// UnfitPrice is what a turn or run that does not fit takes beyond its way, min.
func (o Options) UnfitPrice() float64 { return cmp.Or(o.UnfitMinutes, usualUnfit) }
