package drying

import (
	"fmt"
	"math"
)

// Station is where the weather was read.
type Station struct {
	Lon, Lat   float64 // degrees
	Altitude   float64 // m above the sea
	WindHeight float64 // m above ground at which the wind was read; 0 = 2
}

// Reading is what a station read over a time. What it did not read is NaN.
type Reading struct {
	Start, End int64 // seconds since 1970 UTC, Start < End
	// Temperature is that of the air 2 m above ground, °C. Least and Most are its extremes within the time; where they
	// are not known they are NaN.
	Temperature, Least, Most float64
	// Humidity is the relative one, %. HumidityLeast and HumidityMost are its extremes.
	Humidity, HumidityLeast, HumidityMost float64
	Wind                                  float64 // m/s
	Radiation                             float64 // of sun and sky on level ground, MJ/m² over the time
	Sunshine                              float64 // hours of bright sun within the time
	Rain                                  float64 // mm
}

// Nothing is a reading of which nothing is known but its time.
func Nothing(start, end int64) Reading {
	no := math.NaN()
	return Reading{start, end, no, no, no, no, no, no, no, no, no, no}
}

// Limits of what can be read on earth, to tell a wrong column or unit from weather. The extremes are those of the
// World Meteorological Organization's archive (−89.2 and 56.7 °C, gust 113 m/s), rounded outwards; from memory.
const (
	coldest, hottest = -90.0, 60.0 // °C
	windiest         = 115.0       // m/s
	wettest          = 2000.0      // mm in a reading
	sunniest         = 1367e-6     // MJ/m² a second: the sun above the air, FAO-56 (28): 0.0820 MJ/m² a minute
)

// Validate says what of r cannot be, by name and value.
func (r Reading) Validate() error {
	if r.Start >= r.End {
		return fmt.Errorf("the reading ends (%d) when it begins (%d) or before", r.End, r.Start)
	}
	seconds := float64(r.End - r.Start)
	for _, v := range []struct {
		name        string
		value       float64
		least, most float64
	}{
		{"temperature", r.Temperature, coldest, hottest}, {"least temperature", r.Least, coldest, hottest}, {"greatest temperature", r.Most, coldest, hottest},
		{"humidity", r.Humidity, 0, 100}, {"least humidity", r.HumidityLeast, 0, 100}, {"greatest humidity", r.HumidityMost, 0, 100},
		{"wind", r.Wind, 0, windiest}, {"radiation", r.Radiation, 0, sunniest * seconds}, {"sunshine", r.Sunshine, 0, seconds / 3600}, {"rain", r.Rain, 0, wettest},
	} {
		if v.value < v.least || v.value > v.most || math.IsInf(v.value, 0) {
			return fmt.Errorf("%s %g: from %g to %g is possible", v.name, v.value, v.least, v.most)
		}
	}
	if r.Least > r.Most {
		return fmt.Errorf("least temperature %g above the greatest, %g", r.Least, r.Most)
	}
	if r.HumidityLeast > r.HumidityMost {
		return fmt.Errorf("least humidity %g above the greatest, %g", r.HumidityLeast, r.HumidityMost)
	}
	return nil
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
