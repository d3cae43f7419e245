package crs

// Ellipsoid is given by its half axis in metres and its inverse flattening.
type Ellipsoid struct{ A, InvF float64 }

// WGS84: NGA.STND.0036.
var WGS84 = Ellipsoid{6378137, 298.257223563}

// Projection is a map projection. Degrees in, metres out, and back.
type Projection interface {
	Forward(lon, lat float64) (x, y float64)
	Inverse(x, y float64) (lon, lat float64)
	Name() string
}
