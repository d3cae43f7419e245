package crs

import (
	"math"
	"time"
)

// frame is a frame of maps that is fixed to a plate of the earth's crust, such as ETRS89. What a receiver finds by the
// satellites alone is in theirs, through which the plate moves by some centimetres a year.
type frame struct {
	name   string
	code   int        // EPSG, of the transformation from the satellites' frame
	year   float64    // of which p is
	p, by  [7]float64 // position vector (m, arc-seconds, ppm), and what it grows by in a year
	region [4]float64 // south, north, west, east
}

// Drift is how far a place that stands still on the ground has moved in the satellites' frame since a map's frame was fixed to
// the ground: what a receiver that knows nothing of the map's frame finds, less what the map says.
type Drift struct {
	Frame       string  // of the map
	EPSG        int     // code of the transformation that tells it
	East, North float64 // m
	Lon, Lat    float64 // the same in degrees
}

// FrameOf is the name of the plate's frame that p, from FromWKT or FromEPSG, is in, such as "ETRS89"; "": in none that the table
// has, or by a shift that is less exact than frames lie apart.
func FrameOf(p Projection) string {
	if s, ok := p.(system); ok && s.frame != nil {
		return s.frame.name
	}
	return ""
}

// DriftAt is the drift at a place and time from a frame that FrameOf gave; "": from that in which maps of the place are, if the
// table has one, of several the one that is farthest. false: it has none.
func DriftAt(of string, lon, lat float64, at time.Time) (d Drift, ok bool) {
	far := 0.0
	for _, f := range systems().frames {
		if of == "" && !f.holds(lon, lat) || of != "" && of != f.name {
			continue
		}
		if one := f.drift(lon, lat, at); math.Hypot(one.East, one.North) > far {
			d, far = one, math.Hypot(one.East, one.North)
		}
	}
	return d, far > 0
}

func (f *frame) holds(lon, lat float64) bool {
	middle := (f.region[2] + f.region[3]) / 2
	return lat >= f.region[0] && lat <= f.region[1] && math.Abs(wrap(lon-middle)) <= f.region[3]-middle
}

// drift takes a place from the satellites' frame to the plate's; what it moves by there is the drift, the other way about.
// That the place is taken in the one frame for that in the other changes it by millionths.
func (f *frame) drift(lon, lat float64, at time.Time) Drift {
	years := yearOf(at) - f.year
	s := shift{}
	for i := range s.p {
		s.p[i] = f.p[i] + years*f.by[i]
	}
	moved := newShifted(Geographic{}, WGS84, []shift{s})
	u, v := moved.Inverse(lon, lat)
	d := Drift{Frame: f.name, EPSG: f.code, Lon: wrap(lon - u), Lat: lat - v}
	d.East, d.North = WGS84.metres(d.Lon, d.Lat, lat)
	return d
}

// metres are small angles in degrees as metres on the ellipsoid at a latitude.
func (e Ellipsoid) metres(dlon, dlat, lat float64) (east, north float64) {
	f := e.flattening()
	e2 := f * (2 - f)
	sin, cos := math.Sincos(lat * toRad)
	w := 1 - e2*sin*sin
	return dlon * toRad * e.A * cos / math.Sqrt(w), dlat * toRad * e.A * (1 - e2) / (w * math.Sqrt(w))
}

// yearOf is a time as a year with its part that has gone by.
func yearOf(t time.Time) float64 {
	t = t.UTC()
	start := time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	return float64(t.Year()) + t.Sub(start).Hours()/start.AddDate(1, 0, 0).Sub(start).Hours()
}
