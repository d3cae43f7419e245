package job

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"time"

	"balk/coverage/drying"
	"balk/geo"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

// Station says which weather to read beside the log of the work, and how.
type Station struct {
	File       string  `json:"file"`                 // the station's log; "" = none
	Altitude   float64 `json:"altitude,omitempty"`   // m above the sea
	WindHeight float64 `json:"windHeight,omitempty"` // m above ground; 0 = 2
	Zone       string  `json:"zone,omitempty"`       // of its times that name none, and of its days; "" = UTC
	Begin      bool    `json:"begin,omitempty"`      // a time is the begin of its reading, not its end
	Rain       float64 `json:"rain,omitempty"`       // mm that count as rain; 0 = 1
	Base       float64 `json:"base,omitempty"`       // °C above which warmth is summed
}

// Weather is what a station read after the last pass of an operation, and before it. Sums are those of drying.Since.
type Weather struct {
	After       time.Time  `json:"after"`               // the end of the last pass
	Until       time.Time  `json:"until"`               // the end of the station's log
	FirstRain   *time.Time `json:"firstRain,omitempty"` // absent: none until then
	Demand      float64    `json:"demand"`              // mm the air asked until it rained, or until the end of the log
	DemandFirst float64    `json:"demandFirst"`         // the same since the end of the first pass
	DemandMean  float64    `json:"demandMean"`          // the same since each pass's own end, weighted by its ground
	Rain        float64    `json:"rain"`                // mm until the end of the log
	RainBefore  float64    `json:"rainBefore"`          // mm in the 72 hours before the last pass
	BeforeKnown bool       `json:"beforeKnown"`         // of all of these hours
	Warmth      float64    `json:"warmth"`              // degree days above Station.Base until the end of the log
	Holes       float64    `json:"holes"`               // hours without a reading
	Taken       []string   `json:"taken,omitempty"`     // what was not read, and taken by rule
}

// Validate says what is wrong with s.
func (s Station) Validate() error {
	if _, err := s.zone(); err != nil {
		return err
	}
	if s.File == "" && s != (Station{}) {
		return fmt.Errorf("the station is described, and no file of its weather is named (--weather)")
	}
	if s.Rain < 0 || math.IsNaN(s.Rain) || math.IsInf(s.Rain, 0) {
		return fmt.Errorf("rain of %g mm: 0 or more is wanted", s.Rain)
	}
	return nil
}

// LeastRain is what counts as rain, mm.
func (s Station) LeastRain() float64 { return cmp.Or(s.Rain, drying.UsualRain) }

func (s Station) zone() (*time.Location, error) { return zoneOf("weather", s.Zone) }

// weather reads the station's log and sums it from the passes on.
func (r *Report) weather(ctx context.Context, field geo.Field, call *Call) error {
	s := r.Spec.Weather
	if s.File == "" {
		return nil
	}
	zone, err := s.zone()
	if err != nil {
		return &WrongCall{err}
	}
	readings, findings, err := found(ctx, func() ([]geo.Weather, []geo.Finding, error) {
		return read.Weather(s.File, read.WeatherOptions{Zone: zone, Begin: s.Begin, Files: &call.opened})
	})
	r.Findings = append(r.Findings, findings...)
	if err != nil {
		return sorted(err)
	}
	at := orb.MultiPolygon(field.Boundary).Bound().Center()
	log, err := drying.NewLog(drying.Station{Lon: at[0], Lat: at[1], Altitude: s.Altitude, WindHeight: s.WindHeight}, readings)
	if err != nil {
		return fmt.Errorf("%s: %w", s.File, err)
	}
	var first, last time.Time
	for _, p := range r.Passes {
		if p.To.IsZero() {
			continue
		}
		if first.IsZero() || p.To.Before(first) {
			first = p.To
		}
		if p.To.After(last) {
			last = p.To
		}
	}
	end := readings[len(readings)-1].End
	switch {
	case last.IsZero():
		r.Findings = append(r.Findings, geo.Finding{File: s.File, What: "the weather is not told: the log of the work has no times", Lost: true})
		return nil
	case end <= last.Unix():
		r.Findings = append(r.Findings, geo.Finding{File: s.File, What: fmt.Sprintf("the weather is not told: it ends %s, the work %s", time.Unix(end, 0).UTC().Format(time.RFC3339), last.UTC().Format(time.RFC3339)), Lost: true})
		return nil
	}
	least := drying.Least{Rain: s.LeastRain(), Base: s.Base}
	since := log.After(last.Unix(), end, least)
	w := &Weather{After: last, Until: time.Unix(since.Until, 0).UTC(), Demand: since.DemandDry, DemandFirst: log.After(first.Unix(), end, least).DemandDry,
		Rain: since.Rain, RainBefore: since.RainBefore, BeforeKnown: since.BeforeKnown, Warmth: since.Warmth, Holes: float64(since.Holes) / 3600, Taken: since.Taken.Words()}
	if !since.Dry {
		rain := time.Unix(since.FirstRain, 0).UTC()
		w.FirstRain = &rain
	}
	ground := 0.0
	for _, p := range r.Passes {
		if !p.To.IsZero() {
			w.DemandMean += p.Area * log.After(p.To.Unix(), end, least).DemandDry
			ground += p.Area
		}
	}
	w.DemandMean /= ground
	r.Weather = w
	return nil
}
