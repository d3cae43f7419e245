package geo

import (
	"fmt"
	"math"
)

// Weather is what a station read over a time. What it did not read is NaN.
type Weather struct {
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

// NoWeather is a reading of which nothing is known but its time.
func NoWeather(start, end int64) Weather {
	no := math.NaN()
	return Weather{start, end, no, no, no, no, no, no, no, no, no, no}
}

// Limits of what can be read on earth, to tell a wrong column or unit from weather. The extremes are those of the
// World Meteorological Organization's archive (−89.2 and 56.7 °C, gust 113 m/s), rounded outwards; from memory.
const (
	coldest, hottest = -90.0, 60.0 // °C
	windiest         = 115.0       // m/s
	wettest          = 2000.0      // mm in a reading
	sunniest         = 1367e-6     // MJ/m² a second: the sun above the air, FAO-56 (28): 0.0820 MJ/m² a minute
)

// Validate says what of w cannot be, by name and value.
func (w Weather) Validate() error {
	if w.Start >= w.End {
		return fmt.Errorf("the reading ends (%d) when it begins (%d) or before", w.End, w.Start)
	}
	seconds := float64(w.End - w.Start)
	for _, v := range []struct {
		name        string
		value       float64
		least, most float64
	}{
		{"temperature", w.Temperature, coldest, hottest}, {"least temperature", w.Least, coldest, hottest}, {"greatest temperature", w.Most, coldest, hottest},
		{"humidity", w.Humidity, 0, 100}, {"least humidity", w.HumidityLeast, 0, 100}, {"greatest humidity", w.HumidityMost, 0, 100},
		{"wind", w.Wind, 0, windiest}, {"radiation", w.Radiation, 0, sunniest * seconds}, {"sunshine", w.Sunshine, 0, seconds / 3600}, {"rain", w.Rain, 0, wettest},
	} {
		if v.value < v.least || v.value > v.most || math.IsInf(v.value, 0) {
			return fmt.Errorf("%s %g: from %g to %g is possible", v.name, v.value, v.least, v.most)
		}
	}
	if w.Least > w.Most {
		return fmt.Errorf("least temperature %g above the greatest, %g", w.Least, w.Most)
	}
	if w.HumidityLeast > w.HumidityMost {
		return fmt.Errorf("least humidity %g above the greatest, %g", w.HumidityLeast, w.HumidityMost)
	}
	return nil
}
