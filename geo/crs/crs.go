package crs

// Ellipsoid is given by its half axis in metres and its inverse flattening; an
// inverse flattening of 0 means a sphere.
type Ellipsoid struct{ A, InvF float64 }

// WGS84: NGA.STND.0036.
var WGS84 = Ellipsoid{6378137, 298.257223563}

// GRS80: EPSG:7019. Its half axis b is 0.1 mm from that of WGS84.
var GRS80 = Ellipsoid{6378137, 298.257222101}

func (e Ellipsoid) flattening() float64 {
	if e.InvF == 0 {
		return 0
	}
	return 1 / e.InvF
}

// Projection is a map projection. Degrees in, metres out, and back.
type Projection interface {
	Forward(lon, lat float64) (x, y float64)
	Inverse(x, y float64) (lon, lat float64)
	Name() string
}
