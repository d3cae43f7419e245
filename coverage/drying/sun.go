package drying

import (
	"math"
	"time"
)

// solar is the sun's radiation above the air, MJ/m² a minute: FAO-56 (28).
const solar = 0.0820

// sun is where the sun stands on a day.
type sun struct {
	near     float64 // inverse relative distance: FAO-56 (23)
	decline  float64 // declination, radians: FAO-56 (24)
	lat      float64 // radians
	set      float64 // angle of the sunset hour, radians: FAO-56 (25); 0 in polar night, π on a polar day
	equation float64 // seasonal correction for solar time, h: FAO-56 (32), (33)
}

func sunOf(day int, lat float64) sun {
	j := 2 * math.Pi * float64(day) / 365
	s := sun{near: 1 + 0.033*math.Cos(j), decline: 0.409 * math.Sin(j-1.39), lat: lat * math.Pi / 180}
	s.set = math.Acos(min(1, max(-1, -math.Tan(s.lat)*math.Tan(s.decline))))
	b := 2 * math.Pi * float64(day-81) / 364
	s.equation = 0.1645*math.Sin(2*b) - 0.1255*math.Cos(b) - 0.025*math.Sin(b)
	return s
}

// above is the radiation above the air between two angles of the sun's hour, MJ/m²: FAO-56 (28), in which a whole day,
// (21), is that between sunrise and sunset.
func (s sun) above(from, to float64) float64 {
	from, to = max(from, -s.set), min(to, s.set)
	if from >= to {
		return 0
	}
	return 12 * 60 / math.Pi * solar * s.near * ((to-from)*math.Sin(s.lat)*math.Sin(s.decline) +
		math.Cos(s.lat)*math.Cos(s.decline)*(math.Sin(to)-math.Sin(from)))
}

// day is the radiation above the air over a day, MJ/m², and the hours of light: FAO-56 (21), (34).
func (s sun) day() (above, hours float64) { return s.above(-s.set, s.set), 24 / math.Pi * s.set }

// solarDay is the day of the year, 1 to 366, and the solar hour angle (radians, 0 at noon) at a place and an instant.
// The day is that of the place's mean solar time, so that no time zone is needed.
func solarDay(at int64, lon float64) (day int, mean float64) {
	local := time.Unix(at, 0).UTC().Add(time.Duration(lon / 15 * float64(time.Hour)))
	seconds := local.Hour()*3600 + local.Minute()*60 + local.Second()
	return local.YearDay(), (float64(seconds)/3600 - 12) * math.Pi / 12
}

// between is the radiation above the air between two instants at a place, MJ/m²: days of solar time, one by one.
func between(start, end int64, lon, lat float64) float64 {
	sum := 0.0
	for start < end {
		day, angle := solarDay(start, lon)
		s := sunOf(day, lat)
		left := int64(math.Ceil((math.Pi - angle) * 12 / math.Pi * 3600)) // to midnight
		stop := min(end, start+max(left, 1))
		shift := s.equation * math.Pi / 12
		sum += s.above(angle+shift, angle+float64(stop-start)/3600*math.Pi/12+shift)
		start = stop
	}
	return sum
}
