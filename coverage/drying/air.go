package drying

import (
	"math"

	"balk/geo"
)

// saturation is the pressure of vapour over water at a temperature (°C), kPa: FAO-56 (11).
func saturation(t float64) float64 { return 0.6108 * math.Exp(17.27*t/(t+237.3)) }

// slope is how that pressure grows, kPa/°C: FAO-56 (13).
func slope(t float64) float64 { return 4098 * saturation(t) / ((t + 237.3) * (t + 237.3)) }

// psychrometric is the psychrometric constant at an altitude (m), kPa/°C: FAO-56 (7) and (8).
func psychrometric(altitude float64) float64 {
	return 0.665e-3 * 101.3 * math.Pow((293-0.0065*altitude)/293, 5.26)
}

// windAt2 is the wind 2 m above ground (m/s) by that at a height (m): FAO-56 (47).
func windAt2(wind, height float64) float64 {
	if height == 2 {
		return wind
	}
	return wind * 4.87 / math.Log(67.8*height-5.42)
}

// usualWind stands where no wind was read, m/s: FAO-56, chapter 3, "the average of some 2000 weather stations".
const usualWind = 2.0

// vapour is the pressure of vapour in the air (kPa), and what was taken for it: FAO-56 (17), (18), (19), and (48)
// where no humidity was read, with the temperature at which dew falls taken as the least one. least, most are the
// extremes of the temperature, mean stands for them in readings of an hour (54).
func vapour(r geo.Weather, least, most float64) (ea float64, taken Taken) {
	switch {
	case known(r.HumidityLeast, r.HumidityMost):
		return (saturation(least)*r.HumidityMost + saturation(most)*r.HumidityLeast) / 200, 0
	case known(r.HumidityMost):
		return saturation(least) * r.HumidityMost / 100, 0
	case known(r.Humidity):
		return r.Humidity / 100 * (saturation(least) + saturation(most)) / 2, 0
	}
	return saturation(least), TakenHumidity
}

// Taken says which values were not read, and taken by the rules of FAO-56, chapter 3, for missing data.
type Taken uint8

// What can be taken by a rule; a set of bits.
const (
	TakenHumidity  Taken = 1 << iota // air that is saturated at the least temperature
	TakenWind                        // 2 m/s
	TakenRadiation                   // by the span of temperatures
)

// Words name what was taken, and by what.
func (t Taken) Words() []string {
	var list []string
	for _, one := range []struct {
		bit   Taken
		words string
	}{
		{TakenHumidity, "humidity from the least temperature of the day"},
		{TakenWind, "wind of 2 m/s"},
		{TakenRadiation, "radiation from the span of temperatures of the day"},
	} {
		if t&one.bit != 0 {
			list = append(list, one.words)
		}
	}
	return list
}
