package ground

import (
	"context"
	"fmt"
	"math"

	"balk/coverage/drive"
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

// ZonesOf lays the layers missed and double over field and zones. It satisfies
//
//  1. the zones' areas add up to the field's, to a millionth of it, else it is an error;
//  2. missed and double add up to the layers', but for what the drawing puts
//     outside the boundary, which is its rounding.
//
// It goes over the layers only, and pieces that meet no border of a zone are sorted
// one by one: an arrangement is slow with many outlines that nothing crosses.
func ZonesOf(ctx context.Context, field []plane.Polygon, l Layers, w drive.Work) (Zones, error) {
	z := Zones{Depth: w.ZoneDepth()}
	all := inLane(field, laneZoned)
	outer, holes := make([]plane.Polygon, len(field)), false
	for k, p := range field {
		outer[k], holes = p[:1], holes || len(p) > 1
	}
	core, err := plane.InsetRings(ctx, outer, z.Depth)
	if err != nil {
		return Zones{}, fmt.Errorf("headland of %.6g m: %w", z.Depth, err)
	}
	inner := core
	if holes {
		if inner, err = plane.InsetRings(ctx, field, z.Depth); err != nil {
			return Zones{}, fmt.Errorf("%g m round obstacles: %w", z.Depth, err)
		}
	}
	borders := bordersOf(core, inner)
	for _, rings := range [2][]plane.Ring{core, inner} {
		for _, r := range rings {
			all = append(all, plane.Outline{Line: r, Lane: laneInner})
		}
	}
	missed, acrossMissed := borders.part(l.Missed)
	double, acrossDouble := borders.part(l.Double)
	all = append(all, inLane(acrossMissed, laneMissed)...)
	all = append(all, inLane(acrossDouble, laneDouble)...)
	got, err := plane.Arrange(ctx, all, plane.Question{Workers: w.Workers, Classify: inZone})
	if err != nil {
		return Zones{}, err
	}
	whole, sum := AreaOf(field), 0.0
	for k, zone := range []*Zone{&z.Headland, &z.Obstacles, &z.Interior} {
		area := got.Area[k*zoneKinds:]
		if all := area[zonePlain] + area[zoneMissed] + area[zoneDouble]; all > dust*whole {
			*zone = Zone{Area: all, Missed: max(0, area[zoneMissed]) + missed[k], Double: max(0, area[zoneDouble]) + double[k]}
			zone.MissedShare, zone.DoubleShare = zone.Missed/all, zone.Double/all
		}
		sum += zone.Area
	}
	if !(math.Abs(sum-whole) <= allowed*whole) {
		return Zones{}, fmt.Errorf("zones hold %.8g m² of a field of %.8g m²: must be within %.2g m², a millionth of the field", sum, whole, allowed*whole)
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
	return plane.Class(zoneAt(l.Count(laneInner)))*zoneKinds + kind
}

// zoneAt is headland, obstacles or interior, 0 to 2, by how many of the insets hold a place.
func zoneAt(insets int) int { return min(max(insets, 0), 2) }

// borders are the rings between the zones, edge by edge.
type borders struct{ plane.Edges }

func bordersOf(insets ...[]plane.Ring) *borders {
	b := new(borders)
	for _, rings := range insets {
		for _, r := range rings {
			b.Add(r)
		}
	}
	return b
}

// part sums the polygons that lie in one zone, by zone, and hands back the others.
func (b *borders) part(polys []plane.Polygon) (area [3]float64, across []plane.Polygon) {
	for _, p := range polys {
		if box := p[0].Bounds(); b.meet(box) {
			across = append(across, p)
		} else {
			area[zoneAt(b.Winding(box.Min))] += p.Area()
		}
	}
	return area, across
}

// meet says whether a border comes into a box.
func (b *borders) meet(box plane.Box) bool {
	for k := range b.In(box) {
		// Their boxes meet. They are apart if all corners lie on one side of the edge.
		e, left, right := b.At(k), 0, 0
		for _, q := range [4]plane.XY{box.Min, {X: box.Max.X, Y: box.Min.Y}, box.Max, {X: box.Min.X, Y: box.Max.Y}} {
			switch t := turn(e.A, e.B, q); {
			case t > 0:
				left++
			case t < 0:
				right++
			}
		}
		if left < 4 && right < 4 {
			return true
		}
	}
	return false
}
