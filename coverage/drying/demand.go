package drying

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/geo"
)

// Lengths of readings that the equations are for: an hour or less (53), up to three as logs of synoptic stations have
// them (common practice, no source), and a day (6).
const (
	longestHour  = 3 * 3600
	shortestDay  = 23 * 3600 // a day on which clocks change
	longestDay   = 25 * 3600
	secondsOfDay = 24 * 3600
)

// demand is the drying demand of the air over each reading, mm: reference evapotranspiration by FAO-56 (6) over days
// and (53) over hours. Readings stand in order of time and do not overlap. NaN where it cannot be told, which is only
// where no temperature was read. taken says what was taken by rule, in any of them.
//
// Where radiation was not read it is told from sunshine, (35), else from the span of temperatures within the day, (50),
// with the factor of inland places. Over hours the ratio of radiation to that of a clear sky, which stands for clouds,
// is carried over the night from its last value by day, as FAO-56 has it ("2 to 3 hours before sunset").
func demand(s Station, readings []geo.Weather) (mm []float64, taken Taken, err error) {
	if s.WindHeight == 0 {
		s.WindHeight = 2
	}
	if s.WindHeight < 0.5 || s.WindHeight > 200 {
		return nil, 0, fmt.Errorf("height of the wind %g m: from 0.5 to 200 m is possible", s.WindHeight)
	}
	if math.Abs(s.Lat) > 90 || math.Abs(s.Lon) > 180 || s.Altitude < -500 || s.Altitude > 9000 {
		return nil, 0, fmt.Errorf("a station at %g, %g, %g m above the sea is not on earth", s.Lat, s.Lon, s.Altitude)
	}
	mm = make([]float64, len(readings))
	clear := ordinary
	for i, r := range readings {
		if err := r.Validate(); err != nil {
			return nil, 0, fmt.Errorf("reading %d: %w", i+1, err)
		}
		if i > 0 && r.Start < readings[i-1].End {
			return nil, 0, fmt.Errorf("reading %d begins before the one ahead of it ends", i+1)
		}
		var one Taken
		switch long := r.End - r.Start; {
		case long <= longestHour:
			mm[i], one = s.hourly(r, dayAround(readings, i), &clear)
		case long >= shortestDay && long <= longestDay:
			mm[i], one = s.daily(r)
		default:
			return nil, 0, fmt.Errorf("reading %d is over %.1f h: hours (to 3 h) or days are wanted", i+1, float64(long)/3600)
		}
		taken |= one
	}
	if len(mm) > 0 && !slices.ContainsFunc(mm, func(v float64) bool { return known(v) }) {
		return nil, 0, ErrNoTemperature
	}
	return mm, taken, nil
}

// ErrNoTemperature is of a log that nothing can be told from.
var ErrNoTemperature = errors.New("no temperature was read")

// ordinary is the ratio of radiation to that of a clear sky where no day tells it: between the 0.4 to 0.6 of humid and
// the 0.7 to 0.8 of arid climates that FAO-56 names for nights without one.
const ordinary = 0.6

// span is the least and the greatest temperature of some readings.
type span struct{ least, most float64 }

// dayAround is that of the 24 hours around reading i.
func dayAround(readings []geo.Weather, i int) span {
	middle := (readings[i].Start + readings[i].End) / 2
	s := span{math.Inf(1), math.Inf(-1)}
	add := func(r geo.Weather) {
		for _, t := range []float64{r.Temperature, r.Least, r.Most} {
			if known(t) {
				s.least, s.most = min(s.least, t), max(s.most, t)
			}
		}
	}
	for k := i; k >= 0 && readings[k].End > middle-secondsOfDay/2; k-- {
		add(readings[k])
	}
	for k := i + 1; k < len(readings) && readings[k].Start < middle+secondsOfDay/2; k++ {
		add(readings[k])
	}
	return s
}

func (s Station) daily(r geo.Weather) (float64, Taken) {
	least, most := r.Least, r.Most
	if !known(least, most) {
		least, most = r.Temperature, r.Temperature // (12) wants the extremes: without them the demand is somewhat too small
	}
	if !known(least, most) {
		return math.NaN(), 0
	}
	mean := (least + most) / 2
	ea, taken := vapour(r, least, most)
	day, _ := solarDay(r.Start+(r.End-r.Start)/2, s.Lon)
	above, light := sunOf(day, s.Lat).day()
	rs, one := radiation(r, above, light, span{least, most})
	clear := s.clearSky(above)
	ratio := ordinary
	if clear > 0 {
		ratio = min(1, rs/clear)
	}
	rn := net(rs, ea, ratio, stefan*(kelvin4(least)+kelvin4(most))/2)
	wind, windTaken := s.wind(r)
	return combine(mean, (saturation(least)+saturation(most))/2, ea, rn, wind, s.Altitude, 900), taken | one | windTaken
}

// hourly is (53). clear is the ratio of radiation to that of a clear sky by day, carried on.
func (s Station) hourly(r geo.Weather, around span, clear *float64) (float64, Taken) {
	mean := r.Temperature
	if !known(mean) {
		if mean = (r.Least + r.Most) / 2; !known(mean) {
			return math.NaN(), 0
		}
	}
	var ea float64
	var taken Taken
	if humidity := (r.HumidityLeast + r.HumidityMost) / 2; known(r.Humidity) {
		ea = saturation(mean) * r.Humidity / 100 // (54)
	} else if known(humidity) {
		ea = saturation(mean) * humidity / 100
	} else {
		ea, taken = min(saturation(around.least), saturation(mean)), TakenHumidity
	}
	above := between(r.Start, r.End, s.Lon, s.Lat)
	hours := float64(r.End-r.Start) / 3600
	rs, one := radiation(r, above, hours, around)
	if open := s.clearSky(above); open > 0.1*hours { // MJ/m²: a sun well above the horizon
		*clear = min(1, rs/open)
	}
	rn := net(rs, ea, *clear, hours*stefan/24*kelvin4(mean))
	soil := 0.5 // of the net radiation into the ground by night: (46)
	if above > 0 {
		soil = 0.1 // by day: (45)
	}
	wind, windTaken := s.wind(r)
	et := combine(mean, saturation(mean), ea, rn*(1-soil)/hours, wind, s.Altitude, 37) * hours
	return et, taken | one | windTaken
}

// stefan is the Stefan-Boltzmann constant, MJ/m² a day and K⁴: FAO-56 (39).
const stefan = 4.903e-9

func kelvin4(celsius float64) float64 { k := celsius + 273.16; return k * k * k * k }

// clearSky is the radiation under a clear sky by that above the air: FAO-56 (37).
func (s Station) clearSky(above float64) float64 { return (0.75 + 2e-5*s.Altitude) * above }

// inland is the factor of (50) for places where land masses dominate.
const inland = 0.16

// radiation is that which reached the ground, MJ/m², of that above the air within light hours: as read, by sunshine
// (35), or by the span of the day's temperatures (50).
func radiation(r geo.Weather, above, light float64, t span) (float64, Taken) {
	switch {
	case known(r.Radiation):
		return r.Radiation, 0
	case known(r.Sunshine) && light > 0:
		return (0.25 + 0.50*min(1, r.Sunshine/light)) * above, 0
	case above == 0:
		return 0, 0
	}
	return min(inland*math.Sqrt(max(0, t.most-t.least)), 0.75) * above, TakenRadiation
}

// net is the radiation that stays, MJ/m²: (38) with the albedo of grass, 0.23, less what the ground sends out, (39), of
// which black is that of a black body at the air's temperature.
func net(rs, ea, clear, black float64) float64 {
	return 0.77*rs - black*(0.34-0.14*math.Sqrt(ea))*(1.35*max(0.3, clear)-0.35)
}

func (s Station) wind(r geo.Weather) (float64, Taken) {
	if !known(r.Wind) {
		return usualWind, TakenWind
	}
	return windAt2(r.Wind, s.WindHeight), 0
}

// combine is (6), with 900, and (53), with 37: mm over a day or an hour. Below 0, which is dew, it is 0.
func combine(t, es, ea, rn, wind, altitude, factor float64) float64 {
	d, g := slope(t), psychrometric(altitude)
	return max(0, (0.408*d*rn+g*factor/(t+273)*wind*(es-ea))/(d+g*(1+0.34*wind)))
}
