package drying

import (
	"math"

	"balk/geo"
)

// Least is what tells rain and warmth; the user's, with usual values.
type Least struct {
	Rain float64 // mm from which it counts as rain, in one fall; 0 = UsualRain
	Base float64 // °C above which warmth is summed
}

// UsualRain is what counts as rain where nothing else is said, mm.
const UsualRain = 1.0

// Since is what the weather did after a cut, and just before it.
type Since struct {
	Until       int64   // end of the last reading that counts, seconds since 1970 UTC
	Dry         bool    // no rain fell until then
	FirstRain   int64   // begin of the reading in which a fall of rain reached Least.Rain, if not Dry
	DemandDry   float64 // mm, the demand of the air until then, or until Until
	RainBefore  float64 // mm in the 72 hours before
	Rain        float64 // mm since
	Demand      float64 // mm, the demand of the air since
	Warmth      float64 // degree days above Least.Base since
	BeforeKnown bool    // the log reaches back over all of the 72 hours
	Holes       int64   // seconds since for which the log has no reading, or none of temperature or rain
	Taken       Taken   // see demand
}

// before is how far back rain counts that the ground may still hold, s: 72 hours, by the question asked.
const before = 72 * 3600

// dryBetween is how long it must be dry between two falls of rain, s: six hours (common practice, no source).
const dryBetween = 6 * 3600

// Log is what a station read, with what the air asked over each reading.
type Log struct {
	station  Station
	readings []geo.Weather
	mm       []float64
	taken    Taken
}

// NewLog works out the demand of the air over each reading; see demand for what is asked of them.
func NewLog(s Station, readings []geo.Weather) (Log, error) {
	mm, taken, err := demand(s, readings)
	return Log{s, readings, mm, taken}, err
}

// After sums what the station read between a cut and an instant, both in seconds since 1970 UTC. A reading in which the
// cut falls counts by the share of it that lies behind: rain by time, demand by the sun above the air where there is any.
func (l Log) After(cut, until int64, least Least) Since {
	if least.Rain == 0 {
		least.Rain = UsualRain
	}
	r := Since{Until: cut, Dry: true, Taken: l.taken}
	covered := int64(0)
	fall, wet := 0.0, cut // mm of the fall of rain at hand, and the end of its last reading
	if len(l.readings) > 0 {
		r.BeforeKnown = l.readings[0].Start <= cut-before
	}
	for i, one := range l.readings {
		if one.End > cut-before && one.Start < cut && known(one.Rain) {
			r.RainBefore += one.Rain * share(max(one.Start, cut-before), min(one.End, cut), one)
		}
		from, to := max(one.Start, cut), min(one.End, until)
		if from >= to {
			continue
		}
		if known(l.mm[i], one.Rain) {
			covered += to - from
		}
		r.Until = to
		if one.Rain > 0 {
			if from > wet+dryBetween {
				fall = 0
			}
			fall, wet = fall+one.Rain*share(from, to, one), to
			if r.Dry && fall >= least.Rain {
				r.Dry, r.FirstRain = false, from
			}
		}
		if known(l.mm[i]) {
			part := l.mm[i] * l.station.sunShare(from, to, one)
			r.Demand += part
			if r.Dry {
				r.DemandDry += part
			}
		}
		if known(one.Rain) {
			r.Rain += one.Rain * share(from, to, one)
		}
		r.Warmth += warmth(one, least.Base) * float64(to-from) / secondsOfDay
	}
	r.Holes = r.Until - cut - covered
	return r
}

// share is the part of a reading's time between two instants.
func share(from, to int64, r geo.Weather) float64 { return float64(to-from) / float64(r.End-r.Start) }

// sunShare is the part of the sun's radiation above the air over a reading between two instants within it; by night,
// where there is none, that of the time.
func (s Station) sunShare(from, to int64, r geo.Weather) float64 {
	if from == r.Start && to == r.End {
		return 1
	}
	if all := between(r.Start, r.End, s.Lon, s.Lat); all > 0 {
		return between(from, to, s.Lon, s.Lat) / all
	}
	return share(from, to, r)
}

// warmth is the mean temperature above a base, °C; the mean of a day is that of its extremes where nothing else was read.
func warmth(r geo.Weather, base float64) float64 {
	t := r.Temperature
	if !known(t) {
		t = (r.Least + r.Most) / 2
	}
	if !known(t) {
		return 0
	}
	return math.Max(0, t-base)
}
