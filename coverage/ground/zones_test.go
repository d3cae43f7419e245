package ground

import (
	"math"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestZonesOfAField: fields and layers a person can add up, zones 10 m deep.
func TestZonesOfAField(t *testing.T) {
	hole := func(x0, y0, x1, y1 float64) []plane.XY {
		r := trial.Rectangle(x0, y0, x1, y1)
		slices.Reverse(r)
		return r
	}
	poly := func(rings ...[]plane.XY) []plane.Polygon {
		var p plane.Polygon
		for _, r := range rings {
			p = append(p, r)
		}
		return []plane.Polygon{p}
	}
	square := trial.Rectangle(0, 0, 100, 100)
	// a hole's own ring of 10 m has round corners: 4 · 20 · 10 + π · 10²
	const round = 800 + math.Pi*100
	for _, c := range []struct {
		name                          string
		field, missed, double         []plane.Polygon
		headland, obstacles, interior Zone // shares are worked out below
	}{
		{name: "nothing in the layers", field: poly(square), headland: Zone{Area: 3600}, interior: Zone{Area: 6400}},
		{name: "a missed strip across all of it", field: poly(square), missed: poly(trial.Rectangle(40, 0, 42, 100)),
			headland: Zone{Area: 3600, Missed: 40}, interior: Zone{Area: 6400, Missed: 160}},
		{name: "double-worked in a corner and in the middle", field: poly(square), double: append(poly(trial.Rectangle(0, 0, 20, 20)), poly(trial.Rectangle(50, 50, 60, 60))...),
			headland: Zone{Area: 3600, Double: 300}, interior: Zone{Area: 6400, Double: 200}},
		{name: "all missed", field: poly(square), missed: poly(square), headland: Zone{Area: 3600, Missed: 3600}, interior: Zone{Area: 6400, Missed: 6400}},
		{name: "narrower than two depths: all headland", field: poly(trial.Rectangle(0, 0, 100, 19)), missed: poly(trial.Rectangle(0, 9, 100, 10)), headland: Zone{Area: 1900, Missed: 100}},
		{name: "a hole in the middle", field: poly(square, hole(40, 40, 60, 60)), missed: poly(trial.Rectangle(60, 45, 100, 50)),
			headland: Zone{Area: 3600, Missed: 50}, obstacles: Zone{Area: round, Missed: 50}, interior: Zone{Area: 6400 - 400 - round, Missed: 100}},
		{name: "a hole at the headland: headland wins", field: poly(square, hole(40, 5, 60, 25)), missed: poly(trial.Rectangle(20, 12, 40, 16)), double: poly(trial.Rectangle(60, 2, 70, 8)),
			// above 10 m: two sides 15 m high, the top 20 m long and its two corners
			headland: Zone{Area: 3600 - 100, Double: 60}, obstacles: Zone{Area: 2*150 + 200 + math.Pi*50, Missed: 40}, interior: Zone{Area: 6400 - 300 - 500 - math.Pi*50, Missed: 40}},
		{name: "two fields", field: append(poly(square), poly(trial.Rectangle(200, 0, 240, 40))...), double: poly(trial.Rectangle(200, 0, 240, 20)),
			headland: Zone{Area: 3600 + 1200, Double: 600}, interior: Zone{Area: 6400 + 400, Double: 200}},
		{name: "a field in the hole of another", field: append(poly(square, hole(30, 30, 70, 70)), poly(trial.Rectangle(35, 35, 65, 65))...), missed: poly(trial.Rectangle(45, 45, 55, 55)),
			headland: Zone{Area: 3600 + 800}, obstacles: Zone{Area: 1600 + math.Pi*100}, interior: Zone{Area: 6400 - 1600 - 1600 - math.Pi*100 + 100, Missed: 100}},
	} {
		t.Run(c.name, func(t *testing.T) {
			z, err := ZonesOf(t.Context(), c.field, Layers{Missed: c.missed, Double: c.double}, drive.Work{Width: 10})
			if err != nil {
				t.Fatal(err)
			}
			trial.Near(t, "depth", z.Depth, 10, 0)
			for _, k := range []struct {
				name      string
				got, want Zone
			}{{"headland", z.Headland, c.headland}, {"obstacles", z.Obstacles, c.obstacles}, {"interior", z.Interior, c.interior}} {
				trial.Near(t, k.name, k.got.Area, k.want.Area, 0.05) // 0.5 mm of chord on round corners of 16 m a quarter
				trial.Near(t, k.name+" missed", k.got.Missed, k.want.Missed, 0.05)
				trial.Near(t, k.name+" double", k.got.Double, k.want.Double, 0.05)
				trial.Near(t, k.name+" share missed", k.got.MissedShare*k.got.Area, k.got.Missed, 1e-9)
				trial.Near(t, k.name+" share double", k.got.DoubleShare*k.got.Area, k.got.Double, 1e-9)
			}
			if c.obstacles == (Zone{}) && z.Obstacles != (Zone{}) || c.interior == (Zone{}) && z.Interior != (Zone{}) {
				t.Errorf("%+v: want zones that are not there to be exactly nothing", z)
			}
			trial.Near(t, "sum", z.Headland.Area+z.Obstacles.Area+z.Interior.Area, AreaOf(c.field), 1e-6*AreaOf(c.field))
		})
	}
}
