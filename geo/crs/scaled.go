package crs

// scaled is a projection whose map is not in metres.
type scaled struct {
	Projection
	unit float64 // metres per unit of the map
}

func (s scaled) Forward(lon, lat float64) (x, y float64) {
	x, y = s.Projection.Forward(lon, lat)
	return x / s.unit, y / s.unit
}

func (s scaled) Inverse(x, y float64) (lon, lat float64) {
	return s.Projection.Inverse(x*s.unit, y*s.unit)
}
