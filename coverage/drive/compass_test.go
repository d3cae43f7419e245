package drive

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// rounds is a way north, east, south and west, and so on, 60 m each.
func rounds(n int) (line []plane.XY, bearings []geo.Bearing) {
	at, sides := plane.XY{}, []plane.XY{{Y: 1}, {X: 1}, {Y: -1}, {X: -1}}
	for k := range n {
		way := sides[k%4]
		for range 30 {
			line, bearings = append(line, at), append(bearings, geo.Bearing(90*(k%4)))
			at = at.Add(way.Scale(2))
		}
	}
	return line, bearings
}

// TestCompass: headings that are no degrees from north are read as what they are, or not at all, and it is said; all others are read as logged.
func TestCompass(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 1))
	rad := func(b geo.Bearing) geo.Bearing { return b * math.Pi / 180 }
	signed := func(b geo.Bearing) geo.Bearing { return geo.Bearing(math.Remainder(float64(b), 360)) }
	logged := func(b geo.Bearing) geo.Bearing { return b }
	for _, c := range []struct {
		name  string
		logs  func(b geo.Bearing) geo.Bearing
		sides int
		noise float64 // m, of the places
		want  func(b geo.Bearing) geo.Bearing
		says  string
	}{
		{"degrees", logged, 8, 0, logged, ""},
		{"degrees, places of a metre's noise", logged, 80, 1, logged, ""},
		{"degrees, 20° of crab", func(b geo.Bearing) geo.Bearing { return b + 20 }, 8, 0, func(b geo.Bearing) geo.Bearing { return b + 20 }, ""},
		{"degrees to both sides", signed, 8, 0, logged, ""},
		{"radians", rad, 8, 0, logged, "taken as radians, as"},
		{"radians to both sides", func(b geo.Bearing) geo.Bearing { return rad(signed(b)) }, 8, 0, logged, "taken as radians, as"},
		{"as mathematics does", func(b geo.Bearing) geo.Bearing { return 90 - b }, 8, 0, logged, "degrees counter-clockwise from east"},
		{"as mathematics does, radians", func(b geo.Bearing) geo.Bearing { return rad(90 - b) }, 8, 0, logged, "radians counter-clockwise from east"},
		{"a column of zeros", func(geo.Bearing) geo.Bearing { return 0 }, 8, 0, nil, "point ahead on 25 % of the way: they are no bearings"},
		{"a quarter turn off", func(b geo.Bearing) geo.Bearing { return b + 90 }, 8, 0, nil, "point ahead on 0 % of the way: they are no bearings"},
		{"anything", func(geo.Bearing) geo.Bearing { return geo.Bearing(360 * rng.Float64()) }, 80, 0, nil, "they are no bearings"},
		{"driven backwards", func(b geo.Bearing) geo.Bearing { return b + 180 }, 8, 0, func(b geo.Bearing) geo.Bearing { return b + 180 }, "backwards on 100 % of the way"},
		{"a column of zeros, too few ways", func(geo.Bearing) geo.Bearing { return 0 }, 1, 0, func(geo.Bearing) geo.Bearing { return 0 }, ""},
		{"none logged", func(geo.Bearing) geo.Bearing { return geo.Bearing(math.NaN()) }, 8, 0, func(geo.Bearing) geo.Bearing { return geo.Bearing(math.NaN()) }, ""},
	} {
		line, bearings := rounds(c.sides)
		for k := range line {
			line[k] = line[k].Add(plane.XY{X: c.noise * rng.NormFloat64(), Y: c.noise * rng.NormFloat64()})
		}
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-10, -10, 70, 70)}, Lines: [][]plane.XY{line}}
		track := s.Track()
		for _, b := range bearings {
			track.Heading = append(track.Heading, c.logs(b))
		}
		read, found := compassOf([]geo.Track{track})
		if (read == nil) != (c.want == nil) {
			t.Errorf("%s: headings are read: %v", c.name, read != nil)
			continue
		}
		if said := len(found) > 0; said != (c.says != "") || said && !strings.Contains(found[0].What, c.says) {
			t.Errorf("%s: %v is said, want %q", c.name, found, c.says)
		}
		for k, b := range bearings {
			if read == nil {
				break
			}
			if off := math.Remainder(float64(read(track.Heading[k])-c.want(b)), 360); math.Abs(off) > 1e-6 {
				t.Errorf("%s: %g is read as %g, want %g", c.name, track.Heading[k], read(track.Heading[k]), c.want(b))
				break
			}
		}
	}
}

// TestCompassOfManyFiles: a file per row has no ways enough of its own, so all are asked together; and a row there and back with one heading is held for a column
// that nobody filled, not for a set that goes backwards every other row.
func TestCompassOfManyFiles(t *testing.T) {
	var tracks []geo.Track
	for k := range 8 {
		a, b := plane.XY{X: 6 * float64(k)}, plane.XY{X: 6 * float64(k), Y: 60}
		if k%2 == 1 {
			a, b = b, a
		}
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-10, -10, 70, 70)}, Lines: [][]plane.XY{trial.Straight(a, b, 2)}}
		one := s.Track()
		one.Heading = make([]geo.Bearing, one.Fixes())
		tracks = append(tracks, one)
	}
	if read, found := compassOf(tracks); read != nil || len(found) != 1 {
		t.Errorf("headings of 0° there and back are read: %v, and %v is said", read != nil, found)
	}
}
