package read

import (
	"fmt"
	"math"

	"balk/geo"
)

const (
	// A unit of speed is told from where and when the fixes were over at least tellWay and tellTime, by steps no longer
	// than tellStep; it is the one by which the way is as long within tellShare. Knots and miles per hour, the nearest two,
	// are 15 % apart. All are our own choice.
	tellWay, tellTime, tellStep, tellShare = 100.0, 30.0, 10.0, 0.06 // m, s, s
)

// speedUnits are what a column of speeds may be in, with the factor to m/s.
var speedUnits = []struct {
	name   string
	factor float64
}{{"km/h", 1 / geo.Kmh}, {"m/s", 1}, {"mph", 0.44704}, {"kn", 1852 / 3600.}, {"mm/s", 1e-3}}

// tellSpeed gives speeds the unit by which the set was as fast as its places and times say, where these say another one
// than the file. title: of a column that names no unit, whose speeds stand as they are and are left out where nothing is said;
// "": what stands is m/s. metres: the places are those of a map.
func (t *tally) tellSpeed(tracks []*growing, title string, metres bool) {
	way, time, speeds := 0.0, 0.0, 0.0
	for _, g := range tracks {
		w, s, v := g.driven(metres)
		way, time, speeds = way+w, time+s, speeds+v
	}
	factor := math.NaN()
	if way >= tellWay && time >= tellTime {
		for _, u := range speedUnits {
			if math.Abs(speeds*u.factor/way-1) > tellShare {
				continue
			}
			factor = u.factor
			switch {
			case title != "":
				t.add(1, nil, false, fmt.Sprintf("column %q says no unit: taken as %s, as places and times say", title, u.name))
			case factor != 1:
				t.add(0, nil, false, fmt.Sprintf("its speeds are not m/s but %s by its places and times: taken so", u.name))
			}
		}
	}
	if math.IsNaN(factor) {
		if title == "" {
			return
		}
		t.noUnit(title, "km/h, m/s or mph")
	}
	for _, g := range tracks {
		switch {
		case math.IsNaN(factor):
			g.Speed = nil
		case factor != 1:
			for i := range g.Speed {
				g.Speed[i] *= factor
			}
		}
	}
}

// driven is how far it is from fix to fix where both have a time and a speed, m; how long that took, s; and the sum of time
// by speed as it stands. Steps longer than tellStep, and back in time, are left out; those of no time are way, as of fixes that
// are more frequent than their clock ticks.
func (g *growing) driven(metres bool) (way, time, speeds float64) {
	east := 1.0
	if !metres && len(g.flat) > 0 {
		east = math.Cos(g.flat[1] * math.Pi / 180)
	}
	for i := 1; i < min(g.fixes(), len(g.Speed)); i++ {
		a, b := g.flat[3*i-3:3*i], g.flat[3*i:3*i+3]
		dt, v := b[2]-a[2], (g.Speed[i-1]+g.Speed[i])/2
		if !(dt >= 0 && dt <= tellStep) || math.IsNaN(v) || a[0] == nowhere || b[0] == nowhere {
			continue
		}
		dx, dy := b[0]-a[0], b[1]-a[1]
		if !metres {
			const degree = math.Pi / 180 * 6371e3 // m, good to half a percent
			dx, dy = dx*degree*east, dy*degree
		}
		way, time, speeds = way+math.Hypot(dx, dy), time+dt, speeds+dt*v
	}
	return way, time, speeds
}
