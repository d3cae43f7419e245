package coverage

import (
	"context"
	"fmt"
	"math"

	"balk/geo/plane"
)

// Zones is where in the field ground was missed and worked twice or more. The
// zones tile the field. Ground near both the outer boundary and an obstacle is headland.
//
// Missed and Double are those of the drawn layers. Summed over the zones they
// differ from the balance by no more than 0.1 mm times the layers' rim,
// where the drawing is rounded, and by the slivers thinner than 0.2 mm it leaves out.
type Zones struct {
	Depth     float64 `json:"depth"`     // m: the headland's depth, or one credited width where none is asked for
	Headland  Zone    `json:"headland"`  // nearer than Depth to the outer boundary
	Obstacles Zone    `json:"obstacles"` // not headland, and nearer than Depth to an obstacle
	Interior  Zone    `json:"interior"`  // the rest
}

// Zone is one part of the field, in m² and shares of the zone (0 where it is empty).
type Zone struct {
	Area        float64 `json:"area"`
	Missed      float64 `json:"missed"`
	Double      float64 `json:"double"` // worked twice or more
	MissedShare float64 `json:"missedShare"`
	DoubleShare float64 `json:"doubleShare"`
}

// The lanes of the zones' arrangement.
const (
	laneZoned  = iota // the field
	laneInner         // once without the headland, once more without the ground round obstacles
	laneMissed        // layers
	laneDouble
)

// Classes of the zones' arrangement: a zone times 3, and what became of the ground.
const (
	zonePlain plane.Class = iota + 1
	zoneMissed
	zoneDouble
	zoneKinds = 3
)

// dust: a smaller zone is nothing but rounding where the borders of zones coincide.
const dust = 1e-9 // of the field

// ZoneDepth is how deep in metres the zones along boundary and obstacles are.
func (w Work) ZoneDepth() float64 {
	if d := w.HeadlandDepth(); d > 0 {
		return d
	}
	return w.Credited()
}

// zonesOf lays the layers missed and double over field and zones. It satisfies
//
//  1. the zones' areas add up to the field's, to a millionth of it, else it is an error;
//  2. missed and double add up to the layers', but for what the drawing puts
//     outside the boundary, which is its rounding.
//
// It goes over the layers only, so it costs the less the better the work was.
func zonesOf(ctx context.Context, field []plane.Polygon, l Layers, w Work) (Zones, error) {
	z := Zones{Depth: w.ZoneDepth()}
	all := inLane(field, laneZoned)
	outer, holes := make([]plane.Polygon, len(field)), false
	for k, p := range field {
		outer[k], holes = p[:1], holes || len(p) > 1
	}
	core, err := plane.InsetRings(ctx, outer, z.Depth)
	if err != nil {
		return Zones{}, fmt.Errorf("headland of %g m: %w", z.Depth, err)
	}
	inner := core
	if holes {
		if inner, err = plane.InsetRings(ctx, field, z.Depth); err != nil {
			return Zones{}, fmt.Errorf("%g m round obstacles: %w", z.Depth, err)
		}
	}
	for _, rings := range [2][]plane.Ring{core, inner} {
		for _, r := range rings {
			all = append(all, plane.Outline{Line: r, Lane: laneInner})
		}
	}
	all = append(all, inLane(l.Missed, laneMissed)...)
	all = append(all, inLane(l.Double, laneDouble)...)
	got, err := plane.Arrange(ctx, all, plane.Question{Workers: w.Workers, Classify: inZone})
	if err != nil {
		return Zones{}, err
	}
	whole, sum := areaOf(field), 0.0
	for k, zone := range []*Zone{&z.Headland, &z.Obstacles, &z.Interior} {
		area := got.Area[k*zoneKinds:]
		if all := area[zonePlain] + area[zoneMissed] + area[zoneDouble]; all > dust*whole {
			*zone = Zone{Area: all, Missed: max(0, area[zoneMissed]), Double: max(0, area[zoneDouble])}
			zone.MissedShare, zone.DoubleShare = zone.Missed/all, zone.Double/all
		}
		sum += zone.Area
	}
	if !(math.Abs(sum-whole) <= allowed*whole) {
		return Zones{}, fmt.Errorf("zones hold %g m² of a field of %g m²: must be within %g m², a millionth of the field", sum, whole, allowed*whole)
	}
	return z, nil
}

// inZone sorts a place by its zone and what became of it.
func inZone(l plane.Label) plane.Class {
	if l.Count(laneZoned) <= 0 {
		return 0
	}
	kind := zonePlain
	switch {
	case l.Count(laneMissed) > 0:
		kind = zoneMissed
	case l.Count(laneDouble) > 0:
		kind = zoneDouble
	}
	return plane.Class(min(max(l.Count(laneInner), 0), 2))*zoneKinds + kind
}
