package season

import (
	"fmt"
	"math"
	"slices"
	"time"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
)

// Component is a thing that an operation does to the ground.
type Component string

const (
	Loosens Component = "loosens" // in slots
	Cuts    Component = "cuts"    // the full width, below the surface
	Combs   Component = "combs"
	Rolls   Component = "rolls"
	Seeds   Component = "seeds"
)

// Components are all there are.
var Components = []Component{Loosens, Cuts, Combs, Rolls, Seeds}

// Operation is one operation on a field.
type Operation struct {
	Name string
	Does []Component // one or more
	// When it was done; zero: in the middle of its passes by their area and times, and if these are not logged it is not known.
	When time.Time
	Runs []drive.Run // its passes on the field's plane: drive.Log.Runs
	Work drive.Work  // as those passes were read with
}

// does says whether an operation does c; all do "".
func (o Operation) does(c Component) bool { return c == "" || slices.Contains(o.Does, c) }

func (o Operation) validate() error {
	if len(o.Does) == 0 {
		return fmt.Errorf("what it does is missing: must be one or more of %v", Components)
	}
	for _, c := range o.Does {
		if !slices.Contains(Components, c) {
			return fmt.Errorf("what it does, %q: must be one or more of %v", c, Components)
		}
	}
	return o.Work.Validate()
}

// when is Operation.When, or the middle of the passes' times, each weighed by its length: bars are all as wide.
func (o Operation) when() time.Time {
	if !o.When.IsZero() {
		return o.When.UTC()
	}
	var first time.Time
	var seconds, metres float64
	for _, one := range o.Runs {
		if p := one.Pass; !p.From.IsZero() && !p.To.IsZero() {
			if first.IsZero() {
				first = p.From
			}
			seconds += p.Length * (p.From.Sub(first) + p.To.Sub(first)).Seconds() / 2
			metres += p.Length
		}
	}
	if !(metres > 0) {
		return time.Time{}
	}
	return first.Add(time.Duration(seconds / metres * float64(time.Second))).UTC().Truncate(time.Second)
}

const (
	// aligned: ways within so many degrees of the main direction go along it.
	aligned = 10.0 // °
	// perDegree is how finely directions are told apart while the main one is looked for.
	perDegree = 2
)

// directionOf is the direction in which most metres of the passes go, mod 180°, and the share of all metres that goes within 10° of it.
// Rounds along the boundary and bends so do not turn it.
func directionOf(runs []drive.Run, local geo.Local) (geo.Bearing, float64) {
	const bins = 180 * perDegree
	var metres [bins]float64
	each := func(f func(degrees, metres float64)) {
		for _, one := range runs {
			for i := 1; i < len(one.Stops); i++ {
				if way := one.Stops[i].At.Sub(one.Stops[i-1].At); one.Stops[i-1].Next.Ground() && way != (plane.XY{}) {
					f(math.Mod(float64(local.BearingOf(geo.Along(way)))+360, 180), way.Len())
				}
			}
		}
	}
	total := 0.0
	each(func(degrees, m float64) {
		metres[min(int(degrees*perDegree), bins-1)] += m
		total += m
	})
	if total == 0 {
		return 0, 0
	}
	// The window of 2·aligned that holds most, then the mean of doubled angles in it.
	best, most := 0, -1.0
	for from := range bins {
		sum := 0.0
		for k := range int(2 * aligned * perDegree) {
			sum += metres[(from+k)%bins]
		}
		if sum > most {
			best, most = from, sum
		}
	}
	middle := math.Mod(float64(best)/perDegree+aligned, 180)
	mean := func() float64 {
		var turn float64
		within := 0.0
		each(func(degrees, m float64) {
			if d := halfTurn(degrees - middle); math.Abs(d) <= aligned {
				turn += m * d
				within += m
			}
		})
		most = within
		return math.Mod(middle+turn/within+180, 180)
	}
	middle = mean()
	middle = mean()
	return geo.Bearing(middle), most / total
}

// halfTurn brings a difference of directions into −90 … 90°.
func halfTurn(d float64) float64 { return d - 180*math.Round(d/180) }

// passes are the operation as the engine takes it.
func (o Operation) passes() ground.Passes { return ground.Passes{Runs: o.Runs, Work: o.Work} }
