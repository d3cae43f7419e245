package drying

import "math"

// Station is where the weather was read.
type Station struct {
	Lon, Lat   float64 // degrees
	Altitude   float64 // m above the sea
	WindHeight float64 // m above ground at which the wind was read; 0 = 2
}

// known tells whether all of v were read.
func known(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) {
			return false
		}
	}
	return true
}
