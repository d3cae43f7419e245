package turn

import (
	"fmt"
	"math"
	"math/rand/v2"

	"balk/geo"
	"balk/geo/plane"
)

// apart is how far two poses are from each other, m and rad.
func apart(a, b Pose) (place, heading float64) {
	return a.At.Dist(b.At), math.Abs(math.Remainder(float64(a.Heading-b.Heading), 2*math.Pi))
}

// leadsTo is an error where p is not valid or ends elsewhere.
func leadsTo(p Path, to Pose) error {
	if err := p.Validate(); err != nil {
		return err
	}
	if place, heading := apart(p.End(), to); !(place <= Exact && heading <= Exact) {
		return fmt.Errorf("%s %s ends %g m and %g rad from its goal", p.Kind, p.Word(), place, heading)
	}
	return nil
}

// anyPose lies within span metres of the origin.
func anyPose(rng *rand.Rand, span float64) Pose {
	return Pose{plane.XY{X: span * (2*rng.Float64() - 1), Y: span * (2*rng.Float64() - 1)}, geo.Heading(2 * math.Pi * rng.Float64())}
}

// rigid moves and turns poses, or mirrors them in the x axis.
type rigid struct {
	by     plane.XY
	turn   float64
	mirror bool
}

func (m rigid) pose(p Pose) Pose {
	if m.mirror {
		p.At.Y, p.Heading = -p.At.Y, -p.Heading
	}
	sin, cos := math.Sincos(m.turn)
	return Pose{plane.XY{X: cos*p.At.X - sin*p.At.Y, Y: sin*p.At.X + cos*p.At.Y}.Add(m.by), p.Heading + geo.Heading(m.turn)}
}

func anyRigid(rng *rand.Rand) rigid {
	return rigid{plane.XY{X: 1000 * rng.NormFloat64(), Y: 1000 * rng.NormFloat64()}, 2 * math.Pi * rng.Float64(), rng.IntN(2) == 0}
}
